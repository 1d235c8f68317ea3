"""What it would take: launch speed, number of units, and the airframe that passes an airspeed.

To pass an airspeed the installed thrust must exceed the drag there and at every airspeed on the
way from the launch; each answer is the tightest of those conditions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY, Air
from thrustlapse.aircraft.drag import Airframe, drag_area, level_drag, stall_speed
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.arrays import Array
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.candidate import Candidate, operate

SPEED_POINTS = 161
"""Airspeeds between launch and goal at which thrust is held against drag."""

MOST_UNITS = 12

SpeedLaw = Callable[[Array], Array]
"""Installed thrust [N] at airspeeds [m/s]."""


@dataclass(frozen=True, kw_only=True)
class Passing:
    """Whether an airspeed is passed in level flight from the launch, and what would let it.

    ``spare`` is the least of thrust less drag on the way, ``at`` the airspeed where it is that
    small [N, m/s]. ``drag_area`` and ``airframe_mass`` are the largest with which it passes, all
    else as it is [m^2, kg]; NaN where none does. ``count`` is the least number of units that
    passes, None where none up to ``most_units`` does.
    """

    airspeed: float
    passed: bool
    spare: float
    at: float
    drag_area: float
    drag_area_now: float
    airframe_mass: float
    airframe_mass_now: float
    count: int | None
    count_now: int
    most_units: int


def with_count(candidate: Candidate, count: int, *, shared_mass: float = 0.0) -> Candidate:
    """Same candidate with another number of units on the same pack.

    ``shared_mass`` [kg] is the part of the installed mass that does not grow with the number of
    units, such as the pack; the rest is in proportion.
    """
    each = (np.asarray(candidate.installed_mass) - shared_mass) / candidate.count
    supply = replace(candidate.unit.supply, units=float(count))
    return replace(candidate, count=count, installed_mass=shared_mass + count * each,
                   unit=replace(candidate.unit, supply=supply))


def units_needed(candidate: Candidate, meets: Callable[[Candidate], bool], *,
                 shared_mass: float = 0.0, most_units: int = MOST_UNITS) -> int | None:
    """Least number of units with which a condition is met; None where none up to the most does.

    Counted up from one, because more units are not always better: each brings its mass and drag,
    and shares the pack.
    """
    for count in range(1, most_units + 1):
        if meets(with_count(candidate, count, shared_mass=shared_mass)):
            return count
    return None


def launch_speed_needed(thrust: SpeedLaw, airframe: Airframe, *, mass: float, air: Air,
                        airspeed: float) -> float:
    """Lowest launch speed from which level flight gets to an airspeed [m/s].

    The stall speed, or the highest airspeed below the goal at which drag still exceeds thrust.
    NaN where thrust is short at the goal itself, or the goal is below the stall.
    """
    stall = float(stall_speed(airframe, mass=mass, density=air.density))
    if not airspeed >= stall:
        return float("nan")

    def excess(speed: Array) -> Array:
        return np.asarray(thrust(speed) - level_drag(
            airframe, mass=mass, density=air.density, airspeed=speed,
            speed_of_sound=air.speed_of_sound).total)

    grid = np.linspace(stall, airspeed, SPEED_POINTS)
    values = excess(grid)
    if not np.isfinite(values).all() or values[-1] < 0.0:
        return float("nan")
    roots, rising = crossings(excess, grid)
    up = roots[rising]
    return max(stall, float(up[-1])) if up.size else stall


def passing(candidate: Candidate, airframe: Airframe, *, air: Air, airspeed: float,
            shared_mass: float = 0.0, most_units: int = MOST_UNITS,
            held: Callable[[Candidate], Candidate] | None = None) -> Passing:
    """Whether a candidate's aircraft passes an airspeed [m/s], and what would let it.

    ``shared_mass`` [kg] as in :func:`with_count`. ``held`` puts another number of units on the
    footing again, such as the same power for all of them together.
    """
    def meets(one: Candidate) -> bool:
        one = one if held is None else held(one)
        return bool(np.all(_spare(one, airframe, air, _way(one, airframe, air, airspeed)) > 0.0))

    way = _way(candidate, airframe, air, airspeed)
    spare = _spare(candidate, airframe, air, way)
    place = int(np.argmin(np.where(np.isfinite(spare), spare, -np.inf)))
    passed = bool(np.all(spare > 0.0))
    return Passing(
        airspeed=airspeed, passed=passed, spare=float(spare[place]), at=float(way[place]),
        drag_area=_largest_drag_area(candidate, airframe, air, way),
        drag_area_now=float(drag_area(airframe)),
        airframe_mass=_largest_mass(candidate, airframe, air, airspeed),
        airframe_mass_now=float(np.asarray(airframe.mass)),
        count=units_needed(candidate, meets, shared_mass=shared_mass, most_units=most_units),
        count_now=candidate.count, most_units=most_units)


def _way(candidate: Candidate, airframe: Airframe, air: Air, airspeed: float) -> Array:
    """Airspeeds from the launch (or the stall, if higher: it cannot hold height there) to a goal.

    Launched faster than the goal, only the goal itself counts.
    """
    launch = float(np.asarray(airframe.launch_speed))
    stall = float(stall_speed(airframe, mass=total_mass(candidate, airframe), density=air.density))
    start = min(max(launch, stall), airspeed)
    return np.linspace(start, airspeed, SPEED_POINTS)


def _spare(candidate: Candidate, airframe: Airframe, air: Air, way: Array) -> Array:
    """Thrust less drag [N]; NaN everywhere where the launch is below the stall."""
    mass = total_mass(candidate, airframe)
    drag = level_drag(airframe, mass=mass, density=air.density, airspeed=way,
                      speed_of_sound=air.speed_of_sound).total
    stalled = float(np.asarray(airframe.launch_speed)) < float(
        stall_speed(airframe, mass=mass, density=air.density))
    spare = operate(candidate, airspeed=way, air=air).installed_thrust - drag
    return np.where(stalled, np.nan, spare)


def _largest_drag_area(candidate: Candidate, airframe: Airframe, air: Air, way: Array) -> float:
    """Least over the way of (thrust less the drag that is not parasite) over dynamic pressure."""
    drag = level_drag(airframe, mass=total_mass(candidate, airframe), density=air.density,
                      airspeed=way, speed_of_sound=air.speed_of_sound)
    thrust = operate(candidate, airspeed=way, air=air).installed_thrust
    area = (thrust - drag.induced - drag.compressibility) / (
        0.5 * air.density * way**2)
    least = float(np.min(area))
    return least if least > 0.0 else float("nan")


def _largest_mass(candidate: Candidate, airframe: Airframe, air: Air, airspeed: float) -> float:
    """Largest airframe mass: lift on the way is bounded by the drag left for it, and by stall.

    From q S k (CL - CL0)^2 = T - parasite drag, CL gives the mass that just balances at each
    airspeed of the way; a heavier aircraft is launched no faster, so the whole way from the launch
    counts.
    """
    launch = float(np.asarray(airframe.launch_speed))
    way = np.linspace(min(launch, airspeed), airspeed, SPEED_POINTS)
    parts = level_drag(airframe, mass=0.0, density=air.density, airspeed=way,
                       speed_of_sound=air.speed_of_sound)
    force = 0.5 * air.density * way**2 * np.asarray(airframe.wing_area)
    left = (operate(candidate, airspeed=way, air=air).installed_thrust - parts.parasite
            - parts.compressibility)
    with np.errstate(invalid="ignore"):
        lift = np.asarray(airframe.lift_of_least_drag) + np.sqrt(
            left / (force * airframe.induced_factor))
    lift = np.minimum(lift, airframe.greatest_lift)
    total = float(np.min(force * lift)) / GRAVITY
    mass = total - float(np.asarray(candidate.installed_mass))
    return mass if mass > 0.0 else float("nan")
