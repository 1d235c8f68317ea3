"""Tables that a scenario with nothing but readings leaves out, put in before it is read.

Only what the reader requires is put in; what has a default of its own is left to that. A table or
key that the file gives stays as it is.
"""

from __future__ import annotations

import math
from typing import Any

from pydantic import ValidationError

from thrustlapse.rotor.typical import TYPICAL, Typical, tip_diameter
from thrustlapse.scenario.schema.readings import KnownReadingsSection

UNIT_POWER = 2000.0
"""Electrical power over mass of a complete small unit [W/kg] (judgement)."""

VOLTAGE = 24.0
"""Voltage of the ideal supply [V]; nothing that is told depends on it, for the drive's losses are
in its efficiency, and current and voltage are not told."""

DRAG = "0.018 .. 0.045"
"""Minimum drag coefficient of complete small aircraft: 0.0182 of a flying wing (Gryte and others,
ICUAS 2018) to 0.0434 of a sport model (Univ. of Minnesota UAV laboratory), both measured."""

READ = ("thrust", "electrical_power", "exit_diameter", "voltage")
"""Keys of a table of readings that are readings."""

GREATEST_LIFT, LAUNCH_SPEED, HIGHEST = 1.2, 10.0, 60.0
"""Greatest lift coefficient [-], launch speed [m/s], highest airspeed [m/s] (judgement)."""


def with_readings(raw: dict[str, Any]) -> dict[str, list[str]]:
    """Complete a parsed file in place; sentences about what was put in, by candidate."""
    candidates = raw.get("candidates")
    if not isinstance(candidates, dict):
        return {}
    known = {name: one for name, one in candidates.items()
             if isinstance(one, dict) and isinstance(one.get("readings"), dict)
             and isinstance(one.get("kind"), str) and one["kind"] in TYPICAL}
    if not known:
        return {}
    volts = [one["readings"]["voltage"] for one in known.values() if "voltage" in one["readings"]]
    told = _around(raw, volts[0] if len(volts) == len(known) == len(candidates) == 1 else None)
    return {name: [*_machine(one, TYPICAL[one["kind"]]), *told] for name, one in known.items()}


def _machine(one: dict[str, Any], typical: Typical) -> list[str]:
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
    tables: dict[str, dict[str, Any]] = {
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
    if "unit_mass" not in one:
        one["unit_mass"] = watts / UNIT_POWER if mass is None else mass
        if mass is None:
            told.append(f"unit mass at {UNIT_POWER / 1000:g} W/g (judgement)")
    return told


def _around(raw: dict[str, Any], voltage: Any) -> list[str]:
    """Supply, airspeeds and airframe; what was put in, in words."""
    told = []
    if "pack" not in raw and "supply" not in raw and voltage is not None:
        raw["supply"] = {"voltage": voltage, "resistance": 0.0, "mass": 0.0}
        told.append("no pack given: a supply of the reading's voltage without mass and resistance; "
                    "endurance and wiring are not known")
    elif "pack" not in raw and "supply" not in raw:
        raw["supply"] = {"voltage": VOLTAGE, "resistance": 0.0, "mass": 0.0,
                         "ideal": True}
        told.append("no pack given: an ideal supply without mass; current, voltage, endurance and "
                    "wiring are not known")
    if "airspeed" not in raw:
        raw["airspeed"] = {"lowest": 0.0, "highest": HIGHEST}
        told.append(f"airspeeds up to {HIGHEST:g} m/s")
    airframe = raw.get("airframe")
    if isinstance(airframe, dict):
        if not {"minimum_drag_coefficient", "drag_area", "drag"} & set(airframe):
            airframe["minimum_drag_coefficient"] = DRAG
            told.append(f"minimum drag coefficient of the aircraft {DRAG} (range of complete small "
                        "aircraft)")
        for key, value, words in (
                ("greatest_lift_coefficient", GREATEST_LIFT, "greatest lift coefficient 1.2"),
                ("launch_speed", LAUNCH_SPEED, "launch speed 10 m/s")):
            if key not in airframe:
                airframe[key] = value
                told.append(words + " (judgement)")
    return told
