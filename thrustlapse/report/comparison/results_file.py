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
- ``uncertainty`` and ``flights`` are null, or as :mod:`thrustlapse.report.uncertainty.file` says;
- what a later version adds has a default, and a file without it still loads;
- :data:`DERIVED` keys and ``verdict`` are for the reader and are not read back.
"""

from __future__ import annotations

import csv
import io
import json
import math
import types
import typing
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.glossary import QUANTITIES, key, shown
from thrustlapse.power.drive import DriveLimit
from thrustlapse.propulsor.basis import measure_unit
from thrustlapse.propulsor.operating_point import Flag, OperatingPoint, flag_names, in_words
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.csv_cells import plain_cell
from thrustlapse.report.staging import ReportError, write_file
from thrustlapse.report.uncertainty.file import plain_record, record_of
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding

FORMAT = "thrustlapse comparison"
FORMAT_VERSION = 1

CURVE_COLUMNS = shown("csv")
"""Words of an operating point that the CSV carries, in order."""

_OF_POINT = tuple(name for name in CURVE_COLUMNS
                  if name not in {item.name for item in fields(OperatingPoint)})

DERIVED = ("severity", *_OF_POINT, "top_speed", "measure_unit", "verdict", "margin")
"""Words in the file that follow from others: written for the reader, not read back."""

PLAIN = ("uncertainty", "flights")
"""Fields of a comparison that keep the names of their records: see ``uncertainty/file.py``."""


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
    body = _encode(comparison, Comparison)
    told = verdict(comparison)
    document = {
        "format": FORMAT, "format_version": FORMAT_VERSION,
        "verdict": {"headline": told.headline, "remember": told.remember,
                    "sentences": list(told.sentences)},
        key("measure_unit"): measure_unit(comparison.footing), **body,
    }
    document["keys"] = {name: _explained(name) for name in sorted(_keys_in(document))}
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


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
        return _decode(document, Comparison)  # type: ignore[no-any-return]
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as problem:
        raise ReportError(f"{path} is damaged: {type(problem).__name__}: {problem}") from problem


def write_curves(comparison: Comparison, path: Path | str) -> None:
    """Write the curves as CSV, one row per candidate and airspeed; raises ReportError."""
    write_file(Path(path), curves_text(comparison))


def curves_text(comparison: Comparison) -> str:
    """The text of ``curves.csv``: SI units in the header, empty cells where there is no value."""
    out = io.StringIO(newline="")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["candidate", *(key(name) for name in CURVE_COLUMNS), "drive_limit", "severity",
                    "flags"])
    for name, result in comparison.candidates.items():
        curve = result.curve
        columns = [np.ravel(getattr(curve, word)).tolist() for word in CURVE_COLUMNS]
        words = [np.ravel(text).tolist() for text in (curve.drive_limit, curve.severity,
                                                      curve.flags)]
        for row in zip(*columns, *words, strict=True):
            table.writerow([plain_cell(name), *(_cell(value) for value in row)])
    return out.getvalue()


def equal_results(first: Any, second: Any) -> bool:
    """Whether two results (records, arrays, numbers) are the same, NaN equal to NaN."""
    if isinstance(first, float) and isinstance(second, float):
        return first == second or (first != first and second != second)
    if type(first) is not type(second):
        return False
    if is_dataclass(first):
        return all(equal_results(getattr(first, item.name), getattr(second, item.name))
                   for item in fields(first))
    if isinstance(first, np.ndarray):
        return (first.dtype == second.dtype and first.shape == second.shape
                and np.array_equal(first, second, equal_nan=first.dtype.kind == "f"))
    if isinstance(first, dict):
        return list(first) == list(second) and all(equal_results(first[name], second[name])
                                                   for name in first)
    if isinstance(first, tuple | list):
        return len(first) == len(second) and all(map(equal_results, first, second))
    return bool(first == second)


# Writing -----------------------------------------------------------------------------------------

_CODES: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "drive_limit_code": ("drive_limit", lambda codes: in_words(codes, DriveLimit).tolist()),
    "flag_bits": ("flags", lambda bits: _deep(flag_names, bits.tolist())),
}
"""Fields kept as codes, the word they are written under, and how."""


def _encode(value: Any, kind: Any) -> Any:
    """A value as JSON has it, given its declared type."""
    if is_dataclass(value) and not isinstance(value, type):
        return encode_record(value)
    if isinstance(value, dict):
        inner = typing.get_args(kind)[1]
        return {name: _encode(item, inner) for name, item in value.items()}
    if isinstance(value, tuple):
        return [_encode(item, object) for item in value]
    if isinstance(value, np.ndarray):
        return _deep(_number, value.tolist())
    if isinstance(value, float):
        optional = type(None) in typing.get_args(kind)
        return "nan" if optional and math.isnan(value) else _number(value)
    return value


def encode_record(record: Any) -> dict[str, Any]:
    """A record as JSON has it: keys with their units, codes in words."""
    kinds = typing.get_type_hints(type(record))
    out: dict[str, Any] = {}
    for item in fields(record):
        value = getattr(record, item.name)
        if item.name in _CODES:
            word, written = _CODES[item.name]
            out[key(word)] = written(value)
        elif isinstance(record, CandidateResult) and item.name == "curve":
            out |= encode_record(value)
        elif isinstance(record, Comparison) and item.name in PLAIN:
            out[item.name] = plain_record(value)
        else:
            out[key(item.name)] = _encode(value, kinds[item.name])
    if isinstance(record, OperatingPoint):
        out[key("severity")] = record.severity.tolist()
        for name in _OF_POINT:
            out[key(name)] = _deep(_number, getattr(record, name).tolist())
    if isinstance(record, Finding):
        out[key("margin")] = record.margin
    if isinstance(record, CandidateResult):
        out[key("top_speed")] = None if record.level is None else _number(record.level.top_speed)
    return out


def _number(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else str(value)
    return value


def _deep(change: Callable[[Any], Any], nested: Any) -> Any:
    return [_deep(change, item) for item in nested] if isinstance(nested, list) else change(nested)


def _cell(value: Any) -> str:
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    return str(value)


def _keys_in(document: Any) -> set[str]:
    """Every glossary key used in a document."""
    known = {word.key for word in QUANTITIES.values()}
    found: set[str] = set()
    if isinstance(document, dict):
        found |= known & set(document)
        for item in document.values():
            found |= _keys_in(item)
    elif isinstance(document, list) and document and isinstance(document[0], dict):
        for item in document:
            found |= _keys_in(item)
    return found


def _explained(name: str) -> str:
    word = next(word for word in QUANTITIES.values() if word.key == name)
    return f"{word.meaning} [{word.unit}]" if word.unit else word.meaning


# Reading -----------------------------------------------------------------------------------------


def _decode(value: Any, kind: Any) -> Any:
    """A value of a declared type from JSON."""
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if origin is types.UnionType or origin is typing.Union:
        if value is None and type(None) in inside:
            return None
        return _decode(value, next(choice for choice in inside if choice is not type(None)))
    if is_dataclass(kind):
        return _decode_record(value, kind)
    if origin is dict:
        return {name: _decode(item, inside[1]) for name, item in value.items()}
    if origin is tuple:
        each = [inside[0]] * len(value) if inside[-1] is Ellipsis else inside
        return tuple(_decode(item, one) for item, one in zip(value, each, strict=True))
    if origin is np.ndarray:
        wanted = typing.get_args(inside[1])[0]
        if np.issubdtype(wanted, np.floating):
            return np.asarray(_deep(_from_number, value), dtype=float)
        return np.asarray(value, dtype=wanted)
    if kind is float:
        return _from_number(value)
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} where {kind.__name__} is expected")
    return value


def _decode_record(value: dict[str, Any], kind: Any) -> Any:
    kinds = typing.get_type_hints(kind)
    given: dict[str, Any] = {}
    for item in fields(kind):
        if item.name == "drive_limit_code":
            given[item.name] = _codes(value[key("drive_limit")])
        elif item.name == "flag_bits":
            given[item.name] = _bits(value[key("flags")])
        elif kind is Comparison and item.name in PLAIN:
            given[item.name] = record_of(value.get(item.name), kinds[item.name])
        elif kind is CandidateResult and item.name == "curve":
            given[item.name] = _decode_record(value, OperatingPoint)
        elif key(item.name) in value or item.default is item.default_factory is MISSING:
            given[item.name] = _decode(value[key(item.name)], kinds[item.name])
    return kind(**given)


def _from_number(value: Any) -> float:
    if value is None:
        return math.nan
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise TypeError(f"{value!r} where a number is expected")
    return float(value)


def _codes(words: Any) -> Any:
    code = {limit.words: int(limit) for limit in DriveLimit}
    return np.asarray(_deep(code.__getitem__, words), dtype=np.int64)


def _bits(names: Any) -> Any:
    """Flags from lists of names; the innermost lists are the names of one element."""
    bit = {flag.words: int(flag) for flag in Flag}

    def bits(nested: Any) -> Any:
        if nested and isinstance(nested[0], list):
            return [bits(item) for item in nested]
        return sum(bit[name] for name in nested)

    return np.asarray(bits(names), dtype=np.int64)
