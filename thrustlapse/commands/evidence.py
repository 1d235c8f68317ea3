"""The commands of a machine's evidence and of the next experiment: parse and call."""

from __future__ import annotations

from datetime import date as calendar
from pathlib import Path

import click

from thrustlapse.commands.console import Place

FILE = Place()
CANDIDATE = click.option("--candidate", "name", required=True, metavar="NAME",
                         help="Which candidate of the file")


@click.group()
def evidence() -> None:
    """Everything you found out about a machine, piece by piece, in one file that learns.

    \b
      thrustlapse evidence add mine.toml night_one.csv --candidate blower
      thrustlapse evidence add mine.toml run.wav --candidate blower --blades 9
      thrustlapse evidence add mine.toml flight.csv --candidate blower
      thrustlapse evidence show mine.toml --candidate blower
      thrustlapse evidence drop mine.toml night_one.csv --candidate blower
      thrustlapse next mine.toml

    Labels, bench files, sounds and flight logs update one posterior in any order, each once; a
    piece that is dropped leaves no trace. Pieces that disagree are named, never averaged in
    silence. The scenario includes the machine's file: include = "blower.machine.toml".
    """


@evidence.command()
@click.argument("file", type=FILE)
@click.argument("piece", type=FILE)
@CANDIDATE
@click.option("--kind", type=click.Choice(["label", "bench file", "sound", "flight log"]),
              default=None, help="What PIECE is  [default: by its ending and headings]")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="YYYY-MM-DD",
              help="When it was read  [default: today]")
@click.option("--blades", type=click.IntRange(1, 200), default=None, metavar="NUMBER",
              help="Of a sound: blades of the rotor")
@click.option("--nozzle", default=None, metavar="LENGTH",
              help="Of a sound: the exit's diameter  [default: as described]")
@click.option("--voltage", default=None, metavar="VOLTAGE",
              help="Of a sound: the supply's  [default: the pack's own]")
@click.option("--setting", default=None, metavar="WORD",
              help="Of a sound: the drive setting, as bench files name it  [default: as it flies]")
@click.option("--expected", default=None, metavar="SPEED",
              help="Of a sound: about the shaft speed, where one is expected")
def add(file: Path, piece: Path, name: str, kind: str | None, date: calendar | None,
        blades: int | None, nozzle: str | None, voltage: str | None, setting: str | None,
        expected: str | None) -> None:
    """Take the file PIECE in as evidence of a candidate of FILE.

    Writes NAME.machine.toml beside FILE, or updates the machine's file that FILE includes. The same
    file twice is noticed. A label is a bench file of one row, whose spreads are a label's.
    """
    from thrustlapse.commands import learning

    learning.add(file, piece, name, kind=kind or "", blades=blades, nozzle=nozzle,
                 date=f"{date or calendar.today():%Y-%m-%d}", voltage=voltage, setting=setting,
                 expected=expected)


@evidence.command()
@click.argument("file", type=FILE)
@click.argument("piece")
@CANDIDATE
def drop(file: Path, piece: str, name: str) -> None:
    """Take PIECE away again, by the name of its file or the start of its SHA-256.

    The machine is then as if it had never been there.
    """
    from thrustlapse.commands import learning

    learning.drop(file, piece, name)


@evidence.command()
@click.argument("file", type=FILE)
@CANDIDATE
@click.option("--out", "folder", type=FILE, default=None, metavar="DIR",
              help="Folder for the write-up  [default: the candidate's name + '-evidence']")
def show(file: Path, name: str, folder: Path | None) -> None:
    """Show what each piece changed: a band that narrows, and which pieces disagree.

    Writes index.html, history.json and figures/ into the folder.
    """
    from thrustlapse.commands import learning

    learning.show(file, name, folder)


@click.command("next")
@click.argument("file", type=FILE)
@click.option("--out", "folder", type=FILE, default=None, metavar="DIR",
              help="Folder for the write-up  [default: the scenario's name + '-next']")
@click.option("--candidate", default="", metavar="NAME",
              help="Whose experiments  [default: the one with evidence, else the first blower or "
              "fan]")
@click.option("--faster-than", "rival", default="", metavar="NAME",
              help="Is it faster than this one?  [default: the first other candidate]")
@click.option("--reach", default=None, metavar="SPEED", help="Or: does it reach this speed?")
@click.option("--nozzle", default=None, metavar="LENGTH",
              help="Or: does an exit of this diameter pull more than the one described?")
@click.option("--at", "airspeed", default="0 m/s", show_default=True, metavar="SPEED",
              help="Airspeed of the question of a nozzle, or of pulls where there is no airframe")
@click.option("--bench", is_flag=True, help="Experiments on the bench alone, no flights")
def following(file: Path, folder: Path | None, candidate: str, rival: str, reach: str | None,
              nozzle: str | None, airspeed: str, bench: bool) -> None:
    """What to measure next to settle the verdict, from all evidence there is.

    Ranks experiments by the chance that they settle the question asked, with the minutes they take
    and their cautions; says when it is settled already, and when nothing here would settle it.
    Writes index.html, next.json and figures/ into the folder.
    """
    from thrustlapse.commands import learning

    learning.following(file, folder, candidate=candidate, rival=rival, reach=reach, nozzle=nozzle,
                       airspeed=airspeed, bench=bench)
