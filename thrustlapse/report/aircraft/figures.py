"""Figures of the aircraft: its drag by part, and its rate of climb with each candidate."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.report.comparison.figure_thrust import crowded
from thrustlapse.report.figure_labels import Labels
from thrustlapse.report.figure_style import (
    draw_curve,
    folded,
    heading_room,
    name_strip,
    narrow,
    new_figure,
    panel_height,
    place_axes,
    strip_height,
    styled,
    title_with_remark,
)
from thrustlapse.report.looks import GREY, Look, looks
from thrustlapse.report.number_format import SOURCES, number
from thrustlapse.study.aircraft_study_record import AircraftStudy
from thrustlapse.study.comparison import Comparison

ROW = 0.26
"""Height of a bar with its margin [inch]."""

MOST_BARS = 24
"""Parts that get a bar of their own; the smaller ones share one."""

LONGEST_NAME = 26

PART_COLOUR = "#7f7f7f"

BELOW_ZERO = 0.12
"""How far the frame of climb reaches below zero, as a share of its height above."""


def figure_drag(comparison: Comparison) -> Figure | None:
    """Parasite drag area by part of the airframe, with its band, and what each candidate adds; None
    where the airframe's drag is known as a whole alone."""
    if comparison.aircraft is None or not comparison.aircraft.drag_source.parts:
        return None  # one number is no figure
    bars = drag_bars(comparison, comparison.aircraft)
    with styled():
        most = 0.62 * LONGEST_NAME if narrow() else LONGEST_NAME
        figure = new_figure(0.95 + heading_room() - 0.42 + ROW * len(bars))
        axes = place_axes(figure, left=1.3 if narrow() else 2.05, bottom=0.5,
                          top=heading_room() - 0.02, right=0.2)
        style = looks(comparison.candidates)
        reach = max(high if np.isfinite(high) else value for _, value, _, high, _ in bars
                    if np.isfinite(value))
        axes.set_xlim(0.0, (2.4 if narrow() else 1.42) * 1e4 * reach)
        axes.set_ylim(len(bars) - 0.4, -0.6)
        axes.set_yticks(range(len(bars)))
        labels = axes.set_yticklabels([folded(name, int(most), lines=2) for name, *_ in bars])
        for label, (name, *_) in zip(labels, bars, strict=True):
            label.set_fontsize(8.5 if len(name) <= most else 7.0)
            label.set_linespacing(0.95)
        axes.tick_params(axis="y", length=0)
        axes.grid(visible=False, axis="y")
        _draw_bars(axes, bars, style, reach=reach)
        axes.set_xlabel("drag area [cm²]")
        title_with_remark(axes, "Drag by part", _remark(bars))
        return figure


Bar = tuple[str, float, float, float, str]


def _draw_bars(axes: Axes, bars: list[Bar], style: dict[str, Look], *, reach: float) -> None:
    """A bar for each part and candidate, its band and its amount beside it."""
    for place, (_, value, low, high, owner) in enumerate(bars):
        colour = style[owner].colour if owner else PART_COLOUR
        if not np.isfinite(value):
            axes.text(0.0, place, f" {number(value)}", va="center", fontsize=8.0, color=GREY)
            continue
        axes.barh([place], [1e4 * value], height=0.62, color=colour, alpha=0.85)
        _whisker(axes, place, low, high)
        end = high if np.isfinite(high) else value
        axes.text(1e4 * (end + 0.015 * reach), place, _amount(value, low, high), va="center",
                  ha="left", fontsize=8.0, color="#333333")


def _remark(bars: list[Bar]) -> str:
    known = any(np.isfinite(low) for _, _, low, _, _ in bars)
    return "line: least and most it may be" if known else ""


def drag_bars(comparison: Comparison, aircraft: AircraftStudy) -> list[Bar]:
    """Name, drag area, its bounds [m^2] and the candidate it belongs to (else empty), in order."""
    source = aircraft.drag_source
    nothing = float("nan")
    parts = sorted(source.parts, key=lambda part: -part.drag_area)
    bars = [(part.name, part.drag_area, part.drag_area_low, part.drag_area_high, "")
            for part in parts[:MOST_BARS]]
    rest = parts[MOST_BARS:]
    if rest:
        low, middle, high = (sum(getattr(part, name) for part in rest) for name in (
            "drag_area_low", "drag_area", "drag_area_high"))
        bars.append((f"{len(rest)} smaller parts", middle, low, high, ""))
    whole = "airframe, the sum" if parts else f"airframe, {SOURCES[source.source]}"
    bars.append((whole, source.drag_area, source.drag_area_low, source.drag_area_high, ""))
    for name, result in comparison.candidates.items():
        bars.append((f"{name}'s own", sum(result.external_drag_areas.values()), nothing, nothing,
                     name))
    return bars


def _whisker(axes: Axes, place: int, low: float, high: float) -> None:
    if not np.isfinite(low):
        return
    axes.plot([1e4 * low, 1e4 * high], [place, place], color="black", linewidth=1.1,
              solid_capstyle="butt")
    for end in (low, high):
        axes.plot([1e4 * end, 1e4 * end], [place - 0.16, place + 0.16], color="black",
                  linewidth=1.1)


def _amount(value: float, low: float, high: float) -> str:
    text = number(1e4 * value)
    return f"{text} ({number(1e4 * low)} to {number(1e4 * high)})" if np.isfinite(low) else text


def figure_climb(comparison: Comparison) -> Figure | None:
    """Rate of climb at full power against airspeed, from the stall up, with the best of each."""
    if comparison.aircraft is None:
        return None
    flown = comparison.aircraft.performances
    rates = np.concatenate([one.climb_rate for one in flown.values()])
    if not np.isfinite(rates).any():
        return None
    with styled():
        style = looks(comparison.candidates)
        strip = strip_height(flown) if crowded(comparison) else 0.0
        figure = new_figure(panel_height(4.2) + strip)
        if strip:
            name_strip(figure, {name: style[name] for name in flown})
        axes = place_axes(figure, left=0.62, bottom=0.5, top=0.42 + strip)
        axes.set_title("Rate of climb at full power")
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel("rate of climb [m/s]")
        top = float(np.nanmax(rates))
        low = float(np.nanmin(rates))
        frame = (low, 0.2 * abs(low)) if top <= 0.0 else (
            max(1.1 * low, -BELOW_ZERO * top) if low < 0.0 else 0.0, 1.18 * top)
        axes.set_ylim(*frame)
        ends = [float(one.airspeed[-1]) for one in flown.values()]
        axes.set_xlim(0.0, max(ends))
        axes.axhline(0.0, color=GREY, linewidth=0.8)
        labels = Labels(axes=axes)
        for name, one in flown.items():
            draw_curve(axes, one.airspeed, one.climb_rate, style[name])
            labels.avoid(one.airspeed, one.climb_rate, name)
        shown = [(name, one) for name, one in flown.items() if one.best_climb_rate > 0.0]
        for name, one in shown:
            axes.plot([one.best_climb_speed], [one.best_climb_rate], marker="*", markersize=11.0,
                      linestyle="none", color=style[name].colour, markeredgecolor="white",
                      markeredgewidth=0.6, zorder=5)
            labels.keep_off(one.best_climb_speed, one.best_climb_rate, 6.0)
        for name, one in shown:
            labels.at_point(one.best_climb_speed, one.best_climb_rate,
                            f"{number(one.best_climb_rate)} m/s at "
                            f"{number(one.best_climb_speed)} m/s", colour=style[name].colour,
                            owner=name)
        for name, one in flown.items() if not crowded(comparison) else ():
            labels.on_curve(one.airspeed, one.climb_rate, folded(name), owner=name,
                            colour=style[name].colour)
        return figure
