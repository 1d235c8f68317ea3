"""Other values in a scenario's text; all else as its writer left it: comments, order, spaces."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from thrustlapse.scenario.faults import (
    Fault,
    KeyPath,
    ScenarioError,
    key_text,
    printable,
    value_text,
)

PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


def edited_text(text: str, changes: Mapping[KeyPath, str], *, name: str) -> str:
    """The text with other values at some keys.

    Parameters
    ----------
    text : str
        A valid scenario
    changes : mapping
        Key -> what to write there. A plain number is written as one where the key holds a number
        or nothing, else in quotes.
    name : str
        What messages call the text

    Raises
    ------
    ScenarioError
        For a key that leads through something that is no table.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for path, value in changes.items():
        place: Any = document
        for step in path[:-1]:
            if isinstance(place, dict) and isinstance(step, str):
                if step not in place:  # beside an include, what the file itself says wins
                    place[step] = tomlkit.table()
            elif not isinstance(place, list) or step not in range(len(place)):
                raise _no_way(path, value, name)
            place = place[step]
        last = path[-1]
        if not isinstance(place, dict) or isinstance(last, int):
            raise _no_way(path, value, name)
        place[last] = _as_held(place.get(last), value)
    return tomlkit.dumps(document)


def _as_held(held: Any, value: str) -> Any:
    """A plain number as one where the key holds a number or nothing, else the text."""
    number = held[0] if isinstance(held, list) and len(held) == 1 else held
    numeric = isinstance(number, int | float) and not isinstance(held, bool)
    if (numeric or held is None) and PLAIN.fullmatch(value.strip()):
        return int(value) if re.fullmatch("[+-]?[0-9]+", value.strip()) else float(value)
    return value


def _no_way(path: KeyPath, value: str, name: str) -> ScenarioError:
    return ScenarioError([Fault(
        file=printable(name), line=0, key=key_text(path), value=value_text(value),
        problem="there is no such place in the file", accepted="a key that the file has")])
