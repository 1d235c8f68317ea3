"""A ducted machine with its inlet or its exit shut: two different states.

With the exit shut the rotor churns air of the ambient density and holds its shut-off head against
it. Behind a shut inlet the air thins until the rotor's pressure ratio just restores the ambient at
its outlet, so the load is less and the speed higher. Neither is steady in temperature: both are
taken here before the air has warmed up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.gas import EXPONENT, GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import Array, BoolArray, IntArray, Values
from thrustlapse.power.drive import electrical_state, shaft_speed
from thrustlapse.propulsor.ducted_unit import Ducted

STEPS = 60
"""Turns of the contraction; each leaves about a tenth of the last error."""


@dataclass(frozen=True, kw_only=True)
class Blocked:
    """A shut machine: rad/s, Pa, W and A of all units; gauge pressures."""

    shaft_speed: Array
    drive_limit_code: IntArray
    static_pressure: Array
    suction: Array
    electrical_power: Array
    current: Array


def operate_blocked(machine: Ducted, *, pressure: Values, temperature: Values,
                    inlet: BoolArray) -> Blocked:
    """Balance a shut machine at rest; everything broadcasts.

    Parameters
    ----------
    pressure, temperature : array_like
        Ambient air [Pa], [K]
    inlet : array of bool
        True where the inlet is shut, False where the exit is
    """
    stage, diameter = machine.rotor.stage, np.asarray(machine.rotor.tip_diameter)
    still = np.zeros(())
    head, cost = stage.head(still), stage.power(still)
    p0, t0 = np.asarray(pressure, dtype=float), np.asarray(temperature, dtype=float)
    face = p0
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        for _ in range(STEPS):
            load = cost * face / (GAS_CONSTANT * t0) * diameter**5 / 8.0
            speed, limit = shaft_speed(machine.drive, machine.supply, torque_coefficient=load)
            ratio = (1.0 + head * (0.5 * speed * diameter) ** 2 / (SPECIFIC_HEAT * t0)) ** EXPONENT
            thinner = np.where(inlet, p0 / ratio, p0)
            done = np.all(np.abs(thinner - face) <= 1e-12 * p0)
            face = thinner
            if done:
                break
        load = cost * face / (GAS_CONSTANT * t0) * diameter**5 / 8.0
        electrical = electrical_state(machine.drive, machine.supply, shaft_speed=speed,
                                      torque=load * speed * speed, limit=limit)
    units = np.asarray(machine.supply.units)
    return Blocked(shaft_speed=speed, drive_limit_code=limit,
                   static_pressure=np.where(inlet, 0.0, p0 * (ratio - 1.0)), suction=p0 - face,
                   electrical_power=np.asarray(units * electrical.terminal_power),
                   current=np.asarray(units * electrical.supply_current))
