"""Axes of a search held against the file they vary: does the key exist, is it a number, can it be
that value, and does no other axis vary it too."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.designs.answers import ANSWERS, points_per_design
from thrustlapse.designs.causes import USUAL
from thrustlapse.designs.spec import Axis, Bound, SearchSpec
from thrustlapse.propulsor.basis import EQUAL_POWER
from thrustlapse.scenario.faults import listed, near_miss
from thrustlapse.scenario.fields import Count, Quantity, Series
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.schema.search import AxisSection, SearchSection
from thrustlapse.scenario.schema.varied import Refused, key_rule
from thrustlapse.scenario.section import Problem, Section, rule_of, sections
from thrustlapse.scenario.units import KINDS, QuantityFault, display_unit, shown, to_si

FIXED_TABLES = ("search", "airspeed", "uncertainty", "flight")
"""Tables of the file that an axis cannot reach."""

MOST_POINTS = 2_000_000_000
"""Operating points of one search: some hours on one processor, and 16 GB for every answer kept."""

FACTOR = Quantity("ratio", 1e-3, 1e3)


@dataclass(frozen=True, kw_only=True)
class Place:
    """A number of the file: the table that holds it, its rule and its value in SI."""

    holder: Section
    name: str
    rule: Quantity | Count
    value: float

    @property
    def kind(self) -> str:
        """Kind of quantity; a count is a plain ratio."""
        return self.rule.kind if isinstance(self.rule, Quantity) else "ratio"


class KeyFault(ValueError):
    """A key that cannot be varied: what is wrong, what would do, and a hint."""

    def __init__(self, problem: str, accepted: str, hint: str = "") -> None:
        super().__init__(problem)
        self.problem, self.accepted, self.hint = problem, accepted, hint


def find(scenario: ScenarioSection, key: str) -> Place:
    """The number a dotted key stands for.

    Raises
    ------
    KeyFault
    """
    steps = [step.strip().strip("\"'") for step in key.split(".")]
    part: Any = scenario
    if steps[0] in FIXED_TABLES:
        raise KeyFault(f"[{steps[0]}] cannot be varied", "a number of another table",
                       "airspeeds have a table of their own: [search.airspeed]"
                       if steps[0] == "airspeed" else "")
    for place, step in enumerate(steps):
        known = (list(part) if isinstance(part, dict)
                 else list(type(part).model_fields) if isinstance(part, Section) else [])
        if step not in known:
            where = f"[{'.'.join(steps[:place])}]" if place else "the file"
            raise KeyFault(f'{where} has no key "{step}"', listed(known) if known else
                           "a key that leads to a single number", near_miss(step, known))
        if place == len(steps) - 1 and isinstance(part, Section):
            found = _place(part, step)
            _may_vary(scenario, tuple(steps))
            return found
        part = part[step] if isinstance(part, dict) else getattr(part, step)
        if part is None:
            raise KeyFault(f"the file does not give [{'.'.join(steps[:place + 1])}]",
                           "a number that the file gives")
    raise KeyFault("a table, not a number", "a key that leads to a single number")


def _may_vary(scenario: ScenarioSection, path: tuple[str, ...]) -> None:
    """Refuse what describes no machine, pack, airframe or day."""
    try:
        key_rule(scenario, path)
    except Refused as refused:
        raise KeyFault(refused.problem, refused.accepted, refused.hint) from None


def _place(holder: Section, name: str) -> Place:
    rule, value = rule_of(type(holder).model_fields[name]), getattr(holder, name)
    if isinstance(rule, Series) and rule.single and isinstance(value, tuple) and len(value) == 1:
        rule, value = rule.of, value[0]
    if not isinstance(rule, Quantity | Count):
        raise KeyFault("not a single number", "a key that leads to a single number")
    if value is None:
        others = [key for group in (*holder.ONE_OF, *holder.AT_MOST_ONE) if name in group
                  for key in holder.given(*group)]
        raise KeyFault("the file does not give it, so it cannot be varied",
                       "a number that the file gives",
                       f"it gives {others[0]} instead" if others else
                       "write the value you would build with, then vary it")
    return Place(holder=holder, name=name, rule=rule, value=float(value))


def axis_keys(axis: AxisSection) -> tuple[str, ...]:
    """Keys of an axis, one or several."""
    return (axis.key,) if axis.key is not None else tuple(axis.keys or ())


def check_search(scenario: ScenarioSection) -> Iterator[Problem]:
    """Faults of the search against the rest of the file; paths count from the file."""
    search = scenario.search
    if search is None:
        return
    names_wrong = list(_check_names(scenario, search))
    yield from names_wrong
    clean = not names_wrong
    seen: dict[str, int] = {}
    names: dict[str, int] = {}
    for number, axis in enumerate(search.axes):
        here = ("search", "axes", number)
        if not _readable(axis):
            clean = False
            continue
        faults = list(_check_axis(scenario, axis))
        yield from (Problem(path=(*here, *fault.path), problem=fault.problem,
                            accepted=fault.accepted, hint=fault.hint) for fault in faults)
        for key in (*axis_keys(axis), *(key for key, _ in axis.follow or ())):
            if key in seen:
                yield Problem(path=here, problem=f"two axes vary {key}: this one and number "
                              f"{seen[key] + 1}", accepted="each key in one axis")
            seen.setdefault(key, number)
        name = axis_name(axis)
        if name in names:
            yield Problem(path=here, problem=f'two axes are called "{name}"',
                          accepted="a name of its own for each: name")
        names.setdefault(name, number)
        clean &= not faults
        if not faults:
            yield from _check_ends(scenario, axis, here)
    parts = (search, search.airspeed or scenario.airspeed, *search.bounds)
    if clean and not any(list(part.check()) for part in parts):
        yield from _check_size(scenario)


def _readable(axis: AxisSection) -> bool:
    """Whether an axis was read without a fault of its own."""
    ends = [axis.lowest, axis.highest, *(axis.at or ())]
    return (not list(axis.check()) and bool(axis_keys(axis)) and "" not in axis_keys(axis)
            and axis.points != 0 and axis.spacing != ""
            and not any(isinstance(end, float) and math.isnan(end) for end in ends))


def _check_size(scenario: ScenarioSection) -> Iterator[Problem]:
    spec = search_spec(scenario)
    count = sum(spec.designs(name).count for name in spec.candidates)
    points = count * points_per_design(spec.airspeed.size, spec.answers)
    if points > MOST_POINTS:
        yield Problem(path=("search", "axes"), problem=f"{count:,} designs, {points:,} operating "
                      "points in all: that takes many days",
                      accepted=f"at most {MOST_POINTS:,} operating points",
                      hint="fewer points along the axes, or samples in place of a grid")


def _check_names(scenario: ScenarioSection, search: SearchSection) -> Iterator[Problem]:
    for name in search.candidates or ():
        if name not in scenario.candidates:
            yield Problem(path=("search", "candidates"), problem=f'no candidate "{name}"',
                          accepted=listed(scenario.candidates),
                          hint=near_miss(name, scenario.candidates))
    if scenario.airframe is None:
        wanted = {search.best, *search.answers, *(search.front or ()),
                  *(bound.answer for bound in search.bounds)}
        for answer in sorted(wanted & set(ANSWERS)):
            if ANSWERS[answer].airframe:
                yield Problem(path=("search",), problem=f"{answer} needs an aircraft",
                              accepted="a table [airframe], or another answer")


def axis_name(axis: AxisSection) -> str:
    """What an axis is called: its name, or candidate and last word of its key."""
    if axis.name:
        return axis.name
    steps = axis_keys(axis)[0].split(".")
    last = steps[-1].replace("_", " ")
    return f"{steps[1]} {last}" if steps[0] == "candidates" and len(steps) > 2 else last


def _check_axis(scenario: ScenarioSection, axis: AxisSection) -> Iterator[Problem]:
    search = scenario.search
    assert search is not None
    path = ("key",) if axis.key is not None else ("keys",)
    try:
        places = [find(scenario, key) for key in axis_keys(axis)]
    except KeyFault as fault:
        yield Problem(path=path, problem=fault.problem, accepted=fault.accepted, hint=fault.hint)
        return
    if len({place.kind for place in places}) > 1 and not axis.relative:
        yield Problem(path=path, problem="keys of different kinds cannot take one value",
                      accepted="keys of one kind, or relative = true")
        return
    owners = {owner for key in axis_keys(axis) if (owner := _owner(key))}
    absent = owners - set(searched(scenario))
    if absent:
        yield Problem(path=path, problem=f'"{sorted(absent)[0]}" is not searched',
                      accepted=f"a candidate of {listed(searched(scenario))}")
    if axis_keys(axis) == ("comparison.electrical_power",) and \
            scenario.comparison.footing != EQUAL_POWER:
        yield Problem(path=path, problem=f'contradicts footing = "{scenario.comparison.footing}", '
                      "which holds no power", accepted=f'footing = "{EQUAL_POWER}"')
    yield from _check_values(axis, places)
    yield from _check_follow(scenario, axis, places[0])


def _check_follow(scenario: ScenarioSection, axis: AxisSection,
                  leader: Place) -> Iterator[Problem]:
    """Keys that follow: numbers above zero of the same candidate, in their range at both ends."""
    if axis.follow is None:
        return
    path = ("follow",)
    if leader.value <= 0.0:
        yield Problem(path=path, problem="the file gives 0 for the key, and 0 has no ratio",
                      accepted="a value above zero at the key, or no follow")
        return
    for key, power in axis.follow:
        try:
            place = find(scenario, key)
        except KeyFault as fault:
            yield Problem(path=path, problem=fault.problem, accepted=fault.accepted,
                          hint=fault.hint)
            continue
        if _owner(key) not in {_owner(own) for own in axis_keys(axis)}:
            yield Problem(path=path, problem=f"{key} belongs to another part than the axis",
                          accepted="keys of the same candidate")
        elif isinstance(place.rule, Count) or place.value <= 0.0:
            yield Problem(path=path, problem=f"{key} is a count, or 0: it cannot follow",
                          accepted="a quantity above zero")
        else:
            for name, value in _given_ends(axis, leader):
                made = float(follow_value(axis, leader, place=place, power=power, value=value))
                yield from _in_range(place, name, made)


def _given_ends(axis: AxisSection, leader: Place) -> list[tuple[str, float]]:
    """Both ends of an axis in SI, with their keys; none where they are no quantities."""
    name, last = ("at", "at") if axis.at is not None else ("lowest", "highest")
    try:
        values = axis_values(axis, leader)
    except QuantityFault:
        return []
    return [(name, float(values[0])), (last, float(values[-1]))]


def follow_value(axis: AxisSection | Axis, leader: Place, place: Place, power: float,
                 value: Any) -> Any:
    """What a key that follows takes for a value of its axis."""
    ratio = value if axis.relative else value / leader.value
    return place.value * ratio**power


def _check_values(axis: AxisSection, places: list[Place]) -> Iterator[Problem]:
    given = [("at", value) for value in axis.at] if axis.at is not None else [
        ("lowest", axis.lowest), ("highest", axis.highest)]
    numbers = []
    for name, value in given:
        try:
            numbers.append(_si(axis, places[0], value))
        except QuantityFault as fault:
            yield Problem(path=(name,), problem=f"{value}: {fault.problem}",
                          accepted=fault.accepted, hint=fault.hint)
            continue
        for place in places:
            yield from _check_range(axis, place, name, numbers[-1])
    if len(numbers) < len(given) or not all(math.isfinite(number) for number in numbers):
        return
    if axis.at is None and numbers[0] >= numbers[1]:
        yield Problem(path=("lowest",), problem="not below highest: the range is empty",
                      accepted="lowest below highest")
    if axis.at is not None and np.any(np.diff(numbers) <= 0.0):
        yield Problem(path=("at",), problem="does not rise from entry to entry",
                      accepted="values in rising order, none twice")
    if axis.spacing == "ratio" and numbers[0] <= 0.0:
        yield Problem(path=("spacing",), problem="steps of equal ratio cannot begin at zero",
                      accepted="a lowest value above zero, or even steps")
    if any(isinstance(place.rule, Count) for place in places) and not axis.relative:
        values = numbers if axis.points is None else list(axis_values(axis, places[0]))
        if (axis.at is None and axis.points is None) or any(v != round(v) for v in values):
            yield Problem(path=("at",) if axis.at is not None else ("points",),
                          problem="a count takes whole numbers only",
                          accepted="at = [1, 2, 3], or points that step by ones")


def _si(axis: AxisSection, place: Place, value: Any) -> float:
    if isinstance(value, float) and math.isnan(value):
        return math.nan
    words = place.rule.words if isinstance(place.rule, Quantity) else ()
    if isinstance(value, str) and value.strip().casefold() in dict(words) and not axis.relative:
        return dict(words)[value.strip().casefold()]
    return to_si(value, FACTOR.kind if axis.relative else place.kind)


def _check_range(axis: AxisSection, place: Place, name: str, number: float) -> Iterator[Problem]:
    yield from _in_range(place, name, number * place.value if axis.relative else number)


def _in_range(place: Place, name: str, value: float) -> Iterator[Problem]:
    low, high = place.rule.low, place.rule.high
    slack = 1e-12 * abs(value)
    if math.isfinite(value) and not low - slack <= value <= high + slack:
        told = shown(value, place.kind)
        yield Problem(path=(name,), problem=f"makes {place.name} {told}, outside its range",
                      accepted=f"from {shown(low, place.kind)} to {shown(high, place.kind)}")


def _check_ends(scenario: ScenarioSection, axis: AxisSection,
                here: tuple[str | int, ...]) -> Iterator[Problem]:
    """Ends at which the file contradicts itself, whichever end the other axes are at.

    Combinations inside may still fit badly: those designs are left out and counted.
    """
    search = scenario.search
    assert search is not None
    others = [other for other in search.axes if other is not axis and _readable(other)
              and not list(_check_axis(scenario, other))]
    for name, end in (("lowest" if axis.at is None else "at", 0),
                      ("highest" if axis.at is None else "at", -1)):
        tries = []
        for others_at in (None, 0, -1):
            changed = replaced(scenario, _end_values(scenario, axis, end))
            if others_at is not None:
                for other in others:
                    changed = replaced(changed, _end_values(scenario, other, others_at))
            found = [problem for key in {_owner(key) or "" for key in axis_keys(axis)}
                     for problem in _problems(changed, key)]
            tries.append(found)
            if not found:
                break
        if all(tries):
            worst = tries[0][0]
            value = shown(float(axis_values(axis, find(scenario, axis_keys(axis)[0]))[end]),
                          "ratio" if axis.relative else
                          find(scenario, axis_keys(axis)[0]).kind)
            yield Problem(path=(*here, name), problem=f"at {value}: {worst.problem}",
                          accepted=worst.accepted, hint=worst.hint)


def _end_values(scenario: ScenarioSection, axis: AxisSection, end: int) -> dict[str, float]:
    leader = find(scenario, axis_keys(axis)[0])
    return {key: float(value) for key, value in
            key_values(scenario, axis, axis_keys(axis), axis_values(axis, leader)[end]).items()}


def key_values(scenario: ScenarioSection, axis: AxisSection | Axis, keys: tuple[str, ...],
               value: Any) -> dict[str, Any]:
    """What all keys of an axis take for a value of it: its own, and those that follow."""
    leader = find(scenario, keys[0])
    return {key: value_for(axis, find(scenario, key), value) for key in keys} | {
        key: follow_value(axis, leader, place=find(scenario, key), power=power, value=value)
        for key, power in axis.follow or ()}


def _problems(scenario: ScenarioSection, candidate: str) -> list[Problem]:
    part: Any = scenario.candidates[candidate] if candidate else None
    if part is None:
        parts = [scenario.pack, scenario.airframe, scenario.comparison]
        return [problem for inner in parts if inner is not None
                for _, section in sections(inner) for problem in section.check()]
    return [problem for _, section in sections(part) for problem in section.check()]


def axis_values(axis: AxisSection, place: Place) -> Array:
    """Values of an axis in SI, or its two ends where it is sampled."""
    if axis.at is not None:
        return np.array([_si(axis, place, value) for value in axis.at])
    low, high = _si(axis, place, axis.lowest), _si(axis, place, axis.highest)
    if axis.points is None:
        return np.array([low, high])
    if axis.spacing == "ratio":
        return np.geomspace(low, high, axis.points)
    return np.linspace(low, high, axis.points)


def value_for(axis: AxisSection | Axis, place: Place, value: Any) -> Any:
    """What a key takes for a value of its axis."""
    return value * place.value if axis.relative else value


def replaced(scenario: ScenarioSection, values: dict[str, Any]) -> ScenarioSection:
    """The same sections with other numbers at dotted keys; nothing is checked again."""
    for key, value in values.items():
        scenario = _replaced(scenario, [s.strip().strip("\"'") for s in key.split(".")], value)
    return scenario


def _replaced(part: Any, steps: list[str], value: Any) -> Any:
    step, rest = steps[0], steps[1:]
    if isinstance(part, dict):
        return {**part, step: _replaced(part[step], rest, value)}
    if not rest:
        rule = rule_of(type(part).model_fields[step])
        if isinstance(rule, Count) and np.ndim(value) == 0:
            value = round(value)
        return part.model_copy(update={step: (value,) if isinstance(rule, Series) else value})
    return part.model_copy(update={step: _replaced(getattr(part, step), rest, value)})


def _owner(key: str) -> str | None:
    steps = [step.strip().strip("\"'") for step in key.split(".")]
    return steps[1] if steps[0] == "candidates" and len(steps) > 2 else None


def searched(scenario: ScenarioSection) -> tuple[str, ...]:
    """Names of the candidates searched."""
    assert scenario.search is not None
    return scenario.search.candidates or tuple(scenario.candidates)


SLOW = ("map", "table", "count")
"""Steps of a key, behind the candidate's name, for which a map or a build is made anew."""


def _slow(key: str) -> bool:
    steps = key.split(".")
    return (steps[0] == "candidates" and (steps[2] in (*SLOW, "rotor", "diameter"))) \
        or steps[0] == "site"


def search_spec(scenario: ScenarioSection) -> SearchSpec:
    """The search of a file that has been checked, in SI."""
    search = scenario.search
    assert search is not None
    names = searched(scenario)
    speeds = np.array((search.airspeed or scenario.airspeed).airspeeds())
    bounds = tuple(Bound(answer=bound.answer, **{
        key: bound.end(key) for key in bound.given("at_least", "at_most")})
        for bound in search.bounds)
    kept = dict.fromkeys((search.best, *(search.front or ()),
                          *(bound.answer for bound in bounds), *search.answers))
    at = float(speeds[-1]) if search.front_airspeed is None else search.front_airspeed
    return SearchSpec(
        candidates={name: scenario.candidates[name].kind for name in names},
        axes=tuple(_axis(scenario, axis) for axis in search.axes), airspeed=speeds,
        answers=tuple(kept), best=search.best, front=tuple(search.front or ()),
        front_airspeed=float(speeds[int(np.argmin(np.abs(speeds - at)))]), bounds=bounds,
        leave_out=USUAL if search.leave_out is None else search.leave_out,
        samples=search.samples or 0, seed=search.seed, installed_mass=search.installed_mass)


def _axis(scenario: ScenarioSection, axis: AxisSection) -> Axis:
    keys = axis_keys(axis)
    place = find(scenario, keys[0])
    owners = {_owner(key) for key in keys}
    kind = "ratio" if axis.relative else place.kind
    values = axis_values(axis, place)
    unit, scale, offset = display_unit(float(np.median(np.abs(values))), kind)
    return Axis(name=axis_name(axis), keys=keys, kind=kind, unit=KINDS[kind].unit, values=values,
                display_unit=unit, scale=scale, offset=offset,
                sampled=axis.at is None and axis.points is None, follow=axis.follow or (),
                owner=owners.pop() if len(owners) == 1 else None, relative=axis.relative,
                slow=any(_slow(key) for key in (*keys, *(key for key, _ in axis.follow or ()))))
