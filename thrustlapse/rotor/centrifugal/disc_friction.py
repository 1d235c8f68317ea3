"""Drag of a disc that turns in a casing or in the open.

The moment coefficient is on both faces: ``Cm = M / (0.5 rho w^2 a^5)``, the Reynolds number on
the radius: ``Re = w a^2 / nu``.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, IntArray, Values

GAP_RANGE = (0.0127, 0.217)
"""Axial gap over radius that Daily and Nece tested [-]; abstract of their paper."""

REGIMES = ("I laminar, merged layers", "II laminar, separate layers",
           "III turbulent, merged layers", "IV turbulent, separate layers")
"""Daily and Nece's four regimes, in the order of :func:`moment_coefficients`."""


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


def governing_regime(*, reynolds: Values, gap_ratio: Values) -> IntArray:
    """Index into :data:`REGIMES` of the regime that governs."""
    each = moment_coefficients(reynolds=reynolds, gap_ratio=gap_ratio)
    return np.asarray(each.argmax(axis=0))


def free_laminar_moment_coefficient(*, reynolds: Values) -> Array:
    """Moment coefficient of a disc in free air, laminar, both faces [-].

    References
    ----------
    Bird, Stewart and Lightfoot print the torque 0.616 pi rho R^4 sqrt(nu w^3).
    """
    return np.asarray(0.616 * np.pi * 2.0 / np.sqrt(np.asarray(reynolds)))


def free_turbulent_moment_coefficient(*, reynolds: Values) -> Array:
    """Moment coefficient of a disc in free air, turbulent, both faces [-].

    References
    ----------
    Bird, Stewart and Lightfoot print the torque 0.073 rho w^2 R^5 Re^-0.2.
    """
    return np.asarray(0.073 * 2.0 / np.power(np.asarray(reynolds), 0.2))


def one_face_factor(*, reynolds: Values) -> Array:
    """Factor f of the preliminary-design form ``P = f rho r^2 U^3 / 4`` [-].

    A rival of :func:`enclosed_moment_coefficient`, which is half of it per face at a narrow gap.

    References
    ----------
    Oh, Yoon and Chung, Proc. IMechE A 211 (1997); constants from memory.
    """
    re = np.asarray(reynolds)
    return np.asarray(np.where(re < 3e5, 2.67 / np.sqrt(re), 0.0622 / np.power(re, 0.2)))


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
