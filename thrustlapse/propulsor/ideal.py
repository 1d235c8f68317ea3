"""Momentum-theory bounds and the simple lapse theories a reader can check by hand.

All incompressible; with no loss the unchoked compressible ducted machine obeys the same power
relation exactly. Sources: Rankine and Froude's momentum theory; the ducted pair of thrust and power
is printed in NASA TN D-4142 (1967), figure 11.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values, some
from thrustlapse.elementwise import QUADRATIC_STOP


def jet_speed_from_power(*, power: Values, area: Values, density: Values,
                         airspeed: Values) -> Array:
    """Speed of a loss-free jet of given area that takes a power [m/s].

    Root above the airspeed of P = 0.5 rho A Ve (Ve^2 - V^2).
    """
    square = np.square(airspeed)
    wanted = 2.0 * np.asarray(power) / (np.asarray(density) * area)
    # Ve^2 = V^2 + wanted / Ve, and Ve is at least the cube root of what is wanted
    return _rising_cubic(lambda y: y * (y * y - square) - wanted, lambda y: 3.0 * y * y - square,
                         np.sqrt(square + np.square(np.cbrt(wanted))))


def ducted_thrust(*, power: Values, area: Values, density: Values, airspeed: Values) -> Array:
    """Most net thrust a jet of given area can make from a power [N]."""
    v = np.asarray(airspeed)
    speed = jet_speed_from_power(power=power, area=area, density=density, airspeed=v)
    return np.asarray(density * np.asarray(area) * speed * (speed - v))


def disc_induced_speed(*, power: Values, area: Values, density: Values,
                       airspeed: Values) -> Array:
    """Induced speed at an open actuator disc that takes a power [m/s]: 2 rho A (V+w)^2 w = P."""
    v = np.asarray(airspeed, dtype=float)
    wanted = np.asarray(power) / (2.0 * np.asarray(density) * area)
    return _rising_cubic(lambda w: (v + w) ** 2 * w - wanted,
                         lambda w: (v + w) * (v + 3.0 * w), np.cbrt(wanted))


def disc_thrust(*, power: Values, area: Values, density: Values, airspeed: Values) -> Array:
    """Most thrust an open actuator disc can make from a power [N]."""
    v = np.asarray(airspeed)
    induced = disc_induced_speed(power=power, area=area, density=density, airspeed=v)
    return np.asarray(2.0 * np.asarray(density) * area * (v + induced) * induced)


def jet_speed_from_thrust(*, thrust: Values, area: Values, density: Values,
                          airspeed: Values) -> Array:
    """Speed of a jet of given area that makes a net thrust [m/s]: F = rho A Ve (Ve - V)."""
    v = np.asarray(airspeed)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(0.5 * (v + np.sqrt(v * v + 4.0 * np.asarray(thrust)
                                             / (np.asarray(density) * area))))


def ideal_power_coefficient(*, advance_ratio: Array, thrust_coefficient: Array,
                            exit_area_ratio: float) -> Array:
    """Least power coefficient momentum theory allows for a thrust coefficient above zero [-].

    Open (ratio 0): P = T (V + w) with the disc's induced speed. Ducted: P = T (V + Ve) / 2 with the
    jet that fills the exit.
    """
    j, ct = advance_ratio, np.maximum(thrust_coefficient, 0.0)
    if exit_area_ratio > 0.0:
        jet = jet_speed_from_thrust(thrust=ct, area=0.25 * np.pi * exit_area_ratio, density=1.0,
                                    airspeed=j)
        return np.asarray(ct * 0.5 * (j + jet))
    return np.asarray(ct * 0.5 * (j + np.sqrt(j * j + 8.0 * ct / np.pi)))


def disc_induced_speed_from_thrust(*, thrust: Values, area: Values, density: Values,
                                   airspeed: Values) -> Array:
    """Induced speed at an open disc that makes a thrust [m/s].

    Momentum theory holds down to T = -rho A V^2 / 2, where the stream would stop; NaN below.
    """
    v, load = np.asarray(airspeed), np.asarray(thrust) / (np.asarray(density) * area)
    under = v * v + 2.0 * load
    with np.errstate(invalid="ignore", divide="ignore"):
        root = load / (v + np.sqrt(np.where(under >= 0.0, under, np.nan)))
    return np.where(np.asarray(thrust) == 0.0, 0.0, root)


# Lapse in reduced form: x = V / Ve0, airspeed over the jet's speed at rest ---------------------


def lapse_constant_power(*, speed_ratio: Values) -> Array:
    """T/T0 of a ducted machine at constant jet power [-]: y^3 - x^2 y = 1, T/T0 = y (y - x)."""
    x = np.asarray(speed_ratio)
    y = jet_speed_from_power(power=0.5, area=1.0, density=1.0, airspeed=x)
    return np.asarray(y * (y - x))


def lapse_constant_pressure(*, speed_ratio: Values) -> Array:
    """T/T0 of a ducted machine at constant pressure rise [-]: y^2 = 1 + x^2, T/T0 = y (y - x)."""
    x = np.asarray(speed_ratio)
    y = np.sqrt(1.0 + x * x)
    return np.asarray(y * (y - x))


def lapse_constant_jet_speed(*, speed_ratio: Values) -> Array:
    """T/T0 of a machine whose jet speed and flow stay as at rest [-]: 1 - x."""
    return np.asarray(1.0 - np.asarray(speed_ratio))


def lapse_open_rotor(*, speed_ratio: Values) -> Array:
    """T/T0 of an open rotor at constant power [-]; x on the far-wake speed at rest."""
    far = 2.0 * np.asarray(speed_ratio)
    u = disc_induced_speed(power=2.0, area=1.0, density=1.0, airspeed=far)
    return np.asarray((far + u) * u)


def _rising_cubic(value, slope, start: Array) -> Array:  # type: ignore[no-untyped-def]
    """Root of a cubic that is convex and rising from the root to the start, by Newton's steps."""
    y = np.asarray(start, dtype=float)
    step = np.full(y.shape, np.inf)
    with np.errstate(invalid="ignore", divide="ignore"):
        # it comes down to the root, and stays
        while some(np.abs(step) > QUADRATIC_STOP * np.abs(y)):
            step = value(y) / slope(y)
            if not np.isfinite(step).all():
                step = np.where(np.isfinite(step), step, 0.0)
            y = y - step
    return y
