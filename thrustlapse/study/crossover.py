"""Airspeeds at which one candidate overtakes another, and what an aircraft needs to get beyond."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import combinations

import numpy as np

from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.arrays import Array
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.comparison import INSTALLED, ON_AIRFRAME, Crossover
from thrustlapse.study.footing import PER_AREA, PER_MASS, Footing

SEARCH_POINTS = 121
"""Airspeeds at which a difference of two curves is sampled before its roots are narrowed."""


def installed_crossovers(footing: Footing, *, lowest: float,
                         highest: float) -> tuple[Crossover, ...]:
    """Crossovers in what the footing compares, between two airspeeds [m/s]."""
    grid = _grid(lowest, highest)
    if grid.size == 0:
        return ()

    def measure(name: str, airspeed: Array) -> Array:
        candidate = footing.candidates[name]
        return footing.measure(candidate, footing.fly(candidate, airspeed))

    def thrust(name: str, airspeed: float) -> float:
        point = footing.fly(footing.candidates[name], np.array([airspeed]))
        return float(point.installed_thrust[0])

    return _pairwise(footing.candidates, measure, grid, kind=INSTALLED, thrust=thrust, area=None)


def airframe_crossovers(footing: Footing, airframe: Airframe, *, density: float,
                        speed_of_sound: float, highest: float) -> tuple[Crossover, ...]:
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

    def remainder(name: str, airspeed: Array) -> Array:
        point = footing.fly(footing.candidates[name], airspeed)
        drag = level_drag(airframe, mass=masses[name], density=density, airspeed=airspeed,
                          speed_of_sound=speed_of_sound)
        return np.asarray(point.installed_thrust - drag.induced)

    def at(name: str, airspeed: float) -> float:
        return float(remainder(name, np.array([airspeed]))[0])

    def area(remaining: float, airspeed: float) -> float:
        return remaining / (0.5 * density * airspeed**2)

    found: list[Crossover] = []
    for pair in combinations(footing.candidates, 2):
        slowest = max(float(stall_speed(airframe, mass=masses[name], density=density))
                      for name in pair)
        two = {name: footing.candidates[name] for name in pair}
        found += _pairwise(two, remainder, _grid(slowest, highest), kind=ON_AIRFRAME, thrust=at,
                           area=area)
    return tuple(sorted(found, key=lambda crossing: crossing.airspeed))


def total_mass(candidate: Candidate, airframe: Airframe) -> float:
    """Mass of airframe and candidate together [kg]."""
    return float(np.asarray(airframe.mass) + np.asarray(candidate.installed_mass))


def _grid(lowest: float, highest: float) -> Array:
    return np.linspace(lowest, highest, SEARCH_POINTS) if highest > lowest else np.empty(0)


def _pairwise(candidates: Mapping[str, Candidate], measure: Callable[[str, Array], Array],
              grid: Array, *, kind: str, thrust: Callable[[str, float], float],
              area: Callable[[float, float], float] | None) -> tuple[Crossover, ...]:
    if grid.size == 0:
        return ()
    found = []
    for first, second in combinations(candidates, 2):
        speeds, rising = crossings(
            lambda v, a=first, b=second: measure(a, v) - measure(b, v), grid)  # type: ignore[misc]
        for speed, rises in zip(speeds.tolist(), rising.tolist(), strict=True):
            value = thrust(first, speed)
            found.append(Crossover(
                kind=kind, between=(first, second), winner_below=second if rises else first,
                winner_above=first if rises else second, airspeed=speed, net_thrust=value,
                drag_area_threshold=None if area is None else area(value, speed)))
    return tuple(sorted(found, key=lambda crossing: crossing.airspeed))
