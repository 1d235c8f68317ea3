"""Numbers that are better, or worse, than such machines have been seen to be.

A machine is judged by the best that its map holds and by the points it is flown at, whichever is
more: a map that is too good is so wherever on it the machine happens to run.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.rotor.stage_map import efficiency
from thrustlapse.study.limits.limit import Limit, Reading
from thrustlapse.study.limits.states import States

SMALL = 0.10
"""Tip diameter of a ducted rotor below which it is small [m]."""

SMALL_USUAL, LARGE_USUAL = (0.25, 0.65), (0.40, 0.88)
"""Best isentropic efficiency of ducted rotors: suction units give 0.24 to 0.53 overall
(catalogue), small fans 0.55 to 0.75 (from memory); large rotors with straighteners 0.80 to 0.88
(Wallis; Eck; Dixon and Hall, from memory)."""

PROPELLER_USUAL = (0.40, 0.78)
"""Best efficiency J CT / CP of propellers up to half a metre: eleven of 0.11 to 0.48 m reach 0.57
to 0.73 (University of Illinois database), others of steep pitch 0.76; with a margin."""

READINGS = 201
"""Places of a map at which its efficiency is looked at."""


def map_best(states: States) -> tuple[Array, Array]:
    """Best efficiency that a map or table holds, and whether that lies inside it, (case, 1).

    Isentropic, total to total, of a ducted rotor; J CT / CP of an open one, at the slowest and the
    fastest it turns here. A best at the end of the readings is a lower bound: the map may end
    before its peak.
    """
    unit, share = states.candidate.unit, np.linspace(0.0, 1.0, READINGS)
    with np.errstate(invalid="ignore", divide="ignore"):
        if isinstance(unit, Ducted):
            stage = unit.rotor.stage
            low = np.asarray(stage.lowest_flow)
            found = efficiency(stage, low + share * (np.asarray(stage.highest_flow) - low))
        else:
            turns = states.each("shaft_speed")
            advance = share * np.asarray(unit.table.highest_advance_ratio)
            found = np.fmax(*(_propeller(unit, advance, end.reduce(turns, axis=-1, keepdims=True))
                              for end in (np.fmin, np.fmax)))
    found = np.where(np.isfinite(found), found, -np.inf)
    best = found.max(axis=-1, keepdims=True)
    inside = np.argmax(found, axis=-1)[..., None] < READINGS - 1
    return np.where(np.isfinite(best), best, np.nan), inside


def _propeller(unit: OpenRotor, advance: Array, shaft_speed: Array) -> Array:
    cost = unit.table.power(advance_ratio=advance, shaft_speed=shaft_speed)
    gain = advance * unit.table.thrust(advance_ratio=advance, shaft_speed=shaft_speed)
    return np.where(cost > 0.0, gain / cost, np.nan)


def _flown(states: States) -> Array:
    unit = states.candidate.unit

    def reached(point: OperatingPoint) -> Array:
        with np.errstate(invalid="ignore", divide="ignore"):
            if isinstance(unit, Ducted):
                gain, cost = point.head_coefficient * point.flow_coefficient, (
                    point.power_coefficient)
            else:
                gain, cost = point.net_thrust * point.airspeed, point.shaft_power
            return np.where(point.valid & (cost > 0.0), gain / cost, np.nan)

    return states.of(reached)


def _best(states: States) -> Array:
    best, _ = map_best(states)
    flown = _flown(states)
    return np.concatenate([flown, np.broadcast_to(best, (*flown.shape[:-1], 1))], axis=-1)


def _best_inside(states: States) -> Array:
    best, inside = map_best(states)
    return np.where(inside, best, np.nan)


def _usual(states: States, end: int) -> Values:
    unit = states.candidate.unit
    if not isinstance(unit, Ducted):
        return PROPELLER_USUAL[end]
    small = np.atleast_1d(unit.rotor.tip_diameter) < SMALL
    return np.where(small, SMALL_USUAL[end], LARGE_USUAL[end])


def _words(at: Reading, usual: str) -> str:
    unit = at.states.candidate.unit
    size = float(np.max(np.asarray(unit.rotor.tip_diameter if isinstance(unit, Ducted)
                                   else unit.diameter)))
    what, found = (("the map gives this", "isentropic efficiency")
                   if isinstance(unit, Ducted) else ("its table gives this", "efficiency"))
    where = "at its best" if at.place == -1 else "as it is flown"
    low, high = (PROPELLER_USUAL if not isinstance(unit, Ducted) else
                 SMALL_USUAL if size < SMALL else LARGE_USUAL)
    return (f"{what} {1e3 * size:.0f} mm rotor {100 * at.value:.0f} % {found} {where}; such "
            f"machines have been found at {100 * low:.0f} to {100 * high:.0f} %, so its thrust is "
            f"more likely too {usual}")


LIMITS = (
    Limit(name="efficiency too good", unit="", value=_best, bound=lambda states: _usual(states, 1),
          meaning="more efficient than such machines have been found to be", ranks={"check": 0.0},
          text=lambda at: _words(at, "high than too low"), source="measured machines and textbooks",
          remedy="measure one point of flow, pressure and watts (thrust, speed and watts of a "
                 "propeller), and give that instead"),
    Limit(name="efficiency too poor", unit="", value=_best_inside, least=True,
          bound=lambda states: _usual(states, 0), ranks={"check": 0.0},
          meaning="less efficient than such machines have been found to be",
          text=lambda at: _words(at, "low than too high"),
          source="measured machines and textbooks",
          remedy="look at the readings of the map again, the power first"),
)
