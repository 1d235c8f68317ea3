"""Skin friction of a flat plate: one function per correlation, and laminar and turbulent mixed.

Mean coefficients refer to one wetted side: friction = Cf q S_wet. Local ones are wall shear over
dynamic pressure. Reynolds numbers are on the length from the leading edge. All are for low speed:
up to Mach 0.3 compressibility takes less than 1 % off (Raymer's (1 + 0.144 M^2)^-0.65, from
memory). Walls are smooth unless a roughness is given.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, Values

BLASIUS_WALL_SLOPE = 0.332057336215
"""f''(0) of Blasius's boundary layer [-]; read in a table of the profile."""


def laminar(*, reynolds: Values) -> Array:
    """Mean laminar friction coefficient [-]: 4 f''(0) / sqrt(Re), Blasius, printed 1.328.

    Valid for: Re 1e3 to 3e6 on a smooth plate without pressure gradient.

    References
    ----------
    Blasius, Z. Math. Phys. 56 (1908); Anderson, Fundamentals of Aerodynamics, 3rd ed., eq. 4.86.
    """
    return np.asarray(4.0 * BLASIUS_WALL_SLOPE / np.sqrt(reynolds))


def power_law(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.074 Re^-0.2. Valid for: Re 5e5 to 1e7.

    References
    ----------
    Anderson, Fundamentals of Aerodynamics, 3rd ed. (2001), eq. 4.88.
    """
    return np.asarray(0.074 * np.asarray(reynolds, dtype=float) ** -0.2)


def prandtl_schlichting(*, reynolds: Values) -> Array:
    """Mean turbulent friction coefficient [-]: 0.455 / (log10 Re)^2.58. Valid for: up to 1e9.

    References
    ----------
    Munson, Young and Okiishi, 5th ed., ex. 9.7; Fox and McDonald, 5th ed., ex. 9.5.
    """
    return np.asarray(0.455 / np.log10(reynolds) ** 2.58)


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


CUT_OFF_FACTOR, CUT_OFF_POWER = 38.21, 1.053
"""Reynolds number above which roughness holds friction up: 38.21 (length / roughness)^1.053;
Raymer eq. 12.28 (from memory). It agrees with :func:`fully_rough` within 6 % for lengths of 200 to
1e5 times the roughness."""

SHORTEST_RUN = 1e3
"""Reynolds number of a laminar stretch below which it is left out: the turbulent laws end far
above it, and so short a run changes nothing that matters."""


def cut_off_reynolds(*, relative_roughness: Values) -> Array:
    """Reynolds number above which friction no longer falls [-]; infinite for a smooth wall.

    ``relative_roughness`` is sand roughness over length [-].
    """
    ratio = np.asarray(relative_roughness, dtype=float)
    with np.errstate(divide="ignore"):
        return np.asarray(CUT_OFF_FACTOR * (1.0 / ratio) ** CUT_OFF_POWER)


def mixed(*, reynolds: Values, laminar_share: Values, turbulent: str = "Prandtl-Schlichting",
          relative_roughness: Values = 0.0) -> Array:
    """Mean friction coefficient of a plate that is laminar over a share of its length [-].

    Prandtl's rule: behind transition the layer is as if it had been turbulent from the leading
    edge, so the turbulent friction of the laminar stretch is exchanged for the laminar one. Never
    below the fully laminar plate, and no laminar stretch costs friction: the turbulent laws
    undercut the laminar one at Reynolds numbers (below about 1e4) where no layer is turbulent.

    Parameters
    ----------
    reynolds : array_like
        On the whole length [-]
    laminar_share : array_like
        Share of the length that is laminar, 0 to 1 [-]
    turbulent : str
        A name in :data:`TURBULENT`
    relative_roughness : array_like
        Sand roughness over the length [-]: turbulent friction stops falling at
        :func:`cut_off_reynolds`

    References
    ----------
    Prandtl; worked in Anderson, Fundamentals of Aerodynamics, 3rd ed., ex. 4.9.
    """
    re, share = np.asarray(reynolds, dtype=float), np.asarray(laminar_share, dtype=float)
    law, ratio = TURBULENT[turbulent], np.asarray(relative_roughness, dtype=float)

    runs = share * re >= SHORTEST_RUN
    stretch = np.where(runs, share, np.nan) * re
    with np.errstate(invalid="ignore"):
        # the stretch is laminar because it is smooth enough: its roughness is not asked
        saved = share * (law(reynolds=stretch) - laminar(reynolds=stretch))
        friction = law(reynolds=np.minimum(re, cut_off_reynolds(relative_roughness=ratio)))
        friction = friction - np.where(runs, np.maximum(saved, 0.0), 0.0)
    return np.where((share >= 0.0) & (share <= 1.0),
                    np.maximum(friction, laminar(reynolds=re)), np.nan)


def laminar_share(*, reynolds: Values, transition: Values) -> Array:
    """Share of a length that is laminar when transition waits for a Reynolds number [-]."""
    return np.asarray(np.minimum(np.asarray(transition) / np.asarray(reynolds), 1.0))
