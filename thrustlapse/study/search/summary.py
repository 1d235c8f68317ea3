"""A search summed up: the best designs of every candidate, the fronts, and which kind wins where.

Everything a figure, a table or a page shows of a search is in :class:`SearchResult`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.search.confidence import Build, deviation, influences
from thrustlapse.study.search.envelope import NONE, Envelope, Gatherer
from thrustlapse.study.search.store import Store
from thrustlapse.study.search.winners import Winners, winners

MOST_FRONT = 2000
"""Points of a front that are told and written; a longer one is thinned evenly."""


@dataclass(frozen=True, kw_only=True)
class Front:
    """Designs of one candidate that no other of it beats, in order of the first answer.

    ``answers`` and ``settings`` by name, each of shape (designs,).
    """

    row: IntArray
    settings: dict[str, Array]
    answers: dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class Found:
    """What a search found of one candidate.

    Arrays are of shape (cells, airspeeds): cells are the combinations of the shared axes; a search
    whose best is an answer of the design alone has a single column. NaN where no design counts.
    ``best`` is the best answer, ``deviation`` its standard deviation from all that is not known,
    ``changes`` what one deviation of each input makes of it,
    ``settings`` the values of all axes and ``answers`` all other answers of the design that gives
    it, ``short`` where that design does not draw the power all are held to (of an answer of the
    design alone: at the lowest airspeed). ``counted`` combinations of design and airspeed were
    worked out, ``left`` of them count, ``causes`` says how often each cause held.
    """

    name: str
    kind: str
    designs: int
    counted: int
    left: int
    causes: dict[str, int]
    row: IntArray
    short: BoolArray
    best: Array
    deviation: Array
    changes: dict[str, Array]
    settings: dict[str, Array]
    answers: dict[str, Array]
    front: Front | None


@dataclass(frozen=True, kw_only=True)
class SearchResult:
    """A whole search summed up; ``spec`` says what was asked, ``points`` how many operating points
    were worked out. ``winners`` is None where there is a single kind."""

    title: str
    question: str
    note: str
    invented: bool
    footing: str
    spec: SearchSpec
    found: dict[str, Found]
    winners: Winners | None
    points: int
    scenario_digest: str
    version: str


def summarise(scenario: ScenarioLike, build: Build, store: Store, *, footing: str,
              version: str) -> SearchResult:
    """Sum up a store that is complete; one chunk at a time, so its size does not matter.

    ``build`` makes the designs of a scenario, this one and those with an input moved.

    Raises
    ------
    StoreError
        If a chunk is missing or damaged.
    """
    gatherer = Gatherer(store.spec)
    for chunk, result in store.results():
        gatherer.take(chunk, result)
    found = {name: _found(scenario, build, store=store, name=name, envelope=envelope)
             for name, envelope in gatherer.envelopes.items()}
    return SearchResult(
        title=scenario.title, question=scenario.question, note=scenario.note,
        invented=scenario.invented, footing=footing, spec=store.spec, found=found,
        winners=winners(store.spec, {name: (one.kind, one.best, one.changes)
                                     for name, one in found.items()}),
        points=sum(one.counted for one in found.values()), scenario_digest=scenario.digest,
        version=version)


def _found(scenario: ScenarioLike, build: Build, store: Store, name: str,
           envelope: Envelope) -> Found:
    spec = store.spec
    designs = spec.designs(name)
    shape = envelope.row.shape
    none = envelope.row == NONE
    blank = np.full(shape, np.nan)
    settings = {axis: blank.copy() for axis in _axes(spec, name)}
    answers = {answer: blank.copy() for answer in spec.answers if answer != spec.best}
    best, changes = blank.copy(), {}
    if not none.all():
        rows, back = np.unique(envelope.row[~none], return_inverse=True)
        values = designs.values(rows)
        again = store.answers(name, rows)
        moved = influences(scenario, build, spec=spec, candidate=name, values=values,
                           best=again[spec.best])
        column = np.broadcast_to(np.arange(shape[1]), shape)[~none]
        best[~none] = _picked(again[spec.best], back, column)
        for label, change in moved.items():
            changes[label] = blank.copy()
            changes[label][~none] = _picked(change, back, column)
        for axis, value in values.items():
            settings[axis][~none] = value[back]
        for answer, table in answers.items():
            if again[answer].ndim == 1 or ANSWERS[spec.best].at_airspeed:
                table[~none] = _picked(again[answer], back, column)
    return Found(name=name, kind=spec.candidates[name], designs=designs.count,
                 counted=envelope.counted, left=envelope.left, causes=envelope.causes,
                 row=envelope.row, short=envelope.short, best=best,
                 deviation=deviation(changes, best), changes=changes,
                 settings=settings, answers=answers, front=_front(store, name, envelope))


def _axes(spec: SearchSpec, candidate: str) -> tuple[str, ...]:
    return tuple(axis.name for axis in spec.axes if axis.owner in (None, candidate))


def _picked(table: Array, back: IntArray, column: IntArray) -> Array:
    return np.asarray(table[back] if table.ndim == 1 else table[back, column])


def _front(store: Store, name: str, envelope: Envelope) -> Front | None:
    spec = store.spec
    if not spec.front:
        return None
    order = np.argsort(-envelope.front_values[:, 0], kind="stable")
    if order.size > MOST_FRONT:
        order = order[np.linspace(0, order.size - 1, MOST_FRONT).round().astype(int)]
    rows = envelope.front_rows[order]
    if rows.size == 0:
        empty: Mapping[str, Array] = {}
        return Front(row=rows, settings=dict(empty), answers={a: np.zeros(0) for a in spec.front})
    values = spec.designs(name).values(rows)
    again = store.answers(name, rows)
    column = int(np.argmin(np.abs(spec.airspeed - spec.front_airspeed)))
    return Front(row=rows, settings=values,
                 answers={answer: table if table.ndim == 1 else table[:, column]
                          for answer, table in again.items()})
