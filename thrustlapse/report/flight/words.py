"""Numbers of a flight as people read them, and its sentences for the verdict."""

from __future__ import annotations

import math

from thrustlapse.aircraft.sizing import Passing
from thrustlapse.report.number_format import (
    NOTHING,
    amount,
    area,
    listed,
    newtons,
    number,
    short_speed,
)
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flight_study_record import FlightStudy


def duration(value: float) -> str:
    """A time: seconds up to two minutes, then minutes and seconds."""
    if not math.isfinite(value):
        return NOTHING
    if value < 120.0:
        return f"{number(value)} s"
    whole = round(value)
    return f"{whole // 60} min {whole % 60} s" if whole < 7200 else f"{number(value / 3600.0)} h"


def way(value: float) -> str:
    """A distance or height: metres, from 2 km up kilometres."""
    if not math.isfinite(value):
        return NOTHING
    if abs(value) < 1e-6:
        return "0 m"
    return f"{number(value)} m" if abs(value) < 2000.0 else f"{number(value / 1000.0)} km"


def energy(value: float) -> str:
    """An energy in watt-hours."""
    return f"{number(value / 3600.0)} Wh" if math.isfinite(value) else NOTHING


def flight_sentences(comparison: Comparison) -> list[str]:
    """Who gets near top speed how soon, whose flight is whole, and who passes the crossover."""
    study = comparison.flights
    if study is None:
        return []
    said = []
    near = {name: one for name, one in study.flights.items() if math.isfinite(one.near_top_time)}
    if near:
        parts = [f"{name} after {duration(one.near_top_time)} and {way(one.near_top_distance)}"
                 for name, one in near.items()]
        said.append(f"Flown level from the launch, 95 % of top speed is reached by {listed(parts)}")
    whole = [f"{name} {energy(one.energy)} in {duration(one.time)}"
             for name, one in study.flights.items() if one.completed]
    if whole:
        said.append(f"All legs of the flight are flown; from the pack they take: {listed(whole)}"
                    if len(whole) == len(study.flights) + len(study.not_flown) else
                    f"The whole flight is flown by: {listed(whole)}")
    said += [f"The flight with {name} is not flown to its end: {one.reason}"
             for name, one in study.flights.items() if not one.completed]
    return said + _passing(study)


def _passing(study: FlightStudy) -> list[str]:
    if study.passing_speed is None:
        return []
    known = {name: one.passing for name, one in study.flights.items() if one.passing is not None}
    passed = [name for name, one in known.items() if one.passed]
    where = short_speed(study.passing_speed)
    said = []
    if passed:
        said.append(f"With the pack as launched, {listed(passed)} "
                    f"{'passes' if len(passed) == 1 else 'pass'} {where} in level flight from the "
                    "launch")
    return said + [f"{name} does not pass {where}: {why_not(one)}"
                   for name, one in known.items() if not one.passed]


def why_not(one: Passing) -> str:
    """What stands in the way of an airspeed, and which single change would let it."""
    text = (f"at {short_speed(one.at)} thrust is {newtons(-one.spare)} short of drag"
            if math.isfinite(one.spare) else "its thrust is not known all the way, or it is "
            "launched below the stall")
    found = changes(one)
    return f"{text}; {found if found.startswith('no ') else 'alone would let it: ' + found}"


def changes(one: Passing) -> str:
    """Single changes that would let an airspeed be passed."""
    found = []
    if math.isfinite(one.drag_area) and one.drag_area < one.drag_area_now:
        found.append(f"the airframe's drag area down from {area(one.drag_area_now)} to "
                     f"{area(one.drag_area)}")
    if math.isfinite(one.airframe_mass) and one.airframe_mass < one.airframe_mass_now:
        found.append(f"its mass down from {amount('airframe_mass', one.airframe_mass_now)} to "
                     f"{amount('airframe_mass', one.airframe_mass)}")
    if one.count is not None and one.count != one.count_now:
        found.append(f"{one.count} units in place of {one.count_now}")
    if not found:
        return (f"no drag area, no mass and no number of units up to {one.most_units} alone would "
                "let it")
    return ("either " if len(found) == 2 else "") + " or ".join(found)
