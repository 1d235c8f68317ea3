"""What a search asks: which quantities vary, which answers count, and what is left out.

A search lists *designs*: for each candidate every combination of its own axes and of the axes all
candidates share. Axes with given values make a grid; sampled axes are drawn together by a scrambled
Sobol sequence and make one more dimension of it, the last. Designs are numbered in that order, so a
number is enough to know a design, whoever works on it and in whatever order.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thrustlapse.arrays import Array, IntArray

POINTS_PER_CHUNK = 32_768
"""Operating points worked on together: a few tens of megabytes, and a fraction of a second."""


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One quantity that varies, in SI.

    Parameters
    ----------
    name : str
        What people call it, unique within a search
    keys : tuple of str
        Dotted scenario keys that all take the axis's value, such as ``pack.state_of_charge``
    kind : str
        Kind of quantity, as the scenario's units know it
    unit : str
        SI unit of the values
    values : array, shape (n,)
        The values; of a sampled axis its two ends
    sampled : bool
        Whether designs are drawn between the ends instead of taken from the values
    owner : str or None
        Candidate whose design it belongs to; None for one that all candidates share
    relative : bool
        Whether the values are factors on what the scenario gives for each key
    slow : bool
        Whether each value needs a map made anew: such axes vary slowest
    display_unit, scale, offset : str and float
        How people read the values: (value - offset) / scale in that unit
    """

    name: str
    keys: tuple[str, ...]
    kind: str
    unit: str
    values: Array
    sampled: bool = False
    owner: str | None = None
    relative: bool = False
    slow: bool = False
    display_unit: str = ""
    scale: float = 1.0
    offset: float = 0.0

    @property
    def counted(self) -> bool:
        """Whether it takes whole numbers only, as numbers of things do."""
        return (self.kind == "ratio" and not self.sampled and not self.relative
                and bool(np.all(self.values == np.round(self.values)))
                and float(self.values[-1]) >= 1.0)

    def display(self, value: Array) -> Array:
        """Values in the unit people read."""
        return np.asarray((value - self.offset) / self.scale)


@dataclass(frozen=True, kw_only=True)
class Bound:
    """A limit of the person's own on an answer, in SI; an end that is not given is infinite."""

    answer: str
    at_least: float = -np.inf
    at_most: float = np.inf


@dataclass(frozen=True, kw_only=True)
class SearchSpec:
    """A whole search.

    Parameters
    ----------
    candidates : dict of str
        Name -> kind of every candidate searched
    axes : tuple of Axis
    airspeed : array, shape (n,)
        Rising [m/s]
    answers : tuple of str
        What is worked out and kept, by the names of :data:`~.answers.ANSWERS`
    best : str
        Answer by which a design is the best of its kind
    front : tuple of str
        Two or more answers whose trade-off is wanted; may be empty
    front_airspeed : float
        One of ``airspeed``, for answers that depend on it [m/s]
    bounds : tuple of Bound
    leave_out : tuple of str
        Causes, by the names of :data:`~.causes.CAUSES`, that make a design none
    samples : int
        Designs drawn for sampled axes, a power of two; 0 where there is none
    seed : int
    installed_mass : float or None
        Installed mass at which every design is flown; heavier ones are left out [kg]
    """

    candidates: dict[str, str]
    axes: tuple[Axis, ...]
    airspeed: Array
    answers: tuple[str, ...]
    best: str
    front: tuple[str, ...] = ()
    front_airspeed: float = 0.0
    bounds: tuple[Bound, ...] = ()
    leave_out: tuple[str, ...] = ()
    samples: int = 0
    seed: int = 0
    installed_mass: float | None = None

    def designs(self, candidate: str) -> Designs:
        """The designs of one candidate."""
        mine = [axis for axis in self.axes if axis.owner in (None, candidate)]
        grid = sorted((axis for axis in mine if not axis.sampled), key=lambda axis: not axis.slow)
        drawn = tuple(axis for axis in mine if axis.sampled)
        return Designs(grid=tuple(grid), drawn=drawn, samples=self.samples if drawn else 1,
                       seed=self.seed)

    @property
    def shared(self) -> tuple[Axis, ...]:
        """Axes that all candidates share: the cells within which each is at its own best."""
        return tuple(axis for axis in self.axes if axis.owner is None and not axis.sampled)

    @property
    def cells(self) -> tuple[int, ...]:
        """Number of values along each shared axis."""
        return tuple(axis.values.size for axis in self.shared)


@dataclass(frozen=True, kw_only=True)
class Designs:
    """The numbered designs of one candidate: a grid, and samples as its last dimension."""

    grid: tuple[Axis, ...]
    drawn: tuple[Axis, ...]
    samples: int
    seed: int

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Values along each grid axis, then the samples."""
        return (*(axis.values.size for axis in self.grid), self.samples)

    @property
    def count(self) -> int:
        """Number of designs."""
        return int(np.prod(np.array(self.shape, dtype=object)))

    def values(self, rows: IntArray) -> dict[str, Array]:
        """Value of every axis [SI] at designs by number, by the axis's name."""
        *places, sample = np.unravel_index(rows, self.shape)
        found = {axis.name: axis.values[place]
                 for axis, place in zip(self.grid, places, strict=True)}
        if self.drawn:
            needed, back = np.unique(sample, return_inverse=True)
            shares = self._shares(needed)[back]
            for column, axis in enumerate(self.drawn):
                low, high = axis.values
                found[axis.name] = low + (high - low) * shares[:, column]
        return found

    def cells(self, rows: IntArray, shared: tuple[Axis, ...]) -> IntArray:
        """Place of designs among the combinations of the shared axes."""
        places = dict(zip((axis.name for axis in self.grid),
                          np.unravel_index(rows, self.shape), strict=False))
        sizes = tuple(axis.values.size for axis in shared)
        if not sizes:
            return np.zeros(rows.shape, dtype=np.int64)
        picked = tuple(places[axis.name] for axis in shared)
        return np.asarray(np.ravel_multi_index(picked, sizes), dtype=np.int64)

    def _shares(self, needed: IntArray) -> Array:
        """Points of the Sobol sequence by number, each between 0 and 1.

        Only the stretch that is asked for is made, so memory does not grow with the samples.
        """
        from scipy.stats import qmc

        out = np.empty((needed.size, len(self.drawn)))
        breaks = np.flatnonzero(np.diff(needed) > 1) + 1
        for stretch in np.split(np.arange(needed.size), breaks):
            first, last = int(needed[stretch[0]]), int(needed[stretch[-1]])
            engine = qmc.Sobol(len(self.drawn), scramble=True, rng=self.seed, bits=30)
            if first:
                engine.fast_forward(first)
            out[stretch] = _quiet_draw(engine, last - first + 1)
        return out


def _quiet_draw(engine: object, count: int) -> Array:
    """Draw without the advice on powers of two: the whole is one, its stretches need not be."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="The balance properties of Sobol'")
        return np.asarray(engine.random(count))  # type: ignore[attr-defined]


@dataclass(frozen=True, kw_only=True)
class Chunk:
    """Designs ``start`` to ``stop`` (not included) of a candidate; ``number`` counts in order."""

    number: int
    candidate: str
    start: int
    stop: int


def chunks(spec: SearchSpec, points_per_design: int) -> tuple[Chunk, ...]:
    """Bounds of all chunks: they depend on the search alone, never on who works on it."""
    size = max(1, POINTS_PER_CHUNK // points_per_design)
    found: list[Chunk] = []
    for candidate in spec.candidates:
        count = spec.designs(candidate).count
        found += [Chunk(number=len(found) + place, candidate=candidate, start=start,
                        stop=min(start + size, count))
                  for place, start in enumerate(range(0, count, size))]
    return tuple(found)
