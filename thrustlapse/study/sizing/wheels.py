"""Wheels, fans and blades of any size from a few shape variables, by rules of proportion.

What a free design varies (rotor diameter, width or hub, blade angles) is here turned into a full
geometry for the models that make a map of it. Proportions are judgement, after the machines in
``tests/authorities``; gaps have a part that does not shrink with the machine, so that small ones
pay.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.rotor.axial.geometry import AxialFanGeometry, Vanes
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry

LEAST_GAP, GAP_SHARE = 0.10e-3, 0.004
"""Running gap: least that is built [m], and its growth with the rotor's diameter [-]
(judgement)."""

SMOOTH = 5e-6
"""Sand roughness of machined or moulded walls [m] (common practice, no source)."""

WHEEL_HUB = 0.20
"""Hub over tip diameter of a wheel [-] (judgement)."""

EYE_OVER_RIM = 1.1
"""Area of the eye over that of the rim: the air hardly slows in the wheel [-] (judgement)."""

WHEEL_BLADES, EYE_ANGLE = 9.0, np.deg2rad(60.0)
"""Blades, and their angle at the eye [rad] (judgement; the wheels known have 6 to 20, 45 to 65)."""

FAN_BLADES, VANES = 7.0, 9.0
"""Blades and vanes of a fan [-] (judgement)."""

SOLIDITY, SOLIDITY_STATION = 1.0, 0.65
"""Chord over spacing of a fan's blades and the station where it holds, over the tip radius [-]."""

DEVIATION = 0.25
"""Deviation over turning at that solidity [-], after Carter's rule for such staggers (from
memory)."""

STATIONS = np.linspace(0.25, 1.0, 7)


def eye_ratio(width: Array) -> Array:
    """Eye over tip diameter [-] of a wheel of a rim width over its tip diameter [-]."""
    return np.sqrt(WHEEL_HUB**2 + 4.0 * EYE_OVER_RIM * np.asarray(width))


def wheel(*, diameter: Array, width: Array, exit_angle: Array) -> CentrifugalGeometry:
    """Wheel, vaneless space and scroll.

    Parameters
    ----------
    diameter, width, exit_angle : array, (n,)
        Tip diameter [m], rim width over it [-], backward lean at the rim [rad]
    """
    rim, full = width * diameter, np.ones_like(diameter)
    swept = np.pi * diameter * rim
    return CentrifugalGeometry(
        eye_diameter=eye_ratio(width) * diameter, hub_diameter=WHEEL_HUB * diameter,
        outlet_diameter=diameter, outlet_width=rim, blades=WHEEL_BLADES * full,
        exit_angle=exit_angle, inlet_angle=EYE_ANGLE * full, blade_thickness=0.02 * diameter,
        tip_clearance=LEAST_GAP + GAP_SHARE * diameter, roughness=SMOOTH * full,
        disc_gap=0.02 * diameter, diffuser_diameter=1.15 * diameter, diffuser_width=1.15 * rim,
        throat_area=0.5 * swept, exit_area=1.2 * swept,
        exit_cone_angle=np.deg2rad(8.0) * full, splitters=0.0 * full)


def fan(*, diameter: Array, hub_ratio: Array, flow_angle: Array, swirl: Array) -> AxialFanGeometry:
    """Rotor and vanes of an axial stage with the same swirl at every radius.

    Parameters
    ----------
    diameter, hub_ratio : array, (n,)
        Tip diameter [m], hub over tip [-]
    flow_angle, swirl : array, (n,)
        Axial speed and swirl the blades are set for, over the tip speed [-]
    """
    axial, turned = flow_angle[:, None], swirl[:, None] + 0.0 * STATIONS
    entry, leaving = np.arctan2(STATIONS, axial), np.arctan2(STATIONS - turned, axial)
    camber = (1.0 + DEVIATION) * (entry - leaving)
    chord = (SOLIDITY * np.pi * SOLIDITY_STATION * diameter / FAN_BLADES)[:, None] + 0.0 * STATIONS
    vane_camber = (1.0 + DEVIATION) * np.arctan2(turned, axial)
    full = np.ones_like(diameter)
    vanes = Vanes(count=VANES * full, station=STATIONS, chord=FAN_BLADES / VANES * chord,
                  stagger=np.arctan2(turned, axial) - 0.5 * vane_camber, camber=vane_camber,
                  thickness_ratio=0.06 * full)
    return AxialFanGeometry(
        tip_diameter=diameter, hub_diameter=hub_ratio * diameter, blade_count=FAN_BLADES * full,
        tip_clearance=LEAST_GAP + GAP_SHARE * diameter, station=STATIONS, chord=chord,
        stagger=entry - 0.5 * camber, camber=camber, thickness_ratio=0.08 * full,
        roughness=SMOOTH * full, vanes=vanes)
