"""What is assumed of a machine on a bench, as unknowns of its fit with the register's priors.

The values nobody gave, the form of the map, and the gains of the instruments, each common to all
that one instrument read. Gains belong to the bench: they widen a fit and are not drawn in flight.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.bench.readings import BenchReadings
from thrustlapse.distributions import REACH, Spread
from thrustlapse.propulsor.bench_fit import (
    CONTRACTION,
    FALL_FORM,
    FLOW_FORM,
    HEAD_NODES,
    POWER_NODES,
)
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.nozzle import widest_discharge
from thrustlapse.register import HEAD_SHAPE, POWER_SHAPE, REGISTER, SHAPES, Assumed
from thrustlapse.rotor.map_shape import CORRELATION, NODES, departed
from thrustlapse.study.bench_model import taken
from thrustlapse.study.bench_unknowns import Unknown, stage_field

PARTS = ("nozzle", "inlet", "duct", "motor", "drive")
"""Tables of what a bench at rest can tell of; the drag of an installation it cannot."""

APART = ("inlet.ram_recovery", "nozzle.exit_diameter")
"""Keys that say nothing at rest, or that every reading states for itself."""

OF_READINGS = ("rotor.tip_diameter", "map.shutoff_power")
"""Keys of a machine known by readings that its bench may tell of too."""

OF_PROPELLERS = ("thrust", "electrical_power", "shaft_power", "drive_efficiency")
"""Readings of a propeller that another reading may correct."""

FREE = 0.3
"""Deviation of the logarithm of a thrust and watts that a machine is known by, on a bench, which
then says what they are: the table of readings is where the fit starts."""

STATED = ("inlet.lip", "inlet.throat_area", "inlet.throat_diameter", "inlet.loss_coefficient",
          "duct.loss_coefficient")
"""Keys of a machine known by readings whose spread the file states, as of a lip nobody looked at:
readings of the bench hang on them, and so they are fitted together with its map."""

FIELDS = {"lip": "lip_sharpness"}
"""Names of fields that differ from their key."""

ODD = ("at the edge of what is assumed of it", "at the edge of what is assumed of it")


def assumed_unknowns(candidate: Candidate) -> tuple[Unknown, ...]:
    """Assumed values of a ducted candidate that a bench may tell of."""
    start = f"candidates.{candidate.name}."
    return tuple(_of_entry(one, key) for one in candidate.assumed
                 if ((key := one.spread.key.removeprefix(start)).partition(".")[0] in PARTS
                     or key in OF_READINGS) and key not in APART and one.entry not in SHAPES
                 and not (candidate.read_by and key.startswith("motor.")))


def stated_unknowns(candidate: Candidate) -> tuple[Unknown, ...]:
    """Values of a machine known by readings whose spreads its file states."""
    if candidate.known_by is None:
        return ()
    keys = {one.key.removeprefix(f"candidates.{candidate.name}."): one for one in candidate.stated}
    return tuple(_unknown(key, key.replace(".", " ").replace("_", " "), spread=keys[key],
                          source="the spread that the file states", put=_put(key))
                 for key in STATED if key in keys)


def reading_unknowns(candidate: Candidate) -> tuple[Unknown, ...]:
    """Thrust and watts that a machine known by readings is scaled to, and a propeller's drive."""
    known, start = candidate.known_by, f"candidates.{candidate.name}.readings."
    if candidate.read_by is not None:
        return tuple(replace(_of_entry(one, f"readings.{name}"), reading=name, put=_as_it_is)
                     for one in candidate.assumed
                     if (name := one.spread.key.removeprefix(start)) in OF_PROPELLERS)
    if known is None:
        return ()
    return tuple(_unknown(
        f"readings.{name}", f"{name.replace('_', ' ')} it is known by",
        spread=Spread(nominal=float(np.asarray(getattr(known, name))), form="lognormal",
                      deviation=FREE),
        source="the table of readings, where the fit starts; judgement, no source",
        put=_as_it_is, reading=name) for name in ("thrust", "electrical_power"))


def _of_entry(one: Assumed, key: str) -> Unknown:
    entry = REGISTER[one.entry]
    put = _discharge if one.velocity_key else _put(key)
    return _unknown(CONTRACTION if one.velocity_key else key, entry.words, spread=one.spread,
                    source=entry.source, put=put)


def _unknown(key: str, words: str, spread: Spread, source: str,
             put: Callable[[Ducted, Array], Ducted], **more: Any) -> Unknown:
    low, high = spread.ends
    return Unknown(key=key, words=words, value=float(spread.quantile(np.array(0.5))),
                   centre=0.0, spread=1.0, low=low, high=high, log=False, source=source, put=put,
                   at_low=ODD[0], at_high=ODD[1], prior=spread, **more)


def _put(key: str) -> Callable[[Ducted, Array], Ducted]:
    table, _, name = key.partition(".")
    field = FIELDS.get(name, name)

    if table == "map":
        return stage_field(name)
    if key == "inlet.throat_diameter":
        area = _put("inlet.throat_area")
        return lambda unit, value: area(unit, 0.25 * np.pi * np.square(value))

    def put(unit: Ducted, value: Array) -> Ducted:
        if table == "rotor":
            return _wheel(unit, value)
        home: Any = unit.drive if table == "motor" else unit
        changed = replace(home, **{table: replace(getattr(home, table), **{field: value})})
        return replace(unit, drive=changed) if table == "motor" else changed
    return put


def _wheel(unit: Ducted, tip: Array) -> Ducted:
    """The rotor with another tip diameter behind the same eye, or around the same hub."""
    rotor, area = unit.rotor, unit.rotor.eye_area
    if np.array_equal(rotor.inducer_diameter, rotor.tip_diameter):  # type: ignore[arg-type]
        area = np.asarray(area) + 0.25 * np.pi * (tip**2 - np.square(rotor.tip_diameter))
        rotor = replace(rotor, inducer_diameter=tip)
    return replace(unit, rotor=replace(rotor, tip_diameter=tip, eye_area=area))


def _discharge(unit: Ducted, value: Array) -> Ducted:
    """The discharge coefficient as a share of the widest that the velocity coefficient allows."""
    nozzle = unit.nozzle
    return replace(unit, nozzle=replace(nozzle, discharge_coefficient=value * widest_discharge(
        velocity_coefficient=nozzle.velocity_coefficient)))


def shape_unknowns(candidate: Candidate) -> tuple[Unknown, ...]:
    """Departures of a map's form at its four flows, of head and of power."""
    told = {one.entry: one for one in candidate.assumed}
    return tuple(one for entry, keys in ((HEAD_SHAPE, HEAD_NODES), (POWER_SHAPE, POWER_NODES))
                 for one in _of_shape(entry, keys, told.get(entry)))


def flow_unknowns(candidate: Candidate, readings: BenchReadings) -> tuple[Unknown, ...]:
    """The flow of a typical map, and that of no head, where a shaft speed was read.

    Without one nothing tells a wider wheel from a larger one, and the wheel's size is free.
    """
    if candidate.known_by is None or not np.isfinite(readings.shaft_speed).any():
        return ()
    return tuple(Unknown(
        key=key, words=(known := REGISTER[entry]).words, value=0.0, centre=0.0,
        spread=(deviation := known.spread.deviation), low=-REACH * deviation,
        high=REACH * deviation, log=False, source=known.source, at_low=ODD[0], at_high=ODD[1],
        put=_departs(way)) for key, entry, way in (
            (FLOW_FORM, "typical flow", lambda value: {"flow": np.exp(value)}),
            (FALL_FORM, "typical fall", lambda value: {"fall": value})))


def _departs(way: Callable[[Array], dict[str, Any]]) -> Callable[[Ducted, Array], Ducted]:
    def put(unit: Ducted, value: Array) -> Ducted:
        stage = departed(unit.rotor.stage, last=False, **way(value))
        return replace(unit, rotor=replace(unit.rotor, stage=stage))
    return put


def _of_shape(entry: str, keys: tuple[str, ...], told: Assumed | None) -> tuple[Unknown, ...]:
    deviation = (told or REGISTER[entry]).spread.deviation
    source = (told and told.source) or REGISTER[entry].source
    root = deviation * np.linalg.cholesky(CORRELATION)
    side = "head" if entry == HEAD_SHAPE else "power"

    def put(place: int) -> Callable[[Ducted, Array], Ducted]:
        def bent(unit: Ducted, value: Array) -> Ducted:
            nodes: list[Any] = [0.0] * NODES.size
            nodes[place] = value
            there: dict[str, Any] = {f"{side}_shape": nodes}
            stage = departed(unit.rotor.stage, last=False, **there)
            return replace(unit, rotor=replace(unit.rotor, stage=stage))
        return bent

    return tuple(Unknown(
        key=key, words=f"form of the {side}, {key.rpartition('.')[2].replace('_', ' ')}", value=0.0,
        centre=0.0, spread=deviation, low=-REACH * deviation, high=REACH * deviation, log=False,
        source=source, at_low=ODD[0], at_high=ODD[1], put=put(place), group=entry,
        weights=tuple(root[place].tolist())) for place, key in enumerate(keys))


READ_BY = {"thrust gain": ("thrust",), "power gain": ("electrical_power", "current"),
           "voltage gain": ("voltage",)}
"""What each gain of the register is a gain of."""


def gain_unknowns(readings: BenchReadings) -> tuple[Unknown, ...]:
    """Gains of the instruments that read anything, and what a ruler is off."""
    read = taken(readings)
    found = []
    for entry, names in READ_BY.items():
        used = any(np.isfinite(getattr(readings, name)).any() for name in names)
        if used and (entry == "voltage gain" or read.any()):
            known = REGISTER[entry]
            found.append(_unknown(f"bench.{entry.replace(' ', '_')}", known.words,
                                  spread=known.spread, source=known.source, put=_as_it_is,
                                  kept=False, gain=entry))
    deviation = _ruler(readings)
    if deviation > 0.0:
        known = REGISTER["ruler"]
        found.append(_unknown("bench.ruler", "diameters read too wide by [m]",
                              spread=replace(known.spread, deviation=deviation),
                              source=known.source, put=_as_it_is, kept=False, gain="ruler"))
    return tuple(found)


def _ruler(readings: BenchReadings) -> float:
    """Deviation common to all diameters that were read [m]: a ruler's, or less where stated."""
    usual = REGISTER["ruler"].spread.deviation
    read = np.isfinite(readings.nozzle_diameter)
    stated = readings.spread["nozzle_diameter"][read]
    if not read.any():
        return 0.0
    return min(usual, float(np.median(np.where(np.isnan(stated), usual, stated))))


def _as_it_is(unit: Ducted, value: Array) -> Ducted:
    del value  # of the bench: the machine is as it is
    return unit
