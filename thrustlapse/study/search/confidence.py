"""How far the best designs may be trusted: what is not known moved by one deviation, each in turn.

What several candidates share (pack, day, airframe, the same part) is moved for all alike, so that
it cancels where it should when they are compared.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.designs.design_batch import DesignBatch, Machines
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.study.sampling import (
    Drawable,
    departing,
    drawables,
    drawn_values,
    groups,
    touching,
)
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.search.evaluate import evaluate_values

NOT_STATED = 0.05
"""Relative standard deviation taken for a machine whose map states none (judgement)."""

ONE = 0.8413447460685429
"""Share of a normal distribution below one deviation."""

Build = Callable[[Any], Machines]


@dataclass(frozen=True, kw_only=True)
class _Moved:
    """The same machines, maps of some candidates other than they say."""

    machines: Machines
    factors: Mapping[str, dict[str, Array]]
    reference: str | None

    def draw(self, candidate: str, values: Mapping[str, Array]) -> Iterator[DesignBatch]:
        for drawn in self.machines.draw(candidate, values):
            held = drawn.reference
            if held is not None and self.reference is not None:
                held = departing(held, self.factors.get(self.reference, {}))
            yield replace(drawn, reference=held, candidate=departing(
                drawn.candidate, self.factors.get(candidate, {})))


def influences(scenario: ScenarioLike, build: Build, spec: SearchSpec, candidate: str,
               values: Mapping[str, Array], best: Array) -> dict[str, Array]:
    """Change of the best answer by one deviation of each input, in the answer's unit, by input.

    Inputs have the same name for all candidates that share them. A map that states no band and
    carries no other doubt counts as uncertain by :data:`NOT_STATED` of the answer.

    Parameters
    ----------
    values : mapping
        Axis name -> SI values of shape (designs,)
    best : array
        The answer as it is, of the shape the search gives it
    """
    inputs = drawables(scenario)
    asked = replace(spec, answers=(spec.best,), bounds=())
    members = {place: group for group in groups(inputs).values() for place in group}
    found = {}
    for place in touching(scenario, inputs, candidate):
        name = _name(inputs[place], place)
        found[name] = _change(scenario, build, spec=asked, candidate=candidate, values=values,
                              best=best, inputs=inputs, members=members[place], place=place,
                              share=ONE)
        lost = np.isfinite(best) & ~np.isfinite(found[name])
        if lost.any():  # nothing flies there: as far to the other side
            other = _change(scenario, build, spec=asked, candidate=candidate, values=values,
                            best=best, inputs=inputs, members=members[place], place=place,
                            share=1.0 - ONE)
            found[name] = np.where(lost, -other, found[name])
    own = [one for one in inputs if candidate in one.owners]
    if not any(one.side or one.group for one in own):
        first = scenario.same_part.get((candidate, ""), candidate)
        found[f"map of {first}"] = np.asarray(NOT_STATED * np.abs(best))
    return found


def _name(one: Drawable, place: int) -> str:
    return f"{one.group} {place}" if one.group else one.label


def _change(scenario: ScenarioLike, build: Build, spec: SearchSpec, candidate: str,
            values: Mapping[str, Array], best: Array, inputs: list[Drawable],
            members: list[int], place: int, share: float) -> Array:
    drawn = np.full((1, len(inputs)), 0.5)
    drawn[0, place] = share
    keys, factors = drawn_values(inputs, drawn, members)
    machines = build(scenario.drawn({key: float(np.ravel(value)[0])
                                     for key, value in keys.items()}))
    if factors:
        machines = _Moved(machines=machines, reference=scenario.comparison.reference,
                          factors={name: {side: np.ravel(value)[0] for side, value in one.items()}
                                   for name, one in factors.items()})
    return np.asarray(evaluate_values(machines, spec, candidate=candidate, values=values,
                                      count=best.shape[0]).answers[spec.best] - best)


def deviation(changes: Mapping[str, Array], best: Array) -> Array:
    """Standard deviation of an answer from the changes by single inputs."""
    return np.asarray(np.sqrt(sum((np.square(change) for change in changes.values()),
                                  np.zeros_like(best))))
