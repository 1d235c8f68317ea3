"""The credibility page follows from the records, the records from the tests, and both can fail."""

from __future__ import annotations

import ast
import csv

import numpy as np
import pytest

from tests.authority import header
from tests.credibility import facts, records, tables
from tests.credibility.collect import TESTS, groups, modules
from tests.credibility.page import FOLDER, checks, html, table
from tests.credibility.parts import PARTS

MAKE = "make it anew: python -m tests.refresh_reports"
SAME = 1e-5
"""Relative difference that another processor or library version may make."""


def test_the_committed_page_is_fresh() -> None:
    with (FOLDER / "checks.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.DictReader(file))
    made = list(csv.DictReader(table(groups()).splitlines()))
    words = [[{key: row[key] for key in ("part", "group", "check", "source", "status", "kind",
                                         "counts", "unit", "result")} for row in rows]
             for rows in (kept, made)]
    assert words[0] == words[1], MAKE
    for old, new in zip(kept, made, strict=True):
        for key in ("ours", "theirs"):
            assert float(old[key]) == pytest.approx(
                float(new[key]), rel=SAME, abs=1e-9 + 0.1 * float(new["tolerance"])), MAKE
    assert (FOLDER / "index.html").exists()
    assert (FOLDER / "measured.png").exists()


def test_every_part_is_checked_or_not_listed() -> None:
    assert {group.part for group in groups()} <= set(PARTS)
    assert len(checks(groups())) > 1000


def test_every_module_with_records_is_found() -> None:
    assert {group.name.split(":")[0] for group in groups()} <= set(modules())
    assert "tests.air.test_gas" in modules()


def test_the_page_shows_text_as_text() -> None:
    group = records.Group(part="air", what="<script>alert(1)</script>", source="a <b>book</b>",
                          status="memory", name="x:y", note="<i>", records=lambda: iter(
                              records.agree("<u>", 1.0, 1.0, why="&")))
    page = html([group], "<svg></svg>")
    assert "<script>" not in page
    assert "<b>book" not in page
    assert "&lt;script&gt;" in page


def told_by(*checks: records.Check, kind: str = "", name: str = "m:n") -> records.Group:
    return records.Group(part="air", what="w", source="a source", status="worked", name=name,
                         note="", records=lambda: iter(checks), kind=kind)


def check(what: str, ours: float, fact: str = "") -> records.Check:
    return records.Check(what=what, ours=ours, theirs=ours, tolerance=0.0, why="w", fact=fact)


def test_a_fact_counts_once() -> None:
    """A column of the line, a repeat elsewhere, another line of a shared formula do not."""
    line = told_by(check("p", 1.0, "row 1"), check("rho", 2.0, "row 1"), check("p", 3.0, "row 2"))
    again = told_by(check("other words", 3.0), check("new", 4.0), name="m:o")
    shared = told_by(check("a", 5.0), check("b", 6.0), kind="shared", name="m:p")
    assert [one.counts for one in facts.told([line, again, shared])] == [
        True, False, True, False, True, True, False]
    found = {one.kind: (one.facts, one.records) for one in facts.by_kind(
        facts.told([line, again, shared]))}
    assert found["printed"] == (3, 5)
    assert found["shared"] == (1, 2)


def test_the_headline_counts_measured_things_only() -> None:
    pair = records.Pair(series="s", quantity="q", family="f", measured=np.array([1.0, 2.0]),
                        predicted=np.array([1.2, 2.0]))
    def group(kind: str) -> records.Group:
        return records.Group(part="air", what="w", source="a source", status="published",
                             name="m:n", note="", records=lambda: iter((pair,)), kind=kind)
    (one,) = facts.families([group("measured"), group("shared"), group("")])
    assert (one.points, len(one.pairs)) == (2, 1)
    assert one.rms == pytest.approx(0.1 / np.sqrt(2.0))
    assert one.bias == pytest.approx(0.05)


def test_every_measured_series_has_a_family_and_no_gap() -> None:
    found = [pair for group in groups() if group.kind == "measured" for pair in group.pairs]
    assert len(found) > 30
    for pair in found:
        assert pair.family
        assert np.isfinite(pair.apart).all(), pair.series


def test_no_expected_number_of_a_record_comes_from_the_package() -> None:
    """In the call itself: what is imported from the package does not stand where theirs does."""
    looked = 0
    for path in sorted(TESTS.rglob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        ours = {name.asname or name.name for node in tree.body if isinstance(node, ast.ImportFrom)
                and (node.module or "").startswith("thrustlapse") for name in node.names}
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) \
                    and call.func.id in ("agree", "between"):
                looked += 1
                theirs = call.args[2:3] if call.func.id == "agree" else call.args[2:4]
                named = {one.id for part in theirs for one in ast.walk(part)
                         if isinstance(one, ast.Name)}
                assert not named & ours, (path.name, call.lineno)
    assert looked > 100


def held(**changes: object) -> records.Group:
    one = {"what": "x", "ours": 1.0, "theirs": 1.2, "within": 0.1, "why": "w"} | changes
    return records.Group(part="air", what="w", source="a source", status="memory", name="m:n",
                         note="", records=lambda: iter(records.agree(**one)))


@pytest.mark.parametrize("changes", [{}, {"ours": np.nan, "within": 9.0}, {"within": np.nan},
                                     {"ours": 1.15, "known_miss": "was one"}, {"why": ""},
                                     {"theirs": np.nan}, {"status": "trust me", "ours": 1.2}])
def test_a_record_that_is_wrong_fails(changes) -> None:
    with pytest.raises(AssertionError):
        held(**changes).hold()


def test_a_known_miss_is_a_miss_and_a_record_on_the_edge_holds() -> None:
    held(known_miss="reason").hold()
    held(ours=1.1).hold()
    assert held(known_miss="reason").checks[0].used == pytest.approx(2.0)


def test_every_table_of_the_outside_world_is_on_the_page() -> None:
    """Behind a record, or named as held by ordinary tests; and no table is in both or neither."""
    recorded, ordinary = tables.in_records(), set(tables.BY_ORDINARY_TESTS)
    assert recorded | ordinary == tables.names()
    assert not recorded & ordinary
    assert len(recorded) > 50


def test_no_record_claims_more_than_its_table() -> None:
    """History: coefficients from memory were called published, and a made-up curve a worked one."""
    kept = {(module.rpartition(".")[2], name): group
            for (module, name), group in records.REGISTER.items()}
    looked = 0
    for where, read in tables.by_test().items():
        for name in read:
            told = [line for line in header(name) if line.startswith("status:")]
            if not told or where not in kept:
                continue
            word = records.status_of(told[0].removeprefix("status:").strip())
            rank = records.STATUSES.index(word)
            looked += 1
            for check in kept[where].checks:
                assert records.STATUSES.index(check.status) >= rank, (where, name, check.what)
    assert looked > 30
