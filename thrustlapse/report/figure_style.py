"""How every figure is made: sizes, letters, axes, curves, and names beside samples of lines."""

from __future__ import annotations

import textwrap
import warnings
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.report.looks import GREY, Look

PALE = "#c9c9c9"

WIDTH = 6.5
"""Width of a figure [inch]: the text of a printed page; on a phone the letters still read."""

SIZES = {"column": 3.4, "page": WIDTH, "slide": WIDTH}
"""Widths at which figures are laid out [inch]: one column of a journal, the text of a page, and a
slide, which has a page's figure enlarged. No text of a figure is below 7 pt at these widths."""

NARROW = 5.0
"""Width below which panels stand below each other rather than side by side [inch]."""

_size: ContextVar[str] = ContextVar("size", default="page")


@contextmanager
def sized(size: str) -> Iterator[None]:
    """Context within which figures are laid out for one of :data:`SIZES`."""
    token = _size.set(size)
    try:
        yield
    finally:
        _size.reset(token)


def figure_width() -> float:
    """Width for which figures are being laid out [inch]."""
    return SIZES[_size.get()]


def panel_height(height: float) -> float:
    """Height of a figure of one panel [inch], given what it has at the width of a page."""
    return height - 0.35 * (WIDTH - figure_width())


def narrow() -> bool:
    """Whether panels and remarks stand below each other."""
    return figure_width() < NARROW


def abreast(panels: int) -> int:
    """How many panels stand side by side, of those that do on a page."""
    return 1 if narrow() else panels


def heading_room() -> float:
    """Height above a panel that has a title and a remark [inch]."""
    return 0.6 if narrow() else 0.42


def title_with_remark(axes: Axes, title: str, remark: str) -> None:
    """A title, and a remark at its other end, or below it where the figure is narrow."""
    small: dict[str, Any] = {"fontsize": 7.5, "color": GREY}
    if narrow():
        axes.set_title(title, pad=18.0)
        axes.annotate(remark, (0.0, 1.0), (0.0, 6.0), xycoords="axes fraction",
                      textcoords="offset points", **small)
    else:
        axes.set_title(title)
        axes.set_title(remark, loc="right", fontweight="normal", **small)


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


def new_figure(height: float, *, width: float | None = None) -> Figure:
    """An empty figure [inch] with the house's settings, on no global state."""
    figure = Figure(figsize=(width or figure_width(), height), facecolor="white")
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


def name_strip(figure: Figure, shown: Mapping[str, Look]) -> float:
    """Names beside samples of their lines across the top of a figure; returns its height [inch]."""
    wide, high = figure.get_size_inches()
    per_row = _per_row(shown)
    step = (wide - 0.7) / per_row
    for place, (name, look) in enumerate(shown.items()):
        row, column = divmod(place, per_row)
        x, y = 0.62 + column * step, high - STRIP_TOP - STRIP_ROW * (row + 0.6)
        figure.add_artist(_sample(x / wide, (x + 0.34) / wide, y / high, look))
        figure.text((x + 0.41) / wide, y / high, shortened(name), color=look.colour, va="center",
                    ha="left", fontsize=8.5)
    return strip_height(shown)


def _per_row(names: Iterable[str]) -> int:
    needed = 0.41 + LETTER * max(map(len, names))
    return next((count for count in (3, 2) if needed < (figure_width() - 0.7) / count), 1)


def _sample(start: float, stop: float, y: float, look: Look) -> Any:
    from matplotlib.lines import Line2D

    return Line2D([start, 0.5 * (start + stop), stop], [y, y, y], color=look.colour,
                  linestyle=look.dash, linewidth=1.8, marker=look.marker, markevery=[1],
                  markerfacecolor="white", markersize=4.5)


LETTER = 0.0835
"""Width that a letter of a name needs [inch]."""


def most_letters() -> int:
    """Letters of a name that fit across a figure; the page's tables have it whole."""
    return int((figure_width() - 1.0) / (1.1 * LETTER))


def shortened(text: str, most: int | None = None) -> str:
    """A name that fits; what goes is its middle, since names of a kind differ at their ends."""
    most = most or most_letters()
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
