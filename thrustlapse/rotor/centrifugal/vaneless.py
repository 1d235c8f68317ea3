"""The vaneless space between an impeller and its scroll.

    rho r b Cm = const;   cp T + C^2/2 = const;   d(r Cth)/dr = -Cf r C Cth / (b Cm)

Between two radii close enough for the density to be even, these have a closed form: with the flow
angle ``a`` from radial, ``arcsinh(cot a)`` grows by ``Cf dr / b``, and the energy that friction
takes is ``(r Cm)^2 times the integral of coth^3(x) dx / r^2``. Ring by ring with the density
renewed, that stays exact where the flow is all but tangential and a step of the differential
equations would not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import Array, Values

RINGS = 8
"""Rings of even density: within 1e-3 of the equations in swirl, 2e-3 in loss, up to r3/r2 = 1.6."""


@dataclass(frozen=True, kw_only=True)
class VanelessExit:
    """State at the outer radius: r Cth [m^2/s], Cm [m/s], total pressure [Pa], T [K]."""

    angular_momentum: Array
    meridional_speed: Array
    total_pressure: Array
    temperature: Array


def meridional_speed(*, flow_per_area: Values, swirl: Values, total_pressure: Values,
                     total_temperature: Values, steps: int = 8) -> Array:
    """Meridional speed that carries a mass flow per area beside a swirl [m/s].

    Newton's method from the left of the subsonic root of a concave law: it never overshoots.
    NaN where the area chokes or the method has not converged to 1e-9.

    Parameters
    ----------
    flow_per_area : array_like
        rho Cm [kg/(m^2 s)]
    swirl : array_like
        Tangential speed [m/s]
    total_pressure, total_temperature : array_like
        [Pa], [K]
    """
    heat = SPECIFIC_HEAT * np.asarray(total_temperature)
    at_rest = np.asarray(total_pressure) / (GAS_CONSTANT * np.asarray(total_temperature))
    left = 1.0 - 0.5 * np.square(swirl) / heat
    power = 1.0 / (GAMMA - 1.0)
    wanted = np.asarray(flow_per_area)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        speed = wanted / (at_rest * np.power(left, power))
        for _ in range(steps):
            share = left - 0.5 * speed * speed / heat
            density = at_rest * np.power(share, power)
            slope = 1.0 - power * speed * speed / (heat * share)
            speed = speed + (wanted / density - speed) / slope
        share = left - 0.5 * speed * speed / heat
        miss = at_rest * np.power(share, power) * speed - wanted
        sound = np.abs(miss) <= 1e-9 * np.abs(wanted)
    return np.where(sound, speed, np.nan)


def vaneless_space(*, mass_flow: Values, angular_momentum: Values, total_pressure: Values,
                   total_temperature: Values, inner_radius: Values, outer_radius: Values,
                   width: Values, skin_friction: Values, end_width: Values | None = None,
                   rings: int = RINGS) -> VanelessExit:
    """State behind a vaneless space.

    Parameters
    ----------
    mass_flow : array_like
        Through the space, above zero [kg/s]
    angular_momentum : array_like
        r Cth at the inner radius [m^2/s]
    total_pressure, total_temperature : array_like
        At the inner radius [Pa], [K]
    inner_radius, outer_radius, width : array_like
        Radii, and the width at the inner one [m]
    end_width : array_like or None
        Width at the outer radius, where walls are not parallel; between them it is a power of
        radius, so that a space that keeps its area does so all along [m]
    skin_friction : array_like
        Coefficient on ``rho C^2 / 2``, 0.005 to 0.01 [-]

    Returns
    -------
    VanelessExit
        NaN where the radial component chokes.

    References
    ----------
    Stanitz, NACA TN 2610 (1952); equations from memory. The closed form was derived here and is
    tested against the equations.
    """
    total_t = np.asarray(total_temperature, float)
    momentum, pressure = np.asarray(angular_momentum, float), np.asarray(total_pressure, float)
    cf, b = np.asarray(skin_friction), np.asarray(width, float)
    taper = np.power((b if end_width is None else np.asarray(end_width)) / b, 0.5 / rings)
    stretch = np.power(np.asarray(outer_radius) / inner_radius, 1.0 / rings)
    radius = np.asarray(inner_radius, float)
    flow = np.asarray(mass_flow) / (2.0 * np.pi)
    for _ in range(rings):
        speed, temperature = _state(flow / (b * radius), momentum / radius, pressure, total_t)
        further, middle = radius * stretch, b * taper
        momentum, lost = _ring(momentum, radius * speed / taper, cf * (further - radius) / middle,
                               radius * further)
        pressure = pressure * np.exp(-lost / (GAS_CONSTANT * temperature))
        radius, b = further, middle * taper
    speed, temperature = _state(flow / (b * radius), momentum / radius, pressure, total_t)
    return VanelessExit(angular_momentum=momentum, meridional_speed=speed, total_pressure=pressure,
                        temperature=temperature)


def _state(flow_per_area: Array, swirl: Array, pressure: Array,
           total_temperature: Array) -> tuple[Array, Array]:
    """Meridional speed [m/s] and static temperature [K]."""
    speed = meridional_speed(flow_per_area=flow_per_area, swirl=swirl, total_pressure=pressure,
                             total_temperature=total_temperature)
    kinetic = 0.5 * (speed * speed + swirl * swirl)
    return speed, np.asarray(total_temperature - kinetic / SPECIFIC_HEAT)


def _ring(momentum: Array, flux: Array, growth: Array, square: Array) -> tuple[Array, Array]:
    """Angular momentum behind a ring, and the energy that friction takes in it [J/kg].

    ``flux`` is r Cm, ``growth`` the gain of arcsinh(cot a), ``square`` the product of both radii.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        x = np.arcsinh(flux / np.abs(momentum))
        y = x + growth
        # the integral of coth^3 is ln sinh - coth^2 / 2; ln sinh in a form that cannot overflow
        taken = (growth + np.log(np.expm1(-2.0 * y) / np.expm1(-2.0 * x))
                 + 0.5 * (1.0 / np.tanh(x) ** 2 - 1.0 / np.tanh(y) ** 2))
        left = np.sign(momentum) * flux / np.sinh(y)
    radial = momentum == 0.0
    taken = np.where(radial, growth, taken)
    return np.where(radial, 0.0, left), np.asarray(flux * flux / square * taken)
