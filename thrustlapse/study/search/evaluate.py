"""The answers of a batch of designs, and why some of them do not count."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.design_batch import DesignBatch, Machines
from thrustlapse.designs.spec import Chunk, SearchSpec
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.evaluate import Asked, Cases
from thrustlapse.study.evaluate import evaluate as evaluate_cases
from thrustlapse.study.footing import Footing
from thrustlapse.study.limits.table import stopped
from thrustlapse.study.quantities import value_of
from thrustlapse.study.search.bits import BITS


@dataclass(frozen=True, kw_only=True)
class Evaluated:
    """A batch of designs worked out.

    ``answers`` by name, of shape (designs, airspeeds) or (designs,); ``causes`` and
    ``design_causes`` are bits of :mod:`.bits` that belong to the two shapes.
    """

    answers: dict[str, Array]
    causes: IntArray
    design_causes: IntArray


def evaluate(machines: Machines, spec: SearchSpec, chunk: Chunk) -> Evaluated:
    """Work one chunk out; the same numbers whoever does it."""
    rows = np.arange(chunk.start, chunk.stop, dtype=np.int64)
    values = spec.designs(chunk.candidate).values(rows)
    return evaluate_values(machines, spec, candidate=chunk.candidate, values=values,
                           count=rows.size)


def evaluate_values(machines: Machines, spec: SearchSpec, candidate: str,
                    values: Mapping[str, Array], count: int) -> Evaluated:
    """Answers of ``count`` designs given by the values of their axes."""
    size, airspeeds = count, spec.airspeed.size
    answers = {name: np.full((size, airspeeds) if ANSWERS[name].at_airspeed else (size,), np.nan)
               for name in spec.answers}
    causes = np.zeros((size, airspeeds), dtype=np.int64)
    design_causes = np.zeros(size, dtype=np.int64)
    for drawn in machines.draw(candidate, values):
        if drawn.impossible:
            causes[drawn.rows] = design_causes[drawn.rows] = BITS["impossible shape"]
            continue
        batch = _Batch(drawn, spec)
        found = batch.answers()
        for name, array in answers.items():
            array[drawn.rows] = found[name]
        causes[drawn.rows], design_causes[drawn.rows] = batch.causes(found)
    return Evaluated(answers=answers, causes=causes, design_causes=design_causes)


class _Batch:
    """One group of designs flown; what several answers need is worked out once."""

    def __init__(self, drawn: DesignBatch, spec: SearchSpec) -> None:
        self.drawn, self.spec = drawn, spec
        self.designs = drawn.rows.size
        self.shape = (self.designs, spec.airspeed.size)
        self.candidate, basis = drawn.candidate, drawn.basis
        rivals = {} if basis.reference is None or drawn.reference is None else {
            basis.reference: drawn.reference}
        self.cases = Cases(
            candidate=drawn.candidate, footing=Footing(basis=basis, candidates=rivals),
            count=self.designs, airframe=drawn.airframe, carried=spec.installed_mass,
            pack_current_rating=drawn.pack_current_rating, wiring=drawn.wiring)
        self.done = evaluate_cases(self.cases, spec.airspeed,
                                   Asked.TOP_SPEED if "top_speed" in spec.answers else None)
        self.rest, self.point = self.done.rest, self.done.curve
        self.at_top = self.done.at_top

    def answers(self) -> dict[str, Array]:
        """Every answer of the search, in full shape."""
        found = {}
        for name in self.spec.answers:
            value = value_of(name, self.done)
            if ANSWERS[name].at_airspeed:
                found[name] = np.broadcast_to(value, self.shape)
            else:
                found[name] = self.cases.of_each(value)
        return found

    def causes(self, answers: Mapping[str, Array]) -> tuple[IntArray, IntArray]:
        """Bits of all causes, at the airspeeds and for the designs as a whole.

        A limit that says stop anywhere, at rest, shut, along the curve or at top speed, says it of
        the design and so at every airspeed.
        """
        whole = self._of_designs()
        there = np.broadcast_to(self.point.flag_bits, self.shape) | whole[:, None]
        short = self.cases.footing.short_of_reference(self.point)
        there = there | np.where(short > 0.0, BITS["power not reached"], 0)
        alone = whole.copy()
        if "static_thrust" in self.spec.answers:
            alone |= np.broadcast_to(self.rest.flag_bits, (self.designs, 1))[:, 0]
        if self.at_top is not None:
            alone |= np.broadcast_to(self.at_top.flag_bits, (self.designs, 1))[:, 0]
        elif "static_thrust" not in self.spec.answers:  # nothing else is flown for the design
            alone |= np.bitwise_and.reduce(there, axis=1)
        return self._bounded(answers, there, alone)

    def _of_designs(self) -> IntArray:
        bits: IntArray = np.zeros((self.designs, 1), dtype=np.int64)
        candidate, unit = self.candidate, self.candidate.unit
        wrong = np.zeros(1, dtype=bool)
        if isinstance(unit, Ducted):
            disc = np.pi / 4.0 * np.square(unit.rotor.tip_diameter)
            wrong = ((np.asarray(unit.nozzle.exit_area) > unit.duct.area * (1.0 + 1e-9))
                     | (np.asarray(unit.rotor.eye_area) > disc * (1.0 + 1e-9))
                     | (np.asarray(unit.rotor.eye_area) <= 0.0))
        bits = bits | np.where(wrong, BITS["impossible shape"], 0)
        if self.spec.installed_mass is not None:
            heavy = np.asarray(candidate.installed_mass) > self.spec.installed_mass * (1.0 + 1e-9)
            bits = bits | np.where(heavy, BITS["too heavy"], 0)
        for name, broken in stopped(self.done.states).items():
            bits = bits | np.where(broken[:, None], BITS[name], 0)
        return np.asarray(bits[:, 0])

    def _bounded(self, answers: Mapping[str, Array], there: IntArray,
                 alone: IntArray) -> tuple[IntArray, IntArray]:
        bit = BITS["outside a bound"]
        for bound in self.spec.bounds:
            value = answers[bound.answer]
            outside = ~((value >= bound.at_least) & (value <= bound.at_most))
            if value.ndim == 1:
                alone = alone | np.where(outside, bit, 0)
                there = there | np.where(outside, bit, 0)[:, None]
            else:
                there = there | np.where(outside, bit, 0)
        return there, alone
