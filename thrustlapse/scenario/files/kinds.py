"""What kind of machine a candidate is meant to be, where the file's word is none of ours.

One wrong word must not hide the other faults of its candidate: the rest is read as what it looks
like.
"""

from __future__ import annotations

from typing import Any

from thrustlapse.rotor.typical import TYPICAL
from thrustlapse.scenario.faults import near_word

KINDS = ("blower", "axial fan", "propeller", "ducted propeller")

TRADE = {
    "vacuum motor": "blower", "vacuum cleaner motor": "blower", "vacuum": "blower",
    "centrifugal": "blower", "centrifugal fan": "blower", "radial fan": "blower",
    "compressor": "blower", "turbo": "blower", "side channel blower": "blower",
    "edf": "axial fan", "ducted fan": "axial fan", "fan": "axial fan", "impeller": "axial fan",
    "jet": "axial fan", "prop": "propeller", "airscrew": "propeller", "rotor": "propeller",
    "shrouded propeller": "ducted propeller", "shrouded prop": "ducted propeller",
    "ducted prop": "ducted propeller"}
"""Words of the trade for the kinds known here, in lower case."""


def meant(word: str) -> str:
    """The kind that a word of a person stands for; empty where none is near."""
    return TRADE.get(word.strip().casefold().replace("_", " ").replace("-", " "), "") or near_word(
        word, KINDS)


def kind_of(one: dict[str, Any]) -> str:
    """The kind of a candidate by its word, else by its tables; empty where nothing tells."""
    word = one.get("kind")
    if isinstance(word, str) and (word in KINDS or meant(word)):
        return word if word in KINDS else meant(word)
    if "exit_area_ratio" in one:
        return "ducted propeller"
    if "table" in one or "diameter" in one:
        return "propeller"
    rotor = one.get("rotor")
    if isinstance(rotor, dict):
        return "blower" if {"eye_diameter", "eye_area"} & set(rotor) else "axial fan"
    return next(iter(TYPICAL)) if "readings" in one else ""
