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


Rendered = tuple[Words, str, bytes]
"""Words of a figure, its SVG's text and its PNG's bytes."""


def save_figures(drawn: Iterable[Drawn], folder: Path) -> Saved:
    """Save all of them into a folder as SVG and PNG."""
    return write_figures(rendered(drawn), folder)


def rendered(drawn: Iterable[Drawn]) -> list[Rendered]:
    """All of them as files hold them.

    PNG files are packed in a thread, outside Python's lock, while the next figure is drawn.
    """
    with ThreadPoolExecutor(max_workers=1) as packing:
        waiting = []
        for one in drawn:
            svg, pixels = _render(one)
            words = Words(name=one.name, title=one.title, caption=one.caption, alt=one.alt)
            waiting.append((words, svg, packing.submit(_packed, one.alt, pixels)))
        return [(words, svg, png.result()) for words, svg, png in waiting]


def write_figures(figures: Iterable[Rendered], folder: Path) -> Saved:
    """Write their files into a folder."""
    saved = []
    for words, svg, png in figures:
        (folder / f"{words.name}.svg").write_text(svg, encoding="utf-8", newline="\n")
        (folder / f"{words.name}.png").write_bytes(png)
        saved.append((words, svg))
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


def _packed(alt: str, pixels: npt.NDArray[np.uint8]) -> bytes:
    words = PngInfo()
    words.add_itxt("Description", alt)
    file = io.BytesIO()
    Image.fromarray(pixels).convert("RGB").save(
        file, format="png", dpi=(PRINT_DOTS, PRINT_DOTS), pnginfo=words, compress_level=4)
    return file.getvalue()


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
