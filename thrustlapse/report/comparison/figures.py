"""All figures of a comparison: drawn, captioned and described in words.

    begun_figures(comparison, folder)()
    figure(comparison, "thrust").savefig("thrust.pdf")

A figure needs nothing but the comparison. Words and numbers are in ``captions.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

from matplotlib.figure import Figure

from thrustlapse.report.comparison.captions import PLOTS, alt_text, caption
from thrustlapse.report.figure_style import SIZES, sized
from thrustlapse.report.reader_units import Restated, restate
from thrustlapse.report.saved_figures import Drawn, Rendered, Saved, rendered, write_figures
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.helper import begun


def figure(comparison: Comparison, name: str = "thrust", *, size: str = "page",
           units: Sequence[Restated] = ()) -> Figure:
    """One figure of a comparison, to show or to save: ``figure(answer, "lapse").savefig(path)``.

    Parameters
    ----------
    comparison : Comparison
    name : str
        One of :data:`~thrustlapse.report.comparison.captions.PLOTS`
    size : str
        "column" (of a journal, 86 mm), "page" (165 mm) or "slide"
    units : sequence of Restated
        Units of the reader's for the axes

    Raises
    ------
    ValueError
        For a name that is no figure, a size that is none, or a figure the comparison has no data
        for.
    """
    if name not in PLOTS:
        raise ValueError(f"no figure is called {name!r}; there are {', '.join(PLOTS)}")
    if size not in SIZES:
        raise ValueError(f"no size is called {size!r}; there are {', '.join(SIZES)}")
    with sized(size):
        made = PLOTS[name].draw(comparison)
    if made is None:
        raise ValueError(f"this comparison has nothing to draw for {name!r}")
    restate(made, units)
    return made


TOGETHER = 2
"""Figures that are handed out together: the comparison goes with them each time."""


def begun_figures(comparison: Comparison, folder: Path,
                  helper: Executor | None = None) -> Callable[[], Saved]:
    """Every figure the comparison has data for, saved, that a helper begins with."""
    names = tuple(PLOTS)
    parts = begun(helper, [partial(_render_some, comparison, names[place:place + TOGETHER])
                           for place in range(0, len(names), TOGETHER)])
    return lambda: write_figures([one for part in parts() for one in part], folder)


def _render_some(comparison: Comparison, names: Sequence[str]) -> list[Rendered]:
    return rendered(draw_figures(comparison, names))


def draw_figures(comparison: Comparison, names: Sequence[str] = tuple(PLOTS)) -> list[Drawn]:
    """Those of the figures, or all, that the comparison has data for."""
    drawn = []
    for name in names:
        plot = PLOTS[name]
        figure = plot.draw(comparison)
        if figure is not None:
            drawn.append(Drawn(name=name, title=plot.title, figure=figure,
                               caption=caption(comparison, name),
                               alt=alt_text(comparison, name)))
    return drawn
