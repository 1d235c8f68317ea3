"""Wire, connector, switch and fuse between the pack and the controllers, and what they stand.

Copper wire by American wire gauge. The current in air of :data:`CHASSIS` is a rule of thumb, not a
code rating; the insulation, a bundle or a closed box can ask for less.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import Array, Values

CHASSIS = {6: 101.0, 8: 73.0, 10: 55.0, 12: 41.0, 14: 32.0, 16: 22.0, 18: 16.0, 20: 11.0, 22: 7.0,
           24: 3.5}
"""Current in open air [A] by gauge: Handbook of Electronic Tables and Formulas, as quoted on
wire-gauge pages."""

COPPER_RESISTIVITY = 1.724e-8
"""Resistivity of annealed copper at 20 degC [ohm m] (International Annealed Copper Standard)."""


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """What stands between pack and controllers; what is unknown is not checked.

    ``gauge`` of the pack's wire (a key of :data:`CHASSIS`) and its ``length`` there and back [m].
    ``ratings`` by their keys of the table ``[wiring]``, SI, such as ``connector_rating`` [A]: only
    those that are given, so that a new rating needs no line here. The supply carries the wire's
    resistance already: nothing is added.
    """

    gauge: int | None = None
    length: float | None = None
    ratings: Mapping[str, Values] = field(default_factory=dict)


def wire_diameter(*, gauge: Values) -> Array:
    """Diameter of a solid wire [m]: 0.005 inch times 92^((36 - gauge) / 39), the gauge's law."""
    return np.asarray(0.005 * 0.0254 * 92.0 ** ((36.0 - np.asarray(gauge)) / 39.0))


def wire_resistance(*, gauge: Values, length: Values) -> Array:
    """Resistance of a copper wire at 20 degC [ohm]; 0.39 % more for each degree above."""
    area = 0.25 * np.pi * np.square(wire_diameter(gauge=gauge))
    return np.asarray(COPPER_RESISTIVITY * np.asarray(length) / area)
