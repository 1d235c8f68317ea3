"""The sizing study: who leads where, and every design can be built again from what is told."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.collections import QuadMesh

import thrustlapse as tl
from tests.known_machines import AIRFRAME, MACHINE, scenario_text
from tests.searches import MACHINES
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
from thrustlapse.study.search.workers import local_workers
from thrustlapse.study.sizing.domain import Domain, WhenResult
from thrustlapse.study.sizing.kinds import VARIABLES
from thrustlapse.study.sizing.merit import worth
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import ROUGH, Plan, best_of

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


@cache
def study() -> WhenResult:
    return when(read_text(SMALL), plan=QUICK)


def test_neighbours_are_one_step_away_and_an_end_is_its_own() -> None:
    found = Domain(airspeed=np.arange(3.0), power=np.arange(1.0, 3.0)).neighbours
    assert found.tolist() == [[1, 0, 3, 0], [2, 0, 4, 1], [2, 1, 5, 2],
                              [4, 3, 3, 0], [5, 3, 4, 1], [5, 4, 5, 2]]


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
        with local_workers(processes) as workers:
            found.append(best_of(
                {"propeller": kinds(scenario)["propeller"]}, rules(scenario), domain_of(scenario),
                workers=workers, plan=little, tell=lambda *said: told.append(said[1])))
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


def test_on_a_terminal_a_first_look_is_written_before_it_is_refined(
        tmp_path, monkeypatch, capsys) -> None:
    folder, plans = tmp_path / "out", []

    def quick(scenario, *, plan=None, **_):
        plans.append(plan)
        if plan is None:
            first = (folder / "index.html").read_text(encoding="utf-8")
            assert "has not settled" in first
        return when(scenario, plan=Plan(first=Effort(samples=8, members=6, generations=1),
                                        between=Effort(samples=4, members=6, generations=1),
                                        closing=None, flip=None))

    monkeypatch.setattr(commands, "when", quick)
    lines = commands.run_when(read_text(SMALL), folder, rough=False, point=None, terminal=True)
    assert plans == [ROUGH, None]
    assert "a first look, which is refined now" in capsys.readouterr().err
    assert f"written: {folder / 'index.html'}" in lines


def test_an_empty_domain_is_a_fault_with_its_key() -> None:
    with pytest.raises(tl.ScenarioError, match=r"when\.lowest_power"):
        read_text(MACHINES + '\n[when]\nlowest_power = "5 kW"\n')
    with pytest.raises(tl.ScenarioError, match="a power of two"):
        read_text(MACHINES + "\n[when]\ndraws = 100\n")
