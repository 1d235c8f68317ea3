"""Shape-preserving curves through points.

The same as SciPy's ``PchipInterpolator`` to the last digit (a test holds that), whose import takes
a sixth of the time that reading a scenario takes. Its compiled pieces read many places faster.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values


@dataclass(frozen=True, eq=False)
class Curve:
    """Cubic pieces between rising ``knots`` (n,), by their ``coefficients`` (4, n - 1, ...), the
    highest power first; beyond the ends the last piece goes on."""

    knots: Array
    coefficients: Array

    def __call__(self, at: Values) -> Array:
        """Value at each place, (..., as many columns as the curve has)."""
        place = np.asarray(at, dtype=float)
        piece = np.minimum(np.maximum(np.searchsorted(self.knots, place, side="right") - 1, 0),
                           self.knots.size - 2)
        c = self.coefficients
        away = (place - self.knots[piece]).reshape(place.shape + (1,) * (c.ndim - 2))
        square = away * away
        return np.asarray(c[3][piece] + c[2][piece] * away + c[1][piece] * square
                          + c[0][piece] * (square * away))

    def within(self, at: Values) -> Array:
        """The same of a single column, NaN outside the knots."""
        place = np.asarray(at, dtype=float)
        inside = (place >= self.knots[0]) & (place <= self.knots[-1])
        return np.where(inside, self(place), np.nan)

    def slope(self, piece: int, away: float) -> Array:
        """Slope of a piece, so far behind its first knot, for each column."""
        c = self.coefficients[:, piece]
        return np.asarray(c[2] + 2.0 * c[1] * away + 3.0 * c[0] * (away * away))


def through(knots: Array, values: Array) -> Curve:
    """The curve through ``values`` (n, ...) at rising ``knots`` (n,), 2 or more.

    References
    ----------
    Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304: weighted harmonic means of
    neighbouring slopes, three points at the ends.
    """
    x, y = np.asarray(knots, dtype=float), np.asarray(values, dtype=float)
    width = np.diff(x).reshape(-1, *(1,) * (y.ndim - 1))
    rise = np.diff(y, axis=0) / width
    slope = _slopes(width, rise)
    bend = (slope[:-1] + slope[1:] - 2.0 * rise) / width
    return Curve(knots=x, coefficients=np.stack([
        bend / width, (rise - slope[:-1]) / width - bend, slope[:-1], y[:-1]]))


def straight_ended(knots: Array, values: Array) -> Curve:
    """The same, continued by a straight line at both ends."""
    inner = through(knots, values)
    x, y, last = inner.knots, np.asarray(values, dtype=float), inner.knots.size - 2
    span = x[-1] - x[0]
    first_slope, last_slope = inner.slope(0, 0.0), inner.slope(last, float(x[-1] - x[-2]))
    zero = np.zeros_like(first_slope)
    left = np.stack([zero, zero, first_slope, y[0] - first_slope * span])[:, None]
    right = np.stack([zero, zero, last_slope, y[-1]])[:, None]
    return Curve(knots=np.concatenate([[x[0] - span], x, [x[-1] + span]]),
                 coefficients=np.concatenate([left, inner.coefficients, right], axis=1))


def _slopes(width: Array, rise: Array) -> Array:
    if width.shape[0] == 1:
        return np.concatenate([rise, rise])
    before, after = rise[:-1], rise[1:]
    near, far = 2.0 * width[1:] + width[:-1], width[1:] + 2.0 * width[:-1]
    turns = (np.sign(before) != np.sign(after)) | (before == 0.0) | (after == 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = 1.0 / ((near / before + far / after) / (near + far))
    ends = (_end_slope(width[:2], rise[:2]), _end_slope(width[:-3:-1], rise[:-3:-1]))
    return np.concatenate([ends[0][None], np.where(turns, 0.0, mean), ends[1][None]])


def _end_slope(width: Array, rise: Array) -> Array:
    """Slope at an end by three points, kept from turning the curve round."""
    slope = ((2.0 * width[0] + width[1]) * rise[0] - width[0] * rise[1]) / (width[0] + width[1])
    steep = (np.sign(rise[0]) != np.sign(rise[1])) & (np.abs(slope) > 3.0 * np.abs(rise[0]))
    return np.where(np.sign(slope) != np.sign(rise[0]), 0.0,
                    np.where(steep, 3.0 * rise[0], slope))
