"""The command, end to end: refused, run, killed in the middle, resumed to the same content."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from tests.searches import MACHINES, SAMPLED, scenario_file
from thrustlapse.cli import main
from thrustlapse.commands.console import FAULTY
from thrustlapse.commands.workers import INTERRUPTED
from thrustlapse.report.search.bar import progress

LONG = """
[search]
answers = ["current"]

[search.airspeed]
lowest = "0 m/s"
highest = "60 m/s"
points = 61

[[search.axes]]
name = "nozzle"
key = "candidates.blower.nozzle.exit_diameter"
lowest = "11 mm"
highest = "20 mm"
points = 3000
"""


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["search", *map(str, words)])


def arrays(folder: Path) -> dict[str, dict[str, np.ndarray]]:
    """Content of every chunk of a folder."""
    found = {}
    for path in sorted((folder / "chunks").glob("*.npz")):
        with path.open("rb") as stream, np.load(stream) as file:
            found[path.name] = {name: file[name] for name in file.files}
    return found


def test_the_whole_way(tmp_path: Path) -> None:
    file, out = scenario_file(tmp_path), tmp_path / "out"
    result = run(file, "--out", out, "--netcdf")
    assert result.exit_code == 0, result.output
    assert "Each at its own best" in result.output
    assert "front (static thrust against top speed)" in result.output
    told = json.loads((out / "search.json").read_text())
    assert set(told["candidates"]) == {"blower", "prop"}
    with (out / "best.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    assert {row["candidate"] for row in rows} == {"blower", "prop"}
    best = told["candidates"]["blower"]["installed_thrust_N"][1][0]
    mine = max(float(row["installed_thrust_N"]) for row in rows if row["candidate"] == "blower")
    assert mine == pytest.approx(best, rel=1e-9)
    page = (out / "index.html").read_text()
    assert "Who leads where" in page
    assert "invented" in page.lower()
    for name in ("winners", "envelopes", "settings", "front"):
        assert (out / "figures" / f"{name}.svg").exists()
        assert f'id="figure-{name}"' in page
    again = run(file, "--out", out)
    assert again.exit_code == FAULTY
    assert "--resume" in again.output
    resumed = run(file, "--out", out, "--resume")
    assert resumed.exit_code == 0
    assert json.loads((out / "search.json").read_text()) == told


def test_the_netcdf_file_holds_the_chunks(tmp_path: Path) -> None:
    from scipy.io import netcdf_file

    out = tmp_path / "out"
    assert run(scenario_file(tmp_path), "--out", out, "--netcdf").exit_code == 0
    first = arrays(out)["000000.npz"]
    with netcdf_file(out / "blower.nc", mmap=False) as file:
        thrust = file.variables["installed_thrust"]
        assert thrust.units == b"N"
        assert thrust.dimensions == ("units", "power", "nozzle", "sample", "airspeed")
        assert np.array_equal(thrust[:].ravel(), first["installed_thrust"].ravel(), equal_nan=True)
        assert file.variables["nozzle"][0] == pytest.approx(0.011)


def test_a_file_without_a_search_is_refused(tmp_path: Path) -> None:
    result = run(scenario_file(tmp_path, ""), "--out", tmp_path / "out")
    assert result.exit_code == FAULTY
    assert "no table [search]" in result.output
    assert not (tmp_path / "out").exists()


def test_two_ways_to_work_are_one_too_many(tmp_path: Path) -> None:
    result = run(scenario_file(tmp_path), "--out", tmp_path / "out", "--processes", 2,
                 "--cluster", "tcp://h:1")
    assert result.exit_code == FAULTY
    assert "give one of them" in result.output


def test_an_answer_of_the_design_alone_may_be_the_best(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run(scenario_file(tmp_path, SAMPLED), "--out", out)
    assert result.exit_code == 0, result.output
    told = json.loads((out / "search.json").read_text())
    value = told["candidates"]["prop"]["static_thrust_N"]
    assert np.shape(value) == (1, 1)
    assert "scrambled Sobol" in (out / "index.html").read_text()


def test_killed_in_the_middle_it_resumes_to_the_same_content(tmp_path: Path) -> None:
    """A real process, ended by the signal that nothing can catch."""
    file = tmp_path / "long.toml"
    file.write_text(MACHINES + LONG)
    command = [sys.executable, "-c", "from thrustlapse.cli import main; main()", "search",
               str(file), "--out"]
    broken, whole = tmp_path / "broken", tmp_path / "whole"
    process = subprocess.Popen([*command, str(broken)], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL)
    limit = time.monotonic() + 120.0
    while not (broken / "chunks").is_dir() or not list((broken / "chunks").glob("*.npz")):
        assert process.poll() is None
        assert time.monotonic() < limit
        time.sleep(0.005)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    before = arrays(broken)
    assert run(file, "--out", whole).exit_code == 0
    assert 0 < len(before) < len(arrays(whole))
    assert run(file, "--out", broken, "--resume").exit_code == 0
    one, other = arrays(broken), arrays(whole)
    assert one.keys() == other.keys()
    for name, content in other.items():
        for key, values in content.items():
            assert np.array_equal(one[name][key], values, equal_nan=True)
    assert (broken / "search.json").read_text() == (whole / "search.json").read_text()
    assert (broken / "manifest.json").read_text() == (whole / "manifest.json").read_text()


def test_interrupted_by_a_person_it_says_how_to_go_on(tmp_path: Path) -> None:
    """The signal of Ctrl-C, to every process of the group as a terminal sends it."""
    file = tmp_path / "long.toml"
    file.write_text(MACHINES + LONG.replace("3000", "100000"))  # far from done when told
    process = subprocess.Popen(
        [sys.executable, "-c", "import signal; from thrustlapse.cli import main;"
         # a shell's background jobs, and all they start, are told to overhear it
         "signal.signal(signal.SIGINT, signal.default_int_handler); main()", "search", str(file),
         "--out", str(tmp_path / "out"), "--processes", "2"], text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True)
    limit = time.monotonic() + 120.0
    while not list((tmp_path / "out" / "chunks").glob("*.npz")):
        assert process.poll() is None
        assert time.monotonic() < limit
        time.sleep(0.01)
    os.killpg(process.pid, signal.SIGINT)
    _, told = process.communicate(timeout=120)
    assert process.returncode == INTERRUPTED
    assert "Go on with" in told
    assert "--resume" in told
    assert "Traceback" not in told


def test_a_bar_counts_points_on_a_terminal_and_nothing_is_said_elsewhere(
        capsys: pytest.CaptureFixture[str]) -> None:
    with progress(False) as tell:
        assert tell is None
    with progress(True) as tell:
        assert tell is not None
        tell(0, 200)
        tell(50, 200)
    assert "25 %" in capsys.readouterr().err
