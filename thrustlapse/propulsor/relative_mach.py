"""Mach number at which the air meets the blades, which is what shocks and noise follow.

Not the rim speed of a centrifugal wheel over the speed of sound: no air meets a blade at it.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.air.gas import GAMMA
from thrustlapse.arrays import Array
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.propulsor.operating_point import OperatingPoint


def relative_mach(unit: Ducted | OpenRotor, point: OperatingPoint) -> Array:
    """Relative Mach number at the blade tips of open and axial rotors, at the inducer's tips of
    centrifugal ones [-]; NaN where the diameter of the blades at the face is not known."""
    if isinstance(unit, OpenRotor):
        return point.tip_mach
    return face_mach(unit, rim_mach=point.tip_mach, eye_mach=point.eye_mach)


def face_mach(unit: Ducted, *, rim_mach: Array, eye_mach: Array) -> Array:
    """Relative Mach number at the outer end of the blades at the face of a ducted rotor [-].

    Parameters
    ----------
    rim_mach : array
        Speed of the wheel's tip over the speed of sound at the total temperature before it [-]
    eye_mach : array
        Mach number of the air in the eye, axial [-]
    """
    rotor = unit.rotor
    if rotor.inducer_diameter is None:
        return np.full(np.shape(rim_mach), np.nan)
    # the speed of sound falls with the static temperature in the eye
    cooled = np.sqrt(1.0 + 0.5 * (GAMMA - 1.0) * np.square(eye_mach))
    share = np.asarray(rotor.inducer_diameter) / rotor.tip_diameter
    return np.hypot(rim_mach * share * cooled, eye_mach)
