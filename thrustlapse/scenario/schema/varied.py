"""Which numbers of a file may vary, in draws and along the axes of a search."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from thrustlapse.scenario.faults import KeyPath, key_text, near_miss
from thrustlapse.scenario.fields import Count, Quantity, Rule, Series
from thrustlapse.scenario.section import Section, rule_of

FIXED_TABLES = ("airspeed", "uncertainty", "flight")
"""Tables whose numbers are no property of the machine or the day, and so are never drawn."""

DRAG_APART = ("mass", "launch_speed", "greatest_lift_coefficient", "drag_rise_mach")
"""Keys of the airframe from which drag by parts, glides or coasting does not follow."""


@dataclass(frozen=True, kw_only=True)
class Refused(Exception):
    """Why a key cannot be drawn, what is accepted, and perhaps what was meant."""

    problem: str
    accepted: str = ""
    hint: str = ""


def key_rule(section: Any, path: KeyPath) -> Rule:
    """Rule of the key at a path below a section.

    Raises
    ------
    Refused
        Where there is no such key, or it holds no number that can vary.
    """
    here: Any = section
    if path[0] in FIXED_TABLES or "band" in path or "fit" in path:
        raise Refused(problem="says how to compute or how far to trust, and so does not vary",
                      accepted="a number that describes machine, pack, airframe or day")
    if path[0] == "airframe" and not set(path[1:2]) <= set(DRAG_APART) and _worked_out(
            section.airframe):
        raise Refused(problem="drag by parts, glides or coasting is worked out once, not for each "
                      "draw", accepted="minimum_drag_coefficient or drag_area in [airframe]",
                      hint="give the drag found there, with its spread, instead")
    for place, part in enumerate(path):
        last = place == len(path) - 1
        if isinstance(here, Mapping):
            if part not in here:
                raise Refused(problem=f'no "{part}" here', accepted=", ".join(map(str, here)),
                              hint=near_miss(str(part), map(str, here)))
            here = here[part]
            continue
        if not isinstance(here, Section):
            raise Refused(problem=f"nothing is given at {key_text(path[:place])}",
                          accepted="a key of a table that the file has")
        known = type(here).model_fields
        if part not in known:
            raise Refused(problem="unknown key", accepted=", ".join(known),
                          hint=near_miss(str(part), known))
        rule = rule_of(known[str(part)])
        here = getattr(here, str(part))
        if last and isinstance(rule, Series) and rule.single and (here is None or len(here) == 1):
            return rule
        if last and isinstance(rule, Quantity | Count):
            return rule
    raise Refused(problem="not a single quantity or count", accepted="a key with one number",
                  hint="lists do not vary: give the map or table a band")


def _worked_out(airframe: Any) -> bool:
    drag = None if airframe is None else airframe.drag
    return drag is not None and drag.source != "given"
