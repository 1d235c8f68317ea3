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
            if isinstance(step, int):
                if not isinstance(place, list) or not 0 <= step < len(place):
                    raise _no_way(path, value, name)
            elif isinstance(place, list) or not hasattr(place, "keys"):
                raise _no_way(path, value, name)
            elif step not in place:  # beside an include, what the file itself says wins
                place[step] = tomlkit.table()
            place = place[step]
        last = path[-1]
        if not hasattr(place, "keys") or isinstance(last, int):
            raise _no_way(path, value, name)
        held = place.get(last)
        numeric = isinstance(held, int | float) and not isinstance(held, bool)
        single = isinstance(held, list) and len(held) == 1 and isinstance(held[0], int | float)
        if (numeric or single or held is None) and PLAIN.fullmatch(value.strip()):
            place[last] = int(value) if re.fullmatch("[+-]?[0-9]+", value.strip()) else float(value)
        else:
            place[last] = value
    return tomlkit.dumps(document)


def _no_way(path: KeyPath, value: str, name: str) -> ScenarioError:
    return ScenarioError([Fault(
        file=printable(name), line=0, key=key_text(path), value=value_text(value),
        problem="there is no such place in the file", accepted="a key that the file has")])
