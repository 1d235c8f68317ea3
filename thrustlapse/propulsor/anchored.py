"""A ducted unit that meets readings of thrust and electrical power at rest.

With jet area A at rest, T = mdot V and mdot = rho A V: thrust and exit fix jet speed, flow and air
power T V / 2, and the watts the efficiency of the whole. That is met here with the package's own
forward model. What the typical drive and map together are better or worse than the reading is
shared equally between the drive's efficiency and the map's power.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.power.motor import ConstantsMotor, constant_efficiency_motor
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.map_shape import departed
from thrustlapse.rotor.stage_map import NoMap

MOST_STEPS = 60
"""Steps of the root; thrust goes nearly as shaft power to 2/3, so that a few suffice."""

STEP, LEAST_SLOPE = 1.5, 0.02
"""First step over the miss, both of logarithms [-]; least growth of thrust that a step reckons."""

BEST_DRIVE = 0.96
"""Efficiency of motor and controller together that no small drive passes [-] (judgement)."""

MET = 1e-10
"""Relative distance from the reading at which it counts as met."""


def jet_power(*, thrust: Values, exit_area: Values, density: Values) -> Array:
    """Least power of a jet at rest [W] of a thrust [N] from an exit area [m^2] at a density."""
    speed = np.sqrt(np.asarray(thrust) / (np.asarray(density) * np.asarray(exit_area)))
    return np.asarray(0.5 * np.asarray(thrust) * speed)


@dataclass(frozen=True, kw_only=True)
class KnownBy:
    """Readings of one unit at rest: thrust [N], power [W]; ``drive`` is the efficiency of motor and
    controller [-] from which the shares are counted. With ``voltage`` [V] the reading was taken at
    full voltage, and the drive runs so; without it the power is a regulated cap."""

    thrust: Values
    electrical_power: Values
    drive: Values
    voltage: Values | None = None


def anchored(unit: Ducted, *, air: Air, known: KnownBy) -> tuple[Ducted, KnownBy]:
    """Scale drive and map of a unit until it meets its readings at rest.

    Parameters
    ----------
    unit : Ducted
        Its motor and power cap are replaced
    air : Air
        Still air of the reading
    known : KnownBy
        Fields broadcast against the unit's

    Returns
    -------
    tuple
        The unit, and the readings with the drive's efficiency that it took; NaN, and so no valid
        point, for every draw that no machine meets.

    Raises
    ------
    NoMap
        Where none meets them.
    """
    goal, watts = (np.asarray(one, dtype=float) for one in (known.thrust, known.electrical_power))
    drive = np.asarray(known.drive, dtype=float)

    def scaled(change: Array) -> tuple[Ducted, Array]:
        # by its odds, as the map's efficiency is: neither passes one
        odds = drive / (1.0 - drive) * np.exp(0.5 * change / (1.0 - drive))
        efficiency = odds / (1.0 + odds)
        stage = departed(unit.rotor.stage, power=np.exp(-0.5 * change))
        return replace(unit, rotor=replace(unit.rotor, stage=stage), drive=replace(
            unit.drive, power_limit=watts,
            motor=constant_efficiency_motor(efficiency=efficiency))), efficiency

    def miss(change: Array) -> Array:
        made, _ = scaled(change)
        return np.asarray(np.log(operate_ducted(made, air=air, airspeed=0.0).net_thrust / goal))

    with np.errstate(divide="ignore", invalid="ignore"):
        before = np.zeros(np.shape(miss(np.zeros_like(goal))))
        last = miss(before)
        change = before - last * STEP
        for _ in range(MOST_STEPS):
            now = miss(change)
            if np.all(~np.isfinite(now) | (np.abs(now) < MET)):
                break
            slope = np.where(change == before, 1.0 / STEP, (now - last) / (change - before))
            step = now / np.where(slope > LEAST_SLOPE, slope, LEAST_SLOPE)
            before, last = change, now
            change = np.where(np.abs(now) < MET, change, change - np.fmin(np.fmax(step, -1.0), 1.0))
        made, efficiency = scaled(change)
        met = (np.abs(miss(change)) < MET) & (efficiency < BEST_DRIVE)
    if not np.any(met):
        raise NoMap("no machine of this kind meets the readings: their jet leaves too few of the "
                    "watts for the losses of rotor, motor and controller")
    made, efficiency = scaled(np.where(met, change, np.nan))
    if known.voltage is not None:
        speed = operate_ducted(made, air=air, airspeed=0.0).shaft_speed
        made = replace(made, drive=replace(made.drive, power_limit=np.inf, motor=full_voltage_motor(
            efficiency=efficiency, electrical_power=watts, voltage=known.voltage,
            shaft_speed=speed)))
    return made, replace(known, drive=efficiency)


def full_voltage_motor(*, efficiency: Values, electrical_power: Values, voltage: Values,
                       shaft_speed: Values) -> ConstantsMotor:
    """Motor that at a voltage [V] takes a power [W] at a speed [rad/s] with an efficiency [-].

    eta = (1 - R I / V) (1 - I0 / I): windings and idling lose the same share there, which is
    where a motor is best (judgement that it was chosen so).
    """
    root, current = np.sqrt(np.asarray(efficiency)), np.asarray(electrical_power) / voltage
    return ConstantsMotor(torque_constant=np.asarray(voltage) * root / np.asarray(shaft_speed),
                          resistance=voltage / current * (1.0 - root),
                          no_load_current=current * (1.0 - root), no_load_current_slope=0.0)
