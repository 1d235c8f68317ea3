"""The comparison: every candidate over the airspeeds on one footing, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from thrustlapse import __version__
from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import drag_area, level_drag
from thrustlapse.aircraft.performance import LevelFlight, level_flight
from thrustlapse.arrays import Array
from thrustlapse.propulsor.basis import EQUAL_POWER, FOOTINGS
from thrustlapse.propulsor.candidate import Candidate, external_drag
from thrustlapse.propulsor.map_band import known_band
from thrustlapse.propulsor.operating_point import OperatingPoint, select
from thrustlapse.study.break_even import best_nozzles, break_even
from thrustlapse.study.comparison import (
    CandidateResult,
    Comparison,
    Crossover,
    FlipItem,
)
from thrustlapse.study.crossover import (
    airframe_crossovers,
    highest_airspeed,
    installed_crossovers,
    search_grid,
    total_mass,
)
from thrustlapse.study.flight_study_record import FlightStudy
from thrustlapse.study.flights import study_flights
from thrustlapse.study.footing import Footing
from thrustlapse.study.lapse import reduced_lapse
from thrustlapse.study.limits.collect import findings
from thrustlapse.study.nozzle_size import size_nozzle
from thrustlapse.study.performance import study_aircraft
from thrustlapse.study.performance_record import AircraftStudy
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.uncertainty import asked_for, uncertainty

NOZZLE_AIRSPEEDS = 6
"""Airspeeds at which nozzles are sized, from rest to the highest of interest."""

METHODS = {
    "air": "International Standard Atmosphere shifted to the day; perfect gas, gamma 1.4",
    "ducted": "station-by-station compressible balance of inlet, stage map, duct and nozzle",
    "fan laws": "a map holds head and power coefficients at constant flow coefficient (constant "
                "isentropic head)",
    "open rotor": "CT(J), CP(J) tables, torque balance with the drive",
    "drive": "least shaft speed among full voltage, power, current and speed limits; "
             "pack sag shared by all units",
    "airframe": "offset parabola, CD = CDmin + k (CL - CL0)^2, level flight",
    "flight": "point mass in the vertical plane, Runge-Kutta of order 5(4); thrust from "
              "interpolated matched unknowns, recomputed station by station; energy books",
    "performance": "steady climb and glide with the exact path angle; endurance on the pack's "
                   "open-circuit curve and resistance, down to a cell's cut-off voltage",
}


def compare(scenario: ScenarioLike) -> Comparison:
    """Compare all candidates of a scenario on its footing.

    Returns
    -------
    Comparison
        Curves, level speeds, crossovers on the scenario's footing and on the others it can serve,
        nozzle studies, drag items that would flip the order, and findings.
    """
    air = scenario.site.air()
    footing = Footing(basis=scenario.comparison, candidates=scenario.candidates)
    results = {name: _candidate_result(footing, candidate, scenario, air)
               for name, candidate in scenario.candidates.items()}
    crossovers, others, curves = _all_footings(footing, scenario, air, results)
    best = best_nozzles(footing, results, scenario.airspeeds)
    power = scenario.comparison.electrical_power
    comparison = Comparison(
        title=scenario.title, question=scenario.question, note=scenario.note,
        invented=scenario.invented, footing=scenario.comparison.footing,
        reference=scenario.comparison.reference,
        reference_power=None if power is None else float(power),
        altitude=float(scenario.site.altitude), temperature=float(np.asarray(air.temperature)),
        pressure=float(np.asarray(air.pressure)), density=float(air.density),
        airspeed=scenario.airspeeds,
        drag_area=None if scenario.airframe is None else float(drag_area(scenario.airframe)),
        airframe_mass=None if scenario.airframe is None
        else float(np.asarray(scenario.airframe.mass)),
        candidates=results, crossovers=crossovers, other_footings=others, footing_curves=curves,
        flip_items=_flip_items(footing, scenario, air, results), findings=(),
        scenario_digest=scenario.digest, version=__version__, methods=dict(METHODS),
        aircraft=_aircraft(footing, scenario, results), flights=_flights(scenario, crossovers),
        best_nozzles={name: nozzle for name, (nozzle, _) in best.items()},
        break_even=break_even(footing, results, best, scenario.airframe, air))
    comparison = replace(comparison, findings=findings(comparison, scenario))
    if asked_for(scenario):
        comparison = replace(comparison, uncertainty=uncertainty(scenario, comparison))
    return comparison


def _aircraft(footing: Footing, scenario: ScenarioLike,
              results: Mapping[str, CandidateResult]) -> AircraftStudy | None:
    """Drag and performance of the aircraft."""
    if scenario.airframe is None or scenario.aircraft_use is None:
        return None
    return study_aircraft(footing, scenario.candidates, scenario.airframe,
                          use=scenario.aircraft_use, pack=scenario.pack, site=scenario.site,
                          results=results)


def _flights(scenario: ScenarioLike, crossovers: tuple[Crossover, ...]) -> FlightStudy | None:
    """Flights of all candidates, where the scenario asks for one."""
    if scenario.flight is None or scenario.pack is None or scenario.airframe is None:
        return None
    return study_flights(scenario.flight, scenario.candidates, scenario.airframe,
                         pack=scenario.pack, use=scenario.aircraft_use, basis=scenario.comparison,
                         crossovers=crossovers)


def _candidate_result(footing: Footing, candidate: Candidate, scenario: ScenarioLike,
                      air: Air) -> CandidateResult:
    airspeeds = scenario.airspeeds
    with_rest = footing.fly(candidate, np.concatenate([[0.0], airspeeds]))
    at_rest, curve = select(with_rest, 0), select(with_rest, slice(1, None))
    drag = induced = level = at_top = None
    if scenario.airframe is not None:
        mass = total_mass(candidate, scenario.airframe)
        with np.errstate(divide="ignore", invalid="ignore"):
            parts = level_drag(scenario.airframe, mass=mass, density=air.density,
                               airspeed=airspeeds, speed_of_sound=air.speed_of_sound)
        drag = np.where(np.isfinite(parts.total), parts.total, np.nan)
        induced = np.where(np.isfinite(parts.induced), parts.induced, np.nan)
        level = level_flight(lambda v: footing.fly(candidate, v), scenario.airframe, mass=mass,
                             air=air)
        if np.isfinite(level.top_speed):
            at_top = select(footing.fly(candidate, np.array([level.top_speed])), 0)
    highest = _speed_of_interest(level, airspeeds)
    band = known_band(candidate)
    return CandidateResult(
        name=candidate.name, kind=candidate.kind, count=candidate.count,
        installed_mass=float(np.asarray(candidate.installed_mass)),
        frontal_area=float(candidate.count * np.asarray(candidate.installation.frontal_area)),
        output_trust=band.head or None, power_trust=band.power or None, trust_basis=band.basis,
        assumptions=candidate.assumptions,
        measured=() if candidate.fit is None else candidate.fit.told, curve=curve,
        measure=footing.measure(candidate, curve),
        short_of_reference=footing.short_of_reference(curve), at_rest=at_rest,
        lapse=reduced_lapse(curve, at_rest),
        nozzle=size_nozzle(candidate, airspeed=np.linspace(0.0, highest, NOZZLE_AIRSPEEDS),
                           fly=footing.fly),
        drag=drag, induced_drag=induced, level=level, at_top=at_top,
        external_drag_areas=external_drag_areas(footing, candidate, air, highest))


def _speed_of_interest(level: LevelFlight | None, airspeeds: Array) -> float:
    if level is not None and np.isfinite(level.top_speed):
        return level.top_speed
    return float(airspeeds[-1])


def external_drag_areas(footing: Footing, candidate: Candidate, air: Air,
                        airspeed: float) -> dict[str, float]:
    """A candidate's own external drag at an airspeed [m/s], by cause, as drag areas [m^2]."""
    if airspeed <= 0.0:
        return {}
    point = footing.fly(candidate, np.array([airspeed]))
    drags = external_drag(candidate.installation, density=air.density, airspeed=airspeed,
                          jet_speed=point.jet_speed, additive=point.additive_drag)
    dynamic = 0.5 * float(air.density) * airspeed**2
    return {cause: float(candidate.count * np.ravel(force)[0] / dynamic)
            for cause, force in drags.items()}


def _all_footings(footing: Footing, scenario: ScenarioLike, air: Air,
                  results: Mapping[str, CandidateResult]
                  ) -> tuple[tuple[Crossover, ...], dict[str, tuple[Crossover, ...]],
                             dict[str, dict[str, Array]]]:
    """Crossovers on the chosen footing, and on every other that the scenario can serve."""
    grid = search_grid(lowest=float(scenario.airspeeds[0]),
                       highest=highest_airspeed(scenario, results))
    flown: dict[bool, dict[str, OperatingPoint]] = {}
    chosen: tuple[Crossover, ...] = ()
    others: dict[str, tuple[Crossover, ...]] = {}
    curves: dict[str, dict[str, Array]] = {}
    for name in FOOTINGS:
        basis = replace(footing.basis, footing=name)
        if name == EQUAL_POWER and basis.reference is None and basis.electrical_power is None:
            continue
        this, equal = replace(footing, basis=basis), name == EQUAL_POWER
        if equal not in flown:  # the other footings fly alike and only measure differently
            asked = np.concatenate([scenario.airspeeds, grid])
            flown[equal] = {key: this.fly(candidate, asked)
                            for key, candidate in scenario.candidates.items()}
        count = scenario.airspeeds.size
        curves[name] = {key: this.measure(scenario.candidates[key], select(point, slice(count)))
                        for key, point in flown[equal].items()}
        searched = {key: select(point, slice(count, None)) for key, point in flown[equal].items()}
        found = installed_crossovers(this, searched)
        if scenario.airframe is not None:
            found += airframe_crossovers(this, searched, scenario.airframe,
                                         density=float(air.density),
                                         speed_of_sound=float(air.speed_of_sound))
        if name == footing.basis.footing:
            chosen = found
        else:
            others[name] = found
    return chosen, others, curves


def _flip_items(footing: Footing, scenario: ScenarioLike, air: Air,
                results: Mapping[str, CandidateResult]) -> tuple[FlipItem, ...]:
    """Which single drag item, taken off a slower candidate, would make it as fast as the fastest.

    The shortfall of thrust at the fastest candidate's top speed, as a drag area, against each drag
    item that the slower candidate brings along itself; the airframe's own drag slows all alike and
    enters through the crossovers' thresholds.
    """
    if scenario.airframe is None:
        return ()
    tops = {name: result.level.top_speed for name, result in results.items()
            if result.level is not None and np.isfinite(result.level.top_speed)}
    if len(tops) == 0:
        return ()
    fastest = max(tops, key=lambda name: tops[name])
    speed = tops[fastest]
    dynamic = 0.5 * float(air.density) * speed**2
    items = []
    for name, candidate in scenario.candidates.items():
        if name == fastest:
            continue
        mass = total_mass(candidate, scenario.airframe)
        thrust = float(footing.fly(candidate, np.array([speed])).installed_thrust[0])
        drag = level_drag(scenario.airframe, mass=mass, density=air.density,
                          airspeed=np.array([speed]), speed_of_sound=air.speed_of_sound)
        needed = (float(drag.total[0]) - thrust) / dynamic
        if not np.isfinite(needed):
            continue
        areas = external_drag_areas(footing, candidate, air, speed)
        areas["induced"] = float(drag.induced[0]) / dynamic
        items += [FlipItem(rival=name, item=item, drag_area=area, needed=needed,
                           possible=bool(area >= needed))
                  for item, area in areas.items() if area > 0.0]
    return tuple(items)

