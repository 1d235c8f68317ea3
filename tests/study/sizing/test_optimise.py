"""The batched optimiser on problems whose answer is known in closed form, and on machines."""

from __future__ import annotations

import numpy as np
import pytest

from tests.searches import MACHINES
from thrustlapse.arrays import Array, IntArray
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.sizing.merit import worth
from thrustlapse.study.sizing.optimise import Effort, optimise

PEAKS = np.array([[0.3, 0.6, 0.45], [0.7, 0.2, 0.8], [0.5, 0.5, 1.4]])


def hills(places: Array, point: IntArray) -> tuple[Array, Array]:
    """A ridge along the diagonal with its top at PEAKS; the last lies outside the ranges."""
    off = places - PEAKS[point]
    return 5.0 - np.sum(off**2, axis=1) - 3.0 * (off[:, 0] - off[:, 1])**2, np.zeros(point.size)


def test_every_point_finds_its_own_peak_and_a_peak_outside_ends_on_the_bound() -> None:
    found = optimise(hills, points=3, variables=3, effort=Effort(agree=1e-8, generations=200))
    assert found.converged.all()
    np.testing.assert_allclose(found.places[:, 0], np.minimum(PEAKS, 1.0), atol=1e-3)
    assert found.places[2, 0, 2] == 1.0
    assert found.value[2, 0] == pytest.approx(5.0 - 0.4**2, abs=1e-5)


def test_on_a_limit_the_best_lies_on_it() -> None:
    """Most of x + y inside a quarter circle: sqrt(2), at 45 degrees."""
    def circle(places: Array, point: IntArray) -> tuple[Array, Array]:
        over = np.sum(places**2, axis=1) - 1.0
        return np.sum(places, axis=1), np.maximum(over, 0.0)

    found = optimise(circle, points=1, variables=2, effort=Effort(agree=1e-7, generations=200))
    assert found.value[0, 0] == pytest.approx(np.sqrt(2.0), rel=1e-5)
    assert found.beyond[0, 0] == 0.0


def test_where_nothing_is_allowed_nothing_is_found() -> None:
    def shut(places: Array, point: IntArray) -> tuple[Array, Array]:
        return np.ones(point.size), 1.0 + places[:, 0]

    found = optimise(shut, points=2, variables=2, effort=Effort(generations=5))
    assert not found.found.any()
    assert not found.converged.any()


def test_the_same_seed_gives_the_same_and_counts_what_it_asked() -> None:
    asked = []

    def counted(places: Array, point: IntArray) -> tuple[Array, Array]:
        asked.append(point.size)
        return hills(places, point)

    one, two = (optimise(counted, points=3, variables=3) for _ in range(2))
    np.testing.assert_array_equal(one.places, two.places)
    assert one.evaluations + two.evaluations == sum(asked)


def test_against_scipy_on_a_propeller() -> None:
    """Differential evolution of SciPy, one problem, the same limits as penalties. After fifty
    generations it is within 2e-4 of where it stops by itself, after 130."""
    from scipy.optimize import differential_evolution

    scenario = read_text(MACHINES)
    kind, held = kinds(scenario)["propeller"], rules(scenario)
    speed, power = np.array([15.0, 35.0]), np.array([200.0, 400.0])

    def score(places: Array, point: IntArray) -> tuple[Array, Array]:
        made = worth(kind, held, places, airspeed=speed[point], power=power[point],
                     at_rest=False)
        return made.value, made.beyond

    ours = optimise(score, points=2, variables=len(kind.variables))
    assert ours.found.all()
    for point in range(2):
        def cost(places: Array, at: int = point) -> Array:
            value, beyond = score(places.T, np.full(places.shape[1], at))
            return np.where(beyond > 0.0, 1e3 * (1.0 + beyond), -value)

        theirs = differential_evolution(cost, [(0.0, 1.0)] * len(kind.variables), seed=3,
                                        vectorized=True, updating="deferred", maxiter=50,
                                        popsize=12, polish=False, tol=1e-6)
        assert ours.value[point, 0] > -theirs.fun * (1.0 - 1.5e-3)
