"""Velocity triangles of an axial stage, and the speed and diameter numbers of any fan.

Angles are measured from the axial direction [rad]. A relative angle is positive against the
rotation, an absolute one with it, so that all angles of a usual compressor rotor are positive.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import Array, Values


class Triangles(NamedTuple):
    """Both triangles of a rotor section: angles [rad], speeds [m/s], ratios [-]."""

    relative_inlet_angle: Array
    relative_outlet_angle: Array
    absolute_outlet_angle: Array
    relative_inlet_speed: Array
    relative_outlet_speed: Array
    de_haller: Array
    reaction: Array
    work: Array


def rotor_triangles(*, blade_speed: Values, axial_velocity: Values, swirl_in: Values = 0.0,
                    swirl_out: Values) -> Triangles:
    """Triangles of a rotor section with the same axial velocity before and behind.

    Parameters
    ----------
    blade_speed, axial_velocity, swirl_in, swirl_out : array_like
        Speeds [m/s]; swirl positive with the rotation

    Returns
    -------
    Triangles
        ``de_haller`` is W2/W1; ``reaction`` the rotor's share of the rise of static enthalpy,
        1 - (swirl_in + swirl_out) / (2 U); ``work`` Euler's, U (swirl_out - swirl_in) [J/kg].
    """
    u, v = np.asarray(blade_speed, dtype=float), np.asarray(axial_velocity, dtype=float)
    inlet, outlet = np.hypot(v, u - swirl_in), np.hypot(v, u - swirl_out)
    return Triangles(
        relative_inlet_angle=np.arctan2(u - swirl_in, v),
        relative_outlet_angle=np.arctan2(u - swirl_out, v),
        absolute_outlet_angle=np.arctan2(swirl_out, v),
        relative_inlet_speed=inlet,
        relative_outlet_speed=outlet,
        de_haller=outlet / inlet,
        reaction=np.asarray(1.0 - (np.asarray(swirl_in) + swirl_out) / (2.0 * u)),
        work=np.asarray(u * (np.asarray(swirl_out) - swirl_in)))


def normal_stage_triangles(*, axial_velocity: Values, stator_inlet_angle: Values,
                           stator_outlet_angle: Values,
                           rotor_outlet_angle: Values) -> tuple[Array, Triangles]:
    """Blade speed [m/s] and triangles of a stage that leaves the air as it found it.

    Parameters
    ----------
    axial_velocity : array_like
        The same everywhere [m/s]
    stator_inlet_angle, stator_outlet_angle : array_like
        Absolute angles of the air before and behind the stator [rad]
    rotor_outlet_angle : array_like
        Relative angle behind the rotor [rad], positive against the rotation
    """
    v = np.asarray(axial_velocity, dtype=float)
    swirl_out = v * np.tan(stator_inlet_angle)
    speed = np.asarray(swirl_out + v * np.tan(rotor_outlet_angle))
    triangles = rotor_triangles(blade_speed=speed, axial_velocity=v, swirl_out=swirl_out,
                                swirl_in=v * np.tan(stator_outlet_angle))
    return speed, triangles


def free_vortex_strength(*, pressure_rise: Values, efficiency: Values, density: Values,
                         shaft_speed: Values) -> Array:
    """Radius times swirl behind a free-vortex rotor without inlet swirl [m^2/s].

    ``pressure_rise`` is the rise of total pressure [Pa], ``shaft_speed`` in rad/s; low Mach number.
    """
    ideal = np.asarray(efficiency) * density * np.asarray(shaft_speed)
    return np.asarray(np.asarray(pressure_rise) / ideal)


def shaft_speed_from_torque(*, power: Values, stator_torque: Values) -> Array:
    """Shaft speed [rad/s] of a stage with axial flow in and out.

    The air gains no angular momentum, so the stator's torque [N m] is the rotor's.
    """
    return np.asarray(np.asarray(power) / stator_torque)


class FanNumbers(NamedTuple):
    """Dimensionless speed and diameter of a duty, in both common notations [-]."""

    cordier_speed: Array
    cordier_diameter: Array
    cordier_flow: Array
    cordier_pressure: Array
    specific_speed: Array
    specific_diameter: Array


def fan_numbers(*, volume_flow: Values, specific_work: Values, shaft_speed: Values,
                diameter: Values) -> FanNumbers:
    """Speed and diameter numbers of a duty.

    Parameters
    ----------
    volume_flow : array_like
        [m^3/s]
    specific_work : array_like
        Rise of total pressure over density, Y [J/kg]
    shaft_speed : array_like
        [rad/s]
    diameter : array_like
        Rotor tip diameter [m]

    Notes
    -----
    With n in revolutions per second, sigma = 2 sqrt(pi) n sqrt(Q) / (2 Y)^0.75,
    delta = (sqrt(pi) / 2) D (2 Y)^0.25 / sqrt(Q), flow number 4 Q / (pi^2 D^3 n) and pressure
    number 2 Y / (pi D n)^2; Ns = omega sqrt(Q) / Y^0.75, Ds = D Y^0.25 / sqrt(Q).
    """
    q, y = np.asarray(volume_flow, dtype=float), np.asarray(specific_work, dtype=float)
    omega, d = np.asarray(shaft_speed, dtype=float), np.asarray(diameter, dtype=float)
    turns = omega / (2.0 * np.pi)
    return FanNumbers(
        cordier_speed=2.0 * np.sqrt(np.pi) * turns * np.sqrt(q) / (2.0 * y) ** 0.75,
        cordier_diameter=0.5 * np.sqrt(np.pi) * d * (2.0 * y) ** 0.25 / np.sqrt(q),
        cordier_flow=4.0 * q / (np.pi**2 * d**3 * turns),
        cordier_pressure=2.0 * y / (np.pi * d * turns) ** 2,
        specific_speed=omega * np.sqrt(q) / y**0.75,
        specific_diameter=d * y**0.25 / np.sqrt(q))


CORDIER_FACTOR, CORDIER_EXPONENT = 2.84, -0.476
"""Line of best fans, Ds = 2.84 Ns^-0.476 above Ns = 1: Wright, Fluid Machinery; from memory."""


def cordier_diameter(*, specific_speed: Values) -> Array:
    """Specific diameter Ds of a good fan of a specific speed Ns [-]; NaN below Ns = 1.

    References
    ----------
    Cordier's line as fitted by Wright, Fluid Machinery; the constants are from memory.
    """
    ns = np.asarray(specific_speed, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(ns >= 1.0, CORDIER_FACTOR * np.power(ns, CORDIER_EXPONENT), np.nan)
