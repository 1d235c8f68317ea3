"""Predicted against measured for everything that was measured: a small panel for each family."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap

import numpy as np
from matplotlib.figure import Figure

from tests.credibility.facts import Family
from thrustlapse.report.figure_style import new_figure, place_axes, styled
from thrustlapse.report.looks import COLOURS, GREY

BAND = 0.10
"""Half width of the dashed band, as a share of the largest measured value."""

WIDTH, PANEL, ROOM = 8.4, 1.95, 0.72
"""Whole width, side of a panel, and room left of each and below it [inch]."""

ACROSS = 3

MOST_NAMED = 5
"""Series that a panel names; more would hide its points."""


def draw(families: Sequence[Family]) -> Figure:
    """Every value over the largest measured one of its series; a series is a colour."""
    deep = -(-len(families) // ACROSS)
    height = deep * (PANEL + ROOM + 0.25) + 0.1
    figure = new_figure(height, width=WIDTH)
    for place, family in enumerate(families):
        row, column = divmod(place, ACROSS)
        left = ROOM + column * (PANEL + ROOM)
        bottom = height - (row + 1) * (PANEL + ROOM + 0.25) + 0.36
        axes = place_axes(figure, left=left, bottom=bottom, right=WIDTH - left - PANEL)
        axes.set_position((left / WIDTH, bottom / height, PANEL / WIDTH, PANEL / height))
        low = high = 1.0
        for number, pair in enumerate(family.pairs):
            largest = np.abs(pair.measured).max()
            x, y = pair.measured / largest, pair.predicted / largest
            low, high = min(low, x.min(), y.min()), max(high, x.max(), y.max())
            axes.plot(x, y, linestyle="none", marker="o", markersize=2.2,
                      color=COLOURS[number % len(COLOURS)], label=pair.series.partition(",")[0])
        ends = np.array([low - 0.05, high + 0.05])
        axes.plot(ends, ends, color="black", linewidth=0.8)
        for side in (-BAND, BAND):
            axes.plot(ends, ends + side, color=GREY, linewidth=0.6, linestyle=(0, (4, 3)))
        axes.set_xlim(*ends)
        axes.set_ylim(*ends)
        axes.set_title("\n".join(wrap(f"{family.name}: {family.quantity}", 33)), fontsize=7)
        axes.tick_params(labelsize=7)
        if len(family.pairs) <= MOST_NAMED:
            axes.legend(loc="lower right", fontsize=5, handletextpad=0.1, borderpad=0.2,
                        labelspacing=0.2, frameon=False)
        axes.set_xlabel("measured [-]", fontsize=7)
        axes.set_ylabel("predicted [-]", fontsize=7)
    return figure


def save(families: Sequence[Family], folder: Path) -> None:
    """Write the figure as SVG and PNG."""
    with styled():
        figure = draw(families)
        figure.savefig(folder / "measured.svg", metadata={"Date": None})
        figure.savefig(folder / "measured.png", dpi=160)
