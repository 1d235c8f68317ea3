"""The site: its tutorial holds no number that was typed, its reference pages leave nothing out, it
builds without a warning and fetches nothing (``tests/browser/test_documentation.py``, which looks
at it too). All of it, with its numbers, is built by .ci/run.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import click
import jinja2
import pytest
from jinja2 import meta, nodes

import thrustlapse as tl
from tests.tools.documentation import (
    command_pages,
    facts,
    gallery_page,
    mistakes_page,
    ruler_drawing,
    scenario_pages,
)
from tests.tools.documentation.build import PAGES, TOOLS, SiteError, _tools, build, fetches
from tests.tools.documentation.docstrings import marked
from tests.tools.documentation.markdown import cell, code
from tests.tools.documentation.scenario_pages import places
from tests.tools.documentation.story import BENCH, ROOT, SWITCH, Story, StoryError
from thrustlapse.bench.summary import summarise
from thrustlapse.report.comparison.for_print import known_names
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import describe

TUTORIAL = sorted((PAGES / "tutorial").glob("*.md"))

COUNTED = ("two three four five six seven eight nine ten eleven twelve twenty thirty fifty hundred "
           "thousand half third quarter percent")
UNITS = "m/s|km/h|N|gf|W|Wh|V|A|mm|cm²|%|°C|newtons?|watts?|volts?|amperes?|metres?|seconds?"


@pytest.mark.parametrize("page", TUTORIAL, ids=lambda path: path.stem)
def test_the_tutorial_holds_no_typed_number(page: Path) -> None:
    """Not one digit, nor a number in words before a unit: all come from the story when built."""
    text = page.read_text(encoding="utf-8")
    assert not re.findall(r".*\d.*", text)
    assert not re.findall(rf"\b(?:{COUNTED.replace(' ', '|')})\s+(?:{UNITS})\b", text)


@pytest.mark.parametrize("page", TUTORIAL, ids=lambda path: path.stem)
def test_a_chapter_asks_only_for_what_is_worked_out(page: Path) -> None:
    """Every name a page uses is a chapter's number, a tool, or one of two lists of words."""
    tree = jinja2.Environment().parse(page.read_text(encoding="utf-8"))
    chapters = {name for name in vars(facts) if name.islower() and not name.startswith("_")}
    used = meta.find_undeclared_variables(tree)
    assert used <= chapters | set(TOOLS) | {"cautions", "limits", "files"}
    constants = [one.value for one in tree.find_all(nodes.Const) if not isinstance(one.value, str)]
    assert not constants


def test_the_drawing_names_where_the_ruler_goes(tmp_path: Path) -> None:
    text = ruler_drawing.save(tmp_path).read_text(encoding="utf-8")
    for word in ("eye", "lip", "throat", "scroll", "exit", "ruler"):
        assert word in text.split("<defs>", 1)[1]


def test_two_switch_settings_are_one_machine_and_are_found() -> None:
    """The file of the first chapter is good; its heading is what a person would search for."""
    airframe = '[airframe]\nmass = "0.7 kg"\nwing_area = "0.2 m^2"\nspan = "1.2 m"\n'
    read = read_text(f'title = "two"\n{airframe}{SWITCH}')
    assert read.same_part["low", ""] == "high"
    assert "## Two switch settings" in (PAGES / "from_nothing.md").read_text(encoding="utf-8")


def test_the_scenario_reference_has_every_key() -> None:
    text = "\n".join(scenario_pages.pages().values())
    for key in describe(ScenarioSection):
        assert f"| {code(key.path[-1])} |" in text, key.path
        if key.meaning:
            assert cell(key.meaning) in text, key.path


def test_the_scenario_reference_says_where_a_table_stands() -> None:
    found = {one.section.__name__: one.names for one in places()}
    assert found["ScenarioSection"] == [""]
    assert found["SiteSection"] == ["site"]
    assert "flight.legs.[]" in found["ClimbLegSection"]
    text = scenario_pages.pages()["flight"]
    assert '## `[[flight.legs]]` with `kind = "climb"`' in text
    assert "candidates.NAME.map" in scenario_pages.pages()["candidates"]


def test_the_page_of_commands_has_every_command_and_option() -> None:
    text = command_pages.page()
    count = 0
    for context, command in command_pages.commands():
        assert f"# `{context.command_path}`" in text
        for option in command.get_params(context):
            if isinstance(option, click.Option):
                assert code(option.opts[0]) in text, (context.command_path, option.name)
                count += 1
    assert count > 40
    assert "\b" not in text


def test_the_gallery_has_every_figure_of_the_story_and_lines_that_the_command_takes(
        tmp_path: Path) -> None:
    (tmp_path / "figures").mkdir()
    text = gallery_page.page(tmp_path, "figures")
    kept = {path.stem for path in (gallery_page.ROOT / "reports" / gallery_page.STORY
                                   / "figures").glob("*.svg")}
    asked = re.findall(r"^thrustlapse figure (\S+) (\w+) --size column$", text, re.MULTILINE)
    assert {name for _, name in asked} == kept == set(known_names(sorted(kept)))
    assert all((gallery_page.ROOT / file).is_file() for file, _ in asked)
    assert {path.stem for path in (tmp_path / "figures").iterdir()} == {
        f"gallery-{name}" for name in kept}


@pytest.mark.parametrize(("machine", "right", "wrong"), [one[1:4] for one in
                                                         mistakes_page.MISTAKES])
def test_a_common_mistake_is_one_fault_at_its_own_key(machine: str, right: str,
                                                      wrong: str) -> None:
    text = mistakes_page.said(machine, right, wrong)
    key = wrong.splitlines()[-1].partition(" = ")[0]
    assert text.count("mine.toml:") == 1
    assert (f".{key} = " in text) != (key == "electrical_power")  # told of thrust and watts as one
    with pytest.raises(ValueError, match="nothing is wrong"):
        mistakes_page.said(machine, right, right)


def test_formulas_give_their_fractions_in_braces() -> None:
    """A bug: the translator reads ``\\tfrac12 m`` as twelve over m."""
    for page in PAGES.rglob("*.md"):
        assert not re.findall(r"frac\s*\d.*", page.read_text(encoding="utf-8")), page.name


def test_the_first_reading_by_hand_is_what_the_command_says(tmp_path: Path) -> None:
    """Thrust, jet power and its share: the chapter's arithmetic against the reduction's."""
    (tmp_path / "scenarios").mkdir()
    shutil.copy(ROOT / "scenarios" / BENCH, tmp_path / "scenarios")
    told = facts.readings(Story(folder=tmp_path))
    found = summarise(tl.read_bench(tmp_path / "scenarios" / BENCH))
    assert float(told["thrust"].split()[0]) == pytest.approx(found.readings.thrust[0], abs=0.005)
    # the hand takes the standard day, the command the day's own air, which is 3 % thinner
    assert float(told["jet_watts"].split()[0]) == pytest.approx(found.jet_power[0], rel=0.03)
    assert float(told["share"].split()[0]) == pytest.approx(100.0 * found.jet_share[0], rel=0.04)
    assert told["count"] == len(found.readings)


def test_the_story_s_parts_show_only_what_was_written(tmp_path: Path) -> None:
    """A command that fails stops the build, with what it said."""
    story = Story(folder=tmp_path)
    with pytest.raises(StoryError, match=r"none[.]toml"):
        story.run("first", "check", "none.toml")
    (tmp_path / "scenarios").mkdir()
    shutil.copy(ROOT / "scenarios" / BENCH, tmp_path / "scenarios")
    story.run("first", "bench", "check", f"scenarios/{BENCH}")
    assert story.typed["first"] == f"thrustlapse bench check scenarios/{BENCH}"
    tools = _tools(story, tmp_path)
    assert "good. 17 readings." in tools["said"]("first")
    assert tools["said"]("first", "  rolling stand").rstrip("`\n").endswith("...")
    with pytest.raises(AssertionError, match="nothing that begins with"):
        tools["said"]("first", "Nobody says this")


def test_a_folder_that_is_no_site_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep me", encoding="utf-8")
    with pytest.raises(SiteError, match="something else"):
        build(tmp_path, api=False, numbers=False)
    assert (tmp_path / "mine.txt").exists()


@pytest.mark.parametrize(("name", "text", "found"), [
    ("a.html", '<script src="https://cdn.example/x.js"></script>', True),
    ("a.html", '<script async="async" src="//cdn.example/x.js"></script>', True),
    ("a.html", '<link rel="stylesheet" href="http://cdn.example/x.css">', True),
    ("a.css", "@font-face { src: url(https://fonts.example/x.woff2) }", True),
    ("a.css", '@import "https://fonts.example/x.css";', True),
    ("a.html", '<img alt="" src="https://pictures.example/x.png">', True),
    ("a.js", 'fetch("https://elsewhere.example/data")', True),
    ("a.html", '<a href="https://elsewhere.example">a link that a person follows</a>', False),
    ("a.html", '<img src="_static/x.svg"><link rel="stylesheet" href="_static/x.css">', False),
    ("a.svg", '<svg xmlns="http://www.w3.org/2000/svg"></svg>', False),
])
def test_what_a_page_would_fetch_is_found(tmp_path: Path, name: str, text: str,
                                          found: bool) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert bool(fetches(tmp_path / name)) is found


def test_a_formula_under_its_sentence_stands_as_it_is() -> None:
    lines = ["The balance:", "", "    a = b", "    c = d", "", "More.", "", "Parameters",
             "----------", "x : float", "    A number."]
    assert marked(lines) == ["The balance:", "", "::", "", *lines[2:]]
    assert marked(["Marked::", "", "    a = b"]) == ["Marked::", "", "    a = b"]
