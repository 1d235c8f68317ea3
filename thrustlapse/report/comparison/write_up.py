"""The write-up: a folder with one self-contained page, the results, the curves and the figures."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING

from thrustlapse.report.atomic_write import ReportError
from thrustlapse.report.comparison.results_file import curves_text, results_text
from thrustlapse.report.flight.file import flights_text
from thrustlapse.report.write_up import write_up
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.live_table import LiveTable

if TYPE_CHECKING:
    from thrustlapse.report.saved_figures import Saved

__all__ = ["ReportError", "write_report"]


def write_report(comparison: Comparison, folder: Path | str, *, scenario_text: str = "",
                 live: LiveTable | None = None, helper: Executor | None = None) -> Path:
    """Write the whole report into a folder, all of it or none.

    Parameters
    ----------
    comparison : Comparison
    folder : path
        Made if it does not exist; an earlier report in it is replaced, other files stay
    scenario_text : str
        Source of the scenario, shown at the end of the page
    live : LiveTable, optional
        What the reader may move on the page, from ``live_table``; nothing moves without it
    helper : Executor, optional
        A process beside this one that draws its share of the figures

    Returns
    -------
    Path
        The page, ``folder/index.html``.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier report is then as it was.
    """
    def draw(figures: Path) -> Callable[[], Saved]:
        from thrustlapse.report.comparison.figures import begun_figures

        return begun_figures(comparison, figures, helper)

    def text(drawn: Saved) -> str:
        from thrustlapse.report.comparison.page import page

        return page(comparison, drawn, scenario_text=scenario_text, live=live)

    flights = comparison.flights
    return write_up(folder, draw=draw, page=text, files={
        "results.json": lambda: results_text(comparison),
        "curves.csv": lambda: curves_text(comparison),
        **({} if flights is None else {"flights.csv": lambda: flights_text(flights)})})
