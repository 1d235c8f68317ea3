"""``flights.csv``: every candidate's flight at its samples, SI units in the header."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

from thrustlapse.aircraft.flight_record import SPENT
from thrustlapse.glossary import key
from thrustlapse.report.csv_cells import plain_cell
from thrustlapse.report.staging import write_file
from thrustlapse.study.comparison import Comparison
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


def write_flights(comparison: Comparison, path: Path | str) -> None:
    """Write the flights as CSV; nothing where none is flown."""
    if comparison.flights is not None:
        write_file(Path(path), flights_text(comparison.flights))


def flights_text(study: FlightStudy) -> str:
    """The text of ``flights.csv``: one row per candidate and sample, empty where no value."""
    out = io.StringIO(newline="")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["candidate", "leg", "leg_name", *(key(word) for word in COLUMNS.values()),
                    *(f"{name}_J" for name in BOOKS)])
    for name, flight in study.flights.items():
        track = flight.track
        columns = [getattr(track, field).tolist() for field in COLUMNS]
        columns += [track.books[book].tolist() for book in BOOKS]
        for leg, *values in zip(track.leg.tolist(), *columns, strict=True):
            place = int(leg)
            table.writerow([plain_cell(name), place, plain_cell(flight.legs[place].name),
                            *(repr(value) if math.isfinite(value) else "" for value in values)])
    return out.getvalue()
