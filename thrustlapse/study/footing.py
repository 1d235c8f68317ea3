"""The footing of a comparison: what is held equal while candidates are compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray, take
from thrustlapse.propulsor.basis import EQUAL_POWER, PER_AREA, PER_MASS, Basis
from thrustlapse.propulsor.candidate import Candidate, operate, with_power_limit
from thrustlapse.propulsor.operating_point import OperatingPoint

REACHED = 1e-3
"""Relative shortfall of pack power up to which a candidate counts as reaching the reference."""


@dataclass(frozen=True, kw_only=True)
class Footing:
    """How every candidate of one comparison is operated and measured."""

    basis: Basis
    candidates: Mapping[str, Candidate]

    def of_some(self, shape: tuple[int, int], index: IntArray) -> Footing:
        """The same for some of many cases of ``shape`` (cases, 1)."""
        held = self.basis.reference
        rivals = {} if held is None else {held: take(self.candidates[held], shape, index)}
        return Footing(basis=take(self.basis, shape, index), candidates=rivals)

    def fly(self, candidate: Candidate, airspeed: Array,
            altitude: Array | None = None) -> OperatingPoint:
        """Operating points of a candidate on this footing at airspeeds [m/s].

        ``altitude`` is above mean sea level [m]; the site's where None.
        """
        return operate(self.held(candidate, airspeed, altitude), airspeed=airspeed,
                       altitude=altitude)

    def held(self, candidate: Candidate, airspeed: Array,
             altitude: Array | None = None) -> Candidate:
        """A candidate held to the power of this footing at airspeeds [m/s]."""
        power = self.reference_power(airspeed, altitude)
        return candidate if power is None else with_power_limit(candidate, power)

    def reference_power(self, airspeed: Array, altitude: Array | None = None) -> Array | None:
        """Electrical power all candidates are held to at airspeeds [W]; None where as given."""
        if self.basis.footing != EQUAL_POWER:
            return None
        if self.basis.electrical_power is not None:
            return np.asarray(self.basis.electrical_power + np.zeros(np.shape(airspeed)))
        assert self.basis.reference is not None
        return operate(self.candidates[self.basis.reference], airspeed=airspeed,
                       altitude=altitude).electrical_power

    def measure(self, candidate: Candidate, point: OperatingPoint) -> Array:
        """What is compared: installed thrust [N], or per mass [N/kg], or per area [N/m^2]."""
        if self.basis.footing == PER_MASS:
            return np.asarray(point.installed_thrust / np.asarray(candidate.installed_mass))
        if self.basis.footing == PER_AREA:
            area = candidate.count * np.asarray(candidate.installation.frontal_area)
            return np.asarray(point.installed_thrust / area)
        return point.installed_thrust

    def short_of_reference(self, point: OperatingPoint) -> Array:
        """Where a candidate's drive or map does not draw the reference power (as 0 or 1)."""
        power = self.reference_power(point.airspeed)
        if power is None:
            return np.zeros(point.shape)
        with np.errstate(invalid="ignore"):
            return np.where(point.electrical_power < power * (1.0 - REACHED), 1.0, 0.0)
