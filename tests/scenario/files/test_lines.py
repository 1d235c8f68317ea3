"""Where keys stand: the scanner of positions against texts whose lines are plain to see."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.lines import key_lines, line_of
from thrustlapse.scenario.files.read import read_scenario

NASTY = '''# a comment with [brackets] and "quotes
title = "a # b ] } = \\" c"
plain = 'C:\\path' # and more = [1]

[a."b c".'d.e']
x.y = 1
list = [ # opens
  "one", # [not this]
  { k = 2, deep = { z = 3 } },
  [4,
   5],
]
"""not a string""" = 0
'''.replace('"""not a string"""', '"quoted = key"') + '''text = """
[fake]
y = 1
"""
raw = \'\'\'
[[also.fake]]
\'\'\'

[[runs]]
n = 1
[runs.inner]
m = 2
[[runs]]
n = 3
[runs.inner]
m = 4
[[runs.more]]
k = 5
[[runs.more]]
k = 6
[a]
late = 1979-05-27T07:32:00Z
'''


def test_lines_of_a_nasty_text() -> None:
    lines = key_lines(NASTY)
    rows = NASTY.split("\n")
    expected = {
        ("title",): "title =", ("plain",): "plain =", ("a", "b c", "d.e"): "[a.",
        ("a", "b c", "d.e", "x", "y"): "x.y", ("a", "b c", "d.e", "list", 0): '  "one"',
        ("a", "b c", "d.e", "list", 1, "deep", "z"): "  { k", ("a", "b c", "d.e", "list", 2, 1):
        "   5]", ("a", "b c", "d.e", "quoted = key"): '"quoted', ("a", "b c", "d.e", "text"):
        "text =", ("a", "b c", "d.e", "raw"): "raw =", ("a", "late"): "late",
    }
    for path, start in expected.items():
        assert rows[lines[path] - 1].startswith(start), path
    for path, row in {("runs", 0, "n"): "n = 1", ("runs", 0, "inner", "m"): "m = 2",
                      ("runs", 1, "n"): "n = 3", ("runs", 1, "inner", "m"): "m = 4",
                      ("runs", 1, "more", 0, "k"): "k = 5",
                      ("runs", 1, "more", 1, "k"): "k = 6"}.items():
        assert rows[lines[path] - 1] == row
    assert rows[lines[("a",)] - 1] == "[a]"  # its own header, not the one that led through it


def test_what_is_missing_stands_where_its_table_does() -> None:
    lines = key_lines("x = 1\n\n[a.b]\ny = 2\n")
    assert line_of(("a", "b", "nothing"), lines) == 3
    assert line_of(("nothing",), lines) == 0


KEYS = st.text(st.characters(exclude_categories=("C",)), max_size=5)
LEAVES = st.one_of(st.integers(-9, 9), st.booleans(), st.text(max_size=8),
                   st.floats(allow_nan=False, allow_infinity=False))
TREES = st.recursive(LEAVES, lambda inner: st.one_of(
    st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)), max_leaves=12)


def _paths(part, path=()):
    entries = part.items() if isinstance(part, dict) else enumerate(part)
    for key, value in entries:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from _paths(value, (*path, key))


@given(st.dictionaries(KEYS, TREES, max_size=4), st.booleans())
def test_every_key_of_any_text_has_a_line(tree, sort) -> None:
    try:
        text = tomlkit.dumps(tree, sort_keys=sort)
        data = tomllib.loads(text)
    except Exception:  # what the writer cannot write is not under test
        return
    lines = key_lines(text)
    for path in _paths(data):
        assert 1 <= lines[path] <= text.count("\n") + 1


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_line_ends_do_not_shift_lines(ending) -> None:
    text = ending.join(["a = 1", '"b" = """', "x", '"""', "c = [", "1,", "2]", "[d]", "e = 1"])
    lines = key_lines(text)
    assert [lines[path] for path in [("a",), ("b",), ("c", 1), ("d",), ("d", "e")]] == [
        1, 2, 7, 8, 9]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_fault_has_its_line_whatever_lines_end_with(tmp_path: Path, end: str) -> None:
    """Line feeds, both, and the lone carriage returns of old editors."""
    story = Path("scenarios/three_ways_to_push.toml").read_text(encoding="utf-8")
    place = story.count("\n", 0, story.index("exit_diameter")) + 1
    wrong = story.replace('exit_diameter = "', 'exit_diameter = "-', 1)
    file = tmp_path / "mine.toml"
    file.write_bytes(story.replace("\n", end).encode("utf-8"))
    assert read_scenario(file).candidates.keys() == {"blower", "fan", "propeller"}
    file.write_bytes(wrong.replace("\n", end).encode("utf-8"))
    with pytest.raises(ScenarioError) as caught:
        read_scenario(file)
    assert [fault.line for fault in caught.value.faults] == [place]
    file.write_bytes(story.replace("\n", end).encode("utf-8") + b"# \xff")
    with pytest.raises(ScenarioError) as caught:
        read_scenario(file)
    assert caught.value.faults[0].line == story.count("\n") + 1
