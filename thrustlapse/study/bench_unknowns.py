"""What a bench can tell of a machine: its unknowns, where they sit, and what is typical of them.

Keys are those of a candidate in a scenario, so that a fitted value can be written back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.distributions import REACH, Spread
from thrustlapse.power.motor import ConstantsMotor, EfficiencyMotor
from thrustlapse.propulsor.anchored_rotor import anchored_rotor
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.map_uncertainty import POWER_FACTOR, THRUST_FACTOR, own_band
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.register import JUDGED
from thrustlapse.rotor.map_shape import ShapedMap
from thrustlapse.rotor.map_uncertainty import stretched
from thrustlapse.rotor.stage_map import CoefficientMap

COMMON = "common practice, no source"
GIVEN = "centred on what the scenario gives"


LOGGED = ("map.head_shutoff", "map.work_shutoff", "map.shutoff_power", "map.flow_scale",
          "map.head_scale", "map.power_scale", "motor.efficiency", "motor.torque_constant",
          "motor.resistance", "motor.no_load_current", "duct.loss_coefficient", THRUST_FACTOR,
          POWER_FACTOR)
"""Keys of a candidate that are fitted by their logarithm: none of them can fall below zero."""


@dataclass(frozen=True, kw_only=True)
class Unknown:
    """One unknown of a fit, with its prior.

    ``centre`` and ``spread`` of the prior: of the logarithm where ``log``, else of the value in SI;
    where it has a ``prior`` of the register, the scaled unknown is the normal number with the same
    share below it, and the value never leaves the prior's ends. ``low`` and ``high`` bound the
    value; ``at_low`` and ``at_high`` say what a fit on them means. ``reading`` is what a machine
    known by readings is scaled to, a field of ``KnownBy``. ``kept`` is False for what
    belongs to the bench and not to the machine: a drive setting, or the ``gain`` of what reads a
    quantity. Values of a ``group`` are sums over its scaled unknowns by ``weights``.
    """

    key: str
    words: str
    value: float
    centre: float
    spread: float
    low: float
    high: float
    log: bool
    source: str
    at_low: str
    at_high: str
    put: Callable[[Any, Array], Any]
    kept: bool = True
    setting: str | None = None
    prior: Spread | None = None
    gain: str = ""
    reading: str = ""
    group: str = ""
    weights: tuple[float, ...] = ()

    def to_value(self, scaled: Array) -> Array:
        """Value in SI from the scaled unknown: standard deviations of the prior off its centre."""
        if self.prior is not None:
            from scipy.special import ndtr  # start-up time

            return self.prior.quantile(ndtr(np.asarray(scaled, dtype=float)))
        inner = self.centre + self.spread * np.asarray(scaled)
        return np.asarray(np.exp(inner) if self.log else inner)

    def to_scaled(self, value: float) -> float:
        """The scaled unknown of a value in SI."""
        return float(((np.log(value) if self.log else value) - self.centre) / self.spread)

    @property
    def reach(self) -> tuple[float, float]:
        """Bounds of the scaled unknown."""
        if self.prior is not None or self.group:
            return -REACH, REACH
        return self.to_scaled(self.low), self.to_scaled(self.high)


def values_of(unknowns: tuple[Unknown, ...], scaled: Array) -> Array:
    """Values in SI of scaled unknowns, (sets, unknowns)."""
    columns = []
    for place, one in enumerate(unknowns):
        if one.group:
            members = [other for other, each in enumerate(unknowns) if each.group == one.group]
            columns.append(scaled[..., members] @ np.array(one.weights))
        else:
            columns.append(one.to_value(scaled[..., place]))
    return np.stack(columns, axis=-1)


def _part(table: str, field: str) -> Callable[[Ducted, Array], Ducted]:
    def put(unit: Ducted, value: Array) -> Ducted:
        part: Any = getattr(unit, table)
        return replace(unit, **{table: replace(part, **{field: value})})
    return put


def stage_field(field: str) -> Callable[[Ducted, Array], Ducted]:
    """Puts a value at a field of the map, below whatever form it has."""
    def put(unit: Ducted, value: Array) -> Ducted:
        stage: Any = unit.rotor.stage
        changed = (replace(stage, stage=replace(stage.stage, **{field: value}))
                   if isinstance(stage, ShapedMap) else replace(stage, **{field: value}))
        return replace(unit, rotor=replace(unit.rotor, stage=changed))
    return put


def _motor(field: str) -> Callable[[Ducted, Array], Ducted]:
    def put(unit: Ducted, value: Array) -> Ducted:
        motor: Any = unit.drive.motor
        return replace(unit, drive=replace(unit.drive, motor=replace(motor, **{field: value})))
    return put


def _efficiency(unit: Ducted, value: Array) -> Ducted:
    motor = unit.drive.motor
    assert isinstance(motor, EfficiencyMotor)
    own = motor.shaft_power[1] / motor.input_power[1]
    return _motor("input_scale")(unit, own / value)


def unknowns_of(candidate: Candidate) -> tuple[Unknown, ...]:
    """All unknowns of the machine that a bench can tell, with priors.

    One that is known by readings has motor and power of its map from them.
    """
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return (*_of_table(candidate), *(() if candidate.read_by else _electrical(unit)))
    stage = unit.rotor.stage
    if candidate.known_by is not None:
        scales = () if isinstance(stage, CoefficientMap) else _scales(unit)[:2]
        return (*scales, *_losses(unit))
    found = (_coefficients(stage) if isinstance(stage, CoefficientMap) else _scales(unit))
    return (*found, *_electrical(unit), *_losses(unit))


def _logged(key: str, words: str, value: float, spread: float, put: Any, source: str,
            meaning: tuple[str, str], most: float = np.inf, **more: Any) -> Unknown:
    reach = float(np.exp(5.0 * spread))
    return Unknown(key=key, words=words, value=value, centre=float(np.log(value)), spread=spread,
                   low=value / reach, high=min(value * reach, most), log=True, source=source,
                   at_low=meaning[0], at_high=meaning[1], put=put, **more)


def _linear(key: str, words: str, value: float, centre: float, spread: float, source: str,
            low: float = -np.inf) -> Unknown:
    field = key.partition(".")[2]
    return Unknown(key=key, words=words, value=value, centre=centre, spread=spread,
                   low=max(low, centre - 5.0 * spread), high=centre + 5.0 * spread, log=False,
                   source=source, put=stage_field(field),
                   at_low="the map bends otherwise than such machines do",
                   at_high="the map bends otherwise than such machines do")


PRESSURE_HEAD = ("the machine makes less pressure than any such wheel: is the tip diameter right?",
                 "the machine makes more pressure than any such wheel: is the tip diameter right?")
WATTS = ("the wheel takes less power than it can: are the watts those of this machine alone?",
         "the wheel takes more power than such wheels do: does something rub, or leak?")


def _coefficients(stage: CoefficientMap) -> tuple[Unknown, ...]:
    psi, phi = float(np.asarray(stage.head_shutoff)), float(np.asarray(stage.highest_flow))
    work = float(np.asarray(stage.work_shutoff))
    get: Callable[[str], float] = lambda name: float(np.asarray(getattr(stage, name)))  # noqa: E731
    shape = f"{GIVEN}; {JUDGED}"
    if psi <= 0.0:
        return ()  # a map that says nothing of its head has no scale to be bent on
    found = (
        _logged("map.head_shutoff", "shut-off head", value=psi, spread=0.12,
                put=stage_field("head_shutoff"),
                source="sealed suction machines 0.50 to 0.60 on U^2 (from memory); " + GIVEN,
                meaning=PRESSURE_HEAD),
        _linear("map.head_slope", "slope of the head", value=get("head_slope"),
                centre=get("head_slope"), spread=0.5 * psi / phi, source=shape),
        _linear("map.head_curvature", "bend of the head", value=get("head_curvature"),
                centre=get("head_curvature"), spread=0.5 * psi / phi**2, source=shape),
        _logged("map.work_shutoff", "work at little flow", value=work or np.nan, spread=0.12,
                put=stage_field("work_shutoff"), meaning=WATTS, source="Euler work with slip "
                "correlations that differ by 8 to 21 % for 7 to 11 blades; " + GIVEN),
        _linear("map.work_slope", "slope of the work", value=get("work_slope"),
                centre=get("work_slope"), spread=0.3 * (work or psi) / phi, source=shape),
        _logged("map.shutoff_power", "shut-off power", value=get("shutoff_power") or np.nan,
                spread=0.5, put=stage_field("shutoff_power"), meaning=WATTS,
                source="disc friction alone spreads by two between its correlations, leakage "
                "comes on top; " + GIVEN))
    return tuple(one for one in found if not np.isnan(one.value))  # zero has no logarithm


def _scales(unit: Ducted) -> tuple[Unknown, ...]:
    band, stage = unit.rotor.stage.band, unit.rotor.stage
    found = []
    for name, words, usual, meaning in (
            ("flow", "flow of the map", 0.10, ("the machine passes less air than its map allows",
                                               "the machine passes more air than its map allows")),
            ("head", "head of the map", 0.15, PRESSURE_HEAD),
            ("power", "power of the map", 0.15, WATTS)):
        told = float(np.asarray(getattr(band, name)))
        value = float(np.asarray(getattr(stage, f"{name}_scale")))
        source = f"the map's own band ({band.basis})" if told else f"{GIVEN}; {JUDGED}"
        found.append(_logged(f"map.{name}_scale", words, value=value, spread=told or usual,
                             put=stage_field(f"{name}_scale"), source=source, meaning=meaning))
    return tuple(found)


def _of_table(candidate: Candidate) -> tuple[Unknown, ...]:
    """What a propeller's table is off by, within its band."""
    band, found = own_band(candidate), []
    thrust, power = _factors(candidate)
    for key, words, side, usual, value in (
            (THRUST_FACTOR, "thrust of the table", "head", 0.10, thrust),
            (POWER_FACTOR, "power of the table", "power", 0.15, power)):
        told = float(getattr(band, side))
        source = f"the table's own band ({band.basis})" if told else f"{GIVEN}; {JUDGED}"
        # what was read is scaled to its reading anew, and then has no factor to be replaced
        given = value if candidate.read_by is None else 1.0
        found.append(_logged(key, words, value=value, spread=told or usual, source=source,
                             put=_stretch(side, given, added=band.loading and side == "head"),
                             meaning=PULL))
    return tuple(found)


def _factors(candidate: Candidate) -> tuple[float, float]:
    """Factors on thrust and power that a propeller's table has from its file."""
    table: Any = candidate.unit.table  # type: ignore[union-attr]
    if table.band.loading:
        return float(1.0 + np.asarray(table.loading)), float(np.asarray(table.excess))
    by, before = candidate.read_by, (1.0, 1.0)
    if by is not None:
        own: Any = anchored_rotor(by.rotor, air=candidate.site.air(), reading=by.reading).table
        before = float(own.thrust_scale), float(own.power_scale)
    return (float(np.asarray(table.thrust_scale)) / before[0],
            float(np.asarray(table.power_scale)) / before[1])


PULL = ("the propeller makes less of its shaft power than such blades do",
        "the propeller makes more than such blades do: are diameter and speed right?")


def _stretch(side: str, given: float, *, added: bool) -> Callable[[OpenRotor, Array], OpenRotor]:
    def put(unit: OpenRotor, value: Array) -> OpenRotor:
        factor = 1.0 + value - given if added else value / given
        return replace(unit, table=stretched(unit.table, **{side: factor}))
    return put


def _electrical(unit: Ducted | OpenRotor) -> tuple[Unknown, ...]:
    motor = unit.drive.motor
    if isinstance(motor, EfficiencyMotor):
        if motor.shaft_power.size > 3:
            return ()
        value = float(motor.shaft_power[1] / motor.input_power[1] / np.asarray(motor.input_scale))
        return (_logged("motor.efficiency", "efficiency of motor and controller", value=value,
                        spread=0.12, put=_efficiency,
                        source="small blower motors 0.42 to 0.65 at their rated point (catalogue), "
                        f"good ones to 0.85 (from memory); {GIVEN}",
                        meaning=("almost all power is lost before the shaft",
                                 "the motor would be better than any"), most=1.0),)
    assert isinstance(motor, ConstantsMotor)
    odd = ("the motor is not the one described", "the motor is not the one described")
    rows = [("torque_constant", "torque constant", 0.08, f"speed constants on labels are off by up "
             f"to a tenth; {COMMON}; {GIVEN}"),
            ("resistance", "winding resistance", 0.3, f"leads, joints and heat; {COMMON}; {GIVEN}"),
            ("no_load_current", "no-load current", 0.4, f"{COMMON}; {GIVEN}")]
    return tuple(_logged(f"motor.{name}", words, value=float(np.asarray(getattr(motor, name))),
                         spread=spread, put=_motor(name), source=source, meaning=odd)
                 for name, words, spread, source in rows
                 if float(np.asarray(getattr(motor, name))) > 0.0)


def _losses(unit: Ducted) -> tuple[Unknown, ...]:
    odd = ("the duct would lose nothing", "the duct would lose more than a bend and a step can")
    value = float(np.asarray(unit.duct.loss_coefficient))
    return () if value <= 0.0 else (
        _logged("duct.loss_coefficient", "duct loss", value=value, spread=0.5,
                put=_part("duct", "loss_coefficient"), source=f"{GIVEN}; {JUDGED}", meaning=odd),)


def setting_unknown(unit: Ducted | OpenRotor, setting: str, *, full: bool = False) -> Unknown:
    """The unknown of a drive setting: its power cap where the drive has one, else its duty.

    ``full`` where the drive is known to have none, whatever the unit at hand says.
    """
    limit = float(np.asarray(unit.drive.power_limit))
    meaning = ("the setting would draw next to nothing", "the cap never holds: another limit does")
    put: Callable[[Ducted, Array], Ducted]
    if not full and (np.isfinite(limit) or isinstance(unit.drive.motor, EfficiencyMotor)):
        put = _part("drive", "power_limit")
        start, name, words = (limit if np.isfinite(limit) else 300.0), "power_limit", "power cap"
        return _logged(f"setting {setting}.{name}", f'{words} of setting "{setting}"', value=start,
                       spread=0.8, put=put, source=f"a bench setting; {JUDGED}", meaning=meaning,
                       kept=False, setting=setting)
    put = _part("drive", "duty")
    start = 0.7 * float(np.asarray(unit.drive.duty))
    return _logged(f"setting {setting}.duty", f'duty of setting "{setting}"', value=start,
                   spread=0.4, put=put, source=f"a bench setting; {JUDGED}", meaning=meaning,
                   most=1.0, kept=False, setting=setting)
