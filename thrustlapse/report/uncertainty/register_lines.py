"""What a file does not say and draws are made of, a line each; it loads no study, for `check`."""

from __future__ import annotations

from collections.abc import Sequence

from thrustlapse.register import REGISTER, Assumed
from thrustlapse.report.number_format import diameter, number


def input_words(key: str) -> str:
    """A dotted key as people read it: ``fan: motor speed constant``."""
    if ": " in key:
        return key
    parts = key.split(".")
    if parts[0] == "candidates":
        return f"{parts[1]}: " + " ".join(parts[2:]).replace("_", " ")
    return " ".join(parts).replace("_", " ")


def register_lines(assumed: Sequence[Assumed]) -> list[str]:
    """What is assumed of a file's candidates, with its spread and source: a line each."""
    if not assumed:
        return []
    lines = [f"not given, and drawn within these spreads ({len(assumed)}):"]
    for one in assumed:
        entry = REGISTER[one.entry]
        spread = one.spread.text
        if entry.factor:  # on what was worked out for this machine
            width = spread.partition(", ")[2] or f"times {spread}"
            sized = one.spread.key.endswith("_diameter")
            value = (diameter if sized else number)(one.spread.nominal)
            spread = f"{value}, {width}{' times that' if ' from ' in width else ''}"
        lines.append(f"  {input_words(one.spread.key)}: {entry.words}, {spread}; "
                     f"{one.source or entry.source}")
    return lines
