"""Colour, dash and marker of every candidate, the same in every figure, page and story.

Colours are those of Okabe and Ito, told apart by people of every colour vision. A kind of machine
has its colour, marker and first dash; the candidates of one kind have shades of it and further
dashes, in their order, so that a grey print still reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES: tuple[Any, ...] = ("solid", (0, (7, 2)), (0, (3, 1.5)), (0, (8, 2, 1.5, 2)),
                           (0, (1.2, 1.2)), (0, (8, 2, 1.5, 2, 1.5, 2)), (0, (12, 3)))
MARKERS = ("o", "s", "^", "D", "v", "P", "X")

INKS = ("#0072B2", "#00375A", "#3D9BD6",
        "#D55E00", "#7A3300", "#BF8300",
        "#009E73", "#00523C", "#4E9A2A",
        "#B0578D", "#5E1F49", "#BF6FA3")
"""Three shades a kind, in the order of :data:`KINDS`; the page's own script has the same."""

KINDS = ("blower", "axial fan", "propeller", "ducted propeller")
KIND_MARKERS = (("o", "p", "h"), ("s", "X", "8"), ("^", "v", "P"), ("D", "d", "H"))
KIND_FILLS = {"blower": "#9bc4e2", "axial fan": "#f0b48a", "propeller": "#8fd0bb",
              "ducted propeller": "#e3bdd3"}
"""Paler, for areas of a map."""
GREY = "#5c5c5c"


@dataclass(frozen=True, kw_only=True)
class Look:
    """Colour, dash and marker of one candidate, the same in every figure."""

    colour: str
    dash: Any
    marker: str


class OfKind(Protocol):
    """Anything with a kind of machine, by its word in :data:`KINDS`."""

    @property
    def kind(self) -> str: ...


def looks(candidates: Mapping[str, OfKind]) -> dict[str, Look]:
    """A look for each candidate by its kind and its order within it; no two alike before 63."""
    shown = {}
    places = look_places({name: one.kind for name, one in candidates.items()})
    for name, (ink, dash, turn) in places.items():
        shown[name] = Look(colour=INKS[ink], dash=DASHES[dash],
                           marker=KIND_MARKERS[ink // 3][turn % 3])
    return shown


def look_places(kinds: Mapping[str, str]) -> dict[str, tuple[int, int, int]]:
    """Places in :data:`INKS` and :data:`DASHES` of each candidate, and which turn through them."""
    places, counts = {}, dict.fromkeys(KINDS, 0)
    for name, kind in kinds.items():
        number, first = counts[kind], KINDS.index(kind)
        counts[kind] += 1
        places[name] = (3 * first + number % 3, (first + 3 * number) % len(DASHES),
                        number // (3 * len(DASHES)))
    return places


def series_looks(names: Iterable[str]) -> dict[str, Look]:
    """A look for each series that is no candidate; no two alike before 343 of them."""
    kinds = len(COLOURS)
    return {name: Look(colour=COLOURS[place % kinds],
                       dash=DASHES[(place + place // kinds) % len(DASHES)],
                       marker=MARKERS[(place + place // kinds**2) % len(MARKERS)])
            for place, name in enumerate(names)}
