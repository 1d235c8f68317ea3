"""From a parsed file to its sections, with every fault at once.

A value that is faulty is reported, then replaced by UNKNOWN and the file is read again, so that
what lies behind it is looked at too; a fault inside something already reported says nothing new
and is dropped.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from functools import cache
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from thrustlapse.scenario.faults import (
    MISSING,
    Fault,
    KeyPath,
    key_text,
    listed,
    near_miss,
    near_word,
    printable,
    value_text,
)
from thrustlapse.scenario.fields import UNKNOWN
from thrustlapse.scenario.lines import line_of
from thrustlapse.scenario.schema import ScenarioSection
from thrustlapse.scenario.section import (
    DISCRIMINATORS,
    Problem,
    Section,
    describe,
    rule_of,
    sections,
)

MOST_PASSES = 12
"""Readings of one file; each goes a table deeper, and no table lies so deep."""

Location = tuple[int | str, ...]


def validated(raw: dict[str, Any], *, file: str,
              lines: dict[KeyPath, int]) -> tuple[ScenarioSection | None, list[Fault]]:
    """Sections of a parsed file, and its faults; there may be sections even with faults.

    Sections with faults hold NaN, 0, empty words or None in their place: only check them.
    """
    report = _Report()
    section = _read(copy.deepcopy(raw), report)
    tables: set[KeyPath] = set()
    if section is not None:
        for path, part in sections(section):
            tables.add(path)
            for found in part.check():
                report.add(replace(found, path=(*path, *found.path)))
    faults = [Fault(file=printable(file), line=line_of(p.path, lines), key=key_text(p.path),
                    value="" if p.path in tables else value_text(lookup(raw, p.path)),
                    problem=printable(p.problem), accepted=printable(p.accepted),
                    hint=printable(p.hint))
              for p in report.problems]
    return section, faults


class _Report:
    """Problems in the order found, none twice, none inside a part already given up."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.closed: set[KeyPath] = set()

    def add(self, problem: Problem, *, closes: KeyPath | None = None) -> None:
        """Keep a problem; ``closes`` is the part about which nothing more is to be said."""
        path = problem.path
        if any(path[:end] in self.closed for end in range(1, len(path) + 1)):
            return
        if problem not in self.problems:
            self.problems.append(problem)
        if closes:
            self.closed.add(closes)

    def inside(self, path: KeyPath) -> bool:
        """Whether something at or below a path is already reported."""
        return any(problem.path[:len(path)] == path for problem in self.problems)


def lookup(raw: Any, path: KeyPath) -> Any:
    """Value at a path of a parsed file; ``MISSING`` where there is none."""
    for part in path:
        try:
            raw = raw[part]
        except (KeyError, IndexError, TypeError):
            return MISSING
    return raw


def _read(raw: dict[str, Any], report: _Report) -> ScenarioSection | None:
    for _ in range(MOST_PASSES):
        try:
            return ScenarioSection.model_validate(raw)
        except ValidationError as error:
            details = error.errors(include_url=False)
        found = [_problem(raw, detail) for detail in details]
        for problem, detail in zip(found, details, strict=True):
            if detail["type"] == "too_short" and report.inside(problem.path):
                report.closed.add(problem.path)  # emptied here: all it held is reported
            by_tag = detail["type"].startswith("union_tag")  # then the whole table is in doubt
            report.add(problem, closes=problem.path[:-1] if by_tag else problem.path)
        for problem, detail in zip(found, details, strict=True):
            _patch(raw, problem.path, detail)
    return None


# What pydantic says, in our words ------------------------------------------------------------


def _problem(raw: Any, detail: Any) -> Problem:
    location: Location = detail["loc"]
    path, holder, annotation = _resolved(location)
    kind, told = detail["type"], detail.get("ctx", {})
    if kind == "refused":
        return Problem(path=path, problem=told["problem"], accepted=told["accepted"],
                       hint=told["hint"])
    if kind == "extra_forbidden":
        return _unknown_key(path, holder)
    if kind == "missing":
        field = holder.model_fields[str(path[-1])] if holder else None
        rule = rule_of(field) if field else None
        meaning = field.description or "" if field else ""
        accepted = rule.accepted() if rule else _tables(annotation, path)
        return Problem(path=path, problem="missing" + (f" ({meaning})" if meaning else ""),
                       accepted=accepted)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        word = str(told["discriminator"]).strip("'")
        words = _tags(annotation)
        given = lookup(raw, (*path, word))
        hint = near_miss(given, words) if isinstance(given, str) else ""
        return Problem(path=(*path, word), problem="missing: what this is"
                       if given is MISSING else "not one of the words known here",
                       accepted=listed(words), hint=hint)
    if kind == "too_short":
        return Problem(path=path, problem="empty", accepted=_tables(annotation, path))
    return Problem(path=path, problem="not a table", accepted=_tables(annotation, path))


def _unknown_key(path: KeyPath, holder: type[Section] | None) -> Problem:
    name = str(path[-1])
    known = list(holder.model_fields) if holder else []
    hint = near_miss(name, known)
    if not hint:
        homes = [home for home, keys in _homes().items() if name in keys]
        hint = "that key belongs into " + " or ".join(homes[:3]) if homes else ""
    return Problem(path=path, problem="unknown key", accepted=", ".join(known), hint=hint)


@cache
def _homes() -> dict[str, set[str]]:
    """Keys by the table they belong into."""
    homes: dict[str, set[str]] = {}
    for key in describe(ScenarioSection):
        table = ".".join("NAME" if part == "*" else part for part in key.path[:-1])
        homes.setdefault(f"[{table}]" if table else "the top of the file", set()).add(key.path[-1])
    return homes


def _tables(annotation: Any, path: KeyPath) -> str:
    """What a key that holds a table, or several, accepts, in words."""
    name = key_text(path)
    members = _members(annotation)
    if get_origin(annotation) is dict:
        return f"a table for each, such as [{name}.NAME]"
    if get_origin(annotation) is tuple:
        return f"a list of tables: [[{name}]] above each"
    if len(members) > 1:
        word = next(key for key in DISCRIMINATORS if key in members[0].model_fields)
        return f"a table [{name}] with {word} = {listed(_tags(annotation))}"
    needs = [key for key, field in members[0].model_fields.items() if field.is_required()] \
        if members else []
    return f"a table [{name}]" + (f" with {', '.join(needs)}" if needs else "")


# Finding the way ------------------------------------------------------------------------------


def _resolved(location: Location) -> tuple[KeyPath, type[Section] | None, Any]:
    """Path in the file of a pydantic location, the section it ends in, and its annotation.

    Pydantic adds the word that chose a member of a union to its locations; the file has no such
    step.
    """
    annotation: Any = ScenarioSection
    holder: type[Section] | None = None
    path: KeyPath = ()
    for part in location:
        annotation = _plain(annotation)
        members = _members(annotation)
        if len(members) > 1:
            annotation = next((m for m in members if _tag(m) == part), members[0])
            continue
        if members and not isinstance(part, int):
            holder = members[0]
            field = holder.model_fields.get(part)
            annotation = None if field is None else field.annotation
        elif get_origin(annotation) in (dict, tuple):
            holder = None
            annotation = get_args(annotation)[1 if get_origin(annotation) is dict else 0]
        path = (*path, part)
    return path, holder, _plain(annotation)


def _plain(annotation: Any) -> Any:
    """An annotation without its metadata and without "or None"."""
    while hasattr(annotation, "__metadata__"):
        annotation = annotation.__origin__
    args = [arg for arg in get_args(annotation) if arg is not type(None)]
    if type(None) in get_args(annotation) and len(args) == 1:
        return _plain(args[0])
    return annotation


def _members(annotation: Any) -> list[type[Section]]:
    """Sections that an annotation may be."""
    if isinstance(annotation, type) and issubclass(annotation, Section):
        return [annotation]
    if get_origin(annotation) in (dict, tuple):
        return []
    return [arg for arg in get_args(annotation)
            if isinstance(arg, type) and issubclass(arg, Section)]


def _tag(member: type[Section]) -> str:
    for name in DISCRIMINATORS:
        field = member.model_fields.get(name)
        if field is not None and rule_of(field) is None:
            return str(get_args(field.annotation)[0])
    return ""


def _tags(annotation: Any) -> list[str]:
    return [_tag(member) for member in _members(annotation)]


# Mending, so that the next reading looks farther ------------------------------------------------


def _patch(raw: Any, path: KeyPath, detail: Any) -> None:
    """Replace a faulty value so that the next reading gets past it."""
    location, holder, annotation = _resolved(detail["loc"])
    if detail["type"] == "extra_forbidden":
        _forget(raw, path)
        meant = near_word(str(path[-1]), holder.model_fields if holder else ())
        if meant and lookup(raw, (*path[:-1], meant)) is MISSING and holder is not None \
                and rule_of(holder.model_fields[meant]) is not None:
            _set(raw, (*path[:-1], meant), UNKNOWN)  # given, under a slip of its name
        return
    if detail["type"] in ("union_tag_invalid", "union_tag_not_found"):
        if len(path) == 3 and path[0] == "candidates":
            _forget(raw, path[:-1])  # nothing more can be said of it
        else:
            _set(raw, path, _tags(annotation)[0])
        return
    field = holder.model_fields.get(str(location[-1])) if holder else None
    if field is not None and rule_of(field) is not None:
        _set(raw, path, UNKNOWN)
    else:
        _set(raw, path, _stand_in(annotation))


def _stand_in(annotation: Any) -> Any:
    """A table, or tables, that only lack things."""
    if get_origin(annotation) is tuple:
        return [{}]
    if get_origin(annotation) is dict:
        return {"unknown": {"kind": "propeller"}}
    return {}


def _set(raw: Any, path: KeyPath, value: Any) -> None:
    holder = lookup(raw, path[:-1])
    if isinstance(holder, dict | list):
        holder[path[-1]] = value  # type: ignore[index]


def _forget(raw: Any, path: KeyPath) -> None:
    holder = lookup(raw, path[:-1])
    if isinstance(holder, dict):
        holder.pop(path[-1], None)

