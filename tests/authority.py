"""Published values the tests check against, read from ``tests/authorities/*.csv``.

Each file begins with ``# source:`` lines saying where its numbers were read, and says what they
are worth in a ``status`` column or a ``# status:`` line:

    R  read in a page or standard            R2  read in somebody's copy
    C  a textbook's worked example, read in a public companion solution
    F  inputs and formula read, answer evaluated from them
    M  book value from memory                X   closed form of a cited formula, evaluated
    D  digitised from a figure               T   a made-up case, solved by brute force elsewhere

    from tests.authority import rows

    @pytest.mark.parametrize("row", rows("nozzle_examples"), ids=str)
    def test_...(row):
        assert mdot == pytest.approx(row["mdot_kg_s"], abs=row.half_unit("mdot_kg_s"))
"""

from __future__ import annotations

import csv
from decimal import Decimal, InvalidOperation
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

FOLDER = Path(__file__).with_name("authorities")


class Row(dict[str, Any]):
    """One line of a table: column -> number, text, or None where the cell is blank.

    ``printed`` keeps the text of every cell, so that a tolerance can follow its digits.
    """

    def __init__(self, printed: dict[str, str]) -> None:
        self.printed = {key: text.strip() for key, text in printed.items()}
        super().__init__({key: _value(text) for key, text in self.printed.items()})

    def __str__(self) -> str:
        return str(next(iter(self.printed.values())))

    def half_unit(self, column: str) -> float:
        """Half a unit in the last printed digit of a cell."""
        exponent = Decimal(self.printed[column]).as_tuple().exponent
        assert isinstance(exponent, int)
        return 0.5 * 10.0**exponent


@cache
def _read(name: str) -> tuple[tuple[str, ...], tuple[Row, ...]]:
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    header = tuple(line.lstrip("# ") for line in lines if line.startswith("#"))
    table = [line for line in lines if line.strip() and not line.startswith("#")]
    read = tuple(Row(line) for line in csv.DictReader(table, strict=True))
    if not any(line.startswith("source:") for line in header):
        raise ValueError(f"{name}.csv does not name its source")
    if not any(line.startswith("status:") for line in header) and "status" not in read[0]:
        raise ValueError(f"{name}.csv does not say what its numbers are worth")
    return header, read


def rows(name: str) -> list[Row]:
    """All lines of ``authorities/<name>.csv``."""
    return list(_read(name)[1])


def header(name: str) -> tuple[str, ...]:
    """Comment lines of a table: ``source: ...``, ``status: ...``, ``tolerance: ...``, notes."""
    return _read(name)[0]


def row(name: str, key: str) -> Row:
    """The line whose first column is ``key``."""
    found = [line for line in rows(name) if str(line) == key]
    if len(found) != 1:
        raise KeyError(f"{name}.csv has {len(found)} lines called {key!r}")
    return found[0]


def column(name: str, key: str) -> np.ndarray:
    """One column as floats, NaN where a cell is blank."""
    return np.array([np.nan if line[key] is None else line[key] for line in rows(name)], float)


def _value(text: str) -> float | str | None:
    if not text:
        return None
    try:
        return float(Decimal(text))
    except InvalidOperation:
        return text
