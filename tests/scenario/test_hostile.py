"""Hostile scenario files are read or refused in words; names stay inside their folder."""

from __future__ import annotations

import re
import tracemalloc

import pytest

import thrustlapse as tl
from tests.scenario.hostile import LINES, NASTY, STARTER, hostile, outcome
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import LARGEST_FILE, read_text


@pytest.mark.parametrize("start", range(0, 160, 20))
def test_random_files_are_read_or_refused(start) -> None:
    assert {outcome(hostile(number)) for number in range(start, start + 20)} <= {"read", "refused"}


@pytest.mark.parametrize("line", LINES, ids=range(len(LINES)))
def test_nasty_lines_are_read_or_refused(line) -> None:
    assert outcome(STARTER + "\n" + line + "\n") in ("read", "refused")


@pytest.mark.parametrize("value", NASTY, ids=range(len(NASTY)))
def test_nasty_values_are_refused(value) -> None:
    """As a diameter none of them is a number that a machine can have."""
    text = re.sub(r"(?m)^tip_diameter = [^#\n]+", lambda _: f"tip_diameter = {value} ", STARTER,
                  count=1)
    assert text != STARTER
    assert outcome(text) == "refused"


@pytest.mark.parametrize("name", ["../up", "/etc/passwd", "..", "a/b", "=1+1", "+1", "-1", "@x",
                                  "a\\b", "\tx", "nul\x00", "", " ", "<b>", "a" * 41, "%2e%2e",
                                  "CON", "nul", "Lpt1"])
def test_names_that_could_leave_the_folder_or_run_in_a_spreadsheet_are_refused(name) -> None:
    quoted = "".join(f"\\u{ord(letter):04x}" for letter in name)
    text = STARTER.replace("[candidates.fan]", f'[candidates."{quoted}"]').replace(
        "[candidates.fan.", f'[candidates."{quoted}".')
    assert text != STARTER
    with pytest.raises(ScenarioError, match="name"):
        read_text(text)


def test_a_huge_file_is_refused_without_being_read(tmp_path) -> None:
    """200 MB, sparse on disk: at most the largest scenario is ever held."""
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as stream:
        stream.truncate(200_000_000)
    tracemalloc.start()
    with pytest.raises(ScenarioError, match="too large"):
        tl.read_scenario(huge)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 3 * LARGEST_FILE
