"""Which values of a file are assumed, with their spreads; and which parts candidates share.

Every default that stands in for a number a person did not give, and that matters, is an entry of
the register; here each is put at its key. A candidate shares with another what is the same part:
one machine (the same motor, rotor and map, the same fit, or said to be the same) or an equal
table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.distributions import Spread
from thrustlapse.propulsor.bench_fit import HEAD_NODES, POWER_NODES
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.nozzle import least_velocity
from thrustlapse.register import (
    HEAD_SHAPE,
    POWER_SHAPE,
    REGISTER,
    SHAPES,
    TYPICAL_SHAPES,
    Assumed,
)
from thrustlapse.rotor.typical import TYPICAL_BASIS
from thrustlapse.scenario.build.candidates import FORWARD
from thrustlapse.scenario.build.installation import BASE_DRAG, POD_DRAG, SCRUBBING_FRICTION
from thrustlapse.scenario.schema.map import CoefficientsMapSection
from thrustlapse.scenario.schema.motor import ConstantsMotorSection
from thrustlapse.scenario.schema.propulsor import (
    LIPS,
    AxialFanSection,
    BlowerSection,
    CandidateSection,
    DuctedPropellerSection,
)
from thrustlapse.scenario.schema.uncertainty import spreads_of
from thrustlapse.scenario.section import Section
from thrustlapse.scenario.spread_text import Uncertain

ROUNDED = dict(LIPS)["rounded"]


@dataclass(frozen=True, kw_only=True)
class _Place:
    """Where an entry of the register stands in a candidate.

    ``applies`` to a section with nothing given at the key; of a factor the ``nominal`` value, read
    from the built candidate, or ``value``.
    """

    entry: str
    table: str
    key: str
    applies: Callable[[Any], bool]
    nominal: Callable[[Candidate], float] | None = None
    value: float | None = None


def _ducted(section: Any) -> bool:
    return hasattr(section, "nozzle")


def _always(section: Any) -> bool:
    return section is not None


def _constants(section: Any) -> bool:
    return isinstance(section.motor, ConstantsMotorSection)


def _unit(*names: str) -> Callable[[Candidate], float]:
    def get(candidate: Candidate) -> float:
        part: Any = candidate.unit
        for name in names:
            part = getattr(part, name)
        return float(np.mean(part))
    return get



def _own_pod(section: Any) -> bool:
    """Whether the pod's drag follows from the assumed coefficient."""
    given = section.installation
    if given.given("pod_drag_area") or given.parts:
        return False
    return not isinstance(section, DuctedPropellerSection) or given.pod_diameter is not None


PLACES = (
    _Place(entry="nozzle velocity", table="nozzle", key="velocity_coefficient",
           applies=_ducted),
    _Place(entry="nozzle contraction", table="nozzle", key="discharge_coefficient",
           applies=_ducted),
    _Place(entry="ram recovery", table="inlet", key="ram_recovery",
           applies=lambda one: _ducted(one) and bool(
               np.all(one.inlet.facing <= FORWARD + 1e-9))),
    _Place(entry="inlet loss", table="inlet", key="loss_coefficient", applies=_ducted,
           nominal=_unit("inlet", "loss_coefficient")),
    _Place(entry="duct loss", table="duct", key="loss_coefficient", applies=_ducted,
           nominal=_unit("duct", "loss_coefficient")),
    _Place(entry="wall roughness", table="duct", key="roughness", applies=_ducted,
           nominal=_unit("duct", "roughness")),
    _Place(entry="heat share", table="duct", key="heat_share", applies=_ducted),
    _Place(entry="controller efficiency", table="drive", key="controller_efficiency",
           applies=_constants),
    _Place(entry="motor leads", table="drive", key="motor_lead_resistance",
           applies=_constants),
    _Place(entry="controller leads", table="drive", key="controller_lead_resistance",
           applies=_always),
    _Place(entry="no-load growth", table="motor", key="no_load_current_slope",
           applies=_constants, nominal=_unit("drive", "motor", "no_load_current_slope")),
    _Place(entry="pod drag", table="installation", key="pod_drag_coefficient",
           applies=_own_pod, value=POD_DRAG),
    _Place(entry="base drag", table="installation", key="base_drag_coefficient",
           applies=_always, value=BASE_DRAG),
    _Place(entry="scrubbing drag", table="installation", key="scrubbing_friction",
           applies=_always, value=SCRUBBING_FRICTION))
"""Every entry of the register that stands at a key."""


def assumed(sections: Mapping[str, CandidateSection],
            candidates: Mapping[str, Candidate]) -> Iterator[Assumed]:
    """Everything the register says of the candidates of a file."""
    for name, section in sections.items():
        freed = set(section.fit.unknowns) if section.fit and _read(section) else set()
        for one in _of_candidate(name, section, candidates[name]):
            of_form = {HEAD_SHAPE: HEAD_NODES, POWER_SHAPE: POWER_NODES}.get(one.entry, ())
            if not freed & {one.spread.key.removeprefix(f"candidates.{name}."), *of_form}:
                yield one


def _read(section: CandidateSection) -> bool:
    """Whether it is known by readings: what a bench told of such a one stands at its keys too."""
    return getattr(section, "readings", None) is not None


def _of_candidate(name: str, section: CandidateSection,
                  candidate: Candidate) -> Iterator[Assumed]:
    for one in PLACES:
        table = getattr(section, one.table, None)
        if table is None or not one.applies(section) or table.given(one.key):
            continue
        spread = _at(REGISTER[one.entry].spread, one, candidate)
        if spread is None:
            continue
        if one.entry == "nozzle velocity" and table.given("discharge_coefficient"):
            spread = replace(spread, low=float(np.max(least_velocity(
                discharge_coefficient=table.discharge_coefficient))))
        made = Assumed(entry=one.entry, candidate=name, spread=replace(
            spread, key=f"candidates.{name}.{one.table}.{one.key}"))
        if one.entry == "nozzle contraction":
            made = replace(made, velocity=_unit("nozzle", "velocity_coefficient")(candidate),
                           velocity_key=f"candidates.{name}.nozzle.velocity_coefficient")
        yield made
    yield from _of_readings(name, section)
    if isinstance(getattr(section, "map", None), CoefficientsMapSection):
        basis = section.map.band.basis  # type: ignore[union-attr]
        for entry, width in zip(SHAPES, TYPICAL_SHAPES if basis == TYPICAL_BASIS else SHAPES,
                                strict=True):
            yield Assumed(entry=entry, candidate=name, source=REGISTER[width].source,
                          spread=replace(REGISTER[width].spread, key=f"candidates.{name}.map"))
    lip = getattr(getattr(section, "inlet", None), "lip", None)
    if lip is not None and not isinstance(lip, Uncertain) and np.ndim(lip) == 0 and lip == ROUNDED:
        yield Assumed(entry="rounded lip", candidate=name, spread=replace(
            REGISTER["rounded lip"].spread, key=f"candidates.{name}.inlet.lip"))


def _of_readings(name: str, section: CandidateSection) -> Iterator[Assumed]:
    """Instrument errors of a machine known by readings; none where the file states its own."""
    read = getattr(section, "readings", None)
    if read is None:
        return
    values: list[tuple[str, str, Any]] = [
        (entry, f"readings.{key}", getattr(read, key, None)) for entry, key in INSTRUMENTS]
    if isinstance(section, BlowerSection | AxialFanSection):
        values.append(("typical wheel" if read.shaft_speed is None else "wheel of a known speed",
                       "rotor.tip_diameter", section.rotor.tip_diameter))
        if isinstance(section, BlowerSection) and isinstance(
                section.map, CoefficientsMapSection) and section.map.band.basis == TYPICAL_BASIS:
            values.append(("typical shut-off power", "map.shutoff_power",
                           section.map.shutoff_power))
        if not read.given("supply", "full_voltage"):
            values.append(("drive law", "readings.full_voltage", 1.0))
    elif not read.given("drive_efficiency") and len(
            read.given("electrical_power", "shaft_power")) == 1:
        values.append(("drive efficiency", "readings.drive_efficiency", 1.0))
    for entry, key, value in values:
        if value is None or isinstance(value, Uncertain) or np.ndim(value):
            continue
        spread, scale = REGISTER[entry].spread, float(value)
        yield Assumed(entry=entry, candidate=name, spread=replace(
            spread, key=f"candidates.{name}.{key}", nominal=scale * spread.nominal,
            low=scale * spread.low, high=scale * spread.high))


INSTRUMENTS = (
    ("thrust reading", "thrust"), ("power reading", "electrical_power"),
    ("power reading", "shaft_power"), ("exit ruler", "exit_diameter"),
    ("speed reading", "shaft_speed"), ("suction reading", "shut_pressure"),
    ("thrust reading", "second_thrust"), ("exit ruler", "second_exit_diameter"))
"""Entries of the register for the keys of a table of readings."""


def _at(spread: Spread, place: _Place, candidate: Candidate) -> Spread | None:
    """The entry's spread as values of the key; None where there is nothing to vary."""
    value = place.value if place.nominal is None else place.nominal(candidate)
    if value is None:
        return spread
    if value <= 0.0:
        return None
    scale = value / spread.nominal
    return replace(spread, nominal=value, low=scale * spread.low, high=scale * spread.high)


# What is the same part --------------------------------------------------------------------------

MACHINE = ("motor", "rotor", "map", "table", "diameter")
"""Tables and keys that together make a machine."""


def same_parts(candidates: Mapping[str, CandidateSection]) -> dict[tuple[str, str], str]:
    """First candidate that has the same part: (candidate, table) -> candidate.

    The table "" stands for the machine as a whole.
    """
    found: dict[tuple[str, str], str] = {}
    names = list(candidates)
    for place, name in enumerate(names):
        for table in ("", *type(candidates[name]).model_fields):
            found[name, table] = next(
                other for other in names[:place + 1]
                if other == name or _same(candidates, other, name, table))
    return found


def _same(candidates: Mapping[str, CandidateSection], one: str, other: str, table: str) -> bool:
    a, b = candidates[one], candidates[other]
    if table and isinstance(getattr(a, table, None), Section):
        return _alike(getattr(a, table), getattr(b, table, None))
    return b.same_machine_as == one or (a.fit is not None and a.fit == b.fit) or (
        type(a) is type(b) and all(_alike(getattr(a, part, None), getattr(b, part, None))
                                   for part in MACHINE))


def _alike(one: Any, other: Any) -> bool:
    """Equal in values and in spreads."""
    if not isinstance(one, Section) or not isinstance(other, Section):
        return bool(one == other) and getattr(one, "spread", None) == getattr(other, "spread", None)
    return one == other and {spread.key: spread.text for _, spread in spreads_of(one)} == {
        spread.key: spread.text for _, spread in spreads_of(other)}
