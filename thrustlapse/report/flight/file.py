"""``flights.csv``: every candidate's flight at its samples, SI units in the header."""

from __future__ import annotations

from typing import Any

from thrustlapse.aircraft.flight_record import SPENT
from thrustlapse.glossary import key
from thrustlapse.report.csv_cells import csv_text
from thrustlapse.study.flight_study_record import FlightStudy

COLUMNS = {
    "time": "time", "distance": "distance", "height": "height", "airspeed": "airspeed",
    "thrust": "flight_thrust", "drag": "flight_drag", "external_drag": "external_drag",
    "electrical_power": "electrical_power", "current": "current",
    "terminal_voltage": "terminal_voltage", "shaft_speed": "shaft_speed",
    "state_of_charge": "state_of_charge", "motor_temperature": "motor_temperature",
    "pack_temperature": "pack_temperature"}
"""Field of a track, and its word of the glossary."""

BOOKS = ("pack_energy", "launcher_work", *SPENT, "residual")
"""Energies since the launch, in the order of the books."""


def flights_text(study: FlightStudy) -> str:
    """The text of ``flights.csv``: one row per candidate and sample, empty where no value."""
    rows: list[list[Any]] = []
    for name, flight in study.flights.items():
        track = flight.track
        columns = [getattr(track, field).tolist() for field in COLUMNS]
        columns += [track.books[book].tolist() for book in BOOKS]
        for leg, *values in zip(track.leg.tolist(), *columns, strict=True):
            rows.append([name, int(leg), flight.legs[int(leg)].name, *values])
    return csv_text(["candidate", "leg", "leg_name", *map(key, COLUMNS.values()),
                     *(f"{name}_J" for name in BOOKS)], rows)
