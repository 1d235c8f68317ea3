"""The evidence and next commands as a person uses them, and a machine's file that learns."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import thrustlapse as tl
from tests import shipped
from thrustlapse.cli import main
from thrustlapse.learning import (
    EvidenceError,
    bench_piece,
    learned,
    learned_text,
    log_piece,
    machine,
    next_experiments,
    speed_piece,
    with_piece,
    without_piece,
)
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.machine_file import read_machine

SCENARIOS = Path(__file__).parents[1] / "scenarios"


FILES = ("three_ways_to_push.toml", "story_blower_bench.csv", "story_fan_flight.csv")


@pytest.fixture
def place(tmp_path: Path) -> Path:
    for name in FILES:
        shutil.copy(SCENARIOS / name, tmp_path / name)
    return tmp_path


def learning(folder: Path, evidence: str, name: str) -> tuple[str, str]:
    """What is said when a machine of the story learns from a file, and the text of its own."""
    for one in FILES:
        shutil.copy(SCENARIOS / one, folder / one)
    said = run("evidence", "add", folder / FILES[0], folder / evidence, "--candidate", name,
               "--date", "2026-03-01")
    return said, (folder / f"{name}.machine.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def by_its_flight(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The fan and its flight, once for all."""
    return learning(tmp_path_factory.mktemp("fan"), "story_fan_flight.csv", "fan")


@pytest.fixture(scope="module")
def by_its_bench(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """The blower and its bench, once for all."""
    return learning(tmp_path_factory.mktemp("blower"), "story_blower_bench.csv", "blower")


def run(*args: str | Path, code: int = 0) -> str:
    found = CliRunner().invoke(main, [str(one) for one in args])
    assert found.exit_code == code, found.output
    assert found.exception is None or isinstance(found.exception, SystemExit)
    return found.output


def included(place: Path, name: str) -> Path:
    """The scenario with a candidate's file in place of its tables."""
    text = (place / "three_ways_to_push.toml").read_text(encoding="utf-8")
    start = text.index(f"[candidates.{name}]")
    after = re.search(rf"\n\[(?!candidates\.{name})", text[start:])
    end = len(text) if after is None else start + after.start()
    file = place / "with_file.toml"
    file.write_text(f'{text[:start]}[candidates.{name}]\ninclude = "{name}.machine.toml"\n'
                    + text[end:], encoding="utf-8")
    return file


def test_a_machine_learns_from_a_bench_and_forgets_it_again(
        place: Path, by_its_bench: tuple[str, str]) -> None:
    told, bench = place / "three_ways_to_push.toml", place / "story_blower_bench.csv"
    said, text = by_its_bench
    (place / "blower.machine.toml").write_text(text, encoding="utf-8")
    assert "by 1 piece of evidence" in said
    assert "bench file: story_blower_bench.csv, 2026-03-01, 17 readings" in said
    assert 'include = "blower.machine.toml"' in said
    file = included(place, "blower")
    before, after = (one.uncertainty.candidates["blower"].top_speed
                     for one in (shipped.story(), tl.compare(tl.read_scenario(file))))
    assert after.low < after.median < after.high
    # what the bench told is counted: the description alone is as wide as its priors are narrow
    assert "17 readings" not in file.read_text(encoding="utf-8")
    assert before.low < before.high
    again = run("evidence", "add", file, bench, "--candidate", "blower", code=2)
    assert "taken in already, as story_blower_bench.csv of 2026-03-01" in again
    run("evidence", "drop", file, "story_blower_bench.csv", "--candidate", "blower")
    forgotten = tl.read_scenario(file).candidates["blower"]
    never = tl.read_scenario(told).candidates["blower"]
    speeds = np.array([0.0, 20.0, 40.0])
    np.testing.assert_array_equal(tl.operate(forgotten, airspeed=speeds).installed_thrust,
                                  tl.operate(never, airspeed=speeds).installed_thrust)
    assert forgotten.fit is None
    gone = run("evidence", "drop", file, "story_blower_bench.csv", "--candidate", "blower", code=2)
    assert "names 0 pieces of blower; there are: none" in gone


def test_pieces_in_any_order_leave_the_same_file_of_numbers(place: Path) -> None:
    scenario = tl.read_scenario(place / "three_ways_to_push.toml")
    bench = bench_piece(place / "story_blower_bench.csv", date="2026-03-01")
    sound = speed_piece(place / "story_fan_flight.csv", 9e3, 40.0, date="2026-01-01",
                        nozzle=0.015, voltage=23.0, setting="high")
    bare = machine(scenario, "blower")
    first, second = (learned(with_piece(with_piece(bare, one), other))
                     for one, other in ((bench, sound), (sound, bench)))
    texts = [learned_text(one) for one in (first, second)]
    assert len({one[:one.index("[described]")] for one in texts}) == 1
    (place / "blower.machine.toml").write_text(texts[0], encoding="utf-8")
    kept = machine(scenario, "blower")
    assert len(kept.pieces) == 2
    np.testing.assert_array_equal(learned(kept).fit.scaled, first.fit.scaled)
    fewer = without_piece(kept, sound.digest[:8])
    np.testing.assert_array_equal(learned(fewer).fit.scaled,
                                  learned(with_piece(bare, bench)).fit.scaled)


def test_a_flight_log_teaches_the_machine_it_was_flown_with(
        place: Path, by_its_flight: tuple[str, str]) -> None:
    said, text = by_its_flight
    assert "flight log: story_fan_flight.csv" in said
    (place / "fan.machine.toml").write_text(text, encoding="utf-8")
    kept = read_machine(place / "fan.machine.toml")
    assert kept is not None
    assert kept.pieces[0].readings.by_log.all()
    out = place / "history"
    shown = run("evidence", "show", included(place, "fan"), "--candidate", "fan", "--out", out)
    assert "by 1 piece of evidence; by the description alone" in shown
    record = json.loads((out / "history.json").read_text(encoding="utf-8"))
    first, last = record["steps"]
    assert first["piece"] is None
    assert last["deviation"] < 0.5 * first["deviation"]
    assert last["piece"]["digest"] == kept.pieces[0].digest
    assert (out / "figures" / "history.svg").exists()
    page = (out / "index.html").read_text(encoding="utf-8")
    assert kept.pieces[0].digest in page
    assert "never" not in record["headline"]


def test_evidence_that_disagrees_is_named_on_the_terminal_and_in_the_file(
        place: Path, by_its_bench: tuple[str, str]) -> None:
    told = place / "three_ways_to_push.toml"
    (place / "blower.machine.toml").write_text(by_its_bench[1], encoding="utf-8")
    label = place / "label.csv"
    label.write_text("thrust [N] +- 1 %,electrical power [W] +- 1 %,nozzle exit diameter [mm]\n"
                     "4.2,400,15\n", encoding="utf-8")
    said = run("evidence", "add", told, label, "--candidate", "blower", "--kind", "label")
    assert "label.csv (label) disagrees with the rest" in said
    assert "every thrust of it too high by" in said
    assert "Nothing is averaged away" in said
    out = place / "next"
    assert "label.csv (label) disagrees with the rest" in run(
        "next", told, "--reach", "27 m/s", "--bench", "--out", out)
    record = json.loads((out / "next.json").read_text(encoding="utf-8"))
    assert {one["name"] for one in record["disagreements"]} == {
        "label.csv", "story_blower_bench.csv"}
    assert "label.csv disagrees with the rest" in (place / "blower.machine.toml").read_text(
        encoding="utf-8")


def test_next_ranks_experiments_and_writes_them_down(place: Path) -> None:
    told, out = place / "three_ways_to_push.toml", place / "next"
    said = run("next", told, "--reach", "27 m/s", "--out", out)
    assert said.startswith("The chance that the blower has thrust to spare at 27 m/s")
    assert "caution: " in said
    record = json.loads((out / "next.json").read_text(encoding="utf-8"))
    assert {"question", "chance_now", "experiments"} <= {*record}
    assert 0.05 < record["chance_now"] < 0.95
    for one in record["experiments"]:
        assert {"name", "expected_chance_settled", "minutes", "caution"} <= {*one}
        assert 0.0 <= one["expected_chance_settled"] <= 1.0
    found = next_experiments(tl.read_scenario(told), reach=27.0)
    assert [one.name for one in found.experiments] == [
        one["name"] for one in record["experiments"]]
    clear = run("next", told, "--faster-than", "fan", "--out", out)
    assert "Settled: the answer is no" in clear
    assert "no experiment is needed" in clear
    bench = run("next", told, "--nozzle", "15.5 mm", "--at", "20 m/s", "--bench", "--out", out)
    assert "level run" not in bench


@pytest.mark.parametrize(("args", "said"), [
    (("next", "FILE", "--candidate", "kite"), "no candidate is called 'kite'"),
    (("next", "FILE", "--faster-than", "kite"), "no rival is called 'kite'"),
    (("next", "FILE", "--reach", "fast"), "--reach 'fast'"),
    (("evidence", "add", "FILE", "nothing.csv", "--candidate", "blower"), "nothing.csv"),
    (("evidence", "add", "FILE", "FILE", "--candidate", "kite"), "no candidate is called 'kite'"),
    (("evidence", "drop", "FILE", "x.csv", "--candidate", "blower"), "names 0 pieces"),
    (("evidence", "add", "FILE", "hum.wav", "--candidate", "blower"), "needs --blades"),
])
def test_what_cannot_be_done_is_said_in_words(place: Path, args: tuple[str, ...],
                                              said: str) -> None:
    (place / "hum.wav").write_bytes(b"RIFF")
    made = [str(place / "three_ways_to_push.toml") if one == "FILE" else
            str(place / one) if "." in one and not one.startswith("-") and one != "x.csv" else one
            for one in args]
    assert said in run(*made, code=2)


def test_a_file_of_another_machine_is_not_taken_for_this_one(
        place: Path, by_its_flight: tuple[str, str]) -> None:
    (place / "blower.machine.toml").write_text(by_its_flight[1], encoding="utf-8")
    with pytest.raises(EvidenceError, match="described otherwise"):
        machine(tl.read_scenario(place / "three_ways_to_push.toml"), "blower")


@pytest.mark.parametrize(("old", "new", "said"), [
    ('kind = "flight log"', 'kind = "rumour"', "is no kind of evidence"),
    ("rows = 2", "rows = 3", "is not a list of numbers"),
    ('setting = ["as it flies", ', 'setting = [', "is not a list of texts"),
    ("rows = 2", 'rows = "two"', "is not a number of rows"),
    ("by_log = [", "by_luck = [", "is no quantity that is read"),
    ("thrust = [", 'thrust = ["much", ', "is not a list of numbers"),
    ('date = "', 'dated = "', "missing: evidence[0].date"),
    ("[described]", "[described_so]", "missing: described"),
])
def test_a_machine_s_file_changed_by_hand_is_refused_in_words(
        tmp_path: Path, by_its_flight: tuple[str, str], old: str, new: str, said: str) -> None:
    file, (_, text) = tmp_path / "fan.machine.toml", by_its_flight
    assert old in text
    file.write_text(text.replace(old, new, 1) if old != "[described]" else
                    text.replace("[described", "[described_so"), encoding="utf-8")
    with pytest.raises(ScenarioError, match=re.escape(said)):
        read_machine(file)


def test_a_machine_known_by_readings_counts_them_as_its_first_evidence(tmp_path: Path) -> None:
    for name in ("kitchen_scale.toml", "kitchen_scale_bench.csv"):
        shutil.copy(SCENARIOS / name, tmp_path / name)
    told = machine(tl.read_scenario(tmp_path / "kitchen_scale.toml"), "blower")
    assert [one.kind for one in told.evidence] == ["table of readings"]
    more = with_piece(told, bench_piece(tmp_path / "kitchen_scale_bench.csv", date="2026-02-02"))
    # nobody read the volts on that evening: about the description's
    assert more.evidence[1].readings.voltage.tolist() == [22.2] * 3
    assert more.pieces[0].readings.voltage.tolist() != [22.2] * 3


def test_a_log_needs_an_aircraft(place: Path) -> None:
    text = (place / "three_ways_to_push.toml").read_text(encoding="utf-8")
    bare = place / "bare.toml"
    start = text.index("[airframe")
    bare.write_text(text[:start] + text[text.index("\n[candidates", start):], encoding="utf-8")
    told = machine(tl.read_scenario(bare), "fan")
    with pytest.raises(EvidenceError, match="no \\[airframe\\]"):
        log_piece(told, place / "story_fan_flight.csv", date="2026-01-01")
