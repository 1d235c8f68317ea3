"""The comparison: every candidate over the airspeeds on one footing, and what follows from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

import numpy as np

from thrustlapse import __version__
from thrustlapse.aircraft.drag import drag_area
from thrustlapse.aircraft.level_flight import LevelFlight
from thrustlapse.arrays import Array
from thrustlapse.propulsor.basis import EQUAL_POWER, FOOTINGS
from thrustlapse.propulsor.candidate import external_drag
from thrustlapse.propulsor.map_uncertainty import known_band
from thrustlapse.propulsor.operating_point import OperatingPoint, select
from thrustlapse.study.aircraft_study import begun_aircraft
from thrustlapse.study.aircraft_study_record import AircraftStudy
from thrustlapse.study.break_even import best_nozzles, break_even
from thrustlapse.study.comparison import (
    CandidateResult,
    Comparison,
    Crossover,
    FlipItem,
)
from thrustlapse.study.crossover import crossovers, highest_airspeed, kinds, search_grid
from thrustlapse.study.evaluate import Asked, Cases, cases_of, evaluate
from thrustlapse.study.flight_study_record import FlightStudy
from thrustlapse.study.flights import study_flights
from thrustlapse.study.footing import Footing
from thrustlapse.study.helper import begun
from thrustlapse.study.lapse import reduced_lapse
from thrustlapse.study.limits.collect import findings
from thrustlapse.study.nozzle_size import size_nozzle
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.uncertainty import asked_for, begun_draws, drawn_of

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
              "interpolated matched unknowns, recomputed station by station; energy balance",
    "performance": "steady climb and glide with the exact path angle; endurance on the pack's "
                   "open-circuit curve and resistance, down to a cell's cut-off voltage",
}


def compare(scenario: ScenarioLike, helper: Executor | None = None) -> Comparison:
    """Compare all candidates of a scenario on its footing.

    Parameters
    ----------
    scenario : ScenarioLike
    helper : Executor, optional
        A process beside this one that takes its share of the work; the answer is the same

    Returns
    -------
    Comparison
        Curves, level speeds, crossovers on the scenario's footing and on the others it can serve,
        nozzle studies, drag items that would flip the order, and findings.
    """
    drawn = begun(helper, [partial(drawn_of, scenario)] if asked_for(scenario) else [])
    air = scenario.site.air()
    footing = Footing(basis=scenario.comparison, candidates=scenario.candidates)
    cases = cases_of(scenario)
    results = {name: _candidate_result(one, scenario.airspeeds) for name, one in cases.items()}
    aircraft = _aircraft(cases, scenario, results, helper)
    found, curves = _all_footings(cases, scenario, results)
    chosen = found.pop(scenario.comparison.footing, ())
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
        candidates=results, crossovers=chosen, other_footings=found, footing_curves=curves,
        flip_items=_flip_items(cases, results), findings=(),
        scenario_digest=scenario.digest, version=__version__, methods=dict(METHODS),
        best_nozzles={name: nozzle for name, (nozzle, _) in best.items()},
        break_even=break_even(footing, results, best=best, airframe=scenario.airframe, air=air))
    draws = [begun_draws(scenario, comparison, one, helper) for one in drawn()]
    comparison = replace(comparison, aircraft=aircraft(), flights=_flights(scenario, chosen))
    comparison = replace(comparison, findings=findings(comparison, scenario))
    return replace(comparison, uncertainty=draws[0]()) if draws else comparison


def _aircraft(cases: Mapping[str, Cases], scenario: ScenarioLike,
              results: Mapping[str, CandidateResult], helper: Executor | None
              ) -> Callable[[], AircraftStudy | None]:
    """Drag and performance of the aircraft, that a helper begins with."""
    if scenario.airframe is None or scenario.aircraft_use is None:
        return lambda: None
    return begun_aircraft(cases, scenario.airframe, use=scenario.aircraft_use, pack=scenario.pack,
                          site=scenario.site, results=results, helper=helper)


def _flights(scenario: ScenarioLike, crossovers: tuple[Crossover, ...]) -> FlightStudy | None:
    """Flights of all candidates, where the scenario asks for one."""
    if scenario.flight is None or scenario.pack is None or scenario.airframe is None:
        return None
    return study_flights(scenario.flight, scenario.candidates, scenario.airframe,
                         pack=scenario.pack, use=scenario.aircraft_use, basis=scenario.comparison,
                         crossovers=crossovers)


def _candidate_result(cases: Cases, airspeeds: Array) -> CandidateResult:
    candidate, footing = cases.candidate, cases.footing
    flies = cases.airframe is not None
    done = evaluate(cases, airspeeds, Asked.LEVEL_FLIGHT if flies else None)
    at_rest, curve, level = select(done.flown, 0), done.curve, done.level
    drag = induced = None
    if flies:
        parts = cases.drag(airspeeds)
        drag, induced = (np.where(np.isfinite(force), force, np.nan)
                         for force in (parts.total, parts.induced))
    highest = _speed_of_interest(level, airspeeds)
    band = known_band(candidate)
    return CandidateResult(
        name=candidate.name, kind=candidate.kind, count=candidate.count,
        installed_mass=float(np.asarray(candidate.installed_mass)),
        frontal_area=float(candidate.count * np.asarray(candidate.installation.frontal_area)),
        output_trust=band.head or None, power_trust=band.power or None, trust_basis=band.basis,
        assumptions=candidate.assumptions,
        measured=() if candidate.fit is None else candidate.fit.told, curve=curve,
        measure=cases.measure(curve), short_of_reference=footing.short_of_reference(curve),
        at_rest=at_rest, lapse=reduced_lapse(curve, at_rest),
        nozzle=size_nozzle(candidate, airspeed=np.linspace(0.0, highest, NOZZLE_AIRSPEEDS),
                           fly=footing.fly),
        drag=drag, induced_drag=induced, level=level,
        at_top=None if done.at_top is None else select(done.at_top, 0),
        external_drag_areas=external_drag_areas(cases, highest))


def _speed_of_interest(level: LevelFlight | None, airspeeds: Array) -> float:
    if level is not None and np.isfinite(level.top_speed):
        return level.top_speed
    return float(airspeeds[-1])


def external_drag_areas(cases: Cases, airspeed: float) -> dict[str, float]:
    """A candidate's own external drag at an airspeed [m/s], by cause, as drag areas [m^2]."""
    if airspeed <= 0.0:
        return {}
    point, density = cases.fly(np.array([airspeed])), cases.air.density
    drags = external_drag(cases.candidate.installation, density=density, airspeed=airspeed,
                          jet_speed=point.jet_speed, additive=point.additive_drag)
    dynamic = 0.5 * float(density) * airspeed**2
    return {cause: float(cases.candidate.count * np.ravel(force)[0] / dynamic)
            for cause, force in drags.items()}


def _all_footings(cases: Mapping[str, Cases], scenario: ScenarioLike,
                  results: Mapping[str, CandidateResult]
                  ) -> tuple[dict[str, tuple[Crossover, ...]], dict[str, dict[str, Array]]]:
    """Crossovers and curves on every footing that the scenario can serve."""
    grid = search_grid(lowest=float(scenario.airspeeds[0]),
                       highest=highest_airspeed(scenario, results))
    flown: dict[bool, dict[str, OperatingPoint]] = {}
    found: dict[str, tuple[Crossover, ...]] = {}
    curves: dict[str, dict[str, Array]] = {}
    for name in FOOTINGS:
        basis = replace(scenario.comparison, footing=name)
        if name == EQUAL_POWER and basis.reference is None and basis.electrical_power is None:
            continue
        equal = name == EQUAL_POWER
        these = {key: replace(one, footing=replace(one.footing, basis=basis))
                 for key, one in cases.items()}
        if equal not in flown:  # the other footings fly alike and only measure differently
            asked = np.concatenate([scenario.airspeeds, grid])
            flown[equal] = {key: one.fly(asked) for key, one in these.items()}
        count = scenario.airspeeds.size
        curves[name] = {key: these[key].measure(select(point, slice(count)))
                        for key, point in flown[equal].items()}
        searched = {key: select(point, slice(count, None)) for key, point in flown[equal].items()}
        found[name] = tuple(
            one for kind in kinds(name, airframe=scenario.airframe is not None)
            for one in crossovers(these, searched, kind))
    return found, curves


def _flip_items(cases: Mapping[str, Cases],
                results: Mapping[str, CandidateResult]) -> tuple[FlipItem, ...]:
    """Which single drag item, taken off a slower candidate, would make it as fast as the fastest.

    The shortfall of thrust at the fastest candidate's top speed, as a drag area, against each drag
    item that the slower candidate brings along itself; the airframe's own drag slows all alike and
    enters through the crossovers' thresholds.
    """
    tops = {name: result.level.top_speed for name, result in results.items()
            if result.level is not None and np.isfinite(result.level.top_speed)}
    if len(tops) == 0:
        return ()
    fastest = max(tops, key=lambda name: tops[name])
    speed, items = tops[fastest], []
    for name, one in cases.items():
        if name == fastest:
            continue
        dynamic = 0.5 * float(one.air.density) * speed**2
        needed = -float(one.spare(one.fly(np.array([speed])))[0]) / dynamic
        if not np.isfinite(needed):
            continue
        areas = external_drag_areas(one, speed)
        areas["induced"] = float(one.drag(np.array([speed])).induced[0]) / dynamic
        items += [FlipItem(rival=name, item=item, drag_area=area, needed=needed,
                           possible=bool(area >= needed))
                  for item, area in areas.items() if area > 0.0]
    return tuple(items)
