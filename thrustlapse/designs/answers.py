"""Answers a search can keep: at an airspeed, or one for a design; and which way is better."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One answer by its word in the glossary.

    ``at_airspeed`` where it depends on the airspeed; ``more_is_better`` says how designs are
    ranked by it; ``airframe`` where it needs one.
    """

    at_airspeed: bool = True
    more_is_better: bool = True
    airframe: bool = False


MORE, LESS = Answer(), Answer(more_is_better=False)

ANSWERS: dict[str, Answer] = {
    "installed_thrust": MORE, "net_thrust": MORE, "spare_thrust": Answer(airframe=True),
    "thrust_per_mass": MORE, "jet_speed": MORE, "mass_flow": MORE,
    "propulsive_efficiency": MORE, "overall_efficiency": MORE,
    "electrical_power": LESS, "current": LESS, "motor_current": LESS, "terminal_voltage": MORE,
    "shaft_speed": LESS, "shaft_power": LESS, "tip_speed": LESS, "tip_mach": LESS,
    "external_drag": LESS, "exit_temperature": LESS, "throat_mach": LESS,
    "pressure_ratio": LESS, "stress_margin": MORE,
    "static_thrust": Answer(at_airspeed=False),
    "top_speed": Answer(at_airspeed=False, airframe=True),
    "installed_mass": Answer(at_airspeed=False, more_is_better=False),
    "frontal_area": Answer(at_airspeed=False, more_is_better=False),
}
"""Every answer, by its name."""

TOP_SPEED_POINTS = 30
"""Operating points that one top speed costs, about."""


def points_per_design(airspeeds: int, answers: Iterable[str]) -> int:
    """Operating points that one design costs, about."""
    wanted = set(answers)
    return (airspeeds + 1  # at rest, where limits are held too
            + (TOP_SPEED_POINTS if "top_speed" in wanted else 0))
