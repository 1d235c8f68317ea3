"""How every figure looks: colours, lines, sizes, and names beside samples of their lines.

Colours are those of Okabe and Ito, told apart by people of every colour vision; each candidate also
has its own dash and marker, so that a grey print still reads.
"""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from thrustlapse.arrays import Array, BoolArray

COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES: tuple[Any, ...] = ("solid", (0, (7, 2)), (0, (3, 1.5)), (0, (8, 2, 1.5, 2)),
                           (0, (1.2, 1.2)), (0, (8, 2, 1.5, 2, 1.5, 2)), (0, (12, 3)))
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
GREY = "#5c5c5c"
PALE = "#c9c9c9"

WIDTH = 6.5
"""Width of every figure [inch]: the text of a printed page; on a phone the letters still read."""

SMALL = 3.0
"""Width below which axes carry fewer ticks [inch]."""

STRIP_TOP = 0.04
STRIP_ROW = 0.19
"""Margin above the strip of names, and height of one of its rows [inch]."""

SETTINGS = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0, "axes.titlesize": 10.0, "axes.titleweight": "bold",
    "axes.titlelocation": "left", "axes.titley": 1.0, "axes.labelsize": 9.0, "xtick.labelsize": 8.5,
    "ytick.labelsize": 8.5, "axes.spines.top": False, "axes.spines.right": False,
    "axes.grid": True, "grid.color": "#e4e4e4", "grid.linewidth": 0.7, "axes.axisbelow": True,
    "axes.edgecolor": GREY, "xtick.color": "#333333", "ytick.color": "#333333",
    "lines.linewidth": 1.8, "lines.markersize": 4.5, "axes.unicode_minus": True,
    "text.parse_math": False, "svg.fonttype": "path",
    "svg.hashsalt": "thrustlapse", "path.simplify_threshold": 0.2,
}
"""Letters are saved as paths: labels are placed by measured widths, which a reader's own font would
shift. The words of a figure are in its alternative text and in the tables beside it."""


@dataclass(frozen=True, kw_only=True)
class Look:
    """Colour, dash and marker of one candidate, the same in every figure."""

    colour: str
    dash: Any
    marker: str


def looks(names: Iterable[str]) -> dict[str, Look]:
    """A look for each candidate, in their order; no two alike before 343 of them."""
    kinds = len(COLOURS)
    return {name: Look(colour=COLOURS[place % kinds],
                       dash=DASHES[(place + place // kinds) % len(DASHES)],
                       marker=MARKERS[(place + place // kinds**2) % len(MARKERS)])
            for place, name in enumerate(names)}


def new_figure(height: float, *, width: float = WIDTH) -> Figure:
    """An empty figure [inch] with the house's settings, on no global state."""
    figure = Figure(figsize=(width, height), facecolor="white")
    FigureCanvasAgg(figure)
    return figure


@contextmanager
def styled() -> Iterator[None]:
    """Context within which figures are drawn and saved.

    A letter of a person's text that the font lacks is drawn as a box, which is nothing to warn of.
    """
    with (matplotlib.rc_context(SETTINGS),  # type: ignore[arg-type]
          warnings.catch_warnings()):
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def place_axes(figure: Figure, *, left: float, bottom: float, right: float = 0.15,
               top: float = 0.35) -> Axes:
    """Axes with margins in inches, so that nothing moves when a figure is saved."""
    wide, high = figure.get_size_inches()
    axes = figure.add_axes((left / wide, bottom / high, 1.0 - (left + right) / wide,
                            1.0 - (bottom + top) / high))
    if wide - left - right < SMALL:
        axes.locator_params(nbins=5)
    return axes


def draw_curve(axes: Axes, x: Array, y: Array, look: Look, *, width: float = 1.8,
               alpha: float = 1.0, marked: bool = True, ends: bool = True) -> None:
    """A candidate's curve; NaN leaves a gap, and a cross (``ends``) marks where values end.

    A single point is drawn by its marker alone.
    """
    known = np.isfinite(y)
    every = max(1, x.size // 9)
    lone = known & ~_beside(known)
    axes.plot(x, y, color=look.colour, linestyle=look.dash, linewidth=width, alpha=alpha,
              marker=look.marker if marked else None, markevery=every, markerfacecolor="white",
              markeredgewidth=1.1, markersize=4.5, solid_capstyle="butt")
    if lone.any():
        axes.plot(x[lone], y[lone], color=look.colour, linestyle="none", marker=look.marker,
                  alpha=alpha)
    edges = ends_inside(y)
    if ends and edges.any():
        axes.plot(x[edges], y[edges], color=look.colour, linestyle="none", marker="x",
                  markersize=6.5, markeredgewidth=1.6, alpha=alpha)


def ends_inside(values: Array) -> BoolArray:
    """Elements that have a value beside an element that has none."""
    known = np.isfinite(values)
    gap = np.zeros(known.shape, dtype=bool)
    gap[:-1] |= ~known[1:]
    gap[1:] |= ~known[:-1]
    return known & gap


def _beside(known: BoolArray) -> BoolArray:
    near = np.zeros(known.shape, dtype=bool)
    near[:-1] |= known[1:]
    near[1:] |= known[:-1]
    return near


def span(first: float, last: float) -> tuple[float, float]:
    """Limits of an airspeed axis: from zero unless the range begins far from it."""
    if last <= first:
        return first - 1.0, first + 1.0
    return (0.0 if first < 0.3 * last else first), last


def strip_height(names: Iterable[str]) -> float:
    """Height of :func:`name_strip` [inch]."""
    names = list(names)
    return STRIP_TOP + STRIP_ROW * (1 + (len(names) - 1) // _per_row(names))


def name_strip(figure: Figure, names: Sequence[str]) -> float:
    """Names beside samples of their lines across the top of a figure; returns its height [inch]."""
    wide, high = figure.get_size_inches()
    per_row = _per_row(names)
    step = (wide - 0.7) / per_row
    for place, (name, look) in enumerate(looks(names).items()):
        row, column = divmod(place, per_row)
        x, y = 0.62 + column * step, high - STRIP_TOP - STRIP_ROW * (row + 0.6)
        figure.add_artist(_sample(x / wide, (x + 0.34) / wide, y / high, look))
        figure.text((x + 0.41) / wide, y / high, shortened(name), color=look.colour, va="center",
                    ha="left", fontsize=8.5)
    return strip_height(names)


def _per_row(names: Sequence[str]) -> int:
    longest = max(map(len, names))
    return 3 if longest <= 18 else 2 if longest <= 34 else 1


def _sample(start: float, stop: float, y: float, look: Look) -> Any:
    from matplotlib.lines import Line2D

    return Line2D([start, 0.5 * (start + stop), stop], [y, y, y], color=look.colour,
                  linestyle=look.dash, linewidth=1.8, marker=look.marker, markevery=[1],
                  markerfacecolor="white", markersize=4.5)


MOST_LETTERS = 60
"""Letters of a name that fit across a figure; the page's tables have it whole."""


def shortened(text: str, most: int = MOST_LETTERS) -> str:
    """A name that fits; what goes is its middle, since names of a kind differ at their ends."""
    if len(text) <= most:
        return text
    front = (most - 1) // 2
    return f"{text[:front].rstrip()}…{text[len(text) - (most - 1 - front):].lstrip()}"


def folded(text: str, width: int = 24, lines: int = 3) -> str:
    """A long name on several lines."""
    if len(text) <= width:
        return text
    # words that do not fill their lines may cost half a line
    fits = shortened(text, int((lines - 0.5) * width))
    return "\n".join(textwrap.wrap(fits, width, max_lines=lines, placeholder=" …"))
