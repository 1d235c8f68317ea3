"""The legs of a flight, as a pilot would name them.

A flight is one launch and any number of legs. Legs that begin faster or slower than they are flown
get to their airspeed first: level at full power, or level with the motor cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LONGEST = 4.0 * 3600.0
"""Time after which a leg that has not ended is broken off [s]."""

HOLDS = ("true airspeed", "equivalent airspeed")
"""What stays constant in a climb or glide. At constant equivalent airspeed the lift coefficient
does (but for the cosine of the path), and the true airspeed goes with the root of the density."""


@dataclass(frozen=True, kw_only=True)
class HandLaunch:
    """Thrown level: ``airspeed`` [m/s] (the airframe's launch speed where None), ``height`` [m]."""

    airspeed: float | None = None
    height: float = 1.5


@dataclass(frozen=True, kw_only=True)
class RailLaunch:
    """From rest along a rail, motor at full power: ``length`` [m], ``angle`` above level [rad].

    ``pull`` [N] is a constant force of bungee, weight or winch on top of the thrust, and
    ``height`` [m] that of the rail's foot. On the rail the wing is at its lift of least drag.
    It then flies on level.
    """

    length: float
    angle: float = 0.0
    pull: float = 0.0
    height: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Accelerate:
    """Level at full power until an airspeed [m/s]."""

    airspeed: float
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Coast:
    """Level with the motor cut until an airspeed [m/s]."""

    airspeed: float
    extra_drag_area: float = 0.0
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Climb:
    """At full power to a height above the site [m].

    At an airspeed [m/s]; at that of the fastest climb from where it begins where None.
    """

    height: float
    airspeed: float | None = None
    hold: str = "true airspeed"
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Turn:
    """Level turn at a constant load factor [-] through an angle [rad].

    ``throttle`` is ``full``, and the airspeed settles where it will, or ``held``: the power that
    holds the airspeed of the turn's beginning.
    """

    load_factor: float
    angle: float = 2.0 * np.pi
    throttle: str = "full"
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Dash:
    """Level at full power until within ``short_of_top`` of the top speed there [-]."""

    short_of_top: float = 0.005
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Cruise:
    """Level at a constant airspeed [m/s] (the present one where None) by part power.

    The controller holds the shaft speed at which thrust balances drag. Ends after ``time`` [s] or
    ``distance`` [m], whichever comes first; with neither, when the pack is empty or can no longer
    hold it.
    """

    airspeed: float | None = None
    time: float | None = None
    distance: float | None = None
    longest: float = LONGEST


@dataclass(frozen=True, kw_only=True)
class Glide:
    """Motor cut, down to a height [m], at an airspeed [m/s] (that of best glide where None).

    ``extra_drag_area`` [m^2] is what the standing or windmilling rotors add.
    """

    airspeed: float | None = None
    height: float = 0.0
    hold: str = "true airspeed"
    extra_drag_area: float = 0.0
    longest: float = LONGEST


Launch = HandLaunch | RailLaunch
Leg = Accelerate | Coast | Climb | Turn | Dash | Cruise | Glide

WORDS: dict[type, str] = {
    HandLaunch: "hand launch", RailLaunch: "rail launch", Accelerate: "accelerate level",
    Coast: "coast level", Climb: "climb", Turn: "turn", Dash: "dash", Cruise: "cruise",
    Glide: "glide"}
"""What legs are called in tables and figures."""
