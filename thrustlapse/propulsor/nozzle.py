"""The convergent nozzle: what it passes, how fast the jet leaves, and what that pushes.

Discharge coefficient on mass flow, velocity coefficient on exit speed. Unchoked, the jet leaves at
ambient pressure; at a pressure ratio of 1.8929 and above it leaves at Mach 1 and a higher pressure.
Swirl in the jet carries energy and no thrust: it is taken out of the total state first.

References
----------
Grey and Wilsted, NACA Report 933 (1949): the velocity coefficient of conical nozzles hardly changes
below the critical pressure ratio, and depends on neither cone angle nor diameter ratio.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.gas import (
    EXPONENT,
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    isentropic,
    mass_flow_function,
)
from thrustlapse.arrays import Array, BoolArray, Values, some

HALF = 0.5 * (GAMMA - 1.0)
SONIC_FLOW_FUNCTION = float(mass_flow_function(mach=1.0))
CRITICAL = (0.5 * (GAMMA + 1.0)) ** EXPONENT


@dataclass(frozen=True, kw_only=True)
class Nozzle:
    """Convergent nozzle of one unit.

    ``exit_area`` [m^2]; ``discharge_coefficient`` and ``velocity_coefficient`` [-]. The effective
    jet may not be wider than the exit: see :func:`discharge_possible`.
    """

    exit_area: Values
    discharge_coefficient: Values = 1.0
    velocity_coefficient: Values = 1.0


@dataclass(frozen=True, kw_only=True)
class Jet:
    """State in the exit plane: m/s, Pa, K, m^2, kg/s; ``ideal_temperature`` without losses."""

    mass_flow: Array
    speed: Array
    pressure: Array
    temperature: Array
    ideal_temperature: Array
    effective_area: Array
    choked: BoolArray


def axial_total_state(*, total_pressure: Values, total_temperature: Values,
                      swirl_speed: Values) -> tuple[Array, Array]:
    """Total pressure [Pa] and temperature [K] left for the axial jet beside its swirl [m/s]."""
    tt = np.asarray(total_temperature)
    axial = tt - np.square(swirl_speed) / (2.0 * SPECIFIC_HEAT)
    return np.asarray(total_pressure * isentropic(temperature_ratio=axial / tt)), axial


def required_pressure(nozzle: Nozzle, *, mass_flow: Values, total_temperature: Values,
                      pressure: Values) -> Array:
    """Total pressure at which the nozzle passes a mass flow [Pa].

    Explicit: below choking the exit Mach number follows from a quadratic in its square. Unlike its
    inverse it is defined at every flow, so a root finder may try any.
    """
    ideal = np.asarray(mass_flow) * np.sqrt(GAS_CONSTANT / GAMMA * np.asarray(total_temperature))
    ideal = ideal / (nozzle.discharge_coefficient * np.asarray(nozzle.exit_area))
    share = np.square(ideal / pressure)
    square = 2.0 * share / (1.0 + np.sqrt(1.0 + 4.0 * HALF * share))
    needed = pressure * isentropic(temperature_ratio=1.0 + HALF * square)
    if some(square > 1.0):
        needed = np.where(square > 1.0, ideal / SONIC_FLOW_FUNCTION, needed)
    return np.asarray(needed)


def jet(nozzle: Nozzle, *, total_pressure: Values, total_temperature: Values,
        pressure: Values) -> Jet:
    """Jet from the axial total state at the nozzle entry into still air at a pressure [Pa].

    Where the total pressure does not exceed the ambient there is no through-flow: speed and mass
    flow are zero.
    """
    tt = np.asarray(total_temperature)
    ratio = np.asarray(total_pressure) / pressure
    choked = ratio >= CRITICAL
    ideal_square = np.expm1(np.log(np.maximum(ratio, 1.0)) / EXPONENT) / HALF
    square = np.where(choked, 1.0, ideal_square)
    ideal_temperature = tt / (1.0 + HALF * square)
    ideal_speed = np.sqrt(GAMMA * GAS_CONSTANT * ideal_temperature * square)
    exit_pressure = np.where(choked, total_pressure / np.asarray(CRITICAL), pressure)
    flow = (nozzle.discharge_coefficient * np.asarray(nozzle.exit_area) * exit_pressure
            / (GAS_CONSTANT * ideal_temperature) * ideal_speed)
    speed = nozzle.velocity_coefficient * ideal_speed
    temperature = tt - np.square(speed) / (2.0 * SPECIFIC_HEAT)
    # mdot / (rho8 V8) with the speed cancelled, so that it holds without flow too
    effective = (nozzle.discharge_coefficient * np.asarray(nozzle.exit_area)
                 / nozzle.velocity_coefficient * temperature / ideal_temperature)
    return Jet(mass_flow=flow, speed=speed, pressure=exit_pressure, temperature=temperature,
               ideal_temperature=ideal_temperature, effective_area=np.asarray(effective),
               choked=choked)


def discharge_possible(nozzle: Nozzle) -> BoolArray:
    """Whether the effective jet fits the exit up to choking: Cd <= Cv T8i / T8."""
    widest = widest_discharge(velocity_coefficient=nozzle.velocity_coefficient)
    return np.asarray(np.asarray(nozzle.discharge_coefficient) <= widest + 1e-12)


def widest_discharge(*, velocity_coefficient: Values) -> Array:
    """Discharge coefficient [-] of a jet that fills the exit, choked: Cv T8i / T8."""
    velocity = np.asarray(velocity_coefficient)
    return np.asarray(velocity / (1.0 + HALF * (1.0 - np.square(velocity))))


def least_velocity(*, discharge_coefficient: Values) -> Array:
    """Velocity coefficient [-] below which a discharge needs more than the exit: the inverse of
    :func:`widest_discharge`, a root of a quadratic without its difference of near equals."""
    most = np.asarray(discharge_coefficient) * (1.0 + HALF)
    return np.asarray(2.0 * most / (1.0 + np.sqrt(
        1.0 + 4.0 * HALF * most * discharge_coefficient)))
