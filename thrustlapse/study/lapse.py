"""A lapse in reduced form: what is left of the static thrust, beside the theories one can check.

The airspeed is put over the jet's speed at rest (the far wake's, for an open rotor), the thrust
over the thrust at rest. Constant power, constant pressure rise and constant jet speed then are
single curves, the same for every machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.ideal import (
    lapse_constant_jet_speed,
    lapse_constant_power,
    lapse_constant_pressure,
    lapse_open_rotor,
)
from thrustlapse.propulsor.operating_point import OperatingPoint


@dataclass(frozen=True, kw_only=True)
class ReducedLapse:
    """Thrust over thrust at rest against airspeed over jet speed at rest [-], with the theories."""

    speed_ratio: Array
    thrust_ratio: Array
    constant_power: Array
    constant_pressure: Array
    constant_jet_speed: Array
    open_rotor: Array


def reduced_lapse(curve: OperatingPoint, at_rest: OperatingPoint) -> ReducedLapse:
    """Reduced form of a curve over airspeed, given the same candidate at rest."""
    # a machine that throws or pushes nothing at rest has no reduced form
    jet_at_rest, thrust_at_rest = (np.where(value == 0.0, np.nan, value)
                                   for value in (at_rest.jet_speed, at_rest.net_thrust))
    ratio = np.asarray(curve.airspeed / jet_at_rest)
    known = np.isfinite(ratio)
    safe = np.where(known, ratio, 0.0)
    theories = (lapse_constant_power, lapse_constant_pressure, lapse_constant_jet_speed,
                lapse_open_rotor)
    power, pressure, jet, rotor = (np.where(known, theory(speed_ratio=safe), np.nan)
                                   for theory in theories)
    return ReducedLapse(speed_ratio=ratio,
                        thrust_ratio=np.asarray(curve.net_thrust / thrust_at_rest),
                        constant_power=power, constant_pressure=pressure,
                        constant_jet_speed=jet, open_rotor=rotor)
