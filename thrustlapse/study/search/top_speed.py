"""Level top speeds of many designs at once, by the rule one design alone is held to.

The aircraft starts at its launch speed, or at the stall if that is higher. With thrust to spare it
speeds up to the first balance above; without, it slows to the nearest one below; nothing is reached
through a gap in what is known of the machine. This is the elementwise form of
:func:`thrustlapse.aircraft.performance.level_flight`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.aircraft.performance import HIGHEST_MACH
from thrustlapse.arrays import Array, BoolArray, IntArray, Values, take
from thrustlapse.elementwise import bracketed_root
from thrustlapse.propulsor.operating_point import OperatingPoint

GRID_POINTS = 44
"""Airspeeds between the start and the fastest at which a balance is looked for."""

STEPS = 4
"""How many of them are looked at together."""

Fly = Callable[[IntArray | None, Array], OperatingPoint]
"""``fly(index, airspeed)``: some designs (all where None), airspeed of shape (designs, n)."""


def top_speeds(fly: Fly, airframe: Airframe, *, mass: Values, air: Air, designs: int) -> Array:
    """Top speed of each design [m/s]; NaN where there is none or it is not known.

    Parameters
    ----------
    fly : callable
    airframe : Airframe
        Fields scalar, or of shape (designs, 1)
    mass : array_like
        Total mass, scalar or of shape (designs, 1) [kg]
    air : Air
        Still air, scalar or of shape (designs, 1)
    designs : int

    Returns
    -------
    array, shape (designs,)
    """
    tall = (designs, 1)
    density = np.broadcast_to(air.density, tall)
    sound = np.broadcast_to(air.speed_of_sound, tall)
    weight = np.broadcast_to(np.asarray(mass, dtype=float), tall)
    stall = np.broadcast_to(stall_speed(airframe, mass=weight, density=density), tall)
    launch = np.broadcast_to(np.asarray(airframe.launch_speed, dtype=float), tall)
    start = np.maximum(launch, stall)
    fastest = np.maximum(HIGHEST_MACH * sound, 2.0 * stall)

    def excess(index: IntArray | None, airspeed: Array) -> Array:
        def part(values: Array) -> Array:
            return values if index is None else values[index]

        frame = airframe if index is None else _rows(airframe, designs, index)
        drag = level_drag(frame, mass=part(weight), density=part(density), airspeed=airspeed,
                          speed_of_sound=part(sound))
        return np.asarray(fly(index, airspeed).installed_thrust - drag.total)

    at_start = excess(None, start)
    climbs = at_start > 0.0
    # one grid a design: upwards from the start with thrust to spare, downwards to the stall without
    end = np.where(climbs, fastest, stall)
    low, high = np.full(designs, np.nan), np.full(designs, np.nan)
    index = np.flatnonzero((launch >= stall)[:, 0] & np.isfinite(at_start[:, 0]))
    last, at_last = start[:, 0].copy(), at_start[:, 0].copy()
    # a few steps at a time: most designs find their balance long before the end, and what lies
    # far beyond it is the dearest to work out
    for first in range(1, GRID_POINTS, STEPS):
        share = np.arange(first, min(first + STEPS, GRID_POINTS)) / (GRID_POINTS - 1.0)
        grid = start[index] + share * (end[index] - start[index])
        inner = excess(np.repeat(index, share.size), grid.reshape(-1, 1)).reshape(grid.shape)
        grid = np.column_stack([last[index], grid])
        inner = np.column_stack([at_last[index], inner])
        place, found, gap = _first_change(inner, upwards=climbs[index, 0])
        rows = np.flatnonzero(found)
        low[index[rows]], high[index[rows]] = grid[rows, place[rows]], grid[rows, place[rows] + 1]
        last[index], at_last[index] = grid[:, -1], inner[:, -1]
        index = index[~found & ~gap]
        if not index.size:
            break
    top = np.full(designs, np.nan)
    index = np.flatnonzero(np.isfinite(low))
    if index.size:
        root, ok = bracketed_root(
            lambda sub, v: excess(index[sub], v[:, None])[:, 0],
            np.minimum(low, high)[index], np.maximum(low, high)[index])
        top[index[ok]] = root[ok]
    return top


def _first_change(excess: Array, *,
                  upwards: BoolArray) -> tuple[IntArray, BoolArray, BoolArray]:
    """Where along each row the sign first changes, whether it does with nothing unknown before,
    and whether something is unknown."""
    low, high = excess[:, :-1], excess[:, 1:]
    with np.errstate(invalid="ignore"):
        change = np.where(upwards[:, None], (low > 0.0) & (high <= 0.0),
                          (low <= 0.0) & (high > 0.0))
    unknown = ~np.isfinite(high)
    first = np.argmax(change, axis=1)
    gap = np.where(unknown.any(axis=1), np.argmax(unknown, axis=1), excess.shape[1])
    found = change.any(axis=1) & (first < gap)
    return first, np.asarray(found), np.asarray(unknown.any(axis=1))


def _rows(airframe: Airframe, designs: int, index: IntArray) -> Airframe:
    """The airframe for some designs, its arrays as columns."""
    flat = take(airframe, (designs, 1), index)
    return replace(flat, **{item.name: value[:, None] for item in fields(flat)
                            if isinstance(value := getattr(flat, item.name), np.ndarray)
                            and value.ndim == 1})
