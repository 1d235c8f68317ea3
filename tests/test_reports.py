"""The committed reports and the README's numbers follow from the code as it is."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

import thrustlapse as tl
from tests.refresh_reports import (
    FILLED,
    FLIGHT_REPORT,
    ROOT,
    answer,
    blocks,
    filled,
    flight_log_study,
    report_folder,
    scenarios,
    searched,
)
from thrustlapse.report.flight_log.page import write_log
from thrustlapse.report.search.files import search_text

MAKE = "make them anew: python -m tests.refresh_reports"

SAME = 1e-6
"""Relative difference that another processor or library version may make; not a physical one."""


def differences(one: object, other: object, path: str = "") -> list[str]:
    """Where two JSON values differ by more than rounding."""
    if isinstance(one, dict) and isinstance(other, dict):
        keys = sorted(set(one) | set(other))
        return [found for key in keys for found in (
            differences(one[key], other[key], f"{path}/{key}") if key in one and key in other
            else [f"{path}/{key} is only in one"])]
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return [f"{path}: {len(one)} against {len(other)} entries"]
        numbers = [isinstance(value, int | float) and not isinstance(value, bool)
                   for value in (*one, *other)]
        if numbers and all(numbers):
            scale = max(np.abs(one).max(), np.abs(other).max(), 1e-9)
            worst = float(np.abs(np.subtract(one, other)).max())
            return [] if worst <= SAME * scale else [f"{path}: differs by {worst:g} of {scale:g}"]
        return [found for place, pair in enumerate(zip(one, other, strict=True))
                for found in differences(*pair, f"{path}/{place}")]
    if isinstance(one, float) and isinstance(other, float):
        return [] if one == pytest.approx(other, rel=SAME, abs=1e-9) else [f"{path}: {one} {other}"]
    return [] if one == other else [f"{path}: {one!r} {other!r}"]


@pytest.mark.parametrize("scenario", scenarios(), ids=lambda path: path.stem)
def test_a_committed_report_is_fresh(scenario: Path, tmp_path: Path) -> None:
    folder = report_folder(scenario)
    kept = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    tl.write_results(answer(scenario), tmp_path / "results.json")
    made = json.loads((tmp_path / "results.json").read_text(encoding="utf-8"))
    noise = [found for found in differences(kept, made) if "residual" not in found]
    assert not noise[:5], MAKE
    assert tl.read_scenario(scenario).digest in json.dumps(kept), MAKE
    assert {"index.html", "curves.csv"} <= {path.name for path in folder.iterdir()}


NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def told(page: str) -> tuple[str, list[float]]:
    """Words and numbers of a page, its drawings and the round-off of its balances left out."""
    text = re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL)
    text = re.sub(r"The energy balance of every operating point[^<]*", "", text)
    return NUMBER.sub("#", text), [float(one) for one in NUMBER.findall(text)]


@pytest.mark.parametrize("scenario", scenarios(), ids=lambda path: path.stem)
def test_a_committed_page_says_what_would_be_said_now(scenario: Path, tmp_path: Path) -> None:
    """Words alike, printed numbers within one in their last digits; figures by their words."""
    kept = report_folder(scenario)
    read = tl.read_scenario(scenario)
    tl.write_report(answer(scenario), tmp_path / "made", scenario_text=read.text,
                    live=tl.live_table(read, answer(scenario)))
    old, new = (told((folder / "index.html").read_text(encoding="utf-8"))
                for folder in (kept, tmp_path / "made"))
    assert old[0] == new[0], MAKE
    np.testing.assert_allclose(old[1], new[1], rtol=0.01, atol=0.011, err_msg=MAKE)
    figures = [{path.name for path in (folder / "figures").iterdir()}
               for folder in (kept, tmp_path / "made")]
    assert figures[0] == figures[1], MAKE


@pytest.mark.parametrize("scenario", [path for path in scenarios()
                                      if tl.read_scenario(path).searches],
                         ids=lambda path: path.stem)
def test_a_committed_search_is_fresh(scenario: Path) -> None:
    folder = report_folder(scenario) / "search"
    kept = json.loads((folder / "search.json").read_text(encoding="utf-8"))
    made = json.loads(search_text(searched(scenario)))
    # of two designs that are equal to rounding either may be the best
    noise = [found for found in differences(kept, made)
             if not any(word in found for word in ("design_number", "settings", "front"))]
    assert not noise[:5], MAKE
    assert {"index.html", "best.csv", "figures"} <= {path.name for path in folder.iterdir()}
    # an example of a search: what it calls best is not the end of a range
    assert "best designs lie at the" not in (folder / "index.html").read_text(encoding="utf-8")


def test_the_committed_report_of_the_flight_is_fresh(tmp_path: Path) -> None:
    write_log(flight_log_study(), tmp_path)
    kept, made = (json.loads((folder / "log.json").read_text(encoding="utf-8"))
                  for folder in (FLIGHT_REPORT, tmp_path))
    assert not differences(kept, made)[:5], MAKE
    old, new = (told((folder / "index.html").read_text(encoding="utf-8"))
                for folder in (FLIGHT_REPORT, tmp_path))
    assert old[0] == new[0], MAKE


@pytest.mark.parametrize("page", FILLED, ids=lambda path: path.stem)
def test_a_written_page_is_filled_with_fresh_numbers(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert filled(text, blocks()) == text, MAKE


def test_the_readme_shows_files_that_exist() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for link in re.findall(r"\]\(([^)#]+)\)", readme):
        if not link.startswith("http"):
            assert (ROOT / link).exists(), link


def test_the_readme_opens_with_the_job() -> None:
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# thrustlapse"
    assert "blower" in lines[2]


def test_the_readme_is_short() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8")) <= 6000
