"""A table as plain text cells: the page and the terminal draw it."""

from __future__ import annotations

from dataclasses import dataclass

NONE = "–"
"""What stands in a cell without a value."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table: what it shows, column heads, and rows whose first cell is their head."""

    name: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
