"""Top speeds of a batch: the speed a launch reaches, for many draws at once.

Thrust is known on a common grid of airspeeds, one row for each draw, and read straight between
grid points; drag is computed where it is asked for. What the straight reading costs is told by the
caller, who flies the speeds found once more (:func:`corrected`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray

NARROWINGS = 40
"""Halvings of a grid cell: round-off is reached before."""


class Outcome(IntEnum):
    """What becomes of a draw after its launch."""

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
class LevelBatch:
    """Top speed [m/s] of every draw, NaN where there is none, and its :class:`Outcome`."""

    top_speed: Array
    outcome: IntArray


def level_batch(*, grid: Array, thrust: Array, drag: Callable[[Array], Array], stall: Array,
                launch: Array) -> LevelBatch:
    """Top speed reached from the launch, for every draw.

    Parameters
    ----------
    grid : array, (n,)
        Airspeeds, rising [m/s]
    thrust : array, (k, n)
        Installed thrust there [N]; NaN where not known
    drag : callable
        Drag [N] at airspeeds of shape (k, m)
    stall, launch : array, (k,)
        Stall and launch speed [m/s]
    """
    count = thrust.shape[0]
    start = np.maximum(launch, stall)[:, None]
    # the start becomes a grid point of its own row
    rows = np.sort(np.concatenate([np.broadcast_to(grid, (count, grid.size)), start], axis=1),
                   axis=1)
    pull = read_straight(grid, thrust, rows)
    with np.errstate(invalid="ignore", divide="ignore"):
        excess = np.where(rows >= stall[:, None], pull - drag(rows), np.nan)
    at_start = np.take_along_axis(excess, np.argmax(rows == start, axis=1)[:, None], axis=1)
    falls = (excess[:, :-1] > 0.0) & (excess[:, 1:] <= 0.0)
    # what lies beyond a gap in the thrust curve is not reached through it
    gap = np.isnan(excess) & (rows >= start)
    open_way = ~np.logical_or.accumulate(gap, axis=1)[:, 1:]
    above = falls & (rows[:, :-1] >= start) & open_way
    below = falls & (rows[:, 1:] <= start)
    gains, found_above, found_below = at_start[:, 0] > 0.0, above.any(axis=1), below.any(axis=1)
    cell = np.where(gains, np.argmax(above, axis=1),
                    falls.shape[1] - 1 - np.argmax(below[:, ::-1], axis=1))
    settled = np.where(gains, found_above, found_below)
    top = _narrowed(rows, cell, grid, thrust, drag)
    outcome = np.select(
        [launch < stall, np.isnan(at_start[:, 0]), gains & found_above, gains, found_below],
        [Outcome.BELOW_STALL, Outcome.UNKNOWN, Outcome.REACHED, Outcome.STILL_GAINING,
         Outcome.SLOWS], Outcome.SHORT_OF_THRUST)
    flies = settled & ((outcome == Outcome.REACHED) | (outcome == Outcome.SLOWS))
    return LevelBatch(top_speed=np.where(flies, top, np.nan),
                      outcome=np.asarray(outcome, dtype=np.int64))


def _narrowed(rows: Array, cell: IntArray, grid: Array, thrust: Array,
              drag: Callable[[Array], Array]) -> Array:
    """Where thrust less drag passes zero inside one cell of each row, by halving."""
    low = np.take_along_axis(rows, cell[:, None], axis=1)
    high = np.take_along_axis(rows, cell[:, None] + 1, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(NARROWINGS):
            middle = 0.5 * (low + high)
            gains = read_straight(grid, thrust, middle) > drag(middle)
            low, high = np.where(gains, middle, low), np.where(gains, high, middle)
    return np.asarray(0.5 * (low + high)[:, 0])


def read_straight(grid: Array, values: Array, at: Array) -> Array:
    """Rows of values on a common grid, (k, n), read straight at points of their own, (k, m)."""
    place = np.minimum(np.maximum(np.searchsorted(grid, at, side="right") - 1, 0), grid.size - 2)
    share = (at - grid[place]) / (grid[place + 1] - grid[place])
    below = np.take_along_axis(values, place, axis=1)
    above = np.take_along_axis(values, place + 1, axis=1)
    # at a grid point its neighbour, which may be unknown, has no say
    with np.errstate(invalid="ignore"):
        between = below + share * (above - below)
    return np.where(share == 0.0, below, np.where(share == 1.0, above, between))


def corrected(speed: Array, miss: Array, slope: Array) -> tuple[Array, BoolArray]:
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
    speed, taken
        The step is left out where it is not known or longer than a tenth of the speed.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        step = -miss / slope
    taken = np.isfinite(step) & (np.abs(step) < 0.1 * speed)
    return np.where(taken, speed + np.where(taken, step, 0.0), speed), taken
