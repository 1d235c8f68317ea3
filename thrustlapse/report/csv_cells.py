"""One rule for text in every CSV that is written: no spreadsheet takes any of it for a formula.

A text that begins with ``=``, ``+``, ``-`` or ``@`` gets an apostrophe before it, the spreadsheet's
mark of a text; tabs and line ends become spaces, so that no text begins a cell of its own.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

FORMULA_SIGNS = ("=", "+", "-", "@")
"""First letters a spreadsheet takes for a formula."""

_NO_BREAKS = re.compile(r"[\s\x00-\x1f\x7f\x85\u2028\u2029]")

_NEW_CELL = re.compile(r"([,;|]\s*)(?=[=+\-@])")
"""Where a spreadsheet that splits a remark would begin a cell with a formula."""


def plain_cell(text: str) -> str:
    """Text on one line that no spreadsheet takes for a formula: an apostrophe precedes a sign."""
    text = _NO_BREAKS.sub(" ", text)
    return "'" + text if text.lstrip().startswith(FORMULA_SIGNS) else text


def remark(text: str) -> str:
    """A line of remarks above a table, with its ``#`` and line end.

    It is no record of the table and is not quoted, so a program that knows no remarks splits it at
    its commas: what begins with a sign after one gets an apostrophe too.
    """
    plain = _NO_BREAKS.sub(" ", text).replace('"', "'")
    return "# " + _NEW_CELL.sub(r"\1'", plain) + "\n"


def csv_text(heads: Sequence[str], rows: Iterable[Iterable[Any]], *, remarks: Iterable[str] = (),
             number: Callable[[float], str] = repr) -> str:
    """A table as comma-separated values: texts plain, an empty cell where there is no value."""
    def cell(value: Any) -> str:
        if isinstance(value, str):
            return plain_cell(value)
        if isinstance(value, float):
            return number(float(value)) if math.isfinite(value) else ""
        return str(value)

    text = io.StringIO(newline="")
    text.writelines(map(remark, remarks))
    table = csv.writer(text, lineterminator="\n")
    table.writerow(heads)
    table.writerows([cell(value) for value in row] for row in rows)
    return text.getvalue()
