"""From a parsed file to its sections, with every fault at once.

A value that is faulty is reported, then replaced by UNKNOWN and the file is read again, so that
what lies behind it is looked at too; a fault inside something already reported says nothing new
and is dropped.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo

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
from thrustlapse.scenario.files.include import Included, place_of
from thrustlapse.scenario.files.kinds import kind_of, meant
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.schema.search_axes import check_search
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

TRADE_KEYS = {
    "kv": "speed_constant", "kt": "torque_constant", "ri": "resistance", "rm": "resistance",
    "io": "no_load_current", "i0": "no_load_current", "rpm": "shaft_speed",
    "speed": "shaft_speed", "watts": "electrical_power", "power": "electrical_power",
    "volts": "voltage", "weight": "mass", "cells": "series", "capacity": "cell_capacity",
    "mah": "cell_capacity", "soc": "state_of_charge", "exit": "exit_diameter",
    "nozzle_diameter": "exit_diameter", "outlet_diameter": "exit_diameter",
    "suction": "shut_pressure", "wingspan": "span", "cd0": "minimum_drag_coefficient",
    "clmax": "greatest_lift_coefficient", "drive": "supply"}
"""Words of the trade for keys, in lower case."""

MOST_FAULTS = 300
"""Faults of one reading that are explained; with more of them it is some other file."""

Location = tuple[int | str, ...]


def validated(raw: dict[str, Any], *, file: str, lines: dict[KeyPath, int],
              included: Mapping[KeyPath, Included] | None = None
              ) -> tuple[ScenarioSection | None, list[Fault]]:
    """Sections of a parsed file, and its faults; there may be sections even with faults.

    ``included`` are files whose tables were put into ``raw``, by the table they were put into.

    Sections with faults hold NaN, 0, empty words or None in their place: only check them.
    """
    report = _Report()
    section = _read(copy.deepcopy(raw), report)
    tables: set[KeyPath] = set()
    if section is not None:
        for path, part in sections(section):
            tables.add(path)
            of_search = () if path else check_search(section)
            for found in (*part.check(), *of_search):
                report.add(replace(found, path=(*path, *found.path)))
    faults = []
    for p in report.problems:
        path = report.as_written(p.path)
        value = lookup(raw, path)
        if path == ("comparison", "reference") and isinstance(value, str) and lookup(
                raw, ("candidates", value)) is not MISSING:
            continue  # it names a candidate that is itself too faulty to keep
        home, line, written = place_of(path, file=file, lines=lines, included=included or {})
        faults.append(Fault(
            file=printable(home), line=line, key=key_text(written),
            value="" if not path or p.path in tables else value_text(value),
            problem=printable(p.problem), accepted=printable(p.accepted), hint=printable(p.hint)))
    return section, faults


class _Report:
    """Problems in the order found, none twice, none inside a part already given up."""

    def __init__(self) -> None:
        self.problems: dict[Problem, None] = {}
        self.closed: set[KeyPath] = set()
        self.slips: dict[KeyPath, KeyPath] = {}

    def add(self, problem: Problem, *, closes: KeyPath | None = None) -> None:
        """Keep a problem; ``closes`` is the part about which nothing more is to be said."""
        path = problem.path
        if any(path[:end] in self.closed for end in range(1, len(path) + 1)):
            return
        self.problems[problem] = None
        if closes:
            self.closed.add(closes)

    def as_written(self, path: KeyPath) -> KeyPath:
        """The path as the file has it, slips of table names included."""
        for end in range(1, len(path) + 1):
            path = self.slips.get(path[:end], path[:end]) + path[end:]
        return path

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
        if len(details) > MOST_FAULTS:
            for detail in details[:MOST_FAULTS]:
                report.add(_problem(raw, detail))
            report.add(Problem(path=(), problem=f"{len(details) - MOST_FAULTS} more faults, of "
                               "which nothing is said here",
                               accepted="a scenario as the starter has it"))
            return None
        found = [_problem(raw, detail) for detail in details]
        meant = {_meant(raw, detail) for detail in details if detail["type"] == "extra_forbidden"}
        for problem, detail in zip(found, details, strict=True):
            if detail["type"] == "missing" and problem.path in meant:
                continue  # it is there, under a slip of its name
            if detail["type"] == "too_short" and report.inside(problem.path):
                report.closed.add(problem.path)  # emptied here: all it held is reported
            # then the whole table is in doubt, unless what it is meant to be can be told
            by_tag = detail["type"].startswith("union_tag") and not _guess(raw, problem.path)
            report.add(problem, closes=problem.path[:-1] if by_tag else problem.path)
        for problem, detail in sorted(zip(found, details, strict=True), key=_slips_first):
            _patch(raw, problem.path, detail, report.slips)
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
                       accepted=accepted, hint=SHORTEST if path == ("candidates",) else "")
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        word = str(told["discriminator"]).strip("'")
        words = _tags(annotation)
        given = lookup(raw, (*path, word))
        near = meant(given) if isinstance(given, str) and word == "kind" else ""
        hint = f'did you mean "{near}"?' if near in words else \
            near_miss(given, words) if isinstance(given, str) else ""
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
    trade = TRADE_KEYS.get(name.strip().casefold().replace(" ", "_"), "")
    if trade in known:
        hint = f'did you mean "{trade}"?'
    elif not hint:
        homes = [home for home, keys in _homes().items() if {name, trade} & keys]
        here = [home for home in homes if home.split(" with ")[0] == _table_of(path)]
        homes = here or homes
        hint = ("" if not homes else f'that is "{trade}", and belongs' if trade
                else "that key belongs") + (" in " + ", or ".join(homes[:3]) if homes else "")
    return Problem(path=path, problem="unknown key", accepted=", ".join(known), hint=hint)


SHORTEST = ("the shortest is a kind and thrust, electrical_power, exit_diameter in "
            "[candidates.NAME.readings]; pack, supply and airspeed may then be left out")
"""What to do where a file has no machine, as one of [when] alone."""


def _table_of(path: KeyPath) -> str:
    """The table a key stands in, as a header, with NAME for any candidate."""
    steps = ["NAME" if path[i - 1] == "candidates" and i else str(step)
             for i, step in enumerate(path[:-1])
             if (step != "*" and not isinstance(step, int)) or path[i - 1] == "candidates"]
    return f"[{'.'.join(steps)}]" if steps else "the top of the file"


@cache
def _homes() -> dict[str, set[str]]:
    """Keys by the table they belong in, and the word of it they go with."""
    homes: dict[str, set[str]] = {}
    for key in describe(ScenarioSection):
        table = _table_of(key.path)
        inner = [f'{name} = "{word}"' for name, word in key.only if name != "kind"]
        homes.setdefault(f"{table} with {inner[-1]}" if inner else table, set()).add(key.path[-1])
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
    needs = [] if not members else [
        *(key for key, field in members[0].model_fields.items() if field.is_required()),
        *(" or ".join(group) for group in members[0].ONE_OF)]
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


def _meant(raw: Any, detail: Any) -> KeyPath:
    """Path of the absent key that an unknown one is a slip of; empty where there is none."""
    path, holder, _ = _resolved(detail["loc"])
    word = near_word(str(path[-1]), holder.model_fields if holder else ())
    meant = (*path[:-1], word)
    return meant if word and lookup(raw, meant) is MISSING else ()


def _field(holder: type[Section] | None, path: Location) -> FieldInfo:
    assert holder is not None
    return holder.model_fields[str(path[-1])]


def _slips_first(found: tuple[Problem, Any]) -> bool:
    return bool(found[1]["type"] != "extra_forbidden")


# Mending, so that the next reading looks farther ------------------------------------------------


def _patch(raw: Any, path: KeyPath, detail: Any, slips: dict[KeyPath, KeyPath]) -> None:
    """Replace a faulty value so that the next reading gets past it."""
    location, holder, annotation = _resolved(detail["loc"])
    if detail["type"] == "extra_forbidden":
        meant = _meant(raw, detail)
        if meant:
            _set(raw, meant, UNKNOWN if rule_of(_field(holder, meant)) else lookup(raw, path))
            slips[meant] = path
        _forget(raw, path)
        return
    if detail["type"] == "missing" and lookup(raw, path) is not MISSING:
        return  # put there a moment ago, from under a slip of its name
    if detail["type"] in ("union_tag_invalid", "union_tag_not_found"):
        guess = _guess(raw, path)
        if guess:
            _set(raw, path, guess)
        elif len(path) == 3 and path[0] == "candidates":
            _forget(raw, path[:-1])  # nothing more can be said of it
        else:
            _set(raw, path, _tags(annotation)[0])
        return
    if holder and str(location[-1]) in holder.model_fields and rule_of(
            _field(holder, location)):
        _set(raw, path, UNKNOWN)
    else:
        _set(raw, path, _stand_in(annotation))


def _guess(raw: Any, path: KeyPath) -> str:
    """What a candidate of an unknown kind is read as; empty where nothing tells, or elsewhere."""
    one = lookup(raw, path[:-1])
    if len(path) == 3 and path[0] == "candidates" and isinstance(one, dict):
        return kind_of(one)
    return ""


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

