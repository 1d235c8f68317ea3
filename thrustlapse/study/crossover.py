"""Airspeeds at which one candidate overtakes another, and what an aircraft needs to get beyond."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import combinations

import numpy as np

from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.arrays import Array
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.basis import PER_AREA, PER_MASS
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.comparison import INSTALLED, ON_AIRFRAME, CandidateResult, Crossover
from thrustlapse.study.footing import Footing
from thrustlapse.study.scenario_like import ScenarioLike

SEARCH_POINTS = 121
"""Airspeeds at which a difference of two curves is sampled before its roots are narrowed."""

Curves = Mapping[str, OperatingPoint]
Measure = Callable[[str, OperatingPoint], Array]


def highest_airspeed(scenario: ScenarioLike, results: Mapping[str, CandidateResult]) -> float:
    """Highest airspeed of interest [m/s]: the asked range, or the fastest top speed if higher."""
    tops = [result.level.top_speed for result in results.values() if result.level is not None]
    return float(np.nanmax([*tops, float(scenario.airspeeds[-1])]))


def search_grid(*, lowest: float, highest: float) -> Array:
    """Airspeeds between which crossovers are looked for [m/s]; empty where there is no range."""
    return np.linspace(lowest, highest, SEARCH_POINTS) if highest > lowest else np.empty(0)


def installed_crossovers(footing: Footing, curves: Curves) -> tuple[Crossover, ...]:
    """Crossovers in what the footing compares.

    ``curves`` are the candidates' operating points on a :func:`search_grid`, flown on the footing.
    """
    def measure(name: str, point: OperatingPoint) -> Array:
        return footing.measure(footing.candidates[name], point)

    return _pairwise(footing, curves, measure, kind=INSTALLED, slowest=lambda *_: 0.0,
                     value=lambda _, point: point.installed_thrust, area=None)


def airframe_crossovers(footing: Footing, curves: Curves, airframe: Airframe, *, density: float,
                        speed_of_sound: float) -> tuple[Crossover, ...]:
    """Crossovers in installed thrust less induced drag at each candidate's own mass.

    Looked for where the aircraft could fly on either, above the higher of the two stall speeds.
    They do not depend on the airframe's parasite drag; the drag-area threshold that follows from
    each is the largest parasite drag area f* with which an aircraft gets beyond it:
    f* = (T* - D_induced*) / q*. Empty for footings that do not compare thrusts.
    """
    if footing.basis.footing in (PER_MASS, PER_AREA):
        return ()
    masses = {name: total_mass(candidate, airframe)
              for name, candidate in footing.candidates.items()}

    def remainder(name: str, point: OperatingPoint) -> Array:
        with np.errstate(invalid="ignore"):
            drag = level_drag(airframe, mass=masses[name], density=density,
                              airspeed=point.airspeed, speed_of_sound=speed_of_sound)
            return np.asarray(point.installed_thrust - drag.induced)

    def slowest(*pair: str) -> float:
        return max(float(stall_speed(airframe, mass=masses[name], density=density))
                   for name in pair)

    return _pairwise(footing, curves, remainder, kind=ON_AIRFRAME, slowest=slowest,
                     value=remainder, area=lambda left, v: left / (0.5 * density * v**2))


def total_mass(candidate: Candidate, airframe: Airframe) -> float:
    """Mass of airframe and candidate together [kg]."""
    return float(np.asarray(airframe.mass) + np.asarray(candidate.installed_mass))


def _pairwise(footing: Footing, curves: Curves, measure: Measure, *, kind: str,
              slowest: Callable[..., float], value: Measure,
              area: Callable[[float, float], float] | None) -> tuple[Crossover, ...]:
    """Roots of the difference of every two candidates' measures, narrowed by flying them again."""
    found = []
    sampled = {name: measure(name, point) for name, point in curves.items()}
    for first, second in combinations(curves, 2):
        def difference(airspeed: Array, a: str = first, b: str = second) -> Array:
            sides = [measure(name, footing.fly(footing.candidates[name], airspeed))
                     for name in (a, b)]
            return np.asarray(sides[0] - sides[1])

        grid = curves[first].airspeed
        fast = grid >= slowest(first, second)
        speeds, rising = crossings(difference, grid[fast],
                                   values=(sampled[first] - sampled[second])[fast])
        if speeds.size == 0:
            continue
        flown = {name: footing.fly(footing.candidates[name], speeds) for name in (first, second)}
        there = value(first, flown[first])
        # where one cannot draw the power all are held to, nobody overtakes at the same power
        equal = ~np.any([footing.short_of_reference(point) > 0.0 for point in flown.values()],
                        axis=0)
        speeds, rising, there = speeds[equal], rising[equal], there[equal]
        for speed, rises, left in zip(speeds.tolist(), rising.tolist(), there.tolist(),
                                      strict=True):
            found.append(Crossover(
                kind=kind, between=(first, second), winner_below=second if rises else first,
                winner_above=first if rises else second, airspeed=speed, net_thrust=left,
                drag_area_threshold=None if area is None else area(left, speed)))
    return tuple(sorted(found, key=lambda crossing: crossing.airspeed))
