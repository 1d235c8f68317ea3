"""Thrust of anything that swallows and throws streams: the momentum theorem on a control volume.

The chain of ``ducted.py`` is one inlet and one convergent nozzle of one gas. This is the general
statement, with any number of streams, their own pressures on their own areas, and added mass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values


@dataclass(frozen=True, kw_only=True)
class Stream:
    """One stream through the boundary: kg/s, m/s along the flight axis (aft positive), Pa, m^2.

    ``pressure`` is the static pressure on ``area``; a stream at ambient pressure needs neither.
    """

    mass_flow: Values
    speed: Values
    pressure: Values | None = None
    area: Values = 0.0


def impulse(stream: Stream, *, ambient: Values) -> Array:
    """Momentum flow plus excess pressure force of a stream [N]: mdot V + (p - p0) A."""
    excess = 0.0 if stream.pressure is None else np.asarray(stream.pressure) - ambient
    momentum = stream.mass_flow * np.asarray(stream.speed)
    return np.asarray(momentum + excess * np.asarray(stream.area))


def net_thrust(*, entering: Sequence[Stream], leaving: Sequence[Stream],
               ambient: Values = 0.0) -> Array:
    """Forward force on the machine [N]: impulse thrown aft less impulse swallowed.

    With the inlet station in the undisturbed air this is the net thrust; with it at the machine's
    face it is the force on the machine alone, without the pre-entry streamtube.
    """
    out = sum((impulse(stream, ambient=ambient) for stream in leaving), np.zeros(()))
    taken = sum((impulse(stream, ambient=ambient) for stream in entering), np.zeros(()))
    return np.asarray(out - taken)
