"""A flight log: airspeed, height, volts and amps against time, one row each.

How the file is written, spreads included, is told in
:mod:`thrustlapse.scenario.readings.table`; the columns are :data:`COLUMNS`.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator

import numpy as np

from thrustlapse.aircraft.flight_log import LEAST_READINGS, FlightLog
from thrustlapse.arrays import Array
from thrustlapse.scenario.faults import Fault
from thrustlapse.scenario.readings.heading import Column
from thrustlapse.scenario.readings.table import Table, read_table, starter

NOUN = "a flight log"
STARTER_HINT = "write a commented starter with: thrustlapse log new FILE.csv"

COLUMNS = (
    Column(name="time", heading="time", kind="time", low=0.0, high=1e6, unit="s",
           slips=("seconds", "t"), meaning="since the log began, rising"),
    Column(name="airspeed", heading="airspeed", kind="speed", low=0.0, high=300.0, unit="m/s",
           slips=("speed", "velocity"),
           meaning="true airspeed; over the ground only on a windless day"),
    Column(name="height", heading="height", kind="length", low=-500.0, high=9000.0, unit="m",
           also=("altitude",), meaning="above the site of the scenario"),
    Column(name="voltage", heading="voltage", kind="voltage", low=0.0, high=1000.0, unit="V",
           also=("supply voltage",), slips=("volts", "v"), meaning="at the pack's terminals"),
    Column(name="current", heading="current", kind="current", low=0.0, high=1000.0, unit="A",
           also=("supply current",), slips=("amps", "amperes", "a"), meaning="out of the pack"),
    Column(name="load_factor", heading="load factor", kind="ratio", low=0.0, high=20.0,
           slips=("g",), meaning="lift over weight in turns; 1 where the column is missing"),
    Column(name="bank", heading="bank", kind="angle", low=-1.5, high=1.5, unit="deg",
           slips=("roll", "bank angle"),
           meaning="of the wings, either sign; gives the load factor where that is not logged"),
    Column(name="ground_speed", heading="ground speed", kind="speed", low=0.0, high=300.0,
           unit="m/s", slips=("groundspeed", "gps speed"), meaning="over the ground; with track or "
           "heading it tells the wind and corrects the airspeed"),
    Column(name="track", heading="track", kind="angle", low=-math.tau, high=math.tau, unit="deg",
           slips=("course",), meaning="direction of motion over the ground, from north clockwise"),
    Column(name="heading", heading="heading", kind="angle", low=-math.tau, high=math.tau,
           unit="deg", slips=("yaw",), meaning="direction of the nose, from north clockwise"),
)
"""What a flight log may hold."""

NEEDED = ("time", "airspeed", "height", "voltage", "current")

USUAL_DEVIATION = {"airspeed": 0.5, "height": 1.0}
"""Standard deviation of a reading where none is stated [m/s], [m]: a small pitot tube, a small
barometer; common practice, no source."""


def read_log(path: str | os.PathLike[str]) -> FlightLog:
    """Readings of a flight log.

    Parameters
    ----------
    path : str or path-like
        A CSV file as ``thrustlapse log new`` writes one

    Raises
    ------
    ScenarioError
        With every fault of the file in ``faults`` and all of them in its message.
    """
    return _log(read_table(path, COLUMNS, noun=NOUN, starter_hint=STARTER_HINT,
                           check=_contradictions))


def log_starter() -> str:
    """A commented flight log with invented readings, to be changed."""
    return starter(COLUMNS, "log_starter.csv")


def _contradictions(table: Table) -> Iterator[Fault]:
    """Columns that are missing, cells that are empty, times that do not rise."""
    headings = {column.name: column.example_heading() for column in COLUMNS}
    for name in NEEDED:
        if name not in table.given:
            yield Fault(file=table.file, line=0, key=f'column "{headings[name]}"', value="",
                        problem="missing", accepted="a column of that heading, in any unit of its "
                        "kind", hint=STARTER_HINT)
            continue
        for row in np.flatnonzero(np.isnan(table.values[name])):
            yield table.fault(int(row), name, "empty or not read",
                              "a reading in every row: delete rows that lack one")
    time = table.values["time"]
    for row in np.flatnonzero(np.diff(time) <= 0.0):
        yield table.fault(int(row) + 1, "time", "does not rise from row to row",
                          "times in rising order, none twice")
    if time.size < LEAST_READINGS:
        yield Fault(file=table.file, line=0, key="", value="",
                    problem=f"{time.size} readings", accepted=f"{LEAST_READINGS} or more")


def _log(table: Table) -> FlightLog:
    def deviation(name: str) -> Array:
        stated = table.spread[name]
        return np.where(np.isnan(stated) | (stated == 0.0), USUAL_DEVIATION[name], stated)

    def given(name: str) -> Array | None:
        return table.values[name] if name in table.given else None

    load, bank = table.values["load_factor"], given("bank")
    told = list(table.told)
    told += [f"{name}: {USUAL_DEVIATION[name]:g} {unit} taken as standard deviation of a reading"
             for name, unit in (("airspeed", "m/s"), ("height", "m"))
             if not np.any(table.spread[name] > 0.0)]
    return FlightLog(
        **{name: table.values[name] for name in NEEDED},
        load_factor=np.where(np.isnan(load), 1.0, load) if "load_factor" in table.given else None,
        bank=None if bank is None else np.where(np.isnan(bank), 0.0, bank),
        ground_speed=given("ground_speed"), track=given("track"), heading=given("heading"),
        airspeed_deviation=deviation("airspeed"), height_deviation=deviation("height"),
        source=table.file, told=tuple(told))
