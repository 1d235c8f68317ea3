"""A table of operating points that a page can interpolate by itself, with no solver at hand.

Three things are flown beforehand: the nozzle exit of a ducted machine, the power or the voltage
that drives it, and the airspeed. What an airframe weighs and drags needs no table: level drag is a
formula of its own (``aircraft/drag.py``), and the page works it out again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, IntArray
from thrustlapse.propulsor.basis import EQUAL_POWER, Basis
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import INVALID
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.evaluate import Cases, evaluate
from thrustlapse.study.footing import Footing
from thrustlapse.study.limits.states import states_of
from thrustlapse.study.limits.table import CurveLimit, curve_limits
from thrustlapse.study.nozzle_size import with_exit_diameter
from thrustlapse.study.scenario_like import ScenarioLike

NOZZLE_FACTORS = (0.7, 0.75, 0.8, 0.86, 0.92, 1.0, 1.08, 1.18, 1.3)
"""Exit diameters tabulated, over the scenario's own."""

POWER_FACTORS = (0.4, 0.5, 0.63, 0.8, 1.0, 1.2, 1.4, 1.7, 2.0)
"""Electrical powers tabulated, over the scenario's own."""

VOLTAGE_FACTORS = (0.6, 0.66, 0.72, 0.79, 0.86, 0.93, 1.0, 1.07, 1.14, 1.22, 1.3)
"""Open-circuit voltages tabulated, over the pack's own at its state of charge."""

CLOSE = 0.02
"""Relative distance below which a tabulated exit gives way to the widest one."""

AIRSPEEDS = 61
"""Airspeeds tabulated, from the lowest to the highest of the page."""

BEYOND, LEAST_RANGE = 1.3, 20.0
"""Reach beyond the fastest top speed [-], for cleaner airframes; and the least reach [m/s]."""

POWER, VOLTAGE = "electrical_power", "supply_voltage"


@dataclass(frozen=True, kw_only=True)
class LiveBand:
    """How far a band of draws lies from the thrust as it stands, over the tabulated airspeeds [N],
    NaN where it is not known; ``rest`` is the thrust at rest it belongs to [N]."""

    low: Array
    high: Array
    rest: float


@dataclass(frozen=True, kw_only=True)
class LiveCandidate:
    """One candidate over exit diameter (first axis), drive (second) and airspeed (third).

    ``exit_diameter`` [m] has one entry, NaN, for an open rotor. ``thrust`` is installed thrust of
    all units [N], ``current`` of all units [A], ``motor_current`` of one [A], ``flag_bits`` the
    causes; where the balance is invalid the values are NaN. ``mass`` is the installed mass [kg].
    ``band`` is that of its draws, None without.
    """

    name: str
    kind: str
    count: int
    mass: float
    exit_diameter: Array
    own_diameter: float
    limits: tuple[CurveLimit, ...]
    thrust: Array
    current: Array
    motor_current: Array
    flag_bits: IntArray
    band: LiveBand | None = None


@dataclass(frozen=True, kw_only=True)
class LiveTable:
    """All candidates on common axes of drive and airspeed.

    ``drive`` says what the second axis is, :data:`POWER` [W] or :data:`VOLTAGE` [V], ``own_drive``
    where the scenario stands on it. ``highest`` [m/s] is the last tabulated airspeed.
    """

    drive: str
    drive_values: Array
    own_drive: float
    airspeed: Array
    candidates: tuple[LiveCandidate, ...]
    airframe: Airframe | None
    density: float
    speed_of_sound: float


def live_table(scenario: ScenarioLike, comparison: Comparison) -> LiveTable | None:
    """The table of a scenario; None where the page's few handles would not be enough to be true.

    That is where the power of one candidate, at each airspeed, is the measure of the others: a
    nozzle moved on the one would move all.

    It reaches a little beyond the highest airspeed asked for and the fastest level top speed.
    """
    basis = scenario.comparison
    equal = basis.footing == EQUAL_POWER
    if equal and basis.electrical_power is None:
        return None
    volts = {name: float(np.max(one.unit.supply.voltage))
             for name, one in scenario.candidates.items()}
    if not equal and len(set(volts.values())) > 1:
        return None  # one handle cannot say what several packs do
    own = float(basis.electrical_power) if equal and basis.electrical_power is not None \
        else next(iter(volts.values()))
    factors = np.array(POWER_FACTORS if equal else VOLTAGE_FACTORS)
    air = scenario.site.air()
    tops = [one.level.top_speed for one in comparison.candidates.values()
            if one.level is not None and np.isfinite(one.level.top_speed)]
    highest = max(BEYOND * max(tops, default=0.0), float(scenario.airspeeds[-1]), LEAST_RANGE)
    airspeed = np.linspace(0.0, highest, AIRSPEEDS)
    found = tuple(replace(_candidate(one, drive=own * factors, equal=equal, airspeed=airspeed,
                                     limits=_limits(scenario, comparison, one)),
                          band=_band(comparison, one.name, airspeed))
                  for one in scenario.candidates.values())
    return LiveTable(drive=POWER if equal else VOLTAGE, drive_values=own * factors, own_drive=own,
                     airspeed=airspeed, candidates=found, airframe=scenario.airframe,
                     density=float(air.density), speed_of_sound=float(air.speed_of_sound))


def _band(comparison: Comparison, name: str, airspeed: Array) -> LiveBand | None:
    """The band that the comparison drew of a candidate's installed thrust."""
    drawn = comparison.uncertainty
    if drawn is None or "installed_thrust" not in drawn.candidates[name].bands:
        return None
    band, result = drawn.candidates[name].bands["installed_thrust"], comparison.candidates[name]
    own = np.interp(drawn.airspeed, comparison.airspeed, result.curve.installed_thrust)
    return live_band(band.low, band.high, own=own, flown=drawn.airspeed, airspeed=airspeed,
                     rest=float(result.at_rest.installed_thrust.item()))


def live_band(low: Array, high: Array, *, own: Array, flown: Array, airspeed: Array,
              rest: float) -> LiveBand:
    """A band about a candidate's ``own`` thrust over the airspeeds ``flown``, at others [m/s]."""
    return LiveBand(rest=rest, **{side: np.interp(airspeed, flown, values - own, right=np.nan)
                                  for side, values in (("low", low), ("high", high))})


def _limits(scenario: ScenarioLike, comparison: Comparison,
            candidate: Candidate) -> tuple[CurveLimit, ...]:
    return curve_limits(states_of(
        comparison, comparison.candidates[candidate.name], candidate, wiring=scenario.wiring,
        pack_current_rating=scenario.pack_current_rating))


def _candidate(candidate: Candidate, *, drive: Array, equal: bool, airspeed: Array,
               limits: tuple[CurveLimit, ...]) -> LiveCandidate:
    """All of one candidate's operating points, in one call."""
    own, diameter = float("nan"), np.array([np.nan])
    built = candidate
    if isinstance(candidate.unit, Ducted):
        own = float(np.sqrt(4.0 / np.pi * np.max(np.asarray(candidate.unit.nozzle.exit_area))))
        widest = float(np.sqrt(4.0 / np.pi * np.max(np.asarray(candidate.unit.duct.area))))
        # an exit wider than the duct before it is another machine
        last = min(max(widest, own), own * NOZZLE_FACTORS[-1])
        inner = own * np.array(NOZZLE_FACTORS)
        diameter = np.append(inner[inner < last * (1.0 - CLOSE)], last)
        built = with_exit_diameter(candidate, diameter[:, None, None])
    point = evaluate(driven(built, drive[:, None], equal=equal), airspeed[1:]).flown
    shape = (diameter.size, drive.size, airspeed.size)
    bits = np.broadcast_to(point.flag_bits, shape)
    known = (bits & int(INVALID)) == 0

    def table(values: Array) -> Array:
        return np.where(known, np.broadcast_to(values, shape), np.nan)

    return LiveCandidate(
        name=candidate.name, kind=candidate.kind, count=candidate.count,
        mass=float(np.asarray(candidate.installed_mass)), exit_diameter=diameter,
        own_diameter=own, limits=limits,
        thrust=table(point.installed_thrust), current=table(point.current),
        motor_current=table(point.motor_current), flag_bits=bits)


def driven(candidate: Candidate, drive: Array, *, equal: bool) -> Cases:
    """A candidate held to a power of all units [W], or on a supply of a voltage [V]."""
    if equal:
        basis = Basis(footing=EQUAL_POWER, electrical_power=drive)
        return Cases(candidate=candidate, footing=Footing(basis=basis, candidates={}))
    supply = replace(candidate.unit.supply, voltage=drive)
    built = replace(candidate, unit=replace(candidate.unit, supply=supply))
    return Cases(candidate=built, footing=Footing(basis=Basis(), candidates={}))
