"""Friction, form factors and span efficiency of textbooks beside those the package takes."""

from __future__ import annotations

import numpy as np

from thrustlapse.aircraft.skin_friction import (
    BLASIUS_WALL_SLOPE,
    prandtl_schlichting,
)
from thrustlapse.arrays import Array, Values


def laminar_local(*, reynolds: Values) -> Array:
    """Local laminar friction coefficient at a Reynolds number on distance [-]: 0.664 / sqrt(Re)."""
    return np.asarray(2.0 * BLASIUS_WALL_SLOPE / np.sqrt(reynolds))


def power_law_local(*, reynolds: Values) -> Array:
    """Local turbulent friction coefficient [-]: 0.0594 Re^-0.2 (Fox and McDonald, 5th ed., ch. 9).

    Rounded there; 0.8 times the mean's 0.074 is 0.0592.
    """
    return np.asarray(0.0594 * np.asarray(reynolds, dtype=float) ** -0.2)


def after_transition(*, reynolds: Values, constant: str = "Prandtl") -> Array:
    """Mean friction coefficient of a plate that turns turbulent at Re 5e5 [-].

    0.455 / (log10 Re)^2.58 - A / Re, with ``A`` by name from :data:`TRANSITION_CONSTANTS`. NaN
    below 5e5, where the plate is laminar.
    """
    re = np.asarray(reynolds, dtype=float)
    mixed = prandtl_schlichting(reynolds=re) - TRANSITION_CONSTANTS[constant] / re
    return np.where(re >= 5e5, mixed, np.nan)


def fully_rough(*, relative_roughness: Values) -> Array:
    """Mean friction coefficient of a plate in fully rough flow [-].

    (1.89 + 1.62 log10(length / roughness))^-2.5. Valid for: length over roughness 1e2 to 1e6.

    References
    ----------
    Schlichting, Boundary-Layer Theory, sand-roughened plate (from memory).
    """
    return np.asarray((1.89 - 1.62 * np.log10(relative_roughness)) ** -2.5)


def body_raymer_early(*, fineness: Values) -> Array:
    """1 + 60 f^-3 + f / 400 [-]: Raymer eq. 12.31, earlier editions (from memory)."""
    f = np.asarray(fineness, dtype=float)
    return np.asarray(1.0 + 60.0 * f**-3.0 + f / 400.0)


def raymer_straight(*, aspect_ratio: Values, minimum_drag_coefficient: Values = 0.0,
                    body_width_ratio: Values = 0.0) -> Array:
    """1.78 (1 - 0.045 AR^0.68) - 0.64 [-]: Raymer eq. 12.49, straight wings (from memory)."""
    return np.asarray(1.78 * (1.0 - 0.045 * np.asarray(aspect_ratio, dtype=float) ** 0.68) - 0.64)


TRANSITION_CONSTANTS = {"Prandtl": 1700.0, "Schlichting": 1610.0}
"""A in Cf - A / Re, transition at Re 5e5: the two values textbooks print."""
