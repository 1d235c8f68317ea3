"""``thrustlapse bench fit`` end to end, and its committed report."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import thrustlapse as tl
from tests.known_machines import AIRFRAME, MACHINE, scenario_text
from tests.refresh_reports import BENCH, BENCH_REPORT, STORY
from tests.shipped import without_draws
from thrustlapse.cli import main
from thrustlapse.propulsor.candidate import operate
from thrustlapse.report.atomic_write import MANIFEST
from thrustlapse.study.sampling import drawables, shares, with_draws


def run(*words: object):
    return CliRunner().invoke(main, ["bench", "fit", *(str(word) for word in words)])


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench") / "out"
    result = run(STORY, "--candidate", "blower", "--readings", BENCH, "--out", folder,
                 "--answer", "top speed")
    assert result.exit_code == 0, result.output
    return folder, result.output


def test_it_answers_and_says_what_to_measure_next(done) -> None:
    _, said = done
    assert said.startswith("Top speed: ")
    assert "next reading:" in said
    assert "chi-square" in said
    assert "with all that is assumed" in said
    assert "from this bench if every assumption were true" in said


def test_the_page_holds_everything_and_fetches_nothing(done) -> None:
    folder, _ = done
    page = (folder / "index.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 3
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert "invented" in page
    assert "nan" not in page.lower().replace("nanometre", "")
    assert {"index.html", "fit.json", "figures", "blower.toml", MANIFEST} == {
        path.name for path in folder.iterdir()}


def test_the_fitted_candidate_is_included_with_its_covariance(done, tmp_path) -> None:
    folder, _ = done
    head = STORY.read_text(encoding="utf-8").split("[candidates.blower]")[0]
    (tmp_path / "blower.toml").write_text((folder / "blower.toml").read_text("utf-8"), "utf-8")
    (tmp_path / "mine.toml").write_text(head + '[candidates.blower]\ninclude = "blower.toml"\n',
                                        encoding="utf-8")
    read = tl.read_scenario(tmp_path / "mine.toml")
    record = json.loads((folder / "fit.json").read_text(encoding="utf-8"))
    fit = read.candidates["blower"].fit
    places = [record["unknowns"].index(key) for key in fit.unknowns]
    assert fit.values == pytest.approx(np.array(record["values"])[places], rel=1e-6)
    assert fit.covariance == pytest.approx(
        np.array(record["covariance"])[np.ix_(places, places)], rel=1e-5, abs=1e-18)
    answer = tl.compare(without_draws(read)).candidates["blower"]
    assert answer.level.top_speed == pytest.approx(record["answer"]["value"], rel=1e-4)
    assert "blower" in str(answer.measured) or "readings" in answer.measured[0]


def test_the_truth_behind_the_invented_bench_is_found_again(done) -> None:
    """It was made from the story's own machine at 400 W and 150 W: two numbers that went in."""
    record = json.loads((done[0] / "fit.json").read_text(encoding="utf-8"))
    spread = np.sqrt(np.diag(record["covariance"]))
    for key, truth in (("setting high.power_limit", 400.0), ("setting low.power_limit", 150.0),
                       ("map.head_scale", 1.0), ("map.flow_scale", 1.0), ("map.power_scale", 1.0),
                       ("motor.resistance", 0.045), ("motor.no_load_current", 1.2)):
        place = record["unknowns"].index(key)
        assert abs(record["values"][place] - truth) < 3.0 * spread[place], key


def test_the_committed_bench_report_is_fresh(done) -> None:
    made = json.loads((done[0] / "fit.json").read_text(encoding="utf-8"))
    kept = json.loads((BENCH_REPORT / "fit.json").read_text(encoding="utf-8"))
    assert made["unknowns"] == kept["unknowns"]
    assert made["values"] == pytest.approx(kept["values"], rel=1e-3)
    assert made["answer"]["deviation"] == pytest.approx(kept["answer"]["deviation"], rel=0.02)
    assert {path.name for path in BENCH_REPORT.iterdir()} == {path.name
                                                             for path in done[0].iterdir()}


@pytest.mark.parametrize(("words", "said"), [
    (("--candidate", "blowr"), "blower, fan, propeller"),
    (("--candidate", "propeller"), "open rotor"),
    (("--candidate", "blower", "--answer", "crossover with kite"), "fan, propeller"),
    (("--candidate", "blower", "--answer", "range"), "no answer is called"),
    (("--candidate", "blower", "--answer", "thrust at 25 kg"), "--answer"),
    (("--candidate", "blower", "--unknown", "motor.resistence"), "motor.resistance"),
])
def test_what_cannot_be_answered_is_said_in_words(tmp_path, words, said) -> None:
    (tmp_path / "few.csv").write_text(
        "thrust [gf],electrical power [W]\n255,400\n256,401\n", "utf-8")
    result = run(STORY, *words, "--readings", tmp_path / "few.csv", "--out", tmp_path / "out")
    assert result.exit_code == 2, result.output
    assert said in result.output
    assert "Traceback" not in result.output
    assert not Path(tmp_path / "out").exists()



HEADING = "nozzle exit diameter [mm],supply voltage [V],electrical power [W],thrust [N]"
MINE = scenario_text(AIRFRAME, MACHINE)


def own(tmp_path, *rows: str, head: str = HEADING, old: str = "", new: str = ""):
    """The story's blower, one of its lines changed, held against a bench of a few rows."""
    text = STORY.read_text("utf-8")
    assert old in text
    (tmp_path / "mine.toml").write_text(text.replace(old, new, 1) if old else text, "utf-8")
    (tmp_path / "mine.csv").write_text("\n".join((head, *rows)) + "\n", "utf-8")
    return run(tmp_path / "mine.toml", "--candidate", "blower", "--readings",
               tmp_path / "mine.csv", "--out", tmp_path / "out")


def test_readings_that_contradict_have_no_answer_and_a_status(tmp_path) -> None:
    """A smaller exit cannot give twice the thrust at the same watts: T^3 / A is watts squared."""
    result = own(tmp_path, "21,23.1,400,2.5", "17,23.1,400,5.2", "19,23.1,400,2.5",
                 "18,23.1,400,2.4")
    assert result.exit_code == 1, result.output
    assert result.output.startswith("No top speed: ")
    assert json.loads((tmp_path / "out" / "fit.json").read_text("utf-8"))["answer"] is None
    assert not (tmp_path / "out" / "blower.toml").exists()  # nothing that a scenario could include


def fitted_by_readings(tmp_path, *rows: str, head: str = HEADING, more: str = ""):
    """The smallest file, its machine fitted to rows; the command's result and its record."""
    (tmp_path / "mine.toml").write_text(MINE + more, "utf-8")
    (tmp_path / "mine.csv").write_text("\n".join((head, *rows)) + "\n", "utf-8")
    result = run(tmp_path / "mine.toml", "--candidate", "mine", "--readings",
                 tmp_path / "mine.csv", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    return result, json.loads((tmp_path / "out" / "fit.json").read_text("utf-8"))


def included(tmp_path):
    """The smallest file with the fitted machine in the place of its own."""
    (tmp_path / "next.toml").write_text(MINE.split("[candidates")[0] + "[candidates.mine]\n"
                                        'include = "out/mine.toml"\n', "utf-8")
    return tl.read_scenario(tmp_path / "next.toml")


THREE = ("24,22,250,2.10", "20,22,226,1.85", "27,22,270,2.23")
"""Watts that go with the load, as at full voltage."""


@pytest.fixture(scope="module")
def by_readings(tmp_path_factory):
    folder = tmp_path_factory.mktemp("readings")
    return folder, *fitted_by_readings(folder, *THREE)


def test_a_machine_known_by_readings_is_fitted_and_meets_its_bench(by_readings) -> None:
    """By three readings, of which it is plain what held the watts. Thrust at rest is what a scale
    read, within its 1 %. History: the scaling to its readings was left out, and a machine nobody
    has was fitted."""
    tmp_path, result, record = by_readings
    assert result.output.startswith("Top speed: ")
    assert "the watts were full voltage's" in result.output
    assert record["answer"]["deviation"] < 0.7 * record["answer"]["deviation_before"]
    scenario = included(tmp_path)
    one = scenario.candidates["mine"]
    assert scenario.section.candidates["mine"].readings.supply == "full voltage"
    assert one.fit is not None
    assert {"readings.thrust", "rotor.tip_diameter", "map.head_form.open"} <= set(one.fit.unknowns)
    for row in THREE:
        bore, _, watts, thrust = map(float, row.split(","))
        flown = scenario.drawn({"candidates.mine.nozzle.exit_diameter": 1e-3 * bore})
        point = operate(flown.candidates["mine"], airspeed=0.0)
        assert point.net_thrust == pytest.approx(thrust, rel=0.02)
        assert point.electrical_power == pytest.approx(watts, rel=0.03)


def test_a_fitted_machine_is_drawn_by_its_covariance_and_nothing_twice(by_readings) -> None:
    """What the bench said is neither assumed any more nor drawn beside it; every draw meets the
    thrust it drew, and at rest they scatter as the fit says."""
    tmp_path, _, record = by_readings
    scenario = included(tmp_path)
    unknowns = set(scenario.candidates["mine"].fit.unknowns)
    keys = {one.spread.key.removeprefix("candidates.mine.") for one in scenario.assumed}
    assert not keys & {*unknowns, "map"}
    inputs = drawables(scenario)
    assert not {one.side for one in inputs} & {"flow of the map", "head of the map",
                                               "power of the map"}
    many = with_draws(scenario, inputs, shares(2048, len(inputs), seed=1))
    thrust = np.ravel(operate(many.candidates["mine"], airspeed=np.zeros(1)).net_thrust)
    assert thrust == pytest.approx(np.ravel(many.section.candidates["mine"].readings.thrust),
                                   rel=1e-6)
    place = record["unknowns"].index("readings.thrust")
    stated = np.sqrt(record["covariance"][place][place]) / record["values"][place]
    assert np.std(np.log(thrust)) == pytest.approx(stated, rel=0.1)


def test_a_speed_on_the_bench_frees_what_its_map_and_inlet_were_held_at(tmp_path) -> None:
    """A wheel that turns 4 % faster than the typical one: flow and fall of the map, lip and throat
    are fitted with its form, drawn by the covariance and not from the file beside it. History:
    lip and throat were held in the fit and drawn afterwards from what is usual. What held the
    watts is said, so that one law is fitted and not two."""
    said = 'voltage = "22 V"\nsupply = "full voltage"\n'
    (tmp_path / "mine.toml").write_text(MINE + said, "utf-8")
    usual = tl.read_scenario(tmp_path / "mine.toml")
    rows, speeds = [], []
    for row in THREE:
        bore = float(row.split(",")[0])
        flown = usual.drawn({"candidates.mine.nozzle.exit_diameter": 1e-3 * bore})
        speeds.append(1.04 * float(operate(flown.candidates["mine"], airspeed=0.0).shaft_speed))
        rows.append(f"{row},{speeds[-1] * 30.0 / np.pi}")
    _, record = fitted_by_readings(tmp_path, *rows, head=HEADING + ",shaft speed [rpm]", more=said)
    freed = {"map.flow_form", "map.fall_form", "inlet.lip", "inlet.throat_area"}
    assert freed <= set(record["unknowns"])
    scenario = included(tmp_path)
    assert not {f"candidates.mine.{key}" for key in freed} & {one.key for one in scenario.spreads}
    for row, speed in zip(THREE, speeds, strict=True):
        flown = scenario.drawn({"candidates.mine.nozzle.exit_diameter":
                                1e-3 * float(row.split(",")[0])})
        assert operate(flown.candidates["mine"], airspeed=0.0).shaft_speed == pytest.approx(
            speed, rel=0.01)
    inputs = drawables(scenario)
    assert len([one for one in inputs if one.key_of("mine").endswith("inlet.lip")]) == 1
    many = with_draws(scenario, inputs, shares(128, len(inputs), seed=1))
    lips = np.asarray(many.section.candidates["mine"].inlet.lip)
    assert lips.min() >= 0.0
    assert lips.max() <= 1.0
    point = operate(many.candidates["mine"], airspeed=np.zeros(1))
    assert np.mean(point.valid) > 0.95
    assert np.nanmedian(point.shaft_speed) == pytest.approx(speeds[0], rel=0.03)


def test_what_held_the_watts_is_counted_both_ways_where_one_nozzle_tells_nothing(tmp_path) -> None:
    """One nozzle, again and again: cap and full voltage show the same."""
    result, _ = fitted_by_readings(tmp_path, "24,22,250,2.10", "24,22,251,2.11", "24,22,249,2.09")
    assert "both are counted" in result.output
    read = included(tmp_path).section.candidates["mine"].readings
    assert read.supply is None
    assert read.full_voltage is None


def test_full_voltage_that_nobody_read_is_written_without_it(tmp_path) -> None:
    """Neither file nor bench knows the volts. The file's own law stays, and further readings of
    its table, which the bench says anew, are let go; the spread of the thrust is the bench's."""
    head = "nozzle exit diameter [mm],electrical power [W],thrust [N]"
    rows = [",".join(np.array(row.split(","))[[0, 2, 3]]) for row in THREE]
    fitted_by_readings(tmp_path, *rows, head=head, more='shaft_speed = "30 krpm"\n')
    read = included(tmp_path).section.candidates["mine"].readings
    assert (read.full_voltage, read.supply, read.shaft_speed) == (1.0, None, None)


def test_two_settings_of_a_machine_known_by_readings(tmp_path) -> None:
    """The setting of its own watts is the machine's; the other stays on the bench. A second fit
    starts from the first one's file."""
    rows = ("24,22,250,2.10,high", "20,22,250,1.99,high", "24,22,125,1.32,low",
            "28,22,250,2.12,high")
    _, record = fitted_by_readings(tmp_path, *rows, head=HEADING + ",setting")
    assert [key for key in record["unknowns"] if key.startswith("setting")] == [
        "setting low.power_limit"]
    assert operate(included(tmp_path).candidates["mine"], airspeed=0.0).electrical_power \
        == pytest.approx(250.0, rel=0.02)
    again = run(tmp_path / "next.toml", "--candidate", "mine", "--readings",
                tmp_path / "mine.csv", "--out", tmp_path / "again")
    assert again.exit_code == 0, again.output
    second = json.loads((tmp_path / "again" / "fit.json").read_text("utf-8"))
    assert second["answer"]["value"] == pytest.approx(record["answer"]["value"], rel=0.02)


def test_half_a_unit_is_refused(tmp_path) -> None:
    result = own(tmp_path, "21,23.1,400,2.5,1.5", "17,23.1,400,2.6,1.5", head=HEADING + ",units")
    assert result.exit_code == 2
    assert "whole number" in result.output


FOUR = ("15,23.1,400,2.53", "15,23.1,400,2.51", "13.5,23.1,400,2.75", "16.5,23.1,400,2.26")


def test_an_airframe_that_cannot_fly_level_is_no_reason_not_to_fit(tmp_path) -> None:
    result = own(tmp_path, *FOUR, old='mass = "0.62 kg"', new='mass = "62 kg"')
    assert result.exit_code == 0, result.output
    assert result.output.startswith("Static thrust: ")
    assert "in place of the top speed" in result.output


def test_one_unit_is_on_the_bench_unless_the_file_says_more(tmp_path) -> None:
    """History: the bench of one unit of a pair was held against the thrust of two. Two units on two
    benches, or both on one, are the same pair."""
    two = {"old": 'kind = "blower"', "new": 'kind = "blower"\ncount = 2'}
    thrusts = []
    for name, count, head in (("one", 1.0, HEADING), ("both", 2.0, HEADING + ",units")):
        (tmp_path / name).mkdir()
        rows = [f"{bore},{volts},{float(watts) * count},{float(thrust) * count}"
                + (",2" if count > 1.0 else "")
                for bore, volts, watts, thrust in (row.split(",") for row in FOUR)]
        result = own(tmp_path / name, *rows, head=head, **two)
        assert result.exit_code == 0, result.output
        record = json.loads((tmp_path / name / "out" / "fit.json").read_text("utf-8"))
        thrusts.append(record["answer"]["value"])
    assert thrusts[1] == pytest.approx(thrusts[0], rel=0.01)
