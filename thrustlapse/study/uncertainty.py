"""Monte Carlo over what is not known exactly: bands, intervals, and how often who wins.

Draws are scrambled Sobol sets; the number of every answer is taken over all of them, its standard
error from the scatter of the independent scrambles. Draws that fail are counted by cause; an
interval says which share of the draws it is of. A draw whose map would give more than it takes
describes no machine: it is counted, and left out of the shares, which are of the possible draws.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from itertools import combinations
from typing import Any

import numpy as np

from thrustlapse.aircraft.top_speed import Outcome
from thrustlapse.arrays import Array, BoolArray
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.crossover import Crossed, highest_airspeed, kinds
from thrustlapse.study.helper import asked_of, begun
from thrustlapse.study.leaning import leaning
from thrustlapse.study.limits.table import STOPS
from thrustlapse.study.monte_carlo import MonteCarlo, SampleResult, failures, fly_draws
from thrustlapse.study.readings_next import more_readings
from thrustlapse.study.sampling import SCRAMBLES, Drawable, drawables, shares, with_draws
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.sensitivity import Driven, drivers_of, fly_drivers, plans
from thrustlapse.study.uncertainty_results import (
    HIGH,
    LOW,
    Chance,
    CurveBand,
    Interval,
    MoreReading,
    UncertainCandidate,
    UncertainCrossover,
    UncertainPair,
    UncertaintyStudy,
)

BEYOND_TOP = 1.25
"""How far beyond the fastest nominal top speed draws are flown, over it [-]."""

RAREST_CROSSOVER = 0.01
"""Share of the draws below which a crossover is not told of."""


def asked_for(scenario: ScenarioLike) -> bool:
    """Whether a scenario has draws to make and something to draw."""
    return scenario.sampling.samples > 0 and bool(drawables(scenario))


def uncertainty(scenario: ScenarioLike, nominal: Comparison) -> UncertaintyStudy:
    """Uncertainty of a comparison's answers.

    Parameters
    ----------
    scenario : ScenarioLike
        With spreads or banded maps, and a number of samples
    nominal : Comparison
        The same scenario without spreads

    Raises
    ------
    ScenarioError
        Where draws break a rule between keys.
    """
    return begun_draws(scenario, nominal, drawn_of(scenario))()


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Shares of the draws themselves, and of those by which variance is shared out."""

    shares: Array
    plan: Array


def drawn_of(scenario: ScenarioLike) -> Drawn:
    """All that is drawn of a scenario, (draws, inputs)."""
    sampling, inputs = scenario.sampling, drawables(scenario)
    drawn = shares(sampling.samples, len(inputs), seed=sampling.seed)
    return Drawn(shares=drawn, plan=plans(scenario, inputs) if sampling.drivers else drawn[:0])


def begun_draws(scenario: ScenarioLike, nominal: Comparison, drawn: Drawn,
                helper: Executor | None = None) -> Callable[[], UncertaintyStudy]:
    """:func:`uncertainty` that a helper begins with; what it gives asks for the answer."""
    inputs, grid = drawables(scenario), _grid(scenario, nominal)
    names = tuple(scenario.candidates) if scenario.sampling.drivers else ()
    calls: list[Callable[[], Any]] = [
        partial(fly_draws, scenario, inputs, drawn.shares, grid, expected=_expected(nominal)),
        *(partial(fly_drivers, scenario, inputs, drawn.plan, grid, name) for name in names)]
    parts = begun(helper, calls)

    def answer() -> UncertaintyStudy:
        batch, *flown = parts()
        found = dict(zip(names, flown, strict=True))
        driven = asked_of(helper, partial(drivers_of, inputs, nominal, found)) if names else None
        return _study(scenario, nominal, inputs=inputs, drawn=drawn.shares, grid=grid, batch=batch,
                      driven=driven)

    return answer


def _study(scenario: ScenarioLike, nominal: Comparison, *, inputs: list[Drawable], drawn: Array,
           grid: Array, batch: MonteCarlo, driven: Driven | None) -> UncertaintyStudy:
    """Answers of all draws."""
    sampling = scenario.sampling
    tops = {name: one.top_speed for name, one in batch.flown.items()}
    rests = {name: one.measure[:, 0] for name, one in batch.flown.items()}
    possible = ~np.any([one.impossible for one in batch.flown.values()], axis=0)
    candidates = {name: _candidate(name, one, rests=rests, tops=tops, nominal=nominal,
                                   possible=possible)
                  for name, one in batch.flown.items()}
    leanings = {} if driven is None else {name: leaning(
        one.thrust, driven.thrust[name], driven.inputs, airspeed=grid, top_speed=_top(nominal, name)
        ) for name, one in batch.flown.items()}
    return UncertaintyStudy(
        samples=sampling.samples, left_out=int(possible.size - np.count_nonzero(possible)),
        scrambles=SCRAMBLES, seed=sampling.seed, airspeed=grid,
        inputs=tuple(one.input() for one in inputs), candidates=candidates,
        pairs=tuple(_pair(first, second, batch=batch, tops=tops, possible=possible)
                    for first, second in combinations(batch.flown, 2)),
        drivers=() if driven is None else driven.drivers,
        readings=_readings(scenario, inputs, drawn, batch=batch, grid=grid, nominal=nominal),
        crossing_shift=max((float(one.shift.max()) for one in batch.crossed), default=0.0),
        leanings={name: one for name, one in leanings.items() if one is not None})


def _top(nominal: Comparison, name: str) -> float:
    level = nominal.candidates[name].level
    return float("nan") if level is None else float(level.top_speed)


def _readings(scenario: ScenarioLike, inputs: list[Drawable], drawn: Array, *,
              batch: MonteCarlo, grid: Array, nominal: Comparison) -> tuple[MoreReading, ...]:
    """What one more reading would buy of every machine that is known by readings."""
    known = [name for name in batch.flown if any(
        one.spread.key == f"candidates.{name}.readings.thrust" for one in inputs)]
    if not known:
        return ()
    many = with_draws(scenario, inputs, drawn)
    found: list[MoreReading] = []
    for name in known:
        top = _top(nominal, name)
        speed = top if np.isfinite(top) else 0.5 * float(grid[-1])
        place = int(np.argmin(np.abs(grid - speed)))
        found += more_readings(name, many.candidates[name], inputs, airspeed=float(grid[place]),
                               thrust=batch.flown[name].thrust[:, place],
                               seed=scenario.sampling.seed)
    return tuple(found)


def _grid(scenario: ScenarioLike, nominal: Comparison) -> Array:
    tops = [result.level.top_speed for result in nominal.candidates.values()
            if result.level is not None and np.isfinite(result.level.top_speed)]
    highest = max(highest_airspeed(scenario, nominal.candidates),
                  BEYOND_TOP * max(tops, default=0.0))
    return np.linspace(0.0, max(highest, 1.0), scenario.sampling.airspeeds)


def _expected(nominal: Comparison) -> dict[tuple[str, str, bool], float]:
    kind = kinds(nominal.footing, airframe=nominal.drag_area is not None)[-1]
    return {(*one.between, one.winner_above == one.between[0]): one.airspeed
            for one in nominal.crossovers if one.kind == kind}


# Statistics --------------------------------------------------------------------------------------


def interval(values: Array, *, among: BoolArray | None = None,
             scrambles: int = SCRAMBLES) -> Interval:
    """What nine draws in ten lie within, over the draws that have a value; ``among`` some draws."""
    values = values if among is None else np.where(among, values, np.nan)
    counted = values.size if among is None else int(np.count_nonzero(among))
    found = _quantiles(values)
    parts = np.array([_quantiles(part) for part in values.reshape(scrambles, -1)])
    errors = _errors(parts)
    return Interval(low=found[0], median=found[1], high=found[2], low_error=errors[0],
                    median_error=errors[1], high_error=errors[2],
                    known=float(np.count_nonzero(np.isfinite(values)) / max(counted, 1)))


def chance(holds: BoolArray, *, among: BoolArray | None = None,
           scrambles: int = SCRAMBLES) -> Chance:
    """Share of all draws, or of ``among`` them, in which something holds; 0 of no draws."""
    counted = np.ones(holds.shape, dtype=bool) if among is None else among
    yes = (holds & counted).reshape(scrambles, -1).sum(axis=1)
    every = counted.reshape(scrambles, -1).sum(axis=1)
    parts = (yes / np.maximum(every, 1))[every > 0]
    error = float(np.std(parts, ddof=1) / np.sqrt(parts.size)) if parts.size > 1 else 0.0
    return Chance(share=float(yes.sum() / max(int(every.sum()), 1)), error=error)


def _quantiles(values: Array) -> list[float]:
    known = values[np.isfinite(values)]
    if known.size == 0:
        return [float("nan")] * 3
    low, middle, high = np.quantile(known, [LOW, 0.5, HIGH])
    return [float(low), float(middle), float(high)]


def _errors(parts: Array) -> list[float]:
    """Standard errors of columns from independent rows; NaN where fewer than two rows know them."""
    made = []
    for column in parts.T:
        known = column[np.isfinite(column)]
        made.append(float(np.std(known, ddof=1) / np.sqrt(known.size)) if known.size > 1
                    else float("nan"))
    return made


def band(values: Array) -> CurveBand:
    """Band of curves (k, n) at each airspeed, over the draws that have a value there."""
    known = np.isfinite(values)
    edges = np.full((3, values.shape[1]), np.nan)
    some = known.any(axis=0)
    edges[:, some] = np.nanquantile(np.where(known, values, np.nan)[:, some], [LOW, 0.5, HIGH],
                                    axis=0)
    return CurveBand(low=edges[0], median=edges[1], high=edges[2], known=known.mean(axis=0))


def _candidate(name: str, flown: SampleResult, rests: Mapping[str, Array],
               tops: Mapping[str, Array], nominal: Comparison,
               possible: BoolArray) -> UncertainCandidate:
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = flown.net / flown.net[:, :1]
    flies = nominal.drag_area is not None
    own = ~flown.impossible
    outcomes = {outcome.words: int(np.count_nonzero(flown.outcome == outcome))
                for outcome in Outcome} if flies else {}
    return UncertainCandidate(
        bands={"installed_thrust": band(flown.thrust), "thrust_ratio": band(ratio),
               "electrical_power": band(flown.power)},
        static_thrust=interval(flown.thrust[:, 0], among=own),
        top_speed=interval(flown.top_speed, among=own) if flies else None,
        outcomes={words: count for words, count in outcomes.items() if count},
        failures=failures(flown), most_at_rest=chance(_greatest(rests, name), among=possible),
        fastest=chance(_greatest(tops, name), among=possible),
        stops={limit: chance(broken, among=possible) for limit, broken
               in zip(STOPS, flown.stops.T, strict=True) if np.any(broken & possible)})


def _greatest(values: Mapping[str, Array], name: str) -> BoolArray:
    """Draws in which a candidate has a value and no other one a greater."""
    stacked = np.array([np.where(np.isfinite(one), one, -np.inf) for one in values.values()])
    own = stacked[list(values).index(name)]
    return np.asarray(np.isfinite(own) & (own >= stacked.max(axis=0)))


def _pair(first: str, second: str, batch: MonteCarlo, tops: Mapping[str, Array],
          possible: BoolArray) -> UncertainPair:
    one, other = (batch.flown[name].measure[possible] for name in (first, second))
    if one.shape[0] == 0:  # nothing to take a share of
        one = other = np.full((1, one.shape[1]), np.nan)
    with np.errstate(invalid="ignore"):
        ahead, behind = one > other, other > one
    speeds = [np.where(np.isfinite(tops[name]), tops[name], -np.inf) for name in (first, second)]
    return UncertainPair(
        first=first, second=second, first_wins=ahead.mean(axis=0), second_wins=behind.mean(axis=0),
        unknown=(~np.isfinite(one) | ~np.isfinite(other)).mean(axis=0),
        first_faster=chance(speeds[0] > speeds[1], among=possible),
        second_faster=chance(speeds[1] > speeds[0], among=possible),
        crossovers=tuple(_crossover(each, possible) for each in batch.crossed
                         if (each.first, each.second) == (first, second)
                         and each.pulls.mean() >= RAREST_CROSSOVER))


def _crossover(crossed: Crossed, possible: BoolArray) -> UncertainCrossover:
    above, below = ((crossed.first, crossed.second) if crossed.rising
                    else (crossed.second, crossed.first))
    return UncertainCrossover(
        winner_above=above, winner_below=below, airspeed=interval(crossed.airspeed),
        drag_area_threshold=interval(crossed.threshold),
        exists=chance(crossed.pulls, among=possible),
        reached=chance(crossed.reached, among=possible))
