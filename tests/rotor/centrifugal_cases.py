"""Made-up centrifugal machines the tests share. None is a measured machine."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Values
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry
from thrustlapse.rotor.centrifugal.scroll_sizing import ScrollDesign
from thrustlapse.rotor.centrifugal.stage import CentrifugalStage, centrifugal_stage

MM = 1e-3
PRESSURE, TEMPERATURE = 101_325.0, 288.15

SUCTION_WHEEL = CentrifugalGeometry(
    eye_diameter=20 * MM, hub_diameter=8 * MM, outlet_diameter=40 * MM, outlet_width=3.5 * MM,
    blades=9.0, exit_angle=float(np.deg2rad(45)), inlet_angle=float(np.deg2rad(60)),
    blade_thickness=0.7 * MM, tip_clearance=0.2 * MM, roughness=3e-6, disc_gap=0.5 * MM,
    diffuser_diameter=46 * MM, diffuser_width=4 * MM, throat_area=110e-6, exit_area=165e-6,
    exit_cone_angle=float(np.deg2rad(9)))
"""Of the suction-cleaner kind: 40 mm, 9 blades, 45 degrees of lean."""

SUCTION_SPEED = 100_000 * np.pi / 30
"""Its shaft speed [rad/s]."""


def wheel(**changes: Any) -> CentrifugalGeometry:
    """The suction wheel with some dimensions changed."""
    return replace(SUCTION_WHEEL, **changes)


def scaled(geometry: CentrifugalGeometry, factor: Values) -> CentrifugalGeometry:
    """The same shape at another size, gaps and roughness included."""
    lengths = ("eye_diameter", "hub_diameter", "outlet_diameter", "outlet_width",
               "blade_thickness", "tip_clearance", "roughness", "disc_gap", "diffuser_diameter",
               "diffuser_width")
    areas = ("throat_area", "exit_area")
    return replace(geometry, **{name: getattr(geometry, name) * factor for name in lengths},
                   **{name: getattr(geometry, name) * factor**2 for name in areas})


def stage(geometry: CentrifugalGeometry = SUCTION_WHEEL, *, shaft_speed: Values = SUCTION_SPEED,
          **state: Any) -> CentrifugalStage:
    """Its map in standard air."""
    return centrifugal_stage(geometry, shaft_speed=shaft_speed,
                             **{"total_pressure": PRESSURE, "total_temperature": TEMPERATURE}
                             | state)


def with_scroll(geometry: CentrifugalGeometry, design: ScrollDesign) -> CentrifugalGeometry:
    """The same machine with this scroll, cone and casing finish; its map must be made again."""
    return replace(geometry, diffuser_diameter=2.0 * design.duty.base_radius,
                   throat_area=design.throat_area, exit_area=design.exit_area,
                   exit_cone_angle=design.cone_angle, casing_roughness=design.roughness)
