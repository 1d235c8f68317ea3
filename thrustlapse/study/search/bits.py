"""Causes as bits beside every number of a search: flags of the points, limits, the search's own."""

from __future__ import annotations

from collections.abc import Iterable

from thrustlapse.designs import causes
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.study.limits.table import STOPS

_FIRST_OWN, FIRST_LIMIT = 24, 32
"""Bits below are those of the operating point's own flags; those of limits that say stop begin at
the second. A chunk keeps 63 of them."""

BITS: dict[str, int] = (
    {flag.words: int(flag) for flag in Flag}
    | {name: 1 << (_FIRST_OWN + place) for place, name in enumerate(causes.OWN)}
    | {name: 1 << (FIRST_LIMIT + place) for place, name in enumerate(STOPS)})
"""Bit of every cause, by name."""

CAUSES: dict[str, str] = causes.CAUSES | {name: limit.meaning for name, limit in STOPS.items()}
"""Every cause in plain words, by name."""

ALWAYS = (*causes.ALWAYS, *STOPS)
"""Causes that leave no design to speak of, whatever the search says."""


def mask(names: Iterable[str]) -> int:
    """Bits of causes by name."""
    return sum({BITS[name] for name in names})
