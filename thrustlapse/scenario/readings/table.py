"""Tables of readings a person wrote: CSV with a heading of words and unit over each column.

    nozzle exit diameter [mm], thrust [gf] ± 3, shaft speed [krpm], note
    21,                        190,             82.5,               as it came
    19.5,                      216 ± 5,         83.1,

A heading names the column and, in brackets, its unit; a cell may carry a unit of its own. The
spread of a reading is one standard deviation: after ``±`` (or ``+-``) in the cell, in a column of
its own headed ``± thrust [gf]``, or after the heading for the whole column, as an amount or in per
cent of the reading; the nearest to the cell counts. Empty cells are readings not taken. Lines that
begin with ``#`` are remarks. Cells are separated by commas, or by semicolons or tabs as
spreadsheets write them where a comma marks the decimals.

Nothing in a cell is ever evaluated: a formula is a faulty number, and in a column of words it is
words. What a file of a certain kind may hold is a list of :class:`Column`.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.scenario.faults import Fault, ScenarioError, printable, value_text
from thrustlapse.scenario.files.text_file import bytes_of, single_fault
from thrustlapse.scenario.readings.heading import (
    MOST_COLUMNS,
    PLUS_MINUS,
    Column,
    Heading,
    Spread,
    heading_faults,
    headings,
    read_spread,
)
from thrustlapse.scenario.readings.lines import (
    BrokenQuotes,
    decoded,
    records,
    separator_of,
    with_points,
)
from thrustlapse.scenario.units import KINDS, QuantityFault, in_si, number_and_unit, shown

LARGEST_FILE = 20_000_000
"""Bytes of a table that are read at all."""

MOST_ROWS = 200_000
"""Rows of a table; a flight of an hour logged 50 times a second has 180 000."""

LONGEST_CELL = 400
"""Characters of a cell."""

MOST_FAULTS = 500
"""Faults after which reading stops."""

LEAST_SPREAD = 1e-10
"""Spread below this share of the column's range is no spread of any instrument [-]."""

EMPTY_CELLS = frozenset({"", "-", "–", "—"})
"""What people write where nothing was read."""

YES, NO = frozenset({"yes", "y", "true", "1", "x"}), frozenset({"no", "n", "false", "0"})
"""Words of a column of yes and no; an empty cell is no."""



@dataclass(frozen=True, kw_only=True)
class Table:
    """Readings of a file in SI.

    ``values`` and ``spread`` hold one array per quantity column known to this kind of file, shape
    (rows,), NaN where nothing was read or no spread is stated; ``words`` and ``yes`` the columns
    of words and of yes and no, likewise all of them. ``line`` is the line of each row in the file,
    ``given`` the heading as written of each column that is there, ``told`` how ambiguous things
    were read.
    """

    file: str
    line: IntArray
    values: dict[str, Array]
    spread: dict[str, Array]
    words: dict[str, tuple[str, ...]]
    yes: dict[str, BoolArray]
    given: dict[str, str]
    told: tuple[str, ...] = ()

    def fault(self, row: int, name: str, problem: str, accepted: str = "",
              hint: str = "") -> Fault:
        """A fault of one row, for checks that need several columns; ``name`` may be empty."""
        key = f'column "{self.given.get(name, name)}"' if name else ""
        return Fault(file=self.file, line=int(self.line[row]), key=key, value="",
                     problem=problem, accepted=accepted, hint=hint)


def starter(columns: Sequence[Column], file: str) -> str:
    """The commented starter beside this module, with what each column means in its comments."""
    width = max(len(column.heading) for column in columns)
    return resources.files("thrustlapse.scenario.readings").joinpath(file).read_text(
        "utf-8").replace("#   COLUMNS", "\n".join(
            f"#   {column.heading:<{width}}   {column.meaning}" for column in columns))


def read_table(path: str | os.PathLike[str], columns: Sequence[Column], *, noun: str,
               starter_hint: str = "", most_rows: int = MOST_ROWS,
               check: Callable[[Table], Iterable[Fault]] | None = None) -> Table:
    """Table of a file.

    Parameters
    ----------
    path : str or path-like
        A CSV file in UTF-8
    columns : sequence of Column
        What may be in it; a column that is not there gives NaN, no words, or no
    noun : str
        What the file is called in messages, such as "a bench file"
    check : callable, optional
        Further faults that need several columns; told together with the others. It is called
        with whatever could be read, NaN in place of faulty cells

    Raises
    ------
    ScenarioError
        With every fault of the file: line, column, value, what is accepted, a hint.
    """
    where = Path(path)
    data = bytes_of(where, noun=noun, form="in CSV", largest=LARGEST_FILE,
                    too_large=f"too large for {noun}", starter_hint=starter_hint)
    return table_of(decoded(data, str(where), noun), columns, name=str(where), noun=noun,
                    starter_hint=starter_hint, most_rows=most_rows, check=check)


def table_of(text: str, columns: Sequence[Column], *, name: str, noun: str,
             starter_hint: str = "", most_rows: int = MOST_ROWS,
             check: Callable[[Table], Iterable[Fault]] | None = None) -> Table:
    """Table of a text; ``name`` is what messages call its file. Faults as :func:`read_table`."""
    file = printable(name)
    if "\0" in text:
        raise single_fault(name, "not a text file", f"{noun} in CSV, saved as UTF-8")
    separator, skip = separator_of(text)
    found_records = records(text, separator, skip, file)
    faults: list[Fault] = []
    try:
        first = next(found_records, None)
        if first is None:
            raise single_fault(name, "empty", f"{noun} in CSV: headings, then readings",
                               starter_hint)
        line, cells = first
        if separator != ",":
            cells = [with_points(cell) for cell in cells]
        if len(cells) > MOST_COLUMNS:
            raise single_fault(name, f"more than {MOST_COLUMNS} columns",
                               f"at most {MOST_COLUMNS} columns", line=line)
        found = headings(cells, columns, file=file, line=line)
        faults += heading_faults(found)
        reader = _Rows(found, columns, file=file, separator=separator)
        for line, cells in found_records:
            if len(reader.line) >= most_rows:
                faults.append(_at(file, line, key="",
                                  problem=f"more than {most_rows} rows of readings",
                                  accepted=f"at most {most_rows} rows"))
                break
            reader.row(line, cells)
            if len(reader.faults) > MOST_FAULTS:
                break
    except BrokenQuotes as broken:
        raise ScenarioError([*faults, broken.fault]) from None
    faults += reader.all_faults()
    if not reader.line:
        faults.append(_at(file, 0, key="", problem="headings but no readings",
                          accepted="one line for each reading"))
    table = reader.table()
    if check is not None and reader.line:
        faults += check(table)
    if faults:
        raise ScenarioError(faults)
    return table


def _at(file: str, line: int, key: str, problem: str, accepted: str = "", hint: str = "",
        value: str = "") -> Fault:
    return Fault(file=file, line=line, key=key, value=value, problem=problem, accepted=accepted,
                 hint=hint)


class _Rows:
    """Collects the rows of a table and their faults."""

    def __init__(self, found: Sequence[Heading], columns: Sequence[Column], *, file: str,
                 separator: str) -> None:
        self.found, self.columns, self.file, self.separator = found, columns, file, separator
        self.line: list[int] = []
        self.faults: list[Fault] = []
        self.values: dict[str, list[float]] = {}
        self.spread: dict[str, list[float]] = {}
        self.words: dict[str, list[str]] = {}
        self.companions = {one.column.name: place for place, one in enumerate(found)
                           if one.column is not None and one.is_spread}
        self.unitless: set[str] = set()
        self.comma_line = self.point_line = 0
        for one in found:
            if one.column is None or one.is_spread:
                continue
            if one.column.is_quantity:
                self.values[one.column.name], self.spread[one.column.name] = [], []
            else:
                self.words[one.column.name] = []

    def row(self, line: int, cells: list[str]) -> None:
        """Read one record."""
        extra = [cell for cell in cells[len(self.found):] if cell]
        if extra:
            self.faults.append(_at(
                self.file, line, "a cell too many",
                problem=f"{len(cells)} cells under {len(self.found)} headings",
                accepted="one cell for each heading; fewer are read as empty",
                hint="a comma as decimal mark or in a note? write a point, or put the cell in "
                "quotation marks" if self.separator == "," else "", value=value_text(extra[0])))
            return
        cells = cells[:len(self.found)] + [""] * (len(self.found) - len(cells))
        self.line.append(line)
        for place, one in enumerate(self.found):
            if one.column is None:
                if one.text == "" and cells[place]:
                    self._refuse(line, one, value=cells[place], problem="a cell under no heading",
                                 accepted="a heading over every column that is used")
            elif not one.is_spread:
                self._cell(line, one, cells[place], cells)

    def _cell(self, line: int, one: Heading, text: str, cells: list[str]) -> None:
        column = one.column
        assert column is not None
        if len(text) > LONGEST_CELL:
            self._refuse(line, one, value=text, problem=f"longer than {LONGEST_CELL} characters",
                         accepted=f"at most {LONGEST_CELL} characters")
            text = ""
        if column.kind == "words":
            self.words[column.name].append(printable(text))
            return
        if column.kind == "yes or no":
            word = text.casefold()
            if word not in YES | NO | EMPTY_CELLS:
                self._refuse(line, one, value=text, problem="neither yes nor no",
                             accepted='"yes", "no" or empty')
            self.words[column.name].append("yes" if word in YES else "no")
            return
        value, spread = math.nan, None
        if text not in EMPTY_CELLS:
            try:
                value, spread = self._quantity(line, one, text)
            except QuantityFault as fault:
                plain = f", or a plain number in {KINDS[column.kind].unit}"
                self._refuse(
                    line, one, value=text, problem=fault.problem,
                    accepted=fault.accepted.replace(
                        plain, ", or a number in the unit of the heading"),
                    hint=fault.hint)
        self.values[column.name].append(value)
        self.spread[column.name].append(self._spread(line, one, value=value, own=spread,
                                                     cells=cells))

    def _quantity(self, line: int, one: Heading, text: str) -> tuple[float, Spread | None]:
        """Value in SI of a cell, and the spread it states itself."""
        column = one.column
        assert column is not None
        text = self._decimals(line, text)
        main, mark, rest = PLUS_MINUS.sub("±", text).partition("±")
        number, unit = number_and_unit(main.strip(), column.kind)
        own_spread = None
        if mark:
            own_spread = read_spread(rest.strip(), column, unit or one.unit)
            unit = unit or own_spread.unit
        unit = unit or one.unit
        if not unit and one.faulty:
            return math.nan, None
        if not unit and column.needs_unit:
            self.unitless.add(column.name)
            return math.nan, None
        value = in_si(number, unit, column.kind) if unit else number
        slack = 1e-12 * abs(value)
        if not column.low - slack <= value <= column.high + slack:
            side, end = (("below", column.low) if value < column.low else ("above", column.high))
            raise QuantityFault(f"read as {shown(value, column.kind)}: {side} "
                                f"{shown(end, column.kind)}", column.accepted(),
                                f"is {unit} the right unit?" if unit else "")
        return value, own_spread

    def _decimals(self, line: int, text: str) -> str:
        """The text with decimal commas as points, where the file's separator leaves them room."""
        if self.separator == ",":
            return text
        plain = with_points(text)
        if plain != text:
            self.comma_line = self.comma_line or line
        elif re.search(r"[0-9]\.[0-9]", text):
            self.point_line = self.point_line or line
        return plain

    def _spread(self, line: int, one: Heading, value: float, own: Spread | None,
                cells: list[str]) -> float:
        """Standard deviation of a reading: its own, else its neighbour column's, else the
        heading's."""
        column = one.column
        assert column is not None
        stated = own or one.spread
        place = self.companions.get(column.name)
        if own is None and place is not None and cells[place] not in EMPTY_CELLS:
            beside = self.found[place]
            try:
                stated = read_spread(self._decimals(line, cells[place]).lstrip("± "), column,
                                     beside.unit or one.unit)
            except QuantityFault as fault:
                self._refuse(line, beside, value=cells[place], problem=fault.problem,
                             accepted=fault.accepted, hint=fault.hint)
        if stated is None or math.isnan(value):
            return math.nan
        deviation = stated.of(value)
        if 0.0 < deviation < LEAST_SPREAD * min(column.high, 1e6):
            self._refuse(
                line, one, value=cells[self.found.index(one)],
                problem="a spread too small to be one",
                accepted="0 where a quantity is exact, else what the instrument may be off by")
            return math.nan
        return deviation

    def _refuse(self, line: int, one: Heading, value: str, problem: str, accepted: str,
                hint: str = "") -> None:
        self.faults.append(_at(self.file, line, key=f'column "{one.label}"', problem=problem,
                               accepted=accepted, hint=hint, value=value_text(value)))

    def all_faults(self) -> list[Fault]:
        """Faults of the rows, and those that only the whole file shows."""
        late = []
        for one in self.found:
            if one.column is not None and not one.is_spread and one.column.name in self.unitless:
                late.append(_at(self.file, one.line, key=f'column "{one.label}"', problem="no unit",
                                accepted="the unit in brackets in the heading, or in every cell",
                                hint=f'write "{one.column.example_heading()}"'))
        if self.separator != "," and self.comma_line and self.point_line:
            late.append(_at(self.file, max(self.comma_line, self.point_line), "",
                            problem=f"decimal commas (line {self.comma_line}) and decimal points "
                                    f"(line {self.point_line}) in one file",
                            accepted="one decimal mark throughout, and nothing for the thousands"))
        if len(self.faults) > MOST_FAULTS:
            late.append(_at(self.file, self.faults[-1].line, key="",
                            problem="reading stopped here: very many faults",
                            accepted="mend those above first"))
        return [*self.faults, *late]

    def table(self) -> Table:
        """What was read, with every known column."""
        rows = len(self.line)
        nothing = np.full(rows, np.nan)
        quantities = [column.name for column in self.columns if column.is_quantity]
        told = ((f"a comma in a number marks the decimals (line {self.comma_line})",)
                if self.comma_line else ())
        return Table(
            file=self.file, line=np.array(self.line, dtype=np.int64), told=told,
            values={name: np.array(self.values.get(name, nothing), dtype=float)
                    for name in quantities},
            spread={name: np.array(self.spread.get(name, nothing), dtype=float)
                    for name in quantities},
            words={column.name: tuple(self.words.get(column.name, [""] * rows))
                   for column in self.columns if column.kind == "words"},
            yes={column.name: np.array(self.words.get(column.name, ["no"] * rows)) == "yes"
                 for column in self.columns if column.kind == "yes or no"},
            given={one.column.name: one.label for one in self.found
                   if one.column is not None and not one.is_spread})
