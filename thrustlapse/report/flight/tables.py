"""Tables of the flight: side by side, legs, events, and whether an airspeed is passed."""

from __future__ import annotations

import math
from collections.abc import Callable

from thrustlapse.glossary import read_as
from thrustlapse.report.flight.words import changes, duration, energy, way
from thrustlapse.report.number_format import amount, newtons, number, percent, short_speed
from thrustlapse.report.table import NONE, Table, or_none
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flight_study_record import FlightStudy, Flown, Track


def flight_tables(comparison: Comparison) -> tuple[Table, ...]:
    """All of them; none where no flight is flown."""
    study = comparison.flights
    if study is None or not study.flights:
        return ()
    return _side(study), _passing(study), _legs(study), _events(study)


def _side(study: FlightStudy) -> Table:
    lines: list[tuple[str, Callable[[Flown], str]]] = [
        ("total mass", lambda one: amount("total_mass", one.mass)),
        ("top speed at launch", lambda one: or_none(one.top_speed, short_speed)),
        ("time to 95 % of it", lambda one: or_none(one.near_top_time, duration)),
        ("distance to 95 % of it", lambda one: or_none(one.near_top_distance, way)),
        ("energy to 95 % of it", lambda one: or_none(one.near_top_energy, energy)),
        ("why not", lambda one: NONE if math.isfinite(one.near_top_time)
         else one.near_top_reason),
        ("flight", lambda one: "whole" if one.completed else "breaks off"),
        ("its time", lambda one: duration(one.time)),
        ("its distance", lambda one: way(one.distance)),
        ("energy from the pack", lambda one: energy(one.energy)),
        ("charge left", lambda one: percent(one.state_of_charge)),
        ("hottest motor", lambda one: _hottest(one.track, "motor")),
        ("hottest pack", lambda one: _hottest(one.track, "pack")),
        ("error of the energy balance", lambda one: f"{one.books_miss:.1e}"),
        ("worst error of the interpolated machine", lambda one:
         f"{max(one.thrust_error, one.current_error):.1e}"),
    ]
    flights = study.flights
    rows = tuple((head, *(tell(one) for one in flights.values())) for head, tell in lines)
    return Table(name="flight", heads=("", *flights), caption="The flight, side by side. 95 % of "
                 "top speed is timed in a run of its own, level at full power from the launch.",
                 rows=tuple(row for row in rows if any(cell != NONE for cell in row[1:])))


def _hottest(track: Track, part: str) -> str:
    values = track.motor_temperature if part == "motor" else track.pack_temperature
    if not math.isfinite(float(values[0])):
        return NONE
    return f"{number(read_as(float(values.max()), 'degC'))} °C"


def _passing(study: FlightStudy) -> Table:
    rows = []
    for name, flight in study.flights.items():
        one = flight.passing
        if one is not None:
            rows.append((name, "yes" if one.passed else "no", newtons(one.spare),
                         short_speed(one.at), NONE if one.passed else changes(one)))
    where = "" if study.passing_speed is None else short_speed(study.passing_speed)
    return Table(name="passing", rows=tuple(rows), heads=(
        "candidate", f"passes {where}", "least thrust over drag", "at", "what would let it"),
        caption=f"Whether {where} is passed in level flight from the launch, at the height and on "
                "the pack of the launch. Each change is one alone, all else as it is; an aircraft "
                "of other mass is launched no faster.")


def _legs(study: FlightStudy) -> Table:
    rows = []
    for name, flight in study.flights.items():
        for place, leg in enumerate(flight.legs):
            begun = math.isfinite(leg.start)
            rows.append((
                f"{name}: {place} {leg.name}", duration(leg.end - leg.start) if begun else NONE,
                way(leg.distance) if begun else NONE, energy(leg.energy) if begun else NONE,
                or_none(leg.airspeed, short_speed), or_none(leg.height, way), leg.reason))
    return Table(name="legs", rows=tuple(rows), heads=(
        "leg", "time", "distance", "energy", "airspeed at its end", "height at its end",
        "how it ended"), caption="The legs as flown. A leg that begins faster or slower than it "
        "is flown gets to its airspeed first; that belongs to it.")


def _events(study: FlightStudy) -> Table:
    rows = []
    for name, flight in study.flights.items():
        rows += [(f"{name}: {duration(event.time)}", event.text, short_speed(event.airspeed),
                  way(event.height), percent(event.state_of_charge)) for event in flight.events]
    return Table(name="events", rows=tuple(rows), heads=(
        "when", "what", "airspeed", "height", "charge left"), caption="What happened when.")
