"""A blade section known by wind-tunnel polars at several Reynolds numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.propeller.section import (
    FRICTION_EXPONENT,
    STALL_DELAY_FADE,
    drag_rise,
    slope_factor,
    stall_delay,
)
from thrustlapse.rotor.stalled_plate import plate_normal_force

STEP = np.deg2rad(0.5)
"""Spacing of the internal table [rad]."""

STALL_SPREAD = np.deg2rad(12.0)
"""Angle beyond a polar's end over which it passes into the stalled plate [rad]; common practice."""

Polar = tuple[Array, Array, Array]
"""Angle of attack [rad], rising; lift coefficient; drag coefficient."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PolarSection:
    """Section from measured polars.

    Parameters
    ----------
    polars : mapping
        Reynolds number -> (angle of attack [rad], lift, drag coefficient), three or more points
    thickness : float
        Thickness over chord, for the drag rise [-]

    Notes
    -----
    Shape-preserving cubics in angle, straight in ln Re. Beyond its ends a polar goes on with its
    end slope and passes into the stalled plate within :data:`STALL_SPREAD`. Above the highest
    Reynolds number the last polar holds; below the lowest the lift holds and the drag grows as
    Re^-0.5, a laminar layer's: an extrapolation, and optimistic for a thick section, which loses
    lift there too.
    """

    polars: Mapping[float, Polar]
    thickness: float = 0.1

    def __post_init__(self) -> None:
        if not self.polars:
            raise ValueError("a section needs at least one polar")
        for reynolds, (angle, lift, drag) in self.polars.items():
            a = np.asarray(angle, dtype=float)
            if not (a.size >= 3 and a.size == np.size(lift) == np.size(drag)
                    and np.all(np.diff(a) > 0.0)):
                raise ValueError(f"polar at Re {reynolds:g}: needs three or more points with "
                                 "rising angle, and as many lift and drag coefficients")
            if not (reynolds > 0.0 and np.all(np.asarray(drag) > 0.0)
                    and np.all(np.abs(a) < np.pi / 2.0)):
                raise ValueError(f"polar at Re {reynolds:g}: Reynolds number and drag must be "
                                 "above 0, angles in rad and within 90 degrees")

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        """ln Re, and per polar, node and quantity (lift, drag, stalled share): value and slope."""
        reynolds = sorted(self.polars)
        nodes = np.linspace(-np.pi, np.pi, round(2.0 * np.pi / STEP) + 1)
        rows = np.array([_all_round(nodes, self.polars[key]) for key in reynolds])
        return np.log(reynolds), rows

    def coefficients(self, *, angle: Values, reynolds: Values, mach: Values,
                     chord_to_radius: Values = 0.0) -> tuple[Array, Array]:
        """Lift and drag coefficient [-]; arguments as for every section."""
        a, re = np.broadcast_arrays(np.asarray(angle, float), np.asarray(reynolds, float))
        lift, drag, stalled = self._read(a, re)
        lift = lift * slope_factor(mach=mach)
        first, last = STALL_DELAY_FADE
        near = np.clip((last - np.abs(a)) / (last - first), 0.0, 1.0)
        delayed = stall_delay(lift=lift, potential_lift=2.0 * np.pi * np.sin(a),
                              chord_to_radius=chord_to_radius)
        lowest = min(self.polars)
        laminar = np.maximum(lowest / re, 1.0) ** FRICTION_EXPONENT
        attached_drag = drag * (1.0 + (1.0 - stalled) * (laminar - 1.0))
        rise = drag_rise(mach=mach, lift=np.clip(lift, -1.5, 1.5), thickness=self.thickness)
        lift = lift + near * stalled * (delayed - lift)
        return np.asarray(lift), np.asarray(attached_drag + rise)

    def _read(self, angle: Array, reynolds: Array) -> tuple[Array, Array, Array]:
        ln_re, rows = self._table
        place = np.interp(np.log(reynolds), ln_re, np.arange(ln_re.size))
        known = np.isfinite(place) & np.isfinite(angle)
        low = np.minimum(np.where(known, place, 0.0).astype(np.intp), max(ln_re.size - 2, 0))
        high = np.minimum(low + 1, ln_re.size - 1)
        share = np.where(known, place - low, np.nan)[..., None]
        step = 2.0 * np.pi / (rows.shape[1] - 1)
        along = (np.where(known, angle, 0.0) + np.pi) / step
        node = np.clip(along.astype(np.intp), 0, rows.shape[1] - 2)
        t = (along - node)[..., None]
        value = (1.0 - share) * _hermite(rows, low, node=node, t=t, step=step) + share * _hermite(
            rows, high, node=node, t=t, step=step)
        return value[..., 0], value[..., 1], value[..., 2]


def _hermite(rows: Array, which: Array, node: Array, t: Array, step: float) -> Array:
    """Cubic through values and slopes at both ends of an interval; t from 0 to 1."""
    here, there = rows[which, node], rows[which, node + 1]
    a, b = here[..., 0, :], there[..., 0, :]
    return np.asarray(a + t * t * (3.0 - 2.0 * t) * (b - a)
                      + step * t * (1.0 - t) * ((1.0 - t) * here[..., 1, :]
                                                - t * there[..., 1, :]))


def _all_round(nodes: Array, polar: Polar) -> Array:
    """Lift, drag, stalled share and their slopes: (node, value or slope, quantity)."""
    from scipy.interpolate import PchipInterpolator

    angle, lift, drag = (np.asarray(part, dtype=float) for part in polar)
    inside = np.clip(nodes, angle[0], angle[-1])
    beyond = nodes - inside
    u = np.clip(np.abs(beyond) / STALL_SPREAD, 0.0, 1.0)
    stalled = u * u * (3.0 - 2.0 * u)
    within = np.clip(beyond, -STALL_SPREAD, STALL_SPREAD)
    plate = plate_normal_force(angle=nodes)
    parts = []
    for curve, flat in ((PchipInterpolator(angle, lift), plate * np.cos(nodes)),
                        (PchipInterpolator(angle, drag), plate * np.sin(nodes) + drag.min())):
        onward = curve(inside) + curve.derivative()(inside) * within
        parts.append((1.0 - stalled) * onward + stalled * flat)
    parts.append(stalled)
    values = np.stack(parts, axis=-1)
    slopes = PchipInterpolator(nodes, values).derivative()(nodes)
    return np.stack([values, slopes], axis=1)
