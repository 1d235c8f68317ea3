"""What is unsafe, impossible or worth knowing in a comparison: each with number, limit and remedy.

Three ranks: ``stop`` (do not run it like this), ``check`` (find out before you run it) and ``note``
(so that a number is read rightly). They are sorted in that order.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Protocol

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.power.drive import shaft_speed
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.propulsor.operating_point import INVALID, MEANING, Flag, OperatingPoint
from thrustlapse.rotor.strength import MATERIALS, OVERSPEED, impeller_stress, limit_tip_speed
from thrustlapse.study.aircraft_findings import aircraft_findings
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding
from thrustlapse.study.flight_findings import flight_findings
from thrustlapse.study.limits_electrical import electrical_findings
from thrustlapse.study.limits_people import people_findings

RANKS = ("stop", "check", "note")

SAG_LIMIT = 0.8
"""Terminal over open-circuit voltage below which cells are usually overloaded (common practice)."""

STRESS_MARGIN = 2.0
"""Strength over stress below which a rotor deserves a shielded spin test (common practice)."""

SMALL, SMALL_BEST = 0.10, 0.65
"""Tip diameter [m] below which, and isentropic efficiency [-] above which, a map is doubted.
Suction units give 0.24 to 0.53 overall (catalogue), small fans 0.55 to 0.75 (from memory)."""

EXPLAINED = (Flag.THROAT_CHOKED, Flag.EYE_CHOKED, Flag.NOZZLE_CHOKED, Flag.STALL_SIDE,
             Flag.TWO_MATCHES, Flag.FREEWHEELING, Flag.NO_THROUGH_FLOW, Flag.INLET_SPILLS,
             Flag.SPEED_OUTSIDE_TABLE, Flag.TIP_MACH_HIGH, Flag.OUTSIDE_MAP,
             Flag.PACK_CANNOT_DELIVER, Flag.CANNOT_TURN, Flag.NOT_CONVERGED)

SERIOUS = (Flag.STALL_SIDE | Flag.SPEED_OUTSIDE_TABLE | Flag.TWO_MATCHES | Flag.TIP_MACH_HIGH
           | Flag.PACK_CANNOT_DELIVER | Flag.CANNOT_TURN | Flag.NOT_CONVERGED)

REMEDY = {
    Flag.THROAT_CHOKED: "widen the inlet throat",
    Flag.EYE_CHOKED: "a larger eye, or less shaft speed",
    Flag.NOZZLE_CHOKED: "nothing need be done; a wider exit lowers the pressure",
    Flag.STALL_SIDE: "widen the nozzle exit, or take a machine with a smaller design flow",
    Flag.TWO_MATCHES: "move away from the rising part of the map with a wider exit",
    Flag.FREEWHEELING: "the drive cannot brake: expect drag instead of thrust here",
    Flag.NO_THROUGH_FLOW: "raise the head (speed, diameter) or face the inlet into the air",
    Flag.INLET_SPILLS: "a smaller throat with a rounded lip spills less",
    Flag.SPEED_OUTSIDE_TABLE: "a table that reaches these shaft speeds",
    Flag.TIP_MACH_HIGH: "less shaft speed or diameter: noise and loss grow steeply from here",
    Flag.OUTSIDE_MAP: "measure further, or keep to the airspeeds that the map covers",
    Flag.PACK_CANNOT_DELIVER: "more cells, lower resistance, or a lower power limit",
    Flag.CANNOT_TURN: "raise the voltage or the limit of the drive",
    Flag.NOT_CONVERGED: "look for an impossible number in this candidate",
}


class RatedScenario(Protocol):
    """What the limits need of a scenario beside the comparison."""

    @property
    def candidates(self) -> Mapping[str, Candidate]: ...
    @property
    def pack_current_rating(self) -> float | None: ...
    @property
    def wiring(self) -> Wiring | None: ...


def findings(comparison: Comparison, scenario: RatedScenario) -> tuple[Finding, ...]:
    """All findings of a comparison, most serious first."""
    found: list[Finding] = []
    for name, result in comparison.candidates.items():
        candidate = scenario.candidates[name]
        found += _rotor(result, candidate)
        found += _currents(result, candidate, scenario.pack_current_rating)
        found += electrical_findings(result, candidate, scenario.wiring)
        found += _temperature(result, candidate)
        found += people_findings(comparison, result, candidate)
        found += _flags(result)
        found += _plausible(result, candidate)
        found += _flight(result)
    found += aircraft_findings(comparison)
    found += flight_findings(comparison)
    return tuple(sorted(found, key=lambda finding: RANKS.index(finding.rank)))


def blocked_speeds(unit: Ducted, *, pressure: Values, temperature: Values) -> tuple[Array, Array]:
    """Shaft speed [rad/s] with the outlet blocked, and with the inlet blocked; elementwise.

    Behind a blocked inlet the air is thinner until the rotor's pressure ratio just restores the
    ambient, so the load is less and the speed higher.
    """
    stage, diameter = unit.rotor.stage, np.asarray(unit.rotor.tip_diameter)
    outlet = inlet = np.full((), np.nan)
    face = np.asarray(pressure)
    still, warmth = np.zeros(()), np.asarray(temperature)
    for step in range(40):
        load = stage.power(still) * face / (GAS_CONSTANT * warmth) * diameter**5 / 8.0
        speed = shaft_speed(unit.drive, unit.supply, torque_coefficient=load)[0]
        if step == 0:
            outlet = speed
        inlet = speed
        head = stage.head(still) * np.square(0.5 * speed * diameter)
        ratio = (1.0 + head / (SPECIFIC_HEAT * warmth)) ** (GAMMA / (GAMMA - 1.0))
        face = np.asarray(pressure) / ratio
    return outlet, inlet


def _rotor(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return
    radius = 0.5 * float(np.max(np.asarray(unit.rotor.tip_diameter)))
    running = _largest(result.curve.shaft_speed, result.at_rest.shaft_speed)
    air = candidate.site.air()
    outlet, inlet = (float(np.max(speed)) for speed in blocked_speeds(
        unit, pressure=air.pressure, temperature=air.temperature))
    known = [speed for speed in (running, outlet, inlet) if not np.isnan(speed)]
    if not known:
        return  # the drive cannot turn it, and another finding says so
    fastest = max(known)
    tip = radius * fastest
    where = ("with the inlet blocked" if fastest == inlet and inlet > running
             else "with the outlet blocked" if fastest == outlet and outlet > running
             else "running")
    if np.isinf(fastest):
        yield Finding(rank="stop", subject=result.name, value=None, limit=None, unit="",
                      text=f"nothing holds the shaft speed {where}: the map takes no power without "
                           "flow, and the drive has no voltage or speed limit of its own",
                      change="give the map a power without flow, or the drive a speed_limit")
        return
    material = candidate.ratings.rotor_material
    if material is None:
        yield Finding(rank="check", subject=result.name, value=tip, limit=None, unit="m/s",
                      text=f"the rotor's tip reaches {tip:.0f} m/s {where}, and no material is "
                           "given to check it against",
                      change="name the rotor's material in the scenario")
        return
    stuff, bore = MATERIALS[material], candidate.ratings.rotor_bore_ratio
    stress = float(impeller_stress(stuff, tip_speed=tip, bore_ratio=bore))
    spun = stress * OVERSPEED**2
    allowed = float(limit_tip_speed(stuff, bore_ratio=bore))
    rank = ("stop" if spun > stuff.strength
            else "check" if stress * STRESS_MARGIN > stuff.strength else "note")
    yield Finding(
        rank=rank, subject=result.name, value=stress, limit=stuff.strength, unit="Pa",
        text=f"rotor stress about {stress / 1e6:.0f} MPa at {tip:.0f} m/s tip speed {where}, "
             f"{spun / 1e6:.0f} MPa at 115 % of it, against {stuff.strength / 1e6:.0f} MPa for "
             f"{material} ({stuff.strength_kind}; typical value, from memory)",
        change=f"keep the tip below {allowed / OVERSPEED:.0f} m/s; shield the plane of rotation")


def _currents(result: CandidateResult, candidate: Candidate,
              pack_rating: float | None) -> Iterator[Finding]:
    points = (result.curve, result.at_rest)
    amps = _largest(*(point.current for point in points))
    checks = [("pack", amps, pack_rating, "more cells in parallel, or a lower power limit"),
              ("motor", _largest(*(point.motor_current for point in points)),
               candidate.ratings.motor_current, "a lower motor-current limit or a larger motor"),
              ("wire or controller of one unit", amps / candidate.count,
               candidate.ratings.supply_current, "thicker wire, or a lower supply-current limit")]
    for part, value, limit, change in checks:
        if limit is not None and np.isfinite(value) and value > limit:
            yield Finding(rank="stop", subject=result.name, value=float(value), limit=limit,
                          unit="A", change=change,
                          text=f"{part} current reaches {value:.1f} A against a rating of "
                               f"{limit:.1f} A")
    volts = candidate.unit.supply.voltage
    sag = _smallest(*(point.terminal_voltage / volts for point in points))
    if np.isfinite(sag) and sag < SAG_LIMIT:
        yield Finding(rank="check", subject=result.name, value=float(sag), limit=SAG_LIMIT,
                      unit="", change="cells of lower resistance, or more of them in parallel",
                      text=f"the pack sags to {100 * sag:.0f} % of its resting voltage")


def _temperature(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    limit = candidate.ratings.duct_softening
    hottest = _largest(result.curve.exit_temperature, result.at_rest.exit_temperature)
    if limit is not None and np.isfinite(hottest) and hottest > limit:
        yield Finding(rank="stop", subject=result.name, value=float(hottest), limit=limit, unit="K",
                      change="a plastic that stays hard in this heat, or less power",
                      text=f"the air reaches {hottest - 273.15:.0f} degC in a duct that softens at "
                           f"{limit - 273.15:.0f} degC")


def _flags(result: CandidateResult) -> Iterator[Finding]:
    curve = result.curve
    for flag in EXPLAINED:
        # a note on a point without a value would explain what is not there
        told = not flag & INVALID
        raised = curve.flagged(flag) & (curve.valid if told else True)
        at_rest = bool(result.at_rest.flagged(flag) & (result.at_rest.valid if told else True))
        if not raised.any() and not at_rest:
            continue
        yield Finding(rank="check" if flag & SERIOUS else "note", subject=result.name, value=None,
                      limit=None, unit="", change=REMEDY[flag],
                      text=f"{stretches(curve, raised, at_rest)}: {MEANING[flag]}")


def _plausible(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    """Numbers that are better than such machines have been seen to be."""
    unit = candidate.unit
    if isinstance(unit, Ducted):
        size = float(np.max(np.asarray(unit.rotor.tip_diameter)))
        points = (result.curve, result.at_rest)
        best = _largest(*(point.head_coefficient * point.flow_coefficient
                          / point.power_coefficient for point in points))
        if size < SMALL and best > SMALL_BEST:
            yield Finding(
                rank="check", subject=result.name, value=best, limit=SMALL_BEST, unit="",
                text=f"the map gives this {1e3 * size:.0f} mm rotor up to {100 * best:.0f} % "
                     "isentropic efficiency; small blowers and fans have been found at 25 to 65 %, "
                     "so its thrust is more likely too high than too low",
                change="measure one point of flow, pressure and watts, and give that instead")
    elif result.output_trust == 0.0 and any("carried" in told for told in result.assumptions):
        yield Finding(
            rank="check", subject=result.name, value=None, limit=None, unit="",
            text="its coefficients were measured at another size and carried here without any loss "
                 "for the smaller Reynolds number: its thrust is more likely too high than too low",
            change="measure a unit of this size, or state a band for the table")


def stretches(curve: OperatingPoint, raised: BoolArray, at_rest: bool) -> str:
    """The airspeeds at which something holds, stretch by stretch, in words."""
    if not raised.any():
        return "at rest"
    if raised.all():
        return "at every airspeed asked for"
    speeds = curve.airspeed
    edges = np.flatnonzero(np.diff(np.concatenate([[0], raised.astype(int), [0]])))
    said = []
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        low, high = f"{speeds[first]:.0f} m/s", f"{speeds[end - 1]:.0f} m/s"
        if speeds[first] == 0.0 or (at_rest and first == 0):
            low = "rest"
        said.append(f"from {low} up" if end == raised.size and end - first > 1
                    else f"at {low}" if low == high or end - first == 1
                    else f"from {low} to {high}")
    if at_rest and not said[0].startswith(("from rest", "at rest")):
        said.insert(0, "at rest")
    return " and ".join(said)


def _flight(result: CandidateResult) -> Iterator[Finding]:
    level = result.level
    if level is None:
        return
    if level.launch_speed < level.stall_speed:
        yield Finding(rank="stop", subject=result.name, value=level.launch_speed,
                      limit=level.stall_speed, unit="m/s",
                      change="launch faster, carry less, or give it more wing",
                      text=f"launched at {level.launch_speed:.1f} m/s but stalls below "
                           f"{level.stall_speed:.1f} m/s")
    if not np.isfinite(level.top_speed) and not np.isfinite(level.lowest_bound) \
            and level.launch_speed >= level.stall_speed:
        yield Finding(rank="stop", subject=result.name, value=None, limit=None, unit="",
                      change="more power, less drag, less mass, or a faster launch",
                      text=f"level flight is impossible: {level.reason}")


def _largest(*arrays: Array) -> float:
    values = np.concatenate([np.ravel(array) for array in arrays])
    values = values[np.isfinite(values)]
    return float(values.max()) if values.size else float("nan")


def _smallest(*arrays: Array) -> float:
    return -_largest(*(-array for array in arrays))
