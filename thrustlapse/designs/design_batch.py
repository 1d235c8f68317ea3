"""Designs built: what a scenario hands to whoever works many of them out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, IntArray, Values
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import Candidate


@dataclass(frozen=True, kw_only=True)
class DesignBatch:
    """Some designs of one candidate, built: every array is of shape (designs, 1).

    ``rows`` are their places in the batch that was asked for; ``impossible`` says that none of them
    can be built: the parts are then of no meaning. ``reference`` is the candidate whose power all
    are held to, where the comparison's basis names one.
    """

    rows: IntArray
    candidate: Candidate
    airframe: Airframe | None
    basis: Basis
    pack_current_rating: Values | None
    wiring: Wiring | None = None
    reference: Candidate | None = None
    impossible: bool = False


class Machines(Protocol):
    """Where designs come from: a scenario of which some quantities are replaced."""

    def draw(self, candidate: str, values: Mapping[str, Array]) -> Iterator[DesignBatch]:
        """Designs of a candidate in groups that one call can work out.

        ``values`` are SI values by axis name, each of shape (designs,).
        """
        ...
