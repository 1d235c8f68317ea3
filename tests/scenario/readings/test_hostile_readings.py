"""Hostile bench files and flight logs are read or refused in words."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from tests.scenario.hostile_readings import MARKS, STARTERS, hostile, outcome
from thrustlapse.scenario.faults import Fault, ScenarioError
from thrustlapse.scenario.readings.bench_file import read_bench
from thrustlapse.scenario.readings.log_file import read_log
from thrustlapse.scenario.readings.table import LARGEST_FILE


@pytest.mark.parametrize("start", range(0, 400, 50))
def test_random_files_are_read_or_refused(start: int, tmp_path: Path) -> None:
    assert {outcome(*hostile(number), tmp_path) for number in range(start, start + 50)} <= {
        "read", "refused"}


@pytest.mark.parametrize("kind", STARTERS)
@pytest.mark.parametrize("mark", MARKS, ids=range(len(MARKS)))
def test_marks_at_the_head_are_read_or_refused(kind: str, mark: bytes, tmp_path: Path) -> None:
    assert outcome(kind, mark + STARTERS[kind].encode(), tmp_path) in ("read", "refused")


def test_a_column_that_is_there_twice_and_faulty_is_refused_in_words(tmp_path: Path) -> None:
    """The second column was read beside the first: rows of unequal length, and a traceback."""
    file = tmp_path / "log.csv"
    file.write_text("time [s],time [year],height [m]\n1,2,3\n2,3,4\n", encoding="utf-8")
    with pytest.raises(ScenarioError, match="year"):
        read_log(file)


def test_nothing_in_a_message_is_obeyed_by_a_terminal(tmp_path: Path) -> None:
    file = tmp_path / "bench.csv"
    file.write_text("thrust [gf]\n12\x1b[31mN\n", encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        read_bench(file)
    assert "\x1b" not in str(caught.value)
    assert "\x1b" not in str(Fault(file="a\x1b", line=1, key="\x1b", value="\x1b", problem="\x1b",
                                   accepted="\x1b", hint="\x1b"))


@pytest.mark.parametrize("read", [read_bench, read_log])
def test_a_huge_file_is_refused_without_being_read(read, tmp_path: Path) -> None:
    """200 MB, sparse on disk: at most the largest table is ever held."""
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as stream:
        stream.truncate(200_000_000)
    tracemalloc.start()
    with pytest.raises(ScenarioError, match="too large"):
        read(huge)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 3 * LARGEST_FILE
