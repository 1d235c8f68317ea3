"""All figures of a comparison: drawn, captioned, described in words, and saved.

    save_figures(draw_figures(comparison), folder)
    figure(comparison, "thrust").savefig("thrust.pdf")

A figure needs nothing but the comparison. Words and numbers are in ``captions.py``.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from thrustlapse.report.comparison.captions import PLOTS, alt_text, caption
from thrustlapse.report.figure_style import SIZES, sized, styled
from thrustlapse.report.reader_units import Restated, restate
from thrustlapse.study.comparison import Comparison

PRINT_DOTS = 200
"""Resolution of the PNG files [dots per inch]: 1300 dots across the figure."""


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One figure with its words."""

    name: str
    title: str
    figure: Figure
    caption: str
    alt: str


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


def draw_figures(comparison: Comparison) -> list[Drawn]:
    """Every figure the comparison has data for."""
    drawn = []
    for name, plot in PLOTS.items():
        figure = plot.draw(comparison)
        if figure is not None:
            drawn.append(Drawn(name=name, title=plot.title, figure=figure,
                               caption=caption(comparison, name),
                               alt=alt_text(comparison, name)))
    return drawn


def save_figures(drawn: list[Drawn], folder: Path) -> list[tuple[Drawn, str]]:
    """Save all of them into a folder as SVG and PNG; each comes back with its SVG's text.

    PNG files are packed in a thread, outside Python's lock, while the next figure is drawn.
    """
    with ThreadPoolExecutor(max_workers=1) as packing:
        saved, waiting = [], []
        for one in drawn:
            svg, pixels = _render(one)
            waiting.append(packing.submit(_write, one, folder, svg, pixels))
            saved.append((one, svg))
        for file in waiting:
            file.result()
    return saved


def save_figure(drawn: Drawn, folder: Path) -> str:
    """Save as ``<name>.svg`` and ``<name>.png`` in a folder; returns the SVG's text.

    The same data gives the same bytes: no date, no version, no random identifiers.
    """
    svg, pixels = _render(drawn)
    _write(drawn, folder, svg, pixels)
    return svg


def _render(drawn: Drawn) -> tuple[str, npt.NDArray[np.uint8]]:
    with styled():
        text = io.StringIO()
        drawn.figure.savefig(text, format="svg",
                             metadata={"Date": None, "Creator": None, "Title": drawn.title,
                                       "Description": drawn.alt})
        return text.getvalue(), _pixels(drawn.figure)


def _write(drawn: Drawn, folder: Path, svg: str, pixels: npt.NDArray[np.uint8]) -> None:
    (folder / f"{drawn.name}.svg").write_text(svg, encoding="utf-8", newline="\n")
    words = PngInfo()
    words.add_itxt("Description", drawn.alt)
    Image.fromarray(pixels).save(folder / f"{drawn.name}.png", dpi=(PRINT_DOTS, PRINT_DOTS),
                                 pnginfo=words, compress_level=4)


def _pixels(figure: Figure) -> npt.NDArray[np.uint8]:
    """The figure in print resolution: rows, columns, red green blue."""
    screen = figure.dpi
    try:
        figure.set_dpi(PRINT_DOTS)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        shades = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
        return np.ascontiguousarray(shades[:, :, :3])
    finally:
        figure.set_dpi(screen)
