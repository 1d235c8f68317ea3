"""Markdown of generated pages: headings, tables, code that cannot break out of its place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def cell(text: str) -> str:
    """Text that stands in a table or a sentence: on one line, nothing in it read as markup."""
    flat = " ".join(text.split())
    for mark in "\\`*_{}[]<>|$#":
        flat = flat.replace(mark, "\\" + mark)
    return flat


def code(text: str) -> str:
    """Text as code, also where it holds a stroke that would end a cell."""
    fence = "``" if "`" in text else "`"
    return f"{fence}{' '.join(text.split())}{fence}".replace("|", "\\|")


def heading(text: str, level: int = 1) -> str:
    """A heading with its blank line."""
    return f"{'#' * level} {text}\n"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of ready cells, in a frame that scrolls by itself on a narrow screen."""
    lines = [f"| {' | '.join(head)} |", f"| {' | '.join('---' for _ in head)} |"]
    lines += [f"| {' | '.join(row)} |" for row in rows]
    return "\n".join(lines)


def block(text: str, language: str = "text") -> str:
    """Text as it stands, in a frame."""
    return f"````{{code-block}} {language}\n{text.rstrip()}\n````\n"
