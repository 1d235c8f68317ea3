"""Drag of the airframe: an offset parabola, a compressibility rise, and the stall.

    CD = CDmin + k (CL - CL0)^2 + rise above the drag-rise Mach number

Parasite drag is the part that does not depend on lift, ``f = CDmin S``; what is left is the
lift-dependent drag, which depends on the mass carried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.arrays import Array, Values

RISE_FACTOR = 20.0
"""Factor of the fourth-power drag rise above the critical Mach number [-]; Lock (from memory)."""


@dataclass(frozen=True, kw_only=True)
class Airframe:
    """Airframe without its propulsion.

    Parameters
    ----------
    mass : array_like
        Mass without propulsion and pack [kg]
    wing_area : array_like
        Reference area [m^2]
    minimum_drag_coefficient : array_like
        CDmin on that area [-]
    induced_factor : array_like
        k [-]; for a plain wing 1 / (pi e AR)
    lift_of_least_drag : array_like
        CL0 [-]; 0 for the centred parabola
    greatest_lift : array_like
        CLmax [-]
    launch_speed : array_like
        Airspeed at which it leaves the hand or the rail [m/s]
    drag_rise_mach : array_like
        Mach number at which the compressibility rise sets in [-]
    """

    mass: Values
    wing_area: Values
    minimum_drag_coefficient: Values
    induced_factor: Values
    lift_of_least_drag: Values = 0.0
    greatest_lift: Values
    launch_speed: Values
    drag_rise_mach: Values = 0.7


@dataclass(frozen=True, kw_only=True)
class Drag:
    """Drag in level flight by kind [N]; ``lift_coefficient`` [-]."""

    parasite: Array
    induced: Array
    compressibility: Array
    lift_coefficient: Array

    @property
    def total(self) -> Array:
        """All drag [N]."""
        return np.asarray(self.parasite + self.induced + self.compressibility)


def drag_area(airframe: Airframe) -> Array:
    """Parasite drag area f = CDmin S [m^2]."""
    return np.asarray(airframe.minimum_drag_coefficient * np.asarray(airframe.wing_area))


def induced_factor(*, aspect_ratio: Values, span_efficiency: Values) -> Array:
    """Induced factor k = 1 / (pi e AR) of a wing [-]."""
    return np.asarray(1.0 / (np.pi * np.asarray(span_efficiency) * aspect_ratio))


def level_drag(airframe: Airframe, *, mass: Values, density: Values, airspeed: Values,
               speed_of_sound: Values) -> Drag:
    """Drag in level flight at a total mass [kg], density [kg/m^3] and airspeed above zero [m/s].

    ``induced`` is the lift-dependent part, q S k (CL - CL0)^2. Below the stall speed it is the
    drag the parabola would give, which no real wing has: see :func:`stall_speed`.
    """
    v = np.asarray(airspeed)
    dynamic = 0.5 * np.asarray(density) * v * v
    force = dynamic * airframe.wing_area
    with np.errstate(divide="ignore", invalid="ignore"):
        lift = np.asarray(mass) * GRAVITY / force
        induced = force * airframe.induced_factor * np.square(lift - airframe.lift_of_least_drag)
    beyond = np.maximum(v / np.asarray(speed_of_sound) - airframe.drag_rise_mach, 0.0)
    return Drag(parasite=np.asarray(force * airframe.minimum_drag_coefficient),
                induced=np.asarray(induced),
                compressibility=np.asarray(force * RISE_FACTOR * beyond**4),
                lift_coefficient=np.asarray(lift))


def stall_speed(airframe: Airframe, *, mass: Values, density: Values) -> Array:
    """Lowest speed of level flight at a total mass [kg] and density [kg/m^3], power off [m/s]."""
    return np.asarray(np.sqrt(2.0 * np.asarray(mass) * GRAVITY
                              / (np.asarray(density) * airframe.wing_area
                                 * airframe.greatest_lift)))


def heaviest(airframe: Airframe, *, induced: Values, density: Values,
             airspeed: Values) -> Array:
    """Largest total mass whose lift-dependent drag in level flight is at most this [kg].

    From ``induced`` = q S k (CL - CL0)^2 [N], and never more than the greatest lift carries; NaN
    for a drag below zero, which no mass has.
    """
    force = 0.5 * np.asarray(density) * np.square(airspeed) * airframe.wing_area
    with np.errstate(invalid="ignore", divide="ignore"):
        lift = airframe.lift_of_least_drag + np.sqrt(induced / (force * airframe.induced_factor))
        return np.asarray(np.minimum(lift, airframe.greatest_lift) * force / GRAVITY)
