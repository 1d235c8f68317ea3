"""How sure we are, on the page, in the verdict and in the files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from thrustlapse.chance import Sampling
from thrustlapse.report.captions import alt_text, caption
from thrustlapse.report.figures import draw_figures
from thrustlapse.report.results_file import equal_results, read_results, write_results
from thrustlapse.report.sure_words import in_hundred
from thrustlapse.report.tables import all_tables
from thrustlapse.report.verdict import verdict
from thrustlapse.report.write_up import write_report
from thrustlapse.scenario.read import read_scenario
from thrustlapse.study import drivers
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.uncertain import Chance


@pytest.fixture(scope="module")
def answer() -> Comparison:
    patch = pytest.MonkeyPatch()
    patch.setattr(drivers, "DRAWS", 16)
    scenario = read_scenario("scenarios/how_sure.toml")
    made = compare(replace(scenario, sampling=Sampling(samples=128, seed=2, airspeeds=30)))
    patch.undo()
    return made


def test_results_with_uncertainty_load_back_equal(answer: Comparison, tmp_path: Path) -> None:
    write_results(answer, tmp_path / "results.json")
    assert answer.uncertainty is not None
    assert equal_results(read_results(tmp_path / "results.json"), answer)


def test_the_verdict_speaks_in_draws_of_a_hundred(answer: Comparison) -> None:
    told = verdict(answer)
    study = answer.uncertainty
    assert study is not None
    share = in_hundred(study.candidates["propeller"].fastest)
    assert f"in {share} draws with the stated spreads" in told.headline
    text = " ".join(told.sentences)
    assert "the aircraft gets there in" in text
    assert "What drives the lead in top speed of propeller over fan most is" in text
    assert "not yet carried into these numbers" not in text


@pytest.mark.parametrize(("share", "words"), [
    (0.0, "none"), (1.0, "all"), (0.93, "93 of 100"), (0.004, "fewer than 1 of 100"),
    (0.998, "more than 99 of 100")])
def test_a_share_is_never_rounded_to_certainty(share: float, words: str) -> None:
    assert in_hundred(Chance(share=share, error=0.0)) == words


def test_every_figure_of_doubt_is_drawn_and_told(answer: Comparison) -> None:
    drawn = {one.name: one for one in draw_figures(answer)}
    for name in ("chances", "drivers", "power_band"):
        assert drawn[name].caption
        assert any(letter.isdigit() for letter in drawn[name].alt)
    assert "nine draws in ten" in caption(answer, "thrust")
    assert "fan beats propeller in" in alt_text(answer, "chances")
    # the bands are those of the study
    study = answer.uncertainty
    assert study is not None
    axes = drawn["thrust"].figure.axes[0]
    highest = max(float(np.nanmax(path.vertices[:, 1])) for one in axes.collections
                  for path in one.get_paths())
    assert highest >= float(np.nanmax(
        study.candidates["propeller"].bands["installed_thrust"].high)) - 1e-9


def test_the_page_has_the_section_and_its_tables(answer: Comparison, tmp_path: Path) -> None:
    page = write_report(answer, tmp_path / "out", scenario_text="").read_text(encoding="utf-8")
    assert "How sure are we" in page
    tables = all_tables(answer)
    assert len(tables["sure"].rows) == 3
    assert sum(int(row[-1]) for row in tables["sure_failures"].rows
               if row[0] == "fan" and "map" not in row[1]) == 128
    assert "seed 2" in page


def test_without_draws_nothing_of_it_is_there() -> None:
    scenario = read_scenario("scenarios/how_sure.toml")
    plain = compare(replace(scenario, sampling=Sampling(samples=0)))
    assert plain.uncertainty is None
    assert not [name for name in all_tables(plain) if name.startswith(("sure", "driver"))]
    assert not {"chances", "drivers", "power_band"} & {one.name for one in draw_figures(plain)}
    assert "not yet carried into these numbers" in " ".join(verdict(plain).sentences)
