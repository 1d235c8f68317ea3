"""Which kind of machine wins, each at its own best, and where the lead is within what is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import SearchSpec

NOBODY = -1
"""Winner where no design of any kind counts, or none pulls."""

PULLS = ("installed_thrust", "net_thrust", "spare_thrust", "thrust_per_mass", "static_thrust")
"""Answers that mean nothing won where they are not above zero."""


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Airspeeds from ``start`` to ``stop`` [m/s] over which one kind leads (None: nobody)."""

    kind: str | None
    start: float
    stop: float


@dataclass(frozen=True, kw_only=True)
class Winners:
    """Per cell of the shared axes (rows) and airspeed (columns).

    ``best`` per kind (first axis), ``winner`` the place of the leading kind in ``kinds`` or
    :data:`NOBODY`; ``lead`` over the next kind in the answer's unit, and ``tie`` where it is less
    than one standard deviation of the difference of the two: what they share moves both.
    ``chance`` per kind (first axis) that its best is the best of all. ``stretches`` tells the same
    per cell as ranges of airspeed, with the crossings interpolated.
    """

    kinds: tuple[str, ...]
    best: Array
    winner: IntArray
    lead: Array
    tie: BoolArray
    chance: Array
    stretches: tuple[tuple[Stretch, ...], ...]


def winners(spec: SearchSpec, found: Mapping[str, tuple[str, Array, Mapping[str, Array]]]
            ) -> Winners | None:
    """Winners among candidates by name: kind, best answer, its changes by what is not known.

    Several candidates of a kind stand for it together: the better one counts, place by place.
    """
    kinds = tuple(dict.fromkeys(kind for kind, _, _ in found.values()))
    if len(kinds) < 2:
        return None
    sign = 1.0 if ANSWERS[spec.best].more_is_better else -1.0
    inputs = tuple(dict.fromkeys(name for *_, changes in found.values() for name in changes))
    best, moves = [], []
    for kind in kinds:
        tables = [(sign * value, changes) for k, value, changes in found.values() if k == kind]
        stack = np.stack([np.where(np.isnan(value), -np.inf, value) for value, _ in tables])
        place = np.argmax(stack, axis=0)[None]
        best.append(np.take_along_axis(stack, place, axis=0)[0])
        moves.append(np.array([np.take_along_axis(np.stack(
            [sign * changes.get(name, np.zeros_like(value)) for value, changes in tables]),
            place, axis=0)[0] for name in inputs]).reshape(len(inputs), *best[-1].shape))
    table, moved = np.stack(best), np.stack(moves)
    # a best that an input moves off its map has no spread to be judged by
    unsure = np.any(np.isfinite(table) & np.isnan(moved).any(axis=1), axis=0)
    moved = np.where(np.isnan(moved), 0.0, moved)
    order = np.argsort(-table, axis=0, kind="stable")
    first, second = (np.take_along_axis(table, order[k][None], axis=0)[0] for k in (0, 1))
    gap = np.subtract(*(np.take_along_axis(moved, order[k][None, None], axis=0)[0]
                        for k in (0, 1)))
    nobody = ~np.isfinite(first)
    if spec.best in PULLS:
        nobody |= first <= 0.0
    with np.errstate(invalid="ignore"):
        lead = first - second
        tie = ~nobody & np.isfinite(lead) & (unsure | (lead < np.sqrt(np.sum(gap**2, axis=0))))
    winner = np.where(nobody, NOBODY, order[0])
    shown = np.where(np.isfinite(table), sign * table, np.nan)
    return Winners(kinds=kinds, best=shown, winner=winner, lead=np.where(nobody, np.nan, lead),
                   tie=tie, chance=_chances(table, moved, nobody | unsure),
                   stretches=tuple(_stretches(spec.airspeed, table[:, cell], row, kinds)
                                   for cell, row in enumerate(winner))
                   if table.shape[2] == spec.airspeed.size else ())


DRAWS, SEED = 2048, 16
"""Draws behind a chance: 1.1 % of standard error at worst."""


def _chances(table: Array, moved: Array, untold: BoolArray) -> Array:
    """Chance of each kind to be the best, of its shape; NaN where nobody counts or none is told."""
    normal = np.random.default_rng(SEED).standard_normal((DRAWS, moved.shape[1]))
    out = np.full(table.shape, np.nan)
    for cell, column in np.argwhere(~untold):
        place = (slice(None), cell, column)
        drawn = table[place] + normal @ moved[:, :, cell, column].T
        out[place] = np.mean(drawn >= drawn.max(axis=1, keepdims=True), axis=0)
    return out


def _stretches(airspeed: Array, values: Array, row: IntArray,
               kinds: tuple[str, ...]) -> tuple[Stretch, ...]:
    """Ranges of airspeed by leader; between two airspeeds the change is where straight lines meet,
    or halfway where one of them ends."""
    found: list[Stretch] = []
    start = float(airspeed[0])
    for place in range(1, airspeed.size + 1):
        if place < airspeed.size and row[place] == row[place - 1]:
            continue
        stop = (float(airspeed[-1]) if place == airspeed.size
                else _crossing(airspeed, values, place=place, before=int(row[place - 1]),
                               after=int(row[place])))
        leader = int(row[place - 1])
        found.append(Stretch(kind=None if leader == NOBODY else kinds[leader], start=start,
                             stop=stop))
        start = stop
    return tuple(found)


def _crossing(airspeed: Array, values: Array, place: int, before: int, after: int) -> float:
    low, high = float(airspeed[place - 1]), float(airspeed[place])
    first = values[before, place - 1:place + 1] if before != NOBODY else np.zeros(2)
    second = values[after, place - 1:place + 1] if after != NOBODY else np.zeros(2)
    gap = first - second
    if np.all(np.isfinite(gap)) and gap[0] >= 0.0 > gap[1]:
        return low + (high - low) * float(gap[0] / (gap[0] - gap[1]))
    return 0.5 * (low + high)
