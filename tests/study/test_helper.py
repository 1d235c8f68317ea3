"""A second process gives what one gives, and its death loses nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from thrustlapse.distributions import Sampling
from thrustlapse.report.comparison.figures import begun_figures
from thrustlapse.report.comparison.results_file import results_text
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study import helper as module
from thrustlapse.study.compare import compare
from thrustlapse.study.helper import asked_of, begun, helper

CALLS = 6


def who(home: int, number: int) -> tuple[bool, int]:
    """Whether it is the process that asked, and the number it was given."""
    return os.getpid() == home, number


def fatal_elsewhere(home: int, number: int) -> int:
    """A number, from the process that asked; another one ends at once."""
    if os.getpid() != home:
        os._exit(1)
    return number


def refused(number: int) -> int:
    raise ValueError(f"{number} is refused")


def alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{process}/stat")  # one that has ended and waits to be seen off is gone
    return not (status.exists() and status.read_text().rpartition(")")[2].split()[0] == "Z")


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cores", lambda: 2)


@pytest.mark.usefixtures("two_cores")
def test_answers_come_in_order_whoever_gave_them() -> None:
    with helper() as other:
        assert other is not None
        answers = begun(other, [partial(who, os.getpid(), one) for one in range(CALLS)])()
        assert asked_of(other, partial(who, os.getpid(), 7)) == (False, 7)
    assert [number for _, number in answers] == list(range(CALLS))


@pytest.mark.usefixtures("two_cores")
def test_a_helper_that_dies_loses_nothing() -> None:
    with helper() as other:
        assert other is not None
        answers = begun(other, [partial(fatal_elsewhere, os.getpid(), one)
                                for one in range(CALLS)])()
        assert asked_of(other, partial(who, os.getpid(), 7)) == (True, 7)
    assert answers == list(range(CALLS))


@pytest.mark.usefixtures("two_cores")
def test_what_a_call_meets_reaches_who_asks() -> None:
    with helper() as other:
        for one in (other, None):
            with pytest.raises(ValueError, match="3 is refused"):
                begun(one, [partial(refused, 3)])()
            with pytest.raises(ValueError, match="3 is refused"):
                asked_of(one, partial(refused, 3))


def test_a_helper_leaves_with_who_began_it() -> None:
    """Ended without a word, a command leaves nothing behind."""
    text = ("import os, sys, time\n"
            "from thrustlapse.study import helper\n"
            "helper.cores = lambda: 2\n"
            "with helper.helper() as other:\n"
            "    print(other.submit(os.getpid).result(), flush=True)\n"
            "    time.sleep(600)\n")
    with subprocess.Popen([sys.executable, "-c", text], stdout=subprocess.PIPE, text=True,
                          env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}) as asked:
        assert asked.stdout is not None
        other = int(asked.stdout.readline())
        os.kill(other, 0)
        asked.kill()
    for _ in range(600):
        if not alive(other):
            return
        time.sleep(0.1)
    pytest.fail("the helper is still there")


def test_on_one_core_all_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cores", lambda: 1)
    with helper() as other:
        assert other is None
        assert begun(other, [partial(who, os.getpid(), 3)])() == [(True, 3)]


@pytest.mark.usefixtures("two_cores")
def test_two_processes_compare_as_one_does(tmp_path: Path) -> None:
    """To the last byte: results with draws, what drives them and flights, and the figures."""
    scenario = read_scenario(Path("scenarios/how_sure.toml"))
    small = replace(scenario, sampling=Sampling(samples=64, airspeeds=12, drivers=True))
    alone = compare(small)
    with helper("thrustlapse.study.compare") as other:
        beside = compare(small, other)
        folders = [tmp_path / "alone", tmp_path / "beside"]
        for folder in folders:
            folder.mkdir()
        saved = [begun_figures(alone, folders[0])(), begun_figures(beside, folders[1], other)()]
    assert results_text(beside) == results_text(alone)
    assert saved[0] == saved[1]
    for file in sorted(folders[0].iterdir()):
        assert file.read_bytes() == (folders[1] / file.name).read_bytes(), file.name
