"""What a machine would show on the bench: the same balance as in flight, one row per reading."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, mach_from_mass_flow_function, pressure_ratio
from thrustlapse.arrays import Array, BoolArray, IntArray, Values
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import MEASURED, BenchReadings
from thrustlapse.propulsor.anchored import anchored
from thrustlapse.propulsor.anchored_rotor import ReadRotor, anchored_rotor
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor, operate_open_rotor
from thrustlapse.rotor.map_shape import ShapedMap, departed
from thrustlapse.rotor.stage_map import Band, NoMap, StageMap
from thrustlapse.study.bench_unknowns import Unknown

OBSERVED = tuple(name for name in MEASURED if name != "voltage")
"""Quantities a reading is held against; the voltage is taken as told, with its spread."""

INPUTS = ("voltage", "nozzle_diameter", "orifice_diameter")
"""Conditions whose own spread is passed on to what they make the machine show."""

INSIDE = ("suction", "static_pressure")
"""Quantities read inside a machine, of which an open rotor has none."""

PLATE = 0.60
"""Contraction of the stream through a thin plate's hole [-] (0.596 to 0.61, ISO 5167 and others, as
quoted in cleaner tests)."""

WIDER = 1.1
"""Times its largest flow to which a map is continued while it is being fitted."""


@dataclass(frozen=True, kw_only=True)
class Widened:
    """A map continued beyond its largest flow, so that a fit may find out how far it reaches."""

    stage: Any
    factor: float = WIDER

    @property
    def band(self) -> Band:
        return self.stage.band  # type: ignore[no-any-return]

    @property
    def lowest_flow(self) -> Array:
        return np.asarray(0.0 * np.asarray(self.stage.highest_flow))

    @property
    def highest_flow(self) -> Array:
        return np.asarray(self.factor * np.asarray(self.stage.highest_flow))

    @property
    def stall_flow(self) -> Array:
        return np.asarray(self.stage.stall_flow)

    @property
    def steep(self) -> bool:
        """Never searched for a second balance: a fit starts and ends near the usual one."""
        return False

    def head(self, flow: Values) -> Array:
        """Head coefficient [-]."""
        return np.asarray(self.stage.head(flow))

    def power(self, flow: Values) -> Array:
        """Power coefficient [-]."""
        return np.asarray(self.stage.power(flow))

    def swirl(self, flow: Values) -> Array:
        """Swirl over tip speed [-]."""
        return np.asarray(self.stage.swirl(flow))


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What the machine shows, (sets, rows) each; NaN where it shows nothing. ``flow`` is phi,
    ``stage`` the map of every set; 0 and None for an open rotor. ``odds`` those of a ducted machine
    known by readings, else 0."""

    values: dict[str, Array]
    flow: Array
    stage: StageMap | None
    odds: Array


def with_values(candidate: Candidate, unknowns: tuple[Unknown, ...], values: Array,
                settings: tuple[str, ...] = (), start: Values = 0.0) -> Candidate:
    """The candidate with values of its unknowns, (sets, unknowns): its fields become (sets, 1).

    One that is known by readings then meets those again; a set that cannot is NaN. Unknowns of a
    drive setting become (sets, rows), each row its own setting's. ``start`` as of ``anchored``.
    """
    unit, known = candidate.unit, candidate.known_by
    columns = {one.key: values[:, place, None] for place, one in enumerate(unknowns)}
    read: dict[str, Any] = {one.reading: columns[one.key] for one in unknowns if one.reading}
    try:
        if candidate.read_by is not None:
            unit = _read_again(candidate.read_by, read, candidate.site.air())
        for one in unknowns:
            if not one.reading and one.setting is None and not one.gain:
                unit = one.put(unit, columns[one.key])
        if isinstance(unit, Ducted) and isinstance(unit.rotor.stage, ShapedMap):
            unit = replace(unit, rotor=replace(unit.rotor, stage=departed(unit.rotor.stage)))
        if known is not None:
            assert isinstance(unit, Ducted)
            unit, known = anchored(unit, air=candidate.site.air(), known=replace(known, **read),
                                   start=start)
    except NoMap:
        unit = replace(unit, drive=replace(unit.drive, power_limit=np.full(
            (len(values), 1), np.nan)))
    by_field: dict[str, Array] = {}
    for one in unknowns:
        if one.setting is not None:
            rows = np.array([word == one.setting for word in settings])
            field = one.key.rpartition(".")[2]
            old = by_field.get(field, np.asarray(getattr(unit.drive, field), dtype=float))
            by_field[field] = np.where(rows, columns[one.key], old)
            unit = one.put(unit, by_field[field])
    return replace(candidate, unit=unit, known_by=known)


def _read_again(by: ReadRotor, read: dict[str, Any], air: Air) -> OpenRotor:
    """A propeller by another reading: its thrust, electrical power and drive's efficiency."""
    old = by.reading
    drive = read.get("drive_efficiency", old.drive)
    power = read.get("electrical_power", np.asarray(old.shaft_power) / old.drive)
    return anchored_rotor(by.rotor, air=air, reading=replace(
        old, thrust=read.get("thrust", old.thrust), drive=drive,
        shaft_power=read.get("shaft_power", power * drive)))


def show(candidate: Candidate, readings: BenchReadings, unknowns: tuple[Unknown, ...],
         values: Array, *, shifted: dict[str, Array] | None = None,
         off: dict[str, Any] | None = None, start: Values = 0.0) -> Shown:
    """What a candidate shows at every row of a bench, for any number of sets of its unknowns.

    Parameters
    ----------
    values : array
        (sets, unknowns), in SI
    shifted : dict, optional
        Conditions in place of those read, by name, shape (rows,) or (sets, rows)
    off : dict, optional
        Factors on head and power of the map where each row works [-]
    start : array_like
        As of ``anchored``
    """
    gains = {one.gain: values[:, place, None] for place, one in enumerate(unknowns) if one.gain}
    told = {name: getattr(readings, name) for name in INPUTS} | (shifted or {})
    told["voltage"] = told["voltage"] / gains.get("voltage gain", 1.0)
    told["nozzle_diameter"] = told["nozzle_diameter"] - gains.get("ruler", 0.0)
    made = with_values(candidate, unknowns, values, readings.setting, start=start)
    unit = made.unit
    air = air_of(readings)[0]
    shape = (values.shape[0], len(readings))
    stage: Any = None
    if isinstance(unit, Ducted):
        stage = unit.rotor.stage
        at_rows = departed(stage, **off) if off else stage
        unit = replace(unit, rotor=replace(unit.rotor, stage=Widened(stage=at_rows)))
        unit = _as_read(unit, readings, told)
        out, flow = _ducted_rows(unit, readings, air, shape)
    else:
        unit = _supplied(unit, readings, told["voltage"])
        point = operate_open_rotor(unit, air=air, airspeed=readings.airspeed)
        apart: dict[str, Any] = {"thrust": readings.units * point.net_thrust,
                                 **dict.fromkeys(INSIDE, np.nan)}
        out, flow = {name: np.broadcast_to(
            apart[name] if name in apart else getattr(point, name), shape)
            for name in OBSERVED}, np.zeros(shape)
    scale = np.where(readings.by_log, 1.0, gains.get("thrust gain", 1.0))
    for name, gain in (("thrust", scale), ("electrical_power", gains.get("power gain", 1.0)),
                       ("current", gains.get("power gain", 1.0))):
        out[name] = out[name] * gain
    return Shown(values=out, flow=flow, stage=stage,
                 odds=np.asarray(0.0 if made.known_by is None else made.known_by.odds))


def _ducted_rows(unit: Ducted, readings: BenchReadings, air: Air,
                 shape: tuple[int, ...]) -> tuple[dict[str, Array], Array]:
    """What a ducted unit shows at every row, and its flow coefficient there."""
    shut = readings.inlet_blocked | readings.outlet_blocked
    out = {name: np.full(shape, np.nan) for name in OBSERVED}
    flow = np.zeros(shape)
    if not shut.all():
        rows = np.flatnonzero(~shut)
        part = _rows(unit, shape, rows)
        point = operate_ducted(part, air=_air_rows(air, rows), airspeed=readings.airspeed[rows])
        pressure = np.asarray(air.pressure)[rows]
        apart = {"thrust": readings.units[rows] * point.net_thrust,
                 "suction": pressure - point.face_pressure,
                 "static_pressure": _static(part, point) - pressure}
        for name in OBSERVED:
            out[name][:, rows] = apart[name] if name in apart else getattr(point, name)
        flow[:, rows] = point.flow_coefficient
    if shut.any():
        rows = np.flatnonzero(shut)
        closed = operate_blocked(_rows(unit, shape, rows), pressure=np.asarray(air.pressure)[rows],
                                 temperature=np.asarray(air.temperature)[rows],
                                 inlet=readings.inlet_blocked[rows])
        for name in {*OBSERVED} & vars(closed).keys():
            out[name][:, rows] = getattr(closed, name)
        out["thrust"][:, rows] = 0.0
    return out, flow


Unit = TypeVar("Unit", Ducted, OpenRotor)


def _supplied(unit: Unit, readings: BenchReadings, volts: Array) -> Unit:
    """The unit at each row's voltage, or on its own supply, and at the row's duty."""
    known = np.isfinite(volts)
    supply = replace(unit.supply, voltage=np.where(known, volts, unit.supply.voltage),
                     resistance=np.where(known, 0.0, unit.supply.resistance),
                     units=readings.units)
    drive = unit.drive
    if np.isfinite(readings.duty).any():
        drive = replace(drive, duty=np.where(np.isfinite(readings.duty), readings.duty, drive.duty))
    return replace(unit, supply=supply, drive=drive)


def _as_read(unit: Ducted, readings: BenchReadings, told: dict[str, Array]) -> Ducted:
    """The unit under each row's conditions."""
    diameter = told["nozzle_diameter"]
    exit_area = np.where(np.isfinite(diameter), np.pi / 4.0 * diameter**2, unit.nozzle.exit_area)
    inlet, bore = unit.inlet, told["orifice_diameter"]
    plate = np.isfinite(bore)
    if plate.any():
        # the stream narrows behind the plate and loses what it was sped up to
        throat = np.asarray(inlet.throat_area)
        area = np.where(plate, PLATE * np.pi / 4.0 * np.where(plate, bore, 0.0)**2, throat)
        inlet = replace(inlet, throat_area=area,
                        lip_sharpness=np.where(plate, 0.0, inlet.lip_sharpness),
                        loss_coefficient=np.where(plate, 1.0, inlet.loss_coefficient))
    return replace(_supplied(unit, readings, told["voltage"]), inlet=inlet,
                   nozzle=replace(unit.nozzle, exit_area=exit_area))


def _rows(unit: Ducted, shape: tuple[int, ...], rows: IntArray) -> Ducted:
    """The unit for some rows: fields (sets, rows) or (rows,) are cut, others stay."""
    def cut(part: Any) -> Any:
        if isinstance(part, np.ndarray):
            return part[..., rows] if part.ndim and part.shape[-1] == shape[1] > 1 else part
        if is_dataclass(part) and not isinstance(part, type):
            changed = {item.name: cut(getattr(part, item.name)) for item in fields(part)
                       if item.init and item.metadata.get("per_element", True)}
            return replace(part, **changed)
        return part
    return cut(unit)  # type: ignore[no-any-return]


def _air_rows(air: Air, rows: IntArray) -> Air:
    return Air(pressure=np.asarray(air.pressure)[rows],
               temperature=np.asarray(air.temperature)[rows])


def _static(unit: Ducted, point: Any) -> Array:
    """Static pressure at the nozzle entry [Pa]."""
    share = point.mass_flow * np.sqrt(GAS_CONSTANT / GAMMA * point.exit_temperature) / (
        unit.duct.area * point.nozzle_pressure)
    mach = mach_from_mass_flow_function(flow_function=share)
    return np.asarray(point.nozzle_pressure * pressure_ratio(mach=mach))


def taken(readings: BenchReadings) -> BoolArray:
    """Which quantities of :data:`OBSERVED` were read, (rows, quantities).

    Thrust of a shut machine says nothing, nor does a suction without a plate or a shut inlet.
    """
    read = np.stack([np.isfinite(getattr(readings, name)) for name in OBSERVED], axis=1)
    shut = readings.inlet_blocked | readings.outlet_blocked
    read[:, OBSERVED.index("thrust")] &= ~shut
    read[:, OBSERVED.index("static_pressure")] &= ~readings.inlet_blocked
    read[:, OBSERVED.index("suction")] &= (readings.inlet_blocked
                                           | np.isfinite(readings.orifice_diameter))
    both = np.isfinite(readings.electrical_power) & np.isfinite(readings.current) & np.isfinite(
        readings.voltage)
    read[:, OBSERVED.index("current")] &= ~both  # the power says the same
    return read
