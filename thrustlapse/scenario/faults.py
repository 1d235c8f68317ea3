"""Faults of a scenario file: collected all together, each saying where, what, and what instead."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

KeyPath = tuple[str | int, ...]
"""Where a value stands in the file: keys, and places in lists counted from 0."""

MOST_SHOWN = 40
"""Faults that a message spells out; the rest is counted."""

LONGEST_VALUE = 60
"""Characters of a faulty value that a message repeats."""


class Missing:
    """Stands for a value that is not in the file."""


MISSING = Missing()


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault: file, line (from 1; 0 where there is none), key, value and what would do.

    Whatever a terminal might obey is written out in all of them: they repeat what a file says.
    """

    file: str
    line: int
    key: str
    value: str
    problem: str
    accepted: str = ""
    hint: str = ""

    def __post_init__(self) -> None:
        for name in ("file", "key", "value", "problem", "accepted", "hint"):
            object.__setattr__(self, name, printable(getattr(self, name)))

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        given = self.key + (f" = {self.value}" if self.value else "")
        lines = [f"{place}: {given}: {self.problem}" if given else f"{place}: {self.problem}"]
        if self.accepted:
            lines.append(f"    accepted: {self.accepted}")
        if self.hint:
            lines.append(f"    hint: {self.hint}")
        return "\n".join(lines)


class ScenarioError(ValueError):
    """A scenario file that cannot be used; ``faults`` holds every reason, ``str()`` prints them."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: list[Fault] = sorted(
            faults, key=lambda fault: (fault.file, fault.line))
        super().__init__(_message(self.faults))

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[list[Fault]]]:
        return type(self), (self.faults,)


def _message(faults: Sequence[Fault]) -> str:
    parts = [str(fault) for fault in faults[:MOST_SHOWN]]
    if len(faults) > MOST_SHOWN:
        parts.append(f"and {len(faults) - MOST_SHOWN} more")
    if len(faults) > 1:
        files = dict.fromkeys(fault.file for fault in faults)
        parts.insert(0, f"{len(faults)} faults in {', '.join(files)}")
    return "\n".join(parts)


def printable(text: str) -> str:
    """The text with everything a terminal might obey written out as escapes."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def key_text(path: KeyPath) -> str:
    """A path as TOML writes it; places in lists in brackets, counted from 1 as people do."""
    words = ""
    for part in path:
        if isinstance(part, int):
            words += f"[{part + 1}]"
        else:
            words += ("." if words else "") + _bare_or_quoted(part)
    return words


def _bare_or_quoted(key: str) -> str:
    short = key if len(key) <= LONGEST_VALUE else key[: LONGEST_VALUE - 3] + "..."
    if short and short.isascii() and short.replace("-", "").replace("_", "").isalnum():
        return short
    return printable(json.dumps(short, ensure_ascii=False))


def value_text(value: object) -> str:
    """A value as the file gives it, shortened; empty for one that is missing."""
    if isinstance(value, Missing):
        return ""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        text = printable(json.dumps(value[: 2 * LONGEST_VALUE], ensure_ascii=False))
    elif isinstance(value, int) and abs(value) > 10**30:
        return "a number beyond 10^30"
    elif isinstance(value, list):
        text = "[" + ", ".join(value_text(entry) for entry in value[:12])
        text += ", ...]" if len(value) > 12 else "]"
    else:
        text = printable(str(value))
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 3] + "..."


def near_word(given: str, known: Iterable[str]) -> str:
    """The known word most like the given one; empty where none is."""
    slip = given[:LONGEST_VALUE]
    folded = {word.casefold().replace("_", " ").replace("-", " "): word for word in sorted(known)}
    plain = slip.casefold().replace("_", " ").replace("-", " ")
    near = difflib.get_close_matches(plain, folded, n=1, cutoff=0.7)
    return folded[near[0]] if near else ""


def near_miss(given: str, known: Iterable[str]) -> str:
    """A hint naming the known word most like the given one; empty where none is."""
    word = near_word(given, known)
    return f'did you mean "{word}"?' if word else ""


def listed(words: Iterable[str]) -> str:
    """Words in quotes, with commas."""
    return ", ".join(f'"{word}"' for word in words)
