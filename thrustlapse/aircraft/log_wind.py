"""Steady wind from a flight log: what airspeed, ground speed and directions say together.

Over the ground an aircraft moves with the sum of its velocity through the air and the wind,

    ground velocity = k V (sin heading, cos heading) + (east, north)

``k`` being what the airspeed sensor's reading has to be multiplied by. Circles, or legs in several
directions, hold all three apart; one direction does not. Energy in the air does not change with a
steady wind, so the wind itself moves neither thrust nor drag, but ``k`` does, by its square and
more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values

SCALE_PRIOR = 0.05
"""Standard deviation of an airspeed sensor's factor before it is compared with anything [-];
common practice for a small pitot tube beside a body, no source."""

HEADING_DEVIATION = 0.1
"""Standard deviation of a logged heading [rad]: a magnetic compass beside motor leads; common
practice, no source. Sideslip is part of it."""

TRACK_DEVIATION = 0.03
"""Standard deviation of a logged track [rad], by satellite at more than a few metres a second;
common practice, no source."""

GROUND_DEVIATION = 0.3
"""Standard deviation of a ground speed by satellite where none is stated [m/s]; common practice,
no source."""

TOLD = 1.0
"""Standard deviation of the wind in its least known direction below which it counts as known
[m/s]."""

LEAST = 8
"""Readings with a ground speed and a direction that are needed for two components and a factor."""


@dataclass(frozen=True, kw_only=True)
class Wind:
    """A steady wind and the airspeed sensor's factor.

    ``east`` and ``north`` [m/s] are where the air moves to, ``scale`` [-] multiplies the logged
    airspeed; ``covariance`` of the three. ``known`` whether the wind is told; ``note`` in words.
    Without ground speeds and directions wind is NaN and the factor 1 with its prior.
    """

    east: float
    north: float
    scale: float
    covariance: Array
    known: bool
    note: str

    @property
    def speed(self) -> float:
        """How fast the air moves [m/s]."""
        return float(np.hypot(self.east, self.north))

    @property
    def blows_from(self) -> float:
        """Direction it comes from, clockwise from north [rad]."""
        return float(np.arctan2(-self.east, -self.north) % (2.0 * np.pi))

    @property
    def deviation(self) -> float:
        """Standard deviation of the wind in its least known direction [m/s]."""
        return float(np.sqrt(np.linalg.eigvalsh(self.covariance[:2, :2])[-1]))

    @property
    def scale_deviation(self) -> float:
        """Standard deviation of the factor [-]."""
        return float(np.sqrt(self.covariance[2, 2]))


def steady_wind(*, airspeed: Array, airspeed_deviation: Values, ground_speed: Array | None,
                track: Array | None, heading: Array | None, climb_rate: Values = 0.0,
                ground_deviation: Values = GROUND_DEVIATION) -> Wind:
    """Steady wind of a log, and the factor of its airspeed sensor.

    Parameters
    ----------
    airspeed, ground_speed : array
        [m/s], shape (n,); a reading that is missing is NaN
    track, heading : array, optional
        Direction of motion over the ground, and of the nose, clockwise from north [rad]
    climb_rate : array-like
        Of which the airspeed has a part that does not show over the ground [m/s]
    airspeed_deviation, ground_deviation : array-like
        Standard deviations of a reading [m/s]

    Notes
    -----
    Nonlinear least squares of the speeds. With a track, the length of ground velocity less wind is
    k V; with a heading, the length of air velocity plus wind is the ground speed; an error of the
    direction counts by the wind across it. A reading with both counts by its track. The covariance
    is widened where the readings scatter more than stated (Birge's factor).
    """
    prior = np.diag([np.inf, np.inf, SCALE_PRIOR**2])

    def untold(note: str) -> Wind:
        return Wind(east=np.nan, north=np.nan, scale=1.0, covariance=prior, known=False, note=note)

    if ground_speed is None:
        return untold("the log has no ground speed, so it says nothing of the wind; a steady wind "
                      "changes neither factor if the airspeed is that through the air")
    if track is None and heading is None:
        return untold("the log has a ground speed but neither track nor heading: without "
                      "directions the wind cannot be told")
    none = np.full_like(airspeed, np.nan)
    along = none if track is None else np.asarray(track, dtype=float)
    nose = none if heading is None else np.asarray(heading, dtype=float)
    by_track = np.isfinite(along)
    direction = np.where(by_track, along, nose)
    use = np.isfinite(ground_speed) & np.isfinite(airspeed) & np.isfinite(direction)
    if np.count_nonzero(use) < LEAST:
        return untold(f"fewer than {LEAST} readings have a ground speed and a direction: too few "
                      "to tell the wind")
    rise = np.broadcast_to(climb_rate, airspeed.shape)
    speed = np.sqrt(np.maximum(airspeed**2 - rise**2, 0.0))[use]
    ground, by_track = ground_speed[use], by_track[use]
    unit = np.stack([np.sin(direction[use]), np.cos(direction[use])])
    air_error = np.broadcast_to(airspeed_deviation, airspeed.shape)[use]
    ground_error = np.broadcast_to(ground_deviation, airspeed.shape)[use]

    def residual(found: Array, across: Array) -> Array:
        wind, scale = found[:2, None], found[2]
        through = ground * unit - wind
        over = scale * speed * unit + wind
        apart = np.where(by_track, scale * speed - np.hypot(*through), ground - np.hypot(*over))
        deviation = np.sqrt(air_error**2 + ground_error**2 + across**2)
        return np.append(apart / deviation, (scale - 1.0) / SCALE_PRIOR)

    return _solved(residual, unit, by_track, int(use.sum()))


def _solved(residual: Callable[[Array, Array], Array], unit: Array, by_track: Array,
            count: int) -> Wind:
    """Fit, once more with what an error of the heading does across the wind that was found."""
    from scipy.optimize import least_squares

    across, start = np.zeros(count), np.array([0.0, 0.0, 1.0])
    for _ in range(2):
        found = least_squares(residual, start, args=(across,), method="lm")
        start = found.x
        cross = np.abs(unit[0] * start[1] - unit[1] * start[0])
        across = np.where(by_track, TRACK_DEVIATION, HEADING_DEVIATION) * cross
    scatter = float(np.sqrt(np.sum(found.fun[:-1] ** 2) / (count - 3)))
    normal = found.jac.T @ found.jac
    values, vectors = np.linalg.eigh(normal)
    # a direction of which nothing is known keeps what rounding leaves it
    values = np.maximum(values, np.finfo(float).eps * values[-1])
    covariance = np.asarray((vectors / values) @ vectors.T) * max(1.0, scatter) ** 2
    wind = Wind(east=float(start[0]), north=float(start[1]), scale=float(start[2]),
                covariance=covariance, known=False, note="")
    known = wind.deviation < TOLD
    note = (f"wind {wind.speed:.1f} ± {wind.deviation:.1f} m/s from "
            f"{np.degrees(wind.blows_from):.0f}°; the airspeed sensor's readings times "
            f"{wind.scale:.3f} ± {wind.scale_deviation:.3f}" if known else
            "the directions flown are too few to tell the wind: fly a full circle, or legs in "
            "three directions")
    return Wind(east=wind.east, north=wind.north, scale=wind.scale, covariance=covariance,
                known=bool(known), note=note)
