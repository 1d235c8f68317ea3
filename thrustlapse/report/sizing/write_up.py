"""A sizing study written up: page, figures and every number of it."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from thrustlapse.report.number_format import sentence
from thrustlapse.report.page_text import page_text
from thrustlapse.report.safety_text import LIMITS
from thrustlapse.report.saved_figures import Saved, save_figures
from thrustlapse.report.sizing.figures import draw_when
from thrustlapse.report.sizing.file import when_text
from thrustlapse.report.sizing.words import flip_table, headline, read_aloud, sentences, tables
from thrustlapse.report.write_up import write_up
from thrustlapse.study.sizing.domain import WhenResult

QUESTION = "when would the blower win?"


def write_when(result: WhenResult, folder: Path | str, *, scenario_text: str = "") -> Path:
    """Write page, figures and ``when.json``, all of it or none.

    Raises
    ------
    ReportError
        If the folder cannot be written.
    """
    return write_up(folder, draw=lambda figures: partial(save_figures, draw_when(result), figures),
                    page=lambda drawn: when_page(result, drawn, scenario_text=scenario_text),
                    files={"when.json": lambda: when_text(result)})


def when_page(result: WhenResult, drawn: Saved, *, scenario_text: str) -> str:
    """The page's text."""
    return page_text(
        "when.html", drawn, title=_title(result.title),
        result=result, headline=sentence(headline(result)), sentences=sentences(result),
        aloud=read_aloud(result), flips=flip_table(result) if result.flips else None,
        fastest=any(one.name == "fastest" for one, _ in drawn), tables=tables(result),
        limits=LIMITS, scenario_text=scenario_text)


def _title(title: str) -> str:
    """The question behind the scenario's title, where that does not ask it already."""
    asks = title.lower().startswith(QUESTION[:-1].lower())
    return f"{title.rstrip('?')}?" if asks else f"{title or 'A sizing study'}: {QUESTION}"
