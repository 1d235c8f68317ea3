"""What noise alone does in a spectrum: how high it rises, and by what chance."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from thrustlapse.arrays import Array

FLOOR_BINS = 81
"""Bins over which the noise beside a tone is taken: 400 Hz in the shortest pieces."""


def rounding_noise(*, peak: float, rate: float) -> float:
    """Power density of the arithmetic's own noise [peak^2/Hz]: what a bin cannot fall below.

    Rounding to a step q makes white noise of variance q^2/12 (from memory: any text on sampling),
    spread over half the rate; the step is that of a double near the peak. A sound made by
    arithmetic, or cut to exact zeros, has such bins, 300 dB below the peak; they then have a
    logarithm, and a level of noise beside them.
    """
    return float((np.finfo(np.float64).eps * peak) ** 2 / 6.0 / rate)


def level_of_noise(*, chance: float, freedom: float) -> float:
    """Level over the median of the bins beside that noise exceeds with a given chance [dB].

    The mean of k spectra follows a chi-squared law of ``freedom`` 2 k.
    The median of n values has the standard deviation 1 / (2 p sqrt(n)), p their density there;
    neighbours under a Hann window share (2/3)^2 + (1/6)^2 of their power's variance, so n counts
    1.94 times less. The chance is the mean over where the median lies (Gauss and Hermite).
    """
    from scipy.optimize import brentq
    from scipy.special import logsumexp
    from scipy.stats import chi2

    median = chi2.median(freedom)
    spread = math.sqrt(1.94 / FLOOR_BINS) / (2.0 * chi2.pdf(median, freedom) * median)
    nodes, weights = _normal(21)
    lies = median * np.exp(spread * nodes)

    def exceeded(level: float) -> float:
        found = logsumexp(chi2.logsf(10.0 ** (level / 10.0) * lies, freedom),
                          b=weights)
        return float(found) - math.log(chance)

    return float(brentq(exceeded, 0.0, 60.0))


def chance_of_noise(*, level: float, span: float, bins: int = FLOOR_BINS,
                    uneven: float = 0.0) -> float:
    """Chance that noise reaches a level [dB] over the median beside anywhere in a span of bins.

    For a transform without a window, whose bins are independent. The power in one follows an
    exponential law, whose share above a value is evenly spread from 0 to 1; that above the median
    of 2 k - 1 others (``bins``) follows a beta law of k and k, so the chance of r times this median
    is the mean of that share to the power of r, B(k, k + r) / B(k, k). With the true median it
    would be 2 to the power of -r. Between bins the spectrum crosses u times its mean upwards
    sqrt(pi u / 3) times a bin for each time it lies above it (Rice's rule; Davies, Biometrika 74,
    1987, from memory).

    A room colours noise from bin to bin. The natural logarithm of what it does to power has the
    deviation ``uneven``, by a normal law, over which the mean is taken (Gauss and Hermite).
    """
    from scipy.special import betaln

    middle = (bins + 1) // 2
    nodes, weights = _normal(41)
    ratio = 10.0 ** (level / 10.0) * _median_power(uneven) / math.log(2.0)
    chance = betaln(middle, middle + ratio * np.exp(-uneven * nodes)) - betaln(middle, middle)
    each = np.exp(chance) * (1.0 + span * np.sqrt(-math.pi / 3.0 * chance))
    return float(np.sum(weights * np.minimum(each, 1.0)))


@cache
def _normal(count: int) -> tuple[Array, Array]:
    """Places and weights of a mean over a normal law (Gauss and Hermite)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    return nodes, weights / np.sum(weights)


@cache
def _median_power(uneven: float) -> float:
    """Median power in a bin of uneven noise, over its mean at the median unevenness: ln 2 if it is
    even."""
    from scipy.optimize import brentq

    nodes, weights = _normal(41)
    return float(brentq(lambda power: np.sum(weights * np.exp(
        -power * np.exp(-uneven * nodes))) - 0.5, 0.1, 1.0))


@cache
def _twentieths() -> tuple[Array, Array]:
    """Level that one bin in twenty exceeds, by unevenness."""
    from scipy.optimize import brentq

    uneven = np.linspace(0.0, 2.0, 41)
    return uneven, np.array([brentq(lambda level, one=one: chance_of_noise(
        level=level, span=0.0, uneven=one) - 0.05, 0.0, 30.0) for one in uneven])


def unevenness(level: Array) -> float:
    """How unevenly a room colours noise, by the level over the median that one bin in twenty
    exceeds: fewer bins than that hold lines. From 0 to 2, beyond which no line is told from it."""
    uneven, levels = _twentieths()
    return float(np.interp(np.quantile(level, 0.95), levels, uneven))
