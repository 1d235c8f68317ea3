"""Numbers without a unit, and what each was read as: a forgotten unit is seldom out of range."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

from thrustlapse.scenario.faults import KeyPath, key_text
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import describe
from thrustlapse.scenario.units import shown


def plain_numbers(text: str) -> list[str]:
    """A line for every plain number of a good scenario text that stands for a quantity."""
    kinds = {key.path: key.kind for key in describe(ScenarioSection) if key.unit}
    lines = []
    for path, value in _values(tomllib.loads(text)):
        wild = tuple("*" if isinstance(step, int) or (place == 1 and path[0] == "candidates")
                     else step for place, step in enumerate(path))
        kind = kinds.get(wild) or kinds.get(wild[:-1] if wild[-1] == "*" else wild)
        if kind and isinstance(value, int | float) and not isinstance(value, bool):
            lines.append(f"{key_text(path)} = {value:g}, read as {shown(float(value), kind)}")
    return lines


def _values(part: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Any]]:
    if isinstance(part, dict):
        for key, value in part.items():
            yield from _values(value, (*path, key))
    elif isinstance(part, list):
        for place, value in enumerate(part):
            yield from _values(value, (*path, place))
    else:
        yield path, part
