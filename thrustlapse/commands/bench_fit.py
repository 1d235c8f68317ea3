"""The command that fits a candidate to readings. Heavy imports stay inside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from thrustlapse.commands.bench import FILE, bench, read
from thrustlapse.commands.console import faults_told, quantity, say, stop
from thrustlapse.commands.console import read as read_file

if TYPE_CHECKING:
    from thrustlapse.scenario.build.model import Scenario
    from thrustlapse.study.bench_study import BenchStudy


@bench.command()
@click.argument("scenario", type=FILE)
@click.option("--candidate", required=True, metavar="NAME", help="Which candidate was on the bench")
@click.option("--readings", required=True, type=FILE, metavar="FILE.csv", help="Its readings")
@click.option("--answer", "asked", default="", metavar="WHAT",
              help='What you want to know: "static thrust", "thrust at 25 m/s", "top speed" or '
                   '"crossover with NAME"  [default: top speed, or static thrust]')
@click.option("--unknown", "unknowns", multiple=True, metavar="KEY",
              help='Fit only this, such as motor.resistance; again for more  [default: all]')
@click.option("--out", "folder", type=FILE, default=None, metavar="DIR",
              help="Folder for the report  [default: the candidate's name + '-bench']")
def fit(scenario: Path, candidate: str, readings: Path, asked: str, unknowns: tuple[str, ...],
        folder: Path | None) -> None:
    """Fit a candidate of SCENARIO to its readings, and say what to measure next.

    Writes index.html (the page), NAME.toml (the fitted candidate, which a scenario includes with
    its covariance), fit.json and figures/ into the folder. A fit that contradicts its readings has
    no answer and no candidate, and ends with status 1. What the readings do not tell is left at
    what is typical of such machines, with its width.
    """
    from thrustlapse.report.bench.page import fit_lines, why_refused, write_bench_report

    told, study = _studied(scenario, candidate, file=readings, asked=asked, unknowns=unknowns)
    text, why = candidate_text(study, told)
    folder = folder or Path(f"{candidate}-bench")
    with faults_told():
        page = write_bench_report(study, folder, candidate_text=text, title=told.title,
                                  invented=told.invented)
    refused = why_refused(study, text)
    for line in fit_lines(study, refused):
        say(line)
    if text is None:
        say(f"\nno candidate file: the fitted values are refused\n{why}", err=True)
    say(f"\nwritten: {page}")
    if refused:
        raise SystemExit(1)


def _studied(scenario: Path, candidate: str, file: Path, asked: str,
             unknowns: tuple[str, ...]) -> tuple[Scenario, BenchStudy]:
    from thrustlapse.scenario.files.fit_file import on_the_bench
    from thrustlapse.study.bench_fit import FitError
    from thrustlapse.study.bench_study import study_bench

    told = read_file(scenario)
    if candidate not in told.candidates:
        stop(f"--candidate {candidate!r}: {scenario} has {', '.join(told.candidates)}.")
    taken = read(file)
    word, airspeed, rival = asked, 0.0, ""
    if asked.startswith("thrust at "):
        word = "thrust at"
        airspeed = quantity("--answer", asked.removeprefix("thrust at "), "speed", low=0.0)
    elif asked.startswith("crossover with "):
        word, rival = "crossover with", asked.removeprefix("crossover with ")
    try:
        told = on_the_bench(told, candidate, volts=taken.voltage)
        return told, study_bench(told, candidate, taken, chosen=unknowns or None, asked=word,
                                 airspeed=airspeed, rival=rival)
    except FitError as error:
        stop(f"{file}: {error}")


def candidate_text(study: BenchStudy, scenario: Scenario) -> tuple[str | None, str]:
    """Text of the fitted candidate's file, or None and why a scenario would refuse it."""
    from thrustlapse.learning import fit_text
    from thrustlapse.scenario.faults import ScenarioError

    try:
        return fit_text(study.name, study.fit, scenario), ""
    except ScenarioError as error:
        return None, str(error)
