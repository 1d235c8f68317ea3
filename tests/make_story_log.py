"""Make the invented flight log of the story's fan: ``python -m tests.make_story_log > FILE.csv``.

The flight comes from the package's own model with less thrust and more drag than the scenario says
(:data:`THRUST`, :data:`DRAG`), and with noise. It shows the way from a log to factors and validates
nothing.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from scipy.integrate import OdeSolution, solve_ivp

import thrustlapse as tl
from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import level_drag
from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.unpowered import unpowered_drag

STORY = Path(__file__).parents[1] / "scenarios" / "three_ways_to_push.toml"
NAME = "fan"

THRUST, DRAG = 0.93, 1.20
"""What multiplies the predicted net thrust and the parasite drag in this flight."""

AIRSPEED_NOISE, HEIGHT_NOISE = 0.4, 1.0
"""Standard deviations of a reading [m/s], [m]."""

EVERY = 0.5
"""Time between readings [s]."""

HEAD = f"""\
# INVENTED: a flight of the fan in three_ways_to_push.toml. Nobody flew it: it is made by this
# package's own model with {THRUST:g} of its net thrust and {DRAG:g} of its parasite drag, and with
# noise of the spreads below. Laying it over the prediction gives back what went in; it validates
# nothing.
#
#   thrustlapse log explain scenarios/three_ways_to_push.toml --candidate fan \\
#       --readings scenarios/story_fan_flight.csv
time [s],airspeed [m/s] ± {AIRSPEED_NOISE:g},height [m] ± {HEIGHT_NOISE:g},voltage [V],\
current [A]"""

SCENARIO = tl.read_scenario(STORY)
CANDIDATE, AIRFRAME = SCENARIO.candidates[NAME], SCENARIO.airframe
MASS = float(AIRFRAME.mass) + float(CANDIDATE.installed_mass)


def forces(airspeed: Values, height: Values, on: bool) -> tuple[Array, Array, Array]:
    """Excess of thrust over drag [N], terminal voltage [V] and current [A], of one shape."""
    air = CANDIDATE.site.air(CANDIDATE.site.altitude + np.asarray(height))
    drag = level_drag(AIRFRAME, mass=MASS, density=air.density, airspeed=airspeed,
                      speed_of_sound=air.speed_of_sound)
    place = CANDIDATE.installation
    resisting = DRAG * drag.parasite + drag.induced + drag.compressibility
    if not on:
        own = (0.5 * air.density * np.square(airspeed) * CANDIDATE.count * (
            place.pod_drag_area + place.base_area * place.base_drag_coefficient)
            + unpowered_drag(CANDIDATE, air=air, airspeed=airspeed))
        voltage = np.full(np.shape(own), CANDIDATE.unit.supply.voltage)
        return -resisting - own, voltage, np.zeros(np.shape(own))
    point = tl.operate(CANDIDATE, airspeed=airspeed,
                       altitude=CANDIDATE.site.altitude + np.asarray(height))
    push = THRUST * CANDIDATE.count * point.net_thrust - point.external_drag
    return push - resisting, point.terminal_voltage, point.current


LEGS = ((True, 20.3, True), (False, 9.1, True), (True, 14.4, False), (False, 25.0, False))
"""Power, time [s], level: level at full power, level without, a climb, a glide, both at a speed."""


@cache
def way() -> list[OdeSolution]:
    """Of each leg what changes over the time since it began: airspeed [m/s], else height [m]."""
    ways = []
    speed, height = 15.0, 10.0
    for on, lasts, level in LEGS:
        def rate(_, state, held=height if level else speed, on=on, level=level):
            if level:
                return [float(forces(float(state[0]), held, on)[0]) / MASS]
            return [float(forces(held, float(state[0]), on)[0]) * held / (MASS * GRAVITY)]

        ways.append(solve_ivp(rate, (0.0, lasts), [speed if level else height], dense_output=True,
                              rtol=1e-8).sol)
        end = float(ways[-1](lasts)[0])
        speed, height = (end, height) if level else (speed, end)
    return ways


def flight(first: float = 0.0) -> np.ndarray:
    """Time, airspeed, height, voltage and current without noise, read from ``first`` on [s]."""
    parts = []
    speed, height, start = 15.0, 10.0, 0.0
    read = np.arange(first, 1e3, EVERY)
    for (on, lasts, level), moving in zip(LEGS, way(), strict=True):
        time = read[(start <= read) & (read < start + lasts)]
        moved, end = moving(time - start)[0], float(moving(lasts)[0])
        v, h = np.broadcast_arrays(*((moved, height) if level else (speed, moved)))
        parts.append(np.stack([time, v, h, *forces(v, h, on)[1:]], axis=1))
        speed, height = (end, height) if level else (speed, end)
        start += lasts
    return np.concatenate(parts)


def noisy(clean: np.ndarray, seed: int) -> np.ndarray:
    """The flight as instruments would have read it."""
    random = np.random.default_rng(seed)
    read = clean.copy()
    read[:, 1] += random.normal(0.0, AIRSPEED_NOISE, len(read))
    read[:, 2] += random.normal(0.0, HEIGHT_NOISE, len(read))
    return read


def main() -> None:
    """Print the file."""
    print(HEAD)
    for time, airspeed, height, volts, amps in noisy(flight(), 3):
        print(f"{time:.1f},{airspeed:.2f},{height:.1f},{volts:.2f},{amps:.2f}")


if __name__ == "__main__":
    main()
