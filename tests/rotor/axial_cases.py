"""Axial fans the tests share: made up, sized by free-vortex triangles."""

from __future__ import annotations

from typing import Any

import numpy as np

from thrustlapse.rotor.axial.geometry import AxialFanGeometry, Vanes

HUB_RATIO = 0.43
STATION = np.array([0.43, 0.55, 0.65, 0.77, 0.9, 1.0])


def free_vortex_fan(*, diameter: float = 0.07, with_vanes: bool = True, gap_share: float = 0.02,
                    **changes: Any) -> AxialFanGeometry:
    """Nine blades for Vx / U = 0.45 and a work of 0.16 U^2, and seven straightening vanes."""
    radius = 0.5 * diameter * STATION
    swirl = 0.16 / STATION
    inlet = np.arctan(STATION / 0.45)
    outlet = np.arctan((STATION - swirl) / 0.45)
    turning = inlet - outlet
    chord = np.interp(STATION, [0.43, 1.0], [1.3, 0.7]) * 2.0 * np.pi * radius / 9.0
    absolute = np.arctan(swirl / 0.45)
    vanes = Vanes(count=7.0, station=STATION, chord=np.full(6, 0.29 * diameter),
                  stagger=0.5 * absolute - np.radians(2.0), camber=absolute + np.radians(6.0))
    values: dict[str, Any] = {
        "tip_diameter": diameter, "hub_diameter": HUB_RATIO * diameter, "blade_count": 9.0,
        "tip_clearance": gap_share * 0.5 * diameter * (1.0 - HUB_RATIO), "station": STATION,
        "chord": chord, "stagger": 0.5 * (inlet + outlet),
        "camber": 1.35 * turning + np.radians(4.0), "vanes": vanes if with_vanes else None}
    return AxialFanGeometry(**{**values, **changes})
