"""What every table of a scenario file is: known keys only, each with a rule, a meaning, a default.

A section checks itself twice: key by key while it is read, and as a whole by :meth:`check`, which
must bear NaN for values that are already reported.
"""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict
from pydantic.fields import FieldInfo

from thrustlapse.scenario.faults import KeyPath
from thrustlapse.scenario.fields import Quantity, Rule, Series


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A fault found by a section in itself; ``path`` counts from the section."""

    path: KeyPath
    problem: str
    accepted: str = ""
    hint: str = ""


class Section(BaseModel):
    """A table of the file.

    ``ONE_OF`` names groups of keys of which exactly one is wanted, ``FILLED`` keys that a file may
    leave out, though the section needs them: they are put in before.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    ONE_OF: ClassVar[tuple[tuple[str, ...], ...]] = ()
    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = ()
    FILLED: ClassVar[tuple[str, ...]] = ()

    def given(self, *keys: str) -> list[str]:
        """Those of the keys that the file has."""
        return [key for key in keys if key in self.model_fields_set]

    def check(self) -> Iterator[Problem]:
        """Faults that no single key shows."""
        for group in self.ONE_OF:
            if not self.given(*group):
                yield Problem(path=(), problem="missing: " + " or ".join(group),
                              accepted=f"exactly one of {', '.join(group)}")
        for group in (*self.ONE_OF, *self.AT_MOST_ONE):
            both = self.given(*group)
            if len(both) > 1:
                yield Problem(path=(both[1],), problem=f"given together with {both[0]}",
                              accepted=f"only one of {', '.join(group)}",
                              hint="two that should agree can disagree: keep the measured one")


def sections(part: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Section]]:
    """Every section below a part, with its path."""
    if isinstance(part, Section):
        yield path, part
        for key in type(part).model_fields:
            yield from sections(getattr(part, key), (*path, key))
    elif isinstance(part, Mapping):
        for key, value in part.items():
            yield from sections(value, (*path, key))
    elif isinstance(part, tuple | list):
        for index, value in enumerate(part):
            yield from sections(value, (*path, index))


@dataclass(frozen=True, kw_only=True)
class Key:
    """What is known about one key: for messages, documentation and drawing test inputs.

    ``path`` has ``*`` where a candidate's name or a place in a list stands; ``only`` says for which
    words of which discriminating keys the key exists. ``unit``, ``low`` and ``high`` are in SI and
    belong to quantities, and to each entry of a list of them.
    """

    path: tuple[str, ...]
    only: tuple[tuple[str, str], ...]
    meaning: str
    required: bool
    default: object
    accepted: str
    kind: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None


def describe(section: type[Section], path: tuple[str, ...] = (),
             only: tuple[tuple[str, str], ...] = ()) -> Iterator[Key]:
    """Every key below a section."""
    for name, field in section.model_fields.items():
        rule = rule_of(field)
        here = (*path, name)
        if rule is None:
            for inner, steps, told in _inner_sections(field.annotation):
                yield from describe(inner, (*here, *steps), (*only, *told))
            continue
        number = rule.of if isinstance(rule, Series) else rule
        facts: dict[str, Any] = {}
        if isinstance(number, Quantity):
            facts = {"kind": number.kind, "unit": number.unit, "low": number.low,
                     "high": number.high}
        yield Key(path=here, only=only, meaning=field.description or "",
                  required=field.is_required() and name not in section.FILLED,
                  default=None if field.is_required() else field.get_default(),
                  accepted=rule.accepted(), **facts)


def rule_of(field: FieldInfo) -> Rule | None:
    """The rule of a key; None for one that holds a table."""
    for item in (*field.metadata, *_metadata(field.annotation)):
        if isinstance(item, Rule):
            return item
    return None


def _metadata(annotation: Any) -> Iterator[Any]:
    if hasattr(annotation, "__metadata__"):
        yield from annotation.__metadata__
    elif get_origin(annotation) in (Union, types.UnionType):
        for arg in get_args(annotation):
            yield from _metadata(arg)


def _inner_sections(annotation: Any) -> Iterator[tuple[type[Section], tuple[str, ...],
                                                       tuple[tuple[str, str], ...]]]:
    """Sections an annotation can hold, the steps into it, and the words that choose them."""
    if isinstance(annotation, type) and issubclass(annotation, Section):
        told = tuple((name, get_args(field.annotation)[0])
                     for name, field in annotation.model_fields.items()
                     if name in DISCRIMINATORS and rule_of(field) is None
                     and get_args(field.annotation))
        yield annotation, (), told
        return
    origin, args = get_origin(annotation), get_args(annotation)
    if origin in (dict, tuple, list):
        for inner, steps, told in _inner_sections(args[1] if origin is dict else args[0]):
            yield inner, ("*", *steps), told
    else:
        for arg in args:
            yield from _inner_sections(arg)


DISCRIMINATORS = ("kind", "source", "model")
"""Keys whose word chooses what else a table may hold."""
