"""Thrust and power coefficients of an open rotor against advance ratio and shaft speed.

    J = V / (n D),  CT = T / (rho n^2 D^4),  CP = P / (rho n^3 D^5),  n in revolutions per second

Measured runs seldom share their advance ratios, and a tunnel reaches high advance ratio only at
low shaft speed. :func:`table_from_runs` puts them on one grid; where only some runs reach, the
nearest in shaft speed stands in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from thrustlapse.arrays import FIXED, Array, BoolArray, Values
from thrustlapse.rotor.propeller.loading import LoadedTable
from thrustlapse.rotor.stage_map import NOT_STATED, Band, same_objects, straight_ended


@dataclass(frozen=True, kw_only=True)
class PropellerTable(LoadedTable):
    """CT and CP on a grid of shaft speed (rows) by advance ratio (columns).

    Shape-preserving cubic in advance ratio, linear in shaft speed; outside the range of shaft
    speeds the nearest row holds (and the matching notes it), outside the range of advance ratios
    the curve goes on straight for the root finder and the matching reports it. ``shaft_speed`` is
    in rad/s and may have a single entry, when nothing is known of its influence. The scales
    anchor the table to a reading; ``loading`` [-], thrust added over that at rest, and ``excess``
    [-], a factor on the power above momentum theory, are its uncertainty. All may be arrays.
    """

    advance_ratio: Array = field(metadata=FIXED)
    shaft_speed: Array = field(metadata=FIXED)
    thrust_points: Array = field(metadata=FIXED)
    power_points: Array = field(metadata=FIXED)
    thrust_scale: Values = 1.0
    power_scale: Values = 1.0
    loading: Values = 0.0
    excess: Values = 1.0
    exit_area_ratio: Values = 0.0
    band: Band = NOT_STATED
    source: str = ""
    curves: Any = field(default=None, repr=False, compare=False, metadata=FIXED)

    def __post_init__(self) -> None:
        points = (self.advance_ratio, self.thrust_points, self.power_points)
        if self.curves is None or not same_objects(self.curves[2], points):
            # handed on by dataclasses.replace, so that chunks share them
            curves = (straight_ended(self.advance_ratio, self.thrust_points.T),
                      straight_ended(self.advance_ratio, self.power_points.T), points)
            object.__setattr__(self, "curves", curves)

    @property
    def highest_advance_ratio(self) -> float:
        """Largest advance ratio the table knows [-]."""
        return float(self.advance_ratio[-1])

    def outside_speed(self, shaft_speed: Values) -> BoolArray:
        """Where a shaft speed [rad/s] lies outside a table that has several rows."""
        omega = np.asarray(shaft_speed)
        if self.shaft_speed.size == 1:
            return np.zeros(omega.shape, dtype=bool)
        return np.asarray((omega < self.shaft_speed[0] * (1.0 - 1e-9))
                          | (omega > self.shaft_speed[-1] * (1.0 + 1e-9)))

    def _nominal_thrust(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        return np.asarray(self._read(0, advance_ratio, shaft_speed) * self.thrust_scale)

    def _nominal_power(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        return np.asarray(self._read(1, advance_ratio, shaft_speed) * self.power_scale)

    def _read(self, which: int, advance_ratio: Values, shaft_speed: Values) -> Array:
        j, omega = np.broadcast_arrays(np.asarray(advance_ratio, float),
                                       np.asarray(shaft_speed, float))
        rows = self.curves[which](j)
        if self.shaft_speed.size == 1:
            return np.asarray(rows[..., 0])
        place = np.interp(omega, self.shaft_speed, np.arange(self.shaft_speed.size))
        low = np.where(np.isnan(place), 0.0, place).astype(np.intp)
        low = np.minimum(low, self.shaft_speed.size - 2)
        share = place - low
        below = np.take_along_axis(rows, low[..., None], axis=-1)[..., 0]
        above = np.take_along_axis(rows, low[..., None] + 1, axis=-1)[..., 0]
        return np.asarray(below + share * (above - below))


def table_from_runs(runs: Mapping[float, tuple[Array, Array, Array]], *, band: Band | None = None,
                    source: str = "", points: int = 81) -> PropellerTable:
    """One table from runs at several shaft speeds, each with advance ratios of its own.

    Parameters
    ----------
    runs : mapping
        Shaft speed [rad/s] -> (advance ratio, CT, CP), advance ratio rising
    points : int
        Number of evenly spaced advance ratios that fill the grid between the measured ones

    Returns
    -------
    PropellerTable
        Each row holds its run where the run reaches. Where it does not, it follows the run
        nearest in shaft speed that reaches farther, shifted to meet its own end point, so that
        no step is put in where a run ends.

    Raises
    ------
    ValueError
        If a run has fewer than two points, its advance ratios do not rise, or no other run
        overlaps its end where it has to be continued.
    """
    speeds = np.array(sorted(runs))
    for speed in speeds:
        j = np.asarray(runs[speed][0])
        if j.size < 2 or np.any(np.diff(j) <= 0.0):
            raise ValueError("each run needs two or more points with rising advance ratio")
    advance = [np.asarray(runs[s][0], dtype=float) for s in speeds]
    grid = _common_grid(advance, points)
    tables = [_fill_rows(speeds, advance, [np.asarray(runs[s][k], dtype=float) for s in speeds],
                         grid) for k in (1, 2)]
    return PropellerTable(advance_ratio=grid, shaft_speed=speeds, thrust_points=tables[0],
                          power_points=tables[1], band=band or NOT_STATED, source=source)


def _common_grid(advance: list[Array], points: int) -> Array:
    """Every measured advance ratio, and evenly spaced ones where none lies near.

    Runs over the same advance ratios need no others between: each curve is the run's own.
    """
    if all(np.array_equal(one, advance[0]) for one in advance):
        return advance[0]
    measured = np.unique(np.concatenate(advance))
    span = measured[-1] - measured[0]
    even = np.linspace(measured[0], measured[-1], points)
    lonely = np.abs(even[:, None] - measured).min(axis=1) > 0.25 * span / (points - 1)
    grid = np.sort(np.concatenate([measured, even[lonely]]))
    apart: BoolArray = np.concatenate([[True], np.diff(grid) > 1e-9 * span])
    return np.asarray(grid[apart])


def _fill_rows(speeds: Array, advance: list[Array], values: list[Array], grid: Array) -> Array:
    from scipy.interpolate import PchipInterpolator

    curves = [PchipInterpolator(j, v) for j, v in zip(advance, values, strict=True)]
    filled = np.array([curve(grid) for curve in curves])
    for side in (0, -1):
        reach = np.array([j[side] for j in advance])
        able: list[int] = []
        for row in np.argsort(reach if side == 0 else -reach, kind="stable"):
            edge = reach[row]
            gap = grid < edge if side == 0 else grid > edge
            if gap.any():
                lenders = [k for k in able if advance[k][0] <= edge <= advance[k][-1]]
                if not lenders:
                    raise ValueError(f"no other run covers advance ratio {edge:g}, where the run "
                                     f"at {speeds[row]:g} rad/s ends")
                lender = min(lenders, key=lambda k: abs(np.log(speeds[k] / speeds[row])))
                shift = values[row][side] - curves[lender](edge)
                filled[row, gap] = filled[lender, gap] + shift
            able.append(int(row))
    return filled
