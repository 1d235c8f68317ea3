"""The air on the day of the bench, and what its density does to what was read."""

from __future__ import annotations

import numpy as np

from thrustlapse.air.atmosphere import (
    SEA_LEVEL_PRESSURE,
    SEA_LEVEL_TEMPERATURE,
    Air,
    pressure_altitude,
    standard_air,
)
from thrustlapse.arrays import Array, Values
from thrustlapse.bench.readings import BenchReadings


def air_of(readings: BenchReadings) -> tuple[Air, tuple[str, ...]]:
    """Air for every row, shape (rows,), and in sentences what stood in for readings not taken.

    A row without its own reading takes the nearest one before it, else the first after it: the air
    of an afternoon changes slowly. Where nobody read anything, standard air at sea level stands in.
    """
    temperature, told_temperature = _carried(readings.air_temperature, SEA_LEVEL_TEMPERATURE,
                                             "air temperature", "15 °C")
    pressure, told_pressure = _carried(readings.air_pressure, SEA_LEVEL_PRESSURE, "air pressure",
                                       "1013 hPa")
    return (Air(pressure=pressure, temperature=temperature),
            (*told_temperature, *told_pressure))


def _carried(read: Array, standard: float, words: str,
             shown: str) -> tuple[Array, tuple[str, ...]]:
    known = np.isfinite(read)
    if not known.any():
        return (np.full(read.shape, standard),
                (f"{words} not read: standard {shown} at sea level taken",))
    place = np.where(known, np.arange(read.size), -1)
    last = np.maximum.accumulate(place)
    filled = read[np.where(last < 0, int(np.argmax(known)), last)]
    missing = int((~known).sum())
    return filled, ((f"{words} not read in {missing} of {read.size} readings: the one read nearest "
                     "before taken",) if missing else ())


def density_deviation(*, air: Air, temperature_deviation: Values,
                      pressure_deviation: Values) -> Array:
    """Standard deviation of the density [kg/m^3] from those of temperature [K] and pressure [Pa].

    First order: the shares of p and T add as squares, since density is p / (R T).
    """
    return np.asarray(air.density * np.hypot(
        np.asarray(pressure_deviation) / air.pressure,
        np.asarray(temperature_deviation) / air.temperature))


def station_pressure(*, sea_level_pressure: Values, altitude: Values) -> Array:
    """Pressure at a height [Pa] from the one a weather report gives, reduced to sea level [Pa].

    The report's pressure is an altimeter setting: the standard atmosphere, shifted in height until
    it has that pressure at sea level, is read at the altitude [m].

    References
    ----------
    ICAO Doc 7488/3, 1993, standard atmosphere; the definition of the altimeter setting (QNH).
    """
    shift = pressure_altitude(pressure=sea_level_pressure)
    return np.asarray(standard_air(altitude=np.asarray(altitude, dtype=float) + shift).pressure)


def to_density(*, value: Values, density: Values, wanted_density: Values) -> Array:
    """Thrust, pressure or shaft power at another density and the same shaft speed.

    At the same speed and flow coefficient all three go with density (fan laws). The drive would
    hold another speed: carrying a reading that far is the fit's work, not this one's.
    """
    return np.asarray(np.asarray(value, dtype=float) * wanted_density / density)
