"""Evil texts in every place that takes one: text on the page, no formula in a CSV, no way out."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.report.hostile_text import outcome
from thrustlapse.report.csv_cells import FORMULA_SIGNS, remark
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text


@pytest.mark.parametrize("number", range(7))
def test_what_is_written_is_harmless(number: int, tmp_path: Path) -> None:
    """One number for each command: compare, machine, bench fit, log explain, search, check, new."""
    assert outcome(number, tmp_path).split(" ")[-1] in ("done", "refused")


@pytest.mark.parametrize("text", ["a,=1+1", "a, -1", "a\n=1", "a;@x", 'a","=1', "=1", "a\u2028=1"])
def test_a_remark_holds_no_formula_however_it_is_split(text: str) -> None:
    line = remark(text)
    assert line.startswith("# ")
    assert len(line.splitlines()) == 1
    for separator in ",;":
        for cell in next(csv.reader([line], delimiter=separator)):
            assert not cell.lstrip().startswith(FORMULA_SIGNS)


@pytest.mark.parametrize("letter", ["\\u001b", "\\u0000", "\\u007f", "\\u0085x\\u009b", "\\ufffe"])
def test_a_character_that_is_no_text_is_refused(letter: str) -> None:
    first = next(line for line in starter_text().splitlines() if line.startswith("title"))
    with pytest.raises(ScenarioError, match=r"title.*\n?.*no part of any text"):
        read_text(starter_text().replace(first, f'title = "a{letter}"'))
