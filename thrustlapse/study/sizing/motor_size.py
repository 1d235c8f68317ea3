"""A motor of any size and winding: what its constants, its heat and its speed follow from.

One family for every kind of machine, from three rules: at one size and one greatest speed a winding
trades volts for amps and nothing else; the copper loss of a motor that gives a power at its
greatest speed is that power squared over its mass; what the bare motor loses grows with its speed.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.register import REGISTER

COPPER_MERIT, IRON_LOSS, HEAT_SHED, RIM_SPEED = (
    REGISTER[f"motor {name}"].spread.nominal
    for name in ("copper merit", "iron loss", "heat shed", "rim speed"))
"""Medians of the register: [W^0.5/kg^0.5], [W/kg], [W/kg^(2/3)], [kg^(1/3) rad/s]."""

DENSITY = 5000.0
"""Mass of a motor over its volume [kg/m^3] (judgement: iron, copper and gaps)."""

LENGTH_RATIO = 1.3
"""Length of a motor over its diameter [-] (judgement)."""

AT_REST = 0.5
"""No-load torque of the slow motor over that at half of its greatest speed [-] (judgement): the
rest grows with speed (eddy currents, windage)."""


def motor_constant(*, mass: Values, greatest_speed: Values, merit: Values = COPPER_MERIT) -> Array:
    """Motor constant kt / sqrt(R) [N m/W^0.5] of a motor built for a greatest speed.

    merit * sqrt(mass) / greatest_speed, so that the copper loss of a motor that gives a power P at
    its greatest speed is P^2 / (merit^2 mass).

    Parameters
    ----------
    mass : array_like
        [kg]
    greatest_speed : array_like
        Shaft speed it is built for [rad/s]
    merit : array_like
        [W^0.5/kg^0.5]

    Notes
    -----
    Judgement: seven small brushless motors of 60 to 200 g and 16 to 124 krpm have 315 to 450 (data
    sheets, from memory).
    """
    return np.asarray(merit * np.sqrt(mass) / np.asarray(greatest_speed))


def winding_resistance(*, torque_constant: Values, motor_constant: Values) -> Array:
    """Resistance [ohm] of a winding of torque constant kt = 1/Kv [N m/A]: (kt / Km)^2.

    At one motor size copper area times turns is fixed, so that R ~ 1/Kv^2; leads do not follow.
    """
    return np.asarray(np.square(np.asarray(torque_constant) / motor_constant))


def no_load_torque(*, mass: Values, greatest_speed: Values, shaft_speed: Values,
                   iron_loss: Values = IRON_LOSS) -> Array:
    """Torque that turns the bare motor [N m] at a shaft speed [rad/s].

    iron_loss mass / greatest_speed (1/2 + shaft_speed / greatest_speed): hysteresis and bearings,
    and eddy currents and windage that grow with speed. ``iron_loss`` [W/kg] is the loss per mass
    that a torque as at half of the greatest speed makes at the greatest. The no-load current, this
    over kt, goes with Kv.
    """
    top = np.asarray(greatest_speed)
    return np.asarray(iron_loss * np.asarray(mass) / top * (AT_REST + shaft_speed / top))


def heat_limit(*, mass: Values, shed: Values = HEAT_SHED) -> Array:
    """Heat [W] that a motor of a mass [kg] can shed for long: with its surface, mass^(2/3).

    Judgement: 35 W of a 70 g motor in its own stream.
    """
    return np.asarray(shed * np.cbrt(np.square(mass)))


def speed_limit(*, mass: Values, rim: Values = RIM_SPEED) -> Array:
    """Greatest shaft speed [rad/s] a motor of a mass [kg] can be built for.

    At one rim speed of its rotor, mass^(-1/3). Judgement: 124 krpm at 60 g, as of motors of small
    suction cleaners.
    """
    return np.asarray(rim / np.cbrt(mass))


def motor_diameter(*, mass: Values, density: Values = DENSITY) -> Array:
    """Diameter [m] of a motor of a mass [kg], :data:`LENGTH_RATIO` times as long as wide."""
    return np.asarray(np.cbrt(4.0 * np.asarray(mass) / (np.pi * LENGTH_RATIO * density)))
