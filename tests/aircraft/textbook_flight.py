"""Closed forms and rivals of textbooks on flight, which the package does not take itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY, Air
from thrustlapse.aircraft.climb import drag_coefficient, lift_speed
from thrustlapse.aircraft.discharge import RunningPack, ThermalBody
from thrustlapse.aircraft.drag import Airframe, stall_speed
from thrustlapse.aircraft.endurance import BestEndurance, Endurance, best_of, level_endurance
from thrustlapse.aircraft.runway import ground_roll, roll_force
from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.candidate import Candidate


def steady_temperature(body: ThermalBody, *, heat: Values, ambient: Values) -> Array:
    """Temperature a body settles at [K] with a constant heat [W] in air of a temperature [K]."""
    return np.asarray(ambient + np.asarray(heat) / body.conductance)


def peukert_time(*, power: Values, voltage: Values, capacity: Values, exponent: Values = 1.3,
                 rated_time: Values = 3600.0) -> Array:
    """Time a battery of Peukert's exponent gives a power [s].

    t = Rt (C V / (P Rt))^n with capacity C [A s] rated at a discharge time Rt [s]. Only a check on
    the real pack here: lithium packs lose range to their resistance, which :func:`level_endurance`
    of ``endurance.py`` computes.

    References
    ----------
    Traub, J. Aircraft 48(2) (2011) 703-707.
    """
    share = np.asarray(capacity, dtype=float) * voltage / (np.asarray(power) * rated_time)
    return np.asarray(rated_time * share**exponent)


def least_drag(airframe: Airframe, *, mass: Values, density: Values) -> tuple[Array, Array]:
    """Least drag in level flight [N] and the airspeed at which it holds [m/s], no drag rise.

    For the offset parabola CL at least drag is sqrt(CL0^2 + CDmin / k).
    """
    lift = np.sqrt(np.square(airframe.lift_of_least_drag)
                   + np.asarray(airframe.minimum_drag_coefficient) / airframe.induced_factor)
    coefficient = (airframe.minimum_drag_coefficient + np.asarray(airframe.induced_factor)
                   * np.square(lift - airframe.lift_of_least_drag))
    weight = np.asarray(mass) * GRAVITY
    speed = np.sqrt(2.0 * weight / (np.asarray(density) * airframe.wing_area * lift))
    return np.asarray(weight * coefficient / lift), np.asarray(speed)


TOUCH_DOWN = 1.3
"""Airspeed at touch-down over the stall speed [-]."""


def landing_run(airframe: Airframe, *, mass: float, density: float, friction: float,
                lift_coefficient: float = 0.0, thrust: float = 0.0,
                method: str = "integral") -> tuple[float, float]:
    """Distance rolled from touch-down to rest [m], and the airspeed there [m/s]: 1.3 times stall.

    ``lift_coefficient`` of the roll, 0 with the nose or the spoilers down; induced drag is left
    out then.
    """
    speed = TOUCH_DOWN * float(stall_speed(airframe, mass=mass, density=density))

    def force(airspeed: Array) -> Array:
        return roll_force(airframe, thrust=thrust, mass=mass, density=density,
                          airspeed=airspeed, friction=friction,
                          lift_coefficient=lift_coefficient,
                          induced_share=0.0 if lift_coefficient == 0.0 else 1.0)

    return float(ground_roll(force, mass=mass, start=speed, end=0.0, method=method)), speed


def best_endurance(candidate: Candidate, airframe: Airframe, pack: RunningPack, *, mass: float,
                   air: Air, highest: float) -> BestEndurance:
    """Airspeeds of longest endurance and of greatest range between the stall and ``highest``."""
    def fly(speed: Array) -> Endurance:
        return level_endurance(candidate, airframe, pack, mass=mass, air=air, airspeed=speed)

    slowest = float(stall_speed(airframe, mass=mass, density=air.density))
    return best_of(fly, slowest=slowest, highest=highest)


@dataclass(frozen=True, kw_only=True)
class FuelRun:
    """Time [s] and distance [m] of level flight while fuel burns off."""

    time: Array
    distance: Array


def fuel_endurance(airframe: Airframe, *, start_mass: Values, fuel_mass: Values, density: Values,
                   lift_coefficient: Values,
                   fuel_flow: Callable[[Array, Array], Array]) -> FuelRun:
    """Level flight at a constant lift coefficient [-] while the aircraft gets lighter.

    The airspeed falls with the weight, as in Breguet's formulas, to which this integral comes for
    the two classic laws.

    Parameters
    ----------
    fuel_flow : callable
        Fuel mass flow [kg/s] at thrusts [N] and airspeeds [m/s]
    """
    nodes, weights = np.polynomial.legendre.leggauss(24)
    last = np.asarray(start_mass, dtype=float) - fuel_mass
    mass = (last + np.multiply.outer(0.5 * (nodes + 1.0), np.asarray(fuel_mass, dtype=float)))
    speed = lift_speed(airframe, mass=mass, density=density, lift_coefficient=lift_coefficient)
    thrust = (mass * GRAVITY * drag_coefficient(airframe, lift_coefficient=lift_coefficient)
              / np.asarray(lift_coefficient))
    slowness = 0.5 * np.asarray(fuel_mass) / fuel_flow(np.asarray(thrust), speed)
    column = weights.reshape(-1, *(1,) * (slowness.ndim - 1))
    return FuelRun(time=np.sum(column * slowness, axis=0),
                   distance=np.sum(column * slowness * speed, axis=0))
