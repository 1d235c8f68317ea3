"""Reading a scenario file: text, tables, sections, parts, or every fault at once."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from pathlib import Path
from typing import Any

from thrustlapse.scenario.build import Scenario, built
from thrustlapse.scenario.faults import Fault, KeyPath, ScenarioError, key_text, printable
from thrustlapse.scenario.lines import key_lines
from thrustlapse.scenario.validate import validated

LARGEST_FILE = 5_000_000
"""Bytes; a scenario is a page or two, so a larger file is some other file."""

DEEPEST = 20
"""Tables and lists inside each other; a scenario has six."""

STARTER_HINT = "a commented example to begin from: thrustlapse new FILE"


def read_scenario(path: str | os.PathLike[str]) -> Scenario:
    """Scenario of a file.

    Parameters
    ----------
    path : str or path-like
        A TOML file as ``starter.toml`` beside this module explains it

    Returns
    -------
    Scenario

    Raises
    ------
    ScenarioError
        With every fault of the file, or the one reason why it cannot be read.
    """
    where = Path(path)
    name = str(where)
    data = _bytes(where, name)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _single(name, line, "not a UTF-8 text", "a text file saved as UTF-8") from None
    return _scenario(text, name=name, path=where, digest=hashlib.sha256(data).hexdigest())


def read_text(text: str, *, name: str = "scenario.toml") -> Scenario:
    """Scenario of a text; ``name`` is what messages call it."""
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return _scenario(text, name=name, path=Path(name), digest=digest)


def _bytes(where: Path, name: str) -> bytes:
    try:
        if where.is_dir():
            raise _single(name, 0, "a folder, not a file", "a scenario file")
        with where.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise _single(name, 0, "no such file", "a scenario file", STARTER_HINT) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _single(name, 0, f"cannot be read: {reason}", "a readable file") from None
    if len(data) > LARGEST_FILE:
        raise _single(name, 0, f"more than {LARGEST_FILE / 1e6:g} MB: this is no scenario",
                      "a scenario file, which is a page or two of text")
    return data


def _scenario(text: str, *, name: str, path: Path, digest: str) -> Scenario:
    raw = _tables(text, name)
    lines = key_lines(text)
    section, faults = validated(raw, file=name, lines=lines)
    if faults or section is None:
        raise ScenarioError(faults or [Fault(file=printable(name), line=0, key="", value="",
                                             problem="cannot be understood")])
    return built(section, path=path, digest=digest, text=text)


def _tables(text: str, name: str) -> dict[str, Any]:
    if not text.strip():
        raise _single(name, 0, "empty", "a scenario", STARTER_HINT)
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise _single(name, 0, "tables or lists nested too deeply",
                      f"at most {DEEPEST} inside each other") from None
    except ValueError as error:
        raise _broken(text, name, error) from None
    if not raw:
        raise _single(name, 0, "nothing in it but comments", "a scenario", STARTER_HINT)
    if _depth(raw) > DEEPEST:
        raise _single(name, 0, "tables or lists nested too deeply",
                      f"at most {DEEPEST} inside each other")
    return raw


def _depth(raw: Any) -> int:
    """How many tables and lists lie inside each other, without recursion."""
    depth, level = 0, [raw]
    while level and depth <= DEEPEST:
        depth += 1
        level = [inner for part in level if isinstance(part, dict | list)
                 for inner in (part.values() if isinstance(part, dict) else part)]
    return depth


def _single(name: str, line: int, problem: str, accepted: str, hint: str = "") -> ScenarioError:
    return ScenarioError([Fault(file=printable(name), line=line, key="", value="", problem=problem,
                                accepted=accepted, hint=hint)])


def _broken(text: str, name: str, error: ValueError) -> ScenarioError:
    """Message of a text that is no TOML."""
    told = re.match(r"(.*?)(?: \(at (?:line (\d+), column \d+|(end of document))\))?$",
                    str(error), re.DOTALL)
    assert told is not None
    reason, number, at_end = told.groups()
    line = int(number) if number else (text.rstrip().count("\n") + 1 if at_end else 0)
    source = text.splitlines()[line - 1].strip() if 0 < line <= len(text.splitlines()) else ""
    key = ""
    accepted = "TOML: [tables], and lines of key = value"
    hint = ""
    twice = re.match(r"Cannot (?:declare|mutate|overwrite|redefine).*", reason)
    if twice:
        path = _declared(reason, source)
        key = key_text(path)
        if path[:1] == ("candidates",) and len(path) == 2:
            reason = "this candidate is given twice"
            accepted = "each candidate once, under a name of its own"
        else:
            reason = "this key or table is given twice"
            accepted = "each key once in its table, each table once"
    elif re.search(r"Invalid value|Expected newline or end of document", reason):
        hint = 'a quantity with a unit is a text and needs its quotes: key = "24 mm"'
    shown = source if len(source) <= 60 else source[:57] + "..."
    return ScenarioError([Fault(
        file=printable(name), line=line, key=printable(key or shown), value="",
        problem=printable(reason[:200]) if twice else f"not TOML: {printable(reason[:200])}",
        accepted=accepted, hint=hint)])


def _declared(reason: str, source: str) -> KeyPath:
    """The key path that a text declares twice, from the reader's message or the line itself."""
    quoted = re.search(r"\((.*)\)", reason)
    if quoted:
        parts = re.findall(r"'((?:[^'\\]|\\.)*)'|\"((?:[^\"\\]|\\.)*)\"", quoted.group(1))
        return tuple(single or double for single, double in parts)
    header = source.split("#")[0].strip()
    if header.startswith("["):
        return tuple(part.strip(" \"'") for part in header.strip("[] ").split("."))
    return (header.split("=")[0].strip(),)
