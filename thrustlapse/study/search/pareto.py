"""The front of a trade-off: designs that no other beats in every answer at once."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, BoolArray


def on_front(values: Array) -> BoolArray:
    """Which points no other point beats, where more is better in every column.

    A point is beaten by one that is at least as good in every column and better in one. Of equal
    points the first counts; points with NaN never do.

    Parameters
    ----------
    values : array, shape (n, k)

    Returns
    -------
    array of bool, shape (n,)
    """
    known = np.flatnonzero(np.isfinite(values).all(axis=1))
    kept = np.zeros(values.shape[0], dtype=bool)
    if known.size == 0:
        return kept
    table = values[known]
    _, first = np.unique(table, axis=0, return_index=True)
    first.sort()
    known, table = known[first], table[first]
    # best first column first; ties by the next columns, so a point is beaten only by earlier ones
    order = np.lexsort(tuple(-table[:, column] for column in range(table.shape[1] - 1, -1, -1)))
    known, table = known[order], table[order]
    if table.shape[1] == 2:
        second = table[:, 1]
        before = np.maximum.accumulate(np.concatenate([[-np.inf], second[:-1]]))
        kept[known[second > before]] = True
        return kept
    left = np.arange(table.shape[0])
    while left.size:
        lead = left[0]
        kept[known[lead]] = True
        left = left[1:]
        left = left[(table[left] > table[lead]).any(axis=1)]
    return kept
