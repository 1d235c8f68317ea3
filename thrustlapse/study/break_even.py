"""What every candidate would need to tie with every other, over the airspeeds of a comparison.

Two ties are asked for: in installed thrust, and on the airframe, in installed thrust less induced
drag at each one's own mass. A ducted candidate stands there twice: with its exit as built, and with
the exit of most installed thrust at each airspeed, so that what the nozzle alone would buy is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, heaviest
from thrustlapse.arrays import Array, BoolArray
from thrustlapse.propulsor.break_even import (
    chain_efficiency,
    drag_area_allowed,
    fully_expanded_speed,
    jet_speed_needed,
    jet_speed_of_disc,
    jet_speed_of_exit,
)
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.comparison import (
    AS_BUILT,
    BEST_EXIT,
    INSTALLED,
    ON_AIRFRAME,
    BestNozzle,
    BreakEven,
    CandidateResult,
)
from thrustlapse.study.footing import Footing
from thrustlapse.study.nozzle_size import best_exits


@dataclass(frozen=True, kw_only=True)
class _Side:
    """A candidate with one exit over the airspeeds, beside its result as built."""

    result: CandidateResult
    candidate: Candidate
    exit: str
    point: OperatingPoint
    short: Array


def best_nozzles(footing: Footing, results: Mapping[str, CandidateResult], airspeed: Array
                 ) -> dict[str, tuple[BestNozzle, OperatingPoint]]:
    """The exit of most installed thrust at each airspeed, for every ducted candidate."""
    found = {}
    for name, candidate in footing.candidates.items():
        if isinstance(candidate.unit, Ducted):
            diameter, point = best_exits(candidate, built=results[name].curve.installed_thrust,
                                         airspeed=airspeed, fly=footing.fly)
            found[name] = BestNozzle(best_diameter=diameter, best_thrust=point.installed_thrust,
                                     electrical_power=point.electrical_power), point
    return found


def break_even(footing: Footing, results: Mapping[str, CandidateResult],
               best: Mapping[str, tuple[BestNozzle, OperatingPoint]], airframe: Airframe | None,
               air: Air) -> tuple[BreakEven, ...]:
    """What each candidate of every ordered pair would need at each airspeed."""
    kinds = (INSTALLED,) if airframe is None else (INSTALLED, ON_AIRFRAME)
    built = {name: _Side(result=result, candidate=footing.candidates[name], exit=AS_BUILT,
                         point=result.curve, short=result.short_of_reference)
             for name, result in results.items()}
    sides = {name: [side] for name, side in built.items()}
    for name, (_, point) in best.items():
        sides[name].append(_Side(result=results[name], candidate=footing.candidates[name],
                                 exit=BEST_EXIT, point=point,
                                 short=footing.short_of_reference(point)))
    return tuple(_tie(side, built[rival], kind=kind, airframe=airframe, air=air)
                 for name, rival in permutations(results, 2) for side in sides[name]
                 for kind in kinds)


def _tie(side: _Side, rival: _Side, kind: str, airframe: Airframe | None, air: Air) -> BreakEven:
    point, v = side.point, side.point.airspeed
    asked, counts = rival.point.installed_thrust, (side.short == 0.0) & (rival.short == 0.0)
    mass = None
    with np.errstate(invalid="ignore"):
        if kind == ON_AIRFRAME:
            assert airframe is not None
            left, stalls = _left(rival, v)
            own_left, own_stalls = _left(side, v)
            counts = counts & ~stalls & ~own_stalls
            allowed = heaviest(airframe, induced=point.installed_thrust - left,
                               density=air.density, airspeed=v) - np.asarray(airframe.mass)
            asked = left + point.installed_thrust - own_left
            mass = np.where(counts & (left > 0.0) & (allowed > 0.0), allowed, np.nan)
        else:
            left = asked
        counts = counts & (left > 0.0)
        asked = np.where(counts, asked, np.nan)
        thrust, units = asked + point.external_drag, side.candidate.count
        net = units * point.net_thrust
    power = point.electrical_power
    expanded = fully_expanded_speed(
        jet_speed=point.jet_speed, mass_flow=point.mass_flow, jet_area=point.jet_area,
        gross_thrust=point.gross_thrust, pressure=air.pressure)
    held = (jet_speed_of_disc if _open(side.candidate) else jet_speed_of_exit)(
        thrust=thrust / units, mass_flow=point.mass_flow, jet_speed=expanded, airspeed=v)
    own = chain_efficiency(thrust=net, jet_speed=expanded, airspeed=v, power=power)
    exit_held = chain_efficiency(thrust=thrust, jet_speed=held, airspeed=v, power=power)
    return BreakEven(
        kind=kind, candidate=side.result.name, exit=side.exit, rival=rival.result.name,
        own_chain_efficiency=own,
        needed_chain_efficiency_jet_held=chain_efficiency(
            thrust=thrust, jet_speed=expanded, airspeed=v, power=power),
        needed_chain_efficiency_exit_held=exit_held,
        needed_jet_speed=jet_speed_needed(thrust=thrust, efficiency=own, power=power, airspeed=v),
        needed_power=np.asarray(power * exit_held / own),
        allowed_drag_area=drag_area_allowed(net_thrust=net, thrust=asked, density=air.density,
                                            airspeed=v),
        allowed_mass=mass)


def _left(side: _Side, airspeed: Array) -> tuple[Array, BoolArray]:
    """Installed thrust less induced drag [N], and where the aircraft would stall."""
    level, induced = side.result.level, side.result.induced_drag
    assert level is not None
    assert induced is not None
    return (np.asarray(side.point.installed_thrust - induced),
            np.asarray(airspeed < level.stall_speed))


def _open(candidate: Candidate) -> bool:
    """Whether the wake is an open disc's; a shrouded rotor's jet fills an exit."""
    unit = candidate.unit
    return not isinstance(unit, Ducted) and not np.any(np.asarray(unit.exit_area_ratio) > 0.0)
