"""The page: self-contained, escaped, complete, and readable by machines that read to people."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.report.machines import equal_power, single, three, two, without_airframe
from thrustlapse.report.comparison.figures import draw_figures
from thrustlapse.report.comparison.page import assumptions, page
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.comparison.write_up import write_report
from thrustlapse.report.findings_text import grouped
from thrustlapse.report.number_format import force, speed
from thrustlapse.report.safety_text import CAUTIONS
from thrustlapse.report.saved_figures import save_figures
from thrustlapse.study.aircraft_study_record import AircraftStudy
from thrustlapse.study.comparison import Comparison, Finding

VOID = {"meta", "br", "hr", "img", "input", "link"}


class Reader(HTMLParser):
    """Tags, attributes and text of a page; fails on tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


def bare(comparison: Comparison, scenario_text: str = "") -> str:
    """The page without figures, which other tests look at."""
    return page(comparison, [], scenario_text=scenario_text)


@cache
def whole() -> str:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        figures = save_figures(draw_figures(three()), Path(folder))
    return page(three(), figures, scenario_text="title = 'a story'")


def test_nothing_is_fetched_and_nothing_runs() -> None:
    read = Reader(whole())
    assert read.all("script") == read.all("link") == read.all("img") == read.all("iframe") == []
    for _, attrs in read.tags:
        for name, value in attrs.items():
            assert not name.startswith("on")
            if name in ("href", "src", "xlink:href"):
                assert not re.match(r"\w+:|//", value or "")
    assert "@import" not in whole()
    assert not re.search(r"url\((?!#)", whole())
    policy = next(meta for meta in read.all("meta")
                  if meta.get("http-equiv") == "Content-Security-Policy")
    assert "default-src 'none'" in (policy["content"] or "")


def test_identifiers_are_distinct_and_references_hold() -> None:
    read = Reader(whole())
    names = Counter(attrs["id"] for _, attrs in read.tags if "id" in attrs)
    assert [name for name, times in names.items() if times > 1] == []
    for _, attrs in read.tags:
        for key in ("href", "xlink:href"):
            target = attrs.get(key) or ""
            if target.startswith("#"):
                assert target[1:] in names
        for key in ("aria-labelledby", "aria-describedby"):
            assert attrs.get(key) is None or attrs[key] in names
    for used in re.findall(r"url\(#([^)]+)\)", whole()):
        assert used in names


def test_the_page_can_be_read_aloud() -> None:
    read = Reader(whole())
    assert read.all("html") == [{"lang": "en"}]
    assert len(read.all("main")) == len(read.all("h1")) == 1
    levels = [int(tag[1]) for tag, _ in read.tags if re.fullmatch(r"h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert read.all("th")
    assert all(head["scope"] in ("col", "row") for head in read.all("th"))
    assert len(read.all("caption")) == len(read.all("table"))
    for drawing in read.all("svg"):
        assert drawing["role"] == "img"
        assert drawing["aria-label"]
        assert drawing["aria-describedby"]
    assert len(read.all("svg")) == len(read.all("figure")) == 11
    scrolling = [attrs for attrs in read.all("div") if attrs.get("class") in ("table", "chart")]
    assert all(one.get("tabindex") == "0" and one.get("aria-label") for one in scrolling)


def test_a_page_shows_first_and_tells_after() -> None:
    text, told = Reader(whole()).text, verdict(three())
    order = [text.index(words) for words in (
        told.headline, told.remember, "At a glance", "Thrust, speed and crossovers", "Findings",
        CAUTIONS[0], "Why", "What it would take")]
    assert order == sorted(order)
    for sentence in told.sentences:
        assert sentence in text


def test_every_finding_is_on_the_page_and_the_gravest_stand_first() -> None:
    text = Reader(whole()).text
    ranks = re.findall(r'<span class="rank">(\w+)</span>', whole())
    assert ranks == [entry.rank for entry in grouped(three().findings)]
    assert ranks == sorted(ranks, key=("stop", "check", "note").index)
    for finding in three().findings:
        assert finding.text in text
        assert finding.change.lower() in text.lower()


def test_what_is_assumed_of_several_is_told_once() -> None:
    told = {text for one in three().candidates.values() for text in one.assumptions}
    assert sorted(text for _, texts in assumptions(three()) for text in texts) == sorted(told)
    for names, texts in assumptions(three()):
        for name, one in three().candidates.items():
            assert (name in re.split(", | and ", names)) == set(texts).issubset(one.assumptions)


def test_cautions_limits_and_origin_are_on_every_page() -> None:
    for make in (single, three, without_airframe):
        text = Reader(bare(make())).text
        for caution in CAUTIONS:
            assert caution in text
        assert "Limits" in text
        assert make().scenario_digest in text
        assert make().version in text
        for method in make().methods.values():
            assert method in text
    joined = " ".join(CAUTIONS)
    for word in ("burst", "plane of rotation", "shield", "weld", "hearing", "no clearance to fly",
                 "classes of weight", "creep", "licensed engineer"):
        assert word in joined


EVIL = '<script>alert("x")</script>&amp;\'"'


@pytest.mark.parametrize("field", ["title", "question", "note"])
def test_what_a_person_writes_stays_text(field: str) -> None:
    text = bare(replace(two(), **{field: EVIL}))
    assert "<script" not in text
    assert EVIL in Reader(text).text


def evil_aircraft() -> AircraftStudy:
    known = single().aircraft
    assert known is not None
    (flown,) = known.performances.values()
    parts = tuple(replace(part, name=EVIL) for part in known.drag_source.parts)
    return replace(known, performances={EVIL: replace(flown, climb_reason=EVIL)},
                   drag_source=replace(known.drag_source, parts=parts, assumptions=(EVIL,)))


def test_a_stop_stands_before_everything_else() -> None:
    """Titles and questions may be long: on a phone a stop under them would be below the fold."""
    alarm = Finding(rank="stop", subject="fan", text="the switch welds shut", value=9.0, limit=2.0,
                    unit="A", change="another switch")
    page = bare(replace(two(), findings=(alarm, *two().findings), question="why " * 400))
    body = page[page.index("<body>"):]
    first = body.index("Stop: do not run this.")
    assert first < body.index("<h1>")
    assert body.index("the switch welds shut") < body.index("<h1>")
    calm = [one for one in two().findings if one.rank != "stop"]
    assert "Stop: do not run this." not in bare(replace(two(), findings=tuple(calm)))


def test_names_assumptions_findings_and_source_stay_text() -> None:
    result = replace(two().candidates["blower"], name=EVIL, assumptions=(EVIL,))
    finding = Finding(rank="stop", subject=EVIL, text=EVIL, value=None, limit=None, unit="",
                      change=EVIL)
    evil = replace(single(), candidates={EVIL: result}, crossovers=(), findings=(finding,),
                   footing_curves={"as given": {EVIL: result.measure}}, other_footings={},
                   flip_items=(), aircraft=evil_aircraft())
    text = bare(evil, scenario_text=EVIL + "\n")
    assert "<script" not in text
    assert Reader(text).text.count(EVIL) > 8


def test_names_inside_a_drawing_stay_text(tmp_path: Path) -> None:
    result = replace(two().candidates["blower"], name=EVIL)
    evil = replace(single(), candidates={EVIL: result}, crossovers=(), flip_items=(),
                   footing_curves={"as given": {EVIL: result.measure}}, other_footings={},
                   aircraft=evil_aircraft())
    figures = save_figures(draw_figures(evil)[:2], tmp_path)
    assert "<script" not in page(evil, figures, scenario_text="")


def test_tables_carry_the_numbers() -> None:
    tables = all_tables(three())
    text = Reader(whole()).text
    for name, result in three().candidates.items():
        assert force(result.at_rest.installed_thrust.item()) in text
        assert speed(result.level.top_speed) in text
        assert name in tables["side"].heads
    assert len(tables["crossovers"].rows) == 5  # of six, one is where neither pulls
    assert all(len(row) == len(table.heads) for table in tables.values() for row in table.rows)
    assert "no aircraft can, however clean" in str(tables["crossovers"].rows)
    assert len(tables["nozzle"].rows) == 12
    watts = {row[0]: row[1:] for row in tables["watts"].rows}
    parts = sum(float(row[1].split()[0]) for row in tables["watts"].rows[:-2])
    assert parts == pytest.approx(float(watts["electrical power, the sum"][0].split()[0]), abs=0.4)


def test_no_table_calls_a_crossing_without_thrust_a_win() -> None:
    tables = all_tables(three())
    for name in ("crossovers", "footings"):
        for row in tables[name].rows:
            there = next(cell for cell in row if " N" in cell)
            assert ("overtakes" in row[0] + row[1]) is not there.startswith(("-", "\N{MINUS SIGN}"))


def test_thrust_at_a_crossover_per_mass_is_said_to_be_whose() -> None:
    """Per mass and per area the two thrusts differ; the one given must be the one named."""
    rows = {row[:2]: row[-1] for row in all_tables(three())["footings"].rows}
    cell = rows["thrust per frontal area", "blower overtakes propeller"]
    one = next(one for one in three().other_footings["thrust per frontal area"]
               if one.between == ("blower", "propeller"))
    thrusts = {name: np.interp(one.airspeed, three().airspeed,
                               three().candidates[name].curve.installed_thrust)
               for name in one.between}
    value, _, owner = cell.partition(" N ")
    assert float(value) == pytest.approx(thrusts[owner.strip("()")], rel=0.01)
    assert abs(thrusts["blower"] - thrusts["propeller"]) > 0.1


def test_tables_without_an_airframe_claim_no_flight() -> None:
    tables = all_tables(without_airframe())
    assert "flip" not in tables
    assert "level top speed" not in [row[0] for row in tables["side"].rows]
    assert "does it get there?" not in tables["crossovers"].heads
    assert "crossovers" not in all_tables(single())


def test_forces_on_lip_machine_and_nozzle_add_up_to_the_thrust() -> None:
    for row in all_tables(three())["forces"].rows:
        lip, machine, nozzle, net = (float(cell.replace("\u2212", "-").split()[0])
                                     for cell in row[1:])
        assert lip + machine + nozzle == pytest.approx(net, abs=0.02)


@pytest.mark.parametrize("make", [single, two, equal_power], ids=lambda make: make.__name__)
def test_no_page_prints_a_broken_number(make: Callable[[], Comparison]) -> None:
    text = Reader(bare(make())).text
    assert not re.search(r"\bnan\b|\bNone\b|\binf\b", text)


def test_a_finding_with_nothing_to_change_and_none_at_all() -> None:
    assert "That clears nothing to run" in bare(replace(two(), findings=()))


def test_the_whole_report(tmp_path: Path) -> None:
    found = write_report(two(), tmp_path / "out", scenario_text="title = 'x'")
    assert found == tmp_path / "out" / "index.html"
    names = {str(path.relative_to(tmp_path / "out")) for path in (tmp_path / "out").rglob("*")}
    assert {"index.html", "results.json", "curves.csv", "figures/thrust.svg",
            "figures/thrust.png"} <= names
    text = found.read_text(encoding="utf-8")
    for link in re.findall(r'<a href="([^"#]+)"', text):
        assert link in names
    assert "title = &#39;x&#39;" in text
