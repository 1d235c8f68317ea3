"""Flow through the machine: stall, choking, spilling, the ends of maps, tip Mach number."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import (
    INVALID,
    MEANING,
    TIP_MACH_LIMIT,
    Flag,
    OperatingPoint,
)
from thrustlapse.propulsor.relative_mach import relative_mach
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.limit import Limit, Reading
from thrustlapse.study.limits.states import States

STALL_ROOM = 0.10
"""Room in flow to the stall limit below which a small disturbance may cross it (common practice:
surge margins of 10 to 20 %, no source)."""

ROUND_OFF = 1e-9
"""Relative distance of two flows that are one."""

FAR = 2.0
"""Room in flow beyond which its number says nothing [-]."""

NEARLY_CHOKED = 0.8
"""Mach number in a passage from which it is told how near choking is (judgement)."""

EXPLAINED = (Flag.THROAT_CHOKED, Flag.EYE_CHOKED, Flag.DUCT_CHOKED, Flag.NOZZLE_CHOKED,
             Flag.STALL_SIDE,
             Flag.TWO_MATCHES, Flag.FREEWHEELING, Flag.NO_THROUGH_FLOW, Flag.INLET_SPILLS,
             Flag.SPEED_OUTSIDE_TABLE, Flag.OUTSIDE_MAP,
             Flag.PACK_CANNOT_DELIVER, Flag.CANNOT_TURN, Flag.NOT_CONVERGED, Flag.REGENERATING,
             Flag.OVERCHARGING, Flag.UNSTABLE, Flag.IMPOSSIBLE)
"""Flags a page tells by themselves; what has a number of its own is a :class:`Limit`."""

SERIOUS = (Flag.STALL_SIDE | Flag.SPEED_OUTSIDE_TABLE | Flag.TWO_MATCHES
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


def _mach(states: States) -> Array:
    unit = states.candidate.unit
    return states.of(lambda point: relative_mach(unit, point))


def _mach_words(at: Reading) -> str:
    unit = at.states.candidate.unit
    wheel = isinstance(unit, Ducted) and np.any(
        np.asarray(unit.rotor.inducer_diameter) < np.asarray(unit.rotor.tip_diameter))
    text = f"the air meets the {'inducer' if wheel else 'blade'} tips at up to Mach {at.value:.2f}"
    curve = at.states.points[0]
    fast, rest = curve.flagged(Flag.TIP_MACH_HIGH), at.states.rest.flagged(Flag.TIP_MACH_HIGH)
    above = bool(np.any(fast) or np.any(rest))
    return text + (f": too fast {stretches(curve, fast, bool(np.any(rest)))}" if above else "")


def _flow(states: States) -> Array | None:
    if not isinstance(states.candidate.unit, Ducted):
        return None
    return states.of(lambda point: np.where(point.valid, point.flow_coefficient, np.nan))


def _above_stall(states: States) -> Array | None:
    """Flow coefficients, while none lies on the stall side: there the flag says it."""
    flow, limit = _flow(states), _stall_flow(states)
    if flow is None or limit is None:
        return None
    with np.errstate(invalid="ignore"):
        return None if np.any(flow < limit) else flow


def _stall_flow(states: States) -> Values | None:
    """Flow of greatest head; None where the head falls all along the map: its first flow stands
    there and is no limit of anything."""
    unit = states.candidate.unit
    if not isinstance(unit, Ducted):
        return None
    limit, start = np.asarray(unit.rotor.stage.stall_flow), unit.rotor.stage.lowest_flow
    return limit if np.all(limit > np.asarray(start) * (1.0 + ROUND_OFF)) else None


def _stall_unknown(states: States) -> Finding | None:
    flow = _flow(states)
    if flow is None or not np.isfinite(flow).any():
        return None
    return Finding(rank="note", subject=states.candidate.name, value=float(np.nanmin(flow)),
                   limit=None, unit="", change="measure the map down to no flow",
                   text="how far from stall or surge it runs is not known",
                   about="the map shows no flow of greatest head")


def _stall_words(at: Reading) -> str:
    room = at.value / at.bound - 1.0
    return (f"flow stays {100.0 * room:.0f} % above the stall limit of the map" if room < FAR
            else "flow stays far above the stall limit of the map")


def _passage(word: str, quantity: str, flag: Flag) -> Limit:
    """How near a passage is to choking, while it is not choked: the flag says that."""
    def mach(states: States) -> Array | None:
        if not isinstance(states.candidate.unit, Ducted) or any(
                bool(np.any(point.flagged(flag))) for point in states.points):
            return None
        return states.of(lambda point: np.where(point.valid, getattr(point, quantity), np.nan))

    return Limit(name=f"{word} Mach number", meaning=f"the {word} is near choking", unit="",
                 value=mach, bound=lambda _: 1.0, ranks={"note": 1.0 - NEARLY_CHOKED},
                 text=lambda at: f"Mach number in the {word} up to {at.value:.2f}",
                 about="it chokes at 1", source="gas dynamics", remedy=REMEDY[flag])


LIMITS = (
    Limit(name=Flag.TIP_MACH_HIGH.words, meaning=MEANING[Flag.TIP_MACH_HIGH], unit="", value=_mach,
          bound=lambda _: TIP_MACH_LIMIT, ranks={"check": 0.0, "note": 0.5}, text=_mach_words,
          about=f"from about {TIP_MACH_LIMIT:g} noise and shock losses grow that no map here has",
          source="common practice", remedy=REMEDY[Flag.TIP_MACH_HIGH]),
    Limit(name="room to stall", meaning="a small disturbance may stall it", unit="", least=True,
          value=_above_stall, bound=_stall_flow, ranks={"check": STALL_ROOM, "note": np.inf},
          text=_stall_words, remedy=REMEDY[Flag.STALL_SIDE], unrated=_stall_unknown,
          source="flow of greatest head in the map, or the blades' own limit; small machines may "
                 "stall earlier"),
    _passage("inlet throat", "throat_mach", Flag.THROAT_CHOKED),
    _passage("rotor's eye", "eye_mach", Flag.EYE_CHOKED),
    _passage("duct", "duct_mach", Flag.DUCT_CHOKED),
)


def flag_findings(result: CandidateResult) -> Iterator[Finding]:
    """What the flags say of the curve and of rest."""
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
