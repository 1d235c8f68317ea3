"""The gate behind every operating point: bounds of physics that no valid value may break.

An alarm, not a filter: each firing is an error of the program, or of a table that gives more thrust
than momentum theory allows. Powers are signed, so that one set of bounds holds for a machine that
drives, brakes or is driven:

    cells >= terminals >= motor >= shaft             every electrical loss at least zero
    P_shaft + Q >= Fn V0 + power left in the jet     every loss of the stream tube at least zero

and the ledger closes: first law, watts, forces.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import reduce

import numpy as np

from thrustlapse.arrays import BoolArray, Values
from thrustlapse.propulsor.operating_point import LOSSES, Flag, Ledger, OperatingPoint

ROUND_OFF = 1e-7
"""What round-off may make of a loss, over the largest power of the element."""

CLOSED = 1e-6
"""Largest residual of the energy, electrical and force balances [-]."""

LEAST_POWER = 1e-9
"""Power below which the ledger is not looked at [W]."""

MOST_DUTY = 1.0 + 1e-7

TABLE_ACCURACY = 0.10
"""Share of shaft power by which a measured table may fall short of momentum theory where it does
not state its own band: two deviations of 3 % in thrust and 2 % in power (judgement)."""

ELECTRICAL = ("pack_heat", "lead_heat", "controller_heat", "winding_heat", "no_load_heat",
              "unsplit_heat")
STREAM = (*(name for name in LOSSES if name != "rotor_loss"), "jet_power", "swirl_power")
RESIDUALS = ("energy_residual", "electrical_residual", "force_residual")

RATIOS = {"propulsive_efficiency": (0.0, 1.0), "overall_efficiency": (-np.inf, 1.0),
          "duty": (0.0, MOST_DUTY), "throat_mach": (0.0, 1.0), "eye_mach": (0.0, 1.0),
          "duct_mach": (0.0, 1.0)}
"""Ratios of a published point and the bounds they keep wherever they are given."""


def broken_bounds(point: OperatingPoint, *, table_accuracy: Values = 0.0) -> dict[str, BoolArray]:
    """Which bound each element breaks; elements without a value break none.

    ``table_accuracy`` [-] is the share of shaft power by which a rotor's own loss may be below
    zero: the stated accuracy of a measured table.
    """
    ledger, valid = point.ledger, point.valid
    with np.errstate(invalid="ignore"):
        scale = ROUND_OFF * (np.abs(ledger.shaft_power) + np.abs(ledger.thrust_power)
                             + np.nan_to_num(ledger.jet_power) + np.abs(point.electrical_power)
                             + ledger.heat_to_air + 1e-6)
        broken = {name: getattr(ledger, name) < -scale for name in (*ELECTRICAL, *STREAM)}
        broken["rotor_loss"] = ledger.rotor_loss < -scale - table_accuracy * np.abs(
            ledger.shaft_power)
        for name in RESIDUALS:
            # a residual of nothing but round-off, as of a shaft without friction, is none
            broken[name] = (np.abs(getattr(ledger, name)) > CLOSED) & (
                np.abs(ledger.shaft_power) + np.abs(point.electrical_power) > LEAST_POWER)
        drives = point.electrical_power > 0.0
        broken["duty"] = drives & (point.duty > MOST_DUTY)
        broken["voltage"] = drives & (point.motor_current > 0.0) & (
            point.motor_voltage > point.terminal_voltage * MOST_DUTY + 1e-6)
        for name in ("shaft_speed", "mass_flow"):
            broken[name] = getattr(point, name) < 0.0
        for name in ("propulsive_efficiency", "overall_efficiency"):
            low, high = RATIOS[name]
            value = getattr(point, name)
            broken[name] = (value < low) | (value > high + table_accuracy + ROUND_OFF)
        # a value that is not known has to say so
        broken["net_thrust"] = valid & ~np.isfinite(
            point.net_thrust + point.shaft_speed + point.shaft_power + point.electrical_power
            + point.current)
    return {name: np.asarray(value & valid) for name, value in broken.items()}


def gated(point: OperatingPoint, *, table_accuracy: Values = 0.0) -> OperatingPoint:
    """The point, its elements that break a bound made invalid and flagged."""
    broken = broken_bounds(point, table_accuracy=table_accuracy)
    void = reduce(np.logical_or, broken.values())
    if not void.any():
        return point
    hidden = {item.name: np.where(void, np.nan, getattr(point, item.name))
              for item in fields(point) if item.name not in (
                  "airspeed", "ledger", "flag_bits", "drive_limit_code")}
    ledger = Ledger(**{item.name: np.where(void, np.nan, getattr(point.ledger, item.name))
                       for item in fields(Ledger)})
    return replace(point, ledger=ledger, drive_limit_code=np.where(void, 0, point.drive_limit_code),
                   flag_bits=point.flag_bits | np.where(void, int(Flag.IMPOSSIBLE), 0), **hidden)
