"""A ducted unit that meets readings of thrust and electrical power at rest.

With jet area A at rest, T = mdot V and mdot = rho A V: thrust and exit fix jet speed, flow and air
power T V / 2, and the watts the efficiency of the whole. That is met here with the package's own
forward model. What the typical drive and map together are better or worse than the reading is
shared equally, as a factor, between the drive's efficiency and the map's power.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.power.motor import constant_efficiency_motor
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.rotor.stage_map import CoefficientMap, NoMap

MOST_STEPS = 60
"""Steps of the root; thrust goes nearly as shaft power to 2/3, so that a few suffice."""

MET = 1e-10
"""Relative distance from the reading at which it counts as met."""


def jet_power(*, thrust: Values, exit_area: Values, density: Values) -> Array:
    """Least power of a jet at rest [W] of a thrust [N] from an exit area [m^2] at a density."""
    speed = np.sqrt(np.asarray(thrust) / (np.asarray(density) * np.asarray(exit_area)))
    return np.asarray(0.5 * np.asarray(thrust) * speed)


@dataclass(frozen=True, kw_only=True)
class Anchored:
    """The unit that meets the readings, and the drive's efficiency [-] that it took."""

    unit: Ducted
    drive_efficiency: Array


def anchored(unit: Ducted, *, air: Air, thrust: Values, electrical_power: Values,
             typical_drive: float) -> Anchored:
    """Scale drive and map of a unit until it meets its readings at rest.

    Parameters
    ----------
    unit : Ducted
        With a map by coefficients; its motor and power cap are replaced
    air : Air
        Still air of the reading
    thrust, electrical_power : array_like
        Readings of one unit [N], [W]
    typical_drive : float
        Efficiency of motor and controller where the map is the typical one [-]

    Raises
    ------
    NoMap
        Where no machine of this exit meets them.
    """
    goal, watts = np.asarray(thrust, dtype=float), np.asarray(electrical_power, dtype=float)
    stage = unit.rotor.stage
    assert isinstance(stage, CoefficientMap)

    def scaled(factor: Array) -> Anchored:
        share = np.sqrt(factor)
        efficiency = typical_drive * share
        rotor = replace(unit.rotor, stage=replace(
            stage, work_shutoff=stage.work_shutoff / share, work_slope=stage.work_slope / share,
            shutoff_power=stage.shutoff_power / share))
        drive = replace(unit.drive, power_limit=watts,
                        motor=constant_efficiency_motor(efficiency=efficiency))
        return Anchored(unit=replace(unit, rotor=rotor, drive=drive), drive_efficiency=efficiency)

    factor = np.ones(np.shape(goal * watts))
    for _ in range(MOST_STEPS):
        made = scaled(factor)
        found = operate_ducted(made.unit, air=air, airspeed=0.0).net_thrust
        if not np.all(np.isfinite(found) & (found > 0.0)):
            break
        if np.all(np.abs(found / goal - 1.0) < MET):
            if np.any(made.drive_efficiency >= 1.0):
                raise NoMap("the readings ask for a motor and controller of "
                            f"{100 * float(np.max(made.drive_efficiency)):.0f} %: more thrust than "
                            "a machine of this kind makes of these watts through this exit")
            return made
        factor = factor * np.power(goal / found, 1.5)
    raise NoMap("no machine of this kind meets the readings: their jet leaves too few of the watts "
                "for the losses of rotor, motor and controller")
