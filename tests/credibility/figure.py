"""Predicted against measured for everything that was measured."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from tests.credibility.records import Pair
from thrustlapse.report.figure_style import COLOURS, GREY, MARKERS, new_figure, place_axes, styled

BAND = 0.10
"""Half width of the dashed band, as a share of the largest measured value."""

RIGHT = 3.25
"""Room for the names beside the axes [inch]."""

KINDS = (("propeller", "o"), ("7-ft", "s"), ("Clark Y", "^"), ("9x6 inch", "D"))


def mark(place: int, pair: Pair) -> str:
    """Marker of a series: by what was measured."""
    return next((marker for begins, marker in KINDS if pair.series.startswith(begins)),
                MARKERS[place % len(MARKERS)])


def draw(pairs: Sequence[Pair]) -> Figure:
    """One panel; every value over the largest measured one of its series and quantity."""
    figure = new_figure(5.6, width=8.4)
    axes = place_axes(figure, left=0.6, bottom=0.5, right=RIGHT)
    series = list(dict.fromkeys(pair.series for pair in pairs))
    handles = []
    for pair in pairs:
        place = series.index(pair.series)
        largest = np.abs(pair.measured).max()
        dots, = axes.plot(pair.measured / largest, pair.predicted / largest, linestyle="none",
                          marker=mark(place, pair), markersize=4.0, markeredgewidth=0.9,
                          color=COLOURS[place % len(COLOURS)], label=pair.series,
                          markerfacecolor="none" if (place // len(COLOURS)) % 2 else None)
        if pair.series not in {one.get_label() for one in handles}:
            handles.append(dots)
    line = np.array([-0.8, 1.3])
    axes.plot(line, line, color="black", linewidth=1.0)
    for side in (-BAND, BAND):
        axes.plot(line, line + side, color=GREY, linewidth=0.7, linestyle=(0, (4, 3)))
    low = min(float(np.min(pair.measured / np.abs(pair.measured).max())) for pair in pairs)
    axes.set_xlim(low - 0.08, 1.08)
    axes.set_ylim(low - 0.15, 1.3)
    axes.set_xlabel("measured, over its largest value [-]")
    axes.set_title("predicted, over the largest measured value [-]")
    figure.legend(handles=handles, loc="center left", frameon=False, fontsize=7.5,
                  bbox_to_anchor=(1.0 - (RIGHT - 0.05) / 8.4, 0.52), alignment="left")
    return figure


def save(pairs: Sequence[Pair], folder: Path) -> None:
    """Write the figure as SVG and PNG."""
    with styled():
        figure = draw(pairs)
        figure.savefig(folder / "measured.svg", metadata={"Date": None})
        figure.savefig(folder / "measured.png", dpi=160)
