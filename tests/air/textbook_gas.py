"""Compressible relations of textbooks that the package does not take itself."""

from __future__ import annotations

import numpy as np

from thrustlapse.air.gas import GAMMA
from thrustlapse.arrays import Array, BoolArray, Values


def mach_from_pressure_ratio(*, total_over_static: Values, gamma: Values = GAMMA) -> Array:
    """Mach number at a total-to-static pressure ratio [-]; NaN below a ratio of 1.

    ``expm1`` keeps full precision at the small pressure differences of slow air.
    """
    g = np.asarray(gamma)
    ratio = np.asarray(total_over_static, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        excess = np.expm1((g - 1.0) / g * np.log(ratio))
        return np.sqrt(2.0 / (g - 1.0) * np.where(excess >= 0.0, excess, np.nan))


def chokes(*, total_over_static: Values, gamma: Values = GAMMA) -> BoolArray:
    """Whether a convergent passage with this pressure ratio is choked."""
    return np.asarray(np.asarray(total_over_static) >= critical_pressure_ratio(gamma=gamma))


def critical_pressure_ratio(*, gamma: Values = GAMMA) -> Array:
    """Total over static pressure at which a convergent passage chokes [-]; 1.8929 for air."""
    g = np.asarray(gamma)
    return np.power(0.5 * (g + 1.0), g / (g - 1.0))
