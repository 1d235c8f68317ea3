"""All draws flown: curves, level speeds and crossovers, without a loop over draws.

A chunk of draws is one call of the matching for each candidate. Crossovers are read from the curves
on a common grid and flown twice more, together, to take the error of reading off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.aircraft.top_speed import top_speeds
from thrustlapse.arrays import Array, BoolArray, IntArray, take
from thrustlapse.propulsor.basis import PER_AREA, PER_MASS
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import INVALID, Flag, OperatingPoint, select
from thrustlapse.rotor.stage_map import exceeds_unity
from thrustlapse.study.draws import Drawable, with_draws
from thrustlapse.study.footing import Footing
from thrustlapse.study.limits.states import States
from thrustlapse.study.limits.table import STOPS, stopped
from thrustlapse.study.scenario_like import ScenarioLike

CHUNK_DRAWS = 2048
"""Draws flown together: bounds the memory whatever the number of draws."""

FLOWN_AGAIN = 2
"""Exact flights at the speeds read from the grid; each takes the error of the one before."""

IMPOSSIBLE = "map gives more than it takes"
UNMET = "no such machine meets its readings"


@dataclass(frozen=True, kw_only=True)
class Flown:
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
class Crossed:
    """Where the first of a pair begins (``rising``) or ceases to beat the second, (k,)."""

    first: str
    second: str
    rising: bool
    airspeed: Array
    threshold: Array
    pulls: BoolArray
    reached: BoolArray
    shift: Array


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A chunk of draws, or all of them."""

    flown: dict[str, Flown]
    crossed: tuple[Crossed, ...]


class Flight:
    """A chunk of draws ready to fly: footing, air, airframe, masses."""

    def __init__(self, many: ScenarioLike, count: int, grid: Array) -> None:
        self.many, self.count, self.grid = many, count, grid
        self.footing = Footing(basis=many.comparison, candidates=many.candidates)
        self.air: Air = many.site.air()
        self.airframe: Airframe | None = many.airframe

    def row(self, value: Any) -> Array:
        """One number a draw, (k,)."""
        return np.array(np.broadcast_to(value, (self.count, 1))[:, 0])

    def fly(self, candidate: Candidate, airspeed: Array) -> OperatingPoint:
        """On the footing; airspeeds (n,) or (k, m)."""
        return self.footing.fly(candidate, airspeed)

    def pull(self, candidate: Candidate, index: IntArray | None, airspeed: Array) -> Array:
        """Installed thrust of all draws at airspeeds (k, n), or of some at one each, (index, 1)."""
        if index is None:
            return self.fly(candidate, airspeed).installed_thrust
        tall, basis = (self.count, 1), self.footing.basis
        rivals = {name: take(self.footing.candidates[name], tall, index)
                  for name in (basis.reference,) if name is not None}
        some = Footing(basis=take(basis, tall, index), candidates=rivals)
        point = some.fly(take(candidate, tall, index), airspeed[:, 0])
        return point.installed_thrust[:, None]

    def wide(self, value: Any, columns: int) -> Any:
        """In full shape, (k, columns)."""
        return np.broadcast_to(value, (self.count, columns))

    def mass(self, candidate: Candidate) -> Array:
        """All-up mass, (1,) or (k, 1)."""
        assert self.airframe is not None
        return np.atleast_1d(np.asarray(self.airframe.mass) + candidate.installed_mass)

    def drag(self, candidate: Candidate, airspeed: Array) -> tuple[Array, Array]:
        """Induced and all drag [N] at airspeeds."""
        assert self.airframe is not None
        with np.errstate(invalid="ignore", divide="ignore"):
            parts = level_drag(self.airframe, mass=self.mass(candidate), density=self.air.density,
                               airspeed=airspeed, speed_of_sound=self.air.speed_of_sound)
            return parts.induced, parts.total

    def stall(self, candidate: Candidate) -> Array:
        """Stall speed, (k,) [m/s]."""
        assert self.airframe is not None
        return self.row(stall_speed(self.airframe, mass=self.mass(candidate),
                                    density=self.air.density))


def fly_draws(scenario: ScenarioLike, inputs: Sequence[Drawable], drawn: Array, grid: Array, *,
              expected: Mapping[tuple[str, str, bool], float],
              only: Sequence[int] | None = None, names: Sequence[str] | None = None) -> Batch:
    """Fly every draw over a grid of airspeeds from rest.

    Parameters
    ----------
    drawn : array, (k, inputs)
        Shares, see :func:`thrustlapse.study.draws.shares`
    grid : array, (n,)
        Airspeeds, the first is rest [m/s]
    expected : mapping
        Crossover of the nominal scenario by (first, second, rising) [m/s]: where a draw has several
        of the kind the nearest to it is taken, and the first where there is none
    only, names
        Inputs to draw, the rest staying nominal, and candidates to fly; all by default
    """
    pieces = []
    for start in range(0, drawn.shape[0], CHUNK_DRAWS):
        piece = drawn[start:start + CHUNK_DRAWS]
        flight = Flight(with_draws(scenario, inputs, piece, only), piece.shape[0], grid)
        flown = {name: _fly(flight, candidate)
                 for name, candidate in flight.many.candidates.items()
                 if names is None or name in names}
        pairs = combinations(flown, 2) if names is None else ()
        crossed = tuple(_cross(flight, flown, pair, rising, expected)
                        for pair in pairs for rising in (True, False))
        pieces.append(Batch(flown=flown, crossed=crossed))
    return _joined(pieces)


def _fly(flight: Flight, candidate: Candidate) -> Flown:
    grid, count = flight.grid, flight.count
    point = flight.fly(candidate, grid)
    unmet = _unmet(flight, candidate)
    impossible = unmet | _impossible(flight, candidate, point)

    def curve(values: Array) -> Array:
        full = np.array(flight.wide(values, grid.size))
        full[impossible] = np.nan
        return full

    thrust = curve(point.installed_thrust)
    net = curve(point.net_thrust)
    measure = curve(flight.footing.measure(candidate, point))
    bits = np.where(unmet[:, None], 0, flight.wide(point.flag_bits, grid.size))
    nothing, none = np.full(count, np.nan), np.full(count, -1, dtype=np.int64)
    if flight.airframe is None:
        return Flown(thrust=thrust, net=net, measure=measure, power=curve(point.electrical_power),
                     left=thrust, top_speed=nothing, outcome=none, bits=bits[:, 0],
                     impossible=impossible, unmet=unmet,
                     stops=_stops(flight, candidate, point, nothing))
    def pull(index: IntArray | None, airspeed: Array) -> Array:
        void = impossible if index is None else impossible[index]
        return np.where(void[:, None], np.nan, flight.pull(candidate, index, airspeed))

    found = top_speeds(pull, flight.airframe, mass=flight.mass(candidate), air=flight.air,
                       cases=count, flown=(grid, thrust))
    top, (induced, _) = found.speed, flight.drag(candidate, grid)
    way = np.where(np.isfinite(top), top, 0.0)[:, None] >= grid
    return Flown(thrust=thrust, net=net, measure=measure, power=curve(point.electrical_power),
                 left=np.asarray(thrust - flight.wide(induced, grid.size)), top_speed=top,
                 outcome=found.outcome, bits=np.bitwise_or.reduce(np.where(way, bits, 0), axis=1),
                 impossible=impossible, unmet=unmet, stops=_stops(flight, candidate, point, top))


def _stops(flight: Flight, candidate: Candidate, point: OperatingPoint, top: Array) -> BoolArray:
    """Which limits that say stop are broken in each draw, (k, limits)."""
    asked = flight.grid <= np.fmax(top[:, None], float(flight.many.airspeeds[-1]))
    airframe = flight.airframe
    states = States(
        candidate=candidate, air=flight.air, points=(point,),
        rest=select(point, (..., slice(0, 1))),
        pack_current_rating=flight.many.pack_current_rating, wiring=flight.many.wiring,
        airframe=airframe, within=asked,
        total_mass=float("nan") if airframe is None else flight.mass(candidate))
    broken = stopped(states)
    never = np.zeros(1, dtype=bool)
    return np.stack([np.broadcast_to(broken.get(name, never), flight.count)
                     for name in STOPS], axis=1)


def _unmet(flight: Flight, candidate: Candidate) -> BoolArray:
    """Draws of a machine known by readings that no machine of its kind meets: it has no map."""
    unit = candidate.unit
    power = (unit.rotor.stage.power(unit.rotor.stage.highest_flow) if isinstance(unit, Ducted)
             else unit.table.thrust(advance_ratio=0.0, shaft_speed=1e3)
             + unit.table.power(advance_ratio=0.0, shaft_speed=1e3))
    return flight.row(np.isnan(power)).astype(bool)


def _impossible(flight: Flight, candidate: Candidate, point: OperatingPoint) -> BoolArray:
    """Draws whose stretched map would give more than it takes."""
    unit = candidate.unit
    if isinstance(unit, Ducted):
        return flight.row(exceeds_unity(unit.rotor.stage)).astype(bool)
    with np.errstate(invalid="ignore"):
        beyond = point.net_thrust > point.ideal_thrust * (1.0 + 1e-9)
    return np.array(flight.wide(beyond, flight.grid.size).any(axis=1))


def _cross(flight: Flight, flown: Mapping[str, Flown], pair: tuple[str, str], rising: bool,
           expected: Mapping[tuple[str, str, bool], float]) -> Crossed:
    grid, (first, second) = flight.grid, pair
    on_airframe = flight.airframe is not None and flight.many.comparison.footing not in (
        PER_MASS, PER_AREA)
    sides = [flown[name].left if on_airframe else flown[name].measure for name in pair]
    with np.errstate(invalid="ignore"):
        difference = sides[0] - sides[1]
    if on_airframe:
        slowest = np.maximum(*(flight.stall(flight.many.candidates[name]) for name in pair))
        difference = np.where(grid >= slowest[:, None], difference, np.nan)
    before, after = difference[:, :-1], difference[:, 1:]
    with np.errstate(invalid="ignore"):
        cells = (before < 0.0) & (after >= 0.0) if rising else (before > 0.0) & (after <= 0.0)
        roots = grid[:-1] - before * np.diff(grid) / (after - before)
    target = expected.get((first, second, rising), 0.0)
    far = np.where(cells, np.abs(roots - target), np.inf)
    place = np.argmin(far, axis=1)[:, None]
    found = cells.any(axis=1)
    speed = np.where(found, np.take_along_axis(roots, place, axis=1)[:, 0], np.nan)
    slope = (np.take_along_axis(after - before, place, axis=1)
             / np.diff(grid)[place])[:, 0]
    return _at_crossing(flight, pair, rising, on_airframe, speed, slope)


def _at_crossing(flight: Flight, pair: tuple[str, str], rising: bool, on_airframe: bool,
                 speed: Array, slope: Array) -> Crossed:
    known = np.isfinite(speed)
    count = speed.size
    nothing, never = np.full(count, np.nan), np.zeros(count, dtype=bool)
    if not known.any():
        return Crossed(first=pair[0], second=pair[1], rising=rising, airspeed=speed,
                       threshold=nothing, pulls=never, reached=never, shift=np.zeros(count))
    moved = np.where(known, speed, np.median(speed[known]))
    for _ in range(FLOWN_AGAIN):
        asked = moved
        values, pulls, drawn = _sides(flight, pair, on_airframe, asked[:, None])
        moved = corrected(asked, values[0] - values[1], slope)
    shift = np.where(known, np.abs(moved - asked), 0.0)
    threshold, reached, left = nothing, never, known & pulls & drawn
    if on_airframe:
        # at the crossing both leave the same; the mean of the two is nearest to it
        rest = 0.5 * (values[0] + values[1])
        dynamic = 0.5 * flight.row(flight.air.density) * moved**2
        first = flight.many.candidates[pair[0]]
        induced, total = flight.drag(first, moved[:, None])
        left = known & (rest > 0.0) & drawn
        threshold = np.where(left, rest / dynamic, np.nan)
        reached = left & (rest >= flight.row(total - induced))
    return Crossed(first=pair[0], second=pair[1], rising=rising,
                   airspeed=np.where(left, moved, np.nan), threshold=threshold, pulls=left,
                   reached=reached, shift=np.where(left, shift, 0.0))


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


def _sides(flight: Flight, pair: tuple[str, str], on_airframe: bool,
           airspeed: Array) -> tuple[list[Array], BoolArray, BoolArray]:
    """What is compared of both candidates at airspeeds (k, 1), whether each pulls, and whether each
    draws the power all are held to."""
    values, pulls, drawn = [], [], []
    for name in pair:
        candidate = flight.many.candidates[name]
        point = flight.fly(candidate, airspeed)
        thrust = flight.row(point.installed_thrust)
        pulls.append(thrust > 0.0)
        drawn.append(flight.row(flight.footing.short_of_reference(point)) == 0.0)
        if on_airframe:
            values.append(thrust - flight.row(flight.drag(candidate, airspeed)[0]))
        else:
            values.append(flight.row(flight.footing.measure(candidate, point)))
    return values, pulls[0] & pulls[1], drawn[0] & drawn[1]


def _joined(pieces: Sequence[Batch]) -> Batch:
    """Chunks put together along the draws."""
    if len(pieces) == 1:
        return pieces[0]

    def join(parts: Sequence[Any]) -> Any:
        kept = vars(parts[0])
        return type(parts[0])(**{
            name: np.concatenate([getattr(part, name) for part in parts])
            if isinstance(value, np.ndarray) else value for name, value in kept.items()})

    return Batch(flown={name: join([piece.flown[name] for piece in pieces])
                        for name in pieces[0].flown},
                 crossed=tuple(join(same) for same in zip(*(piece.crossed for piece in pieces),
                                                          strict=True)))


def failures(flown: Flown) -> dict[str, int]:
    """Draws by what went wrong at rest or on the way to the top speed; none is left out."""
    counts = {flag.words: int(np.count_nonzero(flown.bits & int(flag)))
              for flag in Flag if flag & INVALID}
    counts[IMPOSSIBLE] = int(np.count_nonzero(flown.impossible & ~flown.unmet))
    counts[UNMET] = int(np.count_nonzero(flown.unmet))
    return {words: count for words, count in counts.items() if count}
