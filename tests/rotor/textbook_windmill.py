"""How much a windmill slows the stream, explicit in its loading."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.propeller.element import HIGHEST_MOMENTUM_LOADING


def windmill_induction(*, loading: Values, loss_factor: Values) -> Array:
    """Share of the stream's speed that a windmilling disc takes away [-].

    Parameters
    ----------
    loading : array_like
        kappa = sigma (-cn) / (4 F sin^2 phi) [-], positive for a windmill
    loss_factor : array_like
        F [-]

    Returns
    -------
    array
        ``kappa / (1 + kappa)`` of momentum theory up to kappa = 2/3; beyond it the root of Buhl's
        ``8/9 + (4 F - 40/9) a + (50/9 - 4 F) a^2 = 4 F kappa (1 - a)^2``.

    Notes
    -----
    Solved for 1 - a, the quadratic becomes
    ``1 - a = 1 / (5/3 - F + sqrt(2 F kappa - F (4/3 - F)))``,
    without the singular point of the usual form.

    References
    ----------
    Buhl, NREL/TP-500-36834, 2005 (from memory).
    """
    kappa, loss = np.asarray(loading), np.asarray(loss_factor)
    under = np.maximum(2.0 * loss * kappa - loss * (4.0 / 3.0 - loss), 0.0)
    remaining = 1.0 / (5.0 / 3.0 - loss + np.sqrt(under))
    with np.errstate(divide="ignore"):
        momentum = 1.0 / (1.0 + kappa)
    return np.asarray(1.0 - np.where(kappa > HIGHEST_MOMENTUM_LOADING, remaining, momentum))
