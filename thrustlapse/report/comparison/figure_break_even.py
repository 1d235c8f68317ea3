"""Figures of what it would take: useful power with the power needed, and efficiency needed."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.arrays import Array
from thrustlapse.report.comparison.break_even import MOST_PANELS, ties
from thrustlapse.report.comparison.figure_thrust import crowded, drag_range, marked_tops
from thrustlapse.report.figure_labels import Labels
from thrustlapse.report.figure_style import (
    PALE,
    abreast,
    draw_curve,
    folded,
    heading_room,
    name_strip,
    narrow,
    new_figure,
    panel_height,
    place_axes,
    span,
    strip_height,
    styled,
    title_with_remark,
)
from thrustlapse.report.looks import GREY, Look, looks
from thrustlapse.study.comparison import AS_BUILT, BreakEven, Comparison

BELOW_ZERO = 0.08

TOP = 160.0
"""Highest chain efficiency in the frame [%]; lines that need more leave it."""

LEAST_TOP = 115.0
"""The frame always shows the line of 100 %."""

THIN = 0.9


def figure_useful_power(comparison: Comparison) -> Figure:
    """Installed thrust times airspeed, as built and with the best exit; power to fly level."""
    with styled():
        strip = strip_height(comparison.candidates) if crowded(comparison) else 0.0
        figure = new_figure(panel_height(4.4) + strip + heading_room() - 0.42)
        if crowded(comparison):
            name_strip(figure, looks(comparison.candidates))
        axes = place_axes(figure, left=0.62, bottom=0.5, top=heading_room() + strip)
        title_with_remark(axes, "Useful power against airspeed",
                          "bold: as built; thin: best exit at each airspeed")
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel("installed thrust × airspeed [W]")
        x, style = comparison.airspeed, looks(comparison.candidates)
        curves = {name: x * result.curve.installed_thrust
                  for name, result in comparison.candidates.items()}
        best = {name: x * one.best_thrust for name, one in comparison.best_nozzles.items()
                if name in curves}
        top = _highest([*curves.values(), *best.values()], 1.0)
        axes.set_ylim(-BELOW_ZERO * top, 1.12 * top)
        axes.set_xlim(*_limits(x))
        axes.axhline(0.0, color=GREY, linewidth=0.8)
        labels = Labels(axes=axes)
        needed = _draw_needed(axes, comparison, labels)
        for name, curve in curves.items():
            if name in best:
                draw_curve(axes, x, best[name], style[name], width=THIN, marked=False, ends=False)
                labels.avoid(x, best[name], name)
            draw_curve(axes, x, curve, style[name])
            labels.avoid(x, curve, name)
        for name, speed, thrust in marked_tops(comparison):
            axes.plot([speed], [speed * thrust], marker="*", markersize=11.0, linestyle="none",
                      color=style[name].colour, markeredgecolor="white", markeredgewidth=0.6,
                      zorder=5)
            labels.keep_off(speed, speed * thrust, 6.0)
        for name, curve in curves.items() if not crowded(comparison) else ():
            labels.on_curve(x, curve, folded(name), owner=name, colour=style[name].colour)
        if needed is not None:
            labels.on_curve(x, needed, "airframe needs", owner="needed", colour=GREY)
        return figure


def _draw_needed(axes: Axes, comparison: Comparison, labels: Labels) -> Array | None:
    """Drag times airspeed over the candidates' masses as a band; returns its upper edge."""
    if comparison.drag_area is None:
        return None
    x = comparison.airspeed
    low, high = (x * edge for edge in drag_range(comparison))
    axes.fill_between(x, low, high, color=PALE, linewidth=0.0)
    for edge in (low, high):
        axes.plot(x, edge, color=GREY, linewidth=1.0)
    labels.avoid(x, high, "needed")
    return np.asarray(high)


def figure_break_even(comparison: Comparison) -> Figure | None:
    """Chain efficiency each candidate has, and would need to tie with each other one; None where
    there is no other."""
    shown = ties(comparison)
    names = list(dict.fromkeys(one.candidate for one in shown))[:MOST_PANELS]
    if not names:
        return None
    with styled():
        columns = min(len(names), abreast(2))
        rows = (len(names) + columns - 1) // columns
        every = list(comparison.candidates)
        each, heading = 2.9, 0.3
        title = "Chain efficiency: own (thick), and needed to tie with each other"
        figure = new_figure(each * rows + strip_height(every) + heading)
        style = looks(comparison.candidates)
        strip = name_strip(figure, style)
        wide, high = figure.get_size_inches()
        figure.text(0.1 / wide, 1.0 - (strip + 0.22) / high, title.partition(",")[0]
                    if narrow() else title, fontsize=10.0, fontweight="bold",
                    va="center", ha="left")
        for place, name in enumerate(names):
            row, column = divmod(place, columns)
            axes = place_axes(figure, left=0.62 + column * wide / columns,
                              right=0.15 + (columns - 1 - column) * wide / columns,
                              top=strip + heading + row * each + 0.5,
                              bottom=(rows - 1 - row) * each + 0.5)
            axes.set_title(folded(name, 25 if columns > 1 else 60, lines=2), fontsize=9.0)
            axes.set_xlabel("airspeed [m/s]")
            axes.set_ylabel("chain efficiency [%]")
            _panel(axes, comparison.airspeed, [one for one in shown if one.candidate == name],
                   style)
        return figure


def _panel(axes: Axes, x: Array, needs: list[BreakEven], style: dict[str, Look]) -> None:
    """Own, bold and thin; needed for each rival, with the jet held bold and the exit held thin."""
    own = {one.exit: 100.0 * one.own_chain_efficiency for one in needs}
    built = [one for one in needs if one.exit == AS_BUILT]
    held = [(one, 100.0 * one.needed_chain_efficiency_jet_held,
             100.0 * one.needed_chain_efficiency_exit_held) for one in built]
    top = min(max(1.1 * _highest([*own.values(), *(values for _, *both in held for values in both)],
                                 1.0), LEAST_TOP), TOP)
    axes.set_ylim(0.0, top)
    axes.set_xlim(*_limits(x))
    axes.axhspan(100.0, top, color=PALE, alpha=0.5, linewidth=0.0)
    axes.axhline(100.0, color=GREY, linewidth=1.0)
    axes.text(0.98, 100.0 + 0.03 * top, "nobody can", transform=axes.get_yaxis_transform(),
              ha="right", va="bottom", fontsize=7.5, color=GREY)
    for one, jet, exit in held:
        draw_curve(axes, x, exit, style[one.rival], width=THIN, marked=False, ends=False)
        draw_curve(axes, x, jet, style[one.rival], width=1.3, ends=False)
    for kind, values in own.items():
        draw_curve(axes, x, values, style[needs[0].candidate], marked=False, ends=False,
                   width=2.8 if kind == AS_BUILT else THIN)


def _limits(x: Array) -> tuple[float, float]:
    return span(float(x[0]), float(x[-1]))


def _highest(curves: list[Array], least: float) -> float:
    values = np.concatenate(curves)
    return max(float(np.max(values[np.isfinite(values)], initial=0.0)), least)
