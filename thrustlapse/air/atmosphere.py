"""Standard and off-standard air.

The International Standard Atmosphere (ICAO Doc 7488/3, 1993; ISO 2533:1975) from -5 km to
20 km, shifted by a temperature offset and, where the barometer on the site was read, by a
pressure-altitude offset.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT
from thrustlapse.arrays import Array, BoolArray, Values, plain

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]; ICAO Doc 7488/3."""

EARTH_RADIUS = 6_356_766.0
"""Nominal radius that relates geometric to geopotential height [m]; ICAO Doc 7488/3."""

SEA_LEVEL_PRESSURE = 101_325.0
"""Standard pressure at mean sea level [Pa]; ICAO Doc 7488/3."""

SEA_LEVEL_TEMPERATURE = 288.15
"""Standard temperature at mean sea level [K]; ICAO Doc 7488/3."""

LAPSE_RATE = 0.0065
"""Fall of temperature with geopotential height in the troposphere [K/m]; ICAO Doc 7488/3."""

TROPOPAUSE = 11_000.0
"""Geopotential height where the troposphere ends [m]; ICAO Doc 7488/3."""

LOWEST, HIGHEST = -5_000.0, 20_000.0
"""Geopotential heights between which the two layers used here hold [m]."""

SUTHERLAND_FACTOR = 1.458e-6
"""Sutherland's empirical factor [kg/(m s sqrt(K))]; ICAO Doc 7488/3."""

SUTHERLAND_TEMPERATURE = 110.4
"""Sutherland's empirical temperature [K]; ICAO Doc 7488/3."""


@dataclass(frozen=True, kw_only=True)
class Air:
    """Still air: static pressure [Pa] and static temperature [K], scalars or arrays."""

    pressure: Values
    temperature: Values

    @property
    def density(self) -> Array:
        """Density [kg/m^3]."""
        return np.asarray(np.asarray(self.pressure) / (GAS_CONSTANT * np.asarray(self.temperature)))

    @property
    def speed_of_sound(self) -> Array:
        """Speed of sound [m/s]."""
        return np.sqrt(GAMMA * GAS_CONSTANT * np.asarray(self.temperature))

    @property
    def viscosity(self) -> Array:
        """Dynamic viscosity [Pa s]."""
        return sutherland_viscosity(temperature=self.temperature)


@dataclass(frozen=True, kw_only=True)
class Site:
    """Where the machine is used, and what the day there is like.

    ``temperature_offset`` [K] is added to the standard temperature at every height;
    ``pressure_altitude_offset`` [m] is added to the height before the standard pressure is read.
    """

    altitude: Values = 0.0
    temperature_offset: Values = 0.0
    pressure_altitude_offset: Values = 0.0

    def air(self, altitude: Values | None = None) -> Air:
        """Air at an altitude above mean sea level [m]; at the site where none is given."""
        height = np.asarray(self.altitude if altitude is None else altitude, dtype=float)
        standard = standard_air(altitude=height)
        pressure = standard_air(altitude=height + self.pressure_altitude_offset).pressure
        return Air(pressure=pressure,
                   temperature=np.asarray(standard.temperature) + self.temperature_offset)


def site_from_readings(*, altitude: Values, temperature: Values | None = None,
                       pressure: Values | None = None) -> Site:
    """Site whose air at its own altitude [m] has the temperature [K] and pressure [Pa] read there.

    Standard values stand in for a reading that is missing.
    """
    standard = standard_air(altitude=altitude)
    offset = 0.0 if temperature is None else plain(temperature - np.asarray(standard.temperature))
    shift = 0.0 if pressure is None else plain(pressure_altitude(pressure=pressure) - altitude)
    return Site(altitude=altitude, temperature_offset=offset, pressure_altitude_offset=shift)


def geopotential(*, altitude: Values) -> Array:
    """Geopotential height [m] of a geometric height [m]."""
    z = np.asarray(altitude, dtype=float)
    return EARTH_RADIUS * z / (EARTH_RADIUS + z)


def standard_air(*, altitude: Values) -> Air:
    """Standard air at a geometric altitude above mean sea level [m], -5 km to 20 km.

    Outside that range pressure and temperature are NaN.
    """
    height = geopotential(altitude=altitude)
    within = _within(height)
    low = np.minimum(height, TROPOPAUSE)
    temperature = SEA_LEVEL_TEMPERATURE - LAPSE_RATE * low
    exponent = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)
    with np.errstate(invalid="ignore"):
        pressure = SEA_LEVEL_PRESSURE * np.power(temperature / SEA_LEVEL_TEMPERATURE, exponent)
    above = np.maximum(height - TROPOPAUSE, 0.0)
    pressure = pressure * np.exp(-GRAVITY * above / (GAS_CONSTANT * temperature))
    return Air(pressure=np.where(within, pressure, np.nan),
               temperature=np.where(within, temperature, np.nan))


def _within(height: Array) -> BoolArray:
    """Whether a geopotential height is in range; the slack lets in 5 km below geometric zero."""
    return np.asarray((height >= LOWEST - 10.0) & (height <= HIGHEST + 10.0))


def pressure_altitude(*, pressure: Values) -> Array:
    """Geometric altitude [m] at which standard air has a pressure [Pa]; inverse of standard_air.

    NaN for pressures that standard air does not have between -5 km and 20 km.
    """
    p = np.asarray(pressure, dtype=float)
    p = np.where(p > 0.0, p, np.nan)
    exponent = GAS_CONSTANT * LAPSE_RATE / GRAVITY
    height = SEA_LEVEL_TEMPERATURE / LAPSE_RATE * (1.0 - np.power(p / SEA_LEVEL_PRESSURE, exponent))
    cold = SEA_LEVEL_TEMPERATURE - LAPSE_RATE * TROPOPAUSE
    tropopause_pressure = SEA_LEVEL_PRESSURE * float(cold / SEA_LEVEL_TEMPERATURE) ** (1 / exponent)
    stratosphere = TROPOPAUSE - GAS_CONSTANT * cold / GRAVITY * np.log(p / tropopause_pressure)
    height = np.where(height > TROPOPAUSE, stratosphere, height)
    height = np.where(_within(height), height, np.nan)
    return np.asarray(EARTH_RADIUS * height / (EARTH_RADIUS - height))


def sutherland_viscosity(*, temperature: Values) -> Array:
    """Dynamic viscosity of air [Pa s] at a temperature [K], Sutherland's law as in ISO 2533."""
    t = np.asarray(temperature, dtype=float)
    return np.asarray(SUTHERLAND_FACTOR * t * np.sqrt(t) / (t + SUTHERLAND_TEMPERATURE))
