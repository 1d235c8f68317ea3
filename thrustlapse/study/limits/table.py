"""Every limit of a machine, one entry each: pages, searches, draws and browser iterate over it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import BoolArray
from thrustlapse.study.limits import (
    currents,
    efficiency_check,
    electrical,
    flow,
    flying,
    heat,
    people,
    rotor,
)
from thrustlapse.study.limits.limit import Limit
from thrustlapse.study.limits.states import States

LIMITS: dict[str, Limit] = {limit.name: limit for limit in (
    *rotor.LIMITS, *currents.LIMITS, *electrical.LIMITS, *heat.LIMITS, *people.LIMITS,
    *flow.LIMITS, *efficiency_check.LIMITS, *flying.LIMITS)}
"""Name -> limit."""

STOPS: dict[str, Limit] = {name: limit for name, limit in LIMITS.items() if limit.stops}
"""Those that forbid a machine: a stop anywhere is a stop for the design, in every answer."""


@dataclass(frozen=True, kw_only=True)
class CurveLimit:
    """A limit that a curve of a moving page can be held against: the curve's greatest value."""

    name: str
    curve: str
    bound: float


def curve_limits(states: States) -> tuple[CurveLimit, ...]:
    """Limits that say stop and are given for this candidate, on quantities that have a curve."""
    found = []
    for name, limit in STOPS.items():
        bound = (limit.curve_bound or limit.bound)(states) if limit.curve else None
        if bound is not None:
            found.append(CurveLimit(name=name, curve=limit.curve, bound=float(np.min(bound))))
    return tuple(found)


def stopped(states: States) -> dict[str, BoolArray]:
    """Which cases each limit forbids anywhere, (case,); limits with nothing to hold are left out.
    """
    found = {}
    for name, limit in STOPS.items():
        where = limit.stopped(states)
        if where is not None:
            found[name] = np.atleast_1d(where.any(axis=-1))
    return found
