"""The commands of a flight log, as a person types them."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import pytest
from click.testing import CliRunner

from tests.refresh_reports import FLIGHT_LOG, STORY
from thrustlapse.cli import main


def run(*words: object):
    return CliRunner().invoke(main, [str(word) for word in words])


def test_a_log_is_explained_and_written_up(tmp_path) -> None:
    out = tmp_path / "out"
    ran = run("log", "explain", STORY, "--candidate", "fan", "--readings", FLIGHT_LOG, "--out", out)
    assert ran.exit_code == 0, ran.output
    assert "thrust" in ran.output
    assert "top speed" in ran.output
    record = json.loads((out / "log.json").read_text(encoding="utf-8"))
    assert record["separable"] is True
    page = (out / "index.html").read_text(encoding="utf-8")
    HTMLParser().feed(page)
    assert "An invented scenario" in page
    assert not re.search(r"https?://(?!www\.w3\.org)", page)
    assert "<script" not in page
    assert {path.name for path in (out / "figures").iterdir()} == {
        "energy.svg", "energy.png", "current.svg", "current.png"}


@pytest.mark.parametrize(("words", "said"), [
    (("--candidate", "fna", "--readings", FLIGHT_LOG), "blower, fan"),
    (("--candidate", "fan", "--readings", "none.csv"), "no such file"),
])
def test_what_cannot_be_explained_says_why(words, said, tmp_path) -> None:
    ran = run("log", "explain", STORY, *words, "--out", tmp_path / "out")
    assert ran.exit_code == 2
    assert said in ran.output
    assert not (tmp_path / "out").exists()


def test_a_scenario_without_an_airframe_and_a_folder_that_cannot_be_written(tmp_path) -> None:
    text = STORY.read_text(encoding="utf-8")
    start, end = text.index("[airframe]"), text.index("[airspeed]")
    bare = tmp_path / "bare.toml"
    bare.write_text(text[:start] + text[end:], encoding="utf-8")
    ran = run("log", "explain", bare, "--candidate", "fan", "--readings", FLIGHT_LOG)
    assert ran.exit_code == 2
    assert "no [airframe]" in ran.output
    (tmp_path / "file").write_text("", encoding="utf-8")
    ran = run("log", "explain", STORY, "--candidate", "fan", "--readings", FLIGHT_LOG, "--out",
              tmp_path / "file")
    assert ran.exit_code == 2
    assert "Traceback" not in ran.output


def test_a_starter_is_written_once(tmp_path) -> None:
    assert run("log", "new", tmp_path / "log.csv").exit_code == 0
    again = run("log", "new", tmp_path / "log.csv")
    assert again.exit_code == 2
    assert "already there" in again.output
