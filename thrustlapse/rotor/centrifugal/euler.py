"""Velocity triangles, Euler's work, and the states of the air between the rows of a rotor.

Angles are from the meridional direction (radial at an impeller's exit, axial at its eye). A blade
that leans against the rotation has a positive angle. Specific heat, ratio of specific heats and
gas constant default to dry air and may be set to a textbook's rounded values.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import Array, Values

# Velocity triangles --------------------------------------------------------------------------


def blade_speed(*, shaft_speed: Values, diameter: Values) -> Array:
    """Speed of a blade at a diameter [m/s]; shaft speed in rad/s, diameter in m."""
    return np.asarray(0.5 * np.asarray(shaft_speed) * diameter)


def rim_speed(*, volume_flow: Values, diameter: Values, width: Values) -> Array:
    """Radial speed through a rim of a diameter and width [m/s]; flow in m^3/s, lengths in m."""
    return np.asarray(np.asarray(volume_flow) / (np.pi * np.asarray(diameter) * width))


def annulus_area(*, outer_diameter: Values, inner_diameter: Values) -> Array:
    """Area between two circles [m^2]; diameters in m."""
    return np.asarray(np.pi / 4.0 * (np.square(outer_diameter) - np.square(inner_diameter)))


def annulus_outer_diameter(*, area: Values, inner_diameter: Values) -> Array:
    """Outer diameter of a ring of an area [m]; area in m^2, inner diameter in m."""
    return np.asarray(np.sqrt(np.square(inner_diameter) + 4.0 / np.pi * np.asarray(area)))


def swirl_at_angle(*, meridional_speed: Values, angle: Values) -> Array:
    """Tangential speed of a flow at an angle [rad] from the meridional direction [m/s]."""
    return np.asarray(np.asarray(meridional_speed) * np.tan(angle))


def flow_angle(*, swirl: Values, meridional_speed: Values) -> Array:
    """Angle from the meridional direction of a flow with a tangential speed [rad]."""
    return np.asarray(np.arctan2(swirl, meridional_speed))


def relative_angle(*, speed_of_blade: Values, swirl: Values = 0.0,
                   meridional_speed: Values) -> Array:
    """Angle from the meridional direction at which a blade sees the flow [rad].

    Positive against the rotation: the blade angle that meets the flow without incidence.
    """
    return flow_angle(swirl=np.asarray(speed_of_blade) - swirl, meridional_speed=meridional_speed)


def exit_swirl(*, tip_speed: Values, meridional_speed: Values, exit_angle: Values = 0.0,
               slip: Values = 0.0) -> Array:
    """Tangential speed behind an impeller [m/s].

    Parameters
    ----------
    tip_speed, meridional_speed : array_like
        Of the rim and through the rim [m/s]
    exit_angle : array_like
        Blade exit angle from radial, backward lean positive [rad]
    slip : array_like
        Slip speed over tip speed [-]; see :mod:`thrustlapse.rotor.centrifugal.slip`
    """
    return np.asarray(np.asarray(tip_speed) * (1.0 - np.asarray(slip))
                      - np.asarray(meridional_speed) * np.tan(exit_angle))


# Work ----------------------------------------------------------------------------------------


def euler_work(*, tip_speed: Values, exit_swirl: Values, inlet_blade_speed: Values = 0.0,
               inlet_swirl: Values = 0.0) -> Array:
    """Euler's specific work, U2 cth2 - U1 cth1 [J/kg]; speeds in m/s."""
    return np.asarray(np.asarray(tip_speed) * exit_swirl
                      - np.asarray(inlet_blade_speed) * inlet_swirl)


def input_factor_work(*, tip_speed: Values, slip_factor: Values,
                      power_input_factor: Values = 1.0, inlet_blade_speed: Values = 0.0,
                      inlet_swirl: Values = 0.0) -> Array:
    """Specific work of a radial-bladed impeller, PSI (sigma U2^2 - U1 cth1) [J/kg].

    The power input factor PSI (1.02 to 1.05) stands for disc friction and windage.
    """
    work = euler_work(tip_speed=tip_speed, exit_swirl=np.asarray(slip_factor) * tip_speed,
                      inlet_blade_speed=inlet_blade_speed, inlet_swirl=inlet_swirl)
    return np.asarray(power_input_factor * work)


def input_factor_tip_speed(*, work: Values, slip_factor: Values,
                           power_input_factor: Values = 1.0) -> Array:
    """Tip speed at which a radial-bladed impeller without prewhirl does a specific work [m/s]."""
    return np.sqrt(np.asarray(work) / (np.asarray(power_input_factor) * slip_factor))


def reaction(*, work: Values, inlet_speed: Values, exit_speed: Values) -> Array:
    """Share of the work that raises static enthalpy in the impeller [-].

    Parameters
    ----------
    work : array_like
        Specific work [J/kg]
    inlet_speed, exit_speed : array_like
        Absolute speeds before and behind the impeller [m/s]
    """
    kinetic = 0.5 * (np.square(exit_speed) - np.square(inlet_speed))
    return np.asarray(1.0 - kinetic / np.asarray(work))


# Compression ---------------------------------------------------------------------------------


def pressure_ratio_of_head(*, head: Values, inlet_temperature: Values,
                           specific_heat: Values = SPECIFIC_HEAT, gamma: Values = GAMMA) -> Array:
    """Pressure ratio of an isentropic head [-].

    Parameters
    ----------
    head : array_like
        Isentropic specific work (efficiency times work done) [J/kg]
    inlet_temperature : array_like
        Temperature before compression; total when the pressures are total [K]
    """
    g = np.asarray(gamma)
    with np.errstate(invalid="ignore"):
        rise = np.asarray(head) / (specific_heat * np.asarray(inlet_temperature))
        return np.asarray(np.power(1.0 + rise, g / (g - 1.0)))


def head_of_pressure_ratio(*, pressure_ratio: Values, inlet_temperature: Values,
                           specific_heat: Values = SPECIFIC_HEAT, gamma: Values = GAMMA) -> Array:
    """Isentropic head of a pressure ratio [J/kg], full precision near a ratio of 1."""
    g = np.asarray(gamma)
    with np.errstate(invalid="ignore", divide="ignore"):
        rise = np.expm1((g - 1.0) / g * np.log(pressure_ratio))
    return np.asarray(specific_heat * np.asarray(inlet_temperature) * rise)


def temperature_after_work(*, work: Values, inlet_temperature: Values,
                           specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Total temperature behind a specific work [K]."""
    return np.asarray(np.asarray(inlet_temperature) + np.asarray(work) / specific_heat)


def polytropic_temperature_ratio(*, pressure_ratio: Values, exponent: Values) -> Array:
    """Temperature ratio along ``p v^n = const`` [-]."""
    n = np.asarray(exponent)
    return np.asarray(np.power(np.asarray(pressure_ratio, dtype=float), (n - 1.0) / n))


# States --------------------------------------------------------------------------------------


def total_temperature_of(*, temperature: Values, speed: Values,
                         specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Total temperature of air at a static temperature [K] and speed [m/s]."""
    return np.asarray(np.asarray(temperature) + 0.5 * np.square(speed) / specific_heat)


def static_temperature_of(*, total_temperature: Values, speed: Values,
                          specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Static temperature of air at a total temperature [K] and speed [m/s]."""
    return np.asarray(np.asarray(total_temperature) - 0.5 * np.square(speed) / specific_heat)


def isentropic_pressure_ratio(*, temperature_ratio: Values, gamma: Values = GAMMA) -> Array:
    """Pressure ratio along an isentrope of a temperature ratio [-]."""
    g = np.asarray(gamma)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.power(np.asarray(temperature_ratio), g / (g - 1.0)))


def density_of(*, pressure: Values, temperature: Values,
               gas_constant: Values = GAS_CONSTANT) -> Array:
    """Density of a perfect gas [kg/m^3]; pressure in Pa, temperature in K."""
    return np.asarray(np.asarray(pressure) / (gas_constant * np.asarray(temperature)))
