"""A table as plain text cells: the page and the terminal draw it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

NONE = "–"
"""What is in a cell without a value."""


def or_none(value: float, said: Callable[[float], str]) -> str:
    """A number in words, or :data:`NONE`."""
    return said(value) if math.isfinite(value) else NONE


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table: what it shows, column heads, and rows whose first cell is their head."""

    name: str
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
