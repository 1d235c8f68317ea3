"""Reading a scenario file: every fault at once, or the parts it describes.

The file is checked in passes. Each pass reports what it finds and puts an unknown in the place of a
value already reported, so that one bad value hides neither the faults beside it nor those that only
a whole table shows.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from thrustlapse.scenario.build import build_airframe, build_candidate
from thrustlapse.scenario.faults import (
    MISSING,
    Fault,
    KeyPath,
    ScenarioError,
    key_text,
    listed,
    near_miss,
    printable,
    value_text,
)
from thrustlapse.scenario.fields import UNKNOWN, Unknown
from thrustlapse.scenario.lines import key_lines, line_of
from thrustlapse.scenario.model import Scenario
from thrustlapse.scenario.schema import ScenarioSection
from thrustlapse.scenario.section import DISCRIMINATORS, describe, sections

LARGEST_FILE = 5_000_000
"""Bytes of a scenario file that are read at all."""

DEEPEST = 12
"""Levels of nesting no scenario needs."""

PASSES = 12
"""Rounds of checking and standing in; each takes at least one fault away."""


def read_scenario(path: str | Path) -> Scenario:
    """Read, check and build a scenario file.

    Raises
    ------
    ScenarioError
        With every fault of the file in ``faults`` and all of them in its message.
    """
    place = Path(path)
    name = str(place)
    try:
        if place.is_dir():
            raise _whole_file(name, "a folder, not a file", "a scenario file in TOML")
        if place.stat().st_size > LARGEST_FILE:
            raise _whole_file(name, f"{place.stat().st_size / 1e6:.0f} MB long",
                              f"a file of at most {LARGEST_FILE / 1e6:.0f} MB")
        data = place.read_bytes()
    except FileNotFoundError:
        raise _whole_file(name, "no such file", "the path of a scenario file",
                          'write a starter with: thrustlapse new FILE') from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise _whole_file(name, f"cannot be read ({reason})", "a file you may read") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[:error.start].count(b"\n") + 1
        raise ScenarioError([Fault(file=name, line=line, key="", value="",
                                   problem="not UTF-8 text", accepted="a text file saved as UTF-8")
                             ]) from None
    return read_text(text, name=name, digest=hashlib.sha256(data).hexdigest())


def read_text(text: str, *, name: str = "scenario.toml", digest: str | None = None) -> Scenario:
    """Check and build a scenario given as text; arguments and errors as for a file."""
    data, lines = _parse(text, name)
    section, faults = _check(data, lines, name)
    if faults or section is None:
        raise ScenarioError(faults)
    told = hashlib.sha256(text.encode("utf-8")).hexdigest() if digest is None else digest
    return _build(section, name=name, text=text, digest=told)


def _build(section: ScenarioSection, *, name: str, text: str, digest: str) -> Scenario:
    site = section.site.site()
    feed = section.pack if section.pack is not None else section.supply
    assert feed is not None
    source = section.electrical_source()
    candidates = {key: build_candidate(key, candidate, source=source, source_mass=feed.mass,
                                       site=site)
                  for key, candidate in section.candidates.items()}
    return Scenario(
        title=section.title, question=section.question.strip(), note=section.note.strip(),
        invented=section.invented, site=site,
        pack=None if section.pack is None else section.pack.pack(),
        pack_current_rating=feed.current_rating,
        airframe=None if section.airframe is None else build_airframe(section.airframe),
        comparison=section.comparison.basis(), airspeeds=np.array(section.airspeed.airspeeds()),
        candidates=candidates, path=Path(name), text=text, digest=digest)


def _whole_file(name: str, problem: str, accepted: str, hint: str = "") -> ScenarioError:
    return ScenarioError([Fault(file=printable(name), line=0, key="", value="", problem=problem,
                                accepted=accepted, hint=hint)])


def _parse(text: str, name: str) -> tuple[dict[str, Any], dict[KeyPath, int]]:
    if not text.strip():
        raise _whole_file(name, "empty", "a scenario in TOML",
                          "write a starter with: thrustlapse new FILE")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError([_broken(text, name, str(error))]) from None
    except RecursionError:
        raise _whole_file(name, "nested too deeply", "tables as the starter has them") from None
    if _depth(data) > DEEPEST:
        raise _whole_file(name, "nested too deeply", "tables as the starter has them")
    return data, key_lines(text)


def _broken(text: str, name: str, reason: str) -> Fault:
    """A fault of the TOML itself, its line taken out of the reader's words."""
    import re

    found = re.search(r"line (\d+)", reason)
    line = int(found.group(1)) if found else text.count("\n") + 1
    plain = re.sub(r"\s*\(at .*\)$", "", reason)
    lines = text.splitlines()
    shown = printable(lines[line - 1].strip()[:60]) if 0 < line <= len(lines) else ""
    twice = "Cannot declare" in reason or "Cannot overwrite" in reason
    return Fault(
        file=name, line=line, key="", value="",
        problem=("a table or key is there twice" if twice else f"broken TOML: {plain}")
        + (f": {shown}" if shown else ""),
        accepted="every table and key once: two candidates need two names" if twice
        else "valid TOML: texts in quotes, one key = value on a line",
        hint="" if twice else 'quantities stand in quotes: tip_diameter = "38 mm"')


def _depth(part: Any, level: int = 0) -> int:
    if level > DEEPEST + 1:
        return level
    if isinstance(part, dict):
        return max((_depth(value, level + 1) for value in part.values()), default=level)
    if isinstance(part, list):
        return max((_depth(value, level + 1) for value in part), default=level)
    return level


# Checking ------------------------------------------------------------------------------------


def _check(data: dict[str, Any], lines: dict[KeyPath, int],
           name: str) -> tuple[ScenarioSection | None, list[Fault]]:
    faults: list[Fault] = []
    names = list(data["candidates"]) if isinstance(data.get("candidates"), dict) else []
    section: ScenarioSection | None = None
    for _ in range(PASSES):
        try:
            section = ScenarioSection.model_validate(data)
            break
        except ValidationError as error:
            lost: set[KeyPath] = set()
            for found in error.errors(include_url=False):
                path = real_path(data, found["loc"])
                faults.append(_fault(found, path, data, lines, name))
                if not _stand_in(data, path, found["type"]):
                    lost.add(path[:2] if path[0] == "candidates" else ())
            if not _without(data, lost):
                break
    if section is not None:
        found_whole = _whole_tables(section, lines, name, data)
        # a reference to a candidate that was too faulty to keep is no fault of the reference
        faults += [fault for fault in found_whole if not (
            fault.key == "comparison.reference" and section.comparison.reference in names)]
    return section, _once(faults)


def _without(data: dict[str, Any], lost: set[KeyPath]) -> bool:
    """Go on without the candidates in which too much is unknown; False where nothing is left."""
    for path in lost:
        if len(path) < 2 or not isinstance(data["candidates"], dict):
            return False
        data["candidates"].pop(path[1], None)
    return bool(data.get("candidates"))


def real_path(data: Any, location: tuple[int | str, ...]) -> KeyPath:
    """Where an error stands in the file: its location without the words that chose a table."""
    path: list[str | int] = []
    here, tag_open = data, False
    for place, step in enumerate(location):
        if tag_open and isinstance(here, dict) and step in [here.get(key)
                                                           for key in DISCRIMINATORS]:
            tag_open = False
            continue
        path.append(step)
        inside = (isinstance(here, dict) and step in here) or (
            isinstance(here, list) and isinstance(step, int) and step < len(here))
        if not inside:
            return tuple(path + list(location[place + 1:]))
        here = here[step]
        tag_open = isinstance(here, dict)
    return tuple(path)


def _stand_in(data: Any, path: KeyPath, kind: str) -> bool:
    """Put an unknown where a fault is, or take away what should not be there.

    False where nothing can stand in: a missing or misshapen table leaves too much unknown.
    """
    here: Any = data
    for step in path[:-1]:
        here = here[step]
    last: Any = path[-1]
    if kind == "extra_forbidden":
        del here[last]
        return True
    if kind.startswith("union_tag"):
        return False
    old = here[last] if isinstance(here, list) or last in here else MISSING
    if isinstance(old, dict) or kind in ("model_type", "dict_type", "tuple_type", "too_short"):
        return False
    table_missing = kind == "missing" and not _is_value_key(path)
    if table_missing or isinstance(old, Unknown):
        return False
    here[last] = UNKNOWN
    return True


def _is_value_key(path: KeyPath) -> bool:
    """Whether a path is a key with a value of its own, rather than a table."""
    wild = tuple("*" if isinstance(step, int) or (i == 1 and path[0] == "candidates") else step
                 for i, step in enumerate(path))
    return any(key.path == wild for key in describe(ScenarioSection))


def _fault(found: Any, path: KeyPath, data: Any, lines: dict[KeyPath, int], name: str) -> Fault:
    kind, told = found["type"], found.get("ctx", {})
    problem, accepted, hint = found["msg"], "", ""
    value: object = found.get("input", MISSING)
    if kind == "refused":
        problem, accepted, hint = told["problem"], told["accepted"], told["hint"]
    elif kind == "extra_forbidden":
        known = _known_keys(path[:-1], data)
        problem = "a key that is not known here"
        accepted = f"one of {', '.join(known)}"
        hint = near_miss(str(path[-1]), known)
    elif kind == "missing":
        problem, value = "missing", MISSING
        accepted = _what(path, data)
    elif kind == "union_tag_invalid":
        tag = str(told.get("discriminator", "'kind'")).strip("'")
        options = [word.strip(" '") for word in str(told.get("expected_tags", "")).split("',")]
        path = (*path, tag)
        value = told.get("tag", MISSING)
        problem, accepted = f"not a known {tag}", listed(options)
        hint = near_miss(str(value), options)
    elif kind == "union_tag_not_found":
        tag = str(told.get("discriminator", "'kind'")).strip("'")
        path, value, problem = (*path, tag), MISSING, "missing"
        accepted = _tags(path, data)
    elif kind in ("model_type", "model_attributes_type", "dict_type"):
        problem = "not a table"
        accepted = f"a table [{key_text(path)}] with keys of its own"
    elif kind == "too_short":
        problem, accepted = "empty", "at least one entry"
    return Fault(file=name, line=line_of(path, lines), key=key_text(path),
                 value=value_text(value), problem=problem, accepted=accepted, hint=hint)


def _tables(path: KeyPath, data: Any) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Keys described below a table of this file, with the words that choose them matched."""
    wild = tuple("*" if isinstance(step, int) or (i == 1 and path[0] == "candidates") else step
                 for i, step in enumerate(path))
    words = _words(path, data)
    for key in describe(ScenarioSection):
        if key.path[:len(wild)] == wild and len(key.path) > len(wild) and all(
                words.get(tag, word) == word for tag, word in key.only):
            yield key.path[len(wild):], key


def _words(path: KeyPath, data: Any) -> dict[str, str]:
    """Words on the way to a path, and in its own table, that choose what a table may hold."""
    words: dict[str, str] = {}
    here = data
    for step in (*path, None):
        if isinstance(here, dict):
            words |= {tag: here[tag] for tag in DISCRIMINATORS
                      if isinstance(here.get(tag), str)}
        if step is None:
            break
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            break
    return words


def _known_keys(path: KeyPath, data: Any) -> list[str]:
    known = dict.fromkeys(rest[0] for rest, _ in _tables(path, data))
    here: Any = data
    for step in path:
        here = here[step]
    tags = [tag for tag in DISCRIMINATORS if isinstance(here, dict) and tag in here]
    return sorted({*known, *tags} - {"*"})


def _what(path: KeyPath, data: Any) -> str:
    """What a missing key may be, or the keys a missing table needs."""
    for rest, key in _tables(path[:-1], data):
        if rest == (path[-1],):
            return f"{key.accepted} ({key.meaning})"
    below = list(_tables(path, data))
    words = _words(path, data)
    for tag in DISCRIMINATORS:
        choice = dict.fromkeys(word for rest, key in below if len(rest) == 1
                               for name, word in key.only if name == tag and tag not in words)
        if choice:
            return f"a table [{key_text(path)}] that begins with {tag} = {listed(choice)}"
    needs = dict.fromkeys(rest[0] for rest, key in below if key.required and rest[0] != "*")
    return f"a table [{key_text(path)}]" + (f" with {', '.join(needs)}" if needs else "")


def _tags(path: KeyPath, data: Any) -> str:
    tag = path[-1]
    words = dict.fromkeys(word for _, key in _tables(path[:-1], data)
                          for name, word in key.only if name == tag)
    return listed(words)


def _whole_tables(section: ScenarioSection, lines: dict[KeyPath, int], name: str,
                  data: Any) -> Iterator[Fault]:
    """Faults that only a whole table shows."""
    for base, part in sections(section):
        for problem in part.check():
            path = (*base, *problem.path)
            yield Fault(file=name, line=line_of(path, lines), key=key_text(path),
                        value=value_text(_at(data, path)), problem=problem.problem,
                        accepted=problem.accepted, hint=problem.hint)


def _at(data: Any, path: KeyPath) -> object:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return MISSING
    return MISSING if isinstance(data, Unknown) else data


def _once(faults: list[Fault]) -> list[Fault]:
    """Each fault once, and none about a value that stood in for a faulty one."""
    return [fault for fault in dict.fromkeys(faults) if fault.value != value_text(UNKNOWN)]
