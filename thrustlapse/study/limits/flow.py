"""Flow through the machine: stall, choking, spilling, the ends of maps, tip Mach number."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.arrays import BoolArray
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.propulsor.operating_point import INVALID, MEANING, Flag, OperatingPoint
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.states import largest, smallest

STALL_ROOM = 0.10
"""Room in flow to the stall limit below which a small disturbance may cross it (common practice:
surge margins of 10 to 20 %, no source)."""

ROUND_OFF = 1e-9
"""Relative distance of two flows that are one."""

FAR = 2.0
"""Room in flow beyond which its number says nothing [-]."""

NEARLY_CHOKED = 0.8
"""Mach number in a passage from which it is told how near choking is (judgement)."""

TIP_MACH = 0.85
"""Tip Mach number beyond which tables without it know nothing (physics of transonic tips)."""

EXPLAINED = (Flag.THROAT_CHOKED, Flag.EYE_CHOKED, Flag.DUCT_CHOKED, Flag.NOZZLE_CHOKED,
             Flag.STALL_SIDE,
             Flag.TWO_MATCHES, Flag.FREEWHEELING, Flag.NO_THROUGH_FLOW, Flag.INLET_SPILLS,
             Flag.SPEED_OUTSIDE_TABLE, Flag.TIP_MACH_HIGH, Flag.OUTSIDE_MAP,
             Flag.PACK_CANNOT_DELIVER, Flag.CANNOT_TURN, Flag.NOT_CONVERGED, Flag.REGENERATING,
             Flag.OVERCHARGING, Flag.UNSTABLE, Flag.IMPOSSIBLE)

SERIOUS = (Flag.STALL_SIDE | Flag.SPEED_OUTSIDE_TABLE | Flag.TWO_MATCHES | Flag.TIP_MACH_HIGH
           | Flag.PACK_CANNOT_DELIVER | Flag.CANNOT_TURN | Flag.NOT_CONVERGED | Flag.OVERCHARGING
           | Flag.UNSTABLE | Flag.IMPOSSIBLE)

REMEDY = {
    Flag.THROAT_CHOKED: "widen the inlet throat",
    Flag.EYE_CHOKED: "a larger eye, or less shaft speed",
    Flag.DUCT_CHOKED: "a wider duct",
    Flag.NOZZLE_CHOKED: "nothing need be done; a wider exit lowers the pressure",
    Flag.STALL_SIDE: "widen the nozzle exit, or take a machine with a smaller design flow",
    Flag.TWO_MATCHES: "move away from the rising part of the map with a wider exit",
    Flag.FREEWHEELING: "the air turns the rotor: expect drag instead of thrust here",
    Flag.REGENERATING: "the rotor brakes and charges the pack: cut the drive, or fly slower",
    Flag.OVERCHARGING: "cut the drive before it is overrun, or begin with less charge",
    Flag.UNSTABLE: "a narrower exit, or a map that reaches to larger flows",
    Flag.IMPOSSIBLE: "none: this is an error of the program",
    Flag.NO_THROUGH_FLOW: "raise the head (speed, diameter) or face the inlet into the air",
    Flag.INLET_SPILLS: "a smaller throat with a rounded lip spills less",
    Flag.SPEED_OUTSIDE_TABLE: "a table that reaches these shaft speeds",
    Flag.TIP_MACH_HIGH: "less shaft speed or diameter: noise and loss grow steeply from here",
    Flag.OUTSIDE_MAP: "measure further, or keep to the airspeeds that the map covers",
    Flag.PACK_CANNOT_DELIVER: "more cells, lower resistance, or a lower power limit",
    Flag.CANNOT_TURN: "raise the voltage or the limit of the drive",
    Flag.NOT_CONVERGED: "look for an impossible number in this candidate",
}


def flow_findings(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    """What the flags say, then the numbers behind stall, choking and tip Mach number."""
    yield from _flags(result)
    points = (result.curve, result.at_rest)
    yield from _tip(result, *points)
    if isinstance(candidate.unit, Ducted):
        yield from _stall(result, candidate.unit, *points)
        yield from _passages(result, *points)


def _tip(result: CandidateResult, *points: OperatingPoint) -> Iterator[Finding]:
    tip = largest(*(point.tip_mach for point in points))
    flagged = any(bool(np.any(point.flagged(Flag.TIP_MACH_HIGH))) for point in points)
    if not np.isfinite(tip) or flagged or tip < 0.5 * TIP_MACH:
        return
    yield Finding(rank="check" if tip > TIP_MACH else "note", subject=result.name, value=tip,
                  limit=TIP_MACH, unit="", change=REMEDY[Flag.TIP_MACH_HIGH],
                  text=f"tip Mach number up to {tip:.2f}",
                  about=f"from about {TIP_MACH:g} noise and shock losses grow that no map here has",
                  source="common practice")


def _stall(result: CandidateResult, unit: Ducted, *points: OperatingPoint) -> Iterator[Finding]:
    stage = unit.rotor.stage
    limit = float(np.max(np.asarray(stage.stall_flow)))
    start = float(np.max(np.asarray(stage.lowest_flow)))
    least = smallest(*(np.where(point.valid, point.flow_coefficient, np.nan) for point in points))
    if not np.isfinite(least):
        return
    if not limit > start * (1.0 + ROUND_OFF):
        # the head falls all along the map: its first flow stands there and is no limit of anything
        yield Finding(rank="note", subject=result.name, value=least, limit=None, unit="",
                      change="measure the map down to no flow",
                      text="how far from stall or surge it runs is not known",
                      about="the map shows no flow of greatest head")
        return
    room = least / limit - 1.0
    if room < 0.0:
        return  # the flag says it
    yield Finding(rank="check" if room < STALL_ROOM else "note", subject=result.name, value=least,
                  limit=limit, unit="", least=True, change=REMEDY[Flag.STALL_SIDE],
                  text=f"flow stays {100.0 * room:.0f} % above the stall limit of the map"
                  if room < FAR else "flow stays far above the stall limit of the map",
                  source="flow of greatest head in the map, or the blades' own limit; small "
                         "machines may stall earlier")


def _passages(result: CandidateResult, *points: OperatingPoint) -> Iterator[Finding]:
    for name, word, flag in (("throat_mach", "inlet throat", Flag.THROAT_CHOKED),
                             ("eye_mach", "rotor's eye", Flag.EYE_CHOKED),
                             ("duct_mach", "duct", Flag.DUCT_CHOKED)):
        most = largest(*(np.where(point.valid, getattr(point, name), np.nan) for point in points))
        if any(bool(np.any(point.flagged(flag))) for point in points) or not most > NEARLY_CHOKED:
            continue
        yield Finding(rank="note", subject=result.name, value=most, limit=1.0, unit="",
                      change=REMEDY[flag], text=f"Mach number in the {word} up to {most:.2f}",
                      about="it chokes at 1", source="gas dynamics")


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
                      text=stretches(curve, raised, at_rest), about=MEANING[flag])


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
