"""Reading a scenario file: text, tables, sections, parts, or every fault at once."""

from __future__ import annotations

import hashlib
import os
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.distributions import Spread
from thrustlapse.scenario.build.assumed import assumed, same_parts
from thrustlapse.scenario.build.candidates import build_dimensions
from thrustlapse.scenario.build.components import NotBuilt, build_parts
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import Fault, KeyPath, ScenarioError, key_text, printable
from thrustlapse.scenario.files.doubts import doubts
from thrustlapse.scenario.files.from_readings import with_defaults
from thrustlapse.scenario.files.include import Expanded, all_texts, expanded, place_of
from thrustlapse.scenario.files.lines import key_lines
from thrustlapse.scenario.files.text_file import bytes_of, line_at, line_feeds, single_fault
from thrustlapse.scenario.files.validate import validated
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.schema.uncertainty import spreads_of
from thrustlapse.scenario.schema.varied import Refused, key_rule

LARGEST_FILE = 5_000_000
"""Bytes; a scenario is a page or two, so a larger file is some other file."""

DEEPEST = 20
"""Tables and lists inside each other; a scenario has six."""

LONG_KEY = re.compile(r"""(?:^|[\[{,])[ \t]*(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){60}""",
                      re.MULTILINE)
"""A key with more dots than any scenario needs: the time to read one grows with their square."""

CANDIDATE = re.compile(r"""\[\s*candidates\s*\.\s*("[^"]*"|'[^']*'|[\w-]+)\s*\]""")
"""Header of a candidate's own table."""

STARTER_HINT = "write a commented starter with: thrustlapse new FILE"


def read_scenario(path: str | os.PathLike[str]) -> Scenario:
    """Scenario of a file.

    Parameters
    ----------
    path : str or path-like
        A TOML file as ``starter.toml`` beside this module explains it

    Raises
    ------
    ScenarioError
        With every fault of the file in ``faults`` and all of them in its message.
    """
    where = Path(path)
    name = str(where)
    data = _bytes(where)
    return read_text(_decoded(data, name), name=name, digest=hashlib.sha256(data).hexdigest(),
                     folder=where.parent)


def read_text(text: str, *, name: str = "scenario.toml", digest: str | None = None,
              folder: Path | None = None) -> Scenario:
    """Scenario of a text.

    ``name`` is what messages call it, ``digest`` what its file hashes to, ``folder`` where the
    files it includes are looked for; without a folder it may include none.
    """
    whole = expanded(_tables(text, name), file=name, text=text, folder=folder, load=load_file)
    if whole.faults and not whole.raw["candidates"]:
        raise ScenarioError(whole.faults)
    put_in = with_defaults(whole.raw)
    lines = key_lines(text)
    section, faults = validated(whole.raw, file=name, lines=lines, included=whole.included)
    if whole.faults:  # then a reference may name a candidate that could not be put in
        faults = [fault for fault in faults if fault.key != "comparison.reference"]
    if whole.faults or faults or section is None:
        raise ScenarioError([*whole.faults, *faults])
    told = hashlib.sha256(text.encode("utf-8")).hexdigest() if digest is None else digest
    if whole.included:  # a result is traced to every byte that was asked
        parts = [told, *(one.digest for one in whole.included.values())]
        told = hashlib.sha256("".join(parts).encode("ascii")).hexdigest()
    return _build(section, name=name, text="".join(all_texts(text, whole.included)), digest=told,
                  lines=lines, whole=whole, put_in=put_in)


def read_tables(raw: dict[str, Any], told: Scenario) -> Scenario:
    """Scenario of changed tables of the file of another one, whose digest and text it keeps."""
    import tomlkit  # start-up time

    made = read_text(tomlkit.dumps(raw), name=str(told.path))
    return replace(made, text=told.text, digest=told.digest)


def expanded_tables(where: Path) -> dict[str, Any]:
    """Tables of a scenario file with its includes put in; raises ScenarioError."""
    _, text, tables = load_file(where)
    whole = expanded(tables, file=str(where), text=text, folder=where.parent, load=load_file)
    if whole.faults:
        raise ScenarioError(whole.faults)
    return whole.raw


def load_file(where: Path) -> tuple[bytes, str, dict[str, Any]]:
    """Bytes, text and tables of an included file."""
    data = _bytes(where)
    text = _decoded(data, str(where))
    return data, text, _tables(text, str(where))


def _decoded(data: bytes, name: str) -> str:
    try:
        return line_feeds(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = line_at(data, error.start)
        raise single_fault(name, "not UTF-8 text", "a text file saved as UTF-8",
                           line=line) from None


def _build(section: ScenarioSection, *, name: str, text: str, digest: str,
           lines: dict[KeyPath, int], whole: Expanded,
           put_in: dict[str, list[str]]) -> Scenario:
    told = {**whole.told, **{name: (*whole.told.get(name, ()), *words)
                             for name, words in put_in.items()}}
    try:
        parts = build_parts(section, overridden=told)
    except NotBuilt as error:
        faults = []
        for where, reason in error.reasons.items():
            home, line, path = place_of(where, file=name, lines=lines, included=whole.included)
            faults.append(Fault(
                file=printable(home), line=line, key=key_text(path), value="",
                problem=printable(reason),
                accepted="readings of one unit, of one moment" if where[-1] == "readings" else
                "dimensions that together make a machine with a working flow"))
        raise ScenarioError(faults) from None
    spreads = _spreads(section, name=name, lines=lines, whole=whole)
    taken = tuple(assumed(section.candidates, parts["candidates"]))
    parts["candidates"] = {key: replace(one, assumed=tuple(
        each for each in taken if each.candidate == key), stated=tuple(
        each for each in spreads if each.key.startswith(f"candidates.{key}.")))
        for key, one in parts["candidates"].items()}
    return Scenario(
        title=section.title, question=section.question.strip(), note=section.note.strip(),
        invented=section.invented, airspeeds=np.array(section.airspeed.airspeeds()),
        dimensions=build_dimensions(section.candidates), path=Path(name), text=text, digest=digest,
        section=section, sampling=section.uncertainty.sampling(), spreads=spreads,
        assumed=taken,
        same_part=same_parts(section.candidates), doubts=tuple(doubts(text, section)), **parts)


def _spreads(section: ScenarioSection, *, name: str, lines: dict[KeyPath, int],
             whole: Expanded) -> tuple[Spread, ...]:
    """Spreads of the file; every one at a key that cannot vary is a fault."""
    found = dict(spreads_of(section))
    fitted = {("candidates", key, *dotted.split("."))
              for key, candidate in section.candidates.items() if candidate.fit is not None
              for dotted in candidate.fit.unknowns}
    faults = []
    for path in found:
        try:
            key_rule(section, path)
            if path in fitted:
                raise Refused(problem="it is among the unknowns of its candidate's fit, which has "
                              "a covariance for it", accepted="the value alone",
                              hint="or leave the table [fit] out")
        except Refused as reason:
            home, line, written = place_of(path, file=name, lines=lines, included=whole.included)
            faults.append(Fault(file=printable(home), line=line,
                                key=key_text(written), value=found[path].text,
                                problem=f"carries no spread: {reason.problem}",
                                accepted=reason.accepted, hint=reason.hint))
    if faults:
        raise ScenarioError(faults)
    return tuple(found.values())


def _bytes(where: Path) -> bytes:
    return bytes_of(where, noun="a scenario file", form="in TOML", largest=LARGEST_FILE,
                    too_large="too large for a scenario, which is a page or two of text",
                    starter_hint=STARTER_HINT)


def _tables(text: str, name: str) -> dict[str, Any]:
    if not text.strip():
        raise single_fault(name, "empty", "a scenario in TOML", STARTER_HINT)
    if LONG_KEY.search(text):
        raise single_fault(name, "a key of very many parts, joined by dots",
                           f"at most {DEEPEST} tables inside each other")
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise single_fault(name, "tables or lists nested too deeply",
                           f"at most {DEEPEST} inside each other") from None
    except ValueError as error:
        raise _broken(text, name, error) from None
    if not raw:
        raise single_fault(name, "empty but for comments", "a scenario in TOML", STARTER_HINT)
    if _depth(raw) > DEEPEST:
        raise single_fault(name, "tables or lists nested too deeply",
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


def _broken(text: str, name: str, error: ValueError) -> ScenarioError:
    """What is wrong with a text that is no TOML, its line taken out of the reader's words."""
    told = re.match(r"(.*?)(?: \(at (?:line (\d+), column \d+|end of document)\))?$", str(error),
                    re.DOTALL)
    assert told is not None
    reason, number = told.groups()
    rows = text.split("\n")
    line = int(number) if number else text.rstrip().count("\n") + 1
    source = rows[line - 1].split("#")[0].strip() if line <= len(rows) else ""
    short = printable(source if len(source) <= 60 else source[:57] + "...")
    if re.match("Cannot (?:declare|mutate|overwrite|redefine)", reason):
        what = f"the candidate {short}" if CANDIDATE.fullmatch(source) else short
        fault = Fault(file=printable(name), line=line, key="", value="",
                      problem=f"there twice: {what}",
                      accepted="every table and key once; two candidates need two names")
    else:
        quotes = re.search("Invalid value|Expected newline or end of document", reason)
        fault = Fault(file=printable(name), line=line, key="", value="",
                      problem=f"broken TOML: {printable(reason[:200])}: {short}",
                      accepted="[tables], and key = value, one on a line, texts in quotes",
                      hint='a quantity with a unit is a text and needs its quotes: '
                      'tip_diameter = "38 mm"' if quotes else "")
    return ScenarioError([fault])
