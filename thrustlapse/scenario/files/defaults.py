"""What a file may leave out, put in before it is read, and a sentence for each.

A key that the file gives, or a slip of whose name it has, stays as it is. Where the value is not
known well it is put in with a spread, and is then drawn like any other.
"""

from __future__ import annotations

import math
from typing import Any

from thrustlapse.scenario.faults import near_word
from thrustlapse.scenario.files.kinds import kind_of
from thrustlapse.scenario.units import QuantityFault, to_si

Table = dict[str, Any]

DRAG = "0.018 .. 0.045"
"""Minimum drag coefficient of complete small aircraft: 0.0182 of a flying wing (Gryte and others,
ICUAS 2018) to 0.0434 of a sport model (Univ. of Minnesota UAV laboratory), both measured."""

GREATEST_LIFT, LAUNCH_SPEED, HIGHEST = "1.2, 0.9 .. 1.5", 10.0, 60.0
"""Greatest lift coefficient [-], launch speed [m/s], highest airspeed [m/s] (judgement)."""

CHEMISTRY, CHARGE = "NMC", "80 % .. 100 %"
"""Cells and how full they are (judgement)."""

CELL_RESISTANCE = {"NMC 18650": (130.0, 250.0)}
OTHER_CELLS = (12.0, 45.0)
"""Resistance of a cell times its charge [mohm Ah]: 190 of a measured 1.9 Ah cell (Schuster and
others, 2015), a third to either side (judgement); others from a pouch of 12 (from memory) to 45 of
a 21700 cell for high currents (9.3 mohm measured, about 5 Ah). With ends: no draw may ask more of
the pack than it can give."""

PACK_ENERGY, CELL_VOLTAGE = 170.0, 3.65
"""Energy over mass of a pack [Wh/kg]: 140 of pouches to 220 of cylinders (from memory); mean
voltage of a cell [V]."""

UNIT_POWER = 2000.0
"""Electrical power over mass of a complete small unit [W/kg] (judgement)."""

BORE_TO_DUCT, BORES_LONG = 1.15, 2.0
"""Duct over the exit's diameter, and its length [-] (judgement)."""


def lacks(table: Table, key: str, *others: str) -> bool:
    """Whether a table has none of the keys, nor a slip of the name of the first."""
    return not {key, *others} & set(table) and not any(
        near_word(each, (key,)) for each in table)


def mass_of_power(watts: float) -> str:
    """Mass of a unit of a power [W], as a file has it."""
    return f"{1e3 * watts / UNIT_POWER:.4g} g, 40 % uncertain, lognormal"


def fill(raw: Table, *, drag: bool) -> list[str]:
    """Pack and airspeeds, and the aircraft's ``drag``; what was put in, in words."""
    told: list[str] = []
    if lacks(raw, "airspeed"):
        raw["airspeed"] = {"lowest": 0.0, "highest": HIGHEST}
        told.append(f"airspeeds up to {HIGHEST:g} m/s")
    if isinstance(raw.get("pack"), dict):
        told += _pack(raw["pack"])
    if drag and isinstance(raw.get("airframe"), dict):
        told += _airframe(raw["airframe"])
    return told


def _airframe(airframe: Table) -> list[str]:
    told = []
    if lacks(airframe, "minimum_drag_coefficient", "drag_area", "drag"):
        airframe["minimum_drag_coefficient"] = DRAG
        told.append(f"minimum drag coefficient of the aircraft {DRAG} (range of complete small "
                    "aircraft)")
    for key, value, words in (
            ("greatest_lift_coefficient", GREATEST_LIFT,
             f"greatest lift coefficient {GREATEST_LIFT}"),
            ("launch_speed", LAUNCH_SPEED, f"launch speed {LAUNCH_SPEED:g} m/s")):
        if lacks(airframe, key):
            airframe[key] = value
            told.append(words + " (judgement)")
    return told


def _pack(pack: Table) -> list[str]:
    told = []
    if lacks(pack, "chemistry", "curve"):
        pack["chemistry"] = CHEMISTRY
        told.append(f"cells of chemistry {CHEMISTRY}, which is near for lithium polymer too")
    if lacks(pack, "state_of_charge"):
        pack["state_of_charge"] = CHARGE
        told.append(f"a pack that is {CHARGE} full (judgement)")
    charge = quantity_of(pack.get("cell_capacity"), "charge") / 3600.0
    count = _count(pack.get("series")) * _count(pack.get("parallel", 1))
    if not charge * count > 0.0:  # a fault, told elsewhere: the rest is only looked at
        for key, value in (("cell_resistance", "10 mohm"), ("mass", "1 kg")):
            if lacks(pack, key, "resistance_curve" if key != "mass" else key):
                pack[key] = value
        return told
    if lacks(pack, "cell_resistance", "resistance_curve"):
        low, high = CELL_RESISTANCE.get(str(pack.get("chemistry")), OTHER_CELLS)
        pack["cell_resistance"] = f"{low / charge:.4g} .. {high / charge:.4g} mohm"
        told.append(f"resistance of a cell {pack['cell_resistance']}: {low:g} to {high:g} mohm Ah "
                    "over its charge (between measured cells, and from memory)")
    if lacks(pack, "mass"):
        mass = charge * count * CELL_VOLTAGE / PACK_ENERGY
        pack["mass"] = f"{1e3 * mass:.4g} g, 15 % uncertain, lognormal"
        told.append(f"mass of the pack {pack['mass']}: {PACK_ENERGY:g} Wh/kg (from memory)")
    return told


def of_machine(one: Table) -> list[str]:
    """Inlet, duct and mass of a candidate known by its map; what was put in, in words."""
    told = []
    rotor, nozzle, drive = (_table(one, name) for name in ("rotor", "nozzle", "drive"))
    kind = kind_of(one)
    ducted = kind in ("blower", "axial fan")
    tip = quantity_of(rotor.get("tip_diameter"), "length")
    eye = quantity_of(rotor.get("eye_diameter"), "length") or tip
    hub = quantity_of(rotor.get("hub_diameter"), "length")
    if ducted and lacks(one, "inlet") and eye > hub:
        one["inlet"] = {"throat_area": 0.25 * math.pi * (eye**2 - hub**2), "lip": "rounded"}
        told.append("an inlet as wide as the flow area at the rotor, with a rounded lip "
                    "(judgement)")
    bore = quantity_of(nozzle.get("exit_diameter"), "length")
    if ducted and lacks(one, "duct") and bore > 0.0:
        wide = max(BORE_TO_DUCT * bore, tip if kind == "axial fan" else 0.0)
        one["duct"] = {"diameter": wide, "length": BORES_LONG * bore}
        told.append(f"a duct {1e3 * wide:.3g} mm wide and {1e3 * BORES_LONG * bore:.3g} mm long "
                    "(judgement)")
    watts = quantity_of(drive.get("power_limit"), "power")
    if lacks(one, "unit_mass") and watts > 0.0:
        one["unit_mass"] = mass_of_power(watts)
        told.append(f"unit mass {one['unit_mass']}: {UNIT_POWER / 1e3:g} W/g (judgement)")
    return told


def _table(one: Table, name: str) -> Table:
    found = one.get(name)
    return found if isinstance(found, dict) else {}


def quantity_of(value: object, kind: str) -> float:
    """A quantity as the file has it in SI; 0 where it is none, which is a fault found elsewhere."""
    if isinstance(value, str):  # the nominal value is enough
        value = value.split("±")[0].split(",")[0]
    try:
        return to_si(value, kind)
    except QuantityFault:
        return 0.0


def _count(value: object) -> int:
    return value if isinstance(value, int) and 0 < value < 10**4 else 0
