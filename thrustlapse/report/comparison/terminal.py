"""Results as lines for a terminal: a comparison in brief, and one operating point as a table."""

from __future__ import annotations

import math
import textwrap
from typing import Any

from thrustlapse.glossary import quantity, shown
from thrustlapse.propulsor.operating_point import MEANING, Flag, OperatingPoint
from thrustlapse.report.comparison.results_file import FORM
from thrustlapse.report.comparison.tables import at_a_glance
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.findings_text import grouped
from thrustlapse.report.number_format import amount, number
from thrustlapse.report.records import encode_record
from thrustlapse.study.comparison import Comparison

WIDTH = 92

CAUTION = ("An estimate: it clears nothing to run and nothing to fly. Stand out of the plane of "
           "rotation, shield it, and read the cautions on the page.")

POINT_WORDS = shown("point")
"""Rows of the table of one operating point, in order; those without a value are left out."""


def summary_lines(comparison: Comparison) -> list[str]:
    """What the ``compare`` command prints: verdict, candidates, findings that need action."""
    spoken = verdict(comparison)
    lines = [*_wrapped(spoken.headline), "", *_wrapped(spoken.remember), "",
             *_candidates(comparison), ""]
    for subject, texts in spoken.groups:
        lines += [subject, *(line for text in texts for line in _wrapped(text, "  - ", "    "))]
    entries = grouped(comparison.findings)
    serious = [one for one in entries if one.rank != "note"]
    if serious:
        lines.append("")
    for one in serious:
        told = "; ".join(f"{subject}: {text}" for subject, text in one.parts)
        change = f" What to change: {one.change}." if one.change else ""
        lines += _wrapped(f"{told}{one.rest}.{change}", f"  {one.rank:5}  ", " " * 9)
    notes = len(entries) - len(serious)
    if notes:
        lines.append(f"  and {notes} note{'s' if notes > 1 else ''} on the page")
    return [*lines, "", *_wrapped(CAUTION)]


def _candidates(comparison: Comparison) -> list[str]:
    table = at_a_glance(comparison)
    rows = [table.heads, *table.rows]
    widths = [max(len(row[place]) for row in rows) for place in range(len(table.heads))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in rows]


def _wrapped(text: str, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then,
                         break_long_words=False, break_on_hyphens=False)


def point_record(point: OperatingPoint, candidate: str) -> dict[str, Any]:
    """One operating point as ``point --json`` prints it, with the keys of ``results.json``."""
    return {"candidate": candidate, **encode_record(point, FORM)}


def point_table(point: OperatingPoint, candidate: str) -> list[str]:
    """Lines of a table of one operating point: quantity, value, meaning; then notes and faults.

    Raises
    ------
    ValueError
        For more than one operating point.
    """
    if point.net_thrust.size != 1:
        raise ValueError(f"a table shows one operating point, not {point.net_thrust.size}")
    lines = [candidate]
    for words, value, meaning in point_rows(point):
        lines += _wrapped(meaning, f"  {words:22} {value:>14}   ", " " * 42)
    limit = point.drive_limit.item()
    lines.append(f"  {'limited by':22} {limit:>14}")
    lines.append(f"  {'severity':22} {point.severity.item():>14}")
    for flag in Flag:
        if bool(point.flagged(flag).item()):
            lines += _wrapped(f"{flag.words}: {MEANING[flag]}", "  - ", "    ")
    return lines


def point_rows(point: OperatingPoint) -> list[tuple[str, str, str]]:
    """Quantity, value and meaning of what one operating point has a value of."""
    known = [(quantity(name), name, getattr(point, name).item()) for name in POINT_WORDS]
    return [(word.words, amount(name, value, 4) if word.display_unit else number(value, 4),
             word.meaning) for word, name, value in known if math.isfinite(value)]
