"""What a flight log says of a candidate on its airframe, and what that does to the top speed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse import __version__
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_log import FlightLog, LogReduction, reduce_log
from thrustlapse.aircraft.level_flight import top_speed
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.operating_point import OperatingPoint

STEP = 0.01
"""Change of a factor by which the slope of the top speed is read [-]."""


@dataclass(frozen=True, kw_only=True)
class LogStudy:
    """A log laid over the prediction of one candidate.

    ``top_speed`` is predicted at the scenario's own supply, ``explained_top_speed`` with the
    factors of the log, slope included, both from launch and NaN where there is none [m/s]: a
    computed speed, whether the log holds a level run or not. ``top_speed_deviation`` follows from
    the factors' covariance alone. ``mass`` in the air [kg].
    """

    name: str
    title: str
    invented: bool
    mass: float
    drag_area: float
    log: FlightLog
    reduction: LogReduction
    top_speed: float
    explained_top_speed: float
    top_speed_deviation: float
    scenario_digest: str
    version: str


def study_log(log: FlightLog, candidate: Candidate, airframe: Airframe, *, title: str = "",
              invented: bool = False, digest: str = "") -> LogStudy:
    """Factors that best explain a log, and the top speed they lead to.

    Raises
    ------
    ValueError
        If the log says nothing of this machine (see
        :func:`~thrustlapse.aircraft.flight_log.reduce_log`).
    """
    mass = float(total_mass(candidate, airframe))
    found = reduce_log(log, candidate, airframe, mass=mass)
    area = float(np.asarray(airframe.minimum_drag_coefficient) * np.asarray(airframe.wing_area))
    factors = np.array([found.thrust_factor, found.drag_factor, found.slope])

    flown: dict[bytes, OperatingPoint] = {}

    def fly(airspeed: Array) -> OperatingPoint:
        # the grid of speeds is the same whatever the factors are
        if airspeed.tobytes() not in flown:
            flown[airspeed.tobytes()] = operate(candidate, airspeed=airspeed)
        return flown[airspeed.tobytes()]

    def fastest(thrust: float, drag: float, slope: float) -> float:
        def factor(airspeed: Array) -> Array:
            return np.asarray(thrust if slope == 0.0 else
                              thrust + slope * (airspeed / found.middle - 1.0))

        return _top_speed(fly, candidate, airframe=airframe, mass=mass, thrust=factor, drag=drag)

    slopes = np.array([
        (fastest(*(factors + step)) - fastest(*(factors - step))) / (2.0 * STEP)
        for step in STEP * np.eye(3)[:3 if found.slope_told else 2]])
    free = slopes.size
    spread = found.joint[:free, :free] * max(1.0, found.scatter) ** 2
    if not np.isfinite(spread[0, 0]):  # flown without power: the thrust is the prediction's own
        slopes, spread = slopes * [0.0, 1.0], np.diag([0.0, spread[1, 1]])
    return LogStudy(
        name=candidate.name, title=title, invented=invented, mass=mass, drag_area=area, log=log,
        reduction=found, top_speed=fastest(1.0, 1.0, 0.0), explained_top_speed=fastest(*factors),
        top_speed_deviation=float(np.sqrt(slopes @ spread @ slopes)), scenario_digest=digest,
        version=__version__)


def _top_speed(fly: Callable[[Array], OperatingPoint], candidate: Candidate, airframe: Airframe,
               mass: float, thrust: Callable[[Array], Array], drag: float) -> float:
    """Level speed reached from launch with scaled net thrust and parasite drag [m/s]."""
    scaled = replace(airframe, minimum_drag_coefficient=drag
                     * np.asarray(airframe.minimum_drag_coefficient))

    def pushed(airspeed: Array) -> Array:
        point = fly(airspeed)
        more = (thrust(airspeed) - 1.0) * candidate.count * point.net_thrust
        return np.asarray(point.installed_thrust + more)

    return top_speed(pushed, scaled, mass=mass, air=candidate.site.air()).top_speed
