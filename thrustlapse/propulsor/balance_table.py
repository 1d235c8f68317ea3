"""Where to start looking for the balances of one machine at very many airspeeds.

The balance is found at a few hundred airspeeds first; between them cubics through the unknowns are
so near that one step from them is the last. Only the start comes from here: every balance is still
found by its own residuals, and a start that is off costs time, no truth.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.elementwise import Pair, Slopes

NODES = 512
"""Airspeeds at which the balance is found first."""

LEAST_POINTS = 16
"""Points for each node from which the nodes pay."""


class BalanceTable(NamedTuple):
    """Both unknowns over airspeed: cubics from node to node, and derivatives at the nodes.

    ``lowest`` and ``spacing`` of the nodes [m/s]; ``known`` where both ends are balances.
    """

    lowest: float
    spacing: float
    cubics: tuple[Array, Array]
    slopes: Slopes
    known: BoolArray

    def start(self, airspeed: Array) -> tuple[Pair, Slopes, BoolArray]:
        """Both unknowns and the derivatives near airspeeds [m/s], and where they are known."""
        place = (airspeed - self.lowest) / self.spacing
        cell: IntArray = np.minimum(place.astype(np.intp), self.known.size - 1)
        share = place - cell
        first, second = (((cubic[0].take(cell) * share + cubic[1].take(cell)) * share
                          + cubic[2].take(cell)) * share + cubic[3].take(cell)
                         for cubic in self.cubics)
        rx, ry, sx, sy = (each.take(cell) for each in self.slopes)
        return (first, second), (rx, ry, sx, sy), self.known.take(cell)


def tabulated(airspeed: Array, unknowns: Pair, slopes: Slopes, found: BoolArray) -> BalanceTable:
    """Table through what was found at evenly spaced airspeeds [m/s]."""
    from scipy.interpolate import CubicSpline

    place = np.arange(airspeed.size)
    first, second = (np.asarray(CubicSpline(place, each).c) for each in unknowns)
    return BalanceTable(lowest=float(airspeed[0]), spacing=float(airspeed[1] - airspeed[0]),
                        cubics=(first, second), slopes=slopes, known=found[1:] & found[:-1])
