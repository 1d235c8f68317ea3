"""Figures for a paper or a talk: at the width of a column, a page or a slide, in three formats.

    save_for_print(comparison, ["thrust"], folder, size="column")
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import matplotlib
from matplotlib.figure import Figure

from thrustlapse.report.atomic_write import staged
from thrustlapse.report.comparison.captions import PLOTS
from thrustlapse.report.comparison.figures import figure
from thrustlapse.report.figure_style import SIZES, styled
from thrustlapse.report.reader_units import Restated
from thrustlapse.study.comparison import Comparison

ALL = "all"

PAPER_DOTS = 400
"""Resolution of PNG files made for a paper [dots per inch]."""

SLIDE = 11.0
"""Width of a figure on a slide [inch]."""


def save_for_print(comparison: Comparison, names: Sequence[str], folder: Path, *,
                   size: str = "page", units: Sequence[Restated] = ()) -> list[Path]:
    """Save figures for a paper or talk: SVG and PDF with real letters, PNG; returns the files.

    Parameters and errors are those of :func:`figure`; ReportError where the folder cannot be
    written. Of "all", those the comparison has data for. A slide is a page's figure enlarged: its
    SVG and PNG are 11 inches wide, and a PDF may be enlarged by whoever places it.
    """
    wanted = known_names(names)
    if ALL in names:
        wanted = [name for name in wanted if PLOTS[name].draw(comparison) is not None]
    with staged(folder) as new:
        files = [file for name in wanted
                 for file in _save(figure(comparison, name, size=size, units=units), name, new,
                                   SLIDE / SIZES[size] if size == "slide" else 1.0)]
    return [folder / file.name for file in files]


def known_names(names: Sequence[str]) -> list[str]:
    """The figures asked for, each once; raises ValueError for a name that is none."""
    unknown = [name for name in names if name not in PLOTS and name != ALL]
    if unknown:
        raise ValueError(f"no figure is called {', '.join(map(repr, unknown))}; there are "
                         f"{', '.join(PLOTS)}, and {ALL}")
    return list(PLOTS if ALL in names else dict.fromkeys(names))


def _save(made: Figure, name: str, folder: Path, enlarged: float) -> list[Path]:
    files = [folder / f"{name}.{kind}" for kind in ("svg", "pdf", "png")]
    title, nothing = {"Title": PLOTS[name].title}, {"Creator": None}
    with styled(), matplotlib.rc_context({"svg.fonttype": "none", "pdf.fonttype": 42}):
        made.savefig(files[0], metadata=title | nothing | {"Date": None})
        made.savefig(files[1], metadata=title | nothing | {"CreationDate": None, "Producer": None})
        made.savefig(files[2], dpi=PAPER_DOTS * enlarged, metadata=title | {"Software": None})
    if enlarged != 1.0:
        _enlarge(files[0], enlarged)
    return files


def _enlarge(file: Path, factor: float) -> None:
    """Make a drawing larger as it is: its view box stays."""
    text = re.sub(r'(?<= )(width|height)="([\d.]+)pt"', lambda found:
                  f'{found[1]}="{float(found[2]) * factor:.6g}pt"',
                  file.read_text(encoding="utf-8"), count=2)
    file.write_text(text, encoding="utf-8", newline="\n")
