"""The commands of the bench: parse, call, print. Heavy imports stay inside the commands."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from thrustlapse.command_parts import stop, write_new

if TYPE_CHECKING:
    from thrustlapse.bench.readings import BenchReadings

FILE = click.Path(path_type=Path)


@click.group()
def bench() -> None:
    """Readings of a machine on the bench: plan them, write them down, reduce them.

    \b
    An afternoon:
      thrustlapse bench new mine.csv        a commented file to write readings into
      thrustlapse bench check mine.csv      is every reading usable, and what does it say?

    Rotors burst: stand out of the plane of rotation, behind a shield, with a remote cut-off.
    """


@bench.command()
@click.argument("file", type=FILE)
def new(file: Path) -> None:
    """Write a commented starter to FILE.csv (never over an existing file).

    The numbers in it are invented. Keep the columns you have, put your readings below them, and
    delete the rest.
    """
    from thrustlapse.scenario.bench_file import bench_starter

    write_new(file, bench_starter())
    click.echo(f"{file}: written. Change it, then: thrustlapse bench check {file}")


@bench.command()
@click.argument("file", type=FILE)
def check(file: Path) -> None:
    """Check FILE.csv and list every fault at once: line, column, value, what is accepted.

    For a good file it prints each reading as it was understood, reduced to thrust and air density,
    and says what was assumed.
    """
    readings = read(file)
    from thrustlapse.report.bench_table import check_lines

    for line in check_lines(readings):
        click.echo(line)


def read(file: Path) -> BenchReadings:
    """Readings of a file, or a stop with all its faults."""
    from thrustlapse.scenario.bench_file import read_bench
    from thrustlapse.scenario.faults import ScenarioError

    try:
        return read_bench(file)
    except ScenarioError as error:
        stop(str(error))
