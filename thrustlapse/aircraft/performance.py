"""The speeds at which thrust balances drag in level flight, and which of them a launch reaches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.arrays import Array, BoolArray
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.operating_point import OperatingPoint

HIGHEST_MACH = 0.95
"""Mach number at which the search for a level speed stops; the drag model ends before [-]."""

SEARCH_POINTS = 140


@dataclass(frozen=True, kw_only=True)
class LevelFlight:
    """Level speeds of one candidate on one airframe [m/s].

    ``speeds`` are all balances in rising order; where ``stable``, a little more speed means less
    thrust than drag, so the aircraft settles there. ``top_speed`` is the one reached from the
    launch speed, NaN where none is; ``reason`` says why in plain words. ``lowest_bound`` is the
    highest speed known to be passed where the search ended before a balance.
    """

    speeds: Array
    stable: BoolArray
    stall_speed: float
    launch_speed: float
    top_speed: float
    lowest_bound: float
    reason: str


def level_flight(fly: Callable[[Array], OperatingPoint], airframe: Airframe, *, mass: float,
                 air: Air) -> LevelFlight:
    """All level speeds above the stall, and the one reached from the launch speed.

    Parameters
    ----------
    fly : callable
        Operating points of the candidate at an array of airspeeds [m/s]
    airframe : Airframe
    mass : float
        Total mass [kg]
    air : Air
        Still air where it flies
    """
    return balances(lambda v: fly(v).installed_thrust, airframe, mass=mass, air=air)


def balances(thrust: Callable[[Array], Array], airframe: Airframe, *, mass: float,
             air: Air) -> LevelFlight:
    """:func:`level_flight` of installed thrust [N] at airspeeds [m/s], wherever it comes from."""
    sound = float(air.speed_of_sound)
    density = float(air.density)
    stall = float(stall_speed(airframe, mass=mass, density=density))
    launch = float(np.asarray(airframe.launch_speed))

    def excess(airspeed: Array) -> Array:
        drag = level_drag(airframe, mass=mass, density=density, airspeed=airspeed,
                          speed_of_sound=sound)
        return np.asarray(thrust(airspeed) - drag.total)

    grid = np.linspace(stall, max(HIGHEST_MACH * sound, 2.0 * stall), SEARCH_POINTS)
    sampled = excess(grid)
    speeds, rising = crossings(excess, grid, values=sampled)
    stable = ~rising
    start = max(launch, stall)
    at_start = float(excess(np.array([start]))[0])
    # what lies beyond a gap in the thrust curve is not reached through it
    gaps = grid[(grid > start) & ~np.isfinite(sampled)]
    reach = gaps[0] if gaps.size else np.inf
    known, near = grid[(grid < reach) & np.isfinite(sampled)], speeds < reach
    top, bound, reason = _reached(speeds[near], stable[near], launch=launch, stall=stall,
                                  start=start, at_start=at_start, known=known)
    return LevelFlight(speeds=speeds, stable=stable, stall_speed=stall, launch_speed=launch,
                       top_speed=top, lowest_bound=bound, reason=reason)


def _reached(speeds: Array, stable: BoolArray, *, launch: float, stall: float, start: float,
             at_start: float, known: Array) -> tuple[float, float, str]:
    nothing = float("nan")
    if launch < stall:
        return nothing, nothing, (f"launched at {launch:.1f} m/s, below the stall at {stall:.1f} "
                                  "m/s: it cannot hold height from the hand")
    if not np.isfinite(at_start):
        return nothing, nothing, f"nothing is known of the thrust at {start:.1f} m/s"
    if at_start > 0.0:
        above = speeds[stable & (speeds > start)]
        if above.size:
            return float(above[0]), float(above[0]), "thrust exceeds drag from launch up to it"
        last = float(np.max(known, initial=start))
        return nothing, last, ("thrust still exceeds drag at the highest speed at which the "
                               f"machine is known, {last:.1f} m/s")
    below = speeds[stable & (speeds < start)]
    barrier = speeds[~stable & (speeds > start)]
    if below.size:
        return float(below[-1]), float(below[-1]), ("drag exceeds thrust at launch; it slows to "
                                                    "this speed")
    if barrier.size:
        return nothing, nothing, (f"thrust is short of drag at {start:.1f} m/s; it would have to "
                                  f"be launched faster than {barrier[0]:.1f} m/s")
    return nothing, nothing, "thrust is short of drag at every speed above the stall"
