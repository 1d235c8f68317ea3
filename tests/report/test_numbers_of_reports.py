"""Every number of every committed report is possible: none is NaN, no ratio leaves its bounds."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from thrustlapse.propulsor.bounds import RATIOS

REPORTS = sorted(Path(__file__).parents[2].joinpath("reports").rglob("results.json"))
ROUND_OFF = 1e-9


def numbers(part: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], float]]:
    if isinstance(part, dict):
        for key, value in part.items():
            yield from numbers(value, (*path, key))
    elif isinstance(part, list):
        for value in part:
            yield from numbers(value, path)
    elif isinstance(part, int | float) and not isinstance(part, bool):
        yield path, float(part)


def refuse(word: str) -> float:
    raise AssertionError(f"{word} is no number")


@pytest.mark.parametrize("path", REPORTS, ids=lambda path: path.parent.name)
def test_every_number_of_a_committed_report_is_possible(path: Path) -> None:
    """History: a duty of 257 % and an overall efficiency of 9.7e15 % stood in a report."""
    found = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)
    seen = set()
    for where, value in numbers(found):
        low, high = RATIOS.get(where[-1], (float("-inf"), float("inf")))
        assert low - ROUND_OFF <= value <= high + ROUND_OFF, (where, value)
        seen |= {where[-1]} & set(RATIOS)
    assert {"overall_efficiency", "propulsive_efficiency"} <= seen


def test_there_are_reports() -> None:
    assert len(REPORTS) >= 6
