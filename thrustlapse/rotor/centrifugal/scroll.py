"""Losses of a scroll and the cone behind it, one-dimensional.

Each is energy lost per mass [J/kg]. Forms and constants are from memory (the usual mean-line
volute model) unless a docstring says otherwise. Sizing a scroll: see
:mod:`thrustlapse.rotor.centrifugal.scroll_sizing`.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values

RADIAL_DUMP = 0.75
"""Share of the radial kinetic energy that a scroll loses [-]; 0.5 to 1, from memory."""

CONE_EFFECTIVENESS = 0.77
"""Share of the ideal pressure recovery that a good cone reaches [-].

Dixon, Fluid mechanics, thermodynamics of turbomachinery, Ex 2.3, read in an open solution: area
ratio 2.13 in 11.3 degrees recovers 0.60 of an ideal 0.78.
"""


def throat_radius(*, base_radius: Values, throat_area: Values) -> Array:
    """Radius of the middle of the throat [m]: a round section that begins at the base radius."""
    return np.asarray(base_radius + np.sqrt(np.asarray(throat_area) / np.pi))


def radial_dump_loss(*, meridional_speed: Values, share: Values = RADIAL_DUMP) -> Array:
    """Radial kinetic energy that turns into the scroll's secondary swirl [J/kg]."""
    return np.asarray(0.5 * np.asarray(share) * np.square(meridional_speed))


def size_mismatch_loss(*, swirl: Values, throat_speed: Values, base_radius: Values,
                       throat_radius: Values) -> Array:
    """Loss of a scroll too wide or too narrow for its swirl [J/kg].

    With the sizing parameter ``SP = r3 Cth3 / (r4 C4)``:

        SP >= 1, slowing down:   1/4 (r3/r4) Cth3^2 (1 - 1/SP^2)
        SP <  1, speeding up:    1/2 (r3/r4) Cth3^2 (1 - 1/SP)^2

    Written without the quotient, so that it holds where the swirl vanishes or turns back.

    Parameters
    ----------
    swirl, throat_speed : array_like
        Cth3 at the base of the scroll, C4 in its throat [m/s]
    base_radius, throat_radius : array_like
        r3, r4 [m]

    References
    ----------
    Japikse's volute model; from memory. The second form is the sudden-mixing loss of two streams.
    """
    ratio = np.asarray(base_radius) / throat_radius
    free = np.asarray(throat_speed) / ratio
    slowing = 0.25 * ratio * (np.square(swirl) - np.square(free))
    speeding = 0.5 * ratio * np.square(swirl - free)
    return np.where(np.asarray(swirl) >= free, slowing, speeding)


def scroll_friction_loss(*, skin_friction: Values, throat_speed: Values, base_radius: Values,
                         throat_radius: Values, throat_area: Values) -> Array:
    """Wall friction of a scroll, over half a turn at its mean radius [J/kg]."""
    length = 0.5 * np.pi * (np.asarray(base_radius) + throat_radius)
    diameter = np.sqrt(4.0 / np.pi * np.asarray(throat_area))
    return np.asarray(2.0 * np.asarray(skin_friction) * length / diameter
                      * np.square(throat_speed))


def cone_loss(*, throat_speed: Values, throat_area: Values, exit_area: Values,
              full_angle: Values) -> Array:
    """Loss of a conical diffuser [J/kg].

    Parameters
    ----------
    throat_speed : array_like
        At its narrow end [m/s]
    throat_area, exit_area : array_like
        [m^2]
    full_angle : array_like
        Between opposite walls [rad]

    Notes
    -----
    The larger of what a gradual enlargement loses (``2.6 sin(angle/2)`` of the sudden-enlargement
    loss up to 45 degrees, all of it beyond) and of what the best cones fail to recover
    (:data:`CONE_EFFECTIVENESS`). Valid for: cones of 5 degrees or more; longer ones rub more.

    References
    ----------
    Crane, TP-410 (1979) p. A-26, for the gradual enlargement.
    """
    share = np.asarray(throat_area) / exit_area
    wide = np.asarray(full_angle) > np.pi / 4.0
    gradual = np.where(wide, 1.0, np.minimum(2.6 * np.sin(0.5 * np.asarray(full_angle)), 1.0))
    short = (1.0 - CONE_EFFECTIVENESS) * (1.0 - share * share)
    coefficient = np.maximum(gradual * np.square(1.0 - share), short)
    return np.asarray(0.5 * np.square(throat_speed) * coefficient)
