"""The text of a file a person wrote: bounded, readable, UTF-8, or one clear fault."""

from __future__ import annotations

import re
from pathlib import Path

from thrustlapse.scenario.faults import Fault, ScenarioError, printable

_LONE_RETURN = re.compile(r"\r(?!\n)")


def line_feeds(text: str) -> str:
    """The text with lone carriage returns, which some editors end lines with, as line feeds."""
    return _LONE_RETURN.sub("\n", text)


def line_at(data: bytes, place: int) -> int:
    """Line of a byte, whatever lines end with."""
    return line_feeds(data[:place].decode("latin-1")).count("\n") + 1


def single_fault(name: str, problem: str, accepted: str, hint: str = "", *,
                 line: int = 0) -> ScenarioError:
    """An error of one fault that belongs to no key."""
    return ScenarioError([Fault(file=printable(name), line=line, key="", value="", problem=problem,
                                accepted=accepted, hint=hint)])


def bytes_of(where: Path, *, noun: str, form: str, too_large: str, largest: int,
             starter_hint: str) -> bytes:
    """Bytes of a file that may be read and is no larger than its kind can be.

    ``noun`` is the kind of file ("a scenario file"), ``form`` how it is written ("in TOML").

    Raises
    ------
    ScenarioError
        With one fault, for a file that is missing, a folder, out of reach or too large.
    """
    name = str(where)
    try:
        if where.is_dir():
            data = None
        else:
            with where.open("rb") as stream:
                data = stream.read(largest + 1)
    except FileNotFoundError:
        raise single_fault(name, "no such file", f"the path of {noun}", starter_hint) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise single_fault(name, f"cannot be read ({reason})", "a file you may read") from None
    if data is None:
        raise single_fault(name, "a folder, not a file", f"{noun} {form}")
    if len(data) > largest:
        raise single_fault(name, too_large, f"a file of at most {largest / 1e6:g} MB")
    return data
