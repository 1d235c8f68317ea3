"""The front against its definition, point by point."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from thrustlapse.study.search.pareto import on_front

VALUES = st.sampled_from([-1.0, 0.0, 0.5, 1.0, 2.0, 3.5, np.nan])


@given(table=hnp.arrays(float, st.tuples(st.integers(0, 30), st.integers(2, 4)), elements=VALUES))
def test_what_no_other_point_beats(table: np.ndarray) -> None:
    kept = on_front(table)
    for place, point in enumerate(table):
        if np.isnan(point).any():
            assert not kept[place]
            continue
        known = ~np.isnan(table).any(axis=1)
        beaten = any(known[j] and (table[j] >= point).all() and (table[j] > point).any()
                     for j in range(len(table)))
        again = any(known[j] and (table[j] == point).all() for j in range(place))
        assert kept[place] == (not beaten and not again)
