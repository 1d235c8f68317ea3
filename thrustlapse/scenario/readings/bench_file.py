"""A bench file: the readings of one machine, one row each, any subset of the columns.

How the file is written, spreads included, is told in
:mod:`thrustlapse.scenario.readings.table`; the columns are :data:`COLUMNS`. What is reduced on
reading: push and pull readings of a rolling stand into thrust and friction, and a weather report's
pressure into that at the bench.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.bench.air_density import station_pressure
from thrustlapse.bench.readings import (
    CONDITIONS,
    MEASURED,
    READ,
    UNNAMED,
    BenchReadings,
    bench_readings,
)
from thrustlapse.bench.rolling_stand import reduce_stand
from thrustlapse.scenario.faults import Fault
from thrustlapse.scenario.readings.heading import Column
from thrustlapse.scenario.readings.table import Table, read_table, starter
from thrustlapse.scenario.units import in_si

NOUN = "a bench file"
STARTER_HINT = "write a commented starter with: thrustlapse bench new FILE.csv"

MOST_ROWS = 5000
"""Readings of a bench file."""

MOST_UNITS = 1000.0
"""Machines that run together on one bench."""

COLUMNS = (
    Column(name="setting", heading="drive setting", kind="words", also=("setting",),
           meaning="a word for the switch or throttle; rows with the same word share it"),
    Column(name="duty", heading="duty", kind="ratio", low=0.0, high=1.0, unit="%",
           also=("throttle",), meaning="share of the supply voltage the controller passes on"),
    Column(name="units", heading="units", kind="ratio", low=1.0, high=MOST_UNITS,
           slips=("count",), meaning="machines that ran together; one where the column is empty"),
    Column(name="nozzle_diameter", heading="nozzle exit diameter", kind="length", low=1e-3,
           high=1.0, unit="mm", also=("nozzle diameter",), slips=("nozzle", "exit diameter"),
           meaning="bore of the exit the jet leaves by"),
    Column(name="inlet_blocked", heading="inlet blocked", kind="yes or no",
           meaning="yes where it was shut: for seconds only, the motor overheats"),
    Column(name="outlet_blocked", heading="outlet blocked", kind="yes or no",
           also=("nozzle blocked",), meaning="the same for the nozzle"),
    Column(name="orifice_diameter", heading="orifice diameter", kind="length", low=1e-3, high=0.5,
           unit="mm", slips=("orifice", "hole"),
           meaning="hole in a thin plate before the inlet"),
    Column(name="suction", heading="orifice suction", kind="pressure", low=0.0, high=9e4,
           unit="kPa", also=("suction",), slips=("vacuum",),
           meaning="how far the pressure behind that plate lies below the room's"),
    Column(name="voltage", heading="supply voltage", kind="voltage", low=0.1, high=1000.0,
           unit="V", also=("voltage",), slips=("volts", "v"),
           meaning="at the supply or pack, while running"),
    Column(name="current", heading="supply current", kind="current", low=0.0, high=1000.0,
           unit="A", also=("current",), slips=("amps", "amperes", "a"), meaning="the same"),
    Column(name="electrical_power", heading="electrical power", kind="power", low=0.0, high=1e5,
           unit="W", slips=("watts", "power", "w"), meaning="the same, where a meter shows watts"),
    Column(name="shaft_speed", heading="shaft speed", kind="shaft speed", low=0.0,
           high=float(in_si(1000.0, "krpm", "shaft speed")), unit="krpm",
           slips=("rpm", "krpm", "speed", "revs"),
           meaning="from frames, a tone or a strobe: thrustlapse bench speed"),
    Column(name="thrust", heading="thrust", kind="force", low=-100.0, high=1e4, unit="gf",
           slips=("force",), meaning="read directly, on a stand without friction worth mention"),
    Column(name="push", heading="push reading", kind="force", low=-100.0, high=1e4, unit="gf",
           slips=("push",), meaning="rolling stand, creeping forward: thrust less friction"),
    Column(name="pull", heading="pull reading", kind="force", low=-100.0, high=1e4, unit="gf",
           slips=("pull",), meaning="rolling stand, drawn back: thrust and friction"),
    Column(name="static_pressure", heading="duct static pressure", kind="pressure", low=-9e4,
           high=3e5, unit="kPa", also=("static pressure",), slips=("pressure",),
           meaning="at the wall just before the nozzle, above the room's"),
    Column(name="airspeed", heading="airspeed", kind="speed", low=0.0, high=150.0, unit="m/s",
           meaning="through the air; at rest where the column is empty"),
    Column(name="air_temperature", heading="air temperature", kind="temperature", low=223.15,
           high=333.15, unit="degC", also=("temperature",), meaning="of the room or the field"),
    Column(name="air_pressure", heading="air pressure", kind="pressure", low=3e4, high=1.2e5,
           unit="hPa", slips=("barometer",),
           meaning="at the bench, as a barometer or telephone shows it there"),
    Column(name="relative_humidity", heading="relative humidity", kind="ratio", low=0.0, high=1.0,
           unit="%", also=("humidity",),
           meaning="of the room; damp air is a little lighter, 1 % on a hot wet day"),
    Column(name="sea_level_pressure", heading="sea-level pressure", kind="pressure", low=8.5e4,
           high=1.1e5, unit="hPa", slips=("qnh",),
           meaning="of a weather report; needs the altitude beside it"),
    Column(name="altitude", heading="altitude", kind="length", low=-450.0, high=6000.0, unit="m",
           slips=("height",), meaning="of the bench, where no barometer was read there"),
    Column(name="note", heading="note", kind="words", also=("notes", "remark"),
           meaning="anything; a comma in it needs quotation marks"),
)
"""What a bench file may hold."""

LONGEST_SETTING = 40
"""Characters of a drive setting's name."""

SAME_POWER = 0.25
"""Volts times amps and watts of one row may differ by this share before the row is refused."""


def read_bench(path: str | os.PathLike[str]) -> BenchReadings:
    """Readings of a bench file.

    Parameters
    ----------
    path : str or path-like
        A CSV file as ``thrustlapse bench new`` writes one

    Raises
    ------
    ScenarioError
        With every fault of the file in ``faults`` and all of them in its message.
    """
    table = read_table(path, COLUMNS, noun=NOUN, starter_hint=STARTER_HINT, most_rows=MOST_ROWS,
                       check=_contradictions)
    return _readings(table)


def bench_starter() -> str:
    """A commented bench file with invented readings, to be changed."""
    return starter(COLUMNS, "bench_starter.csv")


def _contradictions(table: Table) -> Iterator[Fault]:
    """Faults that need several columns of a row."""
    value, has = table.values, {name: np.isfinite(array) for name, array in table.values.items()}
    answers = [has[name] for name in (*MEASURED, "push", "pull")]
    if not np.any(answers):
        yield Fault(file=table.file, line=0, key="", value="", problem="no reading of any machine",
                    accepted="volts, amps, watts, shaft speed, thrust or pressure in some row")
    rules = (
        (has["thrust"] & (has["push"] | has["pull"]), "thrust",
         "thrust beside readings of a rolling stand", "either the thrust, or push and pull", ""),
        (table.yes["inlet_blocked"] & has["orifice_diameter"], "orifice_diameter",
         "an orifice in a blocked inlet", "one of the two", "leave the orifice cell empty"),
        (has["suction"] & ~has["orifice_diameter"] & ~table.yes["inlet_blocked"], "suction",
         "suction without a plate", "the orifice diameter beside it, or a blocked inlet",
         "pressure in the duct belongs under \"duct static pressure\""),
        (has["sea_level_pressure"] & ~has["altitude"], "sea_level_pressure",
         "a weather report's pressure without the altitude of the bench",
         "the altitude in the same row", ""),
        (has["sea_level_pressure"] & has["air_pressure"], "sea_level_pressure",
         "two air pressures", "that at the bench or that of a weather report", ""),
        (has["pull"] & (value["pull"] < value["push"]) & ~_equal_within(table), "pull",
         "pull reading below the push reading", "push is the lower: thrust less friction",
         "are the two columns swapped?"),
        (has["units"] & (value["units"] != np.round(value["units"])), "units",
         "not a whole number", "1, 2, 3 and so on", ""),
        (np.abs(value["voltage"] * value["current"] - value["electrical_power"])
         > SAME_POWER * value["electrical_power"], "electrical_power",
         f"differs from volts times amps by more than {100 * SAME_POWER:g} %",
         "direct current: watts are volts times amps", "is one of the three read elsewhere?"),
    )
    for place, word in enumerate(table.words["setting"]):
        if len(word) > LONGEST_SETTING:
            yield table.fault(place, "setting", f"longer than {LONGEST_SETTING} characters",
                              "a word or two; the rest belongs in the note")
    for wrong, name, problem, accepted, hint in rules:
        for row in np.flatnonzero(wrong):
            yield table.fault(int(row), name, problem=problem, accepted=accepted, hint=hint)


def _equal_within(table: Table) -> BoolArray:
    """Whether push and pull are equal within three deviations, stated or usual."""
    deviation = np.hypot(_scale_deviation(table, "push"), _scale_deviation(table, "pull"))
    return np.asarray(table.values["push"] - table.values["pull"] <= 3.0 * deviation)


def _scale_deviation(table: Table, name: str) -> Array:
    """Stated deviation of a scale's reading, or the usual one."""
    usual = READ["thrust"].usual.at(table.values[name])
    stated = table.spread[name]
    return np.where(np.isnan(stated), usual, stated)


def _readings(table: Table) -> BenchReadings:
    value, spread = dict(table.values), dict(table.spread)
    told = list(table.told)
    stand = reduce_stand(push=value["push"], pull=value["pull"],
                         push_deviation=_scale_deviation(table, "push"),
                         pull_deviation=_scale_deviation(table, "pull"))
    on_stand = np.isfinite(value["push"]) | np.isfinite(value["pull"])
    value["thrust"] = np.where(on_stand, stand.thrust, value["thrust"])
    spread["thrust"] = np.where(on_stand, stand.thrust_deviation, spread["thrust"])
    told += _told_of_stand(stand.friction, stand.one_sided, on_stand, stand.thrust)
    _air_pressure(value, spread, told)
    told += _told_of_air(value, table)
    at_rest = np.isnan(value["airspeed"])
    value["airspeed"] = np.where(at_rest, 0.0, value["airspeed"])
    kept = (*CONDITIONS, *MEASURED)
    return bench_readings(
        **{name: value[name] for name in kept}, stand_friction=stand.friction,
        units=np.where(np.isnan(value["units"]), 1.0, value["units"]),
        inlet_blocked=table.yes["inlet_blocked"], outlet_blocked=table.yes["outlet_blocked"],
        spread={name: spread[name] for name in kept}, row=table.line.tolist(),
        note=table.words["note"], source=table.file, told=told,
        setting=[_setting(word, duty) for word, duty in
                 zip(table.words["setting"], value["duty"], strict=True)])


def _setting(word: str, duty: float) -> str:
    if word:
        return " ".join(word.split()).casefold()
    return UNNAMED if np.isnan(duty) else f"duty {100.0 * duty:.6g} %"


def _told_of_stand(friction: Array, one_sided: BoolArray, on_stand: BoolArray,
                   thrust: Array) -> list[str]:
    told = []
    if np.isfinite(friction).any():
        told.append(f"rolling stand: thrust from {int((on_stand & ~one_sided).sum())} pairs of "
                    f"push and pull readings, friction {_millinewtons(friction)}")
    corrected = int((one_sided & np.isfinite(thrust)).sum())
    if corrected:
        told.append(f"{corrected} stand readings in one direction only: corrected by the mean "
                    "friction of the pairs")
    lost = int((one_sided & np.isnan(thrust)).sum())
    if lost:
        told.append(f"{lost} stand readings in one direction only, and no pair to tell the "
                    "friction: no thrust from them")
    return told


def _millinewtons(force: Array) -> str:
    low, high = 1000.0 * float(np.nanmin(force)), 1000.0 * float(np.nanmax(force))
    return f"{low:.0f} mN" if round(low) == round(high) else f"{low:.0f} to {high:.0f} mN"


def _air_pressure(value: dict[str, Array], spread: dict[str, Array], told: list[str]) -> None:
    """Pressure at the bench from a weather report or the altitude alone, where none was read."""
    open_ones = np.isnan(value["air_pressure"]) & np.isfinite(value["altitude"])
    reported = open_ones & np.isfinite(value["sea_level_pressure"])
    sea_level = np.where(reported, value["sea_level_pressure"], 101_325.0)
    height = np.where(open_ones, value["altitude"], 0.0)
    value["air_pressure"] = np.where(
        open_ones, station_pressure(sea_level_pressure=sea_level, altitude=height),
        value["air_pressure"])
    spread["air_pressure"] = np.where(reported, spread["sea_level_pressure"],
                                      spread["air_pressure"])
    spread["air_pressure"] = np.where(open_ones & ~reported, WEATHER, spread["air_pressure"])
    if reported.any():
        told.append(f"air pressure at the bench from a weather report and the altitude in "
                    f"{int(reported.sum())} readings")
    if (open_ones & ~reported).any():
        told.append(f"air pressure from the altitude alone in {int((open_ones & ~reported).sum())} "
                    "readings: the weather shifts it by about 1 %")


WEATHER = 1000.0
"""Standard deviation of the pressure that goes with the weather [Pa]; common practice, no
source."""


def _told_of_air(value: dict[str, Array], table: Table) -> list[str]:
    if "airspeed" not in table.given:
        return ["airspeed not in the file: all readings taken at rest"]
    blank = int(np.isnan(value["airspeed"]).sum())
    return [f"airspeed empty in {blank} readings: taken at rest"] if blank else []
