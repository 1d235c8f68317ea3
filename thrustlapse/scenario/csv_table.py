"""Tables of readings as CSV: a header of plain words with units, numbers below, any column order.

    time [s], airspeed [m/s], height [m], voltage [V], current [A]

Comma, semicolon or tab part the cells, whichever the header has most of; lines that begin with a
``#`` are remarks. Every fault is reported at once, with its line and column.
"""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pydantic_core import PydanticCustomError

from thrustlapse.arrays import Array, IntArray
from thrustlapse.scenario.faults import (
    Fault,
    ScenarioError,
    listed,
    near_miss,
    printable,
    value_text,
)
from thrustlapse.scenario.fields import Quantity
from thrustlapse.scenario.units import KINDS, QuantityFault, to_si

LARGEST_TABLE = 20_000_000
"""Bytes; hours of readings fit many times over."""

LONGEST_LINE, LONGEST_CELL = 20_000, 200
"""Characters of a line and of a cell; longer ones are no readings."""

HEAD = re.compile(r"(?P<name>[^\[\]()]*?)\s*(?:[\[(](?P<unit>[^\[\]()]*)[\])])?\s*")
"""``airspeed [m/s]`` or ``airspeed (m/s)``."""

PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column a table may have.

    ``name`` in plain words, ``also`` other words for it, ``quantity`` its kind and range.
    ``gaps`` where empty cells are allowed (they read as NaN).
    """

    name: str
    quantity: Quantity
    required: bool = True
    also: tuple[str, ...] = ()
    gaps: bool = False

    @property
    def example(self) -> str:
        """The column's head as a file may write it."""
        unit = (KINDS[self.quantity.kind].shown or ("",))[-1]
        return f"{self.name} [{unit}]" if unit else self.name


@dataclass(frozen=True, kw_only=True)
class ReadingTable:
    """What a table says, in SI.

    ``values`` by column name, ``lines`` the line of the file each row stands on, ``remarks`` the
    lines that begin with ``#``, ``digest`` the SHA-256 of the file's bytes.
    """

    values: dict[str, Array]
    lines: IntArray
    remarks: tuple[str, ...]
    digest: str


def read_table(path: str | os.PathLike[str], columns: Sequence[Column], *, what: str,
               least_rows: int = 1) -> ReadingTable:
    """A table of readings.

    Parameters
    ----------
    path : str or path-like
    columns : sequence of Column
        The columns it may have
    what : str
        What it is, for messages: ``"a flight log"``
    least_rows : int
        Rows without which it is of no use

    Raises
    ------
    ScenarioError
        With every fault of the file.
    """
    where = Path(path)
    name = printable(str(where))
    text, digest = _text(where, name, what)
    reader = _Reader(name, columns, what)
    values, lines, remarks = reader.read(text)
    if not reader.faults and lines.size < least_rows:
        reader.fault(0, "", "", f"{lines.size} rows of readings", f"{least_rows} or more")
    if reader.faults:
        raise ScenarioError(reader.faults)
    return ReadingTable(values=values, lines=lines, remarks=remarks, digest=digest)


def _text(where: Path, name: str, what: str) -> tuple[str, str]:
    def broken(problem: str, accepted: str) -> ScenarioError:
        return ScenarioError([Fault(file=name, line=0, key="", value="", problem=problem,
                                    accepted=accepted)])
    folder = False
    try:
        folder = where.is_dir()
        with where.open("rb") as stream:
            data = stream.read(LARGEST_TABLE + 1)
    except FileNotFoundError:
        raise broken("no such file", f"the path of {what} as a CSV file") from None
    except (OSError, ValueError) as error:
        if folder:
            raise broken("a folder, not a file", f"{what} as a CSV file") from None
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise broken(f"cannot be read ({reason})", "a file you may read") from None
    if len(data) > LARGEST_TABLE:
        raise broken("too large", f"a file of at most {LARGEST_TABLE / 1e6:g} MB")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise broken("not UTF-8 text", "a CSV file saved as UTF-8") from None
    if "\0" in text:
        raise broken("not a text", "a CSV file saved as UTF-8")
    return text, hashlib.sha256(data).hexdigest()


class _Reader:
    """One reading of a table, and the faults it meets."""

    def __init__(self, file: str, columns: Sequence[Column], what: str) -> None:
        self.file, self.columns, self.what = file, columns, what
        self.faults: list[Fault] = []

    def fault(self, line: int, key: str, value: str, problem: str, accepted: str,
              hint: str = "") -> None:
        self.faults.append(Fault(
            file=self.file, line=line, key=printable(key), value=value_text(value) if value else "",
            problem=printable(problem), accepted=printable(accepted), hint=printable(hint)))

    def read(self, text: str) -> tuple[dict[str, Array], IntArray, tuple[str, ...]]:
        remarks, rows = [], []
        for number, line in enumerate(text.splitlines(), start=1):
            if line.lstrip().startswith("#"):
                remarks.append(line.lstrip(" \t#").rstrip())
            elif len(line) > LONGEST_LINE:
                self.fault(number, "", "", "a very long line", f"at most {LONGEST_LINE} letters")
            elif line.strip(" \t,;"):
                rows.append((number, line))
        nothing: IntArray = np.zeros(0, dtype=np.int64)
        if not rows:
            self.fault(0, "", "", "empty", f"{self.what}: a header, then rows of numbers")
            return {}, nothing, tuple(remarks)
        separator = max(",;\t", key=rows[0][1].count)
        heads = self._heads(rows[0][0], _cells(rows[0][1], separator))
        found: dict[str, list[float]] = {column.name: [] for column, _ in heads if column}
        kept = []
        for number, line in rows[1:]:
            cells = _cells(line, separator)
            while len(cells) > len(heads) and not cells[-1]:
                cells.pop()  # a separator at the end of a line
            if len(cells) != len(heads):
                self.fault(number, "", "", f"{len(cells)} cells under {len(heads)} heads",
                           "as many cells as the header has",
                           "a decimal comma parts a number in two: write points"
                           if separator == "," and len(cells) > len(heads) else "")
                continue
            kept.append(number)
            for (column, unit), cell in zip(heads, cells, strict=True):
                if column is not None:
                    found[column.name].append(self._value(number, column, unit, cell))
        return ({name: np.array(values, dtype=float) for name, values in found.items()},
                np.array(kept, dtype=np.int64), tuple(remarks))

    def _heads(self, line: int, cells: list[str]) -> list[tuple[Column | None, str]]:
        """The column of each head with its unit; None where it is none of those known."""
        known = {_folded(word): column for column in self.columns
                 for word in (column.name, *column.also)}
        heads: list[tuple[Column | None, str]] = []
        seen: set[str] = set()
        for place, cell in enumerate(cells, start=1):
            key = f"column {place}"
            match = HEAD.fullmatch(cell)
            word = match["name"] if match else cell
            column = known.get(_folded(word))
            if column is None:
                self.fault(line, key, cell, "no column of that name is known here" if cell else
                           "a column without a head",
                           listed(one.example for one in self.columns),
                           near_miss(word, [one.name for one in self.columns]))
            elif column.name in seen:
                self.fault(line, key, cell, f"a second column of {column.name}", "one of each")
                column = None
            if column is None:
                heads.append((None, ""))
                continue
            seen.add(column.name)
            heads.append((column if self._unit(line, key, cell, column, match) else None,
                          (match["unit"] or "").strip() if match else ""))
        absent = [one.example for one in self.columns if one.required and one.name not in seen]
        if absent:
            self.fault(line, "", "", f"missing: a column {', and one '.join(absent)}",
                       listed(one.example for one in self.columns))
        return heads

    def _unit(self, line: int, key: str, cell: str, column: Column,
              match: re.Match[str] | None) -> bool:
        """Whether a head's unit will do; says so where not."""
        unit = ((match["unit"] if match else None) or "").strip()
        kind = column.quantity.kind
        if not unit:
            if kind == "ratio":
                return True
            self.fault(line, key, cell, "no unit", f'a unit in brackets: "{column.example}"')
            return False
        try:
            to_si(f"1 {unit}", kind)
        except QuantityFault as fault:
            self.fault(line, key, cell, fault.problem, f'"{column.example}"', fault.hint)
            return False
        return True

    def _value(self, line: int, column: Column, unit: str, cell: str) -> float:
        if not cell:
            if not column.gaps:
                self.fault(line, column.name, "", "empty", column.quantity.accepted())
            return float("nan")
        if PLAIN.fullmatch(cell) is None or len(cell) > LONGEST_CELL:
            self.fault(line, column.name, cell, "not a number",
                       f"a plain number in {unit}" if unit else "a plain number",
                       "a point marks the decimals" if "," in cell else "")
            return float("nan")
        try:
            return column.quantity.check(f"{cell} {unit}".strip())
        except PydanticCustomError as error:
            told = dict(error.context or {})
            self.fault(line, column.name, f"{cell} {unit}".strip(), told["problem"],
                       told["accepted"], told["hint"])
            return float("nan")


def _cells(line: str, separator: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader(
        io.StringIO(line), delimiter=separator, skipinitialspace=True), [])]


def _folded(word: str) -> str:
    return " ".join(word.casefold().replace("_", " ").replace("-", " ").split())
