"""Why a design does not count: bits beside every number, so that nothing is dropped in silence."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from thrustlapse.arrays import IntArray
from thrustlapse.propulsor.operating_point import INVALID, MEANING, Flag

_FIRST = 20
"""Bits below are those of the operating point's own flags."""

_OWN = {
    "rotor stress": "the rotor's stress at 115 % of its fastest speed, blocked or running, exceeds "
                    "its material's strength",
    "motor current": "the motor carries more than it is rated for",
    "pack current": "the pack carries more than it is rated for",
    "unit current": "wire or controller of one unit carries more than it is rated for",
    "duct temperature": "the air is hotter than the duct's plastic stands",
    "too heavy": "heavier than the installed mass every design is held to",
    "impossible shape": "these dimensions do not fit each other",
    "power not reached": "drive or pack do not draw the power that all are held to",
    "outside a bound": "an answer lies outside the search's own bounds",
}

BITS: dict[str, int] = ({flag.words: int(flag) for flag in Flag}
                        | {name: 1 << (_FIRST + place) for place, name in enumerate(_OWN)})
"""Bit of every cause, by name."""

CAUSES: dict[str, str] = {flag.words: MEANING[flag] for flag in Flag} | _OWN
"""Every cause in plain words, by name."""

ALWAYS = (*(flag.words for flag in Flag if flag & INVALID),
          "too heavy", "impossible shape", "outside a bound")
"""Causes that leave no design to speak of, whatever the search says."""

USUAL = ("rotor stress", "motor current", "pack current", "unit current", "duct temperature",
         "stall side")
"""Causes for which a search leaves designs out unless told otherwise: what the limits call stop,
and operation where the machine may surge."""


def mask(names: Iterable[str]) -> int:
    """Bits of causes by name."""
    return sum({BITS[name] for name in names})


def tally(bits: IntArray) -> dict[str, int]:
    """How often each cause holds; causes that never do are not named."""
    counts = {name: int(np.count_nonzero(bits & bit)) for name, bit in BITS.items()}
    return {name: count for name, count in counts.items() if count}
