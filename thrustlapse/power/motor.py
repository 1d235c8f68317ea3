"""Motors: torque, current and losses.

Two descriptions, chosen by name in a scenario: a direct-current motor by its constants, or an
efficiency against load for someone who knows nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import FIXED, Array, Values


@dataclass(frozen=True, kw_only=True)
class ConstantsMotor:
    """Brushless or brushed direct-current motor, by its constants.

        torque = kt (I - I0(omega)),   V = I R + kt omega,   I0 = no_load_current + slope omega

    Parameters
    ----------
    torque_constant : array_like
        kt = 1 / Kv in SI [N m/A], the same number in [V s/rad]
    resistance : array_like
        Winding resistance between terminals [ohm]
    no_load_current : array_like
        Current that turns the bare motor at vanishing speed [A]
    no_load_current_slope : array_like
        Growth of the no-load current with shaft speed [A s/rad]
    """

    torque_constant: Values
    resistance: Values
    no_load_current: Values = 0.0
    no_load_current_slope: Values = 0.0


@dataclass(frozen=True, kw_only=True)
class EfficiencyMotor:
    """Motor and controller together, as an efficiency against shaft power.

    ``shaft_power`` and ``input_power``, over ``rating`` [W], are points of one rising,
    straight-sided curve from the origin, so that it can be read both ways exactly. ``input_scale``
    stretches the input power; it and the rating may be arrays. The motor gives no more than the
    last point; where it is ``endless``, as with one efficiency and no rating, the last straight
    side goes on. It has no torque line: it only drives, and turned by the air it is a shaft without
    friction.
    """

    shaft_power: Array = field(metadata=FIXED)
    input_power: Array = field(metadata=FIXED)
    rating: Values = 1.0
    input_scale: Values = 1.0
    endless: bool = False


def torque_constant_from_speed_constant(*, speed_constant: Values) -> Array:
    """Torque constant [N m/A] from a speed constant Kv [rad/(s V)]: its reciprocal."""
    return np.asarray(1.0 / np.asarray(speed_constant))


def efficiency_motor(*, load: Array, efficiency: Array,
                     rated_shaft_power: Values) -> EfficiencyMotor:
    """Motor from efficiencies [-] at shares of its rated shaft power [W], which may be an array.

    Below the first load the first efficiency holds; between, input power runs straight from point
    to point; the motor gives no more than at the last load.

    Raises
    ------
    ValueError
        If the input power does not rise with load, so that it cannot be read backwards.
    """
    shaft = np.asarray(load, dtype=float)
    entry = np.concatenate([[0.0], shaft / np.asarray(efficiency, dtype=float)])
    shaft = np.concatenate([[0.0], shaft])
    if np.any(np.diff(shaft) <= 0.0) or np.any(np.diff(entry) <= 0.0):
        raise ValueError("loads and the input power they imply must both rise")
    return EfficiencyMotor(shaft_power=shaft, input_power=entry, rating=rated_shaft_power)


def constant_efficiency_motor(*, efficiency: Values,
                              rated_shaft_power: Values | None = None) -> EfficiencyMotor:
    """Motor of one efficiency [-] at every load, up to its rated shaft power [W] if it has one."""
    return EfficiencyMotor(shaft_power=np.array([0.0, 1.0]), input_power=np.array([0.0, 1.0]),
                           rating=1.0 if rated_shaft_power is None else rated_shaft_power,
                           input_scale=1.0 / np.asarray(efficiency),
                           endless=rated_shaft_power is None)


def no_load_current(motor: ConstantsMotor, *, shaft_speed: Values) -> Array:
    """No-load current [A] at a shaft speed [rad/s]."""
    return np.asarray(motor.no_load_current + motor.no_load_current_slope
                      * np.asarray(shaft_speed))


def motor_current(motor: ConstantsMotor, *, torque: Values, shaft_speed: Values) -> Array:
    """Current [A] that gives a shaft torque [N m] at a shaft speed [rad/s]."""
    return np.asarray(torque / np.asarray(motor.torque_constant)
                      + no_load_current(motor, shaft_speed=shaft_speed))


def input_power(motor: EfficiencyMotor, *, shaft_power: Values) -> Array:
    """Electrical power [W] that gives a shaft power [W].

    Beyond the rating the last side goes on, for a power that is only nearly within it: what a
    motor may give is :func:`shaft_power`'s to say.
    """
    load = np.asarray(shaft_power) / motor.rating
    return np.asarray(_along(motor.shaft_power, motor.input_power, load)
                      * motor.rating * motor.input_scale)


def shaft_power(motor: EfficiencyMotor, *, input_power: Values) -> Array:
    """Shaft power [W] that an electrical power [W] on offer gives, at most the motor's rating."""
    found = _along(motor.input_power, motor.shaft_power,
                   np.asarray(input_power) / motor.rating / motor.input_scale)
    return np.asarray(motor.rating * (
        found if motor.endless else np.minimum(found, motor.shaft_power[-1])))


def greatest_input(motor: EfficiencyMotor) -> Array:
    """Electrical power [W] at the motor's rating; infinite where it has none."""
    return np.asarray(np.inf if motor.endless else
                      motor.input_power[-1] * motor.rating * motor.input_scale)


def _along(x: Array, y: Array, at: Array) -> Array:
    """Straight-sided curve y(x), its last side carried on."""
    slope = (y[-1] - y[-2]) / (x[-1] - x[-2])
    return np.asarray(np.interp(at, x, y) + slope * np.maximum(at - x[-1], 0.0))
