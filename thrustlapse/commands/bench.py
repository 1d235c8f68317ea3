"""The commands of the bench: parse, call, print. Heavy imports stay inside the commands."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from thrustlapse.commands.console import (
    Place,
    faults_told,
    quantity,
    say,
    spread_quantity,
    stop,
    write_new,
)

if TYPE_CHECKING:
    from thrustlapse.bench.blade_tone import ToneChoice
    from thrustlapse.bench.readings import BenchReadings
    from thrustlapse.bench.tone import Tones
    from thrustlapse.scenario.readings.recording import Recording

FILE = Place()


@click.group()
def bench() -> None:
    """Readings of a machine on the bench: plan them, write them down, reduce them.

    \b
    An afternoon:
      thrustlapse bench plan                what to read, and what each reading buys
      thrustlapse bench new mine.csv        a commented file to write readings into
      thrustlapse bench speed --help        shaft speed from a video, a recording or a strobe
      thrustlapse bench orifice --help      flow from the suction behind a plate with a hole
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
    from thrustlapse.scenario.readings.bench_file import bench_starter

    write_new(file, bench_starter())
    say(f"{file}: written. Change it, then: thrustlapse bench check {file}")


@bench.command()
@click.argument("file", type=FILE)
def check(file: Path) -> None:
    """Check FILE.csv and list every fault at once: line, column, value, what is accepted.

    For a good file it prints each reading as it was understood, with its spread, reduced to thrust,
    air density and jet power; says what was assumed, whether repeats scatter as much as stated, and
    warns where readings do not hold together.
    """
    readings = read(file)
    from thrustlapse.bench.summary import summarise
    from thrustlapse.report.bench.table import check_lines

    for line in check_lines(summarise(readings)):
        say(line)


def read(file: Path) -> BenchReadings:
    """Readings of a file, or a stop with all its faults."""
    from thrustlapse.scenario.readings.bench_file import read_bench

    with faults_told():
        return read_bench(file)


@bench.command()
def plan() -> None:
    """Print the protocol of one afternoon: each reading, what it buys, and the cautions."""
    from thrustlapse.report.bench.words import plan_text

    say(plan_text())


@bench.command()
@click.option("--blades", required=True, type=click.IntRange(1, 200), metavar="NUMBER",
              help="Blades of the wheel; 1 for a single mark on it")
@click.option("--recording", type=FILE, default=None, metavar="FILE.wav",
              help="Sound of the machine, uncompressed")
@click.option("--from", "start", default="0 s", show_default=True, metavar="TIME",
              help="Where in the recording to begin")
@click.option("--for", "duration", default=None, metavar="TIME",
              help="How much of it to take  [default: all, up to a minute]")
@click.option("--track", is_flag=True,
              help="Follow the speed through the recording, from what its first second shows")
@click.option("--figure", type=FILE, default=None, metavar="FILE.svg",
              help="Draw the recording's spectrum into this file: .svg, .png or .pdf")
@click.option("--frames-per-second", "frames", multiple=True, metavar="RATE",
              help='Rate of a video, such as 240; again for a second one')
@click.option("--strobe", multiple=True, metavar="RATE",
              help='Flashes of a lamp a second, such as "95 Hz"; again for a second one')
@click.option("--apparent", multiple=True, metavar="FREQUENCY",
              help='What it seemed to do at each rate: "12.5 Hz" blade passes a second, or counted '
                   '"30 in 240" frames; a sign in front tells the direction, - for backwards')
@click.option("--lowest", default="200 rpm", show_default=True, metavar="SPEED",
              help="Slowest the shaft can turn")
@click.option("--highest", default="150 krpm", show_default=True, metavar="SPEED",
              help="Fastest the shaft can turn")
@click.option("--expected", default=None, metavar="SPEED",
              help='What other evidence says, such as "80 krpm" or "80 krpm +- 4 krpm"; a tenth of '
                   'it is its spread if not given')
def speed(blades: int, recording: Path | None, start: str, duration: str | None,
          track: bool, figure: Path | None, frames: tuple[str, ...], strobe: tuple[str, ...],
          apparent: tuple[str, ...], lowest: str, highest: str,
          expected: str | None) -> None:
    """Shaft speed from a recording, a video or a strobe, every alias listed.

    A wheel of 9 blades at 80,000 rpm passes 12,000 blades a second. A recording shows that as a
    tone. A camera or a lamp is slower and sees an alias: many speeds look alike, and all of them
    are listed. A second rate, or a speed you expect, decides between them.

    With --track the speed is followed through the recording: start it open, shut the outlet for
    four seconds, open it again, and read both speeds off one recording.

    Not every tone comes from the wheel: a controller whistles at one pitch whatever the throttle, a
    motor at whole multiples of its speed. So one tone never decides. Record ten seconds at a steady
    speed: the shaft's own line then shows beside the blades', and their ratio is the number of
    blades.

    \b
    Examples:
      thrustlapse bench speed --blades 9 --recording blower.wav
      thrustlapse bench speed --blades 9 --recording blower.wav --from "3 s" --for "2 s" \\
          --figure blower.svg
      thrustlapse bench speed --blades 9 --recording shut.wav --track
      thrustlapse bench speed --blades 3 --frames-per-second 240 --apparent "+30 in 240" \\
          --frames-per-second 120 --apparent "-12 Hz" --expected "9 krpm"
      thrustlapse bench speed --blades 1 --strobe "100 Hz" --apparent "0 Hz" --expected "6 krpm"
    """
    slow, fast = quantity("--lowest", lowest, "shaft speed", low=0.0), quantity(
        "--highest", highest, "shaft speed", low=0.0)
    if fast <= slow:
        stop("--highest must lie above --lowest")
    wanted, width = (None, None) if expected is None else spread_quantity(
        "--expected", expected, "shaft speed")
    if recording is not None and not (frames or strobe or apparent):
        lines = _from_recording(recording, start, duration=duration, blades=blades, lowest=slow,
                                highest=fast, expected=wanted, width=width, figure=figure,
                                track=track)
    elif recording is None and (frames or strobe) and not (frames and strobe):
        lines = _from_strobe(frames or strobe, apparent, blades=blades, lowest=slow,
                                highest=fast, expected=wanted, width=width)
    else:
        stop("give --recording, or --frames-per-second with --apparent, or --strobe with "
             "--apparent: one of the three")
    for line in lines:
        say(line)


def _from_recording(file: Path, start: str, duration: str | None, blades: int, lowest: float,
                    highest: float, expected: float | None, width: float | None,
                    figure: Path | None, track: bool) -> list[str]:
    from thrustlapse.bench.blade_tone import choose_meaning
    from thrustlapse.bench.tone import find_tones
    from thrustlapse.report.bench.words import tone_lines
    from thrustlapse.scenario.faults import ScenarioError
    from thrustlapse.scenario.readings.recording import read_recording

    begin = quantity("--from", start, "time", low=0.0)
    length = None if duration is None else quantity("--for", duration, "time", low=0.0)
    try:
        sound = read_recording(file, start=begin, duration=length)
        first = sound.samples[:round(ANCHOR * sound.rate)] if track else sound.samples
        tones = find_tones(samples=first, rate=sound.rate)
    except ScenarioError as error:
        stop(str(error))
    except ValueError as error:
        stop(f"{file}: {error}")
    choice = choose_meaning(tones, blades=blades, lowest=lowest, highest=highest,
                            expected=expected, expected_deviation=width)
    lines = [*sound.told, *tone_lines(tones, choice)]
    if track:
        lines += _tracked(file, sound, choice)
    if figure is not None:
        _draw(figure, tones, choice, blades)
        lines.append(f"written: {figure}")
    return lines


ANCHOR = 1.0
"""Beginning of a recording that tells what is followed [s]."""


def _tracked(file: Path, sound: Recording, choice: ToneChoice) -> list[str]:
    from thrustlapse.bench.tone_track import follow_tone
    from thrustlapse.report.bench.words import track_lines

    if not choice.chosen:
        stop(f"{file}: the first second decides no shaft speed, so there is nothing to follow. "
             "Begin elsewhere with --from, or give --expected")
    best = choice.meanings[0]
    if best.folded:
        stop(f"{file}: the tone is folded, and a folded tone is not followed")
    try:
        track = follow_tone(samples=sound.samples, rate=sound.rate, frequency=best.tone)
    except ValueError as error:
        stop(f"{file}: {error}")
    return track_lines(track, turns=best.speed / best.tone)


def _draw(figure: Path, tones: Tones, choice: ToneChoice, blades: int) -> None:
    from thrustlapse.report.atomic_write import ReportError
    from thrustlapse.report.bench.figure_tones import KINDS, save_tones

    if figure.suffix not in KINDS:
        stop(f"--figure {figure}: a name that ends in {', '.join(KINDS)}")
    try:
        save_tones(figure, tones, choice, blades=blades)
    except (ReportError, ValueError) as error:
        stop(f"--figure: {error}")


def _from_strobe(rates: tuple[str, ...], apparent: tuple[str, ...], blades: int, lowest: float,
                    highest: float, expected: float | None, width: float | None) -> list[str]:
    from thrustlapse.bench.shaft_speed import choose_speed
    from thrustlapse.report.bench.words import speed_lines
    from thrustlapse.scenario.readings.strobe_reading import StrobeReadingFault, read_strobe

    if len(rates) != len(apparent):
        stop(f"{len(rates)} rates and {len(apparent)} times --apparent: one for each rate, in the "
             "same order")
    try:
        seen = [read_strobe(one, rate=rate, blades=blades)
                for one, rate in zip(apparent, rates, strict=True)]
    except StrobeReadingFault as fault:
        stop(str(fault))
    if highest * blades / math.tau > MOST_ALIASES * seen[0].rate:
        stop(f"more than {MOST_ALIASES} aliases below --highest: give a lower one, or a faster "
             "rate first")
    choice = choose_speed(seen[0], others=tuple(seen[1:]), lowest=lowest, highest=highest,
                          expected=expected, expected_deviation=width)
    return speed_lines(choice)


MOST_ALIASES = 2000
"""Multiples of the rate below the highest blade pass that are listed."""


@bench.command()
@click.argument("file", type=FILE, required=False)
@click.option("--diameter", multiple=True, metavar="LENGTH", help='Of the hole, such as "16 mm"')
@click.option("--suction", multiple=True, metavar="PRESSURE",
              help='Behind the plate, below the room\'s, such as "15 kPa"; one for each --diameter')
@click.option("--electrical-power", multiple=True, metavar="POWER",
              help="At each hole, for the efficiency")
@click.option("--temperature", default="15 degC", show_default=True, metavar="TEMPERATURE",
              help="Of the room")
@click.option("--pressure", default="1013.25 hPa", show_default=True, metavar="PRESSURE",
              help="Of the room")
def orifice(file: Path | None, diameter: tuple[str, ...], suction: tuple[str, ...],
            electrical_power: tuple[str, ...], temperature: str, pressure: str) -> None:
    """Flow and air power from the suction behind a plate with a hole.

    Put the machine's inlet into a box of ten litres or so, close the box with a thin plate that
    has a sharp round hole, and read the suction in the box. Holes of the suction-machine standard
    (1/4 to 2 1/2 inch) use its coefficients, others those of a thin plate. With three holes or more
    the greatest air power between them follows. Give a bench FILE.csv with the columns orifice
    diameter and orifice suction, or the numbers themselves.

    \b
    Examples:
      thrustlapse bench orifice mine.csv
      thrustlapse bench orifice --diameter "16 mm" --suction "15 kPa"
      thrustlapse bench orifice --diameter "13 mm" --suction "18 kPa" \\
          --diameter "16 mm" --suction "15 kPa" --diameter "19 mm" --suction "11 kPa"
    """
    import numpy as np

    from thrustlapse.bench.air_density import air_of
    from thrustlapse.bench.default_uncertainty import with_default_uncertainty
    from thrustlapse.bench.orifice import AirPowerPeak, orifice_flow, peak_air_power
    from thrustlapse.bench.readings import bench_readings
    from thrustlapse.report.bench.words import orifice_lines

    if file is not None and not diameter and not suction:
        readings = read(file)
    elif file is None and diameter and len(diameter) == len(suction):
        if electrical_power and len(electrical_power) != len(diameter):
            stop("--electrical-power once for each --diameter, or not at all")
        readings = bench_readings(
            orifice_diameter=[quantity("--diameter", one, "length", low=1e-4) for one in diameter],
            suction=[quantity("--suction", one, "pressure", low=0.0) for one in suction],
            electrical_power=[quantity("--electrical-power", one, "power", low=0.0)
                              for one in electrical_power] or np.nan,
            air_temperature=quantity("--temperature", temperature, "temperature", low=200.0),
            air_pressure=quantity("--pressure", pressure, "pressure", low=1e4))
    else:
        stop("give a bench FILE.csv, or --diameter and --suction in pairs")
    filled = with_default_uncertainty(readings)
    rows = np.isfinite(filled.orifice_diameter) & np.isfinite(filled.suction)
    if not rows.any():
        stop(f"{file}: no row with both an orifice diameter and an orifice suction")
    air, told = air_of(filled)
    flow = orifice_flow(
        diameter=filled.orifice_diameter[rows], suction=filled.suction[rows],
        ambient_pressure=np.asarray(air.pressure)[rows], density=np.asarray(air.density)[rows],
        diameter_deviation=filled.spread["orifice_diameter"][rows],
        suction_deviation=filled.spread["suction"][rows])
    peak: AirPowerPeak | str
    try:
        peak = peak_air_power(flow=flow.flow, air_power=flow.air_power)
    except ValueError as error:
        peak = str(error)
    watts = np.where(np.isnan(filled.electrical_power), filled.voltage * filled.current,
                     filled.electrical_power)
    for line in orifice_lines(diameter=filled.orifice_diameter[rows].tolist(),
                              suction=filled.suction[rows].tolist(), flow=flow,
                              electrical_power=watts[rows].tolist(), peak=peak):
        say(line)
    for line in (*filled.told, *told):
        say(f"  {line}")
