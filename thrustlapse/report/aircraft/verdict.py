"""Sentences on the aircraft: how it climbs and how long it flies, and what its drag rests on."""

from __future__ import annotations

import math

from thrustlapse.report.number_format import SOURCES, amount, area, listed, number, short_speed
from thrustlapse.study.aircraft_study_record import AircraftStudy
from thrustlapse.study.comparison import Comparison


def _top_speeds(aircraft: AircraftStudy) -> str:
    """What the bounds of drag do to top speeds, as the end of a sentence."""
    parts = [f"{name} {number(one.slowest_top_speed)} to {short_speed(one.fastest_top_speed)}"
             for name, one in aircraft.performances.items()
             if math.isfinite(one.slowest_top_speed + one.fastest_top_speed)]
    return f"; level top speeds then are {listed(parts)}" if parts else ""


def aircraft_sentences(comparison: Comparison) -> list[str]:
    """Climb and endurance of each candidate, and how far the drag is known."""
    if comparison.aircraft is None:
        return []
    said = []
    flown = comparison.aircraft.performances
    climbs = [f"{name} {short_speed(one.best_climb_rate)} at {short_speed(one.best_climb_speed)}"
              for name, one in flown.items() if one.best_climb_rate > 0.0]
    grounded = [name for name, one in flown.items() if not one.best_climb_rate > 0.0]
    if climbs:
        said.append(f"Best rate of climb: {listed(climbs)}"
                    + (f"; {listed(grounded)} cannot climb" if grounded else ""))
    stays = [f"{name} {amount('endurance', one.longest.endurance)} at "
             f"{short_speed(one.longest.airspeed)}" for name, one in flown.items()
             if one.longest is not None and math.isfinite(one.longest.endurance)]
    if stays:
        said.append(f"Longest level flight on this pack: {listed(stays)}")
    source = comparison.aircraft.drag_source
    if source.source != "given":
        said.append(f"The airframe's drag area of {area(source.drag_area)} is "
                    f"{SOURCES[source.source]}, and may be {area(source.drag_area_low)} to "
                    f"{area(source.drag_area_high)}"
                    + ("" if source.source == "parts" else " within one standard deviation")
                    + _top_speeds(comparison.aircraft))
    return said
