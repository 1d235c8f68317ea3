"""Rivals of the friction of an enclosed disc: a disc in free air, a form for preliminary design."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, IntArray, Values
from thrustlapse.rotor.centrifugal.disc_friction import moment_coefficients

REGIMES = ("I laminar, merged layers", "II laminar, separate layers",
           "III turbulent, merged layers", "IV turbulent, separate layers")
"""Daily and Nece's four regimes, in the order of :func:`moment_coefficients`."""


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
