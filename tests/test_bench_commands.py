"""The commands of the bench, as a person runs them."""

from __future__ import annotations

import re

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.io import wavfile

from thrustlapse.cli import main


def run(*words: object):
    return CliRunner().invoke(main, ["bench", *(str(word) for word in words)])


def test_a_starter_is_written_checked_and_never_overwritten(tmp_path) -> None:
    path = tmp_path / "mine.csv"
    assert run("new", path).exit_code == 0
    checked = run("check", path)
    assert checked.exit_code == 0, checked.output
    assert "6 readings" in checked.output
    assert "outlet shut" in checked.output
    assert "friction" in checked.output
    again = run("new", path)
    assert again.exit_code == 2
    assert "already there" in again.output


def test_a_faulty_file_tells_all_faults(tmp_path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("thrust [g],shaft speed [krpm]\n190,82.5\n190,fast\n", encoding="utf-8")
    result = run("check", path)
    assert result.exit_code == 2
    assert "2 faults" in result.output
    assert "gf" in result.output
    assert "Traceback" not in result.output


def test_the_plan_names_readings_and_cautions() -> None:
    plan = run("plan")
    assert plan.exit_code == 0
    for word in ("Rotors burst", "plane of rotation", "shield", "Cut-off", "Lithium", "hearing",
                 "outlet shut", "inlet shut", "glide", "another supply voltage", "tighter",
                 "overheats", "seconds"):
        assert word in plan.output, word
    assert max(map(len, plan.output.splitlines())) <= 100


def test_a_recording(tmp_path) -> None:
    time = np.arange(88_200) / 44_100
    random = np.random.default_rng(1)
    heard = (np.sin(2 * np.pi * 12_375 * time) + 0.5 * np.sin(2 * np.pi * 1_375 * time)
             + random.standard_normal(time.size)) / 8
    path = tmp_path / "blower.wav"
    wavfile.write(path, 44_100, heard.astype(np.float32))
    result = run("speed", "--blades", 9, "--recording", path)
    assert result.exit_code == 0, result.output
    spoken = re.search(r"shaft speed: ([0-9.]+) ± ([0-9.]+) rpm", result.output)
    assert spoken is not None
    assert abs(float(spoken[1]) - 82_500) < 3 * float(spoken[2]) < 20
    drawn = run("speed", "--blades", 9, "--recording", path, "--figure", tmp_path / "a.svg")
    assert "written" in drawn.output
    assert (tmp_path / "a.svg").exists()
    for name, said in (("a.doc", "ends in .svg"), ("no/folder.svg", "cannot write")):
        refused = run("speed", "--blades", 9, "--recording", path, "--figure", tmp_path / name)
        assert refused.exit_code == 2
        assert said in refused.output
    wavfile.write(path, 44_100, random.standard_normal(88_200).astype(np.float32))
    assert "no tone" in run("speed", "--blades", 9, "--recording", path).output


def test_a_speed_followed_while_the_outlet_is_shut(tmp_path) -> None:
    random = np.random.default_rng(1)
    time = np.arange(5 * 44_100) / 44_100
    krpm = np.interp(time, [0.0, 2.0, 2.5, 5.0], [82.5, 82.5, 91.0, 91.0])
    shaft = 2 * np.pi * np.cumsum(krpm * 1000 / 60) / 44_100
    heard = (0.4 * np.sin(9 * shaft) + 0.2 * np.sin(shaft)
             + random.standard_normal(time.size)) / 8
    path = tmp_path / "shut.wav"
    wavfile.write(path, 44_100, heard.astype(np.float32))
    result = run("speed", "--blades", 9, "--recording", path, "--track")
    assert result.exit_code == 0, result.output
    told = re.search(r"slowest ([0-9.]+) ± [0-9.]+ rpm, fastest ([0-9.]+)", result.output)
    assert told is not None
    assert float(told[1]) == pytest.approx(82_500, rel=1e-3)
    assert float(told[2]) == pytest.approx(91_000, rel=1e-3)
    wavfile.write(path, 44_100, random.standard_normal(88_200).astype(np.float32))
    nothing = run("speed", "--blades", 9, "--recording", path, "--track")
    assert nothing.exit_code == 2
    assert "nothing to follow" in nothing.output


def test_a_video_and_a_strobe() -> None:
    seen = run("speed", "--blades", 3, "--frames-per-second", 240, "--apparent", "30 in 240",
               "--frames-per-second", 100, "--apparent", "10 Hz", "--expected", "9 krpm",
               "--highest", "20 krpm")
    assert "[10200]" in seen.output
    strobe = run("speed", "--blades", 1, "--strobe", 30, "--apparent", "-5 Hz", "--highest",
                 "6 krpm")  # NPTEL Ex 14.2: 25 rev/s seems to be -5
    assert "1500" in strobe.output
    assert "not decided" in strobe.output


@pytest.mark.parametrize(("words", "said"), [
    (("--blades", 9), "one of the three"),
    (("--blades", 9, "--strobe", 30), "one for each rate"),
    (("--blades", 9, "--strobe", 30, "--apparent", "many"), "number"),
    (("--blades", 9, "--strobe", 1, "--apparent", "0 Hz", "--highest", "150 krpm"), "aliases"),
    (("--blades", 9, "--recording", "none.wav"), "no such file"),
    (("--blades", 9, "--recording", "a.wav", "--highest", "1 rpm"), "above --lowest"),
    (("--blades", 9, "--strobe", 30, "--apparent", "1 Hz", "--expected", "9 kg"), "shaft speed")])
def test_speed_refuses_with_words(words, said) -> None:
    result = run("speed", *words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_an_orifice_from_options_and_from_a_file(tmp_path) -> None:
    """Suction-machine standard, worked example: 5/8 inch, 60 inches of water, 29.92 inHg, 0.075
    lb/ft^3: K1 0.57923, 18.07 L/s, 269.6 W. The air of a room at 69.2 degF is that dense."""
    result = run("orifice", "--diameter", "0.625 in", "--suction", "14.92 kPa", "--temperature",
                 "69.2 degF", "--pressure", "29.92 inHg")
    assert result.exit_code == 0, result.output
    assert "0.5792" in result.output
    assert "18.07 ±" in result.output
    assert "269.6 ±" in result.output
    path = tmp_path / "mine.csv"
    path.write_text("orifice diameter [mm],orifice suction [kPa],supply voltage [V],"
                    "supply current [A]\n13,18,22,18\n16,15,22,18\n19,11,22,18\n",
                    encoding="utf-8")
    table = run("orifice", path)
    assert "greatest air power: 27" in table.output
    assert " %" in table.output


@pytest.mark.parametrize(("words", "said"), [
    ((), "in pairs"), (("--diameter", "13 mm"), "in pairs"),
    (("--diameter", "13 kg", "--suction", "1 kPa"), "length"),
    (("none.csv",), "no such file")])
def test_orifice_refuses_with_words(words, said) -> None:
    result = run("orifice", *words)
    assert result.exit_code == 2
    assert said in result.output


@pytest.mark.parametrize("command", ["new", "check", "plan", "speed", "orifice"])
def test_help_teaches(command) -> None:
    told = run(command, "--help")
    assert told.exit_code == 0
    assert len(told.output) > 150
