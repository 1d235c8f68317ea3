"""Tables of many propellers that differ in a few dimensions, without computing each of them.

A table by blade elements is some seven thousand element solutions. Where few distinct propellers
are asked for, each is computed; where many are, tables are computed at nodes across the range of
every dimension that varies, and what lies between is read straight from point to point: knots and
values alike, so that each propeller keeps a grid that suits it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import product

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.rotor.batched_map import BatchedTable, row_curves
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import NoMap

MOST_DISTINCT = 64
"""Distinct propellers up to which every one is computed."""

NODES = {1: 17, 2: 7}
"""Nodes along each dimension, by the number of dimensions that vary. Against propellers computed
one by one over plus and minus 10 % of pitch and diameter, CT and CP differ by less than 0.1 % of
their peaks with one dimension and 0.3 % with two (a test holds that)."""

Make = Callable[[Mapping[str, float]], PropellerTable]


def many_tables(make: Make, values: Mapping[str, Array]) -> BatchedTable:
    """One batch of tables over draws of dimensions.

    Parameters
    ----------
    make : callable
        Table of one propeller from its dimensions by name
    values : mapping of array, (samples,)
        Dimensions that vary

    Raises
    ------
    NoMap
        Where more than two dimensions vary over more than :data:`MOST_DISTINCT` propellers.
    """
    names = list(values)
    drawn = np.stack([values[name] for name in names], axis=1)
    distinct, row = np.unique(drawn, axis=0, return_inverse=True)
    row = np.asarray(row, dtype=np.int64).reshape(-1, 1)
    if distinct.shape[0] <= MOST_DISTINCT:
        tables = [make(dict(zip(names, one.tolist(), strict=True))) for one in distinct]
        return _stacked(tables, np.eye(len(tables)), row)
    moving = [place for place in range(len(names)) if np.ptp(distinct[:, place]) > 0.0]
    if len(moving) not in NODES:
        raise NoMap(f"{len(moving)} dimensions of the blades vary at once, over "
                    f"{distinct.shape[0]} propellers")
    axes = [np.linspace(distinct[:, place].min(), distinct[:, place].max(), NODES[len(moving)])
            if place in moving else distinct[:1, place] for place in range(len(names))]
    tables = [make(dict(zip(names, (float(x) for x in node), strict=True)))
              for node in product(*axes)]
    return _stacked(tables, _weights(axes, distinct), row)


def _weights(axes: list[Array], points: Array) -> Array:
    """Share of every node in every point, straight along each axis; (points, nodes)."""
    whole = np.ones((points.shape[0], 1))
    for place, axis in enumerate(axes):
        along = np.stack([np.interp(points[:, place], axis, one) for one in np.eye(axis.size)],
                         axis=1) if axis.size > 1 else np.ones((points.shape[0], 1))
        whole = (whole[:, :, None] * along[:, None, :]).reshape(points.shape[0], -1)
    return whole


def _stacked(tables: list[PropellerTable], weights: Array, row: IntArray) -> BatchedTable:
    """Weighted means of tables of equal shape, one for each line of ``weights``."""
    advance = weights @ np.stack([one.advance_ratio for one in tables])
    speeds = weights @ np.stack([one.shaft_speed for one in tables])
    thrust, power = (np.tensordot(weights, np.stack([getattr(one, name) for one in tables]), 1)
                     for name in ("thrust_points", "power_points"))
    count, columns = speeds.shape[1], advance.shape[1]
    knots = np.repeat(advance, count, axis=0)
    return BatchedTable(
        shaft_speed=speeds, last_advance_ratio=advance[:, -1],
        thrust_curves=row_curves(knots, thrust.reshape(-1, columns)),
        power_curves=row_curves(knots, power.reshape(-1, columns)), row=row,
        band=tables[0].band, source=tables[0].source)
