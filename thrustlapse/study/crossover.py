"""Airspeeds at which one candidate overtakes another, and what an aircraft needs to get beyond.

A single case has all its crossovers found, each narrowed by flying both again; of many cases the
one crossover of a kind that is looked for is read from curves and flown again. What is compared,
where, and who counts is the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.basis import PER_AREA, PER_MASS
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.comparison import INSTALLED, ON_AIRFRAME, CandidateResult, Crossover
from thrustlapse.study.evaluate import Cases
from thrustlapse.study.scenario_like import ScenarioLike

SEARCH_POINTS = 121
"""Airspeeds at which a difference of two curves is sampled before its roots are narrowed."""

FLOWN_AGAIN = 2
"""Exact flights at the speeds read from curves; each takes the error of the one before."""

THRUST = "thrust"
"""Kind of crossover in installed thrust, where the footing compares something else too."""

Pair = tuple[Cases, Cases]


def kinds(footing: str, *, airframe: bool) -> tuple[str, ...]:
    """Kinds of crossover that a footing has; on an airframe thrusts alone can be compared."""
    flies = airframe and footing not in (PER_MASS, PER_AREA)
    return (INSTALLED, ON_AIRFRAME) if flies else (INSTALLED,)


def highest_airspeed(scenario: ScenarioLike, results: Mapping[str, CandidateResult]) -> float:
    """Highest airspeed of interest [m/s]: the asked range, or the fastest top speed if higher."""
    tops = [result.level.top_speed for result in results.values() if result.level is not None]
    return float(np.nanmax([*tops, float(scenario.airspeeds[-1])]))


def search_grid(*, lowest: float, highest: float) -> Array:
    """Airspeeds between which crossovers are looked for [m/s]; empty where there is no range."""
    return np.linspace(lowest, highest, SEARCH_POINTS) if highest > lowest else np.empty(0)


def compared(cases: Cases, point: OperatingPoint, kind: str) -> Array:
    """What is compared: the footing's measure or, on an airframe, thrust less induced drag [N]."""
    if kind == THRUST:
        return point.installed_thrust
    return cases.left(point) if kind == ON_AIRFRAME else cases.measure(point)


def slowest(pair: Pair, kind: str) -> Array:
    """Airspeed below which neither is looked at [m/s]: on an airframe, where one would stall."""
    return np.maximum(*(one.stall for one in pair)) if kind == ON_AIRFRAME else np.zeros(1)


def overtakings(pair: Pair, kind: str, grid: Array, sampled: tuple[Array, Array] | None = None
                ) -> tuple[Array, BoolArray]:
    """All airspeeds of a single case at which two are equal, and whether the first then leads.

    ``sampled`` is what is compared of both on the grid, where that is known.
    """
    def difference(airspeed: Array) -> Array:
        first, second = (compared(one, one.fly(airspeed), kind) for one in pair)
        return np.asarray(first - second)

    fast = grid >= slowest(pair, kind)
    return crossings(difference, grid[fast],
                     values=None if sampled is None else (sampled[0] - sampled[1])[fast])


def crossovers(cases: Mapping[str, Cases], curves: Mapping[str, OperatingPoint],
               kind: str) -> tuple[Crossover, ...]:
    """Crossovers of every two candidates, by airspeed.

    ``curves`` are their operating points on a :func:`search_grid`, flown on the footing. On an
    airframe installed thrust less induced drag is compared, at each candidate's own mass, above the
    higher of the two stall speeds. That does not depend on the airframe's parasite drag; the
    drag-area threshold that follows from each is the largest parasite drag area f* with which an
    aircraft gets beyond it: f* = (T* - D_induced*) / q*.
    """
    found = []
    sampled = {name: compared(cases[name], point, kind) for name, point in curves.items()}
    for first, second in combinations(curves, 2):
        pair = (cases[first], cases[second])
        speeds, rising = overtakings(pair, kind, curves[first].airspeed,
                                     (sampled[first], sampled[second]))
        if speeds.size == 0:
            continue
        points = [one.fly(speeds) for one in pair]
        there = (pair[0].left(points[0]) if kind == ON_AIRFRAME else points[0].installed_thrust)
        # where one cannot draw the power all are held to, nobody overtakes at the same power
        equal = ~np.any([one.footing.short_of_reference(point) > 0.0
                         for one, point in zip(pair, points, strict=True)], axis=0)
        for speed, rises, left in zip(*(each[equal].tolist() for each in (speeds, rising, there)),
                                      strict=True):
            area = left / (0.5 * float(pair[0].air.density) * speed**2)
            found.append(Crossover(
                kind=kind, between=(first, second), winner_below=second if rises else first,
                winner_above=first if rises else second, airspeed=speed, net_thrust=left,
                drag_area_threshold=area if kind == ON_AIRFRAME else None))
    return tuple(sorted(found, key=lambda crossing: crossing.airspeed))


# Of many cases -----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Crossed:
    """Where the first of a pair begins (``rising``) or ceases to beat the second, (case,)."""

    first: str
    second: str
    rising: bool
    airspeed: Array
    threshold: Array
    pulls: BoolArray
    reached: BoolArray
    shift: Array


def crossing_of_each(pair: Pair, kind: str, *, rising: bool, grid: Array,
                     sampled: tuple[Array, Array], near: float) -> Crossed:
    """The crossover of a kind in every case: of several the nearest to an airspeed [m/s].

    Parameters
    ----------
    rising : bool
        Whether the first leads above it
    grid : array, (n,)
        Airspeeds [m/s]
    sampled : pair of array, (case, n)
        What is compared of both over the grid
    near : float
        [m/s]
    """
    difference = sampled[0] - sampled[1]
    if kind == ON_AIRFRAME:
        difference = np.where(grid >= pair[0].of_each(slowest(pair, kind))[:, None], difference,
                              np.nan)
    before, after = difference[:, :-1], difference[:, 1:]
    with np.errstate(invalid="ignore"):
        cells = (before < 0.0) & (after >= 0.0) if rising else (before > 0.0) & (after <= 0.0)
        roots = grid[:-1] - before * np.diff(grid) / (after - before)
    far = np.where(cells, np.abs(roots - near), np.inf)
    place = np.argmin(far, axis=1)[:, None]
    speed = np.where(cells.any(axis=1), np.take_along_axis(roots, place, axis=1)[:, 0], np.nan)
    slope = (np.take_along_axis(after - before, place, axis=1)
             / np.diff(grid)[place])[:, 0]
    nothing, never = np.full(speed.size, np.nan), np.zeros(speed.size, dtype=bool)
    none = Crossed(first=pair[0].candidate.name, second=pair[1].candidate.name, rising=rising,
                   airspeed=speed, threshold=nothing, pulls=never, reached=never,
                   shift=np.zeros(speed.size))
    return _flown_again(none, pair, kind, slope) if np.isfinite(speed).any() else none


def _flown_again(read: Crossed, pair: Pair, kind: str, slope: Array) -> Crossed:
    """Crossovers read from curves, corrected by exact flights."""
    first, known = pair[0], np.isfinite(read.airspeed)
    moved = np.where(known, read.airspeed, np.median(read.airspeed[known]))
    for _ in range(FLOWN_AGAIN):
        asked = moved
        points = [one.fly(asked[:, None]) for one in pair]
        values = [first.of_each(compared(one, point, kind))
                  for one, point in zip(pair, points, strict=True)]
        moved = corrected(asked, values[0] - values[1], slope)
    drawn = np.all([first.of_each(one.footing.short_of_reference(point)) == 0.0
                    for one, point in zip(pair, points, strict=True)], axis=0)
    if kind == ON_AIRFRAME:
        # at the crossing both leave the same; the mean of the two is nearest to it
        rest = 0.5 * (values[0] + values[1])
        drag = first.drag(moved[:, None])
        pulls = known & (rest > 0.0) & drawn
        dynamic = 0.5 * first.of_each(first.air.density) * moved**2
        threshold = np.where(pulls, rest / dynamic, np.nan)
        reached = pulls & (rest >= first.of_each(drag.total - drag.induced))
    else:
        pulls = known & drawn & np.all([first.of_each(point.installed_thrust) > 0.0
                                        for point in points], axis=0)
        threshold, reached = read.threshold, read.reached
    shift = np.where(pulls, np.abs(moved - asked), 0.0)
    return replace(read, airspeed=np.where(pulls, moved, np.nan), threshold=threshold,
                   pulls=pulls, reached=reached, shift=shift)


def corrected(speed: Array, miss: Array, slope: Array) -> Array:
    """Speeds after one more step, from what an exact flight at them misses by [N].

    Parameters
    ----------
    speed : array, (k,)
        [m/s]
    miss : array, (k,)
        What should be zero there [N]
    slope : array, (k,)
        Its change with airspeed [N s/m]

    Returns
    -------
    array, (k,)
        The step is left out where it is not known or longer than a tenth of the speed.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        step = -miss / slope
    taken = np.isfinite(step) & (np.abs(step) < 0.1 * speed)
    return np.where(taken, speed + np.where(taken, step, 0.0), speed)
