"""Drag of a rotor without power: windmilling with the drive cut, standing still, or folded away.

Windmilling is the ordinary balance with the drive cut: the air turns the shaft against its no-load
torque. Where the map or table ends before its power falls below zero, nothing says how fast it
would turn, and the rotor counts as standing still.

A wheel that stands still is a loss in the stream through its duct. With ``K`` the loss of total
pressure over the dynamic pressure at the exit, low-speed flow gives

    V8 = V0 / sqrt(1 + K),   D = rho A8 V8 (V0 - V8)

which is nothing at K = 0 and again where nothing passes, and at most rho A8 V0^2 / 4.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.power.drive import cut
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.propulsor.operating_point import INVALID, Flag

WINDMILLING, STOPPED, FOLDED = "windmilling", "stopped", "folded"
UNPOWERED = (WINDMILLING, STOPPED, FOLDED)
"""What a rotor without power may do."""

STANDS = Flag.OUTSIDE_MAP | Flag.CANNOT_TURN | Flag.UNSTABLE
"""Why a windmill may have no balance that is known: then it stands. Any other cause is a fault to
be seen, and no drag takes its place."""

STOPPED_LOSS = 3.0
"""Loss of total pressure of a wheel that stands still, over the dynamic pressure at its eye;
judgement: blades meet the stream at large incidence and lose its swirl."""

STANDING_SOLIDITY = 0.08
"""Blade area over disc area of a propeller whose blades are not known; judgement: two blades."""

BROADSIDE_DRAG = 1.17
"""Drag coefficient of a flat plate across the stream (Hoerner, from memory): an upper bound for a
blade that stands still."""


def stopped_duct_drag(*, exit_area: Values, density: Values, airspeed: Values,
                      loss_coefficient: Values) -> Array:
    """Drag of the stream through a duct that only loses total pressure [N].

    Parameters
    ----------
    exit_area : array_like
        [m^2]
    loss_coefficient : array_like
        Loss of total pressure over the dynamic pressure at the exit [-]

    Notes
    -----
    Valid for: low Mach numbers, full ram at the inlet.
    """
    jet = np.asarray(airspeed) / np.sqrt(1.0 + np.asarray(loss_coefficient))
    return np.asarray(density * np.asarray(exit_area) * jet * (airspeed - jet))


def unpowered_drag(candidate: Candidate, *, air: Air, airspeed: Values) -> Array:
    """Drag of all units' rotors without power [N], beside that of pods and bases.

    Parameters
    ----------
    airspeed : array_like
        Above 0 [m/s]

    Returns
    -------
    array
        Broadcast shape. By ``candidate.unpowered``: nothing where folded. NaN where a windmill is
        unknown for any other reason than that its map ends or the air cannot turn it.
    """
    speed = np.asarray(airspeed, dtype=float)
    if candidate.unpowered == FOLDED:
        return np.zeros(speed.shape)
    still = candidate.count * _standing(candidate.unit, air, speed)
    if candidate.unpowered == STOPPED:
        return still
    idle = replace(candidate, unit=replace(candidate.unit, drive=cut(candidate.unit.drive)))
    point = operate(idle, airspeed=speed, air=air)
    stands = (point.flag_bits & int(INVALID)) != 0
    stands &= (point.flag_bits & int(INVALID & ~STANDS)) == 0
    return np.where(stands, still, -candidate.count * point.net_thrust)


def unpowered_drag_area(candidate: Candidate, *, air: Air, airspeed: Values) -> Array:
    """The same over the dynamic pressure of the flight [m^2]."""
    drag = unpowered_drag(candidate, air=air, airspeed=airspeed)
    return np.asarray(drag / (0.5 * air.density * np.square(airspeed)))


def _standing(unit: Ducted | OpenRotor, air: Air, speed: Array) -> Array:
    if isinstance(unit, Ducted):
        out = np.asarray(unit.nozzle.exit_area)
        loss = (STOPPED_LOSS * np.square(out / unit.rotor.eye_area)
                + unit.inlet.loss_coefficient * np.square(out / unit.inlet.throat_area)
                + unit.duct.loss_coefficient * np.square(out / unit.duct.area))
        return stopped_duct_drag(exit_area=out, density=air.density, airspeed=speed,
                                 loss_coefficient=loss)
    disc = np.pi / 4.0 * np.square(unit.diameter)
    return np.asarray(0.5 * air.density * np.square(speed) * disc * STANDING_SOLIDITY
                      * BROADSIDE_DRAG)
