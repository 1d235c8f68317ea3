"""The inlet: what total pressure arrives at the rotor, and what the lip leaves outside.

Everything is explicit in the throat Mach number, so the matching can use it as an unknown. With
``T1 = Tt0 / (1 + 0.2 M1^2)`` and ``V1 = M1 a1``:

    smooth lip:  pt1 = p0 + eta_ram (pt0 - p0)
    thin lip:    p1 (1 + gamma M1^2) = p0 + rho1 V1 V0 cos(theta)   where V1 > V0 cos(theta)
                 pt1 = total pressure of the component V0 cos(theta)  where V1 <= V0 cos(theta)
    between:     pt1 blended with the lip sharpness s

The second line is pt0 for an inlet facing forward, and joins the first without a step at any angle.
The thin-lip line is the momentum theorem for a lip that carries no suction: at rest its low-speed
loss is one dynamic pressure (Borda); choked it recovers 0.7887 of the total pressure.

Beyond a throat Mach number of 1 the variable ``throat`` counts the total-pressure ratio of the
shocks behind a choked throat, so that it stays a single, rising unknown: the throat's Mach number
is 1 and the total pressure behind it is divided by ``throat``.

References
----------
Fradenburgh and Wyatt, NACA TN 3004 (1953), thin-lip inlet at rest: 79 % recovered when choked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT, isentropic
from thrustlapse.arrays import Array, BoolArray, Values, some

HALF = 0.5 * (GAMMA - 1.0)


@dataclass(frozen=True, kw_only=True)
class Inlet:
    """Inlet of one ducted unit.

    Parameters
    ----------
    throat_area : array_like
        Area just behind the lip [m^2]
    facing : array_like
        Angle between the inlet axis and the direction of flight [rad]; 0 forward, pi aft
    ram_recovery : array_like
        Share of the free stream's dynamic pressure that reaches a smooth lip [-]: 1 for a clean
        forward inlet, 0 where it breathes still air in a wake, negative in a base flow
    lip_sharpness : array_like
        0 for a bell-mouth, 1 for a thin lip that carries no suction [-]
    loss_coefficient : array_like
        Guards, struts and bends between throat and rotor, on the throat's dynamic pressure [-]
    """

    throat_area: Values
    facing: Values = 0.0
    ram_recovery: Values = 1.0
    lip_sharpness: Values = 0.0
    loss_coefficient: Values = 0.0


@dataclass(frozen=True, kw_only=True)
class InletState:
    """Throat and rotor-face state: Pa, K, m/s, kg/s."""

    mach: Array
    speed: Array
    static_pressure: Array
    total_pressure: Array
    face_pressure: Array
    mass_flow: Array


def inlet_state(inlet: Inlet, *, throat: Values, pressure: Values, total_pressure: Values,
                total_temperature: Values, airspeed: Values) -> InletState:
    """State in the throat and total pressure at the rotor face.

    Parameters
    ----------
    throat : array_like
        Throat Mach number up to 1; above 1, the factor by which shocks divide the total pressure
        behind a choked throat [-]
    pressure, total_pressure, total_temperature : array_like
        Free stream static and total pressure [Pa] and total temperature [K]
    airspeed : array_like
        Airspeed [m/s]
    """
    mach = np.minimum(throat, 1.0)
    square = mach * mach
    tau = 1.0 + HALF * square
    expansion = isentropic(temperature_ratio=tau)
    sound = np.sqrt(GAMMA * GAS_CONSTANT * total_temperature / tau)
    arriving = pressure + inlet.ram_recovery * (np.asarray(total_pressure) - pressure)
    if some(inlet.lip_sharpness):
        along = airspeed * np.cos(inlet.facing)
        thin = pressure * expansion / (1.0 + GAMMA * (square - mach * along / sound))
        spilling = mach * sound <= along
        if some(spilling):
            met = pressure / isentropic(temperature_ratio=1.0 - along * np.abs(along) / (
                2.0 * SPECIFIC_HEAT * np.asarray(total_temperature)))
            thin = np.where(spilling, met, thin)
        arriving = arriving + inlet.lip_sharpness * (thin - arriving)
    static = arriving / expansion
    face = (arriving - inlet.loss_coefficient * (0.5 * GAMMA * static * square))
    face = face / np.maximum(throat, 1.0)
    flow = inlet.throat_area * GAMMA * static * mach / sound
    return InletState(mach=mach, speed=mach * sound, static_pressure=static,
                      total_pressure=arriving, face_pressure=face, mass_flow=flow)


def additive_drag(inlet: Inlet, *, state: InletState, pressure: Values,
                  total_temperature: Values, airspeed: Values) -> Array:
    """External drag of a forward lip that spills [N]; zero where the throat is faster than flight.

    s [mdot (V1 - V0) + (p1 - p0) A1] with p1 from isentropic deceleration of the free stream; the
    lip suction that a rounded lip recovers is the share 1 - s.
    """
    along = np.square(airspeed * np.cos(inlet.facing)) / (2.0 * SPECIFIC_HEAT)
    cooled = 1.0 - along / np.asarray(total_temperature)
    decelerated = pressure / isentropic(
        temperature_ratio=cooled * (1.0 + HALF * state.mach * state.mach))
    push = (state.mass_flow * (state.speed - airspeed * np.cos(inlet.facing))
            + (decelerated - pressure) * np.asarray(inlet.throat_area))
    return np.asarray(np.where(spills(inlet, state=state, airspeed=airspeed),
                               inlet.lip_sharpness * push, 0.0))


def spills(inlet: Inlet, *, state: InletState, airspeed: Values) -> BoolArray:
    """Whether a forward-facing lip is offered more air than its throat takes."""
    axis = np.cos(np.asarray(inlet.facing))
    return np.asarray((state.speed < airspeed * axis) & (axis > 0.5))
