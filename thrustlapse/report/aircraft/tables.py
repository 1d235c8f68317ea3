"""Tables of the aircraft: drag by part, performance with each candidate, at heights, in cruise."""

from __future__ import annotations

import math
from collections.abc import Callable

from thrustlapse.report.flight.verdict import ITEMS
from thrustlapse.report.number_format import (
    SOURCES,
    amount,
    area,
    force,
    number,
    percent,
    short_speed,
)
from thrustlapse.report.table import NONE, Table, or_none
from thrustlapse.study.aircraft_study_record import AircraftStudy, Cruise, PartShare, Performance
from thrustlapse.study.comparison import CandidateResult, Comparison

BEYOND = "beyond 20 km"
"""What is said of a ceiling that the standard atmosphere of this package does not reach."""


def aircraft_tables(comparison: Comparison) -> tuple[Table, ...]:
    """All of them; none without an aircraft."""
    if comparison.aircraft is None:
        return ()
    return (drag_by_part(comparison, comparison.aircraft),
            performance(comparison, comparison.aircraft),
            at_altitudes(comparison.aircraft), cruises(comparison.aircraft))


def drag_by_part(comparison: Comparison, aircraft: AircraftStudy) -> Table:
    """Every part of the airframe, the sum, and each candidate's own drag items."""
    source = aircraft.drag_source
    rows = [(part.name, area(part.drag_area), _bounds(part.drag_area_low, part.drag_area_high),
             percent(part.drag_area / source.drag_area), _thousands(part.reynolds), _made_of(part))
            for part in source.parts]
    rows.append(("airframe, the sum" if rows else "airframe", area(source.drag_area),
                 _bounds(source.drag_area_low, source.drag_area_high), percent(1.0),
                 NONE, NONE))
    for name, result in comparison.candidates.items():
        rows += [(f"{name}: {ITEMS.get(item, item)}", area(value), NONE,
                  percent(value / source.drag_area), NONE, "all units, at its top speed")
                 for item, value in result.external_drag_areas.items() if value > 0.0]
    return Table(name="drag", rows=tuple(rows),
                 heads=("part", "drag area", "may be", "share", "Re", "how"),
                 caption=(f"Parasite drag by part at {short_speed(source.reference_speed)}: skin "
                          "friction × wetted area × form factor × interference at a Reynolds "
                          "number, or drag coefficient × frontal area."
                          if source.parts else "Parasite drag.")
                 + f" Shares are of the airframe's. Induced drag comes on top. {_polar(aircraft)}.")


def _bounds(low: float, high: float) -> str:
    return NONE if not math.isfinite(low) else f"{number(1e4 * low)} to {area(high)}"


def _made_of(part: PartShare) -> str:
    if math.isfinite(part.coefficient):
        return f"{number(part.coefficient)} × {area(part.frontal_area)}"
    if not math.isfinite(part.wetted_area):
        return "of the skin's drag"
    return (f"{number(part.friction)} × {amount('wetted_area', part.wetted_area)} × "
            f"{number(part.form_factor)} × {number(part.interference)}")


def _thousands(value: float) -> str:
    return f"{number(value / 1e3)} k" if math.isfinite(value) else NONE


def _polar(aircraft: AircraftStudy) -> str:
    source = aircraft.drag_source
    text = (f"Polar {SOURCES[source.source]}: CDmin {number(source.minimum_drag_coefficient)}, "
            f"induced factor {number(source.induced_factor)}")
    if math.isfinite(source.span_efficiency):
        text += f", span efficiency {number(source.span_efficiency, 2)}"
    return text


def performance(comparison: Comparison, aircraft: AircraftStudy) -> Table:
    """Performance of the aircraft with each candidate, side by side."""
    flown = aircraft.performances
    results = comparison.candidates
    lines: list[tuple[str, Callable[[Performance, CandidateResult], str]]] = [
        ("total mass", lambda one, _: amount("total_mass", one.total_mass)),
        ("stall speed", lambda _, two: NONE if two.level is None
         else short_speed(two.level.stall_speed)),
        ("top speed over the drag's bounds", lambda one, _: _top_speeds(one)),
        ("launch speed needed", lambda one, _: or_none(one.launch_speed_needed, short_speed)),
        ("units needed to fly level", lambda one, _: f"none up to {one.most_units} will do"
         if one.units_needed is None else str(one.units_needed)),
        ("take-off run", lambda one, _: NONE if not aircraft.rolls else
         f"{number(one.take_off_run)} m, lifts off at {short_speed(one.lift_off_speed)}"
         if math.isfinite(one.take_off_run) else "does not take off"),
        ("best rate of climb", lambda one, _: _climb(one)),
        ("steepest climb", lambda one, _: f"{amount('steepest_angle', one.steepest_angle)} at "
         f"{short_speed(one.steepest_climb_speed)}" if one.steepest_angle > 0.0 else NONE),
        ("absolute ceiling", lambda one, _: _ceiling(one, one.absolute_ceiling)),
        (f"service ceiling ({_service(flown)})", lambda one, _: _ceiling(
            one, one.service_ceiling)),
        ("charge gone on the way up at", lambda one, _: or_none(
            one.pack_ceiling, lambda value: amount("pack_ceiling", value))),
        ("best glide, motor cut", lambda one, _: f"{number(one.best_glide_ratio)} at "
         f"{short_speed(one.best_glide_speed)}"),
        ("least sink, motor cut", lambda one, _: f"{short_speed(one.least_sink)} at "
         f"{short_speed(one.least_sink_speed)}"),
        ("least thrust to fly", lambda one, _: f"{force(one.least_thrust)} at "
         f"{short_speed(one.least_thrust_speed)}"),
        ("least thrust power to fly", lambda one, _: f"{number(one.least_power)} W at "
         f"{short_speed(one.least_power_speed)}"),
        ("longest endurance", lambda one, _: _cruise(one.longest, _stays)),
        ("its electrical power", lambda one, _: NONE if one.longest is None else or_none(
            one.longest.electrical_power, lambda value: f"{number(value)} W")),
        ("longest range", lambda one, _: _cruise(one.farthest, _goes)),
    ]
    rows = tuple((head, *(tell(flown[name], results[name]) for name in flown))
                 for head, tell in lines)
    return Table(name="performance", heads=("", *flown),
                 rows=tuple(row for row in rows if any(cell != NONE for cell in row[1:])),
                 caption="The aircraft with each candidate, at its own mass, all units at full "
                         "power; endurance and range at the part power that level flight needs, "
                         "from the pack's state of charge until a cell under load falls to "
                         f"{number(aircraft.cut_off_voltage)} V. Ceilings ask nothing of the pack; "
                         "where its charge is gone on the way up is told beside them, at most, for "
                         "thrust fades with it. Glides carry the drag of pods, not of a standing "
                         "rotor.")


def _service(flown: dict[str, Performance]) -> str:
    return short_speed(next(iter(flown.values())).service_rate)


def _top_speeds(one: Performance) -> str:
    slow, fast = one.slowest_top_speed, one.fastest_top_speed
    return f"{number(slow)} to {short_speed(fast)}" if math.isfinite(slow + fast) else NONE


def _climb(one: Performance) -> str:
    if not one.best_climb_rate > 0.0:
        return "cannot climb"
    return f"{short_speed(one.best_climb_rate)} at {short_speed(one.best_climb_speed)}"


def _ceiling(one: Performance, value: float) -> str:
    if math.isfinite(value):
        return amount("absolute_ceiling", value)
    return BEYOND if one.best_climb_rate > one.service_rate else NONE


def _cruise(one: Cruise | None, said: Callable[[Cruise], str]) -> str:
    if one is None:
        return NONE
    if not math.isfinite(one.endurance):
        return one.ending
    return f"{said(one)} at {short_speed(one.airspeed)}"


def _stays(one: Cruise) -> str:
    return amount("endurance", one.endurance)


def _goes(one: Cruise) -> str:
    return amount("distance", one.distance)


def at_altitudes(aircraft: AircraftStudy) -> Table:
    """Level top speed and best climb at heights."""
    flown = aircraft.performances
    heights = next(iter(flown.values())).altitudes.tolist()
    rows = [(amount("altitude", height), *(
        f"{or_none(float(one.top_speed_there[place]), short_speed)}, "
        f"{or_none(float(one.climb_rate_there[place]), short_speed)}" for one in flown.values()))
        for place, height in enumerate(heights)]
    return Table(name="altitudes", heads=("altitude", *flown), rows=tuple(rows),
                 caption="Level top speed, then best rate of climb, at heights above mean sea "
                         "level.")


def cruises(aircraft: AircraftStudy) -> Table:
    """Level flight at the airspeeds asked for."""
    rows = []
    for name, one in aircraft.performances.items():
        for flown in one.cruises:
            known = math.isfinite(flown.endurance)
            rows.append((name, short_speed(flown.airspeed),
                         f"{number(flown.electrical_power)} W" if known else NONE,
                         _stays(flown) if known else NONE, _goes(flown) if known else NONE,
                         flown.ending))
    return Table(name="cruises", rows=tuple(rows),
                 heads=("candidate", "airspeed", "electrical power", "endurance", "range",
                        "how it ends"),
                 caption="Level flight at the airspeeds asked for, until the pack counts as empty.")
