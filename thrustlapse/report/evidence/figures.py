"""A band that narrows piece by piece, and what each experiment is expected to do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from thrustlapse.report.evidence.words import DESCRIBED, chance_text
from thrustlapse.report.figure_style import new_figure, place_axes, styled
from thrustlapse.report.looks import COLOURS, GREY
from thrustlapse.report.number_format import percent
from thrustlapse.report.saved_figures import Drawn
from thrustlapse.study.evidence import Step
from thrustlapse.study.next_experiment import SETTLED, NextExperiments

LONGEST = 30
"""Letters of a piece's name in a figure."""

ROW = 0.3
"""Height of a row [inch]."""


def draw_history(steps: Sequence[Step]) -> list[Drawn]:
    """The answer after each piece."""
    last = steps[-1].answer
    with styled():
        return [Drawn(
            name="history", title=f"What each piece of evidence did to the {last.words}",
            figure=_history(steps), caption="From above: the answer by the description alone, then "
            "with each piece counted too. Thick: one standard deviation to either side; thin: two. "
            "Grey, below: one deviation of all other pieces together, without this one. All that "
            "is not known is in it.",
            alt="; ".join(f"{_name(one)}: {one.answer.value:.4g} ± {one.answer.deviation:.2g} "
                          f"{one.answer.unit}" for one in steps) + ".")]


def _name(step: Step) -> str:
    name = DESCRIBED if step.piece is None else f"+ {step.piece.name}"
    return name if len(name) <= LONGEST else f"{name[:LONGEST - 1]}…"


def _history(steps: Sequence[Step]) -> Figure:
    figure = new_figure(1.0 + ROW * len(steps))
    axes = place_axes(figure, left=2.1, bottom=0.5, top=0.3)
    value = np.array([one.answer.value for one in steps])
    deviation = np.array([one.answer.deviation for one in steps])
    rows = np.arange(len(steps))
    axes.axvline(value[-1], color=GREY, linewidth=0.6)
    axes.hlines(rows, value - 2.0 * deviation, value + 2.0 * deviation, color=COLOURS[1],
                linewidth=1.2)
    axes.hlines(rows, value - deviation, value + deviation, color=COLOURS[1], linewidth=5.0)
    for row, one in enumerate(steps):
        if one.without is not None:
            low, high = (one.without.value + side * one.without.deviation for side in (-1.0, 1.0))
            axes.hlines(row + 0.27, low, high, color=GREY, linewidth=1.2)
    axes.plot(value, rows, linestyle="none", marker="o", markersize=4.0, color="#ffffff",
              markeredgecolor=COLOURS[1])
    axes.set_yticks(rows, [_name(one) for one in steps])
    axes.set_ylim(len(steps) - 0.4, -0.6)
    axes.set_title(f"What each piece of evidence did to the {steps[-1].answer.words}")
    axes.set_xlabel(f"{steps[-1].answer.words} [{steps[-1].answer.unit}]")
    return figure


def draw_next(found: NextExperiments) -> list[Drawn]:
    """What each experiment is expected to do; nothing where none is possible."""
    if not found.experiments:
        return []
    with styled():
        return [Drawn(
            name="experiments", title="Chance that an experiment settles the verdict",
            figure=_experiments(found), caption="Bars: the chance that the verdict is settled "
            f"(answer sure by {percent(SETTLED)}) once the experiment is made. Behind them the "
            "minutes it takes.",
            alt="; ".join(f"{one.name}: {chance_text(one.expected_chance_settled)}, "
                          f"{one.minutes:.0f} minutes" for one in found.experiments) + ".")]


def _experiments(found: NextExperiments) -> Figure:
    made = found.experiments
    figure = new_figure(1.0 + ROW * len(made))
    axes = place_axes(figure, left=2.1, bottom=0.5, top=0.3)
    rows = np.arange(len(made))
    chance = 100.0 * np.array([one.expected_chance_settled for one in made])
    axes.barh(rows, chance, height=0.62, color=COLOURS[1])
    for row, one in zip(rows, made, strict=True):
        axes.annotate(f"{one.minutes:.0f} min", (chance[row], row), (4.0, 0.0), va="center",
                      textcoords="offset points", fontsize=7.5, color=GREY)
    axes.set_yticks(rows, [one.name for one in made])
    axes.set_ylim(len(made) - 0.4, -0.6)
    axes.set_xlim(0.0, 112.0)
    axes.set_xticks(np.arange(0.0, 101.0, 20.0))
    axes.set_title("What each experiment is expected to do")
    axes.set_xlabel("chance that it settles the verdict [%]")
    return figure
