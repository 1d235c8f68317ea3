"""Figures with their words, and their files."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from thrustlapse.report.figure_style import styled

PRINT_DOTS = 200
"""Resolution of the PNG files [dots per inch]: 1300 dots across the figure."""


@dataclass(frozen=True, kw_only=True)
class Words:
    """What goes with a figure."""

    name: str
    title: str
    caption: str
    alt: str


@dataclass(frozen=True, kw_only=True)
class Drawn(Words):
    """One figure with its words."""

    figure: Figure


Saved = Sequence[tuple[Words, str]]
"""Words of figures that are saved, each with its SVG's text."""


def save_figures(drawn: Iterable[Drawn], folder: Path) -> Saved:
    """Save all of them into a folder as SVG and PNG.

    PNG files are packed in a thread, outside Python's lock, while the next figure is drawn.
    """
    with ThreadPoolExecutor(max_workers=1) as packing:
        saved, waiting = [], []
        for one in drawn:
            svg, pixels = _render(one)
            waiting.append(packing.submit(_write, one, folder, svg, pixels))
            saved.append((Words(name=one.name, title=one.title, caption=one.caption,
                                alt=one.alt), svg))
        for file in waiting:
            file.result()
    return saved


def _render(drawn: Drawn) -> tuple[str, npt.NDArray[np.uint8]]:
    with styled():
        return svg_text(drawn), _pixels(drawn.figure)


def svg_text(drawn: Drawn) -> str:
    """A figure as SVG, its letters as outlines, its words as what it describes."""
    text = io.StringIO()
    with styled():
        drawn.figure.savefig(text, format="svg",
                             metadata={"Date": None, "Creator": None, "Title": drawn.title,
                                       "Description": drawn.alt})
    return text.getvalue()


def _write(drawn: Drawn, folder: Path, svg: str, pixels: npt.NDArray[np.uint8]) -> None:
    (folder / f"{drawn.name}.svg").write_text(svg, encoding="utf-8", newline="\n")
    words = PngInfo()
    words.add_itxt("Description", drawn.alt)
    Image.fromarray(pixels).convert("RGB").save(
        folder / f"{drawn.name}.png", dpi=(PRINT_DOTS, PRINT_DOTS), pnginfo=words,
        compress_level=4)


def _pixels(figure: Figure) -> npt.NDArray[np.uint8]:
    """The figure in print resolution: rows, columns, red green blue and no transparency."""
    screen = figure.dpi
    try:
        figure.set_dpi(PRINT_DOTS)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()  # type: ignore[no-untyped-call]
        return np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    finally:
        figure.set_dpi(screen)
