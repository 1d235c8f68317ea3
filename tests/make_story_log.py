"""Make the invented flight log of the story's fan: ``python -m tests.make_story_log > FILE.csv``.

The flight comes from the package's own model with less thrust and more drag than the scenario says
(:data:`THRUST`, :data:`DRAG`), and with noise. It shows the way from a log to factors and validates
nothing.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

import thrustlapse as tl
from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import level_drag
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


def forces(airspeed: float, height: float, on: bool) -> tuple[float, float, float]:
    """Excess of thrust over drag [N], terminal voltage [V] and current [A]."""
    air = CANDIDATE.site.air(CANDIDATE.site.altitude + height)
    drag = level_drag(AIRFRAME, mass=MASS, density=air.density, airspeed=airspeed,
                      speed_of_sound=air.speed_of_sound)
    place = CANDIDATE.installation
    resisting = float(DRAG * drag.parasite + drag.induced + drag.compressibility)
    if not on:
        own = float(0.5 * air.density * airspeed**2 * CANDIDATE.count * (
            place.pod_drag_area + place.base_area * place.base_drag_coefficient)
            + float(unpowered_drag(CANDIDATE, air=air, airspeed=airspeed)))
        return -resisting - own, float(CANDIDATE.unit.supply.voltage), 0.0
    point = tl.operate(CANDIDATE, airspeed=airspeed, altitude=CANDIDATE.site.altitude + height)
    push = THRUST * CANDIDATE.count * float(point.net_thrust) - float(point.external_drag)
    return push - resisting, float(point.terminal_voltage), float(point.current)


LEGS = ((True, 20.3, True), (False, 9.1, True), (True, 14.4, False), (False, 25.0, False))
"""Power, time [s], level: level at full power, level without, a climb, a glide, both at a speed."""


def flight(first: float = 0.0) -> np.ndarray:
    """Time, airspeed, height, voltage and current without noise, read from ``first`` on [s]."""
    rows = []
    speed, height, start = 15.0, 10.0, 0.0
    for on, lasts, level in LEGS:
        def rate(_, state, held=height if level else speed, on=on, level=level):
            if level:
                return [forces(float(state[0]), held, on)[0] / MASS]
            return [forces(held, float(state[0]), on)[0] * held / (MASS * GRAVITY)]

        way = solve_ivp(rate, (0.0, lasts), [speed if level else height], dense_output=True,
                        rtol=1e-8).sol
        for time in np.arange(first, 1e3, EVERY):
            if start <= time < start + lasts:
                moving = float(way(time - start)[0])
                v, h = (moving, height) if level else (speed, moving)
                rows.append((time, v, h, *forces(v, h, on)[1:]))
        end = float(way(lasts)[0])
        speed, height = (end, height) if level else (speed, end)
        start += lasts
    return np.array(rows)


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
