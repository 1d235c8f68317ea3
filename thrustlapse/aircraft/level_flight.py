"""Level flight of one candidate: the speed its launch reaches, and every other balance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.aircraft.top_speed import HIGHEST_MACH, Outcome, top_speeds
from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.operating_point import OperatingPoint

SEARCH_POINTS = 140
"""Airspeeds up to the fastest at which balances of one candidate are looked for."""

TOGETHER = 14
"""How many of them are looked at together on the way from the launch."""

Thrust = Callable[[Array], Array]
"""Installed thrust [N] at airspeeds (n,) [m/s], wherever it comes from."""


@dataclass(frozen=True, kw_only=True)
class TopSpeed:
    """Level speed [m/s] that one candidate reaches on one airframe from the launch.

    NaN where it reaches none; ``reason`` says why in plain words. ``lowest_bound`` is the highest
    speed known to be passed where the search ended before a balance.
    """

    stall_speed: float
    launch_speed: float
    top_speed: float
    lowest_bound: float
    reason: str


@dataclass(frozen=True, kw_only=True)
class LevelFlight(TopSpeed):
    """The top speed beside all balances above the stall, ``speeds`` in rising order [m/s].

    Where ``stable``, a little more speed means less thrust than drag, so the aircraft settles.
    """

    speeds: Array
    stable: BoolArray


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
    def thrust(airspeed: Array) -> Array:
        return fly(airspeed).installed_thrust

    top = top_speed(thrust, airframe, mass=mass, air=air)
    sound, stall = float(air.speed_of_sound), top.stall_speed

    def excess(airspeed: Array) -> Array:
        drag = level_drag(airframe, mass=mass, density=float(air.density), airspeed=airspeed,
                          speed_of_sound=sound)
        return np.asarray(thrust(airspeed) - drag.total)

    speeds, rising = crossings(excess, np.linspace(stall, max(HIGHEST_MACH * sound, 2.0 * stall),
                                                   SEARCH_POINTS))
    return LevelFlight(**vars(top), speeds=speeds, stable=~rising)


def top_speed(thrust: Thrust, airframe: Airframe, *, mass: float, air: Air) -> TopSpeed:
    """The level speed reached from the launch speed, of a thrust law; see :func:`level_flight`."""
    def single(_: IntArray | None, airspeed: Array) -> Array:
        return np.asarray(thrust(np.ravel(airspeed))).reshape(np.shape(airspeed))

    found = top_speeds(single, airframe, mass=mass, air=air, cases=1, points=SEARCH_POINTS,
                       steps=TOGETHER, needed=True)
    stall = float(stall_speed(airframe, mass=mass, density=float(air.density)))
    launch = float(np.asarray(airframe.launch_speed))
    start, top, bound = max(launch, stall), float(found.speed[0]), float(found.passed[0])
    needed = float(found.needed[0])
    reason = {
        Outcome.REACHED: "thrust exceeds drag from launch up to it",
        Outcome.SLOWS: "drag exceeds thrust at launch; it slows to this speed",
        Outcome.STILL_GAINING: "thrust still exceeds drag at the highest speed "
                               + (f"looked at, {bound:.1f} m/s (Mach {HIGHEST_MACH:g}, beyond "
                                  "which no drag here holds)" if np.isnan(found.unknown[0]) else
                                  f"at which the machine is known, {bound:.1f} m/s"),
        Outcome.BELOW_STALL: f"launched at {launch:.1f} m/s, below the stall at {stall:.1f} m/s: "
                             "it cannot hold height from the hand",
        Outcome.UNKNOWN: f"nothing is known of the thrust at {start:.1f} m/s",
        Outcome.SHORT_OF_THRUST: "thrust is short of drag at every speed above the stall at which "
                                 "the machine is known"
                                 if np.isnan(needed) else
                                 f"thrust is short of drag at {start:.1f} m/s; it would have to be "
                                 f"launched faster than {needed:.1f} m/s",
    }[Outcome(int(found.outcome[0]))]
    return TopSpeed(stall_speed=stall, launch_speed=launch, top_speed=top, reason=reason,
                    lowest_bound=top if np.isfinite(top) else bound)
