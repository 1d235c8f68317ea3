"""Figures of a search: which kind wins where, each kind's best, its settings, and the front."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from thrustlapse.arrays import Array, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import Axis
from thrustlapse.glossary import quantity, unit_text
from thrustlapse.report.figure_style import (
    draw_curve,
    figure_width,
    name_strip,
    new_figure,
    place_axes,
    strip_height,
    styled,
)
from thrustlapse.report.looks import GREY, KIND_FILLS, looks, series_looks
from thrustlapse.report.saved_figures import Drawn, Saved, save_figures
from thrustlapse.report.search.words import (
    answer_words,
    axis_value,
    cell_words,
    ends_and_middle,
    sentences,
)
from thrustlapse.study.search.summary import SearchResult
from thrustlapse.study.search.winners import NOBODY


def save_search(result: SearchResult, folder: Path) -> Saved:
    """All figures of a search, saved into a folder."""
    return save_figures(draw_search(result), folder)


def draw_search(result: SearchResult) -> list[Drawn]:
    """Every figure the search has data for."""
    made: list[tuple[str, str, Callable[[SearchResult], Figure | None], str]] = [
        ("winners", "Which kind wins", figure_winners,
         "Each kind at its own best design for that airspeed and cell. Hatched: the lead is within "
         "one standard deviation of the difference of the two leading kinds, so it is too close to "
         "call. White: nothing makes thrust."),
        ("envelopes", "Each kind at its own best", figure_envelopes,
         "Envelopes: at every airspeed the best design, not one build. Shaded: one standard "
         "deviation from all that is not known."),
        ("settings", "Best settings against airspeed", figure_settings,
         "The settings of the best design for each airspeed. Steps are those of the search's "
         "grid."),
        ("front", "The trade-off", figure_front,
         "Designs that no other design of the same candidate beats in both answers at once."),
    ]
    drawn = []
    for name, title, make, said in made:
        figure = make(result)
        if figure is not None:
            drawn.append(Drawn(name=name, title=title, figure=figure, caption=said,
                               alt=" ".join([said, *WORDS[name](result)])))
    return drawn


def label(name: str) -> str:
    """An answer as an axis label."""
    unit = unit_text(quantity(name).display_unit)
    return f"{answer_words(name)} [{unit}]" if unit else answer_words(name)


def shown(name: str, values: Array) -> Array:
    """Values of an answer in the unit people read."""
    word = quantity(name)
    return np.asarray(values * word.factor + word.offset)


def axis_label(axis: Axis) -> str:
    """A shared axis or a setting as an axis label."""
    unit = "times the file's" if axis.relative else unit_text(axis.display_unit)
    return f"{axis.name} [{unit}]" if unit else axis.name


def figure_winners(result: SearchResult) -> Figure | None:
    """Plane of airspeed and the first shared axis, filled by the leading kind."""
    won, spec = result.winners, result.spec
    shared = spec.shared
    if won is None or not shared or shared[0].values.size < 2 or spec.airspeed.size < 2 \
            or won.winner.shape[1] != spec.airspeed.size:
        return None
    # further shared axes stand at their middle value
    index: Any = (slice(None), *(size // 2 for size in spec.cells[1:]))
    winner = won.winner.reshape(*spec.cells, -1)[index]
    tie = won.tie.reshape(*spec.cells, -1)[index]
    y = shared[0].display(shared[0].values)
    with styled():
        figure = new_figure(4.1)
        axes = place_axes(figure, left=0.75, bottom=0.85, top=0.4)
        figure.text(0.02, 0.965, "Which kind wins", fontweight="bold", fontsize=10.0, va="top")
        axes.grid(visible=False)
        x_edges, y_edges = _edges(spec.airspeed), _edges(y, ratio=_by_ratio(y))
        for place, kind in enumerate(won.kinds):
            held = np.where(winner == place, 1.0, np.nan)
            if np.isfinite(held).any():
                axes.pcolormesh(x_edges, y_edges, np.ma.masked_invalid(held),
                                cmap=_flat(KIND_FILLS[kind]), shading="flat",
                                rasterized=False, linewidth=0.0, antialiased=False)
        for row, column in np.argwhere(tie):
            axes.add_patch(_hatched(x_edges, y_edges, int(row), int(column)))
        _borders(axes, x_edges, y_edges, winner)
        if _by_ratio(y):
            axes.set_yscale("log")
            ticks = _round_ticks(float(y[0]), float(y[-1]))
            axes.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
            axes.minorticks_off()
        axes.set_xlim(spec.airspeed[0], spec.airspeed[-1])
        axes.set_ylim(y[0], y[-1])
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel(axis_label(shared[0]))
        handles = [Patch(facecolor=KIND_FILLS[kind], edgecolor=GREY, label=kind)
                   for place, kind in enumerate(won.kinds) if np.any(winner == place)]
        if tie.any():
            handles.append(Patch(facecolor="white", edgecolor=GREY, hatch="////",
                                 label="too close to call"))
        if np.any(winner == NOBODY):
            handles.append(Patch(facecolor="white", edgecolor=GREY, label="no thrust"))
        figure.legend(handles=handles, loc="lower center", ncols=min(len(handles), 5),
                      frameon=False, fontsize=8.5, handlelength=1.4, columnspacing=1.2)
    return figure


def _by_ratio(values: Array) -> bool:
    """Whether values are spaced by ratio rather than by steps."""
    if values.size < 3 or values[0] <= 0.0:
        return False
    return bool(np.ptp(np.diff(np.log(values))) < 0.5 * np.ptp(np.log(values)) / values.size
                and np.diff(values)[-1] > 1.5 * np.diff(values)[0])


def _edges(values: Array, *, ratio: bool = False) -> Array:
    """Borders of cells round values, halfway between them."""
    at = np.log(values) if ratio else values
    middle = 0.5 * (at[1:] + at[:-1])
    edges = np.concatenate([[2.0 * at[0] - middle[0]], middle, [2.0 * at[-1] - middle[-1]]])
    return np.asarray(np.exp(edges) if ratio else edges)


def _round_ticks(low: float, high: float) -> list[float]:
    """Round values across a range of ratios: 1, 2 and 5 by powers of ten."""
    powers = np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1.0)
    ticks = (np.array([1.0, 2.0, 5.0]) * 10.0 ** powers[:, None]).ravel()
    return [float(tick) for tick in ticks if low * 0.999 <= tick <= high * 1.001]


def _flat(colour: str) -> Any:
    from matplotlib.colors import ListedColormap

    return ListedColormap([colour])


def _hatched(x: Array, y: Array, row: int, column: int) -> Patch:
    from matplotlib.patches import Rectangle

    return Rectangle((x[column], y[row]), x[column + 1] - x[column], y[row + 1] - y[row],
                     facecolor="none", edgecolor="#4a4a4a", hatch="////", linewidth=0.0)


def _borders(axes: Axes, x: Array, y: Array, winner: IntArray) -> None:
    """Lines between neighbouring cells of different leaders."""
    for row, column in np.argwhere(winner[:, 1:] != winner[:, :-1]):
        axes.plot([x[column + 1]] * 2, [y[row], y[row + 1]], color="black", linewidth=1.0)
    for row, column in np.argwhere(winner[1:] != winner[:-1]):
        axes.plot([x[column], x[column + 1]], [y[row + 1]] * 2, color="black", linewidth=1.0)


def _panels(result: SearchResult) -> list[int]:
    """Cells of the shared axes that a figure of curves shows."""
    return ends_and_middle(next(iter(result.found.values())).best.shape[0])


def figure_envelopes(result: SearchResult) -> Figure | None:
    """The best answer of each candidate against airspeed, in up to three cells."""
    spec = result.spec
    if not ANSWERS[spec.best].at_airspeed or spec.airspeed.size < 2:
        return None
    names = list(result.found)
    cells = _panels(result)
    with styled():
        tall, strip = 2.3, strip_height(names)
        figure = new_figure(strip + 0.15 + len(cells) * tall + 0.2)
        style = looks(result.found)
        name_strip(figure, style)
        for panel, cell in enumerate(cells):
            below = 0.2 + (len(cells) - 1 - panel) * tall
            axes = place_axes(figure, left=0.75, bottom=below + 0.42,
                              top=strip + 0.4 + panel * tall)
            for name, look in style.items():
                one = result.found[name]
                best, spread = one.best[cell], one.deviation[cell]
                low, high = (shown(spec.best, best + sign * spread) for sign in (-1.0, 1.0))
                axes.fill_between(spec.airspeed, low, high, color=look.colour, alpha=0.13,
                                  linewidth=0.0)
                draw_curve(axes, spec.airspeed, shown(spec.best, best), look)
            axes.axhline(0.0, color=GREY, linewidth=0.8)
            axes.set_xlim(spec.airspeed[0], spec.airspeed[-1])
            top = max((float(np.nanmax(shown(spec.best, one.best[cell]), initial=0.0))
                       for one in result.found.values()), default=1.0)
            if top > 0.0 and quantity(spec.best).unit in ("N", "N/kg"):
                axes.set_ylim(-0.08 * top, 1.12 * top)
            axes.set_ylabel(label(spec.best))
            axes.set_title(cell_words(result, cell) or "Each at its own best")
            if panel == len(cells) - 1:
                axes.set_xlabel("airspeed [m/s]")
    return figure


def _own_axes(result: SearchResult) -> list[Axis]:
    """The axes of candidates' own that vary, as many as one figure holds."""
    return [axis for axis in result.spec.axes if axis.owner is not None
            and (axis.sampled or axis.values.size > 1)][:8]


def figure_settings(result: SearchResult) -> Figure | None:
    """Best value of every axis of a candidate's own against airspeed, cell by cell."""
    spec = result.spec
    own = _own_axes(result)
    if not own or not ANSWERS[spec.best].at_airspeed or spec.airspeed.size < 2:
        return None
    cells = _panels(result)
    words = [cell_words(result, cell) or "best" for cell in cells]
    with styled():
        rows, tall, strip = (len(own) + 1) // 2, 2.0, strip_height(words)
        figure = new_figure(strip + 0.1 + rows * tall + 0.25)
        lines = series_looks(words)
        name_strip(figure, lines)
        half = figure_width() / 2.0
        for place, axis in enumerate(own):
            row, side = divmod(place, 2)
            below = 0.2 + (rows - 1 - row) * tall
            axes = place_axes(figure, left=0.65 + side * half, right=0.15 + (1 - side) * half,
                              bottom=below + 0.45, top=strip + 0.4 + row * tall)
            for cell, look in zip(cells, lines.values(), strict=True):
                one = result.found[axis.owner or ""]
                draw_curve(axes, spec.airspeed, axis.display(one.settings[axis.name][cell]), look,
                           width=1.4)
            axes.set_title(axis.name, fontsize=9.0)
            if axis.counted:
                axes.set_yticks(axis.values)
            axes.set_xlim(spec.airspeed[0], spec.airspeed[-1])
            low, high = axis.display(axis.values[[0, -1]])
            axes.set_ylim(low - 0.08 * (high - low), high + 0.08 * (high - low))
            axes.set_ylabel("times the file's" if axis.relative else unit_text(axis.display_unit))
            if row == rows - 1 or place >= len(own) - 2:
                axes.set_xlabel("airspeed [m/s]")
    return figure


def figure_front(result: SearchResult) -> Figure | None:
    """The first two answers of the front against each other."""
    spec = result.spec
    if len(spec.front) < 2 or not any(one.front is not None and one.front.row.size
                                      for one in result.found.values()):
        return None
    names, (first, second) = list(result.found), spec.front[:2]
    with styled():
        strip = strip_height(names)
        figure = new_figure(strip + 3.4)
        style = looks(result.found)
        name_strip(figure, style)
        axes = place_axes(figure, left=0.75, bottom=0.5, top=strip + 0.4)
        for name, look in style.items():
            front = result.found[name].front
            if front is None or front.row.size == 0:
                continue
            x, y = shown(first, front.answers[first]), shown(second, front.answers[second])
            order = np.argsort(x, kind="stable")
            line = {"linestyle": look.dash, "linewidth": 1.2} if len(spec.front) == 2 else {
                "linestyle": "none"}
            axes.plot(x[order], y[order], color=look.colour, marker=look.marker,
                      markerfacecolor="white", markersize=3.6, **line)
        axes.set_xlabel(label(first))
        axes.set_ylabel(label(second))
        fixed = any(ANSWERS[name].at_airspeed for name in (first, second))
        axes.set_title("The trade-off" + (f" at {spec.front_airspeed:.3g} m/s" if fixed else ""))
    return figure


def _envelope_words(result: SearchResult) -> list[str]:
    """Best values of each candidate at the ends and the middle of the airspeeds drawn."""
    spec, lines = result.spec, []
    columns = ends_and_middle(spec.airspeed.size)
    unit = unit_text(quantity(spec.best).display_unit)
    for cell in _panels(result):
        told = []
        for name, one in result.found.items():
            values = [f"{shown(spec.best, one.best[cell])[column]:.3g} {unit} at "
                      f"{spec.airspeed[column]:.3g} m/s" for column in columns
                      if np.isfinite(one.best[cell, column])]
            told.append(f"{name} {', '.join(values) if values else 'has no design that counts'}")
        lines.append(f"{cell_words(result, cell) or 'Best'}: {'; '.join(told)}.")
    return lines


def _setting_words(result: SearchResult) -> list[str]:
    """Best settings at the lowest and the highest airspeed that have one, cell by cell."""
    lines = []
    for cell in _panels(result):
        told = []
        for axis in _own_axes(result):
            values = result.found[axis.owner or ""].settings[axis.name][cell]
            known = np.flatnonzero(np.isfinite(values))
            if known.size:
                low, high = known[[0, -1]]
                told.append(f"{axis.name} {axis_value(axis, float(values[low]))} at "
                            f"{result.spec.airspeed[low]:.3g} m/s, "
                            f"{axis_value(axis, float(values[high]))} at "
                            f"{result.spec.airspeed[high]:.3g} m/s")
        lines.append(f"{cell_words(result, cell) or 'Best'}: {'; '.join(told)}.")
    return lines


def _front_words(result: SearchResult) -> list[str]:
    lines = []
    for name, one in result.found.items():
        if one.front is None or one.front.row.size == 0:
            lines.append(f"{name}: no design counts.")
            continue
        ends = [" to ".join(f"{shown(answer, one.front.answers[answer])[place]:.3g}"
                            for place in (0, -1)) for answer in result.spec.front]
        lines.append(f"{name}: {one.front.row.size} designs, " + ", ".join(
            f"{label(answer)} {end}" for answer, end in zip(result.spec.front, ends, strict=True))
            + ".")
    return lines


WORDS: dict[str, Callable[[SearchResult], list[str]]] = {
    "winners": sentences, "envelopes": _envelope_words, "settings": _setting_words,
    "front": _front_words}
"""What each figure shows, told from the same numbers."""
