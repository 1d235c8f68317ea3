"""A sizing study that is interrupted goes on where it stopped; whoever works, the numbers agree."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from dataclasses import replace
from functools import cache, partial
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from tests.searches import MACHINES
from tests.study.cluster import local_cluster
from thrustlapse import sizing
from thrustlapse.cli import main
from thrustlapse.commands.workers import INTERRUPTED
from thrustlapse.report.sizing.file import when_text
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.chunk_folder import StoreError
from thrustlapse.study.hand_out import AHEAD
from thrustlapse.study.sizing.domain import WhenResult
from thrustlapse.study.sizing.kinds import GRIDS
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import Plan
from thrustlapse.study.sizing.work import Task, Work
from thrustlapse.study.workers import NO_CLUSTER, hired

SMALL = MACHINES + """
[when]
lowest_power = "300 W"
highest_power = "600 W"
power_points = 1
highest_airspeed = "40 m/s"
airspeed_points = 2
draws = 64
"""
SCENARIO = read_text(SMALL)
OTHER = SMALL.replace("0.62 kg", "0.63 kg")
LITTLE = Plan(first=Effort(samples=16, members=6, generations=3),
              between=Effort(samples=4, members=6, generations=2),
              closing=Effort(samples=0, members=5, generations=2),
              flip=Effort(samples=8, members=6, generations=2))


@cache
def plain() -> WhenResult:
    """The study in one process, nothing kept."""
    return sizing.when(SCENARIO, plan=LITTLE)


def chunks(folder: Path) -> dict[str, int]:
    """Chunks of a folder and when each was written."""
    return {path.name: path.stat().st_mtime_ns
            for path in sorted((folder / "chunks").glob("*.npz"))}


def test_what_is_done_is_kept_at_once_and_only_what_is_missing_is_done_again(
        tmp_path: Path) -> None:
    told: list[int] = []
    made = sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path,
                tell=lambda *_: told.append(len(chunks(tmp_path))))
    assert told == list(range(1, len(told) + 1))  # a file more whenever a piece is done
    assert when_text(made) == when_text(plain())
    before = chunks(tmp_path)
    assert len(before) == len(told) + 1  # and how sure it is
    gone, broken = sorted(before)[2], sorted(before)[5]
    (tmp_path / "chunks" / gone).unlink()
    (tmp_path / "chunks" / broken).write_bytes(b"half a chunk")
    again = sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path, resume=True)
    assert when_text(again) == when_text(plain())
    after = chunks(tmp_path)
    assert after.keys() == before.keys()
    assert {name for name in after if after[name] != before[name]} == {gone, broken}


def test_another_study_in_the_folder_is_refused_and_left_alone(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="nothing to resume"):
        sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path / "none", resume=True)
    (tmp_path / "search" / "chunks").mkdir(parents=True)
    with pytest.raises(StoreError, match="chunks of something else"):
        sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path / "search")
    sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path)
    kept = chunks(tmp_path)
    for resume in (False, True):
        with pytest.raises(StoreError, match="scenario file has changed"):
            sizing.when(read_text(OTHER), plan=LITTLE, folder=tmp_path, resume=resume)
        with pytest.raises(StoreError, match="study has changed"):
            sizing.when(SCENARIO, plan=replace(LITTLE, flip=None), folder=tmp_path, resume=resume)
    assert chunks(tmp_path) == kept
    (tmp_path / "manifest.json").write_text('{"format": "thrustlapse search"}')
    with pytest.raises(StoreError, match="not the manifest of a sizing study"):
        sizing.when(SCENARIO, plan=LITTLE, folder=tmp_path)


@pytest.mark.skipif(find_spec("distributed") is None, reason=NO_CLUSTER)
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_numbers_of_one_process(tmp_path: Path) -> None:
    with local_cluster(2) as address:
        many = sizing.when(SCENARIO, plan=LITTLE, cluster=address, folder=tmp_path)
    assert when_text(many) == when_text(plain())
    assert chunks(tmp_path)


def test_two_processes_give_the_numbers_of_one() -> None:
    assert when_text(sizing.when(SCENARIO, plan=LITTLE, processes=2)) == when_text(plain())


def run_here(maps: str, *words: str) -> None:
    """The command in a process of its own: little looked for, and maps that are known already."""
    sizing.Plan, sizing.ROUGH = lambda: LITTLE, LITTLE  # type: ignore[assignment,misc]
    GRIDS.update(pickle.loads(Path(maps).read_bytes()))
    # a shell's background jobs, and all they start, are told to overhear it
    signal.signal(signal.SIGINT, signal.default_int_handler)
    main(["when", *words])


def command(file: Path, out: Path, *more: str) -> list[str]:
    plain()
    maps = file.with_suffix(".maps")
    maps.write_bytes(pickle.dumps(GRIDS))
    return [sys.executable, "-c", "import sys; from tests.study.sizing import test_resumed;"
            "test_resumed.run_here(*sys.argv[1:])", str(maps), str(file), "--out", str(out), *more]


def begun(out: Path, process: subprocess.Popen[str], pieces: int) -> None:
    """Wait until some pieces are on disk, and the work is not over."""
    limit = time.monotonic() + 240.0
    while len(chunks(out)) < pieces:
        assert process.poll() is None
        assert time.monotonic() < limit
        time.sleep(0.005)


def test_killed_and_interrupted_it_resumes_to_the_same_numbers(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A real process, ended by the signal that nothing can catch, then by Ctrl-C."""
    monkeypatch.setattr(sizing, "Plan", lambda: LITTLE)
    monkeypatch.setattr(sizing, "ROUGH", LITTLE)
    file, broken, whole = tmp_path / "mine.toml", tmp_path / "broken", tmp_path / "whole"
    file.write_text(SMALL, encoding="utf-8")
    process = subprocess.Popen(command(file, broken), text=True, stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL)
    begun(broken, process, 2)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert "has not settled" in (broken / "index.html").read_text(encoding="utf-8")
    kept = chunks(broken)
    process = subprocess.Popen(command(file, broken, "--resume", "--processes", "2"), text=True,
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                               start_new_session=True)
    begun(broken, process, len(kept) + 3)
    os.killpg(process.pid, signal.SIGINT)
    _, told = process.communicate(timeout=120)
    assert process.returncode == INTERRUPTED
    assert f"Go on with: thrustlapse when {file} --out {broken} --resume" in told
    assert "Traceback" not in told
    assert "first look" not in told  # that of the run before is there
    run = CliRunner()
    last = run.invoke(main, ["when", str(file), "--out", str(broken), "--resume"])
    assert last.exit_code == 0, last.output
    assert run.invoke(main, ["when", str(file), "--out", str(whole)]).exit_code == 0
    assert (broken / "when.json").read_text() == (whole / "when.json").read_text()
    assert (broken / "manifest.json").read_text() == (whole / "manifest.json").read_text()
    after = chunks(broken)
    assert all(after[name] == written for name, written in kept.items())
    assert after.keys() == chunks(whole).keys()
    # done with, it is asked for a machine of a point without being worked out again
    more = run.invoke(main, ["when", str(file), "--out", str(broken), "--write",
                             "40 m/s, 300 W, propeller"])
    assert more.exit_code == 0, more.output
    assert chunks(broken) == after
    file.write_text(OTHER, encoding="utf-8")
    other = run.invoke(main, ["when", str(file), "--out", str(broken), "--resume"])
    assert other.exit_code == 2
    assert "the scenario file has changed since" in other.output
    for out, words in ((broken, "holds a whole study"), (tmp_path / "new", "leave --resume out")):
        rough = ["when", str(file), "--out", str(out), "--rough", "--resume"]
        assert words in run.invoke(main, rough).output


def test_pieces_are_drawn_when_somebody_is_free() -> None:
    """Memory is bounded: no more are made ready than are handed out and one."""
    drawn, most = 0, 0

    def tasks():
        nonlocal drawn
        for at in range(40):
            drawn += 1
            yield Task(call=partial(dict, value=np.array([float(at)])),
                                   form={"value": ((1,), np.float64)}, name=str(at),
                                   points=np.array([at]), size=1)

    def tell(*_) -> None:
        nonlocal most
        ended.append(1)
        most = max(most, drawn - len(ended))

    ended: list[int] = []
    with hired() as hands:
        done = Work(hands).done(tasks(), tell)
    assert [float(one.found["value"][0]) for one in done] == list(range(40))
    assert most <= AHEAD
