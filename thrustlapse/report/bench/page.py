"""The bench report: one self-contained page, the fitted candidate, every number, the figures."""

from __future__ import annotations

import math
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.bench.readings import READ
from thrustlapse.report.bench.figures import figure_map, figure_readings, figure_residuals
from thrustlapse.report.bench.table import with_spread
from thrustlapse.report.figure_style import styled
from thrustlapse.report.page_text import page_text
from thrustlapse.report.records import json_text
from thrustlapse.report.saved_figures import Drawn, save_figures
from thrustlapse.report.table import Table
from thrustlapse.report.write_up import write_up
from thrustlapse.study.bench_fit import UNLIKELY, FittedMachine
from thrustlapse.study.bench_study import BenchStudy
from thrustlapse.study.experiment_design import AGAIN

MOST_NEXT = 8
WORTH = 1.1
"""Gain of a reading over that of a repeat below which it is worth no more."""

WEAK = 1.0
"""Singular value below which a combination is told by what is typical rather than by readings."""


def write_bench_report(study: BenchStudy, folder: Path, *, candidate_text: str | None,
                       title: str, invented: bool) -> Path:
    """Write the report of a bench fit into a folder, all of it or none; returns the page.

    ``candidate_text`` is None where the fit makes no candidate that a scenario may have: it then
    has no answer either. One that contradicts its readings has neither answer nor candidate.

    Raises
    ------
    ReportError
        If the folder cannot be written.
    """
    refused = why_refused(study, candidate_text)
    files = {"fit.json": lambda: json_text(fit_record(study, refused))}
    if candidate_text is not None and not refused:
        files[f"{study.name}.toml"] = lambda: candidate_text
    return write_up(folder, files=files, draw=lambda figures: partial(
        save_figures, _figures(study), figures), page=lambda drawn: page_text(
        "bench.html", drawn, title=f"{title}: {study.name} on the bench", invented=invented,
        headline=headline(study, refused), counted="" if refused else COUNTED, fit=study.fit,
        tables=bench_tables(study), source=Path(study.fit.readings.source).name,
        file=f"{study.name}.toml" if not refused else "", name=study.name,
        agreement=agreement(study.fit), weak=weak_combinations(study.fit),
        next_word="" if refused else next_word(study)))


def why_refused(study: BenchStudy, candidate_text: str | None) -> str:
    """Why the fit answers nothing, or ""."""
    return study.contradiction or (
        "no scenario may have the fitted candidate" if candidate_text is None else "")


def headline(study: BenchStudy, refused: str) -> str:
    """The answer in a sentence, with what its two intervals count; or why there is none."""
    found = study.answer
    if refused:
        return f"No {found.words}: {refused}."
    return (f"{found.words[0].upper()}{found.words[1:]}: "
            f"{with_spread(found.value, 2.0 * found.deviation)} {found.unit} (two standard "
            f"deviations) with all that is assumed, ± {2.0 * found.of_bench:.2g} {found.unit} from "
            "this bench if every assumption were true; before these readings: "
            f"± {2.0 * found.before:.2g} {found.unit}."
            + (f" {study.instead[0].upper()}{study.instead[1:]}." if study.instead else ""))


COUNTED = ("The wide ± counts what these readings, at their stated spreads, leave open of this "
           "machine, every value that nobody gave with its spread, how the map's form may depart "
           "from the description, gains that all readings of one instrument share, and whatever "
           "else of drag, pack, airframe and day carries a spread. It does not count a wrong "
           "description: another wheel, a leak, something that rubs.")
"""What the headline's intervals hold, and what they do not."""


def next_word(study: BenchStudy) -> str:
    """The reading that is worth most, or that none is worth more than one more of the same."""
    if not study.following:
        return "No further reading is possible by this description."
    first, unit = study.following[0], study.answer.unit
    gain = (f"± {first.deviation:.3g} {unit} instead of ± {study.answer.deviation:.3g} {unit}, one "
            "standard deviation")
    again = [one.shrink for one in study.following if one.state == AGAIN]
    if first.state == AGAIN or (again and first.shrink <= WORTH * max(again)):
        return ("No other state is worth more than reading the nozzle as it is once more "
                f"({gain}): what is open now is assumed and not read.")
    return f"Next reading: {first.state}, {first.instruments}: {gain}."


def agreement(fit: FittedMachine) -> str:
    """Whether the readings fit together, from chi-square."""
    return (f"The readings {'do not ' if fit.probability < UNLIKELY else ''}fit together "
            f"(chi-square {fit.chi_square:.3g}, about {fit.freedom} expected)")


def weak_combinations(fit: FittedMachine) -> list[str]:
    """What the readings cannot tell apart, in words, the weakest first."""
    told = [(value, words) for words, value in zip(fit.combinations, fit.singular, strict=True)
            if value < WEAK and words]
    return [f"{words} (readings add {f'{100.0 * value:.0f} %' if value >= 0.01 else 'nothing'})"
            for value, words in told]


def bench_tables(study: BenchStudy) -> list[Table]:
    """Unknowns, next readings, readings against the fit, correlations."""
    fit = study.fit
    spread = np.sqrt(np.diag(fit.covariance))
    inner = np.sqrt(np.diag(fit.scaled_covariance))
    rows = tuple((one.words, one.key, f"{value:.5g}", f"{deviation:.2g}", f"{one.value:.5g}",
                  f"{100.0 * left:.0f} %", one.source)
                 for one, value, deviation, left in zip(fit.unknowns, fit.values, spread, inner,
                                                        strict=True))
    unknowns = Table(name="unknowns", caption="What was fitted, in SI: value with its standard "
                     "deviation, the value the scenario gave, and how much of the prior's width is "
                     "left (100 %: the readings say nothing of it)",
                     heads=("", "key", "fitted", "±", "given", "width left", "prior"), rows=rows)
    following = Table(
        name="next", caption=f"Readings still possible, and how far each would sharpen the answer "
        f"({study.answer.words}), linear about the fit",
        heads=("", "with", f"± [{study.answer.unit}]", "sharper by"),
        rows=tuple((one.state, one.instruments, f"{one.deviation:.3g}",
                    f"{100.0 * one.shrink:.1f} %") for one in study.following[:MOST_NEXT]))
    against = []
    for one in fit.residuals:
        unit, factor = READ[one.quantity].unit, READ[one.quantity].factor
        against.append((f"line {one.row}", f"{one.quantity.replace('_', ' ')} [{unit}]",
                        f"{factor * one.read:.4g}", _figure(factor * one.fitted),
                        f"{factor * one.spread:.2g}", _figure(one.deviations, "+.1f")))
    readings = Table(name="readings", caption="Every reading against the fit; the spread includes "
                     "that of voltage and nozzle where they were read",
                     heads=("", "quantity", "read", "fitted", "spread", "off, in spreads"),
                     rows=tuple(against))
    words = [one.words for one in fit.unknowns]
    correlation = Table(name="correlation", caption="Correlation of what was fitted",
                        heads=("", *words), rows=tuple(
                            (word, *(f"{value:+.2f}" for value in row))
                            for word, row in zip(words, fit.correlation, strict=True)))
    return [following, unknowns, readings, correlation]


def _figure(value: float, form: str = ".4g") -> str:
    return format(value, form) if math.isfinite(value) else "–"


def _figures(study: BenchStudy) -> list[Drawn]:
    with styled():
        return _drawn(study)


def _drawn(study: BenchStudy) -> list[Drawn]:
    fit = study.fit
    far = max((abs(one.deviations) for one in fit.residuals if math.isfinite(one.deviations)),
              default=0.0)
    drawn = []
    if study.settings:
        ends = "; ".join(
            f"setting {curve.setting}: thrust {curve.values['thrust'][0]:.3g} N at "
            f"{1e3 * curve.diameter[0]:.3g} mm, {curve.values['thrust'][-1]:.3g} N at "
            f"{1e3 * curve.diameter[-1]:.3g} mm" for curve in study.settings)
        drawn.append(Drawn(
            name="readings", title="Readings and fitted machine",
            figure=figure_readings(fit, study.settings),
            caption="Readings with an open outlet (bars: two spreads) and the fitted machine (band:"
            " two standard deviations).", alt=f"Fitted curves over nozzle diameter. {ends}."))
    curve = study.map
    best = int(np.nanargmax(curve.values["efficiency"]))
    drawn.append(Drawn(
        name="map", title="Fitted map", figure=figure_map(curve),
        caption="The fitted map with its band of two standard deviations, beside the one given; "
        "grey: the flows that were read. Outside them only blocked readings and the shape of the "
        "given map speak.",
        alt=f"Best efficiency {100.0 * curve.values['efficiency'][best]:.0f} % at a flow "
        f"coefficient of {curve.flow[best]:.3g}; shut-off head {curve.values['head'][0]:.3g} ± "
        f"{curve.deviations['head'][0]:.2g}."))
    drawn.append(Drawn(
        name="residuals", title="Readings less fit", figure=figure_residuals(fit),
        caption="Each reading less the fit, in its own spreads; 19 of 20 should lie between the "
        "dashed lines.", alt=f"{len(fit.residuals)} readings; the farthest lies {far:.1f} spreads "
        "off."))
    return drawn


def fit_record(study: BenchStudy, refused: str) -> dict[str, Any]:
    """The fit as JSON: SI values, covariance, residuals, answer or null, next readings."""
    fit = study.fit
    return {
        "format": "thrustlapse bench fit", "format_version": 1, "candidate": study.name,
        "readings": Path(fit.readings.source).name,
        "unknowns": [one.key for one in fit.unknowns], "words": [one.words for one in fit.unknowns],
        "values": fit.values, "covariance": fit.covariance,
        "prior_source": [one.source for one in fit.unknowns],
        "chi_square": fit.chi_square, "freedom": fit.freedom, "probability": fit.probability,
        "widened": fit.widened, "robust": fit.robust, "singular_values": fit.singular,
        "combinations": fit.combinations, "messages": fit.messages,
        "residuals": [{"line": one.row, "quantity": one.quantity, "read": one.read,
                       "fitted": one.fitted, "spread": one.spread} for one in fit.residuals],
        "refused": refused,
        "answer": None if refused else {"words": study.answer.words, "value": study.answer.value,
                   "unit": study.answer.unit, "deviation": study.answer.deviation,
                   "deviation_of_bench": study.answer.of_bench,
                   "deviation_before": study.answer.before},
        "next_readings": [{"state": one.state, "instruments": one.instruments,
                           "deviation": one.deviation, "shrink": one.shrink}
                          for one in study.following]}


def fit_lines(study: BenchStudy, refused: str) -> list[str]:
    """Summary of a fit for a terminal."""
    fit = study.fit
    spread = np.sqrt(np.diag(fit.covariance))
    lines = [headline(study, refused), *([] if refused else [COUNTED]), "",
             agreement(fit), ""]
    lines += [f"  {one.words}: {value:.5g} ± {deviation:.2g}  [{one.key}]"
              for one, value, deviation in zip(fit.unknowns, fit.values, spread, strict=True)]
    lines += ["", *(f"  {text}" for text in fit.messages)]
    weak = weak_combinations(fit)
    if weak:
        lines += ["", f"what these readings cannot tell: {'; '.join(weak[:3])}"]
    word = "" if refused else next_word(study)
    return [*lines, "", word[0].lower() + word[1:]] if word else lines
