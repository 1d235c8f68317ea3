"""What the commands of evidence and of the next experiment do; it waits for all they need."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from thrustlapse import __version__
from thrustlapse.bench.blade_tone import choose_meaning
from thrustlapse.bench.evidence import BENCH, LOG, SOUND, Piece
from thrustlapse.bench.readings import AS_FLOWN
from thrustlapse.bench.tone import find_tones
from thrustlapse.commands.console import faults_told, quantity, read, say, stop
from thrustlapse.learning import (
    EvidenceError,
    Learned,
    bench_piece,
    counted,
    learned,
    learned_text,
    log_piece,
    machine,
    machine_history,
    next_experiments,
    piece_names,
    speed_piece,
    with_piece,
    without_piece,
)
from thrustlapse.report.atomic_write import write_file
from thrustlapse.report.evidence.page import Origin, write_history, write_next
from thrustlapse.report.evidence.words import (
    cautions_of,
    chance_text,
    described,
    disagreement_sentences,
    history_headline,
    next_headline,
    next_sentences,
)
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.text_file import bytes_of
from thrustlapse.scenario.readings.recording import read_recording

SOUNDS = (".wav", ".wave")
"""Endings of recordings."""

RPM = np.pi / 30.0


@contextmanager
def told() -> Iterator[None]:
    """Within it, what is wrong with evidence or a file stops the command in words."""
    with faults_told():
        try:
            yield
        except EvidenceError as error:
            stop(str(error))


def add(file: Path, evidence: Path, name: str, *, kind: str, date: str, blades: int | None,
        nozzle: str | None, voltage: str | None, setting: str | None,
        expected: str | None) -> None:
    """Take a piece of evidence in."""
    scenario = read(file)
    with told():
        before = machine(scenario, name)
        made = kind or _kind_of(evidence)
        if made == SOUND:
            piece = _sound(evidence, date=date, blades=blades, nozzle=nozzle, voltage=voltage,
                           setting=setting, expected=expected)
        elif made == LOG:
            piece = log_piece(before, evidence, date=date)
        else:
            piece = bench_piece(evidence, date=date, kind=made)
        _kept(learned(with_piece(before, piece)), file)


def drop(file: Path, piece: str, name: str) -> None:
    """Take a piece away again."""
    scenario = read(file)
    with told():
        _kept(learned(without_piece(machine(scenario, name), piece)), file)


def _kept(found: Learned, scenario: Path) -> None:
    kept = found.machine
    text = learned_text(found)
    write_file(kept.file, text)
    say(f"{kept.name}, by {counted(kept.evidence)} of evidence:")
    for line in (*piece_names(kept.evidence), *disagreement_sentences(found.against)):
        say(f"  {line}")
    say(f"\nwritten: {kept.file}")
    if not kept.included:
        say(f'In {scenario}, in place of the tables of {kept.name}: include = "{kept.file.name}"')


def show(file: Path, name: str, folder: Path | None) -> None:
    """Write the history of a machine up."""
    scenario = read(file)
    with told():
        kept = machine(scenario, name)
        found, steps = learned(kept), machine_history(kept)
        page = write_history(name, steps, found.against, origin=_origin(scenario),
                             folder=folder or Path(f"{name}-evidence"))
    say(history_headline(steps))
    for line in (*piece_names(kept.evidence), *disagreement_sentences(found.against)):
        say(f"  {line}")
    say(f"\nwritten: {page}")


def following(file: Path, folder: Path | None, *, candidate: str, rival: str, reach: str | None,
              nozzle: str | None, airspeed: str, bench: bool) -> None:
    """Rank the experiments, and write the ranking up."""
    scenario = read(file)
    with told():
        found = next_experiments(
            scenario, candidate, rival=rival,
            reach=None if reach is None else quantity("--reach", reach, "speed", low=0.1),
            nozzle=None if nozzle is None else quantity("--nozzle", nozzle, "length", low=1e-4),
            airspeed=quantity("--at", airspeed, "speed", low=0.0), flights=not bench)
        page = write_next(found, origin=_origin(scenario),
                          folder=folder or Path(f"{file.stem}-next"))
    say(next_headline(found))
    for line in next_sentences(found):
        say(f"  {line}")
    if not found.settled:
        for one in found.experiments:
            say(f"  {chance_text(one.expected_chance_settled):>14}  {one.minutes:.0f} min  "
                f"{described(one)}")
        for line in cautions_of(found):
            say(f"  caution: {line}")
    say(f"\nwritten: {page}")


def _origin(scenario: Scenario) -> Origin:
    return Origin(title=scenario.title, invented=scenario.invented, digest=scenario.digest,
                  version=__version__)


def _kind_of(file: Path) -> str:
    """Kind of a file of evidence: by its ending, and of a table by whether it has a time."""
    if file.suffix.lower() in SOUNDS:
        return SOUND
    text = bytes_of(file, noun="evidence", form="in CSV", largest=20_000_000,
                    too_large="too large for readings", starter_hint="").decode("utf-8", "replace")
    heads = next((line for line in text.splitlines()
                  if line.strip() and not line.startswith("#")), "")
    return LOG if any(cell.strip().lower().startswith("time") for cell in
                      heads.replace(";", ",").split(",")) else BENCH


def _sound(file: Path, *, date: str, blades: int | None, nozzle: str | None, voltage: str | None,
           setting: str | None, expected: str | None) -> Piece:
    if blades is None:
        raise EvidenceError(f"{file}: a sound needs --blades, the number of blades of the rotor")
    sound = read_recording(file, start=0.0, duration=None)
    try:
        tones = find_tones(samples=sound.samples, rate=sound.rate)
    except ValueError as error:
        raise EvidenceError(f"{file}: {error}") from None
    choice = choose_meaning(
        tones, blades=blades, lowest=200.0 * RPM, highest=150_000.0 * RPM,
        expected=None if expected is None else quantity("--expected", expected, "shaft speed"),
        expected_deviation=None)
    if not choice.chosen:
        raise EvidenceError(f"{file}: it decides no shaft speed ({'; '.join(choice.reasons)}); "
                            "thrustlapse bench speed says more")
    best = choice.meanings[0]
    return speed_piece(
        file, best.speed, best.deviation, date=date, setting=setting or AS_FLOWN,
        nozzle=np.nan if nozzle is None else quantity("--nozzle", nozzle, "length", low=1e-4),
        voltage=np.nan if voltage is None else quantity("--voltage", voltage, "voltage", low=0.1))
