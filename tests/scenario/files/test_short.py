"""The short file, what it may leave out, and what a good file may still have wrong."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from tests.known_machines import AIRFRAME, MACHINE
from thrustlapse.cli import main
from thrustlapse.commands import questions
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.json_schema import schema_json
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.short import Answers, OwnMachine, short_starter_text, short_text
from thrustlapse.scenario.files.starter import starter_text


def run(*words: object, typed: str = "") -> Result:
    return CliRunner().invoke(main, [str(word) for word in words], input=typed)


def small(*lines: str, machine: str = MACHINE) -> str:
    return "\n".join(['title = "x"', *lines, machine])


# The starter ----------------------------------------------------------------------------------


def test_the_short_starter_has_at_most_ten_numbers_and_is_good() -> None:
    raw = tomllib.loads(short_starter_text())

    def numbers(part: object) -> int:
        if isinstance(part, dict):
            return sum(numbers(value) for value in part.values())
        return sum(c.isdigit() for c in str(part)) > 0
    assert numbers(raw) <= 10
    scenario = read_text(short_starter_text())
    assert scenario.invented
    assert scenario.airframe is not None
    assert scenario.pack is not None


def test_without_a_terminal_nothing_is_asked(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-c", "from thrustlapse.cli import main; main()", "new",
                           "mine.toml"], cwd=tmp_path, stdin=subprocess.DEVNULL,
                          capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "mine.toml").read_text("utf-8") == short_starter_text()


def test_the_long_one_stays_to_be_had(tmp_path: Path) -> None:
    assert run("new", "--long", tmp_path / "mine.toml").exit_code == 0
    assert (tmp_path / "mine.toml").read_text("utf-8") == starter_text()


def test_questions_need_a_terminal_and_one_choice(tmp_path: Path) -> None:
    assert "no terminal" in run("new", "--ask", tmp_path / "a.toml").output
    assert "one of them" in run("new", "--ask", "--long", tmp_path / "a.toml").output
    assert not (tmp_path / "a.toml").exists()


def test_asking_about_a_file_that_is_there_stops_before_the_first_question(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(questions, "on_a_terminal", lambda: True)
    (tmp_path / "a.toml").write_text("mine", encoding="utf-8")
    told = run("new", "--ask", tmp_path / "a.toml")
    assert told.exit_code == 2
    assert "1." not in told.output


TYPED = ["fan", "6.2", "620 gf", "310 W", "50 mm", "22.2 V", "maybe", "full", "n", "6S",
         "2200 mAh", "700 g", "20 cm^2 extra", "0.2 m^2", "1.2 m"]


def test_answers_make_the_short_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Slips are told and asked again: a plain number, a word that is none, a unit that is none."""
    monkeypatch.setattr(questions, "on_a_terminal", lambda: True)
    path = tmp_path / "mine.toml"
    told = run("new", path, typed="\n".join(["y", *TYPED, ""]))
    assert told.exit_code == 0, told.output
    raw = tomllib.loads(path.read_text("utf-8"))
    assert raw["candidates"]["fan"] == {"kind": "axial fan", "readings": {
        "thrust": "620 gf", "electrical_power": "310 W", "exit_diameter": "50 mm",
        "voltage": "22.2 V", "supply": "full voltage"}}
    assert raw["pack"] == {"series": 6, "cell_capacity": "2200 mAh"}
    assert raw["airframe"]["span"] == "1.2 m"
    assert "invented" not in raw
    assert "with its unit" in told.output
    assert run("check", path).exit_code == 0


@pytest.mark.parametrize(("typed", "series", "charge"), [
    ("6S 2.2 Ah", 6, "2.2 Ah"), ("6S1P 2200 mAh", 6, "2200 mAh"),
    ("6s 2200mAh LiPo", 6, "2200 mAh"), ("4 cells, 5000 mAh 14.8 V 45C", 4, "5000 mAh"),
    ("3s 2,2Ah", 3, "2.2 Ah"), ("6S", 6, "1300 mAh"), ("5", 5, "1300 mAh"),
    ("2S2P", 2, "1300 mAh")])
def test_a_pack_is_taken_as_its_label_says(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, series: int,
        charge: str) -> None:
    """The charge is asked for only where the label did not say it."""
    monkeypatch.setattr(questions, "on_a_terminal", lambda: True)
    path = tmp_path / "mine.toml"
    asked = [] if "h" in typed else [charge]
    before = ["", "", "", "", "", "n", "6S 0 mAh", "6S of something", "0S 2 Ah"]
    told = run("new", path, typed="\n".join(["y", *before, typed, *asked, "", "", ""]))
    assert told.exit_code == 0, told.output
    assert tomllib.loads(path.read_text("utf-8"))["pack"] == {
        "series": series, "cell_capacity": charge}
    assert told.output.count("as on the label") == 3


def test_nothing_known_is_still_a_good_file(tmp_path: Path,
                                            monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(questions, "on_a_terminal", lambda: True)
    path = tmp_path / "mine.toml"
    typed = "\n".join(["don't know", "?", "", "unknown", "", "n", "six", "0", "", "", ""])
    told = run("new", "--ask", path, typed=typed + "\n")
    assert told.exit_code == 0, told.output
    text = path.read_text("utf-8")
    assert text.count("NOT KNOWN") == 3
    checked = run("check", path)
    assert checked.exit_code == 0
    assert "still the starter's (3)" in checked.output


def test_a_span_not_known_is_a_range_of_usual_wings_and_a_charge_the_starters() -> None:
    text = short_text(Answers(machines=(OwnMachine(thrust="2 N", electrical_power="250 W",
                                                   exit_diameter="24 mm"), OwnMachine()),
                              series=4, mass="700 g", wing_area="0.2 m^2"))
    scenario = read_text(text)
    assert list(scenario.candidates) == ["blower", "blower-2"]
    assert "airframe.aspect_ratio" in {one.key for one in scenario.spreads}


def test_negative_and_spread_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    given = iter(["-2 N", "0 ± 1 N", "2 ± 0.1 N"])
    monkeypatch.setattr(questions.click, "prompt", lambda *_, **__: next(given))
    assert questions._quantity("?", "force") == "2 ± 0.1 N"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_on_a_real_terminal_the_questions_are_offered(tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    done = subprocess.Popen([sys.executable, "-c", "from thrustlapse.cli import main; main()",
                             "new", "mine.toml"], cwd=tmp_path, stdin=theirs, stdout=theirs,
                            stderr=theirs)
    os.close(theirs)
    os.write(ours, b"n\n")
    assert done.wait(timeout=60) == 0
    assert b"Seven questions" in os.read(ours, 4096)
    os.close(ours)
    assert (tmp_path / "mine.toml").read_text("utf-8") == short_starter_text()


# What may be left out ---------------------------------------------------------------------------


def test_an_editor_finds_nothing_missing_in_a_short_file() -> None:
    jsonschema.validate(tomllib.loads(short_starter_text()), schema_json())
    jsonschema.validate(tomllib.loads(small(AIRFRAME)), schema_json())


def test_a_pack_by_cells_and_charge_alone() -> None:
    """12 to 45 mohm Ah over 3 Ah is 4 to 15 mohm; 4 x 3 Ah x 3.65 V at 170 Wh/kg is 258 g."""
    scenario = read_text(small('[pack]\nseries = 4\ncell_capacity = "3 Ah"'))
    assert scenario.pack is not None
    assert float(scenario.pack.cell_resistance) == pytest.approx(0.0095)
    assert scenario.section.pack.mass == pytest.approx(4 * 3 * 3.65 / 170, rel=1e-3)
    assert {"pack.cell_resistance", "pack.mass", "pack.state_of_charge"} <= {
        one.key for one in scenario.spreads}
    told = " ".join(scenario.candidates["mine"].assumptions)
    assert "uncertain" in told
    assert "80 % .. 100 %" in told


def test_the_resistance_of_a_measured_cell_goes_with_its_chemistry() -> None:
    """Schuster and others: 1.9 Ah, 0.10 ohm at half charge."""
    scenario = read_text(small(
        '[pack]\nchemistry = "NMC 18650"\nseries = 8\ncell_capacity = "1.9 Ah"'))
    assert scenario.pack is not None
    assert float(scenario.pack.cell_resistance) == pytest.approx(0.1, rel=0.02)


@pytest.mark.parametrize("table", ['[pack]\nseries = "many"\ncell_capacity = "3 Ah"',
                                   '[pack]\nseries = 3\ncell_capacity = 7\nmass = "100 g"'
                                   '\ncell_resistnce = "3 mohm"', "[pack]\nseries = 3"])
def test_a_default_hides_no_fault_and_no_slip(table: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_text(small(table))
    assert all("pack" in fault.key for fault in caught.value.faults)


def test_a_machine_with_a_map_may_leave_out_inlet_duct_and_mass() -> None:
    raw = tomllib.loads(starter_text())
    import tomlkit

    for name in ("blower", "fan"):
        for key in ("inlet", "duct", "unit_mass"):
            del raw["candidates"][name][key]
    del raw["airspeed"]
    scenario = read_text(tomlkit.dumps(raw))
    for name in ("blower", "fan"):
        told = " ".join(scenario.candidates[name].assumptions)
        assert "rounded lip" in told
        assert "mm long" in told
        assert "unit mass" in told
    assert scenario.candidates["blower"].unit.duct.area < scenario.candidates["fan"].unit.duct.area


# Traps ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("lines", "said"), [
    (AIRFRAME.replace('"0.7 kg"', '"280"'), 'airframe.mass = "280", read as 280 kg'),
    (AIRFRAME.replace('"0.7 kg"', "280"), "airframe.mass = 280, read as 280 kg"),
    (AIRFRAME.replace('"0.7 kg"', '"280 kg"'), "kg/m^2 of wing"),
    ('[pack]\nseries = 6\ncell_capacity = "5 Ah"\nmass = "480 kg"', "Wh/kg of the pack")])
def test_what_is_possible_and_not_usual_is_told(lines: str, said: str) -> None:
    assert said in " ".join(read_text(small(lines)).doubts)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('speed_constant = "4400 rpm/V"', "speed_constant = 4400", "rad/s per volt"),
    ('speed_constant = "4400 rpm/V"', 'torque_constant = "2 N m/A"', "as a speed constant"),
    ('speed_limit = "95 krpm"', 'speed_limit = "78.000 rpm"', "a point marks the decimals"),
    ('speed_limit = "95 krpm"', 'speed_limit = "78.000 rpm"', "slower than any machine"),
    ('unit_mass = "250 g"', 'unit_mass = "250 kg"', "W/kg of the unit"),
    ("count = 1 ", "count = 2 ", "held to 175 W each")])
def test_slips_of_a_machine_are_told(old: str, new: str, said: str) -> None:
    assert said not in " ".join(read_text(starter_text()).doubts)
    text = starter_text().replace(old, new, 1)
    assert text != starter_text()
    assert said in " ".join(read_text(text).doubts)


def test_a_jet_far_weaker_than_its_watts_is_doubted() -> None:
    """250 W through 24 mm: T^3/2 / (4 rho A)^1/2 is 0.7 W of jet at 0.1 N, and 65 W at 2.1 N; the
    0.7 mW at 1 mN are refused."""
    weak = small().replace('"2.1 N"', '"0.1 N"')
    assert weak != small()
    with pytest.raises(ScenarioError, match="no machine of this kind meets the readings"):
        read_text(small().replace('"2.1 N"', '"0.001 N"'))
    assert "% of the watts in the jet" in " ".join(read_text(weak).doubts)
    assert "% of the watts in the jet" not in " ".join(read_text(small()).doubts)


def test_nothing_is_the_same_in_any_unit_and_words_are_no_numbers() -> None:
    text = small('[supply]\nvoltage = "12 V"\nresistance = 0\nmass = 0\n[airspeed]\nlowest = 0\n'
                 'highest = "40 m/s"')
    assert not read_text(text).doubts


def test_the_starters_numbers_are_listed_until_they_are_changed() -> None:
    own = short_starter_text().replace("invented = true", "")
    assert "still the starter's (8)" in " ".join(read_text(own).doubts)
    assert "(7)" in " ".join(read_text(own.replace("830 g", "700 g")).doubts)
    assert not any("still" in told for told in read_text(short_starter_text()).doubts)
    assert "still the starter's" in " ".join(
        read_text(starter_text().replace("invented = true", "")).doubts)


def test_doubts_are_on_the_page_and_on_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(small(AIRFRAME.replace('"0.7 kg"', '"1.2"'), "[uncertainty]\nsamples = 0"),
                    encoding="utf-8")
    told = run("compare", path, "--out", tmp_path / "page")
    assert told.exit_code == 0, told.output
    assert "read as 1.2 kg" in told.output
    assert "read as 1.2 kg" in (tmp_path / "page" / "index.html").read_text("utf-8")


@pytest.mark.parametrize(("kind", "hint"), [
    ("vacuum motor", '"blower"'), ("EDF", '"axial fan"'), ("ducted fan", '"axial fan"'),
    ("prop", '"propeller"'), ("blowr", '"blower"'), ("gizmo", "")])
def test_a_wrong_kind_hides_nothing(kind: str, hint: str) -> None:
    text = small(machine=MACHINE.replace("blower", kind).replace("24 mm", "24 kg"))
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    assert "candidates.mine.kind" in {fault.key for fault in caught.value.faults}
    if kind != "prop":
        assert [fault.key for fault in caught.value.faults] == [
            "candidates.mine.kind", "candidates.mine.readings.exit_diameter"]
    assert hint in str(caught.value)


@pytest.mark.parametrize(("name", "key"), [("fan", "rotor.hub_diameter"), ("blower", "map.source"),
                                           ("propeller", "table.source")])
def test_a_candidate_without_a_usable_kind_is_read_as_what_it_looks_like(name: str,
                                                                         key: str) -> None:
    raw = tomllib.loads(starter_text())
    import tomlkit

    raw["candidates"][name]["kind"] = "engine"
    table, inner = key.split(".")
    raw["candidates"][name][table][inner] = "90 kg"
    with pytest.raises(ScenarioError) as caught:
        read_text(tomlkit.dumps(raw))
    assert [fault.key for fault in caught.value.faults] == [
        f"candidates.{name}.kind", f"candidates.{name}.{key}"]


def test_what_nothing_tells_is_one_fault() -> None:
    for lines in ("exit_area_ratio = 1.1", "motor = {}"):
        with pytest.raises(ScenarioError, match="kind"):
            read_text(small(machine=f'[candidates.x]\nkind = "engine"\n{lines}\n'))


def test_what_the_short_starter_has_in_comments_is_good_too() -> None:
    head, more = short_starter_text().split("# More of the same")
    lines = [line.removeprefix("# ") for line in more.splitlines()[1:]
             if "A propeller by its label" not in line]
    scenario = read_text(head + "\n".join(lines) + "\n")
    assert list(scenario.candidates) == ["blower", "fan", "propeller"]
