"""A machine's file that learns: the candidate, how it was described, and every piece of evidence.

At its top level the tables of the candidate as all evidence leaves it, which a scenario includes.
``[described]`` holds the same tables before any evidence, and each ``[[evidence]]`` one piece with
its date, the digest of the file it came from, and its readings in SI; so a piece can be taken away
again without the file it came from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.bench.evidence import KINDS, Piece
from thrustlapse.bench.readings import CONDITIONS, MEASURED, BenchReadings, bench_readings
from thrustlapse.scenario.faults import Fault, ScenarioError, printable, value_text
from thrustlapse.scenario.files.include import DESCRIBED, EVIDENCE
from thrustlapse.scenario.files.read import load_file

WORDS = ("kind", "name", "digest", "date")
"""What every piece says of itself, in words."""

ACCEPTED = "what thrustlapse evidence add writes"


@dataclass(frozen=True, kw_only=True)
class MachineFile:
    """How a machine was described, and the evidence its file holds."""

    described: dict[str, Any]
    pieces: tuple[Piece, ...]


def read_machine(where: Path) -> MachineFile | None:
    """A machine's file; None for a candidate's file that holds no evidence.

    Raises
    ------
    ScenarioError
        Where it cannot be read, or its evidence is not as it was written.
    """
    _, _, tables = load_file(where)
    if DESCRIBED not in tables and EVIDENCE not in tables:
        return None
    found, described = tables.get(EVIDENCE, []), tables.get(DESCRIBED)
    if not isinstance(described, dict):
        raise _faulty(where, DESCRIBED, value=described, problem="is not a table")
    if not isinstance(found, list):
        raise _faulty(where, EVIDENCE, value=found, problem="is not a list of tables")
    return MachineFile(described=described, pieces=tuple(
        _piece(where, f"{EVIDENCE}[{place}]", one) for place, one in enumerate(found)))


def machine_text(candidate: str, described: Mapping[str, Any], pieces: Sequence[Piece]) -> str:
    """Text of a machine's file: the text of its candidate, and what it was learned from."""
    import tomlkit

    document = tomlkit.document()
    document[DESCRIBED] = dict(described)
    tables = tomlkit.aot()
    for piece in pieces:
        tables.append(tomlkit.item(_table(piece)))
    if pieces:
        document[EVIDENCE] = tables
    return (f"{candidate.rstrip()}\n\n# How it was described, and the evidence, in SI: "
            "thrustlapse evidence adds and drops pieces.\n" + tomlkit.dumps(document))


def _table(piece: Piece) -> dict[str, Any]:
    read = piece.readings
    columns: dict[str, Any] = {}
    for item in fields(BenchReadings):
        value = getattr(read, item.name)
        if not isinstance(value, np.ndarray) or item.name == "row":
            continue
        told = value if value.dtype == bool else np.isfinite(value) & (
            value != {"airspeed": 0.0, "units": 1.0}.get(item.name, np.nan))
        if told.any():
            columns[item.name] = value.tolist()
    spread = {name: value.tolist() for name, value in read.spread.items()
              if np.isfinite(value).any()}
    return {**{word: getattr(piece, word) for word in WORDS}, "rows": len(read),
            "setting": list(read.setting), "note": list(read.note), "told": list(read.told),
            "read": columns, "spread": spread}


def _piece(where: Path, key: str, table: Any) -> Piece:
    if not isinstance(table, dict):
        raise _faulty(where, key, value=table, problem="is not a table")
    for word in WORDS:
        if not isinstance(table.get(word), str) or not table[word]:
            raise _faulty(where, f"{key}.{word}", value=table.get(word), problem="is not a text")
    if table["kind"] not in KINDS:
        raise _faulty(where, f"{key}.kind", value=table["kind"], problem="is no kind of evidence",
                      accepted=", ".join(KINDS))
    rows = table.get("rows")
    if not isinstance(rows, int) or isinstance(rows, bool) or not 1 <= rows <= MOST_ROWS:
        raise _faulty(where, f"{key}.rows", value=rows, problem="is not a number of rows",
                      accepted=f"1 to {MOST_ROWS}")
    known = {*CONDITIONS, *MEASURED, "units", "by_log", "inlet_blocked", "outlet_blocked",
             "stand_friction"}
    columns = dict(_columns(where, f"{key}.read", table=table.get("read"), rows=rows, known=known))
    spread = dict(_columns(where, f"{key}.spread", table=table.get("spread", {}), rows=rows,
                           known={*CONDITIONS, *MEASURED}))
    if not columns:
        raise _faulty(where, f"{key}.read", value=table.get("read"), problem="holds no reading")
    words = {name: _texts(where, f"{key}.{name}", table.get(name, [""] * rows), rows)
             for name in ("setting", "note")}
    told = table.get("told", [])
    if not isinstance(told, list) or not all(isinstance(text, str) for text in told):
        raise _faulty(where, f"{key}.told", value=told, problem="is not a list of texts")
    try:
        read = bench_readings(**columns, spread=spread, source=table["name"], told=told,
                              setting=words["setting"], note=words["note"])
    except (TypeError, ValueError) as error:
        raise _faulty(where, f"{key}.read", value="", problem=str(error)) from None
    return Piece(**{word: table[word] for word in WORDS}, readings=read)


MOST_ROWS = 10_000
"""Rows of one piece."""


def _columns(where: Path, key: str, *, table: Any, rows: int,
             known: set[str]) -> Iterator[tuple[str, list[Any]]]:
    if not isinstance(table, dict):
        raise _faulty(where, key, value=table, problem="is not a table")
    for name, values in table.items():
        if name not in known:
            raise _faulty(where, f"{key}.{name}", value=values,
                          problem="is no quantity that is read")
        if not isinstance(values, list) or len(values) != rows or not all(
                isinstance(value, int | float) for value in values):
            raise _faulty(where, f"{key}.{name}", value=values,
                          problem="is not a list of numbers", accepted=f"{rows} numbers, one a row")
        yield name, values


def _texts(where: Path, key: str, value: Any, rows: int) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) != rows or not all(
            isinstance(text, str) for text in value):
        raise _faulty(where, key, value=value, problem="is not a list of texts",
                      accepted=f"{rows} texts, one a row")
    return tuple(value)


def _faulty(where: Path, key: str, *, value: Any, problem: str,
            accepted: str = ACCEPTED) -> ScenarioError:
    return ScenarioError([Fault(
        file=printable(str(where)), line=0, key=key, value="" if value is None else
        value_text(value), problem=f"missing: {key}" if value is None else problem,
        accepted=accepted, hint="take the evidence in again from its own files")])
