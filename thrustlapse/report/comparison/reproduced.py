"""A report made again: its results file as kept against a comparison, number by number."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from thrustlapse.report.comparison.results_file import read_results, results_text
from thrustlapse.report.number_format import number
from thrustlapse.study.comparison import Comparison

SAME = 1e-9
"""Relative difference up to which two numbers are the same (judgement: processors and libraries
round differently in the last digits, and searches end within 1e-10 or so)."""

APART = ("version", "keys", "verdict", "methods")
"""Parts of the file that are words about its numbers, and the version itself."""

MOST_SHOWN = 10


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Where two files differ: the place, as keys joined by points, and what stands there."""

    place: str
    kept: Any
    made: Any

    @property
    def relative(self) -> float:
        """Difference over the larger of the two [-]; infinite where they are no two numbers."""
        if not (_finite(self.kept) and _finite(self.made)):
            return math.inf
        return float(abs(self.made - self.kept) / max(abs(self.kept), abs(self.made)))


@dataclass(frozen=True, kw_only=True)
class Reproduction:
    """``numbers`` is how many were held against each other; the greatest difference first."""

    numbers: int
    differences: tuple[Difference, ...]


def kept_results(path: Path) -> tuple[Path, Comparison]:
    """The results file of a report, given that or its folder, and the comparison in it.

    Raises
    ------
    ReportError
        If it cannot be read, or is no such file.
    """
    file = path / "results.json" if path.is_dir() else path
    return file, read_results(file)


def held_against(file: Path, made: Comparison) -> Reproduction:
    """Every number and word of a results file as kept, against a comparison made anew."""
    return held_together(json.loads(file.read_text(encoding="utf-8")),
                         json.loads(results_text(made)))


def held_together(kept: dict[str, Any], made: dict[str, Any]) -> Reproduction:
    """Two documents as ``results.json`` has them."""
    pairs = list(_pairs("", {name: one for name, one in kept.items() if name not in APART},
                        {name: one for name, one in made.items() if name not in APART}))
    found = [one for one in pairs if not _same(one.kept, one.made)]
    return Reproduction(numbers=sum(_finite(one.kept) for one in pairs), differences=tuple(
        sorted(found, key=lambda one: -one.relative)))


def _pairs(place: str, kept: Any, made: Any) -> Iterator[Difference]:
    """Everything that stands at the same place of both; what stands in one alone is a pair too."""
    if isinstance(kept, dict) and isinstance(made, dict):
        for name in dict.fromkeys((*kept, *made)):
            yield from _pairs(f"{place}.{name}".lstrip("."), kept.get(name), made.get(name))
    elif isinstance(kept, list) and isinstance(made, list) and len(kept) == len(made):
        for count, (one, other) in enumerate(zip(kept, made, strict=True)):
            yield from _pairs(f"{place}.{count}", one, other)
    else:
        yield Difference(place=place, kept=kept, made=made)


def _finite(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _same(kept: Any, made: Any) -> bool:
    if _finite(kept) and _finite(made):
        return bool(math.isclose(kept, made, rel_tol=SAME, abs_tol=0.0))
    return bool(kept == made)


def lines(found: Reproduction) -> list[str]:
    """What was found, for a terminal."""
    if not found.differences:
        return [f"{found.numbers} numbers held against the report's: all the same"]
    shown = [f"  {one.place}: {_said(one.kept)}, now {_said(one.made)}"
             for one in found.differences[:MOST_SHOWN]]
    many = len(found.differences)
    told = "one place differs" if many == 1 else f"{many} places differ"
    return [f"{told}, of {found.numbers} numbers:", *shown,
            *([f"  and {many - len(shown)} more"] if many > len(shown) else [])]


def _said(value: Any) -> str:
    if _finite(value):
        return number(value, 12)
    text = str(value)
    return "no value" if value is None else text if len(text) <= 60 else f"{text[:60]}..."
