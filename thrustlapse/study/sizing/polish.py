"""Best designs made better, all points of a domain together: evolution of a covariance.

Steps learn the shape of the ground (CMA-ES), so that a ridge along which several variables must
change together is followed to its end, where a population that has drawn together stays behind.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray

Score = Callable[[Array, IntArray], tuple[Array, Array]]
"""``score(places, point)``: worth and how far beyond the limits, of designs (n, variables), each at
one of the points."""

FIRST_STEP = 0.06
"""Deviation of the first steps, as a share of the ranges [-]."""

STILL, SHORT = 8, 2e-3
"""Generations without a gain, of steps so short, as a share of the ranges, after which a point
rests."""


@dataclass(frozen=True, kw_only=True)
class Polished:
    """``places`` (points, variables), ``value`` and ``beyond`` (points,) of the best, and whether
    it came to rest; ``evaluations`` in all."""

    places: Array
    value: Array
    beyond: Array
    converged: BoolArray
    evaluations: int


class _Strategy:
    """Weights and rates for so many variables and offspring (Hansen, The CMA evolution strategy: a
    tutorial, arXiv:1604.00772, table 1; no negative weights)."""

    def __init__(self, variables: int, offspring: int) -> None:
        n, self.parents = variables, offspring // 2
        raw = np.log(0.5 * (offspring + 1)) - np.log(np.arange(1, self.parents + 1))
        self.weights = raw / raw.sum()
        many = 1.0 / np.sum(self.weights**2)
        self.many = many
        self.step_rate = (many + 2.0) / (n + many + 5.0)
        self.damping = 1.0 + self.step_rate + 2.0 * max(
            0.0, np.sqrt((many - 1.0) / (n + 1.0)) - 1.0)
        self.path_rate = (4.0 + many / n) / (n + 4.0 + 2.0 * many / n)
        self.one_rate = 2.0 / ((n + 1.3) ** 2 + many)
        self.many_rate = min(1.0 - self.one_rate,
                             2.0 * (many - 2.0 + 1.0 / many) / ((n + 2.0) ** 2 + many))
        self.length = np.sqrt(n) * (1.0 - 1.0 / (4.0 * n) + 1.0 / (21.0 * n * n))


def polish(score: Score, *, places: Array, value: Array, beyond: Array, least: Array,
           generations: int, offspring: int, agree: float, seed: int) -> Polished:
    """Designs no worse than those given, one at each point.

    Parameters
    ----------
    score : callable
        See :data:`Score`
    places, value, beyond : array
        A design at each point, (points, variables), and what it is worth, (points,)
    least : array, (points,)
        Worth below which a gain is held against it
    agree : float
        Gain below which a generation counts as without one [-]
    """
    points, n = places.shape
    how, rng = _Strategy(n, offspring), np.random.default_rng(seed)
    best, value, beyond = places.copy(), value.copy(), beyond.copy()
    mean, spread = places.copy(), np.broadcast_to(np.eye(n), (points, n, n)).copy()
    step = np.full(points, FIRST_STEP)
    path, step_path = np.zeros((points, n)), np.zeros((points, n))
    since, mark = np.zeros(points, dtype=np.int64), value.copy()
    rests, spent = np.zeros(points, dtype=bool), 0
    for count in range(1, generations + 1):
        at = np.flatnonzero(~rests)
        if not at.size:
            break
        widths, axes = np.linalg.eigh(spread[at])
        widths = np.sqrt(np.maximum(widths, 0.0))
        drawn = rng.standard_normal((at.size, offspring, n))
        tried = mean[at][:, None] + step[at][:, None, None] * np.einsum(
            "pij,pj,poj->poi", axes, widths, drawn)
        tried = np.minimum(np.maximum(tried, 0.0), 1.0)  # on the end of a range, not beyond
        new, out = score(tried.reshape(-1, n), np.repeat(at, offspring))
        spent += new.size
        new, out = new.reshape(at.size, -1), out.reshape(at.size, -1)
        order = np.lexsort((np.where(out > 0.0, np.inf, -new), out), axis=-1)
        rows = np.arange(at.size)
        first = order[:, 0]
        lead = tried[rows, first], new[rows, first], out[rows, first]
        wins = np.where((lead[2] <= 0.0) & (beyond[at] <= 0.0), lead[1] > value[at],
                        lead[2] < beyond[at])
        best[at[wins]] = lead[0][wins]
        value[at[wins]], beyond[at[wins]] = lead[1][wins], lead[2][wins]
        steps = (np.take_along_axis(tried, order[:, :how.parents, None], axis=1)
                 - mean[at][:, None]) / step[at][:, None, None]
        move = np.einsum("o,poi->pi", how.weights, steps)
        mean[at] += step[at][:, None] * move
        with np.errstate(divide="ignore"):
            inverse = np.where(widths > 0.0, 1.0 / widths, 0.0)
        whitened = np.einsum("pij,pj,pkj,pk->pi", axes, inverse, axes, move)
        rate = how.step_rate
        step_path[at] = (1.0 - rate) * step_path[at] + np.sqrt(
            rate * (2.0 - rate) * how.many) * whitened
        far = np.linalg.norm(step_path[at], axis=1)
        goes = far / np.sqrt(1.0 - (1.0 - rate) ** (2 * count)) < (1.4 + 2.0 / (n + 1)) * how.length
        rate = how.path_rate
        path[at] = (1.0 - rate) * path[at] + goes[:, None] * np.sqrt(
            rate * (2.0 - rate) * how.many) * move
        lost = (~goes) * rate * (2.0 - rate)
        spread[at] = ((1.0 - how.one_rate - how.many_rate) * spread[at]
                      + how.one_rate * (np.einsum("pi,pj->pij", path[at], path[at])
                                        + lost[:, None, None] * spread[at])
                      + how.many_rate * np.einsum("o,poi,poj->pij", how.weights, steps, steps))
        step[at] = np.minimum(step[at] * np.exp(how.step_rate / how.damping
                                                * (far / how.length - 1.0)), 3.0 * FIRST_STEP)
        with np.errstate(invalid="ignore"):
            gained = ~(value[at] - mark[at] <= agree * np.maximum(np.abs(value[at]), least[at]))
        gained |= beyond[at] > 0.0
        mark[at] = np.where(gained, value[at], mark[at])
        since[at] = np.where(gained, 0, since[at] + 1)
        rests[at] = (since[at] >= STILL) & (step[at] * widths.max(axis=1) < SHORT)
    return Polished(places=best, value=value, beyond=beyond, converged=rests, evaluations=spent)
