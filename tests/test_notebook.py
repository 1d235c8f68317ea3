"""What a notebook shows, and tables for further work, against the results and ``curves.csv``."""

from __future__ import annotations

import base64
import builtins
import io
import re
import xml.etree.ElementTree as tree
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pandas
import pytest

import thrustlapse as tl
from tests.report.machines import blower, three, two
from thrustlapse.notebook import MOST_ROWS, as_html
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.report.comparison.results_file import curves_text
from thrustlapse.report.number_format import force, speed
from thrustlapse.study.comparison import Finding

STORY = Path(__file__).parents[1] / "scenarios" / "three_ways_to_push.toml"


class Parts(HTMLParser):
    """Rows of cells, paragraphs and pictures; every tag that opens is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.paragraphs: list[str] = []
        self.pictures: list[dict[str, str | None]] = []
        self.open: list[str] = []
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "img":
            self.pictures.append(dict(attrs))
            return
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        elif tag == "p":
            self.paragraphs.append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data
        elif self.open and self.open[-1] == "p":
            self.paragraphs[-1] += data


def test_a_comparison_shows_its_verdict_table_and_figure() -> None:
    comparison = three()
    parts = Parts(comparison._repr_html_())
    assert parts.paragraphs[0] == tl.verdict(comparison).headline
    assert {row[0] for row in parts.rows[1:]} == {*comparison.candidates}
    for name, *cells in parts.rows[1:]:
        one = comparison.candidates[name]
        assert cells[0] == force(one.at_rest.installed_thrust.item())
        assert cells[-1] == speed(one.level.top_speed)
    kind, data = parts.pictures[0]["src"].split(",")
    assert kind == "data:image/svg+xml;base64"
    drawing = tree.fromstring(base64.b64decode(data))
    assert drawing.tag == "{http://www.w3.org/2000/svg}svg"
    assert "Line chart of thrust" in parts.pictures[0]["alt"]
    assert any("clears nothing to run" in text for text in parts.paragraphs)


def test_what_must_stop_the_build_is_shown() -> None:
    stop = Finding(rank="stop", subject="blower", text="rotor stress 300 MPa", value=3e8,
                   limit=1.8e8, unit="Pa", change="less speed")
    assert any(text.startswith("Stop: blower: rotor stress 300 MPa") for text in
               Parts(as_html(replace(two(), findings=(stop,)))).paragraphs)


def test_a_person_s_text_stays_text() -> None:
    title = "<script>alert(1)</script>\" onload='x'"
    parts = Parts(as_html(replace(two(), title=title)))
    assert parts.pictures
    assert "<script>" not in as_html(replace(two(), title=title))


def test_a_scenario_shows_who_is_in_it() -> None:
    scenario = tl.read_scenario(STORY)
    parts = Parts(scenario._repr_html_())
    assert [row[0] for row in parts.rows[1:]] == list(scenario.candidates)
    assert any(f"{len(scenario.assumed)} assumed" in text for text in parts.paragraphs)


def test_one_operating_point_is_shown_whole() -> None:
    point = tl.operate(blower(), airspeed=30.0)
    cells = {row[0]: row[1] for row in Parts(point._repr_html_()).rows}
    assert float(cells["net thrust"].split()[0]) == pytest.approx(float(point.net_thrust),
                                                                 rel=5e-4)
    assert float(cells["shaft speed"].split()[0]) == pytest.approx(
        float(point.shaft_speed) * 60.0 / (2e3 * np.pi), rel=5e-4)


@pytest.mark.parametrize("count", [2, MOST_ROWS, 400])
def test_many_operating_points_are_shown_from_the_first_to_the_last(count: int) -> None:
    airspeed = np.linspace(0.0, 80.0, count)
    point = tl.operate(blower(), airspeed=airspeed)
    parts = Parts(point._repr_html_())
    shown = [float(row[0].split()[0]) for row in parts.rows[1:]]
    assert len(shown) == min(count, MOST_ROWS)
    assert (shown[0], shown[-1]) == (0.0, 80.0)
    spills = int(np.sum(point.flagged(Flag.INLET_SPILLS)))
    assert any(text.startswith(f"Inlet spills at {spills} of {count} points")
               for text in parts.paragraphs) == (spills > 0)


def test_what_has_no_view_is_refused() -> None:
    with pytest.raises(TypeError, match="no view is known of int"):
        as_html(3)


def test_a_table_is_the_curves_file() -> None:
    """pandas' own reader of CSV is the judge."""
    comparison = three()
    read = pandas.read_csv(io.StringIO(curves_text(comparison)), comment="#")
    made = tl.table(comparison)
    assert list(made.columns) == list(read.columns)
    for name in made.columns:
        if made[name].dtype.kind == "f":
            np.testing.assert_allclose(made[name], read[name], rtol=1e-15)
        else:
            assert list(made[name]) == list(read[name].fillna(""))
    assert made.attrs["scenario_sha256"] == comparison.scenario_digest


def test_points_and_a_single_one_are_tables_too() -> None:
    airspeed = np.array([[0.0, 10.0, 20.0], [30.0, 40.0, 50.0]])
    many = tl.table(tl.operate(blower(), airspeed=airspeed))
    np.testing.assert_array_equal(many["airspeed_m_s"], airspeed.ravel())
    one = tl.table(tl.operate(blower(), airspeed=40.0))
    assert len(one) == 1
    assert one["net_thrust_N"].item() == pytest.approx(many["net_thrust_N"][4], rel=1e-9)


def test_without_pandas_a_table_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = builtins.__import__

    def without(name: str, *rest: Any, **named: Any) -> Any:
        if name == "pandas":
            raise ModuleNotFoundError(name=name)
        return kept(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ModuleNotFoundError, match=re.escape("pip install 'thrustlapse[table]'")):
        tl.table(two())
