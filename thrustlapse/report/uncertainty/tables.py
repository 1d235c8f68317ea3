"""Tables of how sure the answers are: candidates, crossovers, inputs, drivers, failures."""

from __future__ import annotations

from collections.abc import Iterator

from thrustlapse.report.number_format import number
from thrustlapse.report.table import NONE, Table
from thrustlapse.report.uncertainty.register_lines import input_words
from thrustlapse.report.uncertainty.words import between, ends_error, in_hundred
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.uncertainty_results import Drivers, UncertaintyStudy

MOST_DRIVERS = 8
"""Inputs of an answer that its table lists; the rest does next to nothing."""


def sure_tables(comparison: Comparison) -> tuple[Table, ...]:
    """Every table of the study; none where nothing was drawn."""
    study = comparison.uncertainty
    if study is None:
        return ()
    return (_candidates(study), _crossovers(study), _inputs(study), *_drivers(study),
            _failures(study))


def _candidates(study: UncertaintyStudy) -> Table:
    flies = any(one.top_speed is not None for one in study.candidates.values())
    heads = ["", "thrust at rest, nine in ten", "error of the ends", "most at rest in"]
    if flies:
        heads += ["top speed, nine in ten", "error of the ends", "fastest in"]
    rows = []
    for name, one in study.candidates.items():
        row = [name, between(one.static_thrust, "N"),
               f"{number(ends_error(one.static_thrust), 2)} N", in_hundred(one.most_at_rest)]
        if flies:
            top = one.top_speed
            row += [NONE, NONE, in_hundred(one.fastest)] if top is None or top.known == 0.0 else [
                between(top, "m/s"), f"{number(ends_error(top), 2)} m/s", in_hundred(one.fastest)]
        rows.append(tuple(row))
    return Table(name="sure", heads=tuple(heads), rows=tuple(rows),
                 caption="Intervals that hold nine draws in ten, and of 100 draws in how many each "
                 "is first. The error of an end is its standard error, from "
                 f"{study.scrambles} independent sets that make up the {study.samples} draws: with "
                 "other draws it would come out about so much different.")


def _crossovers(study: UncertaintyStudy) -> Table:
    rows = tuple(
        (f"{one.winner_above} overtakes {one.winner_below}", between(one.airspeed, "m/s"),
         in_hundred(one.exists), in_hundred(one.reached),
         between(one.drag_area_threshold, "cm^2") if one.drag_area_threshold.known else NONE)
        for pair in study.pairs for one in pair.crossovers)
    return Table(name="sure_crossovers", rows=rows,
                 heads=("", "airspeed, nine in ten", "happens in", "aircraft gets there in",
                        "f*, nine in ten"),
                 caption="Crossovers with thrust left, of 100 draws; f* is the parasite drag area "
                 "below which an aircraft gets beyond it.")


def _inputs(study: UncertaintyStudy) -> Table:
    rows = tuple((input_words(one.key), one.text, one.form) for one in study.inputs)
    return Table(name="sure_inputs", rows=rows, heads=("", "as stated", "form"),
                 caption="What was drawn. The number behind ± is one standard deviation; of "
                 "uniform and triangular spreads it is half of the width. Pack, airframe and air "
                 "are shared: what is wrong with them is wrong for all candidates alike.")


def _drivers(study: UncertaintyStudy) -> Iterator[Table]:
    for place, one in enumerate(study.drivers):
        yield _driver(one, place)


def _driver(one: Drivers, place: int) -> Table:
    rows = tuple(
        (input_words(each.key), _share(each.first, each.first_error),
         _share(each.total, each.total_error), f"{number(each.swing_low)} {one.unit}",
         f"{number(each.swing_high)} {one.unit}") for each in one.drivers[:MOST_DRIVERS])
    left = f" {one.dropped} draws without a value are left out." if one.dropped else ""
    return Table(name=f"driver{place}", rows=rows,
                 heads=("", "by itself", "in all", "at its low end", "at its high end"),
                 caption=f"What drives the {one.answer}, nominally {number(one.nominal)} "
                 f"{one.unit}: share of the variance with its standard error, and the answer with "
                 f"this input alone one standard deviation down or up.{left}")


def _share(share: float, error: float) -> str:
    return f"{100.0 * share:.0f} ± {max(100.0 * error, 0.5):.0f} %"


def _failures(study: UncertaintyStudy) -> Table:
    rows = tuple((name, words, str(count)) for name, one in study.candidates.items()
                 for words, count in {**one.outcomes, **one.failures}.items())
    return Table(name="sure_failures", rows=rows, heads=("", "what became of it", "draws"),
                 caption=f"What became of the {study.samples} draws; draws with an invalid point, "
                 "at rest or on the way to the top speed, have no value and are in no interval.")
