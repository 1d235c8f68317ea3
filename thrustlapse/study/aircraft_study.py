"""The aircraft with each candidate: climb, ceilings, glide, endurance; and whence its drag comes.

Candidates run on the comparison's footing, as everywhere on the page. Thrust at height comes from
one table per candidate of :data:`TABLE_HEIGHTS` by :data:`TABLE_SPEEDS` matched points; straight
lines between them put a ceiling within 1 % of that of the machine matched anew at every point.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import replace
from functools import cache, partial
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.aircraft.climb import (
    Glide,
    ThrustLaw,
    best_climb,
    best_lift_coefficient,
    ceilings,
    climb,
    glide,
    least_to_fly,
    vertical_speed,
)
from thrustlapse.aircraft.discharge import CUT_OFF_VOLTAGE, RunningPack
from thrustlapse.aircraft.drag import Airframe, drag_area
from thrustlapse.aircraft.drag_basis import DragBasis
from thrustlapse.aircraft.endurance import Endurance, best_of, level_endurance
from thrustlapse.aircraft.level_flight import LevelFlight, top_speed
from thrustlapse.aircraft.operating_needs import AircraftUse
from thrustlapse.aircraft.runway import take_off_run
from thrustlapse.aircraft.sizing import MOST_UNITS, units_needed, with_count
from thrustlapse.arrays import Array
from thrustlapse.power.pack import Pack
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.unpowered import unpowered_drag_area
from thrustlapse.study.aircraft_study_record import (
    AircraftStudy,
    Cruise,
    DragSource,
    PartShare,
    Performance,
)
from thrustlapse.study.comparison import CandidateResult
from thrustlapse.study.evaluate import Cases
from thrustlapse.study.helper import begun

HIGHEST_TABLE = 20_000.0
"""Height at which the standard atmosphere of this package ends [m]."""

TABLE_HEIGHTS, TABLE_SPEEDS = 33, 49
"""Heights and airspeeds of the table of thrust."""

CURVE_POINTS = 61
BEYOND_TOP = 1.08
"""How far the curve of climb goes beyond the top speed."""

DEFAULT_HEIGHTS = (0.0, 500.0, 1000.0, 2000.0)
"""Heights above the site at which top speed and climb are found unless others are asked [m]."""

LAUNCH_POINTS = 24
"""Airspeeds between stall and launch at which thrust is held against drag."""

TABLE_BEYOND_TOP = 1.3
"""How far the table goes beyond the top speed at the site, at equal dynamic pressure [-]."""



def study_aircraft(cases: Mapping[str, Cases], airframe: Airframe, *, use: AircraftUse,
                   pack: Pack | None, site: Site,
                   results: Mapping[str, CandidateResult]) -> AircraftStudy:
    """Performance of an airframe with every candidate; arguments as :func:`begun_aircraft`."""
    return begun_aircraft(cases, airframe, use=use, pack=pack, site=site, results=results)()


def begun_aircraft(cases: Mapping[str, Cases], airframe: Airframe, *, use: AircraftUse,
                   pack: Pack | None, site: Site, results: Mapping[str, CandidateResult],
                   helper: Executor | None = None) -> Callable[[], AircraftStudy]:
    """Performance of an airframe with every candidate, that a helper begins with.

    Parameters
    ----------
    use : AircraftUse
        What the drag rests on, and what is asked
    pack : Pack, optional
        Without one there is no endurance
    results : mapping
        The candidates' curves and level speeds, as compared
    """
    cut_off = CUT_OFF_VOLTAGE if use.cut_off_voltage is None else use.cut_off_voltage
    running = None if pack is None else RunningPack(pack=pack, cut_off_voltage=cut_off)
    performances = begun(helper, [
        partial(_performance, one, use=use, pack=running, level=results[name].level)
        for name, one in cases.items()])

    def answer() -> AircraftStudy:
        tops = [one.level.top_speed for one in results.values() if one.level is not None]
        known = [top for top in tops if np.isfinite(top)]
        return AircraftStudy(
            drag_source=drag_source(airframe, use.drag_basis, site.air(),
                                    top_speed=max(known, default=float("nan"))),
            rolls=use.rolling is not None, cut_off_voltage=cut_off,
            performances=dict(zip(cases, performances(), strict=True)))

    return answer


def drag_source(airframe: Airframe, basis: DragBasis, air: Air, *, top_speed: float) -> DragSource:
    """The polar and its parts, at the build-up's own airspeed and at a top speed [m/s]."""
    area = float(np.asarray(airframe.wing_area))
    parts: tuple[PartShare, ...] = ()
    at_top = float("nan")
    if basis.recipe is not None:
        parts = tuple(PartShare(
            name=part.name, kind=part.kind, drag_area=float(part.drag_area),
            drag_area_low=float(part.low), drag_area_high=float(part.high),
            wetted_area=float(part.wetted_area), reynolds=float(part.reynolds),
            friction=float(part.friction), form_factor=float(part.form_factor),
            interference=float(part.interference), frontal_area=float(part.frontal_area),
            coefficient=float(part.coefficient))
            for part in basis.recipe.at(basis.reference_speed, air).parts)
        if np.isfinite(top_speed):
            at_top = float(basis.recipe.at(top_speed, air).drag_area)
    return DragSource(
        source=basis.source, drag_area=float(drag_area(airframe)),
        drag_area_low=basis.low * area, drag_area_high=basis.high * area, drag_area_at_top=at_top,
        minimum_drag_coefficient=float(np.asarray(airframe.minimum_drag_coefficient)),
        drag_deviation=basis.deviation, induced_factor=float(np.asarray(airframe.induced_factor)),
        induced_deviation=basis.induced_deviation,
        lift_of_least_drag=float(np.asarray(airframe.lift_of_least_drag)),
        span_efficiency=basis.span_efficiency, reference_speed=basis.reference_speed,
        scatter=basis.scatter, separable=basis.separable, parts=parts, assumptions=basis.told)


def _performance(cases: Cases, *, use: AircraftUse, pack: RunningPack | None,
                 level: LevelFlight | None) -> Performance:
    assert level is not None
    airframe, mass, air, site = cases.frame, float(cases.mass), cases.air, cases.candidate.site
    fastest = _fastest(level, airframe)
    table = thrust_table(cases, slowest=level.stall_speed, fastest=TABLE_BEYOND_TOP * fastest,
                         lowest=float(min([site.altitude, *use.altitudes])))
    top = ceilings(table, airframe, mass=mass, site=site, highest=fastest)
    heights = np.array(sorted(use.altitudes or [site.altitude + up for up in DEFAULT_HEIGHTS]))
    higher = best_climb(table, airframe, mass=mass, site=site, altitude=heights,
                        highest=fastest * np.sqrt(air.density / site.air(heights).density))
    least = least_to_fly(airframe, mass=mass, density=air.density)
    roll, lift_off = _take_off(cases, use)
    longest, farthest, cruises = _endurances(cases, pack, use, fastest)
    return Performance(
        total_mass=mass,
        slowest_top_speed=_top_with(use.drag_basis.high, cases, table),
        fastest_top_speed=_top_with(use.drag_basis.low, cases, table),
        **_climbs(cases, table, stall=level.stall_speed, fastest=fastest),
        absolute_ceiling=top.absolute, service_ceiling=top.service, service_rate=top.service_rate,
        ceiling_reason=top.reason,
        pack_ceiling=_pack_ceiling(cases, table, pack, fastest),
        altitudes=heights,
        top_speed_there=np.array([_level_at(height, cases, table) for height in heights.tolist()]),
        climb_rate_there=higher.rate, **_glides(cases),
        least_thrust=float(least.thrust), least_thrust_speed=float(least.thrust_speed),
        least_power=float(least.power), least_power_speed=float(least.power_speed),
        launch_speed_needed=_launch(level),
        units_needed=_units(cases, level, use.source_mass),
        most_units=MOST_UNITS, take_off_run=roll, lift_off_speed=lift_off, longest=longest,
        farthest=farthest, cruises=cruises)


def _climbs(cases: Cases, table: ThrustLaw, *, stall: float, fastest: float) -> dict[str, Any]:
    """Rate of climb over airspeed, and the fastest and the steepest of it, at the site.

    The best airspeeds are looked for on the table; thrust there is matched anew. An aircraft whose
    thrust carries it straight up climbs at least at the airspeed at which it does.
    """
    airframe, mass, air, site = cases.frame, float(cases.mass), cases.air, cases.candidate.site
    found = [best_climb(table, airframe, mass=mass, site=site, altitude=site.altitude,
                        highest=fastest, steepest=steep).airspeed for steep in (False, True)]
    speeds = np.linspace(stall, max(BEYOND_TOP * fastest, 1.5 * stall), CURVE_POINTS)
    every = np.concatenate([speeds, [np.where(np.isfinite(one), one, stall) for one in found]])
    thrust = cases.thrust(None, every)
    flown = climb(airframe, thrust=thrust, mass=mass, density=air.density, airspeed=every,
                  speed_of_sound=air.speed_of_sound)
    (rate, fast), (steep, slow) = ((float(flown.rate[-2]), float(every[-2])),
                                   (float(flown.angle[-1]), float(every[-1])))
    upright = vertical_speed(
        airframe, mass=mass, density=float(air.density), lowest=stall, highest=fastest,
        speed_of_sound=float(air.speed_of_sound),
        thrust=lambda airspeed: cases.thrust(None, airspeed))
    if np.isfinite(upright):
        steep, slow = 0.5 * np.pi, upright
        rate, fast = (rate, fast) if rate > upright else (upright, upright)
    curve = flown.rate[:CURVE_POINTS]
    return {"airspeed": speeds, "climb_rate": curve, "best_climb_rate": rate,
            "best_climb_speed": fast if np.isfinite(rate) else float("nan"),
            "steepest_angle": steep,
            "steepest_climb_speed": slow if np.isfinite(steep) else float("nan"),
            "climb_reason": _climb_reason(curve, thrust[:CURVE_POINTS], rate)}


def _fastest(level: LevelFlight, airframe: Airframe) -> float:
    """Highest airspeed worth looking at [m/s]."""
    for speed in (level.top_speed, level.lowest_bound):
        if np.isfinite(speed):
            return max(speed, 1.05 * level.stall_speed)
    settled = level.speeds[level.stable]
    return float(max([1.5 * level.stall_speed, float(np.asarray(airframe.launch_speed)),
                      *settled.tolist()]))


def thrust_table(cases: Cases, *, slowest: float, fastest: float, lowest: float) -> ThrustLaw:
    """Installed thrust over airspeed and altitude, from one batch of matched points.

    The table is laid over equal dynamic pressures, between the stall and the fastest, so that it
    covers at every height what can be flown there. Straight lines between; NaN outside, and beside
    points that have no value. It begins at the altitude ``lowest`` [m].
    """
    site, heights = cases.candidate.site, np.linspace(lowest, HIGHEST_TABLE, TABLE_HEIGHTS)
    dense = float(site.air().density)
    swell = np.sqrt(dense / site.air(heights).density)
    equivalent = np.linspace(0.98 * slowest, fastest, TABLE_SPEEDS)
    values = cases.fly(swell[:, None] * equivalent, heights[:, None]).installed_thrust

    def look_up(airspeed: Array, altitude: Array) -> Array:
        speed, height = np.broadcast_arrays(airspeed, altitude)
        row = (height - heights[0]) / (heights[1] - heights[0])
        column = (speed * np.sqrt(site.air(height).density / dense) - equivalent[0]) / (
            equivalent[1] - equivalent[0])
        inside = (row >= 0.0) & (row <= TABLE_HEIGHTS - 1.0) & (column >= 0.0) & (
            column <= TABLE_SPEEDS - 1.0)
        low = np.where(inside, np.minimum(row, TABLE_HEIGHTS - 2.0), 0.0).astype(np.intp)
        left = np.where(inside, np.minimum(column, TABLE_SPEEDS - 2.0), 0.0).astype(np.intp)
        up, right = row - low, column - left
        found = ((1.0 - up) * ((1.0 - right) * values[low, left] + right * values[low, left + 1])
                 + up * ((1.0 - right) * values[low + 1, left]
                         + right * values[low + 1, left + 1]))
        return np.where(inside, found, np.nan)

    return look_up


def _pack_ceiling(cases: Cases, table: ThrustLaw, pack: RunningPack | None,
                  fastest: float) -> float:
    """Altitude at which the pack's charge is gone on the way up at full power [m], at most.

    Thrust and current are those of the pack as it is at the start, at every height. NaN without a
    pack, or where the charge outlasts the climb.
    """
    if pack is None:
        return float("nan")
    site = cases.candidate.site
    heights = np.linspace(site.altitude, HIGHEST_TABLE, TABLE_HEIGHTS)
    swell = np.sqrt(site.air().density / site.air(heights).density)
    best = best_climb(table, cases.frame, mass=float(cases.mass), site=site, altitude=heights,
                      highest=fastest * swell)
    climbing = np.isfinite(best.rate) & (best.rate > 0.0)
    count = heights.size if climbing.all() else int(np.argmin(climbing))
    if count < 2:
        return float("nan")
    heights, speeds, rates = heights[:count], best.airspeed[:count], best.rate[:count]
    current = cases.fly(speeds, heights).current
    drain = current / rates
    used = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(heights) * (drain[1:] + drain[:-1]))])
    charge = pack.capacity * (pack.start - pack.floor)
    if not used[-1] >= charge:
        return float("nan")
    return float(np.interp(charge, used, heights))


def _level_at(altitude: float, cases: Cases, table: ThrustLaw) -> float:
    """Level top speed at an altitude, from a launch at equal dynamic pressure [m/s]."""
    air, airframe = cases.candidate.site.air(altitude), cases.frame
    swell = float(np.sqrt(cases.air.density / air.density))
    begun = replace(airframe, launch_speed=np.asarray(airframe.launch_speed) * swell)
    return top_speed(lambda v: table(v, np.asarray(altitude)), begun, mass=float(cases.mass),
                     air=air).top_speed


def _top_with(least_coefficient: float, cases: Cases, table: ThrustLaw) -> float:
    """Level top speed with another CDmin [m/s]; NaN where that is not known."""
    if not np.isfinite(least_coefficient):
        return float("nan")
    other = replace(cases.frame, minimum_drag_coefficient=least_coefficient)
    return _level_at(float(np.asarray(cases.candidate.site.altitude)),
                     replace(cases, airframe=other), table)


def _climb_reason(rates: Array, thrust: Array, best: float) -> str:
    if bool(np.any(np.isfinite(thrust) & ~np.isfinite(rates))):
        return "thrust exceeds weight and drag at low airspeed: it can hang there or climb upright"
    if not np.isfinite(best):
        return "nothing is known of its thrust above the stall"
    return "" if best > 0.0 else "it cannot climb: thrust is short of drag at every airspeed"


GLIDE_ROUNDS = 3
"""Times the airspeed of best glide is worked out with the rotor's drag at the last one, at most."""


def _glides(cases: Cases) -> dict[str, Any]:
    """Best glide and least sink with the motor cut: pods, bases and rotors drag on."""
    airframe, candidate, mass, air = cases.frame, cases.candidate, float(cases.mass), cases.air
    outer = candidate.installation
    fixed = candidate.count * (np.asarray(outer.pod_drag_area)
                               + np.asarray(outer.base_drag_coefficient) * outer.base_area)
    exponent = np.array([1.0, 1.5])  # of the flattest glide and of the slowest sink, together

    def best(extra: Array) -> Glide:
        whole = replace(airframe, minimum_drag_coefficient=airframe.minimum_drag_coefficient
                        + extra / np.asarray(airframe.wing_area))
        return glide(whole, mass=mass, density=air.density,
                     lift_coefficient=best_lift_coefficient(whole, exponent=exponent))

    found = best(fixed)
    for _ in range(GLIDE_ROUNDS):  # the rotor's drag area hardly depends on the airspeed
        before = found
        found = best(fixed + unpowered_drag_area(candidate, air=air, airspeed=before.airspeed))
        if np.array_equal(found.airspeed, before.airspeed, equal_nan=True):
            break
    return {"best_glide_ratio": float(found.glide_ratio[0]),
            "best_glide_speed": float(found.airspeed[0]),
            "least_sink": float(found.sink[1]), "least_sink_speed": float(found.airspeed[1])}


def _launch(level: LevelFlight) -> float:
    """Lowest launch speed from which it gets to its highest level speed [m/s].

    The stall speed, or the last airspeed below that level speed at which drag overtakes thrust.
    NaN where it settles nowhere and gains nowhere.
    """
    settled = level.speeds[level.stable]
    goal = float(settled[-1]) if settled.size else level.lowest_bound
    if not np.isfinite(goal):
        return float("nan")
    barriers = level.speeds[~level.stable & (level.speeds < goal)]
    return float(max([level.stall_speed, *barriers.tolist()]))


def _units(cases: Cases, level: LevelFlight, shared_mass: float) -> int | None:
    """Least number of units with which it flies level from its launch; None where none does.

    Level flight from a launch needs thrust above drag there, or somewhere between the stall and
    it, where it then settles; a few airspeeds tell that without the search for level speeds. Units
    share the pack, so that n of them pull n times as much as one at the very most: where that is
    too little, or nothing is known of one at the launch, they are not asked.
    """
    def speeds_of(some: Cases) -> Array:
        return np.linspace(float(some.stall), level.launch_speed, LAUNCH_POINTS)

    @cache
    def alone() -> tuple[Array, Array]:
        one = replace(cases, candidate=with_count(cases.candidate, 1, shared_mass=shared_mass))
        return speeds_of(one), one.thrust(None, speeds_of(one))

    def meets(candidate: Candidate) -> bool:
        if candidate.count == cases.candidate.count:
            return bool(np.isfinite([level.top_speed, level.lowest_bound]).any())
        some = replace(cases, candidate=candidate)
        speeds = speeds_of(some)
        if speeds[0] > speeds[-1]:
            return False
        at, pull = alone()
        if not np.isfinite(pull[-1]) or not np.any(
                candidate.count * pull > some.drag(at).total):
            return False
        left = some.spare(some.fly(speeds))
        return bool(np.isfinite(left[-1]) and np.any(left > 0.0))

    return units_needed(cases.candidate, meets, shared_mass=shared_mass)


def _take_off(cases: Cases, use: AircraftUse) -> tuple[float, float]:
    rolling = use.rolling
    if rolling is None:
        return float("nan"), float("nan")
    return take_off_run(lambda v: cases.thrust(None, v), cases.frame, mass=float(cases.mass),
                        density=float(cases.air.density), friction=rolling.friction,
                        lift_coefficient=rolling.lift_coefficient,
                        induced_share=rolling.induced_share)


def _endurances(cases: Cases, pack: RunningPack | None, use: AircraftUse, fastest: float
                ) -> tuple[Cruise | None, Cruise | None, tuple[Cruise, ...]]:
    if pack is None:
        return None, None, ()

    def fly(airspeed: Array) -> Endurance:
        return level_endurance(cases.footing.held(cases.candidate, airspeed), cases.frame, pack,
                               mass=float(cases.mass), air=cases.air, airspeed=airspeed)

    slowest = float(cases.stall)
    best = best_of(fly, slowest=slowest, highest=max(fastest, 1.01 * slowest))
    asked = fly(np.array(use.cruise_speeds)) if use.cruise_speeds else None
    cruises = () if asked is None else tuple(_cruise(asked, place)
                                             for place in range(len(use.cruise_speeds)))
    return _cruise(best.longest, 0), _cruise(best.farthest, 0), cruises


def _cruise(flown: Endurance, place: int) -> Cruise:
    return Cruise(airspeed=float(flown.airspeed[place]),
                  electrical_power=float(flown.power[place]), endurance=float(flown.time[place]),
                  distance=float(flown.distance[place]),
                  state_of_charge=float(flown.state_of_charge[place]),
                  ending=flown.ending[place])
