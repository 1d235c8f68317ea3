"""What a bench fit leaves in a candidate: which of its values were fitted, and how surely."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from thrustlapse.propulsor.bench_fit import (
    CONTRACTION,
    FALL_FORM,
    FLOW_FORM,
    HEAD_NODES,
    NODE_NAMES,
    POWER_NODES,
    BenchFit,
)
from thrustlapse.propulsor.nozzle import widest_discharge
from thrustlapse.scenario.build.defaults_log import shown as told_shown
from thrustlapse.scenario.fields import Json, Quantity, Rule, Series, Text, Unknown, refusal
from thrustlapse.scenario.section import Problem, Section, rule_of

MOST_UNKNOWNS = 60
"""Unknowns of one fit; a machine has about thirty with what is assumed of it."""

SYMMETRIC = 1e-6
"""Largest difference of mirrored entries of a covariance, over the two deviations, that is taken
for rounding; the same for an eigenvalue of the correlation below zero."""

FORM_NAMES = (FLOW_FORM, FALL_FORM, *HEAD_NODES, *POWER_NODES)
NAMES = (CONTRACTION, *FORM_NAMES)
"""Names in a fit that are no keys of a candidate."""

DOTTED = re.compile(r"[a-z_]+(?:\.[a-z_]+)+")


@dataclass(frozen=True)
class DottedKeys(Rule):
    """A list of keys of the candidate, such as ``motor.resistance``, none twice."""

    def check(self, value: Any) -> tuple[str, ...]:
        if isinstance(value, Unknown):
            return ()
        if not isinstance(value, list) or not 1 <= len(value) <= MOST_UNKNOWNS:
            raise refusal("not a list of keys", self.accepted())
        for number, entry in enumerate(value, start=1):
            if not isinstance(entry, str) or DOTTED.fullmatch(entry) is None:
                raise refusal(f"entry {number} is not a key inside a table", self.accepted())
            if entry in value[:number - 1]:
                raise refusal(f"entry {number} is there twice", self.accepted())
        return tuple(value)

    def accepted(self) -> str:
        return (f'a list of 1 to {MOST_UNKNOWNS} keys of this candidate, with dots, such as '
                '["motor.resistance", "map.head_shutoff"]')

    def json(self) -> Json:
        return {"type": "array", "items": {"type": "string", "pattern": f"^{DOTTED.pattern}$"},
                "minItems": 1, "maxItems": MOST_UNKNOWNS, "uniqueItems": True}


@dataclass(frozen=True)
class Rows(Rule):
    """A list of rows of finite plain numbers."""

    def check(self, value: Any) -> tuple[tuple[float, ...], ...]:
        if isinstance(value, Unknown):
            return ()
        if not isinstance(value, list) or not 1 <= len(value) <= MOST_UNKNOWNS:
            raise refusal("not a list of rows", self.accepted())
        return tuple(self._row(number, row) for number, row in enumerate(value, start=1))

    def _row(self, number: int, row: Any) -> tuple[float, ...]:
        if not isinstance(row, list) or len(row) > MOST_UNKNOWNS:
            raise refusal(f"row {number} is not a list", self.accepted())
        for place, entry in enumerate(row, start=1):
            plain = isinstance(entry, int | float) and not isinstance(entry, bool)
            if not plain or abs(entry) > 1e30 or not math.isfinite(entry):
                raise refusal(f"row {number}, entry {place} is not a plain number",
                              self.accepted())
        return tuple(float(entry) for entry in row)

    def accepted(self) -> str:
        return "a list of rows of plain numbers in SI, as many rows and columns as unknowns"

    def json(self) -> Json:
        row: Json = {"type": "array", "items": {"type": "number"}}
        return {"type": "array", "items": row, "minItems": 1, "maxItems": MOST_UNKNOWNS}


DEPARTURES = Series(Quantity("ratio", -2.0, 2.0), least=len(NODE_NAMES))


class FitSection(Section):
    """What a bench fit found out about this candidate, beside its ordinary keys."""

    bench: Annotated[str, Text(300)] = Field(
        description="What it was fitted to: which readings, of which day")
    unknowns: Annotated[tuple[str, ...], DottedKeys()] = Field(
        description="Keys of this candidate whose values were fitted")
    covariance: Annotated[tuple[tuple[float, ...], ...], Rows()] = Field(
        description="Covariance of those values, in their SI units and that order")
    flow_form: Annotated[float, Quantity("ratio", -2.0, 2.0)] | None = Field(
        None, description="Departure of the flow from the map's, as the logarithm of a factor")
    fall_form: Annotated[float, Quantity("ratio", -4.0, 4.0)] | None = Field(
        None, description="What the head has more than the map's at its largest flow, over the "
        "map's head at no flow; it grows with the square of the flow")
    head_form: Annotated[tuple[float, ...], DEPARTURES] | None = Field(
        None, description="Departure of the head from the map's form at four flows from shut to "
        "open, as the logarithm of a factor")
    power_form: Annotated[tuple[float, ...], DEPARTURES] | None = Field(
        None, description="The same of the power")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for name in ("head_form", "power_form"):
            form = getattr(self, name)
            if form is not None and len(form) != len(NODE_NAMES):
                yield Problem(path=(name,), problem=f"{len(form)} entries",
                              accepted=f"{len(NODE_NAMES)}: {', '.join(NODE_NAMES)}")
        if not self.unknowns or not self.covariance:
            return
        count = len(self.unknowns)
        if len(self.covariance) != count or any(len(row) != count for row in self.covariance):
            widths = sorted({len(row) for row in self.covariance})
            yield Problem(path=("covariance",), problem=f"{len(self.covariance)} rows of "
                          f"{' or '.join(map(str, widths))} entries beside {count} unknowns",
                          accepted=f"{count} rows of {count}")
            return
        matrix = np.array(self.covariance)
        if np.any(np.diag(matrix) <= 0.0):
            which = self.unknowns[int(np.argmin(np.diag(matrix)))]
            yield Problem(path=("covariance",), problem=f"the variance of {which} is not above "
                          "zero", accepted="positive numbers on the diagonal")
            return
        deviation = np.sqrt(np.diag(matrix))
        correlation = matrix / np.outer(deviation, deviation)
        if np.max(np.abs(correlation - correlation.T)) > SYMMETRIC:
            yield Problem(path=("covariance",), problem="not symmetric: entries that mirror each "
                          "other differ", accepted="the same number at row i, column j and at row "
                          "j, column i")
        elif float(np.linalg.eigvalsh(correlation)[0]) < -SYMMETRIC:
            yield Problem(path=("covariance",), problem="no covariance can be like that: some "
                          "combination of the unknowns would have a variance below zero",
                          accepted="a positive semi-definite matrix, such as a fit writes")

    def check_with(self, candidate: Section) -> Iterator[Problem]:
        """Faults of the fit together with its candidate; paths count from the candidate."""
        for dotted in self.unknowns:
            value = fitted_value(candidate, dotted)
            if value is None:
                yield Problem(path=("fit", "unknowns"), problem=f'"{dotted}" names no number that '
                              "this candidate gives",
                              accepted="keys of quantities that stand in this candidate's tables",
                              hint="the fitted value itself stands under its ordinary key")

    def fit(self, candidate: Section) -> BenchFit:
        """The fit as the rest of the package uses it."""
        values = [fitted_value(candidate, dotted) for dotted in self.unknowns]
        covariance = np.array(self.covariance)
        told = [f"{dotted} {_with_spread(candidate, dotted, value, spread)}"
                for dotted, value, spread in zip(self.unknowns, values,
                                                 np.sqrt(np.diag(covariance)), strict=True)
                if dotted not in FORM_NAMES]
        if set(FORM_NAMES) & set(self.unknowns):
            told.append("the form of its map")
        return BenchFit(bench=self.bench, unknowns=self.unknowns,
                        values=np.array(values, dtype=float), covariance=covariance,
                        told=(f"{self.bench}: {', '.join(told)} (one standard deviation)",))


def _with_spread(candidate: Section, dotted: str, value: float | None, spread: float) -> str:
    """A fitted value and its standard deviation in the unit people read."""
    kind = kind_of(candidate, dotted)
    if value is None or not math.isfinite(value):
        return "drawn"
    return f"{told_shown(value, kind)} ± {told_shown(spread, kind)}"


def kind_of(candidate: Section, dotted: str) -> str:
    """Kind of quantity of a dotted key of a candidate."""
    if dotted in NAMES:
        return "ratio"
    part: Any = candidate
    rule: Rule | None = None
    for step in dotted.split("."):
        rule = rule_of(type(part).model_fields[step])
        part = getattr(part, step)
    number = rule.of if isinstance(rule, Series) else rule
    assert isinstance(number, Quantity)
    return number.kind


def fitted_value(candidate: Section, dotted: str) -> float | None:
    """Value in SI that a candidate's tables give under a dotted key; None where they give none.

    NaN for a value that is there and faulty, or drawn. A list that may have one entry counts where
    it has one. Names of a fit that are no keys stand for what follows from the tables.
    """
    if dotted == CONTRACTION:
        given = fitted_value(candidate, "nozzle.discharge_coefficient")
        nozzle = getattr(candidate, "nozzle", None)
        if given is None or nozzle is None:
            return None
        velocity = nozzle.velocity_coefficient
        if not isinstance(velocity, float) or not isinstance(given, float):
            return math.nan
        return given / float(widest_discharge(velocity_coefficient=velocity))
    if dotted in (FLOW_FORM, FALL_FORM):
        return getattr(getattr(candidate, "fit", None), dotted.partition(".")[2], None)
    if dotted in FORM_NAMES:
        fit = getattr(candidate, "fit", None)
        side, node = dotted.removeprefix("map.").split(".")
        form = getattr(fit, side, None)
        return None if form is None else dict(zip(NODE_NAMES, form, strict=False)).get(
            node, math.nan)
    part: Any = candidate
    steps = dotted.split(".")
    for step in steps:
        if not isinstance(part, Section) or step not in part.model_fields_set:
            return None
        rule = rule_of(type(part).model_fields[step])
        part = getattr(part, step)
    if isinstance(part, tuple) and isinstance(rule, Series) and len(part) == 1:
        part = part[0]
    if isinstance(part, np.ndarray):
        return math.nan
    return part if isinstance(part, float) else None
