"""Every way a scenario file can be wrong gets one message that a tired maker understands at once.

Each case changes the starter, which is good, in one place, and names what the message must say.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_scenario, read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = starter_text()
STORY = (Path(__file__).parents[3] / "scenarios" / "three_ways_to_push.toml").read_text(
    encoding="utf-8")


def changed(old: str, new: str) -> str:
    assert STARTER.count(old) >= 1, f"the starter no longer has {old!r}"
    return STARTER.replace(old, new, 1)


def line_with(text: str, part: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


CASES = {
    "wrong unit": ('exit_diameter = "15 mm"', 'exit_diameter = "15 mn"',
                   ["candidates.blower.nozzle.exit_diameter", '"15 mn"', "unknown unit",
                    "a length"]),
    "wrong dimension": ('resistance = "45 mohm"', 'resistance = "45 mA"',
                        ["candidates.blower.motor.resistance", '"45 mA"', "unit of a current",
                         "a resistance"]),
    "a frequency for a shaft speed": ('speed_limit = "95 krpm"', 'speed_limit = "1600 Hz"',
                                      ["drive.speed_limit", '"1600 Hz"', "rpm"]),
    "negative area": ('wing_area = "0.20 m^2"', 'wing_area = "-0.20 m^2"',
                      ["airframe.wing_area", '"-0.20 m^2"', "below"]),
    "nozzle exit larger than its entry": (
        'exit_diameter = "15 mm"', 'exit_diameter = "31 mm"',
        ["candidates.blower.nozzle.exit_diameter", '"31 mm"', "larger than its entry"]),
    "efficiency above one": ('work_shutoff = 0.80', 'work_shutoff = 0.30',
                             ["candidates.blower.map.work_shutoff", "efficiency exceeds one"]),
    "more thrust than momentum theory allows": (
        "power_coefficient = [0.052,", "power_coefficient = [0.012,",
        ["candidates.propeller.table.power_coefficient", "momentum theory"]),
    "unknown kind": ('kind = "axial fan"', 'kind = "axial fna"',
                     ["candidates.fan.kind", '"axial fna"', 'did you mean "axial fan"']),
    "unknown key": ('unit_mass = "200 g"', 'unit_mas = "200 g"',
                    ["candidates.fan.unit_mas", 'did you mean "unit_mass"']),
    "NaN": ("head_slope = 0.2\n", "head_slope = nan\n",
            ["candidates.blower.map.head_slope", "nan"]),
    "infinite": ("head_slope = 0.2\n", "head_slope = inf\n",
                 ["candidates.blower.map.head_slope", "inf"]),
    "a map that folds back": ("flow = [0.10, 0.14,", "flow = [0.14, 0.10,",
                              ["candidates.fan.map.flow", "folds back"]),
    "a table with one row": (
        "head = [0.150, 0.178, 0.180, 0.165, 0.138, 0.100, 0.052, -0.004]", "head = [0.150]",
        ["candidates.fan.map.head", "[0.15]", "2 or more"]),
    "an empty airspeed range": ('lowest = "0 m/s"', 'lowest = "90 m/s"',
                                ["airspeed.lowest", '"90 m/s"', "range is empty"]),
    "supersonic airspeeds": ('highest = "80 m/s"', 'highest = "400 m/s"',
                             ["airspeed.highest", "Mach 0.95"]),
    "a pack that cannot deliver": (
        'power_limit = "350 W"            # a motor', 'power_limit = "9 kW"            # a motor',
        ["candidates.fan.drive.power_limit", '"9 kW"', "the pack cannot deliver"]),
    "hub wider than the eye": ('hub_diameter = "8 mm"', 'hub_diameter = "28 mm"',
                               ["candidates.blower.rotor.hub_diameter", "no eye"]),
    "eye wider than the wheel": ('eye_diameter = "21 mm"', 'eye_diameter = "51 mm"',
                                 ["candidates.blower.rotor.eye_diameter", "wider than the wheel"]),
    "a quantity without its unit": ('span = "1.2 m"', "span = 1200",
                                    ["airframe.span", "1200", "plain number is in m"]),
    "decimal comma": ('span = "1.2 m"', 'span = "1,2 m"', ["airframe.span", '"1,2 m"', "comma"]),
    "plus-minus": ('span = "1.2 m"', 'span = "1.2 ± 0.4 m"', ["airframe.span", "±"]),
    "a tower of powers": ('span = "1.2 m"', 'span = "9**9**9 m"', ["airframe.span", "9**9**9"]),
    "a state of charge in plain percent": ('state_of_charge = "70 %"', "state_of_charge = 70",
                                           ["pack.state_of_charge", '"70 %"']),
    "unknown reference": (
        'electrical_power = "350 W"', 'reference = "propellor"',
        ["comparison.reference", '"propellor"', 'did you mean "propeller"']),
    "a footing without its power": ('electrical_power = "350 W"', "#",
                                    ["comparison.footing", "electrical_power"]),
    "a fraction of a unit": ("count = 1 ", "count = 1.5 ", ["candidates.blower.count", "1.5",
                                                            "whole number"]),
    "no unit at all": ("count = 1 ", "count = 0 ", ["candidates.blower.count", "whole number"]),
    "a jet wider than its exit": ('exit_diameter = "15 mm"',
                                  'exit_diameter = "15 mm"\ndischarge_coefficient = 0.99',
                                  ["candidates.blower.nozzle.discharge_coefficient", "wider"]),
    "an efficiency motor without a limit": (
        'power_limit = "350 W"            # a motor known by its efficiency needs a limit',
        'speed_limit = "50 krpm"', ["candidates.fan.drive", "needs a limit"]),
}


FAN_BLADES = """source = "geometry"
shaft_speed = "40 krpm"
blades = 5
radius = ["15 mm", "23 mm", "31 mm"]
chord = ["14 mm", "14 mm", "14 mm"]
inlet_angle = ["{0} deg", "{0} deg", "{0} deg"]
outlet_angle = ["{1} deg", "{1} deg", "{1} deg"]
tip_clearance = "0.3 mm"
"""


@pytest.mark.parametrize("angles", [(-10, 30), (10, 5), (80, 79)])
def test_blades_that_leave_no_flow_are_named_with_their_candidate(angles) -> None:
    """History: dimensions good one by one, from which no map followed, ended in a traceback."""
    start = STORY.index('source = "points"')
    end = STORY.index("[candidates.fan.duct]")
    text = STORY[:start] + FAN_BLADES.format(*angles) + "\n" + STORY[end:]
    with pytest.raises(ScenarioError, match="no unstalled flow") as caught:
        read_text(text, name="mine.toml")
    (fault,) = caught.value.faults
    assert fault.key == "candidates.fan.map"
    assert fault.line == line_with(text, "[candidates.fan.map]")


@pytest.mark.parametrize("case", CASES)
def test_one_fault_one_clear_message(case: str) -> None:
    old, new, said = CASES[case]
    text = changed(old, new)
    with pytest.raises(ScenarioError) as caught:
        read_text(text, name="mine.toml")
    message = str(caught.value)
    for words in said:
        assert words in message
    assert "mine.toml" in message
    assert "Traceback" not in message
    assert all(fault.accepted for fault in caught.value.faults), message


@pytest.mark.parametrize("case", ["wrong unit", "unknown kind", "efficiency above one",
                                  "an empty airspeed range", "unknown key", "a table with one row"])
def test_the_line_is_the_line_of_the_key(case: str) -> None:
    old, new, _ = CASES[case]
    text = changed(old, new)
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    first = new.split("\n")[0].strip()
    assert line_with(text, first) in [fault.line for fault in caught.value.faults]


@pytest.mark.parametrize(("name", "said"), [
    ("../prop", "letters"), ("<b>prop</b>", "letters"), ("x" * 41, "at most 40"),
    ("FAN", "differs from"), ("pr\u00f6p", "letters")])
def test_names_that_would_escape_or_be_mistaken(name: str, said: str) -> None:
    text = STARTER.replace("candidates.propeller", f'candidates."{name}"')
    with pytest.raises(ScenarioError, match=said) as caught:
        read_text(text)
    assert [fault.key.startswith("candidates.") for fault in caught.value.faults] == [True]


def test_all_faults_come_in_one_message() -> None:
    text = changed('span = "1.2 m"', 'span = "1.2 kg"').replace(
        'hub_diameter = "27 mm"', 'hub_diameter = "27 furlong"').replace(
        'footing = "same', 'footing = "the same')
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    keys = {fault.key for fault in caught.value.faults}
    assert {"airframe.span", "candidates.fan.rotor.hub_diameter", "comparison.footing"} <= keys
    assert f"{len(caught.value.faults)} faults" in str(caught.value)


def test_a_faulty_candidate_does_not_hide_the_faults_of_the_rest() -> None:
    text = changed('kind = "blower"', 'kind = "bellows"').replace('lowest = "0 m/s"',
                                                                 'lowest = "99 m/s"')
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    assert {"candidates.blower.kind", "airspeed.lowest"} <= {
        fault.key for fault in caught.value.faults}


@pytest.mark.parametrize(("text", "words"), [
    ("", "empty"), ("   \n\n", "empty"), ("a = [", "broken TOML"), ('title = "x\n', "broken TOML"),
    ("candidates = 3", "not a table"), ("[candidates]\na = 3", "not a table"),
    ("[[candidates]]\nkind = 'blower'", "not a table"), ("[pack]\n[pack]", "there twice"),
    ("title = " + "[" * 40 + "]" * 40, "nested too deeply")])
def test_files_that_are_hardly_scenarios(text: str, words: str) -> None:
    with pytest.raises(ScenarioError, match=words):
        read_text(text)


def test_duplicate_candidate() -> None:
    with pytest.raises(ScenarioError, match="there twice") as caught:
        read_text(STARTER + '\n[candidates.blower]\nkind = "blower"\n')
    assert caught.value.faults[0].line > 100


def test_missing_file_folder_encoding_and_size(tmp_path) -> None:
    with pytest.raises(ScenarioError, match="no such file"):
        read_scenario(tmp_path / "none.toml")
    with pytest.raises(ScenarioError, match="a folder"):
        read_scenario(tmp_path)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('title = "caf\xe9"'.encode("latin-1"))
    with pytest.raises(ScenarioError, match="UTF-8"):
        read_scenario(latin)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 5_000_001)
    with pytest.raises(ScenarioError, match="at most 5 MB"):
        read_scenario(large)
    with pytest.raises(ScenarioError, match=r"not a usable path|cannot be read|no such file"):
        read_scenario("a\0b.toml")
