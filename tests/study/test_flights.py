"""The flight of a scenario: flown by all, kept, told, written and read back."""

from __future__ import annotations

import csv
import io
import math
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import thrustlapse as tl
from tests import shipped
from tests.equal import equal_results
from tests.shipped import without_draws
from thrustlapse.aircraft.flight_record import SPENT
from thrustlapse.glossary import key
from thrustlapse.report.comparison.captions import alt_text, caption
from thrustlapse.report.comparison.results_file import read_results, write_results
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.flight.figures import USES, figure_flight_books, shares
from thrustlapse.report.flight.file import BOOKS, COLUMNS
from thrustlapse.report.flight.words import duration, energy, way
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flights import MOST_SAMPLES, kept_samples
from thrustlapse.study.limits.flight import REMEDIES, remedy

FILE = Path(__file__).parents[2] / "scenarios" / "there_and_back.toml"
TEXT = FILE.read_text(encoding="utf-8")


@cache
def answer() -> Comparison:
    return shipped.answer("there_and_back")


def one_leg(legs: str, **changes: str) -> Comparison:
    """The scenario with other legs and the propeller alone, few airspeeds."""
    begin, end = TEXT.index("[[flight.legs]]"), TEXT.index("# Lumped")
    text = TEXT[:begin] + legs + "\n" + TEXT[end:]
    for name in ("fan", "blowers"):
        first = text.index(f"[flight.motors.{name}]")
        text = text[:first] + text[text.index("\n\n", first) + 2:]
    fan, propeller = text.index("[candidates.fan]"), text.index("[candidates.propeller]")
    text = text[:fan] + text[propeller:text.index("[candidates.blowers]")]
    text = text.replace("points = 81", "points = 5")
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new, 1)
    return tl.compare(without_draws(read_text(text)))


def test_everyone_flies_the_same_legs_and_the_books_close() -> None:
    study = answer().flights
    assert study is not None
    assert list(study.flights) == ["fan", "propeller", "blowers"]
    names = {tuple(leg.name for leg in one.legs) for one in study.flights.values()}
    assert names == {("rail launch", "accelerate level", "climb", "turn", "dash", "coast level",
                      "cruise", "glide")}
    for name, one in study.flights.items():
        assert one.completed, one.reason
        assert max(one.thrust_error, one.current_error) < 1e-3
        assert one.books_miss < 1e-5
        track = one.track
        spent = sum(track.books[book] for book in SPENT)
        paid = track.books["pack_energy"] + track.books["launcher_work"]
        assert spent + track.books["residual"] == pytest.approx(paid, abs=1e-9 * one.energy)
        # energy of the legs is energy of the flight, and times and distances join
        assert sum(leg.energy for leg in one.legs) == pytest.approx(one.energy, rel=1e-9)
        assert sum(leg.distance for leg in one.legs) == pytest.approx(one.distance, rel=1e-9)
        for before, after in zip(one.legs, one.legs[1:], strict=False):
            assert before.end == after.start
        level = answer().candidates[name].level
        assert level is not None
        # the same machine, at the height of the launch: the drag of 1 m of air
        assert one.top_speed == pytest.approx(level.top_speed, rel=2e-4)
        assert 0.0 < one.near_top_time < one.time
        assert np.nanmax(track.motor_temperature) > track.motor_temperature[0]


def test_whether_the_crossover_is_passed_agrees_with_the_comparison() -> None:
    study = answer().flights
    assert study is not None
    crossing = max(one.airspeed for one in answer().crossovers
                   if one.kind == "on this airframe" and (one.drag_area_threshold or 0.0) > 0.0)
    assert study.passing_speed == crossing
    for name, one in study.flights.items():
        assert one.passing is not None
        level = answer().candidates[name].level
        assert level is not None
        assert one.passing.passed == (level.top_speed > crossing)
    thresholds = [one.drag_area_threshold for one in answer().crossovers
                  if one.airspeed == crossing]
    passing = study.flights["fan"].passing
    assert passing is not None
    # the airframe that would let it is the one the crossover itself tells of
    assert passing.drag_area == pytest.approx(thresholds[0], rel=2e-3)


def test_more_units_share_the_power_of_the_footing() -> None:
    study = answer().flights
    assert study is not None
    # momentum theory: more disc area at the same watts helps little at speed, and weighs; with
    # twice the watts two fans would do
    for one in study.flights.values():
        assert one.passing is not None
        assert one.passing.count is None


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("flown") / "out"
    tl.write_report(answer(), folder)
    return folder


def test_results_read_back_and_the_table_of_samples(tmp_path: Path, written: Path) -> None:
    write_results(answer(), tmp_path / "results.json")
    assert equal_results(read_results(tmp_path / "results.json"), answer())
    page = (written / "index.html").read_text(encoding="utf-8")
    assert 'id="flight"' in page
    assert "flights.csv" in page
    rows = list(csv.DictReader(io.StringIO((written / "flights.csv").read_text("utf-8"))))
    study = answer().flights
    assert study is not None
    assert len(rows) == sum(one.track.time.size for one in study.flights.values())
    assert list(rows[0])[:4] == ["candidate", "leg", "leg_name", "time_s"]
    assert list(rows[0])[3:] == [*(key(word) for word in COLUMNS.values()),
                                 *(f"{name}_J" for name in BOOKS)]
    last = [row for row in rows if row["candidate"] == "fan"][-1]
    assert float(last["time_s"]) == study.flights["fan"].time
    assert float(last["pack_energy_J"]) == study.flights["fan"].energy


def test_an_earlier_table_of_samples_does_not_stay(tmp_path: Path, written: Path) -> None:
    out = shutil.copytree(written, tmp_path / "out")
    assert (out / "flights.csv").exists()
    tl.write_report(replace(answer(), flights=None), out)
    assert not (out / "flights.csv").exists()


def test_words_figures_and_tables() -> None:
    study = answer().flights
    assert study is not None
    told = " ".join(verdict(answer()).sentences)
    for name, one in study.flights.items():
        assert f"{name} {energy(one.energy)} in {duration(one.time)}" in told
        assert f"{name} after {duration(one.near_top_time)}" in told
        assert sum(shares(one.track).values()) == pytest.approx(
            one.energy + one.track.books["launcher_work"][-1], rel=1e-6)
    drawn = figure_flight_books(answer())
    assert drawn is not None
    assert len(drawn.axes) == 3
    assert {part for _, parts, _ in USES for part in parts} == set(SPENT)
    for figure in ("flight", "flight_forces", "flight_books"):
        assert "propeller" in alt_text(answer(), figure)
        assert "None" not in caption(answer(), figure)
        assert "nan" not in alt_text(answer(), figure)
    tables = all_tables(answer())
    assert {"flight", "passing", "legs", "events"} <= set(tables)
    assert "nan" not in str([tables[name].rows for name in ("flight", "legs", "events")])


def test_times_and_ways_as_people_read_them() -> None:
    assert (duration(8.546), duration(267.2)) == ("8.55 s", "4 min 27 s")
    assert duration(9000.0) == "2.50 h"
    assert duration(119.9999) == "120 s"
    assert duration(float("nan")) == "no value"
    assert (way(80.0), way(2602.3), way(-1e-15)) == ("80.0 m", "2.60 km", "0 m")
    assert energy(3600.0) == "1.00 Wh"


def test_without_a_flight_none_is_flown() -> None:
    begin, end = TEXT.index("[flight]"), TEXT.index("[airspeed]")
    text = (TEXT[:begin] + TEXT[end:]).replace("points = 81", "points = 3")
    known = tl.compare(without_draws(read_text(text)))
    assert known.flights is None
    assert "flight" not in all_tables(known)
    with pytest.raises(ValueError, match="nothing to draw"):
        tl.figure(known, "flight")


# What goes wrong is said, and the flight up to there is kept -----------------------------------


def test_a_leg_beyond_top_speed_is_not_flown_and_what_came_before_is_kept() -> None:
    known = one_leg('[[flight.legs]]\nkind = "climb"\nheight = "40 m"\n'
                    '[[flight.legs]]\nkind = "accelerate"\nairspeed = "70 m/s"\n'
                    '[[flight.legs]]\nkind = "glide"\n')
    assert known.flights is not None
    one = known.flights.flights["propeller"]
    assert [leg.completed for leg in one.legs] == [True, True, False, False]
    assert one.track.height[-1] == pytest.approx(40.0)
    assert "cannot reach 70.0 m/s: level flight settles at" in one.legs[2].reason
    finding = next(each for each in known.findings if "leg 2 of its flight" in each.text)
    assert "1 leg after it not begun" in finding.text
    assert finding.change == dict(REMEDIES)["cannot reach"]
    assert "is not flown to its end" in " ".join(verdict(known).sentences)
    assert "breaks off" in alt_text(known, "flight")


def test_an_empty_pack_ends_the_cruise_and_glides_home() -> None:
    known = one_leg('[[flight.legs]]\nkind = "climb"\nheight = "40 m"\n'
                    '[[flight.legs]]\nkind = "cruise"\nairspeed = "25 m/s"\ntime = "5 h"\n'
                    '[[flight.legs]]\nkind = "glide"\n',
                    small=('cell_capacity = "4 Ah"', 'cell_capacity = "0.8 Ah"'))
    assert known.flights is not None
    one = known.flights.flights["propeller"]
    assert [leg.completed for leg in one.legs] == [True, True, False, True]
    assert "pack empty" in one.legs[2].reason
    assert one.track.height[-1] == pytest.approx(0.0, abs=1e-6)
    finding = next(each for each in known.findings if "pack empty" in each.text)
    assert finding.change == dict(REMEDIES)["pack empty"]


def test_a_launch_below_the_stall_is_said() -> None:
    known = one_leg('[[flight.legs]]\nkind = "dash"\n',
                    weak=('pull = "75 N"', 'pull = "2 N"'))
    assert known.flights is not None
    one = known.flights.flights["propeller"]
    assert "below the stall" in one.legs[0].reason
    assert not math.isfinite(one.near_top_time)
    assert any("leg 0 of its flight" in each.text for each in known.findings)
    assert "why not" in str(all_tables(known)["flight"].rows)


def test_a_hot_motor_is_found() -> None:
    known = one_leg('[[flight.legs]]\nkind = "dash"\n',
                    hot=('heat_capacity = "45 J/K"', 'heat_capacity = "3 J/K"\nlimit = "60 degC"'))
    finding = next(each for each in known.findings if "motor hot" in each.text)
    assert finding.subject == "propeller"
    assert finding.value is not None
    assert finding.value > 273.15 + 60.0


def test_kept_samples_hold_both_ends_of_every_leg() -> None:
    leg = np.repeat([0, 1, 2], [1, 5000, 7])
    kept = kept_samples(leg)
    assert {0, 1, 5000, 5001, 5007} <= set(kept.tolist())
    assert kept.size < MOST_SAMPLES + 8
    assert np.all(np.diff(kept) > 0)


def test_every_reason_has_a_remedy() -> None:
    assert remedy("stalls at 12.0 m/s") == dict(REMEDIES)["stall"]
    assert remedy("something new") == "look at this leg again"


# At the edge --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("old", "new", "told"), [
    ('kind = "dash"', 'kind = "loop"', ["flight.legs", '"loop"', '"dash"']),
    ('kind = "dash"', 'kind = "dash"\nairspeed = "50 m/s"', ["flight.legs", "airspeed"]),
    ("load_factor = 1.8", "load_factor = 0.9", ["load_factor", "below"]),
    ('airspeed = "24 m/s"', 'airspeed = "24 m"', ["airspeed", "a speed"]),
    ('height = "80 m"\nairspeed = "22 m/s"', 'airspeed = "22 m/s"', ["height", "missing"]),
    ('airspeed = "24 m/s"', 'airspeed = "24 m/s ± 1 m/s"', ["flight.legs", "carries no spread"]),
    ('kind = "glide"', 'kind = "glide"\nheight = "90 m"', ["would go up", "80 m"]),
    ("[flight.motors.fan]", "[flight.motors.fann]", ["no candidate has that name",
                                                     'did you mean "fan"']),
    ('least_state_of_charge = "15 %"', 'least_state_of_charge = "95 %"',
     ["least_state_of_charge", "empty from the start"]),
    ('kind = "rail"', 'kind = "hand"', ["flight.launch.length", "flight.launch.pull"]),
])
def test_faults_of_the_flight(old: str, new: str, told: list[str]) -> None:
    assert TEXT.count(old) >= 1
    with pytest.raises(ScenarioError) as caught:
        read_text(TEXT.replace(old, new, 1))
    message = str(caught.value)
    for part in told:
        assert part in message
    assert all(fault.line for fault in caught.value.faults)


def test_a_flight_needs_an_aircraft_and_a_pack_and_a_leg() -> None:
    begin, end = TEXT.index("[airframe]"), TEXT.index("[flight]")
    with pytest.raises(ScenarioError, match="nothing to fly"):
        read_text(TEXT[:begin] + TEXT[end:])
    begin, end = TEXT.index("[pack]"), TEXT.index("[airframe]")
    bench = '[supply]\nvoltage = "22 V"\nresistance = "20 mohm"\nmass = "0 g"\n\n'
    with pytest.raises(ScenarioError, match="a bench supply does not fly"):
        read_text(TEXT[:begin] + bench + TEXT[end:])
    begin, end = TEXT.index("[[flight.legs]]"), TEXT.index("# Lumped")
    with pytest.raises(ScenarioError, match="flight"):
        read_text(TEXT[:begin] + TEXT[end:])
    with pytest.raises(ScenarioError, match="flight"):
        read_text(TEXT[:begin].replace("[flight.launch]", "legs = []\n[flight.launch]")
                  + TEXT[end:])
