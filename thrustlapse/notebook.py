"""Scenario, operating points and comparison as a notebook shows them: short tables, one figure."""

from __future__ import annotations

import base64
import html
from functools import singledispatch

import numpy as np

from thrustlapse.propulsor.operating_point import MEANING, Flag, OperatingPoint
from thrustlapse.report.aircraft.airframe_lines import airframe_lines
from thrustlapse.report.comparison.captions import PLOTS, alt_text, caption
from thrustlapse.report.comparison.figures import figure
from thrustlapse.report.comparison.tables import at_a_glance
from thrustlapse.report.comparison.terminal import CAUTION, point_rows
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.findings_text import grouped
from thrustlapse.report.number_format import amount, listed, sentence, short_speed
from thrustlapse.report.page_text import table_html
from thrustlapse.report.saved_figures import Drawn, svg_text
from thrustlapse.report.table import NONE, Table
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.comparison import Comparison

MOST_ROWS = 12
"""Operating points that are shown of many: evenly chosen, the first and the last among them."""

COLUMNS = ("airspeed", "net_thrust", "installed_thrust", "electrical_power", "shaft_speed",
           "mass_flow", "jet_speed", "overall_efficiency")
"""What is shown of many operating points: words of the glossary."""


@singledispatch
def as_html(thing: object) -> str:
    """HTML of a result: plain tags alone, so that the notebook's own style holds.

    Raises
    ------
    TypeError
        For what has no such view.
    """
    raise TypeError(f"no view is known of {type(thing).__name__}")


@as_html.register
def _scenario(scenario: Scenario) -> str:
    rows = tuple((name, one.kind, str(one.count),
                  amount("installed_mass", float(np.asarray(one.installed_mass))))
                 for name, one in scenario.candidates.items())
    candidates = Table(name="candidates", caption="", rows=rows,
                       heads=("candidate", "kind", "units", "installed mass"))
    airframe, use = scenario.airframe, scenario.aircraft_use
    said = [scenario.question,
            f"airspeeds {short_speed(float(scenario.airspeeds[0]))} to "
            f"{short_speed(float(scenario.airspeeds[-1]))}; {scenario.comparison.footing}",
            *([] if airframe is None or use is None else
              [f"airframe: {line}" for line in airframe_lines(airframe, use.drag_basis)[:1]]),
            f"{len(scenario.spreads)} spreads stated, {len(scenario.assumed)} assumed",
            *scenario.doubts]
    return (_heading(scenario.title or scenario.path.name) + table_html(candidates)
            + _lines([text for text in said if text]))


@as_html.register
def _point(point: OperatingPoint) -> str:
    if point.net_thrust.size == 1:
        table = Table(name="point", caption="", rows=tuple(point_rows(point)),
                      heads=("quantity", "value", "meaning"))
        return table_html(table) + _lines([f"{flag.words}: {MEANING[flag]}" for flag in Flag
                                           if bool(point.flagged(flag).any())])
    return table_html(_points(point)) + _lines([
        f"{flag.words} at {int(np.sum(point.flagged(flag)))} of {point.net_thrust.size} points: "
        f"{MEANING[flag]}" for flag in Flag if bool(point.flagged(flag).any())])


def _points(point: OperatingPoint) -> Table:
    size = point.net_thrust.size
    chosen = np.unique(np.linspace(0, size - 1, min(size, MOST_ROWS)).round().astype(int))
    columns = [np.ravel(np.broadcast_to(getattr(point, name), point.net_thrust.shape))[chosen]
               for name in COLUMNS]
    limits = np.ravel(np.broadcast_to(point.drive_limit, point.net_thrust.shape))[chosen]
    rows = tuple((*(amount(name, float(value)) if np.isfinite(value) else NONE
                    for name, value in zip(COLUMNS, row, strict=True)), str(limit))
                 for *row, limit in zip(*columns, limits, strict=True))
    caption = "" if size == chosen.size else f"{chosen.size} of {size} operating points."
    return Table(name="points", caption=caption, rows=rows,
                 heads=(*(name.replace("_", " ") for name in COLUMNS), "limited by"))


@as_html.register
def _comparison(comparison: Comparison) -> str:
    told = verdict(comparison)
    stops = [f"stop: {listed(f'{subject}: {text}' for subject, text in one.parts)}{one.rest}"
             for one in grouped(comparison.findings) if one.rank == "stop"]
    return (_heading(comparison.title) + _lines([told.headline, told.remember, *stops])
            + table_html(at_a_glance(comparison)) + _picture(comparison, "thrust")
            + _lines([CAUTION]))


def _heading(text: str) -> str:
    return f"<h3>{html.escape(text)}</h3>\n" if text else ""


def _lines(texts: list[str]) -> str:
    return "".join(f"<p>{html.escape(sentence(text))}</p>\n" for text in texts if text)


def _picture(comparison: Comparison, name: str) -> str:
    drawn = Drawn(name=name, title=PLOTS[name].title, figure=figure(comparison, name),
                  caption=caption(comparison, name), alt=alt_text(comparison, name))
    data = base64.b64encode(svg_text(drawn).encode()).decode()
    return (f'<img src="data:image/svg+xml;base64,{data}" alt="{html.escape(drawn.alt)}" '
            f'style="max-width: 100%">\n<p>{html.escape(drawn.caption)}</p>\n')
