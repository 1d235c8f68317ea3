"""A scenario with many values for some of its keys: the same parts, with arrays in them.

    many = drawn(scenario, {"candidates.blower.nozzle.exit_diameter": np.linspace(0.013, 0.018, 9),
                            "airframe.minimum_drag_coefficient": np.full(9, 0.03)})
    point = operate(many.candidates["blower"], airspeed=speeds)        # shape (9, speeds.size)

Keys are dotted as in the file, values in SI, one-dimensional and of one length (a single number
stands for all). Every value is checked against the range of its key, every rule between keys
against all values at once; then the parts are built once, their fields of shape (samples, 1), so
that airspeeds, the last axis, broadcast against them. A key the file does not have may be given
too, where the file could have it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.scenario.faults import (
    Fault,
    KeyPath,
    ScenarioError,
    key_text,
    near_miss,
    printable,
    value_text,
)
from thrustlapse.scenario.fields import Count, Quantity, Rule, Series
from thrustlapse.scenario.files.lines import key_lines, line_of
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.build.parts import NotBuilt, build_parts
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import Section, rule_of, sections
from thrustlapse.scenario.units import shown

SLACK = 1e-12
"""Relative slack of a range, as for a single value."""

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


def drawn(scenario: Scenario, values: Mapping[str, Array | float]) -> Scenario:
    """Same scenario with arrays for some keys.

    Parameters
    ----------
    scenario : Scenario
        As read from a file
    values : mapping
        Dotted key -> values in SI, shape (samples,) or a single number

    Returns
    -------
    Scenario
        Site, pack, airframe, comparison and candidates with fields of shape (samples, 1) wherever
        a value reaches. ``dimensions`` stay those of the file.

    Raises
    ------
    ScenarioError
        Every fault at once: a key that does not exist or cannot vary, arrays of unequal length,
        values outside the range of their key, values that break a rule between keys.
    """
    lines = key_lines(scenario.text)

    def fault(path: KeyPath, reason: Refused, value: str = "") -> Fault:
        return Fault(file=printable(str(scenario.path)), line=line_of(path, lines),
                     key=key_text(path), value=value, problem=printable(reason.problem),
                     accepted=printable(reason.accepted), hint=printable(reason.hint))

    section: Any = scenario.section
    found = []
    lengths = {np.size(value) for value in values.values() if np.ndim(value)}
    if len(lengths) > 1:
        reason = Refused(problem=f"arrays of {len(lengths)} different lengths",
                         accepted="values of one length, or single numbers")
        raise ScenarioError([fault((), reason)])
    for dotted, given in values.items():
        path: KeyPath = tuple(dotted.split("."))
        array = np.asarray(given, dtype=float)
        try:
            rule = key_rule(section, path)
            _within(rule, array)
            section = _put(section, path, _shaped(rule, array))
        except Refused as reason:
            found.append(fault(path, reason, _told(array)))
    if not found:
        given_paths: list[KeyPath] = [tuple(dotted.split(".")) for dotted in values]
        found = [fault(path, reason) for path, reason in _broken_rules(section, given_paths)]
    if found:
        raise ScenarioError(found)
    try:
        parts = build_parts(section)
    except NotBuilt as error:  # machines that cannot be computed for these draws
        raise ScenarioError([fault(path, Refused(
            problem=reason, accepted="fewer or narrower spreads of its dimensions",
            hint="give its map or table a band instead"))
            for path, reason in error.reasons.items()]) from None
    return replace(scenario, section=section, **parts)


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


def _within(rule: Rule, array: Array) -> None:
    number = rule.of if isinstance(rule, Series) else rule
    assert isinstance(number, Quantity | Count)
    if array.ndim > 1 or array.size == 0:
        raise Refused(problem="not a list of values", accepted="one or more values")
    bad = ~np.isfinite(array)
    slack = SLACK * np.abs(np.where(bad, 0.0, array))
    bad |= (array < number.low - slack) | (array > number.high + slack)
    if isinstance(number, Count):
        bad |= array != np.rint(array)
    if bad.any():
        worst = float(np.atleast_1d(array)[np.atleast_1d(bad)][0])
        text = shown(worst, number.kind) if isinstance(number, Quantity) and math.isfinite(worst) \
            else f"{worst:g}"
        raise Refused(problem=f"{np.count_nonzero(bad)} of {array.size} values out of range, the "
                      f"first {text}", accepted=number.accepted())


def _shaped(rule: Rule, array: Array) -> Any:
    value: Any = float(array) if array.ndim == 0 else array[:, None]
    if isinstance(rule, Count) and array.ndim == 0:
        value = int(array)
    return (value,) if isinstance(rule, Series) else value


def _told(array: Array) -> str:
    if array.size == 0 or not np.isfinite(array).all():
        return ""
    low, high = float(array.min()), float(array.max())
    return value_text(f"{low:.6g}" if low == high else f"{low:.6g} .. {high:.6g}")


def _put(part: Any, path: KeyPath, value: Any) -> Any:
    """The part with a value at a path below it; sections are frozen, so each is made anew."""
    if not path:
        return value
    if isinstance(part, Mapping):
        return {**part, path[0]: _put(part[path[0]], path[1:], value)}
    key = str(path[0])
    return part.model_copy(update={key: _put(getattr(part, key), path[1:], value)})


def _broken_rules(section: ScenarioSection,
                  given: Sequence[KeyPath]) -> Iterator[tuple[KeyPath, Refused]]:
    """Rules between keys that some of the values break, in the tables they belong to.

    A search sets values of its own for its keys, so its rules have nothing to say of these.
    """
    section = section.model_copy(update={"search": None})
    touched = {path[:end] for path in given for end in range(len(path))}
    for path, part in sections(section):
        if path not in touched:
            continue
        for problem in part.check():
            yield (*path, *problem.path), Refused(
                problem=f"for some of the values: {problem.problem}", accepted=problem.accepted,
                hint=problem.hint)
