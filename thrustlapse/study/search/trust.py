"""How far the best designs may be trusted: their maps stretched by what is known of their bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.designs.drawn import Drawn, Machines
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.rotor.stage_map import CoefficientMap
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
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        band, name = unit.table.band, "thrust_scale" if output else "power_scale"
        factor = 1.0 + (band.head if output else band.power)
        table = replace(unit.table, **{name: getattr(unit.table, name) * factor})
        return replace(candidate, unit=replace(unit, table=table))
    stage: Any = unit.rotor.stage
    factor = 1.0 + (stage.band.head if output else stage.band.power)
    names: tuple[str, ...]
    if isinstance(stage, CoefficientMap):
        names = (("head_shutoff", "head_slope", "head_curvature") if output
                 else ("work_shutoff", "work_slope", "shutoff_power"))
    else:
        names = ("head_scale",) if output else ("power_scale",)
    known = {item.name for item in fields(stage)}
    assert known.issuperset(names), f"{type(stage).__name__} cannot be stretched"
    stage = replace(stage, **{name: getattr(stage, name) * factor for name in names})
    return replace(candidate, unit=replace(unit, rotor=replace(unit.rotor, stage=stage)))


def stated(machines: Machines, candidate: str, values: Mapping[str, Array]) -> bool:
    """Whether the candidate's maps state a band at all."""
    for drawn in machines.draw(candidate, {name: value[:1] for name, value in values.items()}):
        unit = drawn.candidate.unit
        band = unit.rotor.stage.band if isinstance(unit, Ducted) else unit.table.band
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
