"""Climb, ceilings, glide, least power and least thrust.

Everything takes a thrust law: any callable ``thrust(airspeed, altitude) -> N`` that broadcasts.
:func:`thrust_law` makes one of a candidate, so that a textbook's constant thrust and a matched
machine go through the same functions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY, Site
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.aircraft.top_speed import HIGHEST_MACH
from thrustlapse.arrays import Array, Values
from thrustlapse.elementwise import crossings

SERVICE_RATES = {"0.5 m/s": 0.5, "100 ft/min": 100.0 * 0.3048 / 60.0}
"""Rates of climb that define a service ceiling, by name [m/s]; common practice."""

FIRST_POINTS, SEARCH_POINTS, SEARCH_ROUNDS = 41, 9, 5
"""Airspeeds in the first round of a search for a best speed, in each later one, and later rounds;
each of those narrows it fourfold."""

CEILING_POINTS, CEILING_PIECES, CEILING_ROUNDS = 25, 6, 3
"""Altitudes first looked at, and how the cell that holds a ceiling is divided."""

PATH_STEPS = 8
"""Newton steps for the path angle; they converge quadratically from level flight."""


class ThrustLaw(Protocol):
    """Installed thrust [N] at airspeeds [m/s] and altitudes [m] that broadcast."""

    def __call__(self, airspeed: Array, altitude: Array) -> Array: ...


@dataclass(frozen=True, kw_only=True)
class Climb:
    """Steady climb at an airspeed: rate [m/s], path angle [rad], airspeed [m/s]."""

    airspeed: Array
    rate: Array
    angle: Array


@dataclass(frozen=True, kw_only=True)
class Ceiling:
    """Altitudes above mean sea level at which the best rate of climb falls to zero and to a rate.

    NaN where the search range holds none; ``reason`` says so. Altitudes in m, rate in m/s.
    """

    absolute: float
    service: float
    service_rate: float
    reason: str


def path_sine(airframe: Airframe, *, thrust: Values, mass: Values, density: Values,
              airspeed: Values, speed_of_sound: Values, inertia: Values = 0.0) -> Array:
    """Sine of the path angle of steady flight along a straight line [-].

    Lift carries W cos(angle) only, so drag depends on the angle: W sin = T - D(cos). NaN where no
    steady straight line exists: thrust exceeds drag and weight, or drag thrust and weight.

    Parameters
    ----------
    inertia : array_like
        V/g dV/dh of an airspeed that changes with height [-]; 0 at constant true airspeed
    """
    weight = np.asarray(mass, dtype=float) * GRAVITY
    level = level_drag(airframe, mass=mass, density=density, airspeed=airspeed,
                       speed_of_sound=speed_of_sound)
    lift, offset = level.lift_coefficient, np.asarray(airframe.lift_of_least_drag)
    scale = (0.5 * np.asarray(density) * np.square(airspeed) * airframe.wing_area
             * airframe.induced_factor)
    fixed = np.asarray(thrust) - level.parasite - level.compressibility
    sine = np.zeros(np.broadcast_shapes(np.shape(fixed), np.shape(weight), np.shape(inertia)))
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(PATH_STEPS):
            cosine = np.sqrt(1.0 - sine * sine)
            above = lift * cosine - offset
            miss = weight * (1.0 + inertia) * sine - fixed + scale * above**2
            slope = weight * (1.0 + inertia) - 2.0 * scale * above * lift * sine / cosine
            sine = sine - miss / slope
    return np.where(np.abs(sine) <= 1.0, sine, np.nan)


def climb(airframe: Airframe, *, thrust: Values, mass: Values, density: Values, airspeed: Values,
          speed_of_sound: Values, small_angle: bool = False) -> Climb:
    """Steady climb (or descent) at airspeeds, elementwise.

    Parameters
    ----------
    thrust : array_like
        Installed thrust [N], along the path
    small_angle : bool
        The textbook's excess power over weight with the drag of level flight; else exact

    Returns
    -------
    Climb
        Negative rate where thrust is short of drag; NaN below the stall, and where thrust exceeds
        drag and weight.
    """
    v = np.asarray(airspeed, dtype=float)
    if small_angle:
        drag = level_drag(airframe, mass=mass, density=density, airspeed=v,
                          speed_of_sound=speed_of_sound)
        sine = np.asarray((thrust - drag.total) / (np.asarray(mass) * GRAVITY))
    else:
        sine = path_sine(airframe, thrust=thrust, mass=mass, density=density, airspeed=v,
                         speed_of_sound=speed_of_sound)
    flying = v >= stall_speed(airframe, mass=mass, density=density) * (1.0 - 1e-12)
    sine = np.where(flying, sine, np.nan)
    with np.errstate(invalid="ignore"):
        return Climb(airspeed=np.broadcast_to(v, sine.shape), rate=np.asarray(v * sine),
                     angle=np.asarray(np.arcsin(np.where(np.abs(sine) <= 1.0, sine, np.nan))))


def vertical_speed(airframe: Airframe, *, thrust: Callable[[Array], Array], mass: float,
                   density: float, speed_of_sound: float, lowest: float, highest: float) -> float:
    """Airspeed of steady flight straight up [m/s], where thrust less drag without lift is weight.

    Below it no steady line exists that is not curved upward, above it there are climbs again. NaN
    where thrust at ``lowest`` does not carry the weight, or still does at ``highest``; of several
    the highest.
    """
    def spare(airspeed: Array) -> Array:
        drag = level_drag(airframe, mass=mass, density=density, airspeed=airspeed,
                          speed_of_sound=speed_of_sound)
        bent = (0.5 * density * np.square(airspeed) * airframe.wing_area * airframe.induced_factor
                * np.square(airframe.lift_of_least_drag))
        return np.asarray(thrust(airspeed) - drag.parasite - drag.compressibility - bent
                          - mass * GRAVITY)

    grid = np.linspace(lowest, highest, FIRST_POINTS)
    roots, rising = crossings(spare, grid, values=spare(grid))
    falling = roots[~rising]
    return float(falling[-1]) if falling.size else float("nan")


def best_climb(thrust: ThrustLaw, airframe: Airframe, *, mass: float, site: Site,
               altitude: Values, highest: Values, small_angle: bool = False,
               steepest: bool = False) -> Climb:
    """Fastest (or steepest) steady climb at altitudes [m], airspeeds from the stall to ``highest``.

    Returns
    -------
    Climb
        In the shape of ``altitude``; NaN where nothing is known at any airspeed.
    """
    height = np.asarray(altitude, dtype=float)
    air = site.air(height)
    density, sound = air.density[..., None], air.speed_of_sound[..., None]

    def measure(speed: Array) -> Array:
        flown = climb(airframe, thrust=thrust(speed, height[..., None]), mass=mass,
                      density=density, airspeed=speed, speed_of_sound=sound,
                      small_angle=small_angle)
        return flown.angle if steepest else flown.rate

    slowest = stall_speed(airframe, mass=mass, density=air.density)
    speed = greatest(measure, slowest, np.broadcast_to(highest, height.shape))
    return climb(airframe, thrust=thrust(speed, height), mass=mass, density=air.density,
                 airspeed=speed, speed_of_sound=air.speed_of_sound, small_angle=small_angle)


def greatest(measure: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Argument in [low, high] at which a measure is greatest, elementwise.

    ``measure`` takes one more axis at the end. A fixed number of calls: each lays a grid over the
    two cells beside the best point of the last. NaN where the measure is NaN everywhere.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    best = low
    for points in (FIRST_POINTS, *(SEARCH_POINTS,) * SEARCH_ROUNDS):
        share = np.linspace(0.0, 1.0, points)
        grid = low[..., None] + share * (high - low)[..., None]
        values = measure(grid)
        known = np.isfinite(values).any(axis=-1)
        place = np.argmax(np.where(np.isfinite(values), values, -np.inf), axis=-1)[..., None]
        best = np.where(known, np.take_along_axis(grid, place, axis=-1)[..., 0], np.nan)
        low = np.take_along_axis(grid, np.maximum(place - 1, 0), axis=-1)[..., 0]
        high = np.take_along_axis(grid, np.minimum(place + 1, points - 1), axis=-1)[..., 0]
    return best


def ceilings(thrust: ThrustLaw, airframe: Airframe, *, mass: float, site: Site, highest: float,
             service: str = "0.5 m/s", ceiling_limit: float = 20_000.0,
             small_angle: bool = False) -> Ceiling:
    """Absolute and service ceiling, looked for from the site up to ``ceiling_limit`` [m].

    Parameters
    ----------
    highest : float
        Highest airspeed looked at, at the site [m/s]; above, that of equal dynamic pressure, and
        never beyond :data:`HIGHEST_MACH`
    service : str
        Rate that defines the service ceiling, a name of :data:`SERVICE_RATES`
    """
    rate = SERVICE_RATES[service]
    grid = np.linspace(site.altitude, ceiling_limit, CEILING_POINTS)

    def spare(altitude: Array) -> Array:
        air = site.air(altitude)
        fastest = np.minimum(highest * np.sqrt(site.air().density / air.density),
                             np.maximum(HIGHEST_MACH * air.speed_of_sound, highest))
        return best_climb(thrust, airframe, mass=mass, site=site, altitude=altitude,
                          highest=fastest, small_angle=small_angle).rate

    sampled = spare(grid)
    found = []
    for wanted in (0.0, rate):
        roots, rising = crossings(lambda h, w=wanted: spare(h) - w, grid,  # type: ignore[misc]
                                  values=sampled - wanted, rounds=CEILING_ROUNDS,
                                  pieces=CEILING_PIECES)
        falling = roots[~rising]
        found.append(float(falling[0]) if falling.size else float("nan"))
    if not sampled[0] > 0.0:
        reason = f"it cannot climb at {site.altitude:.0f} m"
    elif np.isnan(found[0]):
        reason = f"it still climbs at the highest altitude known, below {ceiling_limit:.0f} m"
    else:
        reason = "the best rate of climb falls to zero there"
    return Ceiling(absolute=found[0], service=found[1], service_rate=rate, reason=reason)


# Without a thrust law ------------------------------------------------------------------------


def best_lift_coefficient(airframe: Airframe, *, exponent: Values) -> Array:
    """Lift coefficient at which CL^n / CD is greatest [-], at most CLmax.

    n = 1: best glide, least thrust, longest endurance of a jet. n = 3/2: least power and sink.
    n = 1/2: least drag over speed, longest range of a jet. Closed form for the offset parabola.
    """
    n, offset = np.asarray(exponent, dtype=float), np.asarray(airframe.lift_of_least_drag)
    centred = (np.asarray(airframe.minimum_drag_coefficient) / airframe.induced_factor
               + offset**2)
    shift = (1.0 - n) * offset
    lift = (shift + np.sqrt(shift**2 + n * (2.0 - n) * centred)) / (2.0 - n)
    return np.asarray(np.minimum(lift, airframe.greatest_lift))


def drag_coefficient(airframe: Airframe, *, lift_coefficient: Values) -> Array:
    """Drag coefficient on the parabola, no compressibility [-]."""
    return np.asarray(airframe.minimum_drag_coefficient + np.asarray(airframe.induced_factor)
                      * np.square(np.asarray(lift_coefficient) - airframe.lift_of_least_drag))


def lift_speed(airframe: Airframe, *, mass: Values, density: Values, lift_coefficient: Values,
               angle: Values = 0.0) -> Array:
    """Airspeed at a lift coefficient along a path of an angle [rad] [m/s]."""
    load = np.asarray(mass) * GRAVITY * np.cos(angle)
    return np.asarray(np.sqrt(2.0 * load / (np.asarray(density) * airframe.wing_area
                                            * np.asarray(lift_coefficient))))


@dataclass(frozen=True, kw_only=True)
class Glide:
    """Steady glide: airspeed along the path and sink [m/s], angle below the horizon [rad]."""

    airspeed: Array
    sink: Array
    angle: Array
    glide_ratio: Array


def glide(airframe: Airframe, *, mass: Values, density: Values, lift_coefficient: Values,
          extra_drag_area: Values = 0.0) -> Glide:
    """Glide at constant lift coefficient [-], motor cut, exact at any angle.

    ``extra_drag_area`` [m^2] is what the candidate's pods and standing rotors add.
    """
    lift = np.asarray(lift_coefficient, dtype=float)
    cost = drag_coefficient(airframe, lift_coefficient=lift) + (
        np.asarray(extra_drag_area) / airframe.wing_area)
    angle = np.arctan2(cost, lift)
    speed = lift_speed(airframe, mass=mass, density=density, lift_coefficient=lift, angle=angle)
    return Glide(airspeed=speed, sink=speed * np.sin(angle), angle=angle,
                 glide_ratio=np.asarray(lift / cost))


@dataclass(frozen=True, kw_only=True)
class LeastToFly:
    """Least thrust [N] and least thrust power [W] of level flight, with their airspeeds [m/s]."""

    thrust: Array
    thrust_speed: Array
    power: Array
    power_speed: Array


def least_to_fly(airframe: Airframe, *, mass: Values, density: Values) -> LeastToFly:
    """Least thrust and least thrust power that hold height, no compressibility."""
    weight = np.asarray(mass) * GRAVITY
    for_thrust = best_lift_coefficient(airframe, exponent=1.0)
    for_power = best_lift_coefficient(airframe, exponent=1.5)
    speeds = [lift_speed(airframe, mass=mass, density=density, lift_coefficient=lift)
              for lift in (for_thrust, for_power)]
    drags = [weight * drag_coefficient(airframe, lift_coefficient=lift) / lift
             for lift in (for_thrust, for_power)]
    return LeastToFly(thrust=np.asarray(drags[0]), thrust_speed=speeds[0],
                      power=np.asarray(drags[1] * speeds[1]), power_speed=speeds[1])
