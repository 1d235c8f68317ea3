"""Steps of textbook examples of impellers that the package does not take itself."""

from __future__ import annotations

import numpy as np

from thrustlapse.air.gas import SPECIFIC_HEAT
from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.centrifugal.euler import euler_work, flow_angle


def annulus_outer_diameter(*, area: Values, inner_diameter: Values) -> Array:
    """Outer diameter of a ring of an area [m]; area in m^2, inner diameter in m."""
    return np.asarray(np.sqrt(np.square(inner_diameter) + 4.0 / np.pi * np.asarray(area)))


def swirl_at_angle(*, meridional_speed: Values, angle: Values) -> Array:
    """Tangential speed of a flow at an angle [rad] from the meridional direction [m/s]."""
    return np.asarray(np.asarray(meridional_speed) * np.tan(angle))


def relative_angle(*, speed_of_blade: Values, swirl: Values = 0.0,
                   meridional_speed: Values) -> Array:
    """Angle from the meridional direction at which a blade sees the flow [rad].

    Positive against the rotation: the blade angle that meets the flow without incidence.
    """
    return flow_angle(swirl=np.asarray(speed_of_blade) - swirl, meridional_speed=meridional_speed)


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


def temperature_after_work(*, work: Values, inlet_temperature: Values,
                           specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Total temperature behind a specific work [K]."""
    return np.asarray(np.asarray(inlet_temperature) + np.asarray(work) / specific_heat)


def polytropic_temperature_ratio(*, pressure_ratio: Values, exponent: Values) -> Array:
    """Temperature ratio along ``p v^n = const`` [-]."""
    n = np.asarray(exponent)
    return np.asarray(np.power(np.asarray(pressure_ratio, dtype=float), (n - 1.0) / n))


def total_temperature_of(*, temperature: Values, speed: Values,
                         specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Total temperature of air at a static temperature [K] and speed [m/s]."""
    return np.asarray(np.asarray(temperature) + 0.5 * np.square(speed) / specific_heat)


def static_temperature_of(*, total_temperature: Values, speed: Values,
                          specific_heat: Values = SPECIFIC_HEAT) -> Array:
    """Static temperature of air at a total temperature [K] and speed [m/s]."""
    return np.asarray(np.asarray(total_temperature) - 0.5 * np.square(speed) / specific_heat)


def swirl_over_ideal(*, slip: Values, flow: Values, exit_angle: Values) -> Array:
    """Exit swirl over the swirl of a flow that follows the blades, ``cth2 / cth2_ideal`` [-].

    Parameters
    ----------
    slip : array_like
        Slip speed over tip speed [-]
    flow : array_like
        Exit meridional speed over tip speed, phi2 [-]
    exit_angle : array_like
        Blade exit angle from radial [rad]
    """
    ideal = 1.0 - np.asarray(flow) * np.tan(exit_angle)
    return np.asarray((ideal - np.asarray(slip)) / ideal)


def busemann(*, shutoff_swirl: Values, flow_factor: Values, flow: Values,
             exit_angle: Values) -> Array:
    """Slip factor ``cth2 / cth2_ideal`` of Busemann, with A and B read from his charts [-].

        sigma = (A - B phi2 tan(beta2)) / (1 - phi2 tan(beta2))

    Parameters
    ----------
    shutoff_swirl, flow_factor : array_like
        A and B of the charts, functions of radius ratio, blade count and blade angle [-]
    flow : array_like
        phi2 [-]
    exit_angle : array_like
        Blade exit angle from radial [rad]

    References
    ----------
    Busemann's form as Dixon, Fluid mechanics, thermodynamics of turbomachinery, Ex 7.3 uses it.
    """
    lean = np.asarray(flow) * np.tan(exit_angle)
    return np.asarray((np.asarray(shutoff_swirl) - flow_factor * lean) / (1.0 - lean))
