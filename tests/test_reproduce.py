"""A report made again from its scenario, and held against what it was."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from tests.known_machines import AIRFRAME, MACHINE
from thrustlapse.cli import main
from thrustlapse.commands.console import FAULTY
from thrustlapse.commands.reproduce import DIFFERS
from thrustlapse.report.comparison.reproduced import APART, held_together

TEXT = f'title = "Again"\n[uncertainty]\nsamples = 0\n{AIRFRAME}{MACHINE}'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("again")
    (folder / "mine.toml").write_text(TEXT, encoding="utf-8")
    assert run("compare", folder / "mine.toml", "--out", folder / "report").exit_code == 0
    return folder


def run(*words: object) -> Result:
    return CliRunner().invoke(main, list(map(str, words)))


def numbers(thing: Any) -> int:
    """Numbers in a document, counted without the code under test."""
    if isinstance(thing, dict):
        return sum(map(numbers, thing.values()))
    if isinstance(thing, list):
        return sum(map(numbers, thing))
    return isinstance(thing, int | float) and not isinstance(thing, bool)


def test_a_report_is_made_again_to_the_same_numbers(made: Path) -> None:
    found = run("reproduce", made / "report", made / "mine.toml", "--out", made / "second")
    assert found.exit_code == 0, found.output
    first, second = (json.loads((made / name / "results.json").read_text(encoding="utf-8"))
                     for name in ("report", "second"))
    assert first == second
    kept = {name: one for name, one in first.items() if name not in APART}
    assert f"{numbers(kept)} numbers held against the report's: all the same" in found.output


def test_a_number_that_differs_is_named(made: Path, tmp_path: Path) -> None:
    document = json.loads((made / "report" / "results.json").read_text(encoding="utf-8"))
    point = document["candidates"]["mine"]["at_rest"]
    point["net_thrust_N"] *= 1.0 + 1e-6
    changed = tmp_path / "results.json"
    changed.write_text(json.dumps(document), encoding="utf-8")
    found = run("reproduce", changed, made / "mine.toml")
    assert found.exit_code == DIFFERS
    assert "1 places differ" not in found.output
    assert "one place differs" in found.output
    assert "candidates.mine.at_rest.net_thrust_N" in found.output


def test_another_scenario_is_refused_with_both_digests(made: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(TEXT + "# a remark\n", encoding="utf-8")
    found = run("reproduce", made / "report", other)
    assert found.exit_code == FAULTY
    assert found.output.count("SHA-256") == 1
    assert "give the file as it was" in found.output


@pytest.mark.parametrize("report", ["nowhere", "mine.toml"])
def test_what_is_no_report_is_refused_in_words(made: Path, report: str) -> None:
    found = run("reproduce", made / report, made / "mine.toml")
    assert found.exit_code == FAULTY
    assert "Traceback" not in found.output
    assert found.exception is None or isinstance(found.exception, SystemExit)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.sampled_from(["", "a"])
    | st.floats(-1e6, 1e6), lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["a", "b", "c"]), inner, max_size=3), max_leaves=8)


@given(kept=st.dictionaries(st.sampled_from(["x", "y"]), JSON), made=JSON)
def test_documents_are_the_same_only_where_they_are_equal(kept: dict[str, Any], made: Any) -> None:
    """Python's own equality is the judge of what is no near number."""
    assert not held_together(kept, json.loads(json.dumps(kept))).differences
    other = kept | {"x": made}
    if not held_together(kept, other).differences:
        assert json.dumps(kept) == json.dumps(other) or near(kept.get("x"), made)


def near(kept: Any, made: Any) -> bool:
    """Whether two things differ in numbers within 1e-9 alone, or in what stands for no value."""
    if isinstance(kept, dict) and isinstance(made, dict):
        return all(near(kept.get(name), made.get(name)) for name in {*kept, *made})
    if isinstance(kept, list) and isinstance(made, list):
        return len(kept) == len(made) and all(map(near, kept, made))
    if isinstance(kept, int | float) and isinstance(made, int | float):
        return abs(kept - made) <= 1e-9 * max(abs(kept), abs(made))
    return bool(kept == made)
