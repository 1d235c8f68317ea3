"""Tables that a candidate known by readings leaves out, put in before the file is read.

Only what the reader requires is put in; what has a default of its own is left to that. A table or
key that the file gives stays as it is.
"""

from __future__ import annotations

import math
import tomllib
from importlib import resources
from typing import Any

import numpy as np
from pydantic import ValidationError

from thrustlapse.rotor.typical import TYPICAL, TYPICAL_BASIS, Typical, tip_diameter
from thrustlapse.scenario.files.defaults import (
    BORE_TO_DUCT,
    BORES_LONG,
    UNIT_POWER,
    Table,
    fill,
    lacks,
    mass_of_power,
    of_machine,
    quantity_of,
)
from thrustlapse.scenario.files.kinds import kind_of
from thrustlapse.scenario.schema.readings import KnownReadingsSection, PropellerReadingsSection

VOLTAGE = 24.0
"""Voltage of the ideal supply [V]; nothing that is told depends on it, for the drive's losses are
in its efficiency, and current and voltage are not told."""

READ = ("thrust", "electrical_power", "shaft_power", "exit_diameter", "voltage", "shaft_speed",
        "shut_pressure", "second_thrust")
"""Keys of a table of readings that are readings."""

BORE, WATTS = 0.024, 250.0
"""Exit [m] and power [W] of a machine whose readings are faulty and told elsewhere: the rest is
then only looked at."""

LIP = "0.1 .. 0.8"
"""Sharpness of a lip of which nothing is said: anything between a good and a nearly thin one."""

DENSITY = 1.225
"""Air in which a wheel is sized from a shaft speed [kg/m^3]: it only starts there."""

TYPICAL_BAND = {"flow": 0.1, "head": 0.1, "power": 0.1,
                "basis": TYPICAL_BASIS}
SIZES = (0.25, 2.5)
"""Times its usual size that a shaft speed makes of a wheel (judgement)."""

GIVEN_WHEEL_FLOW = 0.2
"""Band in flow of a typical map that is carried to a wheel of a given diameter [-] (judgement)."""


def with_defaults(raw: Table) -> dict[str, list[str]]:
    """Complete a parsed file in place; sentences about what was put in, by candidate."""
    told = _kinds(raw)
    candidates = raw.get("candidates")
    if not isinstance(candidates, dict):
        return {}
    tables = {name: one for name, one in candidates.items() if isinstance(one, dict)}
    known = {name: one for name, one in tables.items() if isinstance(one.get("readings"), dict)}
    told += fill(raw, drag=any("readings" in one for one in tables.values()))
    if known:
        volts = {str(one["readings"].get("voltage")) for one in known.values()}
        told += _supply(raw, next(iter(known.values()))["readings"].get("voltage")
                        if len(volts) == 1 and len(known) == len(candidates) else None)
    return {name: [*(_known(one) if name in known else []), *of_machine(one), *told]
            for name, one in tables.items()}


def _kinds(raw: Table) -> list[str]:
    """Machines and source of a file that only asks when each kind would win; put in, in words."""
    if not isinstance(raw.get("when"), dict) or "candidates" in raw:
        return []
    text = resources.files("thrustlapse.scenario").joinpath("when_kinds.toml").read_text("utf-8")
    raw["candidates"] = tomllib.loads(text)["candidates"]
    told = ["no candidates given: one of each kind, from which the sizing study starts"]
    if not {"pack", "supply"} & set(raw):
        raw["supply"] = {"voltage": VOLTAGE, "resistance": 0.0, "mass": 0.0}
        told.append(f"no pack given: a supply of {VOLTAGE:g} V without mass and resistance")
    return told


def _known(one: Table) -> list[str]:
    kind = kind_of(one)
    if kind in TYPICAL:
        return _machine(one, TYPICAL[kind])
    return _propeller(one) if kind == "propeller" else []


def _mass(one: Table, watts: float) -> list[str]:
    if not lacks(one, "unit_mass"):
        return []
    own = one["readings"].pop("unit_mass", None)
    one["unit_mass"] = mass_of_power(watts) if own is None else own
    return [] if own is not None else [
        f"unit mass {one['unit_mass']}: {UNIT_POWER / 1000:g} W/g (judgement)"]


def _count(given: Table) -> str:
    count = sum(key in given for key in READ)
    return f"known by {count} reading{'s' if count != 1 else ''}"


def _propeller(one: Table) -> list[str]:
    given = one["readings"]
    try:
        read = PropellerReadingsSection.model_validate(given)
        watts = float(read.electrical_power or read.shaft_power or WATTS)
    except (ValidationError, TypeError, ValueError):
        watts = WATTS
    told = [f"{_count(given)}: motor and drive follow from it"]
    if lacks(one, "motor"):
        one["motor"] = {"model": "efficiency", "efficiency": 0.75}
    if lacks(one, "drive"):
        one["drive"] = {"power_limit": watts, "controller_lead_resistance": 0.0}
    return [*told, *_mass(one, watts)]


def _machine(one: Table, typical: Typical) -> list[str]:
    given = one["readings"]
    bore, watts, speed = BORE, WATTS, None
    try:  # a fault of the readings is reported elsewhere; with one the rest is only looked at
        read = KnownReadingsSection.model_validate(given)
        if read.exit_diameter > 0.0 and read.electrical_power > 0.0:
            bore, watts = float(read.exit_diameter), float(read.electrical_power)
            speed = read.shaft_speed and _jet_speed(float(read.thrust), bore) / float(
                read.shaft_speed)
    except (ValidationError, TypeError, ValueError):
        pass
    rotor = one.get("rotor")
    own = quantity_of(rotor.get("tip_diameter"), "length") if isinstance(rotor, dict) else 0.0
    usual = float(tip_diameter(typical, exit_diameter=bore))
    tip = own or (usual if not speed else 2.0 * speed * typical.tip_over_jet)
    if not own and not SIZES[0] < tip / usual < SIZES[1]:
        tip = usual  # no wheel of this kind turns so: who scales it to the readings says so
    # a wheel of another size than usual behind such an exit is wider or narrower for its diameter
    stretch = (usual / tip) ** 2
    eye, hub = typical.eye * tip, typical.hub * tip
    tables: dict[str, Table] = {
        "inlet": {"throat_area": " .. ".join(f"{0.25e6 * math.pi * bore**2 * ratio:.4g}"
                                             for ratio in typical.throat) + " mm^2", "lip": LIP},
        "rotor": {"tip_diameter": tip, "hub_diameter": hub,
                  **({"eye_diameter": eye} if typical.eye < 1.0 else {})},
        "map": {"source": "coefficients", **typical.stretched(stretch),
                "band": {**TYPICAL_BAND, "flow": GIVEN_WHEEL_FLOW if own else 0.1}},
        "duct": {"diameter": max(BORE_TO_DUCT * bore, typical.hub and tip),
                 "length": BORES_LONG * bore},
        "nozzle": {},
        "motor": {"model": "efficiency", "efficiency": typical.drive},
        "drive": {"power_limit": watts, "controller_lead_resistance": 0.0}}
    put_in = [name for name in tables if name not in one]
    told = [f"{_count(given)}: {', '.join(put_in)} typical of its kind (judgement)"
            ][:len(put_in)]
    if "inlet" not in one:
        told.append(f"an inlet of {typical.throat[0]:g} to {typical.throat[1]:g} times the exit's "
                    f"area, its lip's sharpness {LIP} (judgement); a ruler across it narrows the "
                    "answer")
    if {"inlet", "duct"} <= set(put_in):
        given.setdefault("typical_losses", True)
    for name, table in tables.items():
        one.setdefault(name, table)
    if own and not {"eye_diameter", "hub_diameter", "eye_area"} & set(one["rotor"]):
        one["rotor"] |= {key: value for key, value in tables["rotor"].items()
                         if key != "tip_diameter"}
    return [*told, *_mass(one, watts)]


def _jet_speed(thrust: float, bore: float) -> float:
    return float(np.sqrt(thrust / (DENSITY * 0.25 * np.pi * bore**2)))


def _supply(raw: Table, voltage: Any) -> list[str]:
    """What the machine runs on where the file gives nothing; what was put in, in words."""
    if {"pack", "supply"} & set(raw):
        return []
    if voltage is not None:
        # its spread is the reading's: drawn once, there
        raw["supply"] = {"voltage": quantity_of(voltage, "voltage") or VOLTAGE, "resistance": 0.0,
                         "mass": 0.0, "as_read": True}
        return ["no pack given: a supply of the reading's voltage without mass and resistance; "
                "endurance and wiring are not known"]
    raw["supply"] = {"voltage": VOLTAGE, "resistance": 0.0, "mass": 0.0, "ideal": True}
    return ["no pack given: an ideal supply without mass; current, voltage, endurance and wiring "
            "are not known"]
