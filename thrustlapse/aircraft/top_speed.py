"""The level speed a launch reaches, for any number of cases at once, and why where there is none.

The aircraft starts at its launch speed. With thrust to spare it speeds up to the first balance
above; without, it slows to the nearest one below; nothing is reached through a gap in what is known
of the machine. Every top speed of the package is found here: of one design, of many, of draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from enum import IntEnum
from typing import NamedTuple

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.arrays import Array, BoolArray, IntArray, Values, take
from thrustlapse.elementwise import smooth_root

HIGHEST_MACH = 0.95
"""Mach number at which the search for a level speed stops; the drag model ends before [-]."""

GRID_POINTS = 44
"""Airspeeds between the start and the fastest at which a balance is looked for."""

STEPS = 4
"""How many of them are looked at together."""

FINER, FINER_POINTS = 2, 13
"""Times the stretch before a gap in what is known is looked at again, and airspeeds each time."""

Thrust = Callable[[IntArray | None, Array], Array]
"""``thrust(index, airspeed)``: installed thrust [N] of all cases where the index is None, airspeed
of shape (cases, n), else of some, airspeed of shape (index.size, 1)."""


class Outcome(IntEnum):
    """What becomes of a case after its launch."""

    REACHED = 0
    SLOWS = 1
    STILL_GAINING = 2
    BELOW_STALL = 3
    SHORT_OF_THRUST = 4
    UNKNOWN = 5

    @property
    def words(self) -> str:
        """As tables print it."""
        return ("reached from the launch", "slows down to it", "still gaining where the curve ends",
                "launched below the stall", "thrust short of drag at launch",
                "thrust not known at launch")[self]

    @property
    def flies(self) -> bool:
        """Whether there is a top speed."""
        return self in (Outcome.REACHED, Outcome.SLOWS)


@dataclass(frozen=True, kw_only=True)
class TopSpeeds:
    """Top speed [m/s] of every case, NaN where there is none, and its :class:`Outcome`.

    ``passed`` is the highest airspeed looked at that is known to be passed, ``unknown`` the next
    one, at which nothing is known, where a case is still gaining [m/s]; ``needed`` the launch speed
    that would do where thrust is short [m/s], if asked for. NaN elsewhere.
    """

    speed: Array
    outcome: IntArray
    passed: Array
    unknown: Array
    needed: Array


def top_speeds(thrust: Thrust, airframe: Airframe, *, mass: Values, air: Air, cases: int,
               points: int = GRID_POINTS, steps: int = STEPS, needed: bool = False,
               flown: tuple[Array, Array] | None = None) -> TopSpeeds:
    """Top speed of each case, arrays of shape (cases,).

    Parameters
    ----------
    thrust : callable
    airframe : Airframe
        Fields scalar, or of shape (cases, 1)
    mass : array_like
        Total mass, scalar or of shape (cases, 1) [kg]
    air : Air
        Still air, scalar or of shape (cases, 1)
    cases : int
    points, steps : int
        Airspeeds between start and fastest, and how many are looked at together
    needed : bool
        Whether to look for a launch speed that would do, where thrust is short
    flown : tuple of array, optional
        Airspeeds (n,) and the thrust there (cases, n), where they are known already: a balance is
        then looked for between them alone
    """
    tall = (cases, 1)
    density, sound, weight, launch = (
        np.broadcast_to(np.asarray(value, dtype=float), tall)
        for value in (air.density, air.speed_of_sound, mass, airframe.launch_speed))
    stall = np.broadcast_to(stall_speed(airframe, mass=weight, density=density), tall)
    start = np.maximum(launch, stall)

    def excess(index: IntArray | None, airspeed: Array) -> Array:
        def part(values: Array) -> Array:
            return values if index is None else values[index]

        frame = airframe if index is None else _rows(airframe, cases, index)
        drag = level_drag(frame, mass=part(weight), density=part(density), airspeed=airspeed,
                          speed_of_sound=part(sound))
        return np.asarray(thrust(index, airspeed) - drag.total)

    at_start = excess(None, start)
    gains, known = (at_start > 0.0)[:, 0], np.isfinite(at_start)[:, 0]
    fast_enough = (launch >= stall)[:, 0]
    # upwards from the start with thrust to spare, downwards to the stall without
    fastest = np.maximum(HIGHEST_MACH * sound, 2.0 * stall)
    end, begun = np.where(gains[:, None], fastest, stall), np.flatnonzero(fast_enough & known)
    if flown is None:
        way = _walk(excess, begun, start=start, end=end, at_start=at_start, points=points,
                    steps=steps)
        for _ in range(FINER):  # a balance may lie just before what is not known
            gaps = np.flatnonzero(np.isfinite(way.unknown))
            finer = _walk(excess, gaps, start=way.passed[:, None], end=way.unknown[:, None],
                          at_start=way.at_passed[:, None], points=FINER_POINTS, steps=FINER_POINTS)
            for old, new in zip(way, finer, strict=True):
                old[gaps] = new[gaps]
    else:
        with np.errstate(divide="ignore", invalid="ignore"):  # it may begin at rest
            drag = level_drag(airframe, mass=weight, density=density, airspeed=flown[0],
                              speed_of_sound=sound)
        way = _along(flown[0], flown[1] - drag.total, index=begun, start=start, end=end,
                     at_start=at_start)
    speed = _balance(excess, way)
    settles = np.isfinite(speed)
    outcome = np.select(
        [~fast_enough, ~known, gains & settles, gains, settles],
        [Outcome.BELOW_STALL, Outcome.UNKNOWN, Outcome.REACHED, Outcome.STILL_GAINING,
         Outcome.SLOWS], Outcome.SHORT_OF_THRUST)
    short = np.flatnonzero(outcome == Outcome.SHORT_OF_THRUST) if needed else np.empty(0, np.intp)
    launches = _walk(excess, short, start=start, end=fastest, at_start=at_start, points=points,
                     steps=steps)
    gaining = outcome == Outcome.STILL_GAINING
    return TopSpeeds(speed=speed, outcome=np.asarray(outcome, dtype=np.int64),
                     passed=np.where(gaining, way.passed, np.nan),
                     unknown=np.where(gaining, way.unknown, np.nan),
                     needed=_balance(excess, launches))


class _Way(NamedTuple):
    """Airspeeds round the first balance and the excess there, the last airspeed known before it,
    the first unknown, and the excess at the last known."""

    low: Array
    high: Array
    at_low: Array
    at_high: Array
    passed: Array
    unknown: Array
    at_passed: Array


def _walk(excess: Thrust, index: IntArray, start: Array,
          end: Array, at_start: Array, points: int, steps: int) -> _Way:
    """Walk some cases from their start to their end, until the excess of thrust changes sign.

    A few steps at a time: most find their balance long before the end, and what lies far beyond it
    is the dearest to work out.
    """
    low, high, at_low, at_high, unknown = (np.full(start.shape[0], np.nan) for _ in range(5))
    last, at_last = start[:, 0].copy(), at_start[:, 0].copy()
    for first in range(1, points if index.size else 1, steps):
        share = np.arange(first, min(first + steps, points)) / (points - 1.0)
        ahead = start[index] + share * (end[index] - start[index])
        inner = excess(np.repeat(index, share.size), ahead.reshape(-1, 1)).reshape(ahead.shape)
        grid = np.column_stack([last[index], ahead])
        inner = np.column_stack([at_last[index], inner])
        place, found, gap = _first_change(inner)
        rows = np.arange(index.size)
        for ends, values in ((low, high), grid), ((at_low, at_high), inner):
            ends[0][index[found]] = values[rows, place][found]
            ends[1][index[found]] = values[rows, place + 1][found]
        hole = np.where(gap, np.argmax(~np.isfinite(inner), axis=1), grid.shape[1])
        last[index], at_last[index] = grid[rows, hole - 1], inner[rows, hole - 1]
        gap &= ~found
        unknown[index[gap]] = grid[gap, hole[gap]]
        index = index[~found & ~gap]
        if not index.size:
            break
    return _Way(low, high, at_low=at_low, at_high=at_high, passed=last, unknown=unknown,
                at_passed=at_last)


def _along(flown: Array, excess: Array, index: IntArray, start: Array, end: Array,
           at_start: Array) -> _Way:
    """The same way along airspeeds that are known already."""
    ways = [np.full(start.shape[0], np.nan) for _ in range(7)]
    up = (end > start)[index]
    between = ((flown - start[index]) * (flown - end[index])) < 0.0
    grid = np.where(between, flown, start[index])
    inner = np.where(between, excess[index], at_start[index])
    order = np.argsort(np.where(up, grid, -grid), axis=1, kind="stable")
    grid, inner = (np.take_along_axis(each, order, axis=1) for each in (grid, inner))
    grid = np.column_stack([start[index], grid])
    inner = np.column_stack([at_start[index], inner])
    place, found, gap = _first_change(inner)
    rows = np.arange(index.size)
    hole = np.where(gap, np.argmax(~np.isfinite(inner), axis=1), grid.shape[1])
    for way, values in zip(ways, (
            np.where(found, grid[rows, place], np.nan),
            np.where(found, grid[rows, place + 1], np.nan),
            inner[rows, place], inner[rows, place + 1], grid[rows, hole - 1],
            np.where(gap, grid[rows, np.minimum(hole, grid.shape[1] - 1)], np.nan),
            inner[rows, hole - 1]), strict=True):
        way[index] = values
    return _Way(*ways)


def _balance(excess: Thrust, way: _Way) -> Array:
    """Where the excess is zero between the two airspeeds of each case; NaN where there are none."""
    speed = np.full(way.low.size, np.nan)
    index = np.flatnonzero(np.isfinite(way.low))
    down = (way.low > way.high)[index]
    ends = [np.where(down, *pair) for pair in (
        (way.high[index], way.low[index]), (way.low[index], way.high[index]),
        (way.at_high[index], way.at_low[index]), (way.at_low[index], way.at_high[index]))]
    if index.size:
        root, found = smooth_root(lambda sub, v: excess(index[sub], v[:, None])[:, 0], *ends)
        speed[index[found]] = root[found]
    return speed


def _first_change(excess: Array) -> tuple[IntArray, BoolArray, BoolArray]:
    """Where along each row the sign first changes, whether it does with nothing unknown before,
    and whether something is unknown."""
    low, high = excess[:, :-1], excess[:, 1:]
    with np.errstate(invalid="ignore"):
        change = np.where(excess[:, :1] > 0.0, (low > 0.0) & (high <= 0.0),
                          (low <= 0.0) & (high > 0.0))
    unknown = ~np.isfinite(high)
    first = np.argmax(change, axis=1)
    gap = np.where(unknown.any(axis=1), np.argmax(unknown, axis=1), excess.shape[1])
    found = change.any(axis=1) & (first < gap)
    return first, np.asarray(found), np.asarray(unknown.any(axis=1))


def _rows(airframe: Airframe, cases: int, index: IntArray) -> Airframe:
    """The airframe for some cases, its arrays as columns."""
    flat = take(airframe, (cases, 1), index)
    return replace(flat, **{item.name: value[:, None] for item in fields(flat)
                            if isinstance(value := getattr(flat, item.name), np.ndarray)
                            and value.ndim == 1})
