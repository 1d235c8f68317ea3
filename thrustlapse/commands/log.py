"""The commands of a flight log: parse, call, print. Heavy imports stay inside the commands."""

from __future__ import annotations

from pathlib import Path

import click

from thrustlapse.commands.console import Place, faults_told, read, say, stop, write_new

FILE = Place()


@click.group()
def log() -> None:
    """A flight as it was logged, laid over the prediction.

    \b
      thrustlapse log new flight.csv        a commented file to put a log into
      thrustlapse log explain mine.toml --candidate NAME --readings flight.csv

    A log that flies fast and slow, and glides with the motor cut, tells drag from thrust. Fly where
    you may, within sight, by the local rules.
    """


@log.command()
@click.argument("file", type=FILE)
def new(file: Path) -> None:
    """Write a commented starter to FILE.csv (never over an existing file)."""
    from thrustlapse.scenario.readings.log_file import log_starter

    write_new(file, log_starter())
    say(f"{file}: written. Put your readings in place of the invented ones.")


@log.command()
@click.argument("scenario", type=FILE)
@click.option("--candidate", required=True, metavar="NAME", help="What it was flown with")
@click.option("--readings", required=True, type=FILE, metavar="FILE.csv", help="The log")
@click.option("--out", "folder", type=FILE, default=None,
              help="Folder for the write-up  [default: the log's name + '-explained']")
def explain(scenario: Path, candidate: str, readings: Path, folder: Path | None) -> None:
    """Find the thrust and the drag that best explain a log, and say what it cannot tell.

    Writes index.html, log.json and figures/ into the folder, and prints the answer.
    """
    from thrustlapse.report.flight_log.page import write_log
    from thrustlapse.report.flight_log.words import log_lines
    from thrustlapse.scenario.readings.log_file import read_log
    from thrustlapse.study.log_study import study_log

    told = read(scenario)
    with faults_told():
        flown = read_log(readings)
    if candidate not in told.candidates:
        stop(f"--candidate {candidate!r}: {scenario} has {', '.join(told.candidates)}")
    if told.airframe is None:
        stop(f"{scenario}: no [airframe], so there is no drag to lay a log over. Add one: "
             "thrustlapse new FILE shows how.")
    try:
        study = study_log(flown, told.candidates[candidate], told.airframe, title=told.title,
                          invented=told.invented, digest=told.digest)
    except ValueError as error:
        stop(f"{readings}: {error}")
    with faults_told():
        page = write_log(study, folder or Path(f"{readings.stem}-explained"))
    for line in log_lines(study):
        say(line)
    say(f"\nwritten: {page}")
