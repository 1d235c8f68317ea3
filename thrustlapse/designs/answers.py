"""Answers a search can keep: at an airspeed, or one for a design; and which way is better."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from thrustlapse.glossary import QUANTITIES


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One answer by its word in the glossary.

    ``at_airspeed`` where it depends on the airspeed; ``more_is_better`` says how designs are
    ranked by it; ``airframe`` where it needs one.
    """

    at_airspeed: bool = True
    more_is_better: bool = True
    airframe: bool = False


ANSWERS: dict[str, Answer] = {
    name: Answer(at_airspeed=word.of == "airspeed", more_is_better=word.better == "more",
                 airframe=word.airframe)
    for name, word in QUANTITIES.items() if word.better}
"""Every quantity that has a better way, by its name."""

TOP_SPEED_POINTS = 30
"""Operating points that one top speed costs, about."""


def points_per_design(airspeeds: int, answers: Iterable[str]) -> int:
    """Operating points that one design costs, about."""
    wanted = set(answers)
    return (airspeeds + 1  # at rest, where limits are held too
            + (TOP_SPEED_POINTS if "top_speed" in wanted else 0))
