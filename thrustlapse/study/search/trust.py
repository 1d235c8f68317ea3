"""How far the best designs may be trusted: their maps stretched by what is known of their bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.designs.drawn import Drawn, Machines
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.map_band import known_band
from thrustlapse.rotor import stretch
from thrustlapse.study.search.evaluate import evaluate_values

NOT_STATED = 0.05
"""Relative standard deviation taken for a machine whose map states none (judgement)."""


@dataclass(frozen=True, kw_only=True)
class _Stretched:
    """The same machines, head or thrust, or power of their maps larger by one deviation."""

    machines: Machines
    output: bool

    def draw(self, candidate: str, values: Mapping[str, Array]) -> Iterator[Drawn]:
        for drawn in self.machines.draw(candidate, values):
            yield replace(drawn, candidate=stretched(drawn.candidate, output=self.output))


def stretched(candidate: Candidate, *, output: bool) -> Candidate:
    """A candidate whose map has more head (thrust, of a propeller) or power by one deviation."""
    band, unit = known_band(candidate), candidate.unit
    factor = {"head": 1.0 + band.head} if output else {"power": 1.0 + band.power}
    if isinstance(unit, Ducted):
        rotor = replace(unit.rotor, stage=stretch.stretched(unit.rotor.stage, **factor))
        return replace(candidate, unit=replace(unit, rotor=rotor))
    return replace(candidate, unit=replace(unit, table=stretch.stretched(unit.table, **factor)))


def stated(machines: Machines, candidate: str, values: Mapping[str, Array]) -> bool:
    """Whether the candidate's maps state a band at all."""
    for drawn in machines.draw(candidate, {name: value[:1] for name, value in values.items()}):
        band = known_band(drawn.candidate)
        return band.head > 0.0 or band.power > 0.0
    return False


def deviations(machines: Machines, spec: SearchSpec, candidate: str, values: Mapping[str, Array],
               best: Array) -> Array:
    """Standard deviation of the best answer that the maps' bands make, in the answer's unit.

    Head (or thrust) and power are taken as independent, each stretched by one deviation; a map
    that states none counts as uncertain by :data:`NOT_STATED` of the answer.

    Parameters
    ----------
    values : mapping
        Axis name -> SI values of shape (designs,)
    best : array
        The answer as it is, of the shape the search gives it
    """
    if not stated(machines, candidate, values):
        return np.asarray(NOT_STATED * np.abs(best))
    moved = [evaluate_values(_Stretched(machines=machines, output=output),
                             replace(spec, answers=(spec.best,), bounds=()), candidate, values,
                             best.shape[0]).answers[spec.best] - best for output in (True, False)]
    return np.asarray(np.hypot(*moved))
