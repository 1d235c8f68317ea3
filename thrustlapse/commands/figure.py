"""The figure command: figures at the width of a journal's column, a page or a slide."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from thrustlapse.commands.console import Place, compared, faults_told, read, say, stop

if TYPE_CHECKING:
    from thrustlapse.report.reader_units import Restated


@click.command()
@click.argument("file", type=Place())
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option("--size", type=click.Choice(["column", "page", "slide"]), default="page",
              show_default=True, help="Width it will be printed at: 86 mm, 165 mm, or a slide's")
@click.option("--unit", "units", multiple=True, metavar="UNIT",
              help='Axes in this unit, such as "km/h" or "gf"; again for more')
@click.option("--out", "folder", type=Place(), default=None, metavar="DIR",
              help="Folder for the files  [default: the scenario's name + '-figures']")
def figure(file: Path, names: tuple[str, ...], size: str, units: tuple[str, ...],
           folder: Path | None) -> None:
    """Make figures of FILE for a paper or a talk: NAME such as thrust, lapse or break_even.

    Writes NAME.svg and NAME.pdf, whose letters stay letters, and NAME.png. No letter is below 7 pt
    at the width asked for. Without a NAME it makes the thrust figure; "all" makes every one.
    """
    from thrustlapse.report.comparison.for_print import known_names, save_for_print

    folder = folder or Path(f"{file.stem}-figures")
    try:
        wanted = known_names(names or ("thrust",))
    except ValueError as error:
        stop(str(error))
    shown = [_restated(unit) for unit in units]
    answer = compared(read(file))
    with faults_told():
        try:
            made = save_for_print(answer, wanted, folder, size=size, units=shown)
        except ValueError as error:
            stop(str(error))
    for one in made:
        say(f"written: {one}")


DRAWN = {"m/s": "speed", "N": "force", "W": "power", "mm": "length", "cm²": "area"}
"""Units on the axes of figures, and what they are of."""


def _restated(unit: str) -> Restated:
    """What a reader's unit stands in for, or a stop that says what is wrong with it."""
    from thrustlapse.report.reader_units import Restated
    from thrustlapse.scenario.units import QuantityFault, to_si

    for drawn, kind in DRAWN.items():
        with suppress(QuantityFault):
            factor = to_si(f"1 {drawn}", kind) / to_si(f"1 {unit}", kind)
            return Restated(drawn=drawn, reader=unit, factor=factor)
    return stop(f"--unit {unit!r}: no unit of {', '.join(DRAWN.values())}; such as km/h, gf or kW")
