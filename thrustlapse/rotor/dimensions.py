"""What calipers found on one machine, and the shaft speed its map is computed at."""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.arrays import Values
from thrustlapse.rotor.axial.geometry import AxialFanGeometry
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry
from thrustlapse.rotor.propeller.geometry import BladeGeometry


@dataclass(frozen=True, kw_only=True)
class Dimensions:
    """Geometry of one machine; ``shaft_speed`` [rad/s] is None where a table spans many."""

    geometry: CentrifugalGeometry | AxialFanGeometry | BladeGeometry
    shaft_speed: float | None = None

    @property
    def blades(self) -> Values:
        """Blades of the rotor."""
        if isinstance(self.geometry, AxialFanGeometry):
            return self.geometry.blade_count
        return self.geometry.blades
