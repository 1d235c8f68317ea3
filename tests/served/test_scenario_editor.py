"""A scenario on the editor: the solver's numbers, the reader's words, the writer's own text."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import thrustlapse as tl
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.edit_text import edited_text
from thrustlapse.scenario.files.editable_values import handles
from thrustlapse.scenario.files.read import read_text
from thrustlapse.served.scenario_editor import DeskError, ScenarioEditor, bands

STORY = Path("scenarios/three_ways_to_push.toml")
EXIT = ("candidates", "blower", "nozzle", "exit_diameter")
SPAN = ("airframe", "span_efficiency")


@pytest.fixture
def editor(tmp_path: Path) -> ScenarioEditor:
    file = tmp_path / "mine.toml"
    file.write_bytes(STORY.read_bytes())
    return ScenarioEditor(file=file, folder=tmp_path)


def test_curves_are_those_of_the_comparison(editor: ScenarioEditor) -> None:
    """Against the comparison of the same changed text, flown at the page's airspeeds."""
    changes = {EXIT: "13.5 mm", ("comparison", "electrical_power"): "350 W"}
    table = editor.picture(changes)
    scenario = read_text(edited_text(editor.text, changes, name="x"))
    speeds = np.array(table["airspeed"])
    for one in table["candidates"]:
        built = scenario.candidates[one["name"]]
        wanted = operate(with_power_limit(built, 350.0), airspeed=speeds)
        got = np.array(one["values"]["thrust"], dtype=float)
        assert got[wanted.valid] == pytest.approx(wanted.installed_thrust[wanted.valid], rel=1e-6)
        assert np.isnan(got[~wanted.valid]).all()


def test_every_control_has_words_and_no_two_the_same(editor: ScenarioEditor) -> None:
    labels = [one.label for one in editor.known]
    assert len({*labels}) == len(labels)
    assert "blower: nozzle exit diameter" in labels
    assert not [one for one in labels if "_" in one or "." in one]


def test_a_few_draws_make_the_band_of_many(editor: ScenarioEditor) -> None:
    """Against the comparison's own draws of the same scenario: within the scatter of a few."""
    drawn = tl.compare(editor.scenario).uncertainty
    assert drawn is not None
    for one, (name, many) in zip(editor.band({}), drawn.candidates.items(), strict=True):
        assert one is not None, name
        band = many.bands["installed_thrust"]
        wide = band.high[0] - band.low[0]
        assert one["high"][0] - one["low"][0] == pytest.approx(wide, rel=0.30)
        assert one["rest"] + one["low"][0] == pytest.approx(band.low[0], abs=0.2 * wide)


def test_nothing_drawn_is_no_band(editor: ScenarioEditor) -> None:
    changes: dict[tuple[str, ...], str] = {}
    bare = replace(editor.scenario, spreads=(), assumed=())
    bare = replace(bare, candidates={name: one for name, one in bare.candidates.items()
                                     if name == "fan"})
    assert len(bands(bare)) == 1
    assert len(editor.band(changes)) == 3


def test_bad_values_have_the_words_of_the_reader(editor: ScenarioEditor) -> None:
    """The very message that ``check`` prints for the same text in a file."""
    changes = {EXIT: "13.5 bananas", SPAN: "7"}
    with pytest.raises(ScenarioError) as on_desk:
        editor.picture(changes)
    (editor.folder / "bad.toml").write_text(edited_text(editor.text, changes, name="x"), "utf-8")
    with pytest.raises(ScenarioError) as in_file:
        tl.read_scenario(editor.folder / "bad.toml")
    assert [(one.key, one.problem, one.accepted, one.hint) for one in on_desk.value.faults] == [
        (one.key, one.problem, one.accepted, one.hint) for one in in_file.value.faults]
    assert len(on_desk.value.faults) == 2


def test_written_back_only_the_values_differ(editor: ScenarioEditor) -> None:
    before = editor.file.read_text(encoding="utf-8").splitlines()
    editor.write({EXIT: "13.5 mm", SPAN: "0.8",
                ("candidates", "blower", "duct", "loss_coefficient"): "0.3"})
    after = editor.file.read_text(encoding="utf-8").splitlines()
    assert len(before) == len(after)
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert changed == [
        ("span_efficiency = 0.78", "span_efficiency = 0.8"),
        ("loss_coefficient = 0.25         # bend from scroll to nozzle",
         "loss_coefficient = 0.3         # bend from scroll to nozzle"),
        ('exit_diameter = "15 mm"', 'exit_diameter = "13.5 mm"')]
    assert editor.scenario.candidates["blower"].unit.nozzle.exit_area == pytest.approx(
        np.pi / 4.0 * 0.0135**2)


def test_a_file_keeps_its_mark_and_its_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_bytes(b"\xef\xbb\xbf" + STORY.read_bytes().replace(b"\n", b"\r\n"))
    editor = ScenarioEditor(file=file, folder=tmp_path)
    editor.write({EXIT: "14 mm"})
    data = file.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf#")
    assert data.count(b"\r\n") == data.count(b"\n") > 100
    assert b'exit_diameter = "14 mm"\r\n' in data


def test_a_file_that_changed_meanwhile_is_not_written_over(editor: ScenarioEditor) -> None:
    other = editor.file.read_text(encoding="utf-8") + "# a note of someone else\n"
    editor.file.write_text(other, encoding="utf-8")
    with pytest.raises(DeskError, match="changed by someone else"):
        editor.write({EXIT: "14 mm"})
    assert editor.file.read_text(encoding="utf-8") == other
    editor.load()
    editor.write({EXIT: "14 mm"})
    assert "# a note of someone else" in editor.file.read_text(encoding="utf-8")


def test_a_value_that_will_not_do_is_not_written(editor: ScenarioEditor) -> None:
    before = editor.file.read_bytes()
    with pytest.raises(ScenarioError):
        editor.write({EXIT: "-3 mm"})
    assert editor.file.read_bytes() == before
    assert sorted(path.name for path in editor.folder.iterdir()) == ["mine.toml"]


@pytest.mark.parametrize("key", [
    ("title",), ("candidates", "blower", "include"), ("candidates", "blower", "kind"),
    ("candidates", "nobody", "count"), ("search", "seed"), ("uncertainty", "samples"),
    ("candidates", "blower", "nozzle"), ("__class__",)])
def test_only_numbers_of_the_file_move(editor: ScenarioEditor, key: tuple[str, ...]) -> None:
    with pytest.raises(DeskError, match="no number of"):
        editor.picture({key: "1"})


@pytest.mark.parametrize("name", ["../out", "a/b", "", ".hidden", "con", "NUL", "a\\b", "x" * 61,
                                  "a\x00b", "name.", "mine.toml"])
def test_a_write_up_cannot_leave_its_folder(editor: ScenarioEditor, name: str) -> None:
    with pytest.raises(DeskError):
        editor.write_up({}, name)
    assert sorted(path.name for path in editor.folder.iterdir()) == ["mine.toml"]


def test_a_write_up_takes_the_place_of_nothing_else(editor: ScenarioEditor, tmp_path: Path) -> None:
    (editor.folder / "photos").mkdir()
    (editor.folder / "photos" / "one.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(DeskError, match="no write-up"):
        editor.write_up({}, "photos")
    (editor.folder / "link").symlink_to(tmp_path)
    with pytest.raises(DeskError, match="no write-up"):
        editor.write_up({}, "link")


def test_a_write_up_is_of_the_changed_scenario(editor: ScenarioEditor) -> None:
    page = editor.write_up({EXIT: "13.5 mm"}, "narrow exit")
    assert page == editor.folder / "narrow exit" / "index.html"
    answer = tl.read_results(page.parent / "results.json")
    exits = answer.candidates["blower"].nozzle
    assert exits is not None
    assert exits.fixed_diameter == pytest.approx(0.0135)
    assert "13.5 mm" in page.read_text(encoding="utf-8")


def test_every_handle_moves_its_number_and_says_its_unit() -> None:
    """Each, written anew as a slider would, is read as the value it stood at."""
    for file in sorted(Path("scenarios").glob("*.toml")):
        scenario = tl.read_scenario(file)
        text = file.read_text(encoding="utf-8")
        found = handles(scenario)
        assert len({one.key for one in found}) == len(found) > 20
        again = edited_text(text, {
            one.key: f"{one.value:.12g}{' ' if one.unit else ''}{one.unit}{one.tail}"
            for one in found if not one.whole}, name=file.name)
        new = read_text(again, folder=file.parent)
        for one, other in zip(found, handles(new), strict=True):
            assert other.key == one.key
            assert other.value == pytest.approx(one.value, rel=1e-9)
            assert one.low <= one.value <= one.high
            assert one.meaning


def test_a_changed_file_is_read_anew_or_left_as_it_was(editor: ScenarioEditor) -> None:
    mark = editor.mark
    editor.file.write_text("title = 3\n", encoding="utf-8")
    with pytest.raises(ScenarioError):
        editor.load()
    assert editor.mark == mark
    assert hashlib.sha256(editor.text.encode("utf-8")).hexdigest() == mark
