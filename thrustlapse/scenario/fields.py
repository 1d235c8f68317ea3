"""What a value in a scenario file may be: quantities with a range, series, words, counts.

A range is declared once, with the field: it validates, it documents, it goes into the JSON Schema,
and tests may draw from it. Every class here also takes :data:`UNKNOWN` for a value that is already
reported, so that one bad value does not hide the faults behind it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from thrustlapse.scenario.faults import listed, near_miss
from thrustlapse.scenario.spread_text import Uncertain, has_spread, reach_fault, read_spread
from thrustlapse.scenario.units import (
    KINDS,
    QuantityFault,
    accepted_form,
    shown,
    to_si,
)


class Unknown:
    """A value that is missing or faulty and already reported."""

    def __repr__(self) -> str:
        return "unknown"


UNKNOWN = Unknown()

Json = dict[str, Any]


def refusal(problem: str, accepted: str, hint: str = "") -> PydanticCustomError:
    """An error that carries what a :class:`~thrustlapse.scenario.faults.Fault` needs."""
    return PydanticCustomError("refused", "{problem}", {
        "problem": problem, "accepted": accepted, "hint": hint})


@dataclass(frozen=True)
class Rule:
    """A check of a raw value, with its JSON Schema, in the form pydantic asks for."""

    def check(self, value: Any) -> Any:
        raise NotImplementedError

    def json(self) -> Json:
        raise NotImplementedError

    def accepted(self) -> str:
        """What would do, in words."""
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any,
                                     handler: GetCoreSchemaHandler) -> CoreSchema:
        check: Callable[[Any], Any] = self.check
        return core_schema.no_info_plain_validator_function(check, metadata={"rule": self})

    def __get_pydantic_json_schema__(self, core: CoreSchema, handler: GetJsonSchemaHandler) -> Json:
        return self.json()


@dataclass(frozen=True)
class Quantity(Rule):
    """A quantity of a kind, within a range in SI, both ends included."""

    kind: str
    low: float
    high: float
    words: tuple[tuple[str, float], ...] = ()

    @property
    def unit(self) -> str:
        """SI unit of the value [-]; empty for a ratio."""
        return KINDS[self.kind].unit

    def check(self, value: Any) -> float:
        if isinstance(value, Unknown):
            return math.nan
        if isinstance(value, str) and (word := value.strip().casefold()) in dict(self.words):
            return dict(self.words)[word]
        if has_spread(value):
            return self._uncertain(value)
        try:
            number = to_si(value, self.kind)
        except QuantityFault as fault:
            problem, hint = fault.problem, fault.hint
            if self.words and isinstance(value, str) and not any(c.isdigit() for c in value):
                problem = "neither one of the words known here nor a quantity"
                hint = near_miss(value, dict(self.words))
            raise refusal(problem, self.accepted(), hint) from None
        slack = 1e-12 * abs(number)
        if not self.low - slack <= number <= self.high + slack:
            side, end = (("below", self.low) if number < self.low else ("above", self.high))
            raise refusal(f"{side} {shown(end, self.kind)}", self.accepted(),
                          self._forgotten_unit(value))
        return number

    def _uncertain(self, value: str) -> Uncertain:
        """Nominal value of a quantity with a spread that stays within the range."""
        try:
            spread = read_spread(value, self.kind)
        except QuantityFault as fault:
            raise refusal(fault.problem, fault.accepted, fault.hint) from None
        least, most = spread.ends
        worst = least if least < self.low else most
        found = reach_fault(spread, self.low, self.high, shown(worst, self.kind))
        if found is not None:
            raise refusal(found[0], self.accepted(), found[1])
        return Uncertain(spread.nominal, spread)

    def _forgotten_unit(self, value: Any) -> str:
        """A hint for a plain number that would do with a unit behind it."""
        plain = str(value).strip()
        if re.fullmatch("[0-9]{1,8}([.][0-9]{0,4})?", plain) is None:
            return ""
        units = ("%",) if self.kind == "ratio" else KINDS[self.kind].shown
        for unit in units:
            with_unit = f"{plain} {unit}"
            if self.low <= to_si(with_unit, self.kind) <= self.high:
                if self.kind == "ratio":
                    return f'as a percentage: "{with_unit}"'
                return f'a plain number is in {self.unit}: did you mean "{with_unit}"?'
        return ""

    def accepted(self) -> str:
        span = f"from {shown(self.low, self.kind)} to {shown(self.high, self.kind)}"
        form = accepted_form(self.kind).replace(" such as", f" {span}, such as", 1)
        return (listed(dict(self.words)) + ", or " if self.words else "") + form

    def json(self) -> Json:
        text: Json = {"type": "string", "pattern": r"^\s*[+−-]?[0-9.]", "examples":
                      [KINDS[self.kind].example]}
        kinds: list[Json] = [text, {"type": "number", "minimum": self.low, "maximum": self.high}]
        if self.words:
            kinds.insert(0, {"enum": list(dict(self.words))})
        return {"anyOf": kinds}


@dataclass(frozen=True)
class Series(Rule):
    """A list of quantities of a kind; a single one too where ``single`` says so."""

    of: Quantity
    single: bool = False
    least: int = 2

    def check(self, value: Any) -> tuple[float, ...]:
        if isinstance(value, Unknown):
            return (math.nan,)
        if self.single and not isinstance(value, list):
            return (self.of.check(value),)
        if not isinstance(value, list):
            raise refusal("not a list", self.accepted())
        if len(value) < self.least:
            raise refusal("too few entries" if value else "an empty list", self.accepted())
        made = tuple(self._entry(number, entry) for number, entry in enumerate(value, start=1))
        if any(isinstance(entry, Uncertain) for entry in made):
            raise refusal("entries of a list carry no spread of their own", self.accepted(),
                          "a map or table as a whole has one: its [band]")
        return made

    def _entry(self, number: int, entry: Any) -> float:
        try:
            return self.of.check(entry)
        except PydanticCustomError as error:
            told = dict(error.context or {})
            raise refusal(f"entry {number}: {told['problem']}", self.accepted(),
                          told["hint"]) from None

    def accepted(self) -> str:
        form = f"a list of {self.least} or more, each {self.of.accepted()}"
        return f"one quantity, or {form}" if self.single else form

    def json(self) -> Json:
        entries: Json = {"type": "array", "items": self.of.json(), "minItems": self.least}
        return {"anyOf": [*self.of.json()["anyOf"], entries]} if self.single else entries


@dataclass(frozen=True)
class Pairs(Rule):
    """A list of pairs of quantities."""

    first: Quantity
    second: Quantity
    least: int = 2

    def check(self, value: Any) -> tuple[tuple[float, float], ...]:
        if isinstance(value, Unknown):
            return ((math.nan, math.nan),)
        if not isinstance(value, list) or len(value) < self.least:
            raise refusal("not a list of pairs, or too short", self.accepted())
        pairs = []
        for number, pair in enumerate(value, start=1):
            if not isinstance(pair, list) or len(pair) != 2:
                raise refusal(f"entry {number} is not a pair", self.accepted())
            try:
                pairs.append((self.first.check(pair[0]), self.second.check(pair[1])))
            except PydanticCustomError as error:
                told = dict(error.context or {})
                raise refusal(f"entry {number}: {told['problem']}", told["accepted"],
                              told["hint"]) from None
            if any(isinstance(entry, Uncertain) for entry in pairs[-1]):
                raise refusal(f"entry {number}: entries of a list carry no spread of their own",
                              self.accepted())
        return tuple(pairs)

    def accepted(self) -> str:
        return (f"a list of {self.least} or more pairs: {self.first.accepted()}; then "
                f"{self.second.accepted()}")

    def json(self) -> Json:
        pair: Json = {"type": "array", "prefixItems": [self.first.json(), self.second.json()],
                      "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": self.least}


@dataclass(frozen=True)
class Word(Rule):
    """One of a few words; ``advice`` for whoever has none of them."""

    options: tuple[str, ...]
    advice: str = ""

    def check(self, value: Any) -> str:
        if isinstance(value, Unknown):
            return ""
        if value not in self.options:
            hint = near_miss(value, self.options) if isinstance(value, str) else ""
            raise refusal("not one of the words known here", self.accepted(), hint or self.advice)
        return str(value)

    def accepted(self) -> str:
        return listed(self.options)

    def json(self) -> Json:
        return {"enum": list(self.options)}


@dataclass(frozen=True)
class Count(Rule):
    """A whole number."""

    low: int
    high: int

    def check(self, value: Any) -> int:
        if isinstance(value, Unknown):
            return 0
        if isinstance(value, bool) or not isinstance(value, int):
            number = re.match(r"\s*([0-9]{1,6})\s*[A-Za-z]*\s*$", value) if isinstance(
                value, str) else None
            raise refusal("not a whole number", self.accepted(),
                          f"the number alone, without quotes: {number[1]}" if number else "")
        if not self.low <= value <= self.high:
            raise refusal("out of range", self.accepted())
        return value

    def accepted(self) -> str:
        return f"a whole number from {self.low} to {self.high}"

    def json(self) -> Json:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


_UNWRITTEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ufffe\uffff]")
"""Characters that no page, drawing or terminal can show as text, and that XML forbids."""


@dataclass(frozen=True)
class Text(Rule):
    """Free text."""

    longest: int

    def check(self, value: Any) -> str:
        if isinstance(value, Unknown):
            return ""
        if not isinstance(value, str):
            raise refusal("not a text", self.accepted(), "put it in quotes")
        if len(value) > self.longest:
            raise refusal(f"{len(value)} characters long", self.accepted())
        if _UNWRITTEN.search(value):
            raise refusal("holds a character that is no part of any text", self.accepted(),
                          "a control character came along when it was copied: write the text anew")
        return value

    def accepted(self) -> str:
        return f"a text in quotes, at most {self.longest} characters"

    def json(self) -> Json:
        return {"type": "string", "maxLength": self.longest}


@dataclass(frozen=True)
class Flag(Rule):
    """True or false."""

    def check(self, value: Any) -> bool:
        if isinstance(value, Unknown):
            return False
        if not isinstance(value, bool):
            raise refusal("neither true nor false", self.accepted())
        return value

    def accepted(self) -> str:
        return "true or false, without quotes"

    def json(self) -> Json:
        return {"type": "boolean"}
