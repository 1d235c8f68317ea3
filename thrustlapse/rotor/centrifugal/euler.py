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


def flow_angle(*, swirl: Values, meridional_speed: Values) -> Array:
    """Angle from the meridional direction of a flow with a tangential speed [rad]."""
    return np.asarray(np.arctan2(swirl, meridional_speed))


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


def head_after_losses(*, work: Values, entropy: Values, inlet_temperature: Values,
                      specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Isentropic head left of a specific work when losses have produced entropy [J/kg].

    Parameters
    ----------
    work : array_like
        Specific work, all of it in the total temperature [J/kg]
    entropy : array_like
        Energy each loss dissipates over the temperature at which it does, summed [J/(kg K)]
    inlet_temperature : array_like
        Total temperature before compression [K]

    Notes
    -----
    Exact for a perfect gas: at the pressure reached, the isentrope's temperature is the total one
    times ``exp(-s / cp)``. At low speed the head is the work less what is dissipated; energy that
    is dissipated early in a compression costs more head than that, as in Gibbs's ``T ds``.
    """
    heat = np.asarray(specific_heat)
    total = inlet_temperature + np.asarray(work) / heat
    return np.asarray(work + heat * total * np.expm1(-np.asarray(entropy) / heat))


# States --------------------------------------------------------------------------------------


def isentropic_pressure_ratio(*, temperature_ratio: Values, gamma: Values = GAMMA) -> Array:
    """Pressure ratio along an isentrope of a temperature ratio [-]."""
    g = np.asarray(gamma)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.power(np.asarray(temperature_ratio), g / (g - 1.0)))


def density_of(*, pressure: Values, temperature: Values,
               gas_constant: Values = GAS_CONSTANT) -> Array:
    """Density of a perfect gas [kg/m^3]; pressure in Pa, temperature in K."""
    return np.asarray(np.asarray(pressure) / (gas_constant * np.asarray(temperature)))
