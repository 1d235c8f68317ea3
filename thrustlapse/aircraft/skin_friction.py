"""Skin friction of a flat plate: one function per correlation, and laminar and turbulent mixed.

Mean coefficients refer to one wetted side: friction = Cf q S_wet. Local ones are wall shear over
dynamic pressure. Reynolds numbers are on the length from the leading edge. All are for smooth
walls at low speed: up to Mach 0.3 compressibility takes less than 2 % off (Raymer's
(1 + 0.144 M^2)^-0.65, from memory).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, Values

BLASIUS_WALL_SLOPE = 0.332057336215
"""f''(0) of Blasius's boundary layer [-]; read in a table of the profile."""

TRANSITION_CONSTANTS = {"Prandtl": 1700.0, "Schlichting": 1610.0}
"""A in Cf - A / Re, transition at Re 5e5: the two values textbooks print."""


def laminar(*, reynolds: Values) -> Array:
    """Mean laminar friction coefficient [-]: 4 f''(0) / sqrt(Re), Blasius, printed 1.328.

    Valid for: Re 1e3 to 3e6 on a smooth plate without pressure gradient.

    References
    ----------
    Blasius, Z. Math. Phys. 56 (1908); Anderson, Fundamentals of Aerodynamics, 3rd ed., eq. 4.86.
    """
    return np.asarray(4.0 * BLASIUS_WALL_SLOPE / np.sqrt(reynolds))


def laminar_local(*, reynolds: Values) -> Array:
    """Local laminar friction coefficient at a Reynolds number on distance [-]: 0.664 / sqrt(Re)."""
    return np.asarray(2.0 * BLASIUS_WALL_SLOPE / np.sqrt(reynolds))


def power_law(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.074 Re^-0.2. Valid for: Re 5e5 to 1e7.

    References
    ----------
    Anderson, Fundamentals of Aerodynamics, 3rd ed. (2001), eq. 4.88.
    """
    return np.asarray(0.074 * np.asarray(reynolds, dtype=float) ** -0.2)


def power_law_local(*, reynolds: Values) -> Array:
    """Local turbulent friction coefficient [-]: 0.0594 Re^-0.2 (Fox and McDonald, 5th ed., ch. 9).

    Rounded there; 0.8 times the mean's 0.074 is 0.0592.
    """
    return np.asarray(0.0594 * np.asarray(reynolds, dtype=float) ** -0.2)


def prandtl_schlichting(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.455 / (log10 Re)^2.58. Valid for: up to 1e9.

    References
    ----------
    Munson, Young and Okiishi, 5th ed., ex. 9.7; Fox and McDonald, 5th ed., ex. 9.5.
    """
    return np.asarray(0.455 / np.log10(reynolds) ** 2.58)


def after_transition(*, reynolds: Values, constant: str = "Prandtl") -> Array:
    """Mean friction coefficient of a plate that turns turbulent at Re 5e5 [-].

    0.455 / (log10 Re)^2.58 - A / Re, with ``A`` by name from :data:`TRANSITION_CONSTANTS`. NaN
    below 5e5, where the plate is laminar.
    """
    re = np.asarray(reynolds, dtype=float)
    mixed = prandtl_schlichting(reynolds=re) - TRANSITION_CONSTANTS[constant] / re
    return np.where(re >= 5e5, mixed, np.nan)


def ittc_1957(*, reynolds: Values) -> Array:
    """Ship-model correlation line [-]: 0.075 / (log10 Re - 2)^2; form effects are partly in it.

    References
    ----------
    Tupper, Introduction to Naval Architecture, table 8.3.
    """
    return np.asarray(0.075 / (np.log10(reynolds) - 2.0) ** 2)


def schoenherr(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.242 / sqrt(Cf) = log10(Re Cf), Karman-Schoenherr.

    The implicit law is solved by Newton's steps on ln Cf, where it is nearly straight.
    """
    ln_re = np.log(np.asarray(reynolds, dtype=float))
    ln_cf = np.log(white(reynolds=reynolds))
    for _ in range(6):
        lead = 0.242 * np.log(10.0) * np.exp(-0.5 * ln_cf)
        ln_cf = ln_cf + (lead - ln_re - ln_cf) / (0.5 * lead + 1.0)
    return np.exp(ln_cf)


def white(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.523 / ln(0.06 Re)^2 (White, from memory)."""
    return np.asarray(0.523 / np.log(0.06 * np.asarray(reynolds, dtype=float)) ** 2)


TURBULENT: dict[str, Callable[..., Array]] = {
    "Prandtl-Schlichting": prandtl_schlichting,
    "power law": power_law,
    "Schoenherr": schoenherr,
    "White": white,
    "ITTC 1957": ittc_1957,
}
"""Mean turbulent correlations by name."""


def mixed(*, reynolds: Values, laminar_share: Values,
          turbulent: str = "Prandtl-Schlichting") -> Array:
    """Mean friction coefficient of a plate that is laminar over a share of its length [-].

    Prandtl's rule: behind transition the layer is as if it had been turbulent from the leading
    edge, so the turbulent friction of the laminar stretch is exchanged for the laminar one.

    Parameters
    ----------
    reynolds : array_like
        On the whole length [-]
    laminar_share : array_like
        Share of the length that is laminar, 0 to 1 [-]
    turbulent : str
        A name in :data:`TURBULENT`

    References
    ----------
    Prandtl; worked in Anderson, Fundamentals of Aerodynamics, 3rd ed., ex. 4.9.
    """
    re, share = np.asarray(reynolds, dtype=float), np.asarray(laminar_share, dtype=float)
    law = TURBULENT[turbulent]
    stretch = np.where(share > 0.0, share, np.nan) * re
    with np.errstate(invalid="ignore"):
        saved = share * (law(reynolds=stretch) - laminar(reynolds=stretch))
    return np.where((share >= 0.0) & (share <= 1.0), law(reynolds=re)
                    - np.where(share > 0.0, saved, 0.0), np.nan)


def laminar_share(*, reynolds: Values, transition: Values) -> Array:
    """Share of a length that is laminar when transition waits for a Reynolds number [-]."""
    return np.asarray(np.minimum(np.asarray(transition) / np.asarray(reynolds), 1.0))
