"""An airframe's polar as lines for a terminal: what it is, how well known, what was assumed."""

from __future__ import annotations

import math

import numpy as np

from thrustlapse.aircraft.drag import Airframe, drag_area
from thrustlapse.aircraft.drag_basis import DragBasis
from thrustlapse.report.number_format import SOURCES, area, number


def airframe_lines(airframe: Airframe, basis: DragBasis) -> list[str]:
    """The polar in a line, then every assumption."""
    least = float(np.asarray(airframe.minimum_drag_coefficient))
    text = f"drag {SOURCES[basis.source]}: CDmin {number(least)}"
    if math.isfinite(basis.low):
        text += f" ({number(basis.low)} to {number(basis.high)})"
    text += (f", drag area {area(float(drag_area(airframe)))}, induced factor "
             f"{number(float(np.asarray(airframe.induced_factor)))}")
    if basis.induced_deviation > 0.0:
        text += f" ± {number(basis.induced_deviation, 2)}"
    if math.isfinite(basis.span_efficiency):
        text += f", span efficiency {number(basis.span_efficiency, 2)}"
    return [text, *basis.told]
