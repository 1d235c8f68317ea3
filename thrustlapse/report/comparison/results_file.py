"""Results as files: ``results.json``, which loads back into an equal comparison, and curves as CSV.

Shape of ``results.json`` (format version 1):

- every field of :class:`Comparison` under its own name, with its SI unit appended where it has
  one (``density_kg_m3``): :mod:`thrustlapse.glossary` is the one list of names, units and meanings,
  and the block ``keys`` repeats the words used;
- ``candidates`` is an object by name. A candidate's curve lies open in it, one number per airspeed
  (``airspeed_m_s``, ``net_thrust_N``, ...), with ``ledger``, ``drive_limit``, ``severity``,
  ``flags`` (a list of names at each airspeed), beside ``top_speed_m_s``, ``at_rest``, ``at_top``;
- NaN is ``null`` (no value: see ``severity`` and ``flags``); infinities are ``"inf"``, ``"-inf"``;
  a NaN where ``null`` means "not asked for" is ``"nan"``;
- ``uncertainty`` and ``flights`` are null, or records with the names of their own fields;
- what a later version adds has a default, and a file without it still loads;
- :data:`DERIVED` keys and ``verdict`` are for the reader and are not read back.
"""

from __future__ import annotations

import json
from collections.abc import KeysView
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.glossary import QUANTITIES, Quantity, key, shown
from thrustlapse.power.drive import DriveLimit
from thrustlapse.propulsor.basis import measure_unit
from thrustlapse.propulsor.operating_point import Flag, OperatingPoint, flag_names, in_words
from thrustlapse.report.atomic_write import ReportError, write_file
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.csv_cells import csv_text
from thrustlapse.report.records import PLAIN, Code, Form, decode, deep, encode, json_text
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding

FORMAT = "thrustlapse comparison"
FORMAT_VERSION = 1

CURVE_COLUMNS = shown("csv")
"""Words of an operating point that the CSV carries, in order."""

CURVE_STATES = ("drive_limit", "severity", "flags")
"""Its columns of words; flags are separated by semicolons."""

_OF_POINT = tuple(name for name in CURVE_COLUMNS
                  if name not in {item.name for item in fields(OperatingPoint)})

DERIVED = ("severity", *_OF_POINT, "top_speed", "measure_unit", "verdict", "margin")
"""Words in the file that follow from others: written for the reader, not read back."""


def write_results(comparison: Comparison, path: Path | str) -> None:
    """Write a comparison as JSON, whole or not at all.

    Raises
    ------
    ReportError
        If the file cannot be written.
    """
    write_file(Path(path), results_text(comparison))


def results_text(comparison: Comparison) -> str:
    """The text of ``results.json``."""
    told = verdict(comparison)
    document = {
        "format": FORMAT, "format_version": FORMAT_VERSION,
        "verdict": {"headline": told.headline, "remember": told.remember,
                    "sentences": list(told.sentences),
                    "groups": {title: list(texts) for title, texts in told.groups}},
        key("measure_unit"): measure_unit(comparison.footing),
        **encode(comparison, Comparison, FORM),
    }
    words = {word.key: word for word in QUANTITIES.values()}
    document["keys"] = {name: _explained(words[name])
                        for name in sorted(_keys_in(document, words.keys()))}
    return json_text(document)


def read_results(path: Path | str) -> Comparison:
    """Read a comparison back from its JSON file.

    Raises
    ------
    ReportError
        If the file cannot be read, or is no such file, or has a newer format.
    """
    try:
        document = json.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as problem:
        raise ReportError(f"cannot read {path}: {problem}") from problem
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise ReportError(f"{path} is not a results file of this program")
    if document.get("format_version") != FORMAT_VERSION:
        raise ReportError(f"{path} has format version {document.get('format_version')!r}; "
                          f"this program reads version {FORMAT_VERSION}")
    try:
        return decode(document, Comparison, FORM)  # type: ignore[no-any-return]
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as problem:
        raise ReportError(f"{path} is damaged: {type(problem).__name__}: {problem}") from problem


def curves_text(comparison: Comparison) -> str:
    """The text of ``curves.csv``: a remark with the scenario's digest, SI units in the header,
    empty cells where there is no value."""
    rows = [[name, *row] for name, result in comparison.candidates.items()
            for row in zip(*(one.tolist() for one in curve_columns(result.curve).values()),
                           strict=True)]
    head = (f"scenario sha256 {comparison.scenario_digest}; thrustlapse {comparison.version}; "
            f"{comparison.footing}; SI units, in the names of the columns")
    return csv_text(["candidate", *map(key, CURVE_COLUMNS), *CURVE_STATES], rows, remarks=[head])


def curve_columns(point: OperatingPoint) -> dict[str, Any]:
    """Columns of operating points: numbers by their keys with units, then states in words."""
    shape = np.shape(point.net_thrust)
    return {name: np.ravel(np.broadcast_to(getattr(point, word), shape))
            for name, word in (*((key(word), word) for word in CURVE_COLUMNS),
                               *((word, word) for word in CURVE_STATES))}


def _keys_in(document: Any, known: KeysView[str]) -> set[str]:
    """Every one of the known keys that is used in a document."""
    found: set[str] = set()
    if isinstance(document, dict):
        found |= known & document.keys()
        for item in document.values():
            found |= _keys_in(item, known)
    elif isinstance(document, list) and document and isinstance(document[0], dict):
        for item in document:
            found |= _keys_in(item, known)
    return found


def _explained(word: Quantity) -> str:
    return f"{word.meaning} [{word.unit}]" if word.unit else word.meaning


def _codes(words: Any) -> Any:
    code = {limit.words: int(limit) for limit in DriveLimit}
    return np.asarray(deep(code.__getitem__, words), dtype=np.int64)


def _bits(names: Any) -> Any:
    """Flags from lists of names; the innermost lists are the names of one element."""
    bit = {flag.words: int(flag) for flag in Flag}

    def bits(nested: Any) -> Any:
        if nested and isinstance(nested[0], list):
            return [bits(item) for item in nested]
        return sum(bit[name] for name in nested)

    return np.asarray(bits(names), dtype=np.int64)


def _of_point(point: OperatingPoint) -> dict[str, Any]:
    return {"severity": point.severity, **{name: getattr(point, name) for name in _OF_POINT}}


FORM = Form(
    key=key, opened=("curve",), within={"uncertainty": PLAIN, "flights": PLAIN},
    codes={"drive_limit_code": Code(word="drive_limit", read=_codes, write=lambda codes: in_words(
               codes, DriveLimit).tolist()),
           "flag_bits": Code(word="flags", read=_bits,
                             write=lambda bits: deep(flag_names, bits.tolist()))},
    beside={OperatingPoint: _of_point, Finding: lambda one: {"margin": one.margin},
            CandidateResult: lambda one: {
                "top_speed": None if one.level is None else one.level.top_speed}})
"""How a comparison's records are written: keys with their units, codes in words."""
