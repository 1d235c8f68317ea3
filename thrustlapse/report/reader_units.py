"""A figure's axes in the reader's own units: km/h, gf and the like.

Only ticks, labels and words change; what is drawn stays in the units it was computed in.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import FixedFormatter, FuncFormatter, Locator, MaxNLocator

STAYS = ("rate of climb",)
"""Axes that keep their unit: nobody reads a climb in the unit of an airspeed."""


@dataclass(frozen=True, kw_only=True)
class Restated:
    """A unit on the axes of figures and the reader's in its place: ``factor`` of these make one.

    ``Restated(drawn="m/s", reader="km/h", factor=3.6)``; drawn are m/s, N, W, mm and cm².
    """

    drawn: str
    reader: str
    factor: float


def restate(figure: Figure, units: Sequence[Restated]) -> None:
    """Write a figure's axes, and the numbers in its words, in the reader's units."""
    for unit in units:
        below = ""  # a panel without words on its horizontal axis shares those of one below it
        for axes in reversed(figure.axes):
            below = axes.get_xlabel() or below
            for axis, label in ((axes.xaxis, below),
                                (axes.yaxis, axes.get_ylabel() or axes.get_title(loc="left"))):
                if f"[{unit.drawn}]" in label and not label.startswith(STAYS):
                    axis.set_major_locator(_Rounded(unit.factor))
                    axis.set_major_formatter(FuncFormatter(_scaled(unit.factor)))
        for axis in (axis for axes in figure.axes for axis in (axes.xaxis, axes.yaxis)):
            if isinstance(axis.get_major_formatter(), FixedFormatter):
                words = [text.get_text() for text in axis.get_ticklabels()]
                axis.set_ticklabels([_reworded(text, unit) for text in words])
        for text in figure.findobj(Text):
            assert isinstance(text, Text)
            text.set_text(_reworded(text.get_text(), unit))
    if units:
        _make_room(figure)


def _make_room(figure: Figure) -> None:
    """Move panels to the right where longer numbers push a label over the edge."""
    figure.draw_without_rendering()
    wide = figure.get_figwidth() * figure.dpi
    for axes in figure.axes:
        over = 2.0 - axes.yaxis.get_label().get_window_extent().x0
        if over > 0.0:
            place = axes.get_position()
            axes.set_position((place.x0 + over / wide, place.y0, place.width - over / wide,
                               place.height))


class _Rounded(Locator):
    """Ticks at round numbers of the reader's unit."""

    def __init__(self, factor: float) -> None:
        self.factor, self.inner = factor, MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10])

    def __call__(self) -> list[float]:
        assert self.axis is not None
        return self.tick_values(*self.axis.get_view_interval())

    def tick_values(self, vmin: float, vmax: float) -> list[float]:
        ticks = self.inner.tick_values(vmin * self.factor, vmax * self.factor)
        return [tick / self.factor for tick in ticks]


def _scaled(factor: float) -> Callable[[float, int | None], str]:
    return lambda value, _: f"{round(value * factor, 9):g}".replace("-", "\N{MINUS SIGN}")


def _reworded(text: str, unit: Restated) -> str:
    if text.startswith(STAYS):
        return text
    # a rate of climb and the airspeed of it stand in one label
    climb = re.fullmatch(rf"(.* {re.escape(unit.drawn)} at )(.*)", text)
    if climb is not None:
        return climb[1] + _reworded(climb[2], unit)
    text = text.replace(f"[{unit.drawn}]", f"[{unit.reader}]")

    def number(found: re.Match[str]) -> str:
        decimals = len(found[1].partition(".")[2]) - math.floor(math.log10(unit.factor))
        value = round(float(found[1]) * unit.factor, decimals)
        return f"{value:.{max(decimals, 0)}f} {unit.reader}"

    return re.sub(rf"(\d+(?:\.\d+)?) {re.escape(unit.drawn)}(?![\w²/])", number, text)
