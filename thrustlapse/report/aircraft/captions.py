"""Words of the aircraft's figures: titles, captions, and the figures described."""

from __future__ import annotations

import math

import numpy as np

from thrustlapse.report.aircraft.figures import figure_climb, figure_drag
from thrustlapse.report.number_format import SOURCES, area, listed, short_speed
from thrustlapse.report.plot import Plot
from thrustlapse.study.comparison import Comparison


def describe_drag(comparison: Comparison) -> str:
    """The bars in words."""
    if comparison.aircraft is None:
        return "No aircraft is given."
    source = comparison.aircraft.drag_source
    parts = [f"{part.name} {area(part.drag_area)}"
             for part in sorted(source.parts, key=lambda part: -part.drag_area)]
    band = (f" ({area(source.drag_area_low)} to {area(source.drag_area_high)})"
            if math.isfinite(source.drag_area_low) else "")
    own = [f"{name} {area(sum(result.external_drag_areas.values()))}"
           for name, result in comparison.candidates.items()]
    return ("Bar chart of drag areas. "
            + (f"Parts: {listed(parts)}. " if parts else "")
            + f"Airframe {area(source.drag_area)}{band}, {SOURCES[source.source]}. Each "
              f"candidate's own: {listed(own)}.")


def describe_climb(comparison: Comparison) -> str:
    """The curves in words."""
    if comparison.aircraft is None:
        return "No aircraft is given."
    parts = []
    for name, one in comparison.aircraft.performances.items():
        if not one.best_climb_rate > 0.0:
            parts.append(f"{name} cannot climb")
            continue
        rising = one.airspeed[np.isfinite(one.climb_rate) & (one.climb_rate > 0.0)]
        # a climb that is hardly one may lie between two points of the curve
        reach = np.append(rising, one.best_climb_speed)
        parts.append(f"{name} climbs best with {short_speed(one.best_climb_rate)} at "
                     f"{short_speed(one.best_climb_speed)}, and climbs from "
                     f"{short_speed(float(reach.min()))} to {short_speed(float(reach.max()))}")
    return f"Line chart of rate of climb against airspeed. {'; '.join(parts)}."


PLOTS = (
    Plot(
        name="drag", title="Drag by part",
        draw=figure_drag, describe=describe_drag,
        caption="Parasite drag of the airframe by part as drag area, drag over dynamic pressure; "
                "below the sum, in colour, what each candidate adds of its own at its top speed. "
                "Lines: the least and the most a part may have, from the longest laminar run and "
                "the smallest form factor to a rough skin and the greatest, or one standard "
                "deviation of a measurement. Induced drag comes on top."),
    Plot(
        name="climb", title="Rate of climb at full power",
        draw=figure_climb, describe=describe_climb,
        caption="Rate of climb of the aircraft with each candidate at full power against "
                "airspeed, from the stall up, at its own mass, at the site, with the pack at its "
                "state of charge; stars: the best of each. Where a curve crosses zero it flies "
                "level."),
)
