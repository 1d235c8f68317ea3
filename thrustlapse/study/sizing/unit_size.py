"""Mass and outer drag of a unit that grows with its rotor, motor and power."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, Values

STRUCTURE: Mapping[str, float] = MappingProxyType(
    {"blower": 880.0, "axial fan": 230.0, "propeller": 1.7})
"""Mass of wheel, casing and duct over the cube of the rotor's diameter [kg/m^3]; judgement, within
a factor of 1.4: 80 g at 45 mm, 60 g at 64 mm, 28 g at 254 mm, without the motor."""

CONTROLLER = 0.04
"""Mass of a controller over its power [kg/kW]; judgement: 40 g at 1 kW."""

POD_OVER_MOTOR = 1.15
"""Width of the pod round a propeller's motor over the motor's [-] (judgement)."""


def unit_mass(kind: str, *, diameter: Values, motor_mass: Values, power: Values,
              structure: Values = 1.0) -> Array:
    """Mass of one unit [kg]: structure ~ D^3, motor, and a controller for the power [W].

    ``structure`` is a factor on the first of these [-].
    """
    return np.asarray(structure * STRUCTURE[kind] * np.asarray(diameter) ** 3 + motor_mass
                      + CONTROLLER * 1e-3 * np.asarray(power))


def own_induced_drag(airframe: Airframe, *, base_mass: Values, unit_mass: Values, density: Values,
                     airspeed: Values) -> Array:
    """Induced drag that the unit's own weight adds [N], elementwise, never below 0.

    q S k (CL^2 - CL'^2) with and without the unit, each lift coefficient at most the wing's
    greatest: below the stall the wing carries what it can, and at rest nothing. The polar's offset
    CL0 is left out: it is the profile's, and would pay for weight at high speed.

    Parameters
    ----------
    base_mass, unit_mass : array_like
        Mass of everything else, and of the unit [kg]
    density, airspeed : array_like
        [kg/m^3], [m/s]
    """
    force = 0.5 * np.asarray(density) * np.square(airspeed) * airframe.wing_area

    def part(mass: Values) -> Array:
        with np.errstate(divide="ignore"):
            lift = np.minimum(np.asarray(mass) * GRAVITY / force, airframe.greatest_lift)
        return np.asarray(force * airframe.induced_factor * np.square(lift))

    return np.asarray(part(np.asarray(base_mass) + unit_mass) - part(base_mass))
