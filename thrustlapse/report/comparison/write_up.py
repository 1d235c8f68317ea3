"""The write-up: a folder with one self-contained page, the results, the curves and the figures."""

from __future__ import annotations

from pathlib import Path

from thrustlapse.report.comparison.results_file import write_curves, write_results
from thrustlapse.report.flight.file import write_flights
from thrustlapse.report.staging import ReportError, staged, write_file
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.live_table import LiveTable

__all__ = ["ReportError", "write_report"]


def write_report(comparison: Comparison, folder: Path | str, *, scenario_text: str = "",
                 live: LiveTable | None = None) -> Path:
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

    Returns
    -------
    Path
        The page, ``folder/index.html``.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier report is then as it was.
    """
    folder = Path(folder)
    with staged(folder) as new:
        # figures and page only now: an output folder that cannot be written fails at once
        from thrustlapse.report.comparison.figures import draw_figures, save_figures
        from thrustlapse.report.comparison.page import page

        figures = new / "figures"
        figures.mkdir()
        drawn = save_figures(draw_figures(comparison), figures)
        write_results(comparison, new / "results.json")
        write_curves(comparison, new / "curves.csv")
        write_flights(comparison, new / "flights.csv")
        write_file(new / "index.html", page(comparison, drawn, scenario_text=scenario_text,
                                            live=live))
    return folder / "index.html"
