"""Where the pack's watts go: the ledger of one operating point sorted into uses people know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.propulsor.operating_point import LOSSES, OperatingPoint
from thrustlapse.study.comparison import Comparison


@dataclass(frozen=True, kw_only=True)
class Use:
    """One use of power: its name, and its colour with an ink that reads on it."""

    name: str
    colour: str
    ink: str


USES = (
    Use(name="moves the aircraft", colour="#009E73", ink="white"),
    Use(name="own external drag", colour="#F0E442", ink="black"),
    Use(name="left in the jet", colour="#0072B2", ink="white"),
    Use(name="ram and inlet", colour="#56B4E9", ink="black"),
    Use(name="rotor", colour="#E69F00", ink="black"),
    Use(name="duct and nozzle", colour="#D55E00", ink="white"),
    Use(name="motor", colour="#CC79A7", ink="black"),
    Use(name="controller, leads", colour="#777777", ink="white"),
)
"""In the order of the bars. A motor known by its efficiency alone carries its controller's loss."""


APART = ("ram_loss", "inlet_loss", "rotor_loss", "heating_loss")
"""Losses that are not behind the rotor, or are the motor's."""


@dataclass(frozen=True, kw_only=True)
class Breakdown:
    """Electrical power of all units at the pack terminals, and its parts in order of USES [W]."""

    when: str
    airspeed: float
    power: float
    parts: tuple[float, ...]
    pack_heat: float


def breakdowns(comparison: Comparison, name: str) -> list[Breakdown]:
    """Uses of power of a candidate at rest and, where it has one, at its top speed."""
    result = comparison.candidates[name]
    found = [breakdown("at rest", result.at_rest, result.count)]
    if result.at_top is not None:
        found.append(breakdown(f"top {result.at_top.airspeed.item():.0f} m/s", result.at_top,
                           result.count))
    return [one for one in found if np.isfinite(one.power) and one.power > 0.0]


def breakdown(when: str, point: OperatingPoint, count: int) -> Breakdown:
    """Sort the ledger of a single operating point; the parts add up to the electrical power.

    Motor heat that goes into the air comes back in the ledger as heat the jet carries away: here it
    is counted once, with the motor.
    """
    ledger = point.ledger
    motor = (ledger.winding_heat + ledger.no_load_heat + ledger.unsplit_heat - ledger.heat_to_air
             + ledger.heating_loss)
    airspeed = point.airspeed.item()
    parts = (
        point.installed_thrust.item() * airspeed,
        point.external_drag.item() * airspeed,
        count * (ledger.jet_power + ledger.swirl_power + ledger.stored_power).item(),
        count * (ledger.ram_loss + ledger.inlet_loss).item(),
        count * ledger.rotor_loss.item(),
        count * sum(getattr(ledger, name).item() for name in LOSSES if name not in APART),
        count * motor.item(),
        count * (ledger.controller_heat + ledger.lead_heat).item(),
    )
    return Breakdown(when=when, airspeed=airspeed, power=point.electrical_power.item(),
                     parts=parts, pack_heat=count * ledger.pack_heat.item())
