"""One scenario on the editor: its text with other values, what the solver says, and writing back.

Nothing here knows of a network. Every call starts from the text of the file and a set of changes,
so there is no state to get out of step with what the person sees.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.report.atomic_write import ADOPTED, MANIFEST, ReportError, edit_file
from thrustlapse.report.comparison.write_up import write_report
from thrustlapse.report.live.files import (
    airframe_record,
    band_record,
    flag_places,
    show_looks,
)
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import KeyPath, ScenarioError, key_text
from thrustlapse.scenario.files.edit_text import edited_text
from thrustlapse.scenario.files.editable_values import Handle, handles
from thrustlapse.scenario.files.read import read_scenario, read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.evaluate import Cases, Evaluation, cases_of, evaluate
from thrustlapse.study.limits.table import STOPS
from thrustlapse.study.live_table import live_band, live_table
from thrustlapse.study.sampling import drawables, shares, with_draws

AIRSPEEDS = 120
"""Airspeeds of a curve."""

DRAWN, BAND_SEED, BAND_AIRSPEEDS = 64, 1, 31
"""Draws of a band while a person looks on, and the airspeeds at which they are flown."""

WELL_KNOWN = 0.9
"""Share of the draws that must have a value where a band is drawn."""

MOST_CHANGES = 200
LONGEST_VALUE = 200

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,59}")
"""Names of write-ups: a plain folder beside the scenario and nothing else."""

RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
"""Names that some systems keep for devices."""

Changes = Mapping[KeyPath, str]


class DeskError(ValueError):
    """Something that cannot be done; its message is for the person at the page."""


@dataclass
class ScenarioEditor:
    """A scenario file that is being worked on.

    ``folder`` is where write-ups go; nothing is written outside it but the scenario itself.
    ``known`` are the numbers that can be moved, ``mark`` the hash of the file as it was read.
    """

    file: Path
    folder: Path
    text: str = field(init=False)
    mark: str = field(init=False)
    scenario: Scenario = field(init=False)
    known: tuple[Handle, ...] = field(init=False)
    _flown: dict[str, tuple[OperatingPoint, str]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.load()

    def load(self) -> None:
        """Read the file anew; raises ScenarioError and leaves the editor as it was."""
        data = self.file.read_bytes() if self.file.is_file() else b""
        scenario = read_scenario(self.file)
        self.text = data.decode("utf-8-sig")
        self.mark, self.scenario = hashlib.sha256(data).hexdigest(), scenario
        self.known = handles(scenario)

    def changed(self, changes: Changes) -> Scenario:
        """The scenario with other values; raises ScenarioError with every fault."""
        if len(changes) > MOST_CHANGES:
            raise DeskError(f"{len(changes)} changes at once; at most {MOST_CHANGES} are taken")
        keys = {one.key for one in self.known}
        for key, value in changes.items():
            if key not in keys:  # so no change can reach a file name or a table
                raise DeskError(f"{key_text(key)[:200]} is no number of {self.file.name} that "
                                "can be moved")
            if len(value) > LONGEST_VALUE:
                raise DeskError(f"a value longer than {LONGEST_VALUE} characters")
        if not changes:
            return self.scenario
        return read_text(edited_text(self.text, changes, name=self.file.name),
                         name=self.file.name, folder=self.file.parent)

    def picture(self, changes: Changes) -> dict[str, Any]:
        """What the page draws: curves of every candidate from the solver itself, SI units."""
        return curves(self.changed(changes), flown=self._flown)

    def band(self, changes: Changes) -> list[dict[str, Any] | None]:
        """The band of each candidate's thrust, by a few draws of all that is not known."""
        return bands(self.changed(changes))

    def write(self, changes: Changes) -> None:
        """Put the changed values into the file, comments and all else kept.

        Raises
        ------
        ScenarioError
            Where the changed file would not do.
        DeskError
            Where someone else changed the file meanwhile, or it cannot be written.
        """
        self.changed(changes)
        try:
            data = self.file.read_bytes()
        except OSError as problem:
            raise DeskError(f"{self.file.name} cannot be read any more: {problem.strerror}"
                            ) from None
        if hashlib.sha256(data).hexdigest() != self.mark:
            raise DeskError(f"{self.file.name} was changed by someone else since it was read; "
                            "nothing was written. Start again from the file to see it")
        mark = "\ufeff" if data.startswith(b"\xef\xbb\xbf") else ""
        try:
            edit_file(self.file, mark + edited_text(self.text, changes, name=self.file.name),
                      before=data)
        except ReportError as error:
            raise DeskError(str(error)) from None
        self.load()

    def write_up(self, changes: Changes, name: str) -> Path:
        """The whole comparison of the changed scenario, written up in a folder of that name."""
        if NAME.fullmatch(name) is None or RESERVED.fullmatch(name.split(".")[0].strip()):
            raise DeskError(f"{name[:70]!r} cannot be the name of a write-up: letters, digits, "
                            "spaces, - and _ can, up to 60 of them, a letter or digit first")
        where = self.folder / name
        if where.is_symlink() or (where.exists() and not any(
                (where / mark).is_file() for mark in (MANIFEST, *ADOPTED))):
            raise DeskError(f"{name!r} is already there and is no write-up: take another name")
        scenario = self.changed(changes)
        answer = compare(scenario)
        try:
            return write_report(answer, where, scenario_text=scenario.text,
                                live=live_table(scenario, answer))
        except ReportError as error:
            raise DeskError(str(error)) from None


def curves(scenario: Scenario, *, flown: dict[str, tuple[OperatingPoint, str]]) -> dict[str, Any]:
    """Curves of a scenario as the page reads them, in the form of the table a write-up carries.

    ``flown`` remembers the last curve of each candidate and what it was flown from: a move of one
    machine leaves the others as they are, and one of the airframe leaves all.
    """
    air = scenario.site.air()
    airspeed = np.linspace(0.0, max(float(scenario.airspeeds[-1]), 20.0), AIRSPEEDS)
    sets, cases = [""], cases_of(scenario)
    points = {name: _fly(scenario, one, airspeed[1:], flown) for name, one in cases.items()}
    candidates: list[dict[str, Any]] = [{
        "name": name, "mass": float(np.asarray(one.installed_mass)), "diameter": [0.0],
        "own_diameter": None, "limits": [], "band": None,
        "stops": _stops(cases[name], points[name]),
        "values": _values(points[name], sets)} for name, one in scenario.candidates.items()]
    show_looks(candidates, {name: one.kind for name, one in scenario.candidates.items()})
    return {
        "airspeed": airspeed.tolist(), "density": float(air.density),
        "speed_of_sound": float(air.speed_of_sound),
        "drive": {"values": [0.0]},
        "airframe": airframe_record(scenario.airframe),
        "candidates": candidates, "flag_sets": sets}


def bands(scenario: Scenario) -> list[dict[str, Any] | None]:
    """Nine in ten of :data:`DRAWN` draws of every candidate's thrust, about it as it stands; None
    for all where nothing is drawn, or where draws break a rule between keys."""
    inputs = drawables(scenario)
    if not inputs:
        return [None] * len(scenario.candidates)
    fastest = max(float(scenario.airspeeds[-1]), 20.0)
    airspeed, flown = (np.linspace(0.0, fastest, count) for count in (AIRSPEEDS, BAND_AIRSPEEDS))
    try:
        many = with_draws(scenario, inputs, shares(DRAWN, len(inputs), seed=BAND_SEED))
    except ScenarioError:
        return [None] * len(scenario.candidates)
    found, own = [], cases_of(scenario)
    for name, cases in cases_of(many, count=DRAWN).items():
        drawn = evaluate(cases, flown[1:]).flown.installed_thrust
        thrust = evaluate(own[name], flown[1:]).flown.installed_thrust
        known = np.isfinite(drawn).mean(axis=0) > WELL_KNOWN
        low, high = (np.where(known, np.nanquantile(np.where(known, drawn, 0.0), side, axis=0),
                              np.nan) for side in (0.05, 0.95))
        found.append(band_record(live_band(low, high, own=thrust, flown=flown, airspeed=airspeed,
                                           rest=float(thrust[0]))))
    return found


def _stops(cases: Cases, point: OperatingPoint) -> list[str]:
    """What every limit that says stop says of a candidate; its curve begins at rest."""
    states = Evaluation(cases=cases, flown=point).states
    found = [limit.finding(states) for limit in STOPS.values()]
    return [f"{cases.candidate.name}: {one.text}" for one in found
            if one is not None and one.rank == "stop"]


def _fly(scenario: Scenario, cases: Cases, airspeed: Array,
         flown: dict[str, tuple[OperatingPoint, str]]) -> OperatingPoint:
    """A candidate's curve, solved only where something it rests on has changed."""
    section, leader, name = scenario.section, scenario.comparison.reference, cases.candidate.name
    rests_on = repr((section.candidates[name], section.site, section.pack,
                     section.supply, section.wiring, section.comparison, float(airspeed[-1]),
                     None if leader is None else section.candidates[leader]))
    if name not in flown or flown[name][1] != rests_on:
        flown[name] = evaluate(cases, airspeed).flown, rests_on
    return flown[name][0]


def _values(point: OperatingPoint, sets: list[str]) -> dict[str, list[Any]]:
    def plain(values: Array) -> list[float | None]:
        return [float(f"{value:.7g}") if known else None
                for value, known in zip(values.tolist(), (point.valid & np.isfinite(values))
                                        .tolist(), strict=True)]

    return {"thrust": plain(point.installed_thrust), "current": plain(point.current),
            "motor_current": plain(point.motor_current),
            "flags": flag_places(point.flag_bits, sets).tolist()}


def faults_of(error: ScenarioError) -> list[dict[str, str]]:
    """Faults as the page lists them; the words are those of ``check``."""
    return [{"key": one.key, "text": str(one)} for one in error.faults[:20]]
