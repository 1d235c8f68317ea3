"""The table ``[search]``: which quantities vary, which answers count, and what is left out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

import numpy as np
from pydantic import Field

from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.causes import CAUSES, FORMER, USUAL
from thrustlapse.glossary import quantity
from thrustlapse.scenario.faults import listed, near_miss
from thrustlapse.scenario.fields import Count, Flag, Quantity, Rule, Text, Unknown, Word, refusal
from thrustlapse.scenario.schema.airspeed import AirspeedSection
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import KINDS, QuantityFault, to_si

MOST_SAMPLES = 2**24
MOST_VALUES = 100_001
SPACINGS = ("even", "ratio")

KIND_OF_UNIT = {kind.unit: name for name, kind in reversed(KINDS.items())} | {
    "kg": "mass", "m/s": "speed", "rad/s": "shaft speed"}


@dataclass(frozen=True)
class Raw(Rule):
    """A quantity whose kind another key decides: a number, or a text with a unit."""

    def check(self, value: Any) -> Any:
        if isinstance(value, Unknown):
            return math.nan
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise refusal("not a quantity", self.accepted())
        return value

    def accepted(self) -> str:
        return 'a quantity of the key\'s own kind, such as "24 mm", or a number in its SI unit'

    def json(self) -> dict[str, Any]:
        return {"type": ["number", "string"]}


@dataclass(frozen=True)
class Words(Rule):
    """A list of texts."""

    known: tuple[str, ...] = ()
    least: int = 0

    def check(self, value: Any) -> tuple[str, ...]:
        if isinstance(value, Unknown):
            return ()
        if not isinstance(value, list) or not all(isinstance(entry, str) for entry in value):
            raise refusal("not a list of texts", self.accepted())
        if len(value) < self.least:
            raise refusal("too few entries", self.accepted())
        for place, entry in enumerate(value, start=1):
            if self.known and entry not in self.known:
                raise refusal(f'entry {place}: "{entry}" is not known here', self.accepted(),
                              near_miss(entry, self.known))
            if entry in value[:place - 1]:
                raise refusal(f'"{entry}" is there twice', "each one once")
        return tuple(value)

    def accepted(self) -> str:
        told = f" of {listed(self.known)}" if self.known else " of texts"
        return f"a list{told}" + (f", {self.least} or more" if self.least else "")

    def json(self) -> dict[str, Any]:
        items: dict[str, Any] = {"enum": list(self.known)} if self.known else {"type": "string"}
        return {"type": "array", "items": items, "minItems": self.least}


@dataclass(frozen=True)
class RawList(Raw):
    """A list of quantities whose kind another key decides."""

    def check(self, value: Any) -> Any:
        if isinstance(value, Unknown):
            return ()
        if not isinstance(value, list) or not value:
            raise refusal("not a list, or an empty one", self.accepted())
        return tuple(super(RawList, self).check(entry) for entry in value)

    def accepted(self) -> str:
        return 'a list of quantities of the key\'s own kind, such as ["14 mm", "16 mm"]'

    def json(self) -> dict[str, Any]:
        return {"type": "array", "items": super().json(), "minItems": 1}


MOST_POWER = 6.0


@dataclass(frozen=True)
class Powers(Rule):
    """Dotted keys, each with a power."""

    def check(self, value: Any) -> tuple[tuple[str, float], ...]:
        if isinstance(value, Unknown):
            return ()
        if not isinstance(value, dict) or not value:
            raise refusal("not a table of keys, or an empty one", self.accepted())
        for key, power in value.items():
            if isinstance(power, bool) or not isinstance(power, int | float) or not (
                    0.0 < abs(power) <= MOST_POWER):
                raise refusal(f'"{key}" has no power', self.accepted())
        return tuple((str(key), float(power)) for key, power in value.items())

    def accepted(self) -> str:
        return ('keys in quotes with powers between -6 and 6 other than 0, such as '
                '{"candidates.blower.motor.resistance" = -2}')

    def json(self) -> dict[str, Any]:
        return {"type": "object", "minProperties": 1, "additionalProperties": {
            "type": "number", "minimum": -MOST_POWER, "maximum": MOST_POWER}}


class AxisSection(Section):
    """One quantity that varies, and how."""

    ONE_OF = (("key", "keys"), ("at", "lowest"))
    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (
        ("at", "highest"), ("at", "points"), ("at", "spacing"))
    name: Annotated[str, Text(40)] | None = Field(
        None, description="What figures call it; the last words of the key unless given")
    key: Annotated[str, Text(200)] | None = Field(
        None, description="Dotted key of a number in this file, such as "
        "candidates.blower.nozzle.exit_diameter")
    keys: Annotated[tuple[str, ...], Words(least=1)] | None = Field(
        None, description="Several keys that all take the same value, in place of one")
    at: Annotated[Any, RawList()] = Field(None, description="The values, one by one")
    lowest: Annotated[Any, Raw()] = Field(None, description="Lowest value of a range")
    highest: Annotated[Any, Raw()] = Field(None, description="Highest value of a range")
    points: Annotated[int, Count(2, MOST_VALUES)] | None = Field(
        None, description="Number of values in the range, both ends among them; a range without "
        "it is sampled")
    spacing: Annotated[str, Word(SPACINGS)] = Field(
        "even", description="Even steps, or steps of equal ratio")
    relative: Annotated[bool, Flag()] = Field(
        False, description="True where the values are factors on what the file gives for the key")
    follow: Annotated[tuple[tuple[str, float], ...], Powers()] | None = Field(
        None, description="Keys that follow: each takes what the file gives for it, times the "
        "ratio of this axis's value to the file's own, to a power. At one motor size resistance "
        "follows the speed constant by -2, the no-load current by 1")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.given("lowest") and not self.given("highest"):
            yield Problem(path=("lowest",), problem="a range with one end",
                          accepted="lowest and highest, or a list: at")
        if self.given("highest") and not self.given("lowest", "at"):
            yield Problem(path=("highest",), problem="a range with one end",
                          accepted="lowest and highest, or a list: at")
        if self.given("spacing") and not self.given("points") and not self.given("at"):
            yield Problem(path=("spacing",), problem="a sampled range has no steps",
                          accepted="points beside it, or no spacing")


class BoundSection(Section):
    """A limit of one's own on an answer."""

    answer: Annotated[str, Word(tuple(ANSWERS))] = Field(description="Which answer")
    at_least: Annotated[Any, Raw()] = Field(None, description="Smallest value that counts")
    at_most: Annotated[Any, Raw()] = Field(None, description="Largest value that counts")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if not self.given("at_least", "at_most"):
            yield Problem(path=(), problem="no bound given", accepted="at_least, at_most or both")
        ends = {}
        for key in self.given("at_least", "at_most"):
            try:
                ends[key] = self.end(key)
            except QuantityFault as fault:
                yield Problem(path=(key,), problem=fault.problem, accepted=fault.accepted,
                              hint=fault.hint)
        if len(ends) == 2 and ends["at_least"] > ends["at_most"]:
            yield Problem(path=("at_least",), problem="above at_most: nothing would be left",
                          accepted="at most at_most")

    def end(self, key: str) -> float:
        """One end in SI."""
        value = getattr(self, key)
        if self.answer == "" or (isinstance(value, float) and math.isnan(value)):
            return math.nan
        unit = quantity(self.answer).unit
        if unit in KIND_OF_UNIT:
            return to_si(value, KIND_OF_UNIT[unit])
        return to_si(value, "ratio")  # a unit that files do not write: a plain number in SI


class SearchSection(Section):
    """A search over many designs."""

    candidates: Annotated[tuple[str, ...], Words(least=1)] | None = Field(
        None, description="Names of the candidates searched; all unless given")
    answers: Annotated[tuple[str, ...], Words(known=tuple(ANSWERS))] = Field(
        (), description="Answers to keep beside those named below")
    best: Annotated[str, Word(tuple(ANSWERS))] = Field(
        "installed_thrust", description="Answer by which a design is the best")
    front: Annotated[tuple[str, ...], Words(known=tuple(ANSWERS), least=2)] | None = Field(
        None, description="Two or more answers whose trade-off is wanted")
    front_airspeed: Annotated[float, Quantity("speed", 0.0, 1000.0)] | None = Field(
        None, description="Airspeed of the front, one of those searched; the highest unless given")
    airspeed: AirspeedSection | None = Field(
        None, description="Airspeeds searched; the file's own unless given")
    installed_mass: Annotated[float, Quantity("mass", 1e-4, 1e5)] | None = Field(
        None, description="Installed mass at which every design is flown, so that all are equal; "
        "a heavier one is left out")
    leave_out: Annotated[tuple[str, ...], Words(known=(*CAUSES, *FORMER))] | None = Field(
        None, description="What makes a design none, beside having no answer and every limit that "
        "says stop; unless given: " + ", ".join(USUAL))
    samples: Annotated[int, Count(2, MOST_SAMPLES)] | None = Field(
        None, description="Designs drawn for sampled axes, a power of two")
    seed: Annotated[int, Count(0, 2**31 - 1)] = Field(0, description="Of the samples")
    axes: tuple[AxisSection, ...] = Field(min_length=1, description="What varies")
    bounds: tuple[BoundSection, ...] = Field((), description="Limits of one's own on answers")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        sampled = any(axis.given("lowest", "highest") and not axis.given("points", "at")
                      for axis in self.axes)
        if sampled and self.samples is None:
            yield Problem(path=("samples",), problem="missing: an axis has a range without points, "
                          "so designs are drawn from it",
                          accepted="samples = 1024 or another power of two; or points beside the "
                          "range")
        if not sampled and self.given("samples"):
            yield Problem(path=("samples",), problem="no axis is sampled",
                          accepted="a range without points, or no samples")
        if self.samples and self.samples & (self.samples - 1):
            yield Problem(path=("samples",), problem="not a power of two",
                          accepted="2, 4, 8, ... : then the samples are evenly spread",
                          hint=f"{2 ** round(math.log2(self.samples))}")
        if self.front_airspeed is not None and self.airspeed is not None \
                and not list(self.airspeed.check()):
            speeds = np.array(self.airspeed.airspeeds())
            if np.isfinite(self.front_airspeed) and not np.any(
                    np.isclose(speeds, self.front_airspeed)):
                near = speeds[np.argmin(np.abs(speeds - self.front_airspeed))]
                yield Problem(path=("front_airspeed",), problem="not one of the airspeeds searched",
                              accepted="one of them", hint=f"the nearest is {near:.6g} m/s")
