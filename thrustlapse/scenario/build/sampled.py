"""A scenario with many values for some of its keys: the same parts, with arrays in them.

    many = scenario.drawn({"candidates.blower.nozzle.exit_diameter": np.linspace(0.013, 0.018, 9),
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
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.scenario.build.components import NotBuilt, build_parts
from thrustlapse.scenario.faults import (
    Fault,
    KeyPath,
    ScenarioError,
    key_text,
    printable,
    value_text,
)
from thrustlapse.scenario.fields import Count, Quantity, Rule, Series
from thrustlapse.scenario.files.lines import key_lines, line_of
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.schema.varied import Refused, key_rule
from thrustlapse.scenario.section import sections
from thrustlapse.scenario.units import shown

SLACK = 1e-12
"""Relative slack of a range, as for a single value."""

def drawn_parts(section: Any, values: Mapping[str, Array | float], *, file: str,
                text: str) -> tuple[ScenarioSection, dict[str, Any]]:
    """Sections and parts of a scenario with arrays for some keys.

    Parameters
    ----------
    section : ScenarioSection
        As read from a file
    values : mapping
        Dotted key -> values in SI, shape (samples,) or a single number
    file, text : str
        Where faults are said to be

    Returns
    -------
    section, parts
        Site, pack, airframe, comparison and candidates with fields of shape (samples, 1) wherever
        a value reaches.

    Raises
    ------
    ScenarioError
        Every fault at once: a key that does not exist or cannot vary, arrays of unequal length,
        values outside the range of their key, values that break a rule between keys.
    """
    lines = key_lines(text)

    def fault(path: KeyPath, reason: Refused, value: str = "") -> Fault:
        return Fault(file=printable(file), line=line_of(path, lines),
                     key=key_text(path), value=value, problem=printable(reason.problem),
                     accepted=printable(reason.accepted), hint=printable(reason.hint))

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
    return section, parts


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
    """Rules between keys that some of the values break, in the tables they belong to."""
    touched = {path[:end] for path in given for end in range(len(path))}
    for path, part in sections(section):
        if path not in touched:
            continue
        for problem in part.check():
            yield (*path, *problem.path), Refused(
                problem=f"for some of the values: {problem.problem}", accepted=problem.accepted,
                hint=problem.hint)
