"""All draws flown: curves, level speeds and crossovers, without a loop over draws.

A chunk of draws is one evaluation of each candidate. Crossovers are read from the curves on a
common grid and flown twice more, together, to take the error of reading off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import INVALID, Flag, OperatingPoint
from thrustlapse.rotor.stage_map import exceeds_unity
from thrustlapse.study.comparison import ON_AIRFRAME
from thrustlapse.study.crossover import Crossed, crossing_of_each, kinds
from thrustlapse.study.evaluate import Asked, Cases, Evaluation, cases_of, evaluate
from thrustlapse.study.limits.table import STOPS, stopped
from thrustlapse.study.sampling import Drawable, with_draws
from thrustlapse.study.scenario_like import ScenarioLike

CHUNK_POINTS = 40_960
"""Operating points flown together: bounds the memory whatever the number of draws, and larger
arrays cost more in fresh pages than they save."""

IMPOSSIBLE = "map gives more than it takes"
UNMET = "no such machine meets its readings"


@dataclass(frozen=True, kw_only=True)
class SampleResult:
    """One candidate over a chunk of draws: (k, n) over the grid, (k,) once a draw.

    ``bits`` are flags up to the top speed or, without one, at rest; ``left`` is what induced
    drag leaves of the thrust. ``thrust`` is installed, of all units; ``net`` of one unit. ``stops``
    says which of :data:`STOPS`, in their order, forbid it anywhere over the airspeeds asked for and
    up to the top speed, (k, limits). ``impossible`` draws have no value; ``unmet`` are those among
    them from whose readings no machine follows.
    """

    thrust: Array
    net: Array
    measure: Array
    power: Array
    left: Array
    top_speed: Array
    outcome: IntArray
    bits: IntArray
    impossible: BoolArray
    unmet: BoolArray
    stops: BoolArray


@dataclass(frozen=True, kw_only=True)
class MonteCarlo:
    """A chunk of draws, or all of them."""

    flown: dict[str, SampleResult]
    crossed: tuple[Crossed, ...]


def fly_draws(scenario: ScenarioLike, inputs: Sequence[Drawable], drawn: Array, grid: Array, *,
              expected: Mapping[tuple[str, str, bool], float],
              only: Sequence[int] | None = None, names: Sequence[str] | None = None) -> MonteCarlo:
    """Fly every draw over a grid of airspeeds from rest.

    Parameters
    ----------
    drawn : array, (k, inputs)
        Shares, see :func:`thrustlapse.study.sampling.shares`
    grid : array, (n,)
        Airspeeds, the first is rest [m/s]
    expected : mapping
        Crossover of the nominal scenario by (first, second, rising) [m/s]: where a draw has several
        of the kind the nearest to it is taken, and the first where there is none
    only, names
        Inputs to draw, the rest staying nominal, and candidates to fly; all by default
    """
    pieces = []
    for piece in np.array_split(drawn, math.ceil(drawn.shape[0] * grid.size / CHUNK_POINTS)):
        many = with_draws(scenario, inputs, piece, only)
        cases = {name: one for name, one in cases_of(many, count=piece.shape[0]).items()
                 if names is None or name in names}
        flown = {name: _fly(one, grid, float(many.airspeeds[-1])) for name, one in cases.items()}
        kind = kinds(many.comparison.footing, airframe=many.airframe is not None)[-1]
        sides = {name: one.left if kind == ON_AIRFRAME else one.measure
                 for name, one in flown.items()}
        pairs = combinations(flown, 2) if names is None else ()
        crossed = tuple(
            crossing_of_each((cases[a], cases[b]), kind, rising=rising, grid=grid,
                             sampled=(sides[a], sides[b]), near=expected.get((a, b, rising), 0.0))
            for a, b in pairs for rising in (True, False))
        pieces.append(MonteCarlo(flown=flown, crossed=crossed))
    return _joined(pieces)


def _fly(cases: Cases, grid: Array, asked_to: float) -> SampleResult:
    """One candidate's draws over a grid from rest; limits are asked up to ``asked_to`` at least."""
    flies, unmet = cases.airframe is not None, _unmet(cases)
    done = evaluate(cases, grid[1:], Asked.TOP_OF_CURVE if flies else None,
                    void=lambda cases, point: unmet | _impossible(cases, point))
    point, impossible, top = done.flown, done.void, done.top_speed
    assert impossible is not None

    def curve(values: Array) -> Array:
        full = np.array(np.broadcast_to(values, (cases.count, grid.size)))
        full[impossible] = np.nan
        return full

    bits = np.where(unmet[:, None], 0, point.flag_bits)
    way = np.where(np.isfinite(top), top, 0.0)[:, None] >= grid
    thrust = curve(point.installed_thrust)
    return SampleResult(
        thrust=thrust, net=curve(point.net_thrust), measure=curve(cases.measure(point)),
        power=curve(point.electrical_power), left=curve(cases.left(point)) if flies else thrust,
        top_speed=top, impossible=impossible, unmet=unmet,
        outcome=np.full(cases.count, -1, dtype=np.int64) if done.top is None else done.top.outcome,
        bits=np.bitwise_or.reduce(np.where(way, bits, 0), axis=1),
        stops=_stops(done, grid <= np.fmax(top[:, None], asked_to)))


def _stops(done: Evaluation, within: BoolArray) -> BoolArray:
    """Which limits that say stop are broken in each draw, (k, limits)."""
    broken = stopped(replace(done.states, within=within))
    never = np.zeros(1, dtype=bool)
    return np.stack([np.broadcast_to(broken.get(name, never), done.cases.count)
                     for name in STOPS], axis=1)


def _unmet(cases: Cases) -> BoolArray:
    """Draws of a machine known by readings that no machine of its kind meets: it has no map."""
    unit = cases.candidate.unit
    power = (unit.rotor.stage.power(unit.rotor.stage.highest_flow) if isinstance(unit, Ducted)
             else unit.table.thrust(advance_ratio=0.0, shaft_speed=1e3)
             + unit.table.power(advance_ratio=0.0, shaft_speed=1e3))
    return np.asarray(cases.of_each(np.isnan(power)), dtype=bool)


def _impossible(cases: Cases, point: OperatingPoint) -> BoolArray:
    """Draws whose stretched map would give more than it takes."""
    unit = cases.candidate.unit
    if isinstance(unit, Ducted):
        return np.asarray(cases.of_each(exceeds_unity(unit.rotor.stage)), dtype=bool)
    with np.errstate(invalid="ignore"):
        beyond = point.net_thrust > point.ideal_thrust * (1.0 + 1e-9)
    return np.asarray(cases.of_each(beyond.any(axis=-1, keepdims=True)))


def _joined(pieces: Sequence[MonteCarlo]) -> MonteCarlo:
    """Chunks put together along the draws."""
    if len(pieces) == 1:
        return pieces[0]

    def join(parts: Sequence[Any]) -> Any:
        kept = vars(parts[0])
        return type(parts[0])(**{
            name: np.concatenate([getattr(part, name) for part in parts])
            if isinstance(value, np.ndarray) else value for name, value in kept.items()})

    return MonteCarlo(flown={name: join([piece.flown[name] for piece in pieces])
                        for name in pieces[0].flown},
                 crossed=tuple(join(same) for same in zip(*(piece.crossed for piece in pieces),
                                                          strict=True)))


def failures(flown: SampleResult) -> dict[str, int]:
    """Draws by what went wrong at rest or on the way to the top speed; none is left out."""
    counts = {flag.words: int(np.count_nonzero(flown.bits & int(flag)))
              for flag in Flag if flag & INVALID}
    counts[IMPOSSIBLE] = int(np.count_nonzero(flown.impossible & ~flown.unmet))
    counts[UNMET] = int(np.count_nonzero(flown.unmet))
    return {words: count for words, count in counts.items() if count}
