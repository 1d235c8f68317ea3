"""Root finders: each element alone, against solutions known in closed form or by SciPy's brentq."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from thrustlapse.elementwise import (
    bracketed_root,
    crossings,
    guessed_root,
    smooth_root,
    solve_pair,
)


def wiggly(a: np.ndarray, b: np.ndarray, p: np.ndarray, q: np.ndarray):
    """Two smooth coupled residuals; their slopes make a P-matrix, so the root is the only one."""
    return np.tanh(a - p) + 0.3 * (b - q), np.expm1(0.5 * (b - q)) - 0.2 * (a - p)


def bounds(size: int, reach: float = 9.0):
    wide = np.full(size, reach)
    return {"lower": (-wide, -wide), "upper": (wide, wide)}


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(-4, 4), st.floats(-4, 4)), min_size=1, max_size=40))
def test_two_unknowns_find_the_only_root(places) -> None:
    """The root is (p, q) by construction. An element may be given up, for a bracketing method to
    finish; one that is called converged must be there."""
    p, q = np.array(places).T
    zero = np.zeros(p.size)
    a, b, converged = solve_pair(lambda i, x, y: wiggly(x, y, p[i], q[i]), (zero, zero),
                                 **bounds(p.size))
    np.testing.assert_allclose(a[converged], p[converged], atol=1e-9)
    np.testing.assert_allclose(b[converged], q[converged], atol=1e-9)
    assert converged[np.hypot(p, q) < 0.5].all()


def test_a_step_too_small_to_square_breaks_nothing() -> None:
    """A neighbour at rest on its root once divided by the square of a vanishing step."""
    p, q = np.array([0.0, 0.0]), np.array([1.0, 1e-160])
    a, b, converged = solve_pair(lambda i, x, y: wiggly(x, y, p[i], q[i]),
                                 (np.zeros(2), np.zeros(2)), **bounds(2))
    assert converged.all()
    np.testing.assert_allclose(a, p, atol=1e-9)
    np.testing.assert_allclose(b, q, atol=1e-9)


def test_an_element_does_not_know_its_neighbours() -> None:
    """Point = batch: a slow neighbour that keeps iterating changes nothing."""
    p, q = np.linspace(-4, 4, 50), np.linspace(3, -3, 50)

    def solve(pick):
        start = np.zeros(pick.size)
        return solve_pair(lambda i, x, y: wiggly(x, y, p[pick][i], q[pick][i]), (start, start),
                          **bounds(pick.size))

    together = solve(np.arange(50))
    for alone in (0, 23, 49):
        single = solve(np.array([alone]))
        assert single[0][0] == pytest.approx(together[0][alone], abs=1e-10)


def test_no_root_is_no_root() -> None:
    """a^2 + 1 has none: not converged, and within the bounds."""
    zero = np.zeros(3)
    a, _, converged = solve_pair(lambda _, x, y: (x * x + 1.0, y), (zero + 0.5, zero),
                                 **bounds(3))
    assert not converged.any()
    assert np.all(np.abs(a) <= 9.0)


def test_a_root_at_the_bound_is_not_believed() -> None:
    """What is pinned against a bound may only be leaning on it."""
    zero = np.zeros(1)
    _, _, converged = solve_pair(lambda _, x, y: (x - 20.0, y), (zero, zero), **bounds(1))
    assert not converged.any()


@settings(max_examples=30)
@given(st.lists(st.floats(-20, 20).map(lambda x: round(x, 6)), min_size=1, max_size=30))
def test_bracketing_against_brentq(places) -> None:
    targets = np.array(places)
    root, found = bracketed_root(lambda i, x: np.cbrt(x) + 0.1 * x - targets[i],
                                 np.full(targets.size, -1e4), np.full(targets.size, 1e4))
    assert found.all()
    for value, target in zip(root, targets, strict=True):
        expected = brentq(lambda x, t=target: np.cbrt(x) + 0.1 * x - t, -1e4, 1e4, xtol=1e-13)
        assert value == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_no_change_of_sign_no_root() -> None:
    root, found = bracketed_root(lambda _, x: x * x + 1.0, np.array([-1.0]), np.array([1.0]))
    assert not found[0]
    assert np.isnan(root[0])


def test_crossings_of_a_polynomial() -> None:
    """Roots 1, 2 and 5 by construction."""
    roots, rising = crossings(lambda x: (x - 1) * (x - 2) * (x - 5), np.linspace(0.03, 7.0, 31))
    np.testing.assert_allclose(roots, [1.0, 2.0, 5.0], atol=1e-7)
    assert rising.tolist() == [True, False, True]


def test_a_curve_that_is_zero_everywhere_crosses_nowhere() -> None:
    """Two equal candidates once overtook each other at every point of the grid."""
    roots, _ = crossings(np.zeros_like, np.linspace(0.0, 1.0, 9))
    assert roots.size == 0


def test_touching_zero_is_not_crossing_it() -> None:
    roots, _ = crossings(lambda x: (x - 0.5) ** 2, np.linspace(0.0, 1.0, 5))
    assert roots.size == 0


def test_a_stretch_of_zeros_is_one_crossing() -> None:
    roots, rising = crossings(lambda x: np.sign(x) * np.maximum(np.abs(x) - 0.3, 0.0),
                              np.linspace(-1.0, 1.0, 9))
    assert roots == pytest.approx([0.0], abs=1e-12)
    assert rising.tolist() == [True]


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_zero_on_a_grid_point_counts_once(sense) -> None:
    for grid in (np.linspace(-1.0, 1.0, 5), np.linspace(0.0, 1.0, 5), np.linspace(-1.0, 0.0, 5)):
        roots, rising = crossings(lambda x: sense * x, grid)
        assert roots == pytest.approx([0.0], abs=1e-12)
        assert rising.tolist() == [sense > 0.0]


def test_a_crossing_inside_a_gap_between_grid_points_stays_hidden() -> None:
    """It was once given as a root at NaN."""
    def gap(x):
        return np.where(np.abs(x - 0.55) < 0.05, np.nan, 0.55 - x)

    for grid in (np.linspace(0.0, 1.0, 3), np.array([0.0, 1.0])):
        roots, _ = crossings(gap, grid)
        assert roots.size == 0


def test_an_empty_or_single_grid_has_no_crossing() -> None:
    for size in (0, 1):
        roots, rising = crossings(lambda x: x - 0.5, np.ones(size))
        assert roots.size == rising.size == 0


def test_a_smooth_root_is_found_in_a_few_steps_and_a_kinked_one_all_the_same() -> None:
    """x^2 = target by secants, and a step function, which no secant finds, by bracketing."""
    targets, asked = np.array([2.0, 3.0, 50.0]), []

    def residual(index, x):
        asked.append(index.size)
        return np.where(index == 1, np.where(x < 1.7, -1.0, 2.0), x * x - targets[index])

    low, high = np.array([1.0, 1.0, 5.0]), np.array([2.0, 2.0, 9.0])
    everyone = np.arange(3)
    root, found = smooth_root(residual, low, high, residual(everyone, low),
                              residual(everyone, high))
    assert found.all()
    assert root == pytest.approx([np.sqrt(2.0), 1.7, np.sqrt(50.0)], rel=1e-12)
    assert asked.count(3) + asked.count(2) < 12


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(-8, 8), st.floats(0.3, 1.5)), min_size=1, max_size=40))
def test_a_guessed_root_is_the_one_by_construction(places) -> None:
    """sinh(x - p) of several slopes, and, for every other element, a step that no secant finds."""
    p, slope = np.array(places).T
    step = np.arange(p.size) % 2 == 1

    def residual(index, x):
        away = x - p[index]
        return np.where(step[index], np.where(away < 0.0, -1.0, 2.0), np.sinh(slope[index] * away))

    low, high = np.full(p.size, -9.0), np.full(p.size, 9.0)
    root, found = guessed_root(residual, low, high, np.zeros(p.size))
    assert found.all()
    np.testing.assert_allclose(root, p, rtol=1e-12, atol=1e-11)
    none, found = guessed_root(lambda index, x: 1.0 + x**2 + 0.0 * index, low, high, low)
    assert np.isnan(none).all()
    assert not found.any()
