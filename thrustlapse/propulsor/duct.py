"""The duct between the stage and the nozzle: loss coefficient and wall friction.

The loss is taken on the duct's own dynamic pressure at its entry. Heat that the motor gives to the
air is added behind the stage; its small effect on total pressure (half gamma M^2 times the relative
rise of total temperature, about 0.2 % at Mach 0.2 and 20 K) is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, isentropic, mach_from_mass_flow_function
from thrustlapse.arrays import Array, Values, some
from thrustlapse.rotor.wall_friction import skin_friction_coefficient


@dataclass(frozen=True, kw_only=True)
class Duct:
    """Duct of one unit, from the stage to the nozzle entry.

    Parameters
    ----------
    area : array_like
        Flow area, which is also the nozzle's entry [m^2]
    loss_coefficient : array_like
        Bends, struts, diffusion, on the duct's dynamic pressure [-]
    length : array_like
        Length that rubs [m]
    hydraulic_diameter : array_like
        Four times area over wetted perimeter [m]
    roughness : array_like
        Equivalent sand roughness of the wall [m]; printed walls are rough
    heat_share : array_like
        Share of the motor's heat that goes into the air [-]
    """

    area: Values
    loss_coefficient: Values = 0.0
    length: Values = 0.0
    hydraulic_diameter: Values = 1.0
    roughness: Values = 0.0
    heat_share: Values = 0.0


def friction_factor(*, reynolds: Values, relative_roughness: Values) -> Array:
    """Darcy friction factor of a pipe, laminar to fully rough [-].

    Parameters
    ----------
    reynolds : array_like
        Reynolds number on hydraulic diameter [-], above zero
    relative_roughness : array_like
        Equivalent sand roughness over hydraulic diameter [-], below 0.05

    References
    ----------
    Churchill, Chem. Eng. 84 (1977) 91-92: one expression for every regime.
    """
    return 4.0 * skin_friction_coefficient(reynolds=reynolds,
                                           relative_roughness=relative_roughness)


def duct_loss(duct: Duct, *, mass_flow: Values, total_pressure: Values,
              total_temperature: Values) -> tuple[Array, Array]:
    """Total pressure behind the duct [Pa] and Mach number at its entry [-].

    Both are NaN where the duct cannot pass the flow.
    """
    mdot = np.asarray(mass_flow)
    flow_function = mdot * np.sqrt(GAS_CONSTANT / GAMMA * np.asarray(total_temperature)) / (
        duct.area * np.asarray(total_pressure))
    mach = mach_from_mass_flow_function(flow_function=flow_function)
    square = mach * mach
    tau = 1.0 + 0.5 * (GAMMA - 1.0) * square
    dynamic = 0.5 * GAMMA * square * total_pressure / isentropic(temperature_ratio=tau)
    coefficient: Values = duct.loss_coefficient
    if some(duct.length):
        width = duct.hydraulic_diameter
        reynolds = mdot * (width / duct.area) / sutherland_viscosity(
            temperature=total_temperature / tau)
        with np.errstate(divide="ignore", invalid="ignore"):
            friction = friction_factor(reynolds=reynolds,
                                       relative_roughness=duct.roughness / width)
        if some(mdot == 0.0):  # at rest the friction is infinite and its loss zero
            friction = np.where(mdot > 0.0, friction, 0.0)
        coefficient = coefficient + friction * (duct.length / width)
    return np.asarray(total_pressure - coefficient * dynamic), mach
