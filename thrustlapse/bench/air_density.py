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
from thrustlapse.glossary import ZERO_CELSIUS

VAPOUR_DEFICIT = 0.378
"""One less the ratio of the molar masses of water and dry air [-]."""


def saturation_pressure(*, temperature: Values) -> Array:
    """Pressure of saturated water vapour over water [Pa] at a temperature [K].

    Valid from -40 to 60 degC, within about 0.4 %.

    References
    ----------
    Magnus form with the constants of the WMO guide to instruments, FROM MEMORY; checked against
    steam-table values from memory.
    """
    celsius = np.asarray(temperature, dtype=float) - ZERO_CELSIUS
    return np.asarray(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))


def virtual_temperature(*, temperature: Values, pressure: Values,
                        relative_humidity: Values) -> Array:
    """Temperature [K] of dry air that is as light as damp air of the same pressure [Pa].

    Vapour weighs 0.622 of what it displaces: T / (1 - 0.378 e/p). Dry air of this temperature also
    has the damp air's speed of sound within 0.1 %.
    """
    share = np.asarray(relative_humidity) * saturation_pressure(temperature=temperature) / pressure
    return np.asarray(np.asarray(temperature, dtype=float) / (1.0 - VAPOUR_DEFICIT * share))


def air_of(readings: BenchReadings) -> tuple[Air, tuple[str, ...]]:
    """Air for every row, shape (rows,), and in sentences what stood in for readings not taken.

    A row without its own reading takes the nearest one before it, else the first after it: the air
    of an afternoon changes slowly. Where nobody read anything, standard air at sea level stands
    in. Damp air is given as dry air of its virtual temperature.
    """
    temperature, told_temperature = _carried(readings.air_temperature, SEA_LEVEL_TEMPERATURE,
                                             "air temperature", "15 °C")
    pressure, told_pressure = _carried(readings.air_pressure, SEA_LEVEL_PRESSURE, "air pressure",
                                       "1013 hPa")
    told = (*told_temperature, *told_pressure)
    if np.isfinite(readings.relative_humidity).any():
        humidity, told_humidity = _carried(readings.relative_humidity, 0.0, "relative humidity",
                                           "0 %")
        dry = temperature
        temperature = virtual_temperature(temperature=dry, pressure=pressure,
                                          relative_humidity=humidity)
        lighter = 100.0 * float(np.max(1.0 - dry / temperature))
        return (Air(pressure=pressure, temperature=temperature),
                (*told, *told_humidity, f"damp air, up to {lighter:.1f} % lighter than dry"))
    wet = virtual_temperature(temperature=temperature, pressure=pressure, relative_humidity=1.0)
    most = 100.0 * float(np.max(1.0 - temperature / wet))
    return (Air(pressure=pressure, temperature=temperature),
            (*told, f"air taken as dry: it is at most {most:.1f} % lighter if saturated"))


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
