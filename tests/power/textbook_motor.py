"""A motor's constants from two readings, and its best current, as textbooks have them."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.power.motor import ConstantsMotor


def constants_from_bench(*, no_load_voltage: Values, no_load_current: Values,
                         no_load_speed: Values, load_voltage: Values, load_current: Values,
                         load_speed: Values) -> tuple[Array, Array]:
    """Torque constant [N m/A] and resistance [ohm] from a no-load and a loaded reading.

    Voltages in V, currents in A, speeds in rad/s. Two equations V = kt omega + I R, solved.
    """
    w0, w1 = np.asarray(no_load_speed), np.asarray(load_speed)
    i0, i1 = np.asarray(no_load_current), np.asarray(load_current)
    v0, v1 = np.asarray(no_load_voltage), np.asarray(load_voltage)
    determinant = w0 * i1 - w1 * i0
    return np.asarray((v0 * i1 - v1 * i0) / determinant), np.asarray((w0 * v1 - w1 * v0)
                                                                     / determinant)


def best_efficiency_current(motor: ConstantsMotor, *, voltage: Values) -> Array:
    """Current of best efficiency [A] at a terminal voltage [V], constant no-load current."""
    return np.sqrt(np.asarray(motor.no_load_current) * voltage / motor.resistance)
