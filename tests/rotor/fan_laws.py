"""Fan laws of handbooks, beside the package's own."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values


def carry_flow(*, volume_flow: Values, speed_ratio: Values, diameter_ratio: Values = 1.0) -> Array:
    """Volume flow of a geometrically similar fan at the same flow coefficient [m^3/s]: N D^3."""
    return np.asarray(volume_flow * np.asarray(speed_ratio) * np.asarray(diameter_ratio) ** 3)


def carry_pressure(*, pressure_rise: Values, speed_ratio: Values, diameter_ratio: Values = 1.0,
                   density_ratio: Values = 1.0) -> Array:
    """Pressure rise of a similar fan at the same flow coefficient [Pa]: rho N^2 D^2.

    Needs no correction for compressibility below about 2.5 kPa (Cory, fan handbook).
    """
    return np.asarray(pressure_rise * np.asarray(density_ratio) * np.asarray(speed_ratio) ** 2
                      * np.asarray(diameter_ratio) ** 2)


def carry_power(*, shaft_power: Values, speed_ratio: Values, diameter_ratio: Values = 1.0,
                density_ratio: Values = 1.0) -> Array:
    """Shaft power of a similar fan at the same flow coefficient [W]: rho N^3 D^5."""
    return np.asarray(shaft_power * np.asarray(density_ratio) * np.asarray(speed_ratio) ** 3
                      * np.asarray(diameter_ratio) ** 5)
