"""Does following the advice settle verdicts sooner? ``python -m tests.tools.next_trial 200``.

Machines drawn from the priors of a described blower, its map's form and the instruments' gains
among them, on airframes, packs and days drawn too. Of each it is asked whether the aircraft reaches
a speed near the predicted top speed. Three ways lead to the answer, each stopping as soon as its
chance is above 95 %: what ``thrustlapse next`` ranks first, a fixed protocol, and the same reading
again and again. The advice also stops where it says that nothing at hand is likely to settle the
matter; the others go on to the end of their eight. Readings are the truth's own with the usual
errors. Flights are left out: they answer the question themselves.

The truth is of the model's own kind: this says whether the advice is worth following and whether
its expectations come true, not whether the model is right (``bench_coverage`` holds other truths).
Written beside this file: a row a machine and a way.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.special import ndtr

import thrustlapse as tl
from thrustlapse import __version__
from thrustlapse.arrays import Array
from thrustlapse.bench.evidence import BENCH, Piece
from thrustlapse.bench.readings import READ, BenchReadings
from thrustlapse.propulsor.bench_fit import BenchFit
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.bench_fit import FittedMachine
from thrustlapse.study.bench_model import OBSERVED, show, with_values
from thrustlapse.study.bench_unknowns import values_of
from thrustlapse.study.evidence import machine_of
from thrustlapse.study.experiment_design import possible_readings
from thrustlapse.study.next_experiment import (
    BENCH as PLANS,
)
from thrustlapse.study.next_experiment import (
    Experiment,
    NextExperiments,
    next_experiments,
    with_gains,
)
from thrustlapse.study.sampling import drawables, with_draws
from thrustlapse.study.verdict_question import Verdict, verdict_question

HERE = Path(__file__).with_suffix(".csv")
STORY = Path(__file__).parents[2] / "scenarios" / "three_ways_to_push.toml"
NAME, SEED, MOST = "blower", 2026, 8

PROTOCOL = ("shut outlet", "shaft speed by sound", "shut inlet", "second nozzle", "repeat",
            "lower voltage", "suction behind a plate", "a better scale")
"""A fixed order: short ones that need no stand first."""

WAYS = ("next", "protocol", "repeats")


@dataclass(frozen=True, kw_only=True)
class Truth:
    """A machine with its instruments, and whether the aircraft reaches a speed [m/s]."""

    scaled: Array
    prior: FittedMachine
    reach: float
    margin: float


def truths(scenario: Scenario, count: int, seed: int) -> Iterator[Truth]:
    """Machines, instruments and aircraft drawn from what is not known of them."""
    prior = with_gains(machine_of(scenario.candidates[NAME], ()))
    known = BenchFit(bench="", unknowns=tuple(one.key for one in prior.unknowns if one.kept),
                     values=prior.values[list(prior.kept)], covariance=np.eye(len(prior.kept)))
    inputs = [one for one in drawables(scenario, {NAME: known})
              if one.group != f"{NAME}: bench fit"]
    top = next_experiments(scenario, NAME, prior, Verdict(reach=27.0))
    wide = top.deviation
    for place in range(count):
        random = np.random.default_rng([seed, place])
        scaled = np.clip(random.standard_normal(len(prior.unknowns)), -3.5, 3.5)
        others = ndtr(random.standard_normal((1, len(inputs))))
        reach = 27.0 + random.uniform(-1.0, 1.0) * 2.5
        many = with_draws(scenario, inputs, others)
        kept = tuple(prior.unknowns[one] for one in prior.kept)
        value = values_of(prior.unknowns, scaled[None])[:, list(prior.kept)]
        machine = with_values(many.candidates[NAME], kept, value)
        question = verdict_question(scenario, NAME, prior, Verdict(reach=reach))
        margin = float(np.ravel(question.measure(many, machine, machine))[0])
        if np.isfinite(margin) and abs(margin) < 6.0 * wide:
            yield Truth(scaled=scaled, prior=prior, reach=reach, margin=margin)


def read_of(truth: Truth, fit: FittedMachine, made: Experiment,
            random: np.random.Generator) -> BenchReadings:
    """What the truth shows in an experiment, with the instruments' errors."""
    possible, states = possible_readings(fit)
    row = states.index(made.state)
    shown = show(truth.prior.given, possible, truth.prior.unknowns,
                 values_of(truth.prior.unknowns, truth.scaled[None]))
    sharper = next(one.sharper for one in PLANS if one.name == made.name)
    wanted = [name for name in OBSERVED if name.replace("_", " ") in made.read.split(" and ")]
    columns = {}
    for name in OBSERVED:
        value = shown.values[name][0, row]
        error = READ[name].usual.at(np.asarray(value)) / sharper
        columns[name] = (np.array([value + error * random.standard_normal()])
                         if name in wanted else np.array([np.nan]))
    spread = {name: one[[row]] for name, one in possible.spread.items()}
    for name in wanted:
        spread[name] = READ[name].usual.at(columns[name]) / sharper
    cut = {name: getattr(possible, name)[[row]] for name in (
        "nozzle_diameter", "inlet_blocked", "outlet_blocked", "orifice_diameter", "voltage",
        "units", "by_log", "airspeed", "air_temperature", "air_pressure", "relative_humidity",
        "duty", "row", "stand_friction")}
    return replace(possible, **cut, **columns, spread=spread, note=("",),
                   setting=(possible.setting[row],))


def chosen(way: str, done: int, found: NextExperiments) -> Experiment | None:
    """The next experiment of a way; None where it has none."""
    if way == "next":
        return found.experiments[0] if found.experiments else None
    name = "repeat" if way == "repeats" else PROTOCOL[done % len(PROTOCOL)]
    return next((one for one in found.experiments if one.name == name), None)


def followed(scenario: Scenario, truth: Truth, way: str, seed: int) -> dict[str, object]:
    """One machine by one way: experiments needed, whether right, what was expected of each."""
    random = np.random.default_rng([seed, WAYS.index(way)])
    candidate, wanted = scenario.candidates[NAME], Verdict(reach=truth.reach)
    pieces: list[Piece] = []
    ratios: list[float] = []
    minutes, expected = 0.0, np.nan
    fit = machine_of(candidate, ())
    found = next_experiments(scenario, NAME, fit, wanted, flights=False)
    while not found.settled and len(pieces) < MOST and not (
            way == "next" and found.out_of_reach):
        made = chosen(way, len(pieces), found)
        if made is None:
            break
        expected, minutes = made.deviation, minutes + made.minutes
        pieces.append(Piece(kind=BENCH, name=f"{len(pieces)}", date="", digest=f"{len(pieces):03d}",
                            readings=read_of(truth, fit, made, random)))
        fit = machine_of(candidate, pieces)
        found = next_experiments(scenario, NAME, fit, wanted, flights=False)
        ratios.append(found.deviation / expected)
    right = (found.chance_now > 0.5) == (truth.margin > 0.0)
    return {"way": way, "experiments": len(pieces), "minutes": minutes, "settled": found.settled,
            "right": right, "chance": f"{found.chance_now:.4f}",
            "met": f"{np.mean(ratios):.3f}" if ratios else ""}


def main() -> None:
    """Run and write the table; say what it comes to."""
    parser = argparse.ArgumentParser()
    parser.add_argument("count", type=int, nargs="?", default=20)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--keep", action="store_true", help="write the table beside this file")
    asked = parser.parse_args()
    scenario = tl.read_scenario(STORY)
    rows = []
    for place, truth in enumerate(truths(scenario, asked.count, asked.seed)):
        for way in WAYS:
            rows.append({"machine": place, "reach": f"{truth.reach:.2f}",
                         "margin": f"{truth.margin:.4f}",
                         **followed(scenario, truth, way, asked.seed + place)})
        print(*[f"{row['way']} {row['experiments']} {row['settled']} {row['right']} {row['met']}"
                for row in rows[-3:]], sep=" | ", flush=True)
    print(*summary(rows), sep="\n")
    if asked.keep:
        with HERE.open("w", encoding="utf-8", newline="") as stream:
            stream.write(f"# python -m tests.tools.next_trial {asked.count} --keep; seed "
                         f"{asked.seed}; thrustlapse {__version__}\n")
            table = csv.DictWriter(stream, fieldnames=list(rows[0]), lineterminator="\n")
            table.writeheader()
            table.writerows(rows)


def summary(rows: list[dict[str, object]]) -> list[str]:
    """A line a way."""
    lines = []
    for way in WAYS:
        mine = [row for row in rows if row["way"] == way]
        needed = np.array([int(str(row["experiments"])) for row in mine], dtype=float)
        settled = np.array([str(row["settled"]) == "True" for row in mine])
        right = np.array([str(row["right"]) == "True" for row in mine])
        met = [float(str(row["met"])) for row in mine if row["met"]] or [np.nan]
        wrong = float(np.mean(~right[settled])) if settled.any() else 0.0
        minutes = np.mean([float(str(row["minutes"])) for row in mine])
        lines.append(f"{way}: {needed.mean():.2f} experiments, {minutes:.0f} minutes, settled "
                     f"{100 * settled.mean():.1f} %, wrong of settled "
                     f"{100 * wrong:.1f} %, deviation over expected {np.mean(met):.3f}")
    return lines


if __name__ == "__main__":
    main()
