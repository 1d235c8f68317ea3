"""Curves through points against SciPy's, digit for digit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from thrustlapse.curves import straight_ended, through
from thrustlapse.rotor.stage_map import FEW, StraightEnded


@settings(max_examples=80)
@given(st.lists(st.tuples(st.floats(0.01, 3.0), st.sampled_from([-2.0, 0.0, 0.3, 1.0, 5.0])),
                min_size=2, max_size=12), st.integers(0, 2**31))
def test_a_curve_is_the_one_that_scipy_draws(steps, seed) -> None:
    """With flat stretches and turns; beyond the ends too."""
    widths, values = np.array(steps).T
    knots = np.cumsum(widths)
    theirs, ours = PchipInterpolator(knots, values), through(knots, values)
    reach = knots[-1] - knots[0]
    at = np.random.default_rng(seed).uniform(knots[0] - reach, knots[-1] + reach, 200)
    at = np.concatenate([at, knots])
    np.testing.assert_array_equal(ours(at), theirs(at))
    np.testing.assert_array_equal(ours.coefficients, theirs.c)
    np.testing.assert_array_equal(ours.within(at), PchipInterpolator(
        knots, values, extrapolate=False)(at))


def test_columns_and_straight_ends_are_those_of_scipys_pieces() -> None:
    """Two curves over one row of knots; beyond the ends straight lines of the slope there."""
    knots = np.array([0.1, 0.15, 0.3, 0.32, 0.5])
    values = np.array([[1.0, 0.2], [1.2, 0.2], [0.9, 0.4], [0.3, 0.5], [-0.4, 0.1]])
    theirs = PchipInterpolator(knots, values)
    inside = np.linspace(0.1, 0.5, 97)
    curve = straight_ended(knots, values)
    np.testing.assert_array_equal(curve(inside[:-1]), theirs(inside[:-1]))
    for end, away in ((0.1, -0.05), (0.5, 0.07)):
        np.testing.assert_allclose(curve(end + away), theirs(end) + away * theirs(end, 1),
                                   rtol=1e-12)
    few, many = StraightEnded(knots, values), StraightEnded(knots, values)
    wide = np.linspace(-0.5, 1.2, FEW)
    np.testing.assert_array_equal(np.concatenate([few(part) for part in np.split(wide, 4)]),
                                  many(wide))


def test_a_single_place_and_no_value() -> None:
    curve = through(np.array([0.0, 1.0, 3.0]), np.array([0.0, 1.0, 1.5]))
    assert curve(1.0).shape == ()
    assert float(curve(1.0)) == pytest.approx(1.0)
    assert np.isnan(curve.within(np.nan))
