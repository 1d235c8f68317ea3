"""Results as files: they load back equal, carry their units, and never break a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.equal import equal_results
from tests.report.machines import equal_power, single, three, two, without_airframe
from thrustlapse.glossary import key
from thrustlapse.power.drive import DriveLimit
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.report.atomic_write import ReportError
from thrustlapse.report.comparison.results_file import (
    CURVE_COLUMNS,
    DERIVED,
    curves_text,
    read_results,
    results_text,
    write_results,
)
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.csv_cells import plain_cell
from thrustlapse.study.comparison import Comparison

ALL = [single, two, three, without_airframe, equal_power]


def document(comparison: Comparison) -> dict[str, Any]:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    return json.loads(results_text(comparison), parse_constant=refuse)  # type: ignore[no-any-return]


@pytest.mark.parametrize("make", ALL)
def test_a_comparison_loads_back_equal(make: Callable[[], Comparison], tmp_path: Path) -> None:
    comparison = make()
    write_results(comparison, tmp_path / "results.json")
    assert equal_results(read_results(tmp_path / "results.json"), comparison)


def test_nan_infinity_and_not_asked_for_stay_apart(tmp_path: Path) -> None:
    odd = replace(two(), drag_area=float("nan"), reference_power=None, airframe_mass=float("inf"),
                  pressure=float("-inf"))
    write_results(odd, tmp_path / "odd.json")
    back = read_results(tmp_path / "odd.json")
    assert equal_results(back, odd)
    assert back.reference_power is None
    assert np.isnan(back.drag_area)


def test_equality_sees_the_last_bit_of_one_element() -> None:
    comparison = two()
    result = comparison.candidates["blower"]
    thrust = result.curve.net_thrust.copy()
    thrust[7] = np.nextafter(thrust[7], np.inf)
    other = replace(comparison, candidates={**comparison.candidates, "blower": replace(
        result, curve=replace(result.curve, net_thrust=thrust))})
    assert not equal_results(other, comparison)
    assert not equal_results(replace(comparison, title="other"), comparison)
    assert equal_results(replace(comparison), comparison)


def test_derived_keys_are_for_the_reader_only(tmp_path: Path) -> None:
    derived = {key(word) for word in DERIVED}

    def without(part: Any) -> Any:
        if isinstance(part, dict):
            return {name: without(item) for name, item in part.items()
                    if name not in derived or (name == "top_speed_m_s" and "speeds_m_s" in part)}
        return [without(item) for item in part] if isinstance(part, list) else part

    found = without(document(two()))
    assert "top_speed_m_s" not in found["candidates"]["blower"]
    (tmp_path / "bare.json").write_text(json.dumps(found), encoding="utf-8")
    assert equal_results(read_results(tmp_path / "bare.json"), two())


def test_the_agreed_keys_are_there() -> None:
    found = document(three())
    assert set(found["candidates"]) == {"blower", "ducted fan", "propeller"}
    count = len(three().airspeed)
    for candidate in found["candidates"].values():
        for name in ("airspeed_m_s", "net_thrust_N", "electrical_power_W", "shaft_power_W",
                    "shaft_speed_rad_s", "mass_flow_kg_s", "jet_speed_m_s", "installed_thrust_N",
                    "drive_limit", "severity", "flags"):
            assert len(candidate[name]) == count
        assert candidate["top_speed_m_s"] > 0.0
    for crossing in found["crossovers"]:
        assert {"kind", "between", "airspeed_m_s", "net_thrust_N",
                "drag_area_threshold_m2"} <= set(crossing)
    told = verdict(three())
    assert found["verdict"] == {"headline": told.headline, "remember": told.remember,
                                "sentences": list(told.sentences),
                                "groups": {title: list(said) for title, said in told.groups}}


def test_codes_are_written_in_words_and_no_value_as_null() -> None:
    curve, found = three().candidates["propeller"].curve, document(three())
    written = found["candidates"]["propeller"]
    assert "drive_limit_code" not in written
    assert written["drive_limit"] == [DriveLimit(code).words for code in curve.drive_limit_code]
    void = int(np.flatnonzero(~curve.valid)[0])
    assert written["net_thrust_N"][void] is None
    assert written["severity"][void] == "invalid"
    assert "outside map" in written["flags"][void]
    assert all(Flag[name.upper().replace(" ", "_")] for name in written["flags"][void])
    assert written["net_thrust_N"][3] == curve.net_thrust[3]


def test_without_airframe_or_top_speed_is_null() -> None:
    found = document(without_airframe())
    assert found["drag_area_m2"] is None
    assert found["candidates"]["blower"]["top_speed_m_s"] is None
    assert found["candidates"]["blower"]["level"] is None


def test_every_key_with_a_unit_is_explained() -> None:
    found = document(three())
    assert found["keys"]["shaft_speed_rad_s"] == "speed of the shaft [rad/s]"

    def walk(part: Any) -> set[str]:
        if isinstance(part, list):
            return set().union(*map(walk, part)) if part else set()
        if isinstance(part, dict):
            return {key for key in part if key.endswith(("_N", "_W", "_m_s", "_m2", "_rad_s"))
                    }.union(*map(walk, part.values()))
        return set()

    used = walk({key: value for key, value in found.items() if key != "keys"})
    assert used <= set(found["keys"])
    assert len(used) > 30


@pytest.mark.parametrize(("change", "complaint"), [
    (lambda text: text[:0], "cannot read"),
    (lambda text: text[:1000], "cannot read"),
    (lambda text: "[1, 2]" + text[:0], "not a results file"),
    (lambda text: text.replace('"format_version": 1', '"format_version": 99'), "version 99"),
    (lambda text: text.replace('"full voltage"', '"full steam"'), "damaged"),
    (lambda text: text.replace('"density_kg_m3"', '"density"', 1), "damaged"),
    (lambda text: text.replace('"altitude_m": 100.0', '"altitude_m": [1]'), "damaged"),
    (lambda text: text.replace('"invented": true', '"invented": "yes"'), "damaged"),
])
def test_a_bad_file_gives_one_clear_message(change: Callable[[str], str], complaint: str,
                                            tmp_path: Path) -> None:
    text = results_text(two())
    changed = change(text)
    assert changed != text
    path = tmp_path / "results.json"
    path.write_text(changed, encoding="utf-8")
    with pytest.raises(ReportError, match=complaint) as caught:
        read_results(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_file_from_before_a_part_was_added_loads_without_it(tmp_path: Path) -> None:
    found = document(two())
    assert len(found["break_even"]) > 2
    assert set(found["best_nozzles"]) == {"blower"}
    count = len(two().airspeed)
    for one in found["break_even"]:
        for name in ("own_chain_efficiency", "needed_chain_efficiency_jet_held",
                     "needed_chain_efficiency_exit_held"):
            assert len(one[name]) == count
    del found["break_even"], found["best_nozzles"]
    (tmp_path / "old.json").write_text(json.dumps(found), encoding="utf-8")
    assert equal_results(read_results(tmp_path / "old.json"),
                         replace(two(), break_even=(), best_nozzles={}))


def test_sentences_of_the_verdict_stand_by_subject_in_the_order_of_the_page(
        tmp_path: Path) -> None:
    write_results(three(), tmp_path / "results.json")
    told = json.loads((tmp_path / "results.json").read_text("utf-8"))["verdict"]
    assert next(iter(told["groups"])) == "Thrust and speed"
    assert list(told["groups"])[-1] == "Read it with care"
    assert [text for texts in told["groups"].values() for text in texts] == told["sentences"]


def test_a_missing_file_is_a_report_error(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="cannot read"):
        read_results(tmp_path / "none.json")


def test_the_curves_are_one_row_per_candidate_and_airspeed() -> None:
    comparison = three()
    head, table = curves_text(comparison).split("\n", 1)
    assert head.startswith(f"# scenario sha256 {comparison.scenario_digest}; thrustlapse ")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert len(rows) == 3 * comparison.airspeed.size
    assert len(rows[0]) == len(CURVE_COLUMNS) + 4
    row = rows[2 * comparison.airspeed.size + 5]
    curve = comparison.candidates["propeller"].curve
    assert row["candidate"] == "propeller"
    assert float(row["airspeed_m_s"]) == comparison.airspeed[5]
    assert float(row["net_thrust_N"]) == curve.net_thrust[5]
    assert row["drive_limit"] == "power"
    assert row["throat_mach"] == ""
    assert rows[-1]["net_thrust_N"] == ""
    assert rows[-1]["severity"] == "invalid"


@pytest.mark.parametrize(("name", "cell"), [
    ("=1+1", "'=1+1"), ("+cmd", "'+cmd"), ("-2", "'-2"), ("@SUM(A1)", "'@SUM(A1)"),
    ("\t=1", "' =1"), ("\r=1", "' =1"), ("  =1", "'  =1"), ("two\nlines", "two lines"),
])
def test_no_name_becomes_a_formula(name: str, cell: str) -> None:
    assert plain_cell(name) == cell
    comparison = two()
    named = replace(comparison, candidates={name: comparison.candidates["blower"]})
    rows = list(csv.reader(io.StringIO(curves_text(named).split("\n", 1)[1])))
    assert rows[1][0] == cell
    assert len(rows) == 1 + comparison.airspeed.size


def test_a_harmless_name_stays_as_it_is() -> None:
    assert plain_cell("blower - 24 mm") == "blower - 24 mm"
