"""A search's page, words and figures say what the search found: plotted data, not pixels."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import Rectangle

from tests.searches import MACHINES, SAMPLED, SEARCH
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.report.search.figures import (
    draw_search,
    figure_envelopes,
    figure_front,
    figure_settings,
    figure_winners,
)
from thrustlapse.report.search.files import search_text, write_netcdf, write_search
from thrustlapse.report.search.words import (
    all_tables,
    conditions,
    headline,
    sentences,
    terminal_lines,
)
from thrustlapse.scenario.files.read import read_text
from thrustlapse.search import search_scenario
from thrustlapse.study.search.bits import ALWAYS, mask
from thrustlapse.study.search.summary import SearchResult
from thrustlapse.study.search.winners import NOBODY


def searched(folder: Path, search: str) -> SearchResult:
    return search_scenario(read_text(MACHINES + search), folder / "out")[1]


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> SearchResult:
    return searched(tmp_path_factory.mktemp("search"), SEARCH)


def test_the_envelopes_are_the_best_designs(result: SearchResult) -> None:
    figure = figure_envelopes(result)
    assert figure is not None
    for axes, cell in zip(figure.axes, (0, 1), strict=True):
        drawn = [line for line in axes.lines if len(line.get_xdata()) == 3]
        for line, one in zip(drawn, result.found.values(), strict=True):
            assert np.array_equal(line.get_ydata(), one.best[cell], equal_nan=True)


def test_the_plane_is_hatched_where_it_is_too_close_to_call(result: SearchResult) -> None:
    assert result.winners is not None
    figure = figure_winners(result)
    assert figure is not None
    hatched = [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle)]
    assert len(hatched) == np.count_nonzero(result.winners.tie)
    meshes = figure.axes[0].collections
    filled = sum(int(np.ma.count(mesh.get_array())) for mesh in meshes)
    assert filled == np.count_nonzero(result.winners.winner >= 0)


def test_settings_are_those_of_the_best_designs(result: SearchResult) -> None:
    figure = figure_settings(result)
    assert figure is not None
    axes = next(axes for axes in figure.axes if axes.get_title(loc="left") == "nozzle")
    millimetres = axes.lines[0].get_ydata()
    assert millimetres == pytest.approx(1e3 * result.found["blower"].settings["nozzle"][0])


def test_the_front_falls(result: SearchResult) -> None:
    front = result.found["blower"].front
    assert front is not None
    assert np.all(np.diff(front.answers["static_thrust"]) < 0.0)
    assert np.all(np.diff(front.answers["top_speed"]) > 0.0)
    figure = figure_front(result)
    assert figure is not None
    line = figure.axes[0].lines[0]
    assert np.array_equal(np.sort(line.get_xdata()), np.sort(front.answers["static_thrust"]))


def test_words_carry_the_numbers(result: SearchResult) -> None:
    told = sentences(result)
    assert result.winners is not None
    for cell, power in enumerate(("200 W", "400 W")):
        line = next(line for line in told if f"ower {power}" in line)
        for stretch in result.winners.stretches[cell]:
            assert (stretch.kind or "no design that counts makes thrust") in line
    blower = next(line for line in told if line.startswith("blower"))
    one = result.found["blower"]
    assert f"{one.designs:,} designs" in blower
    assert f"{one.left:,} count" in blower
    assert "same electrical power" in " ".join(conditions(result))


def test_what_is_left_out_is_counted(tmp_path: Path) -> None:
    """Every operating point either counts or has a cause that leaves it out."""
    text = MACHINES + SEARCH + '[[search.bounds]]\nanswer = "current"\nat_most = "12 A"\n'
    store, result = search_scenario(read_text(text), tmp_path / "out")
    masked = mask({*ALWAYS, *store.spec.leave_out})
    for name, one in result.found.items():
        bits = np.concatenate([found.causes for chunk, found in store.results()
                               if chunk.candidate == name])
        assert one.counted == bits.size == one.designs * 3
        assert one.left == np.count_nonzero((bits & masked) == 0)
    table = all_tables(result)["causes"]
    row = next(row for row in table.rows if row[0] == "outside a bound")
    assert row[1] == "left out"
    assert row[2] == f"{result.found['blower'].causes['outside a bound']:,}"
    assert result.found["blower"].causes["outside a bound"] > 0


def test_the_same_search_gives_the_same_page(result: SearchResult, tmp_path: Path) -> None:
    pages = []
    for name in ("one", "two"):
        page = write_search(result, tmp_path / name, scenario_text="title = 1 < 2")
        pages.append(page.read_text(encoding="utf-8"))
    assert pages[0] == pages[1]
    assert "title = 1 &lt; 2" in pages[0]
    assert "<script" not in pages[0]
    with (tmp_path / "one" / "front.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    front = result.found["blower"].front
    assert front is not None
    assert [float(row["top_speed_m_s"]) for row in rows if row["candidate"] == "blower"] == \
        pytest.approx(front.answers["top_speed"])


def test_where_no_design_counts_that_is_said_and_nothing_breaks(tmp_path: Path) -> None:
    result = searched(tmp_path, SEARCH + '[[search.bounds]]\nanswer = "installed_thrust"\n'
                      'at_least = "900 N"\n')
    assert "No" in headline(result)
    assert "no design counts" in " ".join(terminal_lines(result))
    page = write_search(result, tmp_path / "page").read_text(encoding="utf-8")
    assert "nan" not in page.split("</style>")[1].split("<pre")[0].replace("finance", "").lower()
    told = json.loads(search_text(result))
    assert told["candidates"]["blower"]["left"] == 0
    assert told["candidates"]["blower"]["causes"]["outside a bound"] > 0


def test_the_headline_counts_who_leads_and_names_who_never_does(tmp_path: Path) -> None:
    """Told from the leading kinds, point by point; counted here by hand from a made-up field."""
    result = searched(tmp_path, SEARCH)
    won = result.winners
    assert won is not None
    field = np.full(won.winner.shape, NOBODY)
    field.flat[:4] = [0, 1, 1, 1]
    tie = np.zeros(field.shape, dtype=bool)
    tie.flat[0] = True
    told = headline(replace(result, winners=replace(won, winner=field, tie=tie)))
    assert f"the {won.kinds[1]} leads in installed thrust at 75 % of the 4 grid points" in told
    assert f"the {won.kinds[0]} at 25 %" in told
    assert "at 25 % the lead is too close to call" in told
    field.flat[0] = 1
    told = headline(replace(result, winners=replace(won, winner=field, tie=tie)))
    assert f"the {won.kinds[0]} leads nowhere" in told


def test_one_kind_alone_at_one_airspeed_is_still_told(tmp_path: Path) -> None:
    search = SEARCH.replace("[search]", '[search]\ncandidates = ["blower"]\n'
                            'airspeed = {at = "12 m/s"}')
    start = search.index('[[search.axes]]\nname = "winding"')
    result = searched(tmp_path, search[:start])
    assert result.winners is None
    assert "Best installed thrust" in headline(result)
    assert {one.name for one in draw_search(result)} == {"front"}
    write_search(result, tmp_path / "page")


def test_an_answer_of_the_design_has_one_column(tmp_path: Path) -> None:
    result = searched(tmp_path, SAMPLED)
    assert result.found["blower"].best.shape == (1, 1)
    assert "64 designs drawn" in " ".join(conditions(result))
    assert draw_search(result) == []
    write_search(result, tmp_path / "page")


def test_a_name_that_is_an_answers_stays_apart_in_files(tmp_path: Path) -> None:
    """An axis called as an answer is, or with signs that files do not bear."""
    from scipy.io import netcdf_file

    text = MACHINES + SEARCH.replace('name = "power"', 'name = "installed thrust"').replace(
        'name = "units"', 'name = "=1+1"').replace('name = "nozzle"', 'name = "installed-thrust"')
    store, result = search_scenario(read_text(text), tmp_path / "out")
    write_netcdf(store, tmp_path / "out")
    write_search(result, tmp_path / "out")
    with netcdf_file(tmp_path / "out" / "blower.nc", mmap=False) as file:
        assert set(file.dimensions) == {"installed_thrust_axis", "installed_thrust_axis_2",
                                        "axis_1_1", "sample", "airspeed"}
        assert file.variables["installed_thrust"].units == b"N"
    with (tmp_path / "out" / "best.csv").open() as stream:
        heads = next(csv.reader(stream))
    assert len(heads) == len(set(heads))
    assert not any(head.startswith("=") for head in heads)


def test_a_search_says_when_its_best_stands_on_the_end_of_an_axis(result: SearchResult) -> None:
    """Counted here from the settings of the best designs that pull; one unit is no end, for nobody
    carries fewer."""
    lines, seen = sentences(result), 0
    for axis in (one for one in result.spec.axes if one.owner):
        found = result.found[axis.owner]
        for word, end in (("lowest", axis.values[0]), ("highest", axis.values[-1])):
            count = 0 if axis.name == "units" and end == 1 else int(
                np.sum((found.best > 0.0) & (found.settings[axis.name] == end)))
            told = [line for line in lines if line.startswith(f"{axis.owner}: ")
                    and f"at the {word} {axis.name}," in line]
            assert len(told) == (1 if count else 0)
            assert all(f": {count} of its" in line for line in told)
            seen += count
    assert seen


def test_a_search_says_when_candidates_are_compared_at_unequal_watts(tmp_path: Path) -> None:
    """A winding too slow for 400 W at any airspeed, beside a blower that draws them."""
    search = SEARCH.replace('lowest = "800 rpm/V"\nhighest = "1300 rpm/V"\npoints = 3',
                            'at = ["500 rpm/V"]')
    made = searched(tmp_path, search)
    found = made.found["prop"]
    known = np.isfinite(found.best)
    drawn = operate(with_power_limit(read_text(MACHINES.replace("1150 rpm/V", "500 rpm/V"))
                                     .candidates["prop"], 400.0), airspeed=made.spec.airspeed)
    assert np.nanmax(drawn.electrical_power) < 399.0
    assert found.short[-1][known[-1]].all()
    line = next(line for line in sentences(made) if "unequal watts" in line)
    assert line.startswith(f"prop: {int(np.sum(found.short & known))} of its {known.sum()}")
