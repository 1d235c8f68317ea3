"""Tables that a candidate known by readings leaves out, put in before the file is read.

Only what the reader requires is put in; what has a default of its own is left to that. A table or
key that the file gives stays as it is.
"""

from __future__ import annotations

import math
from typing import Any

from pydantic import ValidationError

from thrustlapse.rotor.typical import TYPICAL, Typical, tip_diameter
from thrustlapse.scenario.files.defaults import (
    UNIT_POWER,
    Table,
    fill,
    lacks,
    mass_of_power,
    of_machine,
)
from thrustlapse.scenario.files.kinds import kind_of
from thrustlapse.scenario.schema.readings import KnownReadingsSection

VOLTAGE = 24.0
"""Voltage of the ideal supply [V]; nothing that is told depends on it, for the drive's losses are
in its efficiency, and current and voltage are not told."""

READ = ("thrust", "electrical_power", "exit_diameter", "voltage")
"""Keys of a table of readings that are readings."""


def with_defaults(raw: Table) -> dict[str, list[str]]:
    """Complete a parsed file in place; sentences about what was put in, by candidate."""
    candidates = raw.get("candidates")
    if not isinstance(candidates, dict):
        return {}
    tables = {name: one for name, one in candidates.items() if isinstance(one, dict)}
    known = {name: one for name, one in tables.items()
             if isinstance(one.get("readings"), dict) and kind_of(one) in TYPICAL}
    told = fill(raw, drag=any("readings" in one for one in tables.values()))
    volts = [one["readings"]["voltage"] for one in known.values() if "voltage" in one["readings"]]
    if known:
        told += _supply(raw, volts[0] if len(volts) == len(known) == len(candidates) == 1 else None)
    return {name: [*(_machine(one, TYPICAL[kind_of(one)]) if name in known else of_machine(one)),
                   *told] for name, one in tables.items()}


def _machine(one: Table, typical: Typical) -> list[str]:
    given = one["readings"]
    bore, watts, exit_told, mass = 0.024, 250.0, 0.024, None
    try:  # a fault of the readings is reported elsewhere; with one the rest is only looked at
        read = KnownReadingsSection.model_validate(given)
        if read.exit_diameter > 0.0 and read.electrical_power > 0.0:
            bore, watts = float(read.exit_diameter), float(read.electrical_power)
            # a spread counts once, at the part it belongs to
            exit_told, given["exit_diameter"] = given["exit_diameter"], bore
            mass = given.pop("unit_mass", None)
    except (ValidationError, TypeError, ValueError):
        pass
    tip = float(tip_diameter(typical, exit_diameter=bore))
    eye, hub = typical.eye * tip, typical.hub * tip
    tables: dict[str, Table] = {
        "inlet": {"throat_area": 0.25 * math.pi * (eye**2 - hub**2), "lip": "rounded"},
        "rotor": {"tip_diameter": tip, "hub_diameter": hub,
                  **({"eye_diameter": eye} if typical.eye < 1.0 else {})},
        "map": {"source": "coefficients", **typical.coefficients,
                "band": {"flow": 0.1, "head": 0.1, "power": 0.1,
                         "basis": "typical of its kind (judgement, no source)"}},
        "duct": {"diameter": max(1.15 * bore, typical.hub and tip), "length": 2.0 * bore},
        "nozzle": {"exit_diameter": exit_told},
        "motor": {"model": "efficiency", "efficiency": typical.drive},
        "drive": {"power_limit": watts, "controller_lead_resistance": 0.0}}
    count = sum(key in given for key in READ)
    told = [f"known by {count} readings: " + ", ".join(
        name for name in tables if name not in one) + " typical of its kind (judgement)"]
    for name, table in tables.items():
        one.setdefault(name, table)
    if lacks(one, "unit_mass"):
        one["unit_mass"] = mass_of_power(watts) if mass is None else mass
        if mass is None:
            told.append(f"unit mass {one['unit_mass']}: {UNIT_POWER / 1000:g} W/g (judgement)")
    return told


def _supply(raw: Table, voltage: Any) -> list[str]:
    """What the machine runs on where the file gives nothing; what was put in, in words."""
    if {"pack", "supply"} & set(raw):
        return []
    if voltage is not None:
        raw["supply"] = {"voltage": voltage, "resistance": 0.0, "mass": 0.0}
        return ["no pack given: a supply of the reading's voltage without mass and resistance; "
                "endurance and wiring are not known"]
    raw["supply"] = {"voltage": VOLTAGE, "resistance": 0.0, "mass": 0.0, "ideal": True}
    return ["no pack given: an ideal supply without mass; current, voltage, endurance and wiring "
            "are not known"]
