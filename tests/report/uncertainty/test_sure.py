"""How sure we are, on the page, in the verdict and in the files."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.equal import equal_results
from thrustlapse.distributions import Sampling
from thrustlapse.report.comparison.captions import PLOTS, alt_text, caption
from thrustlapse.report.comparison.figures import draw_figures
from thrustlapse.report.comparison.for_a_paper import methods_paragraph
from thrustlapse.report.comparison.results_file import read_results, write_results
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.comparison.write_up import write_report
from thrustlapse.report.number_format import number
from thrustlapse.report.uncertainty.words import BY_CHANCE, in_hundred
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study import sensitivity as drivers
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.sampling import SCRAMBLES
from thrustlapse.study.uncertainty_results import Chance


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
    assert f"in {share} draws of what is not known exactly" in told.headline
    text = " ".join(told.sentences)
    assert "the aircraft gets there in" in text
    assert "What drives the lead in top speed of the propeller over the fan most is" in text
    assert "not in these numbers" not in text


def test_brackets_of_the_paragraph_for_a_paper_are_the_intervals(answer: Comparison) -> None:
    assert answer.uncertainty is not None
    text = methods_paragraph(answer)
    for name, one in answer.uncertainty.candidates.items():
        low, high = number(one.static_thrust.low), number(one.static_thrust.high)
        assert re.search(rf"{re.escape(name)} [\d.]+ N \[{low}, {high}\]", text), name
    assert f"nine in ten of {answer.uncertainty.samples} draws" in text


@pytest.mark.parametrize(("share", "words"), [
    (0.0, "none"), (1.0, "all"), (0.93, "93 of 100"), (0.004, "fewer than 1 of 100"),
    (0.998, "more than 99 of 100")])
def test_a_share_is_never_rounded_to_certainty(share: float, words: str) -> None:
    assert in_hundred(Chance(share=share, error=0.0)) == words


def test_what_may_be_chance_is_known_from_few_scrambles() -> None:
    """Student's t, by SciPy: the share that three deviations of a normal error hold."""
    assert stats.t(SCRAMBLES - 1).ppf(stats.norm.cdf(3.0)) == pytest.approx(BY_CHANCE, abs=0.005)


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


@pytest.mark.parametrize("name", ["chances", "drivers", "power_band", "thrust", "lapse"])
@pytest.mark.parametrize("long_names", [False, True])
def test_text_of_these_figures_stays_inside_and_apart(answer: Comparison, name: str,
                                                      long_names: bool) -> None:
    made = renamed(answer) if long_names else answer
    figure = PLOTS[name].draw(made)
    assert figure is not None
    figure.draw_without_rendering()
    texts = [*figure.texts]
    for axes in figure.axes:
        texts += [*axes.texts, axes.title, axes.xaxis.label, axes.yaxis.label, axes._left_title,
                  *axes.get_yticklabels()]
    boxes = [text.get_window_extent() for text in texts
             if text.get_text().strip() and text.get_visible()]
    for box in boxes:
        assert box.x0 >= -1.0
        assert box.x1 <= figure.bbox.x1 + 1.0
    titles = [axes._left_title.get_window_extent() for axes in figure.axes]
    inside = [text.get_window_extent() for axes in figure.axes for text in axes.texts]
    assert not [1 for one in titles for other in inside
                if one.shrunk(0.9, 0.8).overlaps(other.shrunk(0.9, 0.8))]


def renamed(comparison: Comparison) -> Comparison:
    """The same with names as long as a scenario allows."""
    def long(name: str) -> str:
        return f"{name} of the second build"[:40]

    study = comparison.uncertainty
    assert study is not None
    pairs = tuple(replace(pair, first=long(pair.first), second=long(pair.second))
                  for pair in study.pairs)
    drives = tuple(replace(one, answer=one.answer.replace("fan", long("fan")),
                           drivers=tuple(replace(each, key=each.key.replace("fan", long("fan")))
                                         for each in one.drivers)) for one in study.drivers)
    return replace(
        comparison, crossovers=(), candidates={
            long(name): replace(one, name=long(name))
            for name, one in comparison.candidates.items()},
        uncertainty=replace(study, pairs=pairs, drivers=drives, candidates={
            long(name): one for name, one in study.candidates.items()}))


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
    assert "not in these numbers" in " ".join(verdict(plain).sentences)
