"""The ground roll of aircraft that roll: take-off and landing.

Along the runway m dV/dt = T - D - mu (W - L), with lift and drag at the attitude of the roll.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe, stall_speed
from thrustlapse.arrays import Array, Values

NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
"""Gauss-Legendre rule over the airspeeds of the roll."""

MEAN_FORCE_SPEED = 0.7
"""Share of the fast end's airspeed at which textbooks read the mean force [-]."""

LIFT_OFF = 1.2
"""Airspeed at lift-off over the stall speed [-]; Anderson, common practice."""

FRICTION = {"paved": 0.02, "short grass": 0.05, "long grass": 0.1, "braked": 0.4}
"""Rolling friction by runway [-]: 0.02 and 0.4 from Anderson's examples, grass from memory; model
wheels on grass may take twice that."""


def ground_effect(*, height: Values, span: Values) -> Array:
    """Share of the induced drag that is left near the ground [-].

    (16 h/b)^2 / (1 + (16 h/b)^2), wing height [m] and span [m].

    References
    ----------
    Anderson, Introduction to Flight, section 6.15.
    """
    square = np.square(16.0 * np.asarray(height, dtype=float) / span)
    return np.asarray(square / (1.0 + square))


def roll_force(airframe: Airframe, *, thrust: Values, mass: Values, density: Values,
               airspeed: Values, friction: Values, lift_coefficient: Values,
               induced_share: Values = 1.0) -> Array:
    """Force along the runway [N] at airspeeds [m/s]; negative where it slows down.

    ``lift_coefficient`` at the attitude of the roll; ``induced_share`` from
    :func:`ground_effect`.
    """
    force = 0.5 * np.asarray(density) * np.square(airspeed) * airframe.wing_area
    lift = force * np.asarray(lift_coefficient)
    drag = force * (airframe.minimum_drag_coefficient + induced_share
                    * np.asarray(airframe.induced_factor)
                    * np.square(np.asarray(lift_coefficient) - airframe.lift_of_least_drag))
    return np.asarray(thrust - drag - friction * (np.asarray(mass) * GRAVITY - lift))


def ground_roll(force: Callable[[Array], Array], *, mass: Values, start: Values, end: Values,
                method: str = "integral") -> Array:
    """Distance between two airspeeds on the runway, still air [m].

    Parameters
    ----------
    force : callable
        Force along the runway [N] at airspeeds [m/s] with one more axis at the end
    start, end : array_like
        Airspeeds [m/s]; ``end`` below ``start`` for a landing
    method : str
        ``integral``, or ``mean force``: the textbook's constant force, read at 0.7 of the faster
        airspeed

    Returns
    -------
    array
        NaN where the force is not of the sign that leads from ``start`` to ``end``.
    """
    first, last = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    middle, reach = 0.5 * (first + last), 0.5 * (last - first)
    if method == "mean force":
        push = force(MEAN_FORCE_SPEED * np.maximum(first, last)[..., None])[..., 0]
        distance = 0.5 * mass * (last**2 - first**2) / push
    elif method == "integral":
        speed = middle[..., None] + reach[..., None] * NODES
        push = force(speed)
        with np.errstate(divide="ignore", invalid="ignore"):
            distance = mass * reach * np.sum(WEIGHTS * speed / push, axis=-1)
        same = np.all(np.sign(push) == np.sign(last - first)[..., None], axis=-1)
        distance = np.where(same, distance, np.nan)
    else:
        raise ValueError(f"unknown method {method!r}: expected integral or mean force")
    return np.where(distance >= 0.0, distance, np.nan)


def take_off_run(thrust: Callable[[Array], Array], airframe: Airframe, *, mass: float,
                 density: float, friction: float, lift_coefficient: float,
                 induced_share: float = 1.0, method: str = "integral") -> tuple[float, float]:
    """Distance rolled to lift-off [m], and the airspeed there [m/s]: 1.2 times the stall speed.

    ``thrust`` is the installed thrust [N] at airspeeds [m/s]; NaN where it cannot get there.
    """
    speed = LIFT_OFF * float(stall_speed(airframe, mass=mass, density=density))

    def force(airspeed: Array) -> Array:
        return roll_force(airframe, thrust=thrust(airspeed), mass=mass, density=density,
                          airspeed=airspeed, friction=friction,
                          lift_coefficient=lift_coefficient, induced_share=induced_share)

    return float(ground_roll(force, mass=mass, start=0.0, end=speed, method=method)), speed
