"""The write-ups of a machine's evidence and of the next experiment: page, figure, numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from thrustlapse.report.evidence.figures import draw_history, draw_next
from thrustlapse.report.evidence.words import (
    cautions_of,
    digest_table,
    disagreement_sentences,
    history_headline,
    history_table,
    next_headline,
    next_sentences,
    next_table,
)
from thrustlapse.report.page_text import page_text
from thrustlapse.report.records import json_text
from thrustlapse.report.saved_figures import Saved, save_figures, svg_text
from thrustlapse.report.write_up import write_up
from thrustlapse.study.evidence import Disagreement, Step
from thrustlapse.study.next_experiment import NextExperiments


@dataclass(frozen=True, kw_only=True)
class Origin:
    """The scenario a write-up comes from."""

    title: str
    invented: bool
    digest: str
    version: str


def write_history(name: str, steps: Sequence[Step], against: Sequence[Disagreement], *,
                  origin: Origin, folder: Path) -> Path:
    """Write what each piece of evidence changed; returns the page.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier write-up is then as it was.
    """
    return write_up(
        folder, draw=lambda figures: partial(save_figures, draw_history(steps), figures),
        files={"history.json": lambda: json_text(history_record(name, steps, against))},
        page=lambda drawn: _history_page(name, steps, against, origin=origin, drawn=drawn,
                                         links=True))


def history_page(name: str, steps: Sequence[Step], against: Sequence[Disagreement], *,
                 origin: Origin) -> str:
    """The same page alone, in no folder."""
    drawn = [(one, svg_text(one)) for one in draw_history(steps)]
    return _history_page(name, steps, against, origin=origin, drawn=drawn, links=False)


def _history_page(name: str, steps: Sequence[Step], against: Sequence[Disagreement], *,
                  origin: Origin, drawn: Saved, links: bool) -> str:
    return page_text(
        "evidence.html", drawn, title=f"Evidence of {name}: {origin.title}", origin=origin,
        question=f"What is known of {name}, and what did each piece of evidence change?",
        headline=history_headline(steps), sentences=disagreement_sentences(against),
        chart_name="history", tables=[history_table(steps), digest_table(steps)],
        beware=[], file="history.json", method=OF_HISTORY, links=links)


OF_HISTORY = (
    "All pieces are fitted together, each used once, with what is assumed of the machine, how its "
    "map may differ from the description and the gains of the instruments as unknowns with their "
    "spreads. The order in which they came plays no part, and a piece that is taken away leaves no "
    "trace. Whether a piece agrees with the rest follows from its residuals in that fit, corrected "
    "for its own pull on it.")

OF_NEXT = ("An experiment is expected to narrow the margin by what its readings, with the usual "
           "errors of the instruments, say of the unknowns that the margin hangs on; all of it "
           "linear about what is known now, and normal. From that follows how far the margin may "
           "move, and the chance that it then lies far enough from zero. It does not count a wrong "
           "description: another wheel, a leak, something that rubs.")


def history_record(name: str, steps: Sequence[Step],
                   against: Sequence[Disagreement]) -> dict[str, Any]:
    """Every number of a history."""
    last = steps[-1].answer
    return {
        "candidate": name, "answer": last.words, "unit": last.unit,
        "headline": history_headline(steps), "disagreements": _disagreements(against),
        "steps": [{"piece": None if one.piece is None else {
            "kind": one.piece.kind, "name": one.piece.name, "date": one.piece.date,
            "digest": one.piece.digest, "readings": len(one.piece.readings)},
            "value": one.answer.value, "deviation": one.answer.deviation,
            "without": None if one.without is None else {
                "value": one.without.value, "deviation": one.without.deviation}}
            for one in steps]}


def _disagreements(against: Sequence[Disagreement]) -> list[dict[str, Any]]:
    return [{"name": one.name, "kind": one.kind, "probability": one.probability,
             "cause": one.cause} for one in against]


def write_next(found: NextExperiments, *, origin: Origin, folder: Path) -> Path:
    """Write what to do next; returns the page.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier write-up is then as it was.
    """
    return write_up(
        folder, draw=lambda figures: partial(save_figures, draw_next(found), figures),
        files={"next.json": lambda: json_text(next_record(found))},
        page=lambda drawn: page_text(
            "evidence.html", drawn, title=f"What to measure next: {origin.title}", origin=origin,
            question="Which experiment would settle it?", headline=next_headline(found),
            sentences=next_sentences(found), chart_name="experiments" if drawn else "",
            tables=[next_table(found)], beware=cautions_of(found), file="next.json",
            method=OF_NEXT))


def next_record(found: NextExperiments) -> dict[str, Any]:
    """Every number of a ranking."""
    return {
        "candidate": found.candidate, "question": found.question, "chance_now": found.chance_now,
        "margin": found.margin, "deviation": found.deviation, "unit": found.unit,
        "settled": found.settled, "headline": next_headline(found),
        "disagreements": _disagreements(found.against),
        "all_together_chance_settled": found.all_together,
        "experiments": [{
            "name": one.name, "state": one.state, "read": one.read,
            "expected_chance_settled": one.expected_chance_settled, "deviation": one.deviation,
            "minutes": one.minutes, "caution": one.caution} for one in found.experiments]}
