"""A propeller that meets a reading of thrust and power at rest.

Thrust, power and shaft speed give one factor on CT and one on CP. Without the speed only
``CT^1.5 / CP`` times the drive's efficiency is known, and CT stays that of the table.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.power.motor import constant_efficiency_motor
from thrustlapse.propulsor.anchored import full_voltage_motor
from thrustlapse.propulsor.bounds import TABLE_ACCURACY
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.rotor.propeller.blades import GENERIC_BAND
from thrustlapse.rotor.propeller.error import ANCHORED_BAND, LABELLED_BAND
from thrustlapse.rotor.propeller.loading import anchored, anchored_without_speed, ideal_power
from thrustlapse.rotor.stage_map import NoMap

LOOKED_AT = 33
"""Advance ratios at which a scaled table is held against momentum theory."""

STEPS = 40
"""Steps of the speed at which a table gives a thrust; CT hardly depends on it."""


@dataclass(frozen=True, kw_only=True)
class RotorReading:
    """Thrust [N] and shaft power [W] of one unit at rest, efficiency of motor and controller [-],
    shaft speed [rad/s] where known; ``voltage`` [V] where the power was full voltage's, not a
    cap's."""

    thrust: Values
    shaft_power: Values
    drive: Values
    shaft_speed: Values | None = None
    voltage: Values | None = None


@dataclass(frozen=True, kw_only=True)
class ReadRotor:
    """A propeller as it was before its reading, and the reading: another reading of the same kind
    gives it anew by :func:`anchored_rotor`."""

    rotor: OpenRotor
    reading: RotorReading


def anchored_rotor(rotor: OpenRotor, *, air: Air, reading: RotorReading) -> OpenRotor:
    """Scale a propeller's table until it meets a reading, and give it the drive of the reading.

    Parameters
    ----------
    rotor : OpenRotor
        Its motor and power cap are replaced
    air : Air
        Still air of the reading
    reading : RotorReading
        Fields broadcast against the rotor's

    Notes
    -----
    With a speed the band of a computed table becomes :data:`ANCHORED_BAND`, of one by a label
    :data:`LABELLED_BAND`; without, its thrust keeps its own, and the power above momentum theory
    has that of the anchored (judgement).

    Raises
    ------
    NoMap
        Where the reading contradicts the label or beats momentum theory; the reason says how.
    """
    density, diameter = np.asarray(air.density), np.asarray(rotor.diameter)
    thrust, power = np.asarray(reading.thrust), np.asarray(reading.shaft_power)
    table: Any = rotor.table
    band = table.band
    left = LABELLED_BAND if band == GENERIC_BAND else ANCHORED_BAND
    try:
        if reading.shaft_speed is not None:
            speed = np.asarray(reading.shaft_speed)
            turns = speed / (2.0 * np.pi)
            table = anchored(table, thrust=thrust / (density * turns**2 * diameter**4),
                             power=power / (density * turns**3 * diameter**5), shaft_speed=speed)
            band = left if band.loading else band
        else:
            speed = _speed_of_thrust(rotor, thrust=thrust, density=density)
            table = anchored_without_speed(
                table, static_ratio=thrust**1.5 / (power * diameter * np.sqrt(density)),
                shaft_speed=speed)
            band = replace(band, power=left.power) if band.loading else band
    except ValueError as error:
        raise NoMap(str(error)) from None
    _within_momentum_theory(replace(rotor, table=table))
    electrical = power / np.asarray(reading.drive)
    if reading.voltage is None:
        drive = replace(rotor.drive, power_limit=electrical,
                        motor=constant_efficiency_motor(efficiency=reading.drive))
    else:
        drive = replace(rotor.drive, power_limit=np.inf, motor=full_voltage_motor(
            efficiency=reading.drive, electrical_power=electrical, voltage=reading.voltage,
            shaft_speed=speed))
    return replace(rotor, table=replace(table, band=band), drive=drive)


def _within_momentum_theory(rotor: OpenRotor) -> None:
    """Refuse a table that the reading scaled to less power in flight than its thrust needs.

    One factor on CP holds at every advance ratio: a reading near the ideal disc, or with a speed
    that is too high, leaves too little where the propeller is at its best. Of many readings one
    that fits is enough.
    """
    table, speed = rotor.table, 1e3
    advance = np.linspace(0.0, 1.0, LOOKED_AT) * table.highest_advance_ratio
    thrust, power = (read(advance_ratio=advance, shaft_speed=speed)
                     for read in (table.thrust, table.power))
    least = ideal_power(thrust=thrust, advance_ratio=advance)
    with np.errstate(invalid="ignore", divide="ignore"):  # where there is no thrust
        short = np.where(thrust > 0.0, 1.0 - power / least, 0.0).max(axis=-1)
    if not np.any(short <= TABLE_ACCURACY):
        raise NoMap(f"thrust and power leave this propeller {100.0 * np.nanmin(short):.0f} % less "
                    "power in flight than momentum theory needs for its thrust; check thrust, "
                    "power, diameter and shaft speed (pole pairs), and their units")


def _speed_of_thrust(rotor: OpenRotor, *, thrust: Array, density: Array) -> Array:
    """Shaft speed [rad/s] at which the rotor's table gives a thrust [N] at rest."""
    unit = thrust / (density * np.asarray(rotor.diameter) ** 4)
    speed = 2.0 * np.pi * np.sqrt(unit / rotor.table.thrust(advance_ratio=0.0, shaft_speed=1e3))
    for _ in range(STEPS):
        speed = 2.0 * np.pi * np.sqrt(
            unit / rotor.table.thrust(advance_ratio=0.0, shaft_speed=speed))
    return np.asarray(speed)
