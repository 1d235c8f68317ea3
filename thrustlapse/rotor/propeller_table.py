"""Thrust and power coefficients of an open rotor against advance ratio and shaft speed.

    J = V / (n D),  CT = T / (rho n^2 D^4),  CP = P / (rho n^3 D^5),  n in revolutions per second

Measured runs seldom share their advance ratios, and a tunnel reaches high advance ratio only at
low shaft speed. :func:`table_from_runs` puts them on one grid; where only some runs reach, the
nearest in shaft speed stands in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import FIXED, Array, BoolArray, Values
from thrustlapse.rotor.stage_map import NOT_STATED, Band, straight_ended


@dataclass(frozen=True, kw_only=True)
class PropellerTable:
    """CT and CP on a grid of shaft speed (rows) by advance ratio (columns).

    Shape-preserving cubic in advance ratio, linear in shaft speed; outside the range of shaft
    speeds the nearest row holds (and the matching notes it), outside the range of advance ratios
    the curve goes on straight for the root finder and the matching reports it. ``shaft_speed`` is
    in rad/s and may have a single entry, when nothing is known of its influence. The two scales
    stretch the table by its uncertainty and may be arrays.
    """

    advance_ratio: Array = field(metadata=FIXED)
    shaft_speed: Array = field(metadata=FIXED)
    thrust_points: Array = field(metadata=FIXED)
    power_points: Array = field(metadata=FIXED)
    thrust_scale: Values = 1.0
    power_scale: Values = 1.0
    band: Band = NOT_STATED
    source: str = ""
    curves: tuple[object, object] | None = field(default=None, repr=False, compare=False,
                                                 metadata=FIXED)

    def __post_init__(self) -> None:
        if self.curves is None:
            curves = (straight_ended(self.advance_ratio, self.thrust_points.T),
                      straight_ended(self.advance_ratio, self.power_points.T))
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

    def thrust(self, *, advance_ratio: Values, shaft_speed: Values) -> Array:
        """Thrust coefficient CT [-] at advance ratio [-] and shaft speed [rad/s]."""
        return np.asarray(self._read(0, advance_ratio, shaft_speed) * self.thrust_scale)

    def power(self, *, advance_ratio: Values, shaft_speed: Values) -> Array:
        """Power coefficient CP [-] at advance ratio [-] and shaft speed [rad/s]."""
        return np.asarray(self._read(1, advance_ratio, shaft_speed) * self.power_scale)

    def _read(self, which: int, advance_ratio: Values, shaft_speed: Values) -> Array:
        j, omega = np.broadcast_arrays(np.asarray(advance_ratio, float),
                                       np.asarray(shaft_speed, float))
        assert self.curves is not None
        rows = self.curves[which](j)  # type: ignore[operator]
        if self.shaft_speed.size == 1:
            return np.asarray(rows[..., 0])
        place = np.interp(omega, self.shaft_speed, np.arange(self.shaft_speed.size))
        place = np.where(np.isfinite(place), place, 0.0)
        low = np.minimum(place.astype(np.intp), self.shaft_speed.size - 2)
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
        Number of advance ratios of the common grid

    Returns
    -------
    PropellerTable
        Each row holds its run where the run reaches. Where it does not, the row takes the
        difference to the nearest reaching run constant from its own end point, so that no step
        is put in where a run ends.

    Raises
    ------
    ValueError
        If a run has fewer than two points or its advance ratios do not rise.
    """
    speeds = np.array(sorted(runs))
    for speed in speeds:
        j = np.asarray(runs[speed][0])
        if j.size < 2 or np.any(np.diff(j) <= 0.0):
            raise ValueError("each run needs two or more points with rising advance ratio")
    low = min(float(runs[s][0][0]) for s in speeds)
    high = max(float(runs[s][0][-1]) for s in speeds)
    grid = np.linspace(low, high, points)
    tables = [_fill_rows(speeds, [runs[s][0] for s in speeds], [runs[s][k] for s in speeds], grid)
              for k in (1, 2)]
    return PropellerTable(advance_ratio=grid, shaft_speed=speeds, thrust_points=tables[0],
                          power_points=tables[1], band=band or NOT_STATED, source=source)


def _fill_rows(speeds: Array, advance: list[Array], values: list[Array], grid: Array) -> Array:
    from scipy.interpolate import PchipInterpolator

    curves = [PchipInterpolator(j, v, extrapolate=False) for j, v in zip(advance, values,
                                                                         strict=True)]
    known = np.array([curve(grid) for curve in curves])
    filled = known.copy()
    for row, reach in enumerate(advance):
        for side, gap in ((0, grid < reach[0]), (-1, grid > reach[-1])):
            if not gap.any():
                continue
            edge = reach[side]
            able = [k for k in range(len(speeds)) if k != row
                    and advance[k][0] <= edge <= advance[k][-1]
                    and np.isfinite(known[k][gap]).any()]
            able.sort(key=lambda k: (-np.isfinite(known[k][gap]).sum(),
                                     abs(np.log(speeds[k] / speeds[row]))))
            for k in able:
                shift = float(values[row][side]) - float(curves[k](edge))
                lend = np.where(np.isfinite(known[k]), known[k] + shift, np.nan)
                filled[row] = np.where(gap & ~np.isfinite(filled[row]), lend, filled[row])
            left = gap & ~np.isfinite(filled[row])
            if left.any():
                best = np.nanmean(np.where(np.isfinite(known), known, np.nan), axis=0)
                filled[row] = np.where(left, best, filled[row])
    return filled
