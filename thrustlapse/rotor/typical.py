"""A typical dimensionless map and typical proportions of each ducted kind, for a machine known only
by readings of it as a whole.

Judgement, no source: every number here was chosen, none was fitted to a published machine. A
reading sets the level of the efficiency anew, so that mostly the shape matters: measured lines of
five machines, scaled, depart from the blower's by 1 to 6 % in head and 1 to 12 % in work, small
ones most. Those are lines scaled to lie upon it; where a machine known by its readings works on its
map is not known, and other wheels than centrifugal ones of that make bend otherwise. So
:mod:`thrustlapse.register` draws the form of a typical map far wider, by a factor of 1.25 in head
and 1.40 in power at each of four flows, and the size of its wheel, judged by
``tests.tools.benchmarks.readings_population``, where machines of other shapes are known so;
``python -m tests.tools.typical_maps`` tells how far off these maps are beside machines that they do
not know.

The usual working point is the middle of the flows at which an exit gives nearly the best thrust at
one power. A map ends well beyond the flow of no head: there a machine flown faster than its jet
works, a brake, and to leave such points out would leave out the slow half of what may be. An axial
fan's power falls from shut to free flow, a blower's rises (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from thrustlapse.arrays import Array, Values

TYPICAL_BASIS = "typical of its kind (judgement, no source)"
"""What a typical map's band rests on."""


@dataclass(frozen=True, kw_only=True)
class Typical:
    """Map coefficients as of ``CoefficientMap``, the usual working point, and proportions [-].

    ``flow`` and ``head`` are the coefficients there; ``losses`` of the whole way on the jet's
    dynamic pressure; ``eye`` and ``hub`` over tip diameter; ``throat`` the inlet's area over the
    exit's, from and to; ``drive`` the efficiency of motor and controller together.
    """

    coefficients: Mapping[str, float]
    flow: float
    head: float
    losses: float
    eye: float
    hub: float
    throat: tuple[float, float]
    drive: float = 0.75

    @property
    def tip_over_jet(self) -> float:
        """Tip speed over jet speed at the usual working point [-]."""
        return float(np.sqrt((1.0 + self.losses) / (2.0 * self.head)))

    def stretched(self, flow: float) -> dict[str, float]:
        """Coefficients of a machine that passes ``flow`` times as much at the same head."""
        powers = {"head_slope": -1, "head_curvature": -2, "work_slope": -1, "shutoff_power": 1,
                  "highest_flow": 1}
        return {name: value * flow ** powers.get(name, 0)
                for name, value in self.coefficients.items()}


TYPICAL: Mapping[str, Typical] = MappingProxyType({
    "blower": Typical(
        coefficients=MappingProxyType({
            "head_shutoff": 0.56, "head_slope": 0.2, "head_curvature": -16.0, "work_shutoff": 0.80,
            "work_slope": -1.35, "shutoff_power": 0.025, "highest_flow": 0.30}),
        flow=0.1, head=0.42, losses=0.5, eye=0.6, hub=0.0,
        throat=(1.0, 3.6)),
    "axial fan": Typical(
        coefficients=MappingProxyType({
            "head_shutoff": 0.27, "head_slope": -0.1, "head_curvature": -1.55,
            "work_shutoff": 0.045, "work_slope": -0.295, "shutoff_power": 0.058,
            "highest_flow": 0.60}),
        flow=0.23, head=0.165, losses=0.3, eye=1.0, hub=0.45,
        throat=(0.9, 2.2)),
})
"""By kind of candidate."""


def tip_diameter(kind: Typical, *, exit_diameter: Values) -> Array:
    """Rotor that works at its usual flow and head behind an exit [m].

    From psi U^2 = (1 + losses) V^2 / 2 and phi U D^2 = V A, with jet speed V and exit area A; the
    jet speed drops out.
    """
    return np.asarray(np.asarray(exit_diameter)
                      * np.sqrt(np.pi / (4.0 * kind.flow * kind.tip_over_jet)))
