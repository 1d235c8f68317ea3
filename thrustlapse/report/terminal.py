"""Results as lines for a terminal: a comparison in brief, and one operating point as a table."""

from __future__ import annotations

from typing import Any

from thrustlapse.glossary import display, quantity, unit_text
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.report.results_file import encode_record
from thrustlapse.report.verdict import verdict
from thrustlapse.study.comparison import Comparison


def summary_lines(comparison: Comparison) -> list[str]:
    """What the ``compare`` command prints: headline, table, findings that say stop."""
    return [verdict(comparison).headline]


def point_record(point: OperatingPoint, candidate: str) -> dict[str, Any]:
    """One operating point as ``point --json`` prints it, with the keys of ``results.json``."""
    return {"candidate": candidate, **encode_record(point)}


def point_table(point: OperatingPoint, candidate: str) -> list[str]:
    """Lines of a table of one operating point."""
    lines = [candidate]
    for name in ("net_thrust", "installed_thrust", "electrical_power"):
        word = quantity(name)
        value = display(name, float(getattr(point, name)))
        lines.append(f"{word.words:24} {value:.4g} {unit_text(word.display_unit)}")
    return lines
