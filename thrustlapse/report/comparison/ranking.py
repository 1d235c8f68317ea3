"""Who stands where: the facts of a comparison that verdict, captions and tables all state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.basis import EQUAL_POWER, measure_unit
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.comparison import (
    INSTALLED,
    ON_AIRFRAME,
    CandidateResult,
    Comparison,
    Crossover,
)
from thrustlapse.study.footing import REACHED


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Airspeeds [m/s] over which one candidate leads; ``name`` None where nothing pulls.

    ``ended`` names a candidate that led until its own values ended at ``start``.
    """

    start: float
    stop: float
    name: str | None
    ended: str | None = None


def measure_at_rest(comparison: Comparison, name: str) -> float:
    """What the footing compares, at rest; NaN where there is no value."""
    result = comparison.candidates[name]
    thrust = result.at_rest.installed_thrust.item()
    unit = measure_unit(comparison.footing)
    if unit == "N/kg":
        return thrust / result.installed_mass if result.installed_mass > 0.0 else float("nan")
    if unit == "N/m^2":
        return thrust / result.frontal_area if result.frontal_area > 0.0 else float("nan")
    return float(thrust)


@dataclass(frozen=True, kw_only=True)
class Short:
    """A candidate that does not draw the power all are held to: ``drawn`` of ``wanted`` [W]."""

    name: str
    drawn: float
    wanted: float


def short_at_rest(comparison: Comparison) -> list[Short]:
    """Candidates that cannot draw the reference power at rest."""
    return _short(comparison, {name: result.at_rest for name, result
                               in comparison.candidates.items()})


def short_at_top(comparison: Comparison) -> list[Short]:
    """Candidates that cannot draw the reference power at their level top speed."""
    return _short(comparison, {name: result.at_top for name, result
                               in comparison.candidates.items() if result.at_top is not None})


def _short(comparison: Comparison, points: Mapping[str, OperatingPoint]) -> list[Short]:
    if comparison.footing != EQUAL_POWER:
        return []
    found = []
    for name, point in points.items():
        wanted = comparison.reference_power
        if wanted is None:
            leader = comparison.candidates[comparison.reference or name]
            wanted = (leader.at_rest.electrical_power.item() if point.airspeed.item() == 0.0 else
                      float(np.interp(point.airspeed.item(), comparison.airspeed,
                                      leader.curve.electrical_power)))
        drawn = point.electrical_power.item()
        if drawn < wanted * (1.0 - REACHED):
            found.append(Short(name=name, drawn=drawn, wanted=wanted))
    return found


def static_order(comparison: Comparison) -> list[tuple[str, float]]:
    """Candidates with a value at rest and what the footing compares there, best first; without
    those that do not draw the power all are held to."""
    short = {one.name for one in short_at_rest(comparison)}
    known = [(name, measure_at_rest(comparison, name)) for name in comparison.candidates
             if name not in short]
    return sorted(((name, value) for name, value in known if np.isfinite(value)),
                  key=lambda pair: -pair[1])


def leads(comparison: Comparison) -> list[Stretch]:
    """Who leads over the airspeeds, in what the footing compares.

    The lead passes at a crossover where there is one between two airspeeds, else (a candidate's
    values begin or end, or the power all are held to is drawn no more) midway between them.
    """
    x = comparison.airspeed
    names = list(comparison.candidates)
    table = np.array([np.where(result.short_of_reference > 0.0, np.nan, result.measure)
                      for result in comparison.candidates.values()])
    pulling = np.where(np.isfinite(table) & (table > 0.0), table, -np.inf)
    first = np.argmax(pulling, axis=0)
    leader = [names[place] if np.isfinite(pulling[place, column]) else None
              for column, place in enumerate(first.tolist())]
    found: list[Stretch] = []
    start = 0
    for column in range(1, x.size + 1):
        if column < x.size and leader[column] == leader[start]:
            continue
        begin = found[-1].stop if found else float(x[0])
        end = float(x[-1]) if column == x.size else _change(comparison, leader, column)
        ended = None
        before = leader[start - 1] if start else None
        if before is not None and not np.isfinite(comparison.candidates[before].measure[start]):
            ended = before
        found.append(Stretch(start=begin, stop=end, name=leader[start], ended=ended))
        start = column
    return found


def _change(comparison: Comparison, leader: list[str | None], column: int) -> float:
    x = comparison.airspeed
    low, high = float(x[column - 1]), float(x[column])
    pair = {leader[column - 1], leader[column]}
    for one in comparison.crossovers:
        if one.kind == INSTALLED and set(one.between) == pair and low <= one.airspeed <= high:
            return one.airspeed
    lost = leader[column - 1]
    if leader[column] is None and lost is not None:
        ends = comparison.candidates[lost].measure[column - 1:column + 1]
        if np.isfinite(ends).all() and ends[0] > 0.0 >= ends[1]:
            return float(low + (high - low) * ends[0] / (ends[0] - ends[1]))
    return 0.5 * (low + high)


def installed_crossings(comparison: Comparison) -> tuple[Crossover, ...]:
    """Crossovers in what the footing compares."""
    return tuple(one for one in comparison.crossovers if one.kind == INSTALLED)


def airframe_crossings(comparison: Comparison) -> tuple[Crossover, ...]:
    """Crossovers on the airframe, as the candidates are operated.

    A footing per mass or area has none of its own; its candidates are operated as given.
    """
    found = (comparison.crossovers if measure_unit(comparison.footing) == "N"
             else comparison.other_footings.get("as given", ()))
    return tuple(one for one in found if one.kind == ON_AIRFRAME)


def thrust_crossings(comparison: Comparison) -> tuple[Crossover, ...]:
    """Crossovers in installed thrust itself, whatever the footing compares."""
    found = (comparison.crossovers if measure_unit(comparison.footing) == "N"
             else comparison.other_footings.get("as given", ()))
    return tuple(one for one in found if one.kind == INSTALLED)


def pulls(crossing: Crossover) -> bool:
    """Whether thrust is left where two candidates change places; else nobody wins there."""
    return crossing.net_thrust > 0.0


def in_words(crossing: Crossover) -> str:
    """Who overtakes whom; where neither has thrust left, who falls short by less."""
    above, below = crossing.winner_above, crossing.winner_below
    if pulls(crossing):
        return f"{above} overtakes {below}"
    if crossing.kind == INSTALLED:
        return (f"no usable crossover: neither makes thrust there, and {above} drags less than "
                f"{below}")
    return (f"no usable crossover: neither can carry the aircraft there, {above} falls short by "
            f"less than {below}")


def changes_lead(comparison: Comparison, crossing: Crossover) -> bool:
    """Whether the two that cross in installed thrust are ahead of all others there."""
    return all(not _thrust_at(comparison, name, crossing.airspeed) > crossing.net_thrust
               for name in comparison.candidates if name not in crossing.between)


def _thrust_at(comparison: Comparison, name: str, airspeed: float) -> float:
    curve = comparison.candidates[name].curve
    return float(np.interp(airspeed, comparison.airspeed, curve.installed_thrust))


@dataclass(frozen=True, kw_only=True)
class Top:
    """How fast a candidate flies level; ``least`` where only a lower bound is known [m/s]."""

    name: str
    speed: float
    least: bool


def tops(comparison: Comparison) -> list[Top]:
    """Candidates that hold level flight, fastest first."""
    found = []
    for name, result in comparison.candidates.items():
        level = result.level
        if level is None:
            continue
        if np.isfinite(level.top_speed):
            found.append(Top(name=name, speed=level.top_speed, least=False))
        elif np.isfinite(level.lowest_bound):
            found.append(Top(name=name, speed=level.lowest_bound, least=True))
    return sorted(found, key=lambda top: -top.speed)


def grounded(comparison: Comparison) -> list[CandidateResult]:
    """Candidates that cannot hold level flight from the launch."""
    flying = {top.name for top in tops(comparison)}
    return [result for name, result in comparison.candidates.items()
            if result.level is not None and name not in flying]


def known_to(comparison: Comparison, name: str) -> float:
    """Highest airspeed of the range at which a candidate has a value [m/s]; NaN where none."""
    known: Array = comparison.airspeed[np.isfinite(comparison.candidates[name].measure)]
    return float(known[-1]) if known.size else float("nan")


def runs(x: Array, words: list[str]) -> list[tuple[float, float, str]]:
    """Stretches (from, to, word) over which a word stays the same; edges midway between points."""
    edges = np.concatenate([x[:1], 0.5 * (x[1:] + x[:-1]), x[-1:]])
    found: list[tuple[float, float, str]] = []
    start = 0
    for place in range(1, len(words) + 1):
        if place == len(words) or words[place] != words[start]:
            found.append((float(edges[start]), float(edges[place]), words[start]))
            start = place
    return found
