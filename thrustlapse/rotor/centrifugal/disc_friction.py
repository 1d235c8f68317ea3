"""Drag of a disc that turns in a casing or in the open.

The moment coefficient is on both faces: ``Cm = M / (0.5 rho w^2 a^5)``, the Reynolds number on
the radius: ``Re = w a^2 / nu``.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values

GAP_RANGE = (0.0127, 0.217)
"""Axial gap over radius that Daily and Nece tested [-]; abstract of their paper."""


def moment_coefficients(*, reynolds: Values, gap_ratio: Values) -> Array:
    """Moment coefficients of the four regimes, both faces [-].

    Parameters
    ----------
    reynolds : array_like
        Re = w a^2 / nu [-]
    gap_ratio : array_like
        Axial gap between disc and casing over disc radius [-]

    Returns
    -------
    array
        One entry per regime along a new first axis.

    References
    ----------
    Daily and Nece, J. Basic Eng. 82 (1960); constants from memory.
    """
    re, gap = np.broadcast_arrays(np.asarray(reynolds, float), np.asarray(gap_ratio, float))
    return np.stack([2.0 * np.pi / (gap * re),
                     3.70 * gap**0.1 / re**0.5,
                     0.080 * gap ** (-1.0 / 6.0) / re**0.25,
                     0.102 * gap**0.1 / re**0.2])


def enclosed_moment_coefficient(*, reynolds: Values, gap_ratio: Values) -> Array:
    """Moment coefficient of an enclosed disc, both faces: the largest of the four regimes [-].

    Notes
    -----
    Valid for: :data:`GAP_RANGE`, Reynolds numbers of 1e3 to 1e7 (abstract of their paper).
    """
    each = moment_coefficients(reynolds=reynolds, gap_ratio=gap_ratio)
    return np.asarray(each.max(axis=0))


def disc_power(*, moment_coefficient: Values, density: Values, tip_speed: Values, radius: Values,
               faces: Values = 1.0) -> Array:
    """Power that the friction of a disc takes [W].

    Parameters
    ----------
    moment_coefficient : array_like
        Of both faces [-]
    density : array_like
        Of the air beside the disc [kg/m^3]
    tip_speed : array_like
        Speed of the rim [m/s]
    radius : array_like
        Of the rim [m]
    faces : array_like
        Faces that rub: 1 behind an open impeller, 2 on a shrouded one [-]
    """
    torque_both = (0.5 * np.asarray(moment_coefficient) * density * np.square(tip_speed)
                   * np.asarray(radius) ** 3)
    return np.asarray(0.5 * np.asarray(faces) * torque_both * tip_speed / radius)
