"""One limit: what is held against what, from which margin it is serious, and how it is told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.study.comparison import Finding
from thrustlapse.study.limits.states import States

RANKS = ("stop", "check", "note")
"""From "do not run it like this" over "find out first" to "so that a number is read rightly"."""

GIVEN = "rating as given"

Words = str | Callable[["Reading"], str]


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A limit at its worst element: ``value`` against ``bound``, how serious that is, and where.

    ``place`` counts the elements of the value from its end: -1 is the last.
    """

    states: States
    value: float
    bound: float
    rank: str
    place: int


@dataclass(frozen=True, kw_only=True)
class Limit:
    """One limit; the page, the search, the draws and the browser all read it here.

    Parameters
    ----------
    name : str
        By which causes of a search and shares of draws name it
    meaning : str
        What it says where it is broken, the same for every candidate
    unit : str
        SI unit of value and bound
    value, bound : callable
        Of :class:`States`: arrays of shape (case, element), and what broadcasts against them; None
        where there is nothing to hold, or nothing to hold it against. The bound is asked first
    ranks : mapping
        Rank -> margin below which it holds; infinity where it is always said
    least : bool
        Whether the bound is a lower one
    source, text, remedy : str or callable
        What the bound rests on, the statement, and what to change; of a :class:`Reading`
    about : str
        The part of the statement that is the same for every candidate
    unrated : callable, optional
        What is said where the bound is None
    curve : str
        The quantity of an operating point that the value is the largest of, where a moving page
        that has its curve can hold the limit too
    curve_bound : callable, optional
        The bound of that curve, where it is another
    """

    name: str
    meaning: str
    unit: str
    value: Callable[[States], Array | None]
    bound: Callable[[States], Values | None]
    ranks: Mapping[str, float]
    text: Words
    remedy: Words
    source: Words = GIVEN
    least: bool = False
    about: str = ""
    unrated: Callable[[States], Finding | None] = field(default=lambda _: None)
    curve: str = ""
    curve_bound: Callable[[States], Values | None] | None = None

    @property
    def stops(self) -> bool:
        """Whether it can forbid a machine."""
        return "stop" in self.ranks

    def margin(self, states: States) -> Array | None:
        """Room to the bound as a share of it, below zero where it is broken, (case, element) [-].

        NaN where there is no value; None where there is nothing to hold. Minus infinity at every
        element of a case that operates and has a value at none of them: what is not known at all
        is not kept.
        """
        found = self._sides(states)
        if found is None:
            return None
        margin = self._margin(*found)
        known = ~np.isnan(margin).all(axis=-1, keepdims=True)
        return margin if known.all() else np.where(~known & _operates(states), -np.inf, margin)

    def stopped(self, states: States) -> BoolArray | None:
        """Where it forbids to run the machine like this, (case, element)."""
        margin = self.margin(states)
        if margin is None:
            return None
        with np.errstate(invalid="ignore"):
            return np.asarray(margin < self.ranks["stop"])

    def finding(self, states: States) -> Finding | None:
        """What a page says of one case; None where there is nothing to say."""
        name = states.candidate.name
        found = self._sides(states)
        if found is None:
            return self.unrated(states) if self.bound(states) is None else None
        value, bound = np.broadcast_arrays(*(np.ravel(side) for side in found))
        margin = self._margin(value, bound)
        if not np.isfinite(value).any() and not np.isinf(margin).any():
            return self._unknown(states) if self.stops and _operates(states).any() else None
        place = int(np.nanargmin(margin))
        rank = next((rank for rank in RANKS if margin[place] < self.ranks.get(rank, -np.inf)), "")
        if not rank:
            return None
        at = Reading(states=states, value=float(value[place]), bound=float(bound[place]), rank=rank,
                     place=place - value.size)

        def told(words: Words) -> str:
            return words if isinstance(words, str) else words(at)

        return Finding(rank=rank, subject=name, value=_known(at.value), limit=_known(at.bound),
                       unit=self.unit, text=told(self.text), about=self.about,
                       change=told(self.remedy), source=told(self.source), least=self.least)

    def _unknown(self, states: States) -> Finding:
        """What a page says where a limit that stops has no value at all; as :meth:`margin`."""
        return Finding(rank="stop", subject=states.candidate.name, value=None, limit=None,
                       unit=self.unit, text=f"it is not known whether {self.meaning}",
                       about="what is not known is not within a limit",
                       change="give what its value follows from", source="")

    def _sides(self, states: States) -> tuple[Array, Array] | None:
        bound = self.bound(states)
        if bound is None:
            return None
        value = self.value(states)
        return None if value is None else (value, np.asarray(bound, dtype=float))

    def _margin(self, value: Array, bound: Array) -> Array:
        with np.errstate(invalid="ignore", divide="ignore"):
            over = value / bound - 1.0
        return np.asarray(over if self.least else -over)


ANY_NUMBER = float(np.finfo(float).max)
"""The bound of what need only be finite."""


def _operates(states: States) -> BoolArray:
    """Whether a case has an operating point anywhere, (case, 1)."""
    return np.asarray(np.isfinite(states.each("installed_thrust")).any(axis=-1, keepdims=True))


def _known(value: float) -> float | None:
    return value if np.isfinite(value) and value < ANY_NUMBER else None
