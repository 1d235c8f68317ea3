"""The sizing study: who leads where, and every design can be built again from what is told."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.collections import QuadMesh

import thrustlapse as tl
from tests.known_machines import AIRFRAME, MACHINE, scenario_text
from tests.searches import MACHINES
from thrustlapse import sizing as sizing_module
from thrustlapse.cli import main
from thrustlapse.commands import sizing as commands
from thrustlapse.commands.sizing import PointError, read_point
from thrustlapse.report.sizing.figures import figure_fastest, figure_map
from thrustlapse.report.sizing.file import when_text
from thrustlapse.report.sizing.words import headline, sentences
from thrustlapse.report.sizing.write_up import write_when
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import (
    NoDesign,
    domain_of,
    kinds,
    nearest,
    rules,
    when,
    write_design,
)
from thrustlapse.study.sizing.domain import Domain, WhenResult
from thrustlapse.study.sizing.kinds import GRIDS, KEPT_GRIDS, VARIABLES
from thrustlapse.study.sizing.map_grid import fan_grid
from thrustlapse.study.sizing.merit import worth
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import Plan, best_of, share_maps
from thrustlapse.study.sizing.work import Work
from thrustlapse.study.workers import hired

SMALL = MACHINES + """
[when]
lowest_power = "150 W"
highest_power = "900 W"
power_points = 2
highest_airspeed = "60 m/s"
airspeed_points = 3
draws = 64
"""
QUICK = Plan(first=Effort(samples=64, members=16, generations=25),
             between=Effort(samples=32, members=16, generations=30),
             closing=Effort(samples=0, members=8, generations=6), flip=None)
LITTLE = Plan(first=Effort(samples=8, members=6, generations=1),
              between=Effort(samples=4, members=6, generations=1), closing=None, flip=None)


@cache
def study() -> WhenResult:
    return when(read_text(SMALL), plan=QUICK)


def test_neighbours_are_one_step_away_and_an_end_is_its_own() -> None:
    found = Domain(airspeed=np.arange(3.0), power=np.arange(1.0, 3.0)).neighbours
    assert found.tolist() == [[1, 0, 3, 0], [2, 0, 4, 1], [2, 1, 5, 2],
                              [4, 3, 3, 0], [5, 3, 4, 1], [5, 4, 5, 2]]


def test_a_thinned_domain_keeps_its_ends_and_a_small_one_is_left_whole() -> None:
    domain = Domain(airspeed=np.linspace(0.0, 69.0, 24), power=np.geomspace(100.0, 900.0, 3))
    found = domain.thinned(12, 8)
    assert found.shape == (3, 12)
    assert found.airspeed[[0, -1]].tolist() == [0.0, 69.0]
    assert set(np.diff(found.airspeed).round(6)) <= {6.0, 9.0}
    np.testing.assert_array_equal(found.power, domain.power)


@pytest.fixture
def known_grids() -> Iterator[None]:
    """Maps that others have made are there again afterwards: making them takes seconds."""
    kept = dict(GRIDS)
    yield
    GRIDS.clear()
    GRIDS.update(kept)


@pytest.mark.usefixtures("known_grids")
def test_maps_are_made_once_for_all_who_work_and_few_are_kept() -> None:
    """On two nodes a variable: how maps are shared does not depend on how many there are."""
    found = {name: replace(kind, variables={
        key: replace(one, nodes=min(one.nodes, 2)) for key, one in kind.variables.items()})
        for name, kind in kinds(read_text(SMALL)).items()}
    assert not any(one.grid_key in GRIDS for one in found.values())
    with hired() as hands:
        share_maps(found.values(), hands)
    assert all(one.grid_key in GRIDS for one in found.values())
    fan_kind = found["fan"]
    assert fan_kind.map_parts > 1
    whole = fan_grid(fan_kind.grid.variables, air=fan_kind.air)
    for name, table in fan_kind.grid.tables.items():
        np.testing.assert_allclose(table, whole.tables[name], rtol=1e-9, atol=1e-12)
    one = found["propeller"]
    grid = one.grid
    for width in np.linspace(0.05, 0.06, KEPT_GRIDS + 1).tolist():
        chord = replace(one.variables["chord_ratio"], low=width)
        replace(one, variables={**one.variables, "chord_ratio": chord}).keep([grid])
    assert len(GRIDS) == KEPT_GRIDS
    assert one.grid_key not in GRIDS
    one.keep([grid])
    assert one.grid is one.grid
    for name, table in one.grid.tables.items():
        np.testing.assert_array_equal(table, grid.tables[name])


def test_every_point_is_worked_on_once_and_begins_with_the_nearest_that_are_done() -> None:
    domain = Domain(airspeed=np.linspace(0.0, 60.0, 7), power=np.geomspace(100.0, 900.0, 6))
    rounds = domain.rounds
    assert sorted(np.concatenate(rounds).tolist()) == list(range(42))
    assert rounds[0].tolist() == [7 * row + column for row in (0, 4, 5) for column in (0, 4, 6)]
    ready = rounds[0]
    for point in rounds[1:]:
        near = domain.nearest(point, ready, 4)
        assert near.shape == (point.size, 4)
        for at, others in zip(point.tolist(), near.tolist(), strict=True):
            away = [abs(at // 7 - other // 7) ** 2 + abs(at % 7 - other % 7) ** 2
                    for other in ready.tolist()]
            held = [abs(at // 7 - other // 7) ** 2 + abs(at % 7 - other % 7) ** 2
                    for other in others]
            assert held == sorted(away)[:4]
        ready = np.concatenate([ready, point])


def test_the_numbers_do_not_depend_on_who_does_the_work() -> None:
    scenario = read_text(SMALL)
    little = Plan(first=Effort(samples=16, members=6, generations=3),
                  between=Effort(samples=4, members=6, generations=2),
                  closing=Effort(samples=0, members=5, generations=2))
    told: list[float] = []
    found = []
    for processes in (1, 2):
        with hired(processes=processes) as hands:
            found.append(best_of(
                {"propeller": kinds(scenario)["propeller"]}, rules(scenario), domain_of(scenario),
                work=Work(hands), plan=little, tell=lambda *said: told.append(said[1])))
    alone, two = (one["propeller"] for one in found)
    np.testing.assert_array_equal(alone.places, two.places)
    np.testing.assert_array_equal(alone.value, two.value)
    assert told[-1] == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["blower", "fan", "propeller"])
def test_a_written_design_gives_the_same_thrust_and_stays_within_the_power(name: str) -> None:
    """To a millionth, through text, reader and another form of map."""
    scenario, result = read_text(SMALL), study()
    one = result.best[name]
    for row, power in enumerate(result.domain.power.tolist()):
        place = nearest(result.domain, airspeed=30.0, power=power)
        text = write_design(scenario, result, place=place, name=name)
        candidate = read_text(text).candidates[name]
        point = tl.operate(candidate, airspeed=np.array([30.0]))
        assert point.installed_thrust[0] == pytest.approx(one.installed_thrust[row, 1], rel=1e-6)
        assert point.electrical_power[0] <= power * (1.0 + 1e-6)


def test_the_best_is_no_worse_than_any_of_a_thousand_designs_within_the_limits() -> None:
    """Brute force: a thousand propellers at random, at every point."""
    scenario, result = read_text(SMALL), study()
    kind, held = kinds(scenario)["propeller"], rules(scenario)
    airspeed, power = result.domain.points
    places = np.random.default_rng(3).random((1000, len(kind.variables)))
    for point in range(airspeed.size):
        tried = worth(kind, held, places, airspeed=np.full(1000, airspeed[point]),
                      power=np.full(1000, power[point]))
        allowed = tried.value[tried.beyond <= 0.0]
        if allowed.size:
            assert result.best["propeller"].value.ravel()[point] >= allowed.max()


def test_chances_add_up_and_no_design_draws_more_than_it_may() -> None:
    result = study()
    total = np.sum([result.chance[name] for name in result.names], axis=0)
    assert np.all(total <= 1.0 + 1e-12)
    assert np.all(total[result.leader >= 0] > 0.0)
    for one in result.best.values():
        drawn = one.electrical_power / result.domain.power[:, None]
        assert np.nanmax(drawn) <= 1.0 + 1e-6


def test_the_disc_loading_of_each_best_keeps_momentum_theory() -> None:
    """At rest T^1.5 = P sqrt(2 rho A) at most, of an open disc (ideal; any textbook)."""
    result, air = study(), read_text(SMALL).site.air()
    one = result.best["propeller"]
    disc = 0.25 * np.pi * one.design["diameter"][:, 0] ** 2
    most = np.cbrt(2.0 * float(air.density) * disc * one.electrical_power[:, 0] ** 2)
    assert np.all(one.installed_thrust[:, 0] < most)


def test_top_speed_is_where_thrust_and_drag_cross() -> None:
    """Thrust that falls straight with the square of airspeed, T0 (1 - V^2 / V1^2), against q A and
    no induced drag: V^2 = T0 / (T0 / V1^2 + rho A / 2) in closed form."""
    made, speed = study(), np.linspace(0.0, 60.0, 601)
    thrust = 9.0 * (1.0 - speed**2 / 50.0**2)
    pressure = 0.5 * 1.2 * speed**2
    result = replace(
        made, domain=Domain(airspeed=speed, power=np.array([100.0, 200.0])), base_drag=0.0 * speed,
        dynamic_pressure=pressure, best={"fan": replace(
            made.best["fan"], value=np.stack([thrust, np.where(speed < 20.0, thrust, np.nan)]))})
    areas = np.array([0.0, 1e-3, 1e-2, 0.1])
    exact = np.sqrt(9.0 / (9.0 / 50.0**2 + 0.6 * areas))
    np.testing.assert_allclose(result.top_speed("fan", areas)[0], exact, rtol=1e-4)
    # no more is claimed than the last airspeed at which there is a design
    np.testing.assert_allclose(result.top_speed("fan", areas)[1], np.minimum(exact, 19.9),
                               rtol=1e-4)
    strong = replace(result, best={"fan": replace(made.best["fan"],
                                                  value=np.full((2, 601), 9.0))})
    assert np.isinf(strong.top_speed("fan", areas[:1])).all()
    weak = replace(result, best={"fan": replace(made.best["fan"], value=np.full((2, 601), -1.0))})
    assert np.isnan(weak.top_speed("fan", areas)).all()


def test_where_two_runs_of_the_optimiser_disagree_the_page_says_so() -> None:
    result = study()
    apart = {name: one.apart[np.isfinite(one.apart) & (one.value > 0.0)]
             for name, one in result.best.items()}
    told = " ".join(text for text in sentences(result) if "runs of the optimiser" in text)
    assert {name for name, each in apart.items() if np.any(each > 0.01)} == {
        name for name in result.names if f"{name} at " in told}
    assert f"at {sum(each.size for each in apart.values())} points" in told


def test_words_and_numbers_agree(tmp_path) -> None:
    result = study()
    page = write_when(result, tmp_path / "out", scenario_text="x = 1").read_text(encoding="utf-8")
    body = json.loads(when_text(result))
    led = {name: sum(row.count(name) for row in body["leader"]) for name in result.names}
    pulls = sum(led.values())
    for name, count in led.items():
        assert (f"{name} at " in headline(result)) == (count > 0)
    assert f"of the {pulls} points" in headline(result)
    for text in sentences(result):
        assert text.split(" (")[0][:30] in page
    assert body["axes"][0]["values"] == result.domain.power.tolist()
    assert set(body["kinds"]["blower"]["design"]) == set(result.best["blower"].design)
    assert "NaN" not in when_text(result)


def test_sentence_numbers_and_map_agree() -> None:
    """Cells of each colour, counted in the figure, are the shares of the headline."""
    result = study()
    figure = figure_map(result, "blower")
    cells = [mesh.get_array().count() for mesh in figure.axes[0].collections
             if isinstance(mesh, QuadMesh)]
    named = [text.get_text() for text in figure.legends[0].get_texts()]
    body = json.loads(when_text(result))
    pulls = sum(cells)
    for name, count in zip(named, cells, strict=False):
        assert f"{name} at {100.0 * count / pulls:.0f} %" in headline(result)
        assert count == sum(row.count(name) for row in body["leader"])
    near = max(row[column] for row in result.ratio("blower").tolist() for column in (1, 2))
    assert f"{100.0 * near:.0f} %" in " ".join(sentences(result))
    fastest = figure_fastest(result)
    assert fastest.axes[0].get_xlabel() == "drag area [cm²]"


def test_designs_at_an_end_of_a_range_are_told_with_the_end_and_why() -> None:
    made = study()
    wide = VARIABLES["blower"]["width"].high
    one = replace(made.best["blower"],
                  design={**made.best["blower"].design,
                          "width": np.full(made.domain.shape, wide)},
                  on_bound=(("width",),) * made.domain.power.size * made.domain.airspeed.size)
    said = " ".join(sentences(replace(made, best={**made.best, "blower": one})))
    assert "greatest rim width over diameter (100 %: a wider wheel is a mixed-flow rotor" in said


def test_a_point_or_kind_that_is_none_is_told_in_words() -> None:
    with pytest.raises(PointError, match="three parts"):
        read_point("40 m/s, blower")
    with pytest.raises(PointError, match="40 kg"):
        read_point("40 kg, 400 W, blower")
    result = study()
    with pytest.raises(NoDesign, match="blower, fan, propeller"):
        write_design(read_text(SMALL), result, name="rocket",
                     place=nearest(result.domain, airspeed=30.0, power=400.0))
    with pytest.raises(NoDesign, match="from 0 to 60 m/s"):
        nearest(result.domain, airspeed=61.0, power=400.0)
    with pytest.raises(NoDesign, match="from 150 to 900 W"):
        nearest(result.domain, airspeed=30.0, power=100.0)


def test_a_design_written_for_a_file_that_leaves_much_out_can_be_read() -> None:
    """History: pack, drag and stall were left out of the written file too, and it was refused."""
    scenario = read_text(scenario_text(AIRFRAME, MACHINE) + """
[when]
power_points = 1
airspeed_points = 2
highest_airspeed = "40 m/s"
highest_power = "200 W"
""")
    result = when(scenario, plan=QUICK)
    place = nearest(result.domain, airspeed=0.0, power=result.domain.power[0])
    found = read_text(write_design(scenario, result, place=place, name="propeller"))
    point = tl.operate(found.candidates["propeller"], airspeed=0.0)
    assert float(point.installed_thrust) == pytest.approx(
        result.best["propeller"].installed_thrust[place.at], rel=1e-6)


def test_the_command_writes_page_numbers_and_a_scenario(tmp_path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SMALL, encoding="utf-8")
    told = CliRunner().invoke(main, ["when", str(file), "--rough", "--out",
                                     str(tmp_path / "out"), "--write", "30 m/s, 900 W, propeller"])
    assert told.exit_code == 0, told.output
    assert "has not settled" in told.output
    assert (tmp_path / "out" / "when.json").exists()
    written = tmp_path / "out-propeller-30mps-900W.toml"
    assert "propeller" in tl.read_scenario(written).candidates
    wrong = CliRunner().invoke(main, ["when", str(file), "--rough", "--out",
                                      str(tmp_path / "two"), "--write", "fast"])
    assert wrong.exit_code != 0
    assert "three parts" in wrong.output


def test_a_first_look_is_written_before_it_is_refined(tmp_path, monkeypatch, capsys) -> None:
    """Page and numbers of it are there when the work begins; a bar is drawn on a terminal."""
    folder, plans = tmp_path / "out", []

    def quick(scenario, *, plan, look, **more):
        plans.append(plan)

        def seen(first):
            look(first)
            assert "has not settled" in (folder / "index.html").read_text(encoding="utf-8")
            assert json.loads((folder / "when.json").read_text())["what_would_flip_it"] == []
            plans.append(first.domain.shape)

        return when(scenario, plan=LITTLE, look=seen, **more)

    monkeypatch.setattr(commands, "when", quick)
    monkeypatch.setattr(sizing_module, "ROUGH", LITTLE)
    lines = commands.run_when(read_text(SMALL), folder, terminal=True)
    assert plans == [None, (2, 3)]
    said = capsys.readouterr().err
    assert "a first look, which is refined now" in said
    assert "100 %" in said
    assert f"written: {folder / 'index.html'}" in lines


def test_an_empty_domain_is_a_fault_with_its_key() -> None:
    with pytest.raises(tl.ScenarioError, match=r"when\.lowest_power"):
        read_text(MACHINES + '\n[when]\nlowest_power = "5 kW"\n')
    with pytest.raises(tl.ScenarioError, match="a power of two"):
        read_text(MACHINES + "\n[when]\ndraws = 100\n")
