"""The numbers of a scenario that a person can take in the hand: every single quantity or count that
the file gives or a default fills in, with its meaning, its unit as it is written, and how far it
may sensibly move."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import Any, Literal, get_origin

from pydantic import BaseModel

from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import KeyPath, key_text
from thrustlapse.scenario.fields import Count, Quantity, Series
from thrustlapse.scenario.files.validate import lookup
from thrustlapse.scenario.section import rule_of, sections
from thrustlapse.scenario.units import (
    QuantityFault,
    difference_in_si,
    in_si,
    normalised,
    number_and_unit,
    shown,
)

LEFT_OUT = ("search", "when", "uncertainty", "airspeed", "flight")
"""Tables that say how to compute or what to fly, and move no curve."""

APART = ("band", "fit")
"""Tables that say how far a number is known."""

DOWN, UP = 0.5, 2.0
"""How far a slider reaches below and above the value of the file, as a factor (judgement)."""

WIDE = 20.0
"""How far it reaches to both sides of a zero or a temperature, in its own unit (judgement)."""

TAIL = re.compile(r"\s*(?:±|\+-|\+/-|,).*$", re.DOTALL)
"""What follows a value and its unit: its spread."""


@dataclass(frozen=True, kw_only=True)
class Handle:
    """One number of the file.

    ``key`` leads to it, ``label`` is the same as people say it. ``text`` is the value as it
    stands in the file, ``value`` its number in ``unit``, ``tail`` the spread behind it. The slider
    goes from ``low`` to ``high``; what the file accepts may go further. ``whole`` for counts.
    """

    key: KeyPath
    label: str
    meaning: str
    text: str
    value: float
    unit: str
    tail: str
    low: float
    high: float
    whole: bool


def handles(scenario: Scenario) -> tuple[Handle, ...]:
    """Every number of a scenario that can be moved, in the order of the file's tables."""
    raw = tomllib.loads(scenario.text)
    found = []
    for path, part in sections(scenario.section):
        if path and (path[0] in LEFT_OUT or set(path) & set(APART)):
            continue
        if not _stands(part, path, raw):
            continue
        for name, field in type(part).model_fields.items():
            rule, value = rule_of(field), getattr(part, name)
            if isinstance(rule, Series) and rule.single and isinstance(value, tuple) \
                    and len(value) == 1:
                rule, value = rule.of, value[0]
            if not isinstance(rule, Quantity | Count) or value is None \
                    or isinstance(value, bool):
                continue
            written = lookup(raw, (*path, name))
            one = _handle((*path, name), rule, value=float(value), written=written,
                          meaning=field.description or "")
            if one is not None:
                found.append(one)
    return tuple(found)


def _stands(part: BaseModel, path: KeyPath, raw: dict[str, Any]) -> bool:
    """Whether one key more may be written into a table.

    A table that is put in for a machine known by readings does not say what it is until it stands
    in the file.
    """
    tags = [name for name, field in type(part).model_fields.items()
            if field.is_required() and get_origin(field.annotation) is Literal]
    candidate = lookup(raw, path[:2]) if path[:1] == ("candidates",) else None
    if not tags or not isinstance(candidate, dict) or "include" in candidate:
        return True
    return isinstance(lookup(raw, path), dict)


def _handle(path: KeyPath, rule: Quantity | Count, value: float, written: Any,
            meaning: str) -> Handle | None:
    if isinstance(rule, Count):
        return Handle(key=path, label=_label(path), meaning=meaning, text=f"{value:.0f}",
                      value=value, unit="", tail="", low=float(min(max(rule.low, 1), value)),
                      high=float(min(rule.high, max(2.0 * value, value + 4.0))), whole=True)
    text = written if isinstance(written, str) else None
    plain, unit, tail = _written(text, rule.kind)
    if unit is None:  # not in the file itself, a word or a range: as the tool would print it
        text = shown(value, rule.kind)
        plain, unit, tail = _written(text, rule.kind)
    if unit is None:
        return None
    size, zero = _size(unit, rule.kind)
    number = plain if plain is not None else (value - zero) / size
    low, high = _reach(number, unit, ends=((rule.low - zero) / size, (rule.high - zero) / size))
    said = str(written) if isinstance(written, str | int | float) else text or ""
    return Handle(key=path, label=_label(path), meaning=meaning, text=said, value=number,
                  unit=unit, tail=tail, low=low, high=high, whole=False)


def _label(path: KeyPath) -> str:
    """A key in words, a candidate's own behind its name: "blower: nozzle exit diameter"."""
    if path[0] == "candidates":
        return f"{path[1]}: {_words(path[2:])}"
    return _words(path)


def _words(path: KeyPath) -> str:
    return key_text(path).replace("_", " ").replace(".", " ")


def _written(text: str | None, kind: str) -> tuple[float | None, str | None, str]:
    """Number, unit and spread of a value as it is written; no unit where it is no plain value."""
    if text is None:
        return None, None, ""
    tail = TAIL.search(normalised(text))
    head = normalised(text)[:tail.start()] if tail else normalised(text)
    try:
        number, unit = number_and_unit(head, kind)
        _size(unit, kind)
    except QuantityFault:
        return None, None, ""
    return number, unit, tail.group() if tail else ""


def _size(unit: str, kind: str) -> tuple[float, float]:
    """Size of a unit in SI, and where its zero lies."""
    if not unit:
        return 1.0, 0.0
    return difference_in_si(1.0, unit, kind), in_si(0.0, unit, kind)


def _reach(value: float, unit: str, *, ends: tuple[float, float]) -> tuple[float, float]:
    """Ends of a slider: about the value, and inside what the file accepts."""
    if value == 0.0 or unit in ("degC", "degF"):
        low, high = value - WIDE, value + WIDE
    else:
        low, high = sorted((DOWN * value, UP * value))
    if not unit and value == 0.0:
        low, high = -1.0, 1.0
    return max(low, ends[0]), min(high, ends[1])
