"""Maps of many machines in one: a row of points for each, read in a single call.

A machine whose dimensions are drawn or searched has another map in every draw. Here their points
are the rows of one table and ``row`` says which of them an operating point belongs to, so that the
matching works through all of them at once, as through one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from thrustlapse.arrays import FIXED, Array, BoolArray, IntArray, Values
from thrustlapse.rotor.propeller.loading import LoadedTable
from thrustlapse.rotor.stage_map import (
    NOT_STATED,
    STEEP,
    Band,
    PointMap,
    same_objects,
)

RISE_PLACES = np.linspace(0.0, 1.0, 5)
"""Places between two knots, over their distance, at which the rise of a curve is taken [-]."""


@dataclass(frozen=True, kw_only=True)
class RowCurves:
    """Shape-preserving curves through the rows of points, continued straight at both ends.

    The same curve as :func:`thrustlapse.rotor.stage_map.straight_ended` for every row. ``knots``
    (rows, points) rise along each row; ``order`` holds them as shares of their row's span, three
    to a row apart, so that one sorted search finds the place in every row.
    """

    knots: Array
    order: Array
    coefficients: Array

    def __call__(self, row: IntArray, at: Array) -> Array:
        """Value of the row's curve at each ``at``; the two broadcast."""
        row, at = np.broadcast_arrays(row, at)
        if row.size == 0:
            return np.zeros(row.shape)
        count = self.knots.shape[1]
        first, last = int(row.min()), int(row.max())
        start, span = self.knots[row, 0], self.knots[row, -1] - self.knots[row, 0]
        with np.errstate(invalid="ignore", over="ignore"):
            share = np.minimum(np.maximum((at - start) / span, -1.0), 2.0)
        found = np.searchsorted(self.order[first * count:(last + 1) * count], share + 3.0 * row,
                                side="right") - (row - first) * count
        place = np.minimum(np.maximum(found, 0), count)  # unknown flows stay unknown below
        t = at - self.knots[row, np.maximum(place - 1, 0)]
        c = self.coefficients
        return np.asarray(((c[0][row, place] * t + c[1][row, place]) * t + c[2][row, place]) * t
                          + c[3][row, place])

    def steepest_rise(self) -> Array:
        """Largest d ln y / d ln x of each row between its ends [-], (rows,), at five places from
        knot to knot; infinite where a row rises through zero, 0 where it never rises."""
        t = np.diff(self.knots, axis=1)[..., None] * RISE_PLACES
        c = self.coefficients[:, :, 1:-1, None]
        y = ((c[0] * t + c[1]) * t + c[2]) * t + c[3]
        slope = (3.0 * c[0] * t + 2.0 * c[1]) * t + c[2]
        with np.errstate(divide="ignore", invalid="ignore"):
            rise = slope * (self.knots[:, :-1, None] + t) / y
        steep = np.where((y > 0.0) & np.isfinite(rise), rise, np.inf)
        return np.asarray(np.max(np.where(slope > 0.0, steep, 0.0), axis=(1, 2)))


def row_curves(knots: Array, values: Array) -> RowCurves:
    """Curves through ``values`` at rising ``knots``, both (rows, points), 3 or more points.

    References
    ----------
    Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980), with the end slopes and the weighted
    harmonic mean that SciPy's ``PchipInterpolator`` uses.
    """
    width = np.diff(knots, axis=1)
    rise = np.diff(values, axis=1) / width
    slope = _slopes(width, rise)
    first, last = slope[:, :-1], slope[:, 1:]
    cubic = (first + last - 2.0 * rise) / width**2
    square = (3.0 * rise - 2.0 * first - last) / width
    zero = np.zeros_like(slope[:, :1])
    coefficients = np.stack([
        np.concatenate([zero, cubic, zero], axis=1), np.concatenate([zero, square, zero], axis=1),
        np.concatenate([slope[:, :1], slope], axis=1),
        np.concatenate([values[:, :1], values], axis=1)])
    share = (knots - knots[:, :1]) / (knots[:, -1:] - knots[:, :1])
    order = share + 3.0 * np.arange(knots.shape[0])[:, None]
    return RowCurves(knots=knots, order=order.ravel(), coefficients=coefficients)


def _slopes(width: Array, rise: Array) -> Array:
    near, far = width[:, :-1], width[:, 1:]
    before, after = rise[:, :-1], rise[:, 1:]
    weights = 2.0 * far + near, far + 2.0 * near
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (weights[0] + weights[1]) / (weights[0] / before + weights[1] / after)
    inner = np.where(before * after > 0.0, mean, 0.0)
    left = _end_slope(width[:, 0], width[:, 1], rise[:, 0], rise[:, 1])
    right = _end_slope(width[:, -1], width[:, -2], rise[:, -1], rise[:, -2])
    return np.concatenate([left[:, None], inner, right[:, None]], axis=1)


def _end_slope(width: Array, next_width: Array, rise: Array, next_rise: Array) -> Array:
    """Slope at an end by three points, kept from turning the curve round."""
    slope = ((2.0 * width + next_width) * rise - width * next_rise) / (width + next_width)
    steep = (np.sign(rise) != np.sign(next_rise)) & (np.abs(slope) > 3.0 * np.abs(rise))
    return np.where(np.sign(slope) != np.sign(rise), 0.0, np.where(steep, 3.0 * rise, slope))


@dataclass(frozen=True, kw_only=True)
class BatchedMap:
    """Stage maps through points, one row each: the batch of :class:`PointMap`.

    Parameters
    ----------
    flow, head_points, power_points, swirl_points : array, (rows, points)
        As in a :class:`PointMap`; swirl may be None
    row : array of int
        Which row an operating point belongs to; (rows, 1) for a batch of machines over airspeeds
    steep_rows : array of bool, (rows,)
        Whether a row's head rises steeply with flow; worked out once
    stall : array, (rows,), optional
        Flow coefficient of stall where it is not the highest point's
    """

    flow: Array = field(metadata=FIXED)
    head_points: Array = field(metadata=FIXED)
    power_points: Array = field(metadata=FIXED)
    swirl_points: Array | None = field(default=None, metadata=FIXED)
    stall: Array | None = field(default=None, metadata=FIXED)
    row: Values | IntArray
    flow_scale: Values = 1.0
    head_scale: Values = 1.0
    power_scale: Values = 1.0
    band: Band = NOT_STATED
    source: str = ""
    curves: Any = field(default=None, repr=False, compare=False, metadata=FIXED)
    steep_rows: BoolArray | None = field(default=None, repr=False, compare=False, metadata=FIXED)

    def __post_init__(self) -> None:
        points = (self.flow, self.head_points, self.power_points, self.swirl_points)
        if self.curves is None or not same_objects(self.curves[3], points):
            curves = (row_curves(self.flow, self.head_points),
                      row_curves(self.flow, self.power_points),
                      None if self.swirl_points is None
                      else row_curves(self.flow, self.swirl_points), points)
            object.__setattr__(self, "curves", curves)
            object.__setattr__(self, "steep_rows", curves[0].steepest_rise() >= STEEP)

    @property
    def steep(self) -> BoolArray:
        """Whether the head of each operating point's row rises steeply with flow."""
        assert self.steep_rows is not None
        return np.asarray(self.steep_rows[self._rows])

    @property
    def _rows(self) -> IntArray:
        return np.asarray(self.row).astype(np.int64)

    @property
    def lowest_flow(self) -> Array:
        return np.asarray(self.flow[self._rows, 0] * np.asarray(self.flow_scale))

    @property
    def highest_flow(self) -> Array:
        return np.asarray(self.flow[self._rows, -1] * np.asarray(self.flow_scale))

    @property
    def stall_flow(self) -> Array:
        if self.stall is not None:
            return np.asarray(self.stall[self._rows] * np.asarray(self.flow_scale))
        peak = np.take_along_axis(self.flow, np.argmax(self.head_points, axis=1)[:, None], axis=1)
        return np.asarray(peak[self._rows, 0] * np.asarray(self.flow_scale))

    def head(self, flow: Values) -> Array:
        return np.asarray(self._read(0, flow) * self.head_scale)

    def power(self, flow: Values) -> Array:
        return np.asarray(self._read(1, flow) * self.power_scale)

    def swirl(self, flow: Values) -> Array:
        if self.swirl_points is None:
            return np.zeros(np.broadcast_shapes(np.shape(flow), np.shape(self.row)))
        return self._read(2, flow)

    def _read(self, which: int, flow: Values) -> Array:
        curve: RowCurves = self.curves[which]
        return curve(self._rows, np.asarray(flow / np.asarray(self.flow_scale), dtype=float))


def point_map(*, flow: Array, head: Array, power: Array, swirl: Array | None = None,
              source: str = "") -> PointMap | BatchedMap:
    """Map through points; a batch of maps where any of the arrays has a leading axis of samples."""
    arrays = [flow, head, power] if swirl is None else [flow, head, power, swirl]
    if all(each.ndim == 1 for each in arrays):
        return PointMap(flow=flow, head_points=head, power_points=power, swirl_points=swirl,
                        source=source)
    flow, head, power, *rest = (np.array(each) for each in np.broadcast_arrays(*arrays))
    return BatchedMap(flow=flow, head_points=head, power_points=power,
                      swirl_points=rest[0] if rest else None,
                      row=np.arange(flow.shape[0])[:, None], source=source)


@dataclass(frozen=True, kw_only=True)
class BatchedTable(LoadedTable):
    """Propeller tables of many propellers, read in a single call: the batch of PropellerTable.

    ``shaft_speed`` (tables, speeds) [rad/s], ``last_advance_ratio`` (tables,); ``row`` as in
    :class:`BatchedMap`. Curves are kept one for each table and speed, the speeds of a table one
    after the other.
    """

    shaft_speed: Array = field(metadata=FIXED)
    last_advance_ratio: Array = field(metadata=FIXED)
    thrust_curves: RowCurves = field(metadata=FIXED, repr=False)
    power_curves: RowCurves = field(metadata=FIXED, repr=False)
    row: Values | IntArray
    thrust_scale: Values = 1.0
    power_scale: Values = 1.0
    loading: Values = 0.0
    excess: Values = 1.0
    exit_area_ratio: Values = 0.0
    band: Band = NOT_STATED
    source: str = ""

    @property
    def _rows(self) -> IntArray:
        return np.asarray(self.row).astype(np.int64)

    @property
    def highest_advance_ratio(self) -> Array:
        """Largest advance ratio the table knows [-]."""
        return np.asarray(self.last_advance_ratio[self._rows])

    def outside_speed(self, shaft_speed: Values) -> BoolArray:
        """Where a shaft speed [rad/s] lies outside a table that has several rows."""
        omega = np.asarray(shaft_speed)
        if self.shaft_speed.shape[1] == 1:
            return np.zeros(np.broadcast_shapes(omega.shape, np.shape(self.row)), dtype=bool)
        ends = self.shaft_speed[self._rows][..., [0, -1]]
        return np.asarray((omega < ends[..., 0] * (1.0 - 1e-9))
                          | (omega > ends[..., 1] * (1.0 + 1e-9)))

    def _nominal_thrust(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        return np.asarray(self._read(self.thrust_curves, advance_ratio, shaft_speed)
                          * self.thrust_scale)

    def _nominal_power(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        return np.asarray(self._read(self.power_curves, advance_ratio, shaft_speed)
                          * self.power_scale)

    def _read(self, curves: RowCurves, advance_ratio: Values, shaft_speed: Values) -> Array:
        j, omega, row = np.broadcast_arrays(np.asarray(advance_ratio, float),
                                            np.asarray(shaft_speed, float), self._rows)
        count = self.shaft_speed.shape[1]
        if count == 1:
            return curves(row, j)
        speeds = self.shaft_speed[row]
        low = np.minimum(np.maximum((speeds <= omega[..., None]).sum(axis=-1) - 1, 0), count - 2)
        below = np.take_along_axis(speeds, low[..., None], axis=-1)[..., 0]
        above = np.take_along_axis(speeds, low[..., None] + 1, axis=-1)[..., 0]
        share = np.minimum(np.maximum((omega - below) / (above - below), 0.0), 1.0)
        first = curves(row * count + low, j)
        return np.asarray(first + share * (curves(row * count + low + 1, j) - first))
