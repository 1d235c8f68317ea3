"""What the tried mutants say: shares killed with 95 % intervals, and the list of survivors."""

from __future__ import annotations

import csv
import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
SCORE, SURVIVORS = HERE / "score.csv", HERE / "survivors.csv"
EXPLAINED = HERE / "explained.toml"
"""Why some wrong changes cannot be noticed: words, and rules that say which changes they cover"""
NOT_KILLED = ("survived", "not run by any test")
Z = 1.959964
"""Standard normal deviate of a 95 % interval."""


@cache
def rules() -> tuple[tuple[str, str, re.Pattern[str]], ...]:
    """Word, end of the file's name, and what the changed line must match."""
    told = tomllib.loads(EXPLAINED.read_text(encoding="utf-8"))
    assert {rule["word"] for rule in told["rules"]} == set(told["words"])
    return tuple((rule["word"], rule["file"], re.compile(change))
                 for rule in told["rules"] for change in rule["changes"])


def why(note: Mapping[str, Any]) -> str:
    """The word that explains why a change goes unnoticed; empty where none does."""
    return next((word for word, file, change in rules()
                 if note["file"].endswith(file) and change.search(note["now"])), "")


def interval(killed: int, tried: int) -> tuple[float, float]:
    """Wilson's score interval of a share, 95 %; E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209."""
    share, extra = killed / tried, Z * Z / tried
    centre = (share + extra / 2.0) / (1.0 + extra)
    half = Z / (1.0 + extra) * math.sqrt(share * (1.0 - share) / tried + extra / (4.0 * tried))
    return centre - half, centre + half


def rows(notes: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """One row of the score for each group of files, from the notes of tried mutants."""
    everything = list(notes)
    found = []
    for group, whole in (("files named in the settings", True), ("all other files", False)):
        part = [note for note in everything if bool(note["whole"]) is whole]
        if not part:
            continue
        left = [note for note in part if note["outcome"] in NOT_KILLED]
        low, high = interval(len(part) - len(left), len(part))
        found.append({"group": group, "tried": len(part), "killed": len(part) - len(left),
                      "left": len(left), "explained": sum(why(note) != "" for note in left),
                      "share": f"{1.0 - len(left) / len(part):.4f}",
                      "low": f"{low:.4f}", "high": f"{high:.4f}"})
    return found


def write(notes: Iterable[Mapping[str, Any]]) -> None:
    """Write both tables."""
    everything = sorted(notes, key=lambda note: (note["file"], note["line"], note["operator"],
                                                 note["occurrence"]))
    found = rows(everything)
    with SCORE.open("w", encoding="utf-8", newline="") as out:
        table = csv.DictWriter(out, list(found[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(found)
    heads = ("file", "whole", "operator", "occurrence", "was", "now", "outcome", "why")
    with SURVIVORS.open("w", encoding="utf-8", newline="") as out:
        table = csv.DictWriter(out, heads, lineterminator="\n", extrasaction="ignore")
        table.writeheader()
        table.writerows({**note, "whole": int(note["whole"]), "why": why(note)}
                        for note in everything if note["outcome"] in NOT_KILLED)
