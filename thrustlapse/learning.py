"""A machine that learns: a scenario, a machine's file, and all evidence of it put together."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.bench.evidence import (
    BENCH,
    LABEL,
    LOG,
    SOUND,
    TABLE,
    Piece,
    at_voltage,
    of_a_label,
)
from thrustlapse.bench.readings import AS_FLOWN, READ, BenchReadings, bench_readings
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.fit_file import bench_start, fitted_text, tables_text
from thrustlapse.scenario.files.include import put_together
from thrustlapse.scenario.files.machine_file import MachineFile, machine_text, read_machine
from thrustlapse.scenario.files.read import expanded_tables, load_file, read_tables
from thrustlapse.scenario.readings.bench_file import read_bench
from thrustlapse.scenario.readings.log_file import read_log
from thrustlapse.study.bench_fit import FitError, FittedMachine
from thrustlapse.study.evidence import (
    Disagreement,
    Step,
    disagreements,
    history,
    in_order,
    machine_of,
    read_at_rest,
    read_in_flight,
)
from thrustlapse.study.log_study import study_log
from thrustlapse.study.next_experiment import NextExperiments
from thrustlapse.study.next_experiment import next_experiments as ranked
from thrustlapse.study.verdict_question import Verdict

GIVEN = "given"
"""Date of the readings that a description itself holds."""


class EvidenceError(ValueError):
    """Evidence that cannot be taken in, or is not there, in words."""


@dataclass(frozen=True, kw_only=True)
class Machine:
    """A candidate with its evidence.

    ``scenario`` has it as it was described and as a fit starts from; ``described`` are its tables
    then. ``own`` is the table of readings of the description itself, which counts as evidence;
    ``pieces`` are those of its file, which is ``file``, there or not yet, ``included`` by the
    scenario or not.
    """

    scenario: Scenario
    name: str
    file: Path
    described: dict[str, Any]
    own: tuple[Piece, ...]
    pieces: tuple[Piece, ...]
    included: bool

    @property
    def evidence(self) -> tuple[Piece, ...]:
        """All of it; what was read at no known voltage was read at about the description's."""
        if not self.own:
            return self.pieces
        volts = float(self.own[0].readings.voltage[0])
        return (*self.own, *(replace(one, readings=at_voltage(one.readings, volts))
                             for one in self.pieces))


def machine(scenario: Scenario, name: str) -> Machine:
    """A candidate of a scenario with the evidence that its file holds.

    Raises
    ------
    EvidenceError
        Where there is no such candidate, or a file of that name that is no machine's.
    ScenarioError
        Where its file is not as it was written.
    """
    if name not in scenario.candidates:
        raise EvidenceError(f"no candidate is called {name!r}: the scenario has "
                            f"{', '.join(scenario.candidates)}")
    raw = expanded_tables(scenario.path)
    told = load_file(scenario.path)[2]["candidates"][name]
    included = told.get("include")
    file = scenario.path.parent / (included or f"{name}.machine.toml")
    kept = read_machine(file) if file.exists() else MachineFile(
        described=raw["candidates"][name], pieces=())
    if kept is None:  # a candidate's file without evidence is a description
        kept = MachineFile(described=load_file(file)[2], pieces=())
    if not included and kept.described != told:
        raise EvidenceError(f"{file} holds evidence of a machine that is described otherwise than "
                            f"{name} of {scenario.path}: include it there, or move it away")
    beside = {key: value for key, value in told.items() if key != "include"}
    described, _ = put_together(kept.described, beside if included else {})
    return replace(_machine(scenario, name, file=file, raw=raw, kept=replace(
        kept, described=described)), included=included is not None)


def _machine(scenario: Scenario, name: str, file: Path, raw: dict[str, Any],
             kept: MachineFile) -> Machine:
    raw = {**raw, "candidates": {**raw["candidates"], name: kept.described}}
    whole = read_tables(raw, scenario)
    known = whole.candidates[name].known_by
    own: tuple[Piece, ...] = ()
    if known is not None:
        digest = hashlib.sha256(json.dumps(kept.described, sort_keys=True, default=str).encode(
            "utf-8")).hexdigest()
        own = (Piece(kind=TABLE, name=f"readings of {name}", digest=digest, date=GIVEN,
                     readings=read_at_rest(known)),)
        volts = np.concatenate([one.readings.voltage for one in (*own, *kept.pieces)])
        whole = read_tables(bench_start(raw, name, volts=volts), scenario)
    return Machine(scenario=whole, name=name, file=file, described=kept.described, own=own,
                   pieces=kept.pieces, included=False)


def with_piece(told: Machine, piece: Piece) -> Machine:
    """The machine with one more piece.

    Raises
    ------
    EvidenceError
        Where the very same file was taken in before.
    """
    same = [one for one in told.pieces if one.digest == piece.digest]
    if same:
        raise EvidenceError(f"{piece.name}: taken in already, as {same[0].name} of "
                            f"{same[0].date}; nothing counts twice")
    return replace(told, pieces=(*told.pieces, piece))


def without_piece(told: Machine, name: str) -> Machine:
    """The machine as if a piece, by the name of its file or the start of its digest, had never
    been.

    Raises
    ------
    EvidenceError
        Where none or several are called so.
    """
    gone = [one for one in told.pieces if one.name == name or (
        len(name) >= 6 and one.digest.startswith(name))]
    if len(gone) != 1:
        there = ", ".join(f"{one.name} ({one.digest[:8]})" for one in told.pieces) or "none"
        raise EvidenceError(f"{name!r} names {len(gone)} pieces of {told.name}; there are: {there}")
    return replace(told, pieces=tuple(one for one in told.pieces if one is not gone[0]))


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What all evidence makes of a machine, and which pieces the others contradict."""

    machine: Machine
    fit: FittedMachine
    against: tuple[Disagreement, ...]


def learned(told: Machine) -> Learned:
    """The machine of all its evidence.

    Raises
    ------
    EvidenceError
        Where nothing fits it.
    """
    try:
        fit = machine_of(told.scenario.candidates[told.name], told.evidence)
    except FitError as error:
        raise EvidenceError(str(error)) from None
    return Learned(machine=told, fit=fit, against=disagreements(fit, told.evidence))


def learned_text(found: Learned) -> str:
    """Text of the machine's file.

    Raises
    ------
    EvidenceError
        Where no scenario may have what was learned.
    """
    told = found.machine
    if not told.pieces:  # as if there had never been any
        return machine_text(tables_text(told.described), told.described, ())
    names = ", ".join(one.name for one in in_order(told.evidence))
    doubt = "".join(f"; {one.name} disagrees with the rest" for one in found.against)
    raw = expanded_tables(told.scenario.path)
    raw["candidates"][told.name] = told.described
    try:
        text = fit_text(told.name, found.fit, told.scenario, raw,
                        bench=f"{counted(told.evidence)} of evidence ({names}){doubt}")
    except ScenarioError as error:
        raise EvidenceError(f"no scenario may have what this evidence makes of {told.name}: "
                            f"{error}") from None
    return machine_text(text, told.described, told.pieces)


def fit_text(name: str, one: FittedMachine, scenario: Scenario, raw: dict[str, Any] | None = None,
             *, bench: str = "") -> str:
    """Text of the file of a fitted candidate; ``raw`` where the scenario has no file of its own.

    ``bench`` says what it was fitted to, in place of the readings' count and source.
    """
    kept = list(one.kept)
    known = one.candidate.known_by
    start = f"candidates.{name}."
    held = {each.spread.key.removeprefix(start): each.spread.nominal for each in scenario.assumed
            if each.entry == "no-load growth" and each.candidate == name}
    said = bench or f"{len(one.readings)} readings of {Path(one.readings.source).name}"
    return fitted_text(
        scenario.path if raw is None else raw, name, volts=one.readings.voltage,
        full=None if known is None or one.rival is not None else bool(known.full),
        values={one.unknowns[place].key: float(one.values[place]) for place in kept},
        covariance=one.covariance[kept][:, kept],
        held=held, velocity_coefficient=one.velocity_coefficient,
        bench=said[:300],
        remarks=(f"{name} of {scenario.path.name}, fitted to readings.",
                 "Fitted, in SI, one standard deviation; everything else as it was described:"))


# Pieces -----------------------------------------------------------------------------------------


def bench_piece(file: Path, *, date: str, kind: str = BENCH) -> Piece:
    """A bench file, or what a label says in the form of one, as evidence; raises ScenarioError."""
    readings = read_bench(file)
    return Piece(kind=kind, name=file.name, digest=_digest(file), date=date,
                 readings=of_a_label(readings) if kind == LABEL else readings)


def log_piece(told: Machine, file: Path, *, date: str) -> Piece:
    """A flight log as evidence of the machine it was flown with.

    Raises
    ------
    EvidenceError
        Without an airframe, or where the log says nothing of the machine.
    """
    scenario, candidate = told.scenario, told.scenario.candidates[told.name]
    if scenario.airframe is None:
        raise EvidenceError("no [airframe], so there is no drag to lay a log over")
    try:
        found = study_log(read_log(file), candidate, scenario.airframe).reduction
        readings = read_in_flight(found, candidate)
    except ValueError as error:
        raise EvidenceError(f"{file}: {error}") from None
    return Piece(kind=LOG, name=file.name, digest=_digest(file), date=date, readings=readings)


def speed_piece(file: Path, speed: float, deviation: float, *, date: str,
                nozzle: float = np.nan, voltage: float = np.nan,
                setting: str = AS_FLOWN) -> Piece:
    """A shaft speed [rad/s] that a recording told, under the conditions it was made in.

    A tone is read far better than those conditions are known: the speed is worth what one usually
    is, and the tone's own deviation.
    """
    wide = float(np.hypot(deviation, READ["shaft_speed"].usual.at(np.asarray(speed))))
    readings: BenchReadings = bench_readings(
        shaft_speed=[speed], nozzle_diameter=nozzle, voltage=voltage, setting=[setting],
        spread={"shaft_speed": wide}, source=file.name)
    return Piece(kind=SOUND, name=file.name, digest=_digest(file), date=date, readings=readings)


def _digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


# Questions --------------------------------------------------------------------------------------


def machine_history(told: Machine) -> tuple[Step, ...]:
    """What each piece changed, by the dates of the pieces; raises EvidenceError."""
    try:
        return history(told.scenario, told.name, told.evidence)
    except FitError as error:
        raise EvidenceError(str(error)) from None


def next_experiments(scenario: Scenario, candidate: str = "", *, rival: str = "",
                     reach: float | None = None, nozzle: float | None = None,
                     airspeed: float = 0.0, flights: bool = True) -> NextExperiments:
    """Which experiment with a candidate is likeliest to settle a verdict.

    Parameters
    ----------
    candidate : str
        The first one whose file holds evidence, else the first that is ducted, else the first
    rival : str
        Which is faster in level flight, or pulls more at the airspeed where there is no airframe;
        the first other candidate where nothing is asked
    reach : float, optional
        Whether this speed is reached in level flight [m/s], in its place
    nozzle : float, optional
        Whether a nozzle of this diameter [m] pulls more at the airspeed [m/s], in its place
    flights : bool
        Rank flights too, not the bench alone

    Raises
    ------
    EvidenceError
        Where the scenario has no such verdict.
    """
    name = candidate or _usual(scenario)
    told = machine(scenario, name)
    others = [key for key in scenario.candidates if key != name]
    if not rival and reach is None and nozzle is None:
        if not others:
            raise EvidenceError("one candidate alone has no rival: ask for a speed to reach or "
                                "another nozzle")
        rival = others[0]
    found = learned(told)
    try:
        made = ranked(told.scenario, name, found.fit, Verdict(
            rival=rival, reach=reach, nozzle=nozzle, airspeed=airspeed), flights=flights)
    except FitError as error:
        raise EvidenceError(str(error)) from None
    return replace(made, against=found.against)


def with_evidence(scenario: Scenario) -> tuple[str, ...]:
    """Candidates whose file, which the scenario includes, holds evidence; raises ScenarioError."""
    if not scenario.path.exists():
        return ()
    tables = load_file(scenario.path)[2].get("candidates", {})
    return tuple(name for name, table in tables.items() if "include" in table
                 and read_machine(scenario.path.parent / table["include"]))


def _usual(scenario: Scenario) -> str:
    ducted = [name for name, one in scenario.candidates.items() if isinstance(one.unit, Ducted)]
    return (*with_evidence(scenario), *ducted, *scenario.candidates)[0]


def counted(pieces: Sequence[Piece]) -> str:
    """How many pieces, in words."""
    return f"{len(pieces)} piece{'' if len(pieces) == 1 else 's'}"


def piece_names(pieces: Sequence[Piece]) -> list[str]:
    """Pieces in words: kind, name, date, readings."""
    return [f"{one.kind}: {one.name}, {one.date}, {len(one.readings)} "
            f"reading{'s' if len(one.readings) > 1 else ''}" for one in pieces]
