"""Readings held against each other, before any model: what cannot be, and what seldom is."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import BenchReadings

MOST_EFFICIENT = 0.75
"""Jet power over electrical power beyond which a reading is doubted [-]: a motor of 0.9 and a stage
of 0.8 are better than any small machine; common practice, no source."""

LEAST_EFFICIENT = 0.03
"""The same from below [-]; common practice, no source."""

FORCE_SHARES = (0.7, 1.7)
"""Thrust over twice the static pressure times the exit's area, between which it lies with a duct
wider than the nozzle [-]: 1 / (1 - (A8/A7)^2) and losses; 1.7 is a duct 11 % wider in bore than its
nozzle."""

SAME_POWER = 0.08
"""Share by which watts may differ from volts times amps before it is told [-]: direct current read
with two meters."""


def jet_speed(*, thrust: Values, density: Values, area: Values) -> Array:
    """Speed of the jet at rest [m/s] from thrust [N], its density [kg/m^3] and its area [m^2].

    Momentum: thrust = density area speed^2, uniform and unchoked. NaN for a negative thrust.
    """
    force = np.asarray(thrust, dtype=float)
    return np.asarray(np.sqrt(np.where(force >= 0.0, force, np.nan) / (
        np.asarray(density) * np.asarray(area))))


def jet_power(*, thrust: Values, density: Values, area: Values) -> Array:
    """Power that leaves with the jet at rest [W]: the least that makes this thrust through this
    area.

    Half thrust times jet speed; the other way round F = (4 rho A P^2)^(1/3), momentum theory, exact
    at any unchoked speed when the jet is as warm as the air.
    """
    return np.asarray(0.5 * np.asarray(thrust) * jet_speed(thrust=thrust, density=density,
                                                           area=area))


def electrical_power_of(readings: BenchReadings) -> Array:
    """Watts as read, else volts times amps [W]."""
    return np.where(np.isfinite(readings.electrical_power), readings.electrical_power,
                    readings.voltage * readings.current)


def cautions(readings: BenchReadings) -> tuple[str, ...]:
    """What does not hold together, each with its lines, in sentences; empty where nothing."""
    with np.errstate(invalid="ignore", divide="ignore"):  # readings of nothing at all, and NaN
        return tuple(_cautions(readings))


def _cautions(readings: BenchReadings) -> Iterator[str]:
    air, _ = air_of(readings)
    area = 0.25 * np.pi * readings.nozzle_diameter**2
    power = electrical_power_of(readings)
    open_ones = ~(readings.inlet_blocked | readings.outlet_blocked) & (readings.airspeed == 0.0)
    jet = jet_power(thrust=readings.thrust, density=air.density, area=area)
    share = np.where(open_ones & (power > 0.0), jet / np.where(power > 0.0, power, np.nan), np.nan)
    yield from _told(readings, share > 1.0, "the jet carries more power than the machine draws: "
                     "thrust, nozzle diameter or watts is wrong")
    yield from _told(readings, (share > MOST_EFFICIENT) & (share <= 1.0),
                     f"the jet carries more than {100 * MOST_EFFICIENT:.0f} % of the electrical "
                     "power: better than small machines are")
    yield from _told(readings, share < LEAST_EFFICIENT,
                     f"the jet carries less than {100 * LEAST_EFFICIENT:.0f} % of the electrical "
                     "power: is something leaking, or a unit wrong?")
    force = readings.thrust / (2.0 * readings.static_pressure * area)
    low, high = FORCE_SHARES
    yield from _told(readings, open_ones & ((force < low) | (force > high)),
                     "thrust and static pressure before the nozzle do not belong together: thrust "
                     "is about twice pressure times exit area")
    shut = readings.outlet_blocked & (np.abs(readings.thrust) > 3.0 * np.where(
        np.isfinite(readings.spread["thrust"]), readings.spread["thrust"], 0.05 * GRAVITY))
    yield from _told(readings, shut, "thrust with the outlet shut: a leak, or the stand was not "
                     "set to zero")
    product = readings.voltage * readings.current
    apart = np.abs(product / readings.electrical_power - 1.0)
    yield from _told(readings, apart > SAME_POWER,
                     f"watts differ from volts times amps by more than {100 * SAME_POWER:.0f} %: "
                     "were they read at the same place and moment?")
    yield from _shut_and_slower(readings)


def _shut_and_slower(readings: BenchReadings) -> Iterator[str]:
    """A shut opening unloads the wheel: its speed rises unless the drive holds it."""
    for word, shut in (("outlet", readings.outlet_blocked), ("inlet", readings.inlet_blocked)):
        slower = np.zeros(len(readings), dtype=bool)
        for setting in dict.fromkeys(readings.setting):
            own = np.array([one == setting for one in readings.setting])
            free = own & ~readings.outlet_blocked & ~readings.inlet_blocked
            speeds = readings.shaft_speed[free & np.isfinite(readings.shaft_speed)]
            if speeds.size:
                slower |= own & shut & (readings.shaft_speed < 0.98 * np.min(speeds))
        yield from _told(readings, slower, f"slower with the {word} shut than open: the wheel is "
                         "unloaded then and speeds up, or holds its speed if the drive regulates "
                         "it. An alias of the shaft speed?")


def _told(readings: BenchReadings, where: BoolArray | Array, words: str) -> Iterator[str]:
    lines = readings.row[np.asarray(where, dtype=bool)]
    if lines.size:
        shown = ", ".join(str(line) for line in lines[:8])
        yield (f"line{'s' if lines.size > 1 else ''} {shown}"
               f"{' and others' if lines.size > 8 else ''}: {words}")
