"""A write-up: a folder with a page, its figures and files of numbers, all of it or none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from thrustlapse.report.atomic_write import staged, write_file

if TYPE_CHECKING:
    from thrustlapse.report.saved_figures import Saved


def write_up(folder: Path | str, *, draw: Callable[[Path], Callable[[], Saved]],
             page: Callable[[Saved], str],
             files: Mapping[str, Callable[[], str]]) -> Path:
    """Write figures, ``index.html`` and the files; returns the page.

    Parameters
    ----------
    folder : path
        Made if it does not exist; an earlier write-up in it is replaced, other files stay
    draw, page : callable
        Begins with the figures in a folder, and gives what saves them all; makes the page of their
        words and SVG texts. Neither is called in a folder that cannot be written
    files : mapping
        Texts of the other files by name

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier write-up is then as it was.
    """
    folder = Path(folder)
    with staged(folder) as new:
        figures = new / "figures"
        figures.mkdir()
        saved = draw(figures)
        for name, text in files.items():
            write_file(new / name, text())
        write_file(new / "index.html", page(saved()))
    return folder / "index.html"
