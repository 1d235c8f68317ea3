"""What a good file may still have wrong: numbers without a unit, beyond what is usual, or left as a
starter has them. A forgotten unit is seldom out of range; so each is told with what it was read as.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import numpy as np

from thrustlapse.power.motor import torque_constant_from_speed_constant
from thrustlapse.propulsor.anchored import jet_power
from thrustlapse.scenario.faults import KeyPath, key_text, value_text
from thrustlapse.scenario.files.short import still_the_starters
from thrustlapse.scenario.schema.motor import ConstantsMotorSection
from thrustlapse.scenario.schema.readings import KnownReadingsSection
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import describe
from thrustlapse.scenario.units import QuantityFault, number_and_unit, shown, to_si

MOST_LISTED = 12
"""Values of one kind of doubt that are spelled out."""

THOUSANDS = re.compile(r"\s*[0-9]{1,3}\.[0-9]{3}\s*(?:rpm|W|g|gf|mA|mAh|mm|rpm/V)\s*")
"""Three figures behind a point, of a unit so small that they are hardly decimals."""

USUAL_KV = (20.0, 1300.0)
"""Speed constant of small motors [rad/s/V], 190 to 12,400 rpm/V (common practice, no source)."""

USUAL_PACK_ENERGY = (50.0, 350.0)
"""Energy over mass of a pack [Wh/kg] (common practice, no source)."""

CELL_VOLTAGE = 3.65
"""Mean voltage of a cell [V]."""

USUAL_UNIT_POWER = (50.0, 15000.0)
"""Electrical power over mass of a unit [W/kg] (judgement)."""

USUAL_JET_SHARE = (3.0, 75.0)
"""Power of the jet at rest over the watts of a whole ducted machine [%] (judgement)."""

USUAL_WING_LOADING = (0.3, 300.0)
"""Mass over wing area of model and small aircraft [kg/m^2] (judgement)."""

SAME = 0.95
"""Cap of one unit over the footing's power from which the footing was meant for one unit [-]."""

LEAST_SPEED = 100.0
"""Shaft speed below which no machine of this trade is read or limited [rad/s], 950 rpm."""


def doubts(text: str, section: ScenarioSection) -> list[str]:
    """Sentences about a good file that its writer should look at.

    What a file leaves as a starter has it counts where it is not said to be invented.
    """
    plain = _plain_numbers(text)
    return [*([f"without a unit: {_some(plain)}"] if plain else []), *_implausible(section),
            *_thousands(text), *_shared_power(section),
            *([] if section.invented else starters_left(text))]


def starters_left(text: str) -> list[str]:
    """A sentence with the values that are still a starter's; none where there are none."""
    left = still_the_starters(text)
    return [f"still the starter's ({len(left)}): {_some(left)}"] if left else []


def _some(lines: list[str]) -> str:
    return "; ".join(lines[:MOST_LISTED]) + (
        f"; and {len(lines) - MOST_LISTED} more" if len(lines) > MOST_LISTED else "")


def _plain_numbers(text: str) -> list[str]:
    """Every plain number, quoted or not, that stands for a quantity, and what it was read as."""
    kinds = {key.path: key.kind for key in describe(ScenarioSection) if key.unit}
    lines = []
    for path, value in _values(tomllib.loads(text)):
        wild = tuple("*" if isinstance(step, int) or (place == 1 and path[0] == "candidates")
                     else step for place, step in enumerate(path))
        kind = kinds.get(wild) or kinds.get(wild[:-1] if wild[-1] == "*" else wild)
        if not kind or isinstance(value, bool) or not isinstance(value, str | int | float):
            continue
        try:
            bare = not isinstance(value, str) or not number_and_unit(value, kind)[1]
            if bare and to_si(value, kind) != 0.0:  # nothing is the same in any unit
                lines.append(f"{key_text(path)} = {value_text(value)}, read as "
                             f"{shown(to_si(value, kind), kind)}")
        except QuantityFault:
            continue  # a word, or a quantity with a spread
    return lines


def _thousands(text: str) -> Iterator[str]:
    for path, value in _values(tomllib.loads(text)):
        if isinstance(value, str) and THOUSANDS.fullmatch(value):
            yield (f"{key_text(path)} = {value_text(value)}: a point marks the decimals, so that "
                   f"this is {float(re.split('[^0-9.]', value.strip())[0]):g}; thousands have no "
                   "mark")


def _implausible(section: ScenarioSection) -> Iterator[str]:
    """Numbers that can be, and are not usual."""
    if section.pack is not None and section.pack.cell_capacity:
        pack = section.pack
        energy = pack.series * pack.parallel * pack.cell_capacity / 3600.0 * CELL_VOLTAGE
        yield from _outside("pack.mass", shown(pack.mass, "mass"), value=energy / pack.mass,
                            usual=USUAL_PACK_ENERGY, unit="Wh/kg of the pack")
    if section.airframe is not None:
        wing = section.airframe
        yield from _outside("airframe.mass", shown(wing.mass, "mass"),
                            value=wing.mass / wing.wing_area, usual=USUAL_WING_LOADING,
                            unit="kg/m^2 of wing")
    for name, one in section.candidates.items():
        where, motor, drive = f"candidates.{name}", one.motor, one.drive
        read = getattr(one, "readings", None)
        if isinstance(read, KnownReadingsSection):
            jet = float(np.mean(jet_power(
                thrust=read.thrust, density=section.site.site().air().density,
                exit_area=np.pi / 4.0 * np.square(read.exit_diameter)) / read.electrical_power))
            yield from _outside(f"{where}.readings.thrust", shown(read.thrust, "force"),
                                value=100.0 * jet, usual=USUAL_JET_SHARE,
                                unit="% of the watts in the jet")
        if isinstance(motor, ConstantsMotorSection):
            if motor.speed_constant is not None:
                yield from _outside(f"{where}.motor.speed_constant",
                                    shown(motor.speed_constant, "speed constant"),
                                    value=motor.speed_constant, usual=USUAL_KV,
                                    unit="rad/s per volt")
            elif motor.torque_constant is not None:
                turns = float(np.max(torque_constant_from_speed_constant(
                    speed_constant=motor.torque_constant)))
                yield from _outside(f"{where}.motor.torque_constant",
                                    shown(motor.torque_constant, "torque constant"), value=turns,
                                    usual=USUAL_KV, unit="rad/s per volt as a speed constant")
        if drive.power_limit is not None:
            yield from _outside(f"{where}.unit_mass", shown(one.unit_mass, "mass"),
                                value=drive.power_limit / one.unit_mass, usual=USUAL_UNIT_POWER,
                                unit="W/kg of the unit")
        if drive.speed_limit is not None and drive.speed_limit < LEAST_SPEED:
            yield (f"{where}.drive.speed_limit = {shown(drive.speed_limit, 'shaft speed')}: slower "
                   "than any machine of this trade turns")


def _shared_power(section: ScenarioSection) -> Iterator[str]:
    """A footing's watts that were written for one unit, and left when more came."""
    power = section.comparison.electrical_power
    for name, one in section.candidates.items():
        cap = one.drive.power_limit
        if power is not None and cap is not None and one.count > 1 and cap >= SAME * power:
            yield (f"comparison.electrical_power = {shown(power, 'power')} is for all units "
                   f"together: the {one.count} units of {name} are held to "
                   f"{shown(power / one.count, 'power')} each, where each may draw "
                   f"{shown(cap, 'power')}")


def _outside(key: str, told: str, value: float, usual: tuple[float, float],
             unit: str) -> Iterator[str]:
    low, high = usual
    if not low <= value <= high:
        yield (f"{key} = {told}: that makes {value:.3g} {unit}, and {low:g} to {high:g} are usual "
               "(common practice, no source)")


def _values(part: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Any]]:
    if isinstance(part, dict):
        for key, value in part.items():
            yield from _values(value, (*path, key))
    elif isinstance(part, list):
        for place, value in enumerate(part):
            yield from _values(value, (*path, place))
    else:
        yield path, part
