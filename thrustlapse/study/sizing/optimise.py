"""The best design at every point of a domain, all points worked on together.

Samples first, then differential evolution towards each point's best few (DE/current-to-pbest/1,
with ever fewer members: Tanabe and Fukunaga, L-SHADE, 2014), every generation of every point one
batch. A point rests once all its members agree. SciPy's
optimisers take one problem at a time; the evaluation here costs little only in batches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray, Values

Score = Callable[[Array, IntArray], tuple[Array, Array]]
"""``score(places, point)``: worth and how far beyond the limits, of designs (n, variables), each at
one of the points."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How hard it is looked.

    ``samples`` at every point, the best ``members`` of them go on for up to ``generations``, evenly
    fewer down to ``last``; a point rests when all of them differ by less than ``agree`` of the
    best, or of ``scale`` where the best is less than that.
    """

    samples: int = 512
    members: int = 60
    last: int = 12
    generations: int = 130
    agree: float = 2e-4
    seed: int = 0

    def left(self, generation: int) -> int:
        """Members that go into a generation, counted from 0."""
        last = min(self.last, self.members)
        return self.members - (self.members - last) * generation // self.generations

    @property
    def most(self) -> int:
        """Designs judged at a point at most, those it begins with apart."""
        return self.samples + sum(self.left(each) for each in range(self.generations))


BEST_SHARE, DIFFERENCE, CROSSED = 0.2, (0.4, 0.95), 0.9
"""Share of the members that lead, range of the step, and share of variables that change [-]: usual
for this method (Zhang and Sanderson, JADE, 2009)."""


@dataclass(frozen=True, kw_only=True)
class Population:
    """What is left at the end, best first: ``places`` (points, members, variables), ``value`` and
    ``beyond`` (points, members); ``converged`` (points,); ``evaluations`` in all."""

    places: Array
    value: Array
    beyond: Array
    converged: BoolArray
    evaluations: int
    generations: IntArray

    @property
    def found(self) -> BoolArray:
        """Where there is a design within all limits, (points,)."""
        return np.asarray(self.beyond[:, 0] <= 0.0)


def _order(value: Array, beyond: Array) -> IntArray:
    """Members of each point from best to worst: within the limits by value, others by how far
    out."""
    key = np.where(beyond > 0.0, np.inf, -value)
    return np.lexsort((key, beyond), axis=-1)


def _better(value: Array, beyond: Array, than_value: Array, than_beyond: Array) -> BoolArray:
    both_in = (beyond <= 0.0) & (than_beyond <= 0.0)
    return np.where(both_in, value >= than_value, beyond <= than_beyond)


def optimise(score: Score, *, points: int, variables: int, start: Array | None = None,
             scale: Values = 0.0, effort: Effort | None = None) -> Population:
    """Best designs at every point.

    Parameters
    ----------
    score : callable
        See :data:`Score`
    points, variables : int
    start : array, (points, m, variables), optional
        Designs to begin with beside the samples
    scale : array_like, (points,)
        Worth below which a difference is held against it
    """
    how = effort or Effort()
    rng = np.random.default_rng(how.seed)
    places, value, beyond, spent = _sampled(score, points, variables, start, how)
    converged = np.zeros(points, dtype=bool)
    generations = np.zeros(points, dtype=np.int64)
    least = np.broadcast_to(scale, (points,))
    for generation in range(how.generations):
        at = np.flatnonzero(~converged)
        if not at.size:
            break
        places, value, beyond = (each[:, :how.left(generation)]
                                 for each in (places, value, beyond))
        tried = _tried(places[at], rng)
        new, out = score(tried.reshape(-1, variables), np.repeat(at, tried.shape[1]))
        spent += new.size
        new, out = new.reshape(at.size, -1), out.reshape(at.size, -1)
        wins = _better(new, out, value[at], beyond[at])
        places[at] = np.where(wins[..., None], tried, places[at])
        value[at], beyond[at] = np.where(wins, new, value[at]), np.where(wins, out, beyond[at])
        order = _order(value[at], beyond[at])
        places[at] = np.take_along_axis(places[at], order[..., None], axis=1)
        value[at] = np.take_along_axis(value[at], order, axis=1)
        beyond[at] = np.take_along_axis(beyond[at], order, axis=1)
        generations[at] += 1
        with np.errstate(invalid="ignore"):
            spread = value[at, 0] - value[at, -1]
            converged[at] = (beyond[at, -1] <= 0.0) & (
                spread <= how.agree * np.maximum(np.abs(value[at, 0]), least[at]))
    return Population(places=places, value=value, beyond=beyond, converged=converged,
                      evaluations=spent, generations=generations)


def _sampled(score: Score, points: int, variables: int, start: Array | None,
             how: Effort) -> tuple[Array, Array, Array, int]:
    """The best of a Sobol sequence, and of the start, at every point."""
    from scipy.stats import qmc

    drawn = qmc.Sobol(variables, seed=how.seed).random(how.samples)
    places: Array = np.broadcast_to(drawn, (points, *drawn.shape))
    if start is not None:
        places = np.concatenate([start, places], axis=1)
    count = places.shape[1]
    value, beyond = score(places.reshape(-1, variables), np.repeat(np.arange(points), count))
    value, beyond = value.reshape(points, count), beyond.reshape(points, count)
    order = _order(value, beyond)[:, :how.members]
    return (np.take_along_axis(places, order[..., None], axis=1).copy(),
            np.take_along_axis(value, order, axis=1).copy(),
            np.take_along_axis(beyond, order, axis=1).copy(), value.size)


def _tried(places: Array, rng: np.random.Generator) -> Array:
    """One trial for every member: a step towards one of the best and along a difference."""
    points, members, variables = places.shape
    rows = np.arange(points)[:, None]
    lead = rng.integers(max(2, round(BEST_SHARE * members)), size=(points, members))
    one, other = rng.integers(members, size=(2, points, members))
    step = rng.uniform(*DIFFERENCE, size=(points, members, 1))
    moved = places + step * (places[rows, lead] - places) + step * (
        places[rows, one] - places[rows, other])
    crossed = rng.random((points, members, variables)) < CROSSED
    crossed |= np.arange(variables) == rng.integers(variables, size=(points, members, 1))
    tried = np.where(crossed, moved, places)
    # a step out of a range ends on its end: an answer there is said to stand on it
    return np.asarray(np.minimum(np.maximum(tried, 0.0), 1.0))
