"""Thrust and friction of a rolling stand: closed forms, and draws with known truth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.bench.rolling_stand import push_pull, reduce_stand

forces = st.floats(-50.0, 50.0)


@given(thrust=forces, friction=st.floats(0.0, 5.0), a=st.floats(1e-3, 1.0), b=st.floats(1e-3, 1.0))
def test_mean_and_half_difference(thrust, friction, a, b) -> None:
    """Closed form: readings T - f and T + f; deviations add as squares, halved."""
    got = push_pull(push=thrust - friction, pull=thrust + friction, push_deviation=a,
                    pull_deviation=b)
    assert got[0] == pytest.approx(thrust, abs=1e-12)
    assert got[1] == pytest.approx(friction, abs=1e-12)
    assert got[2] == pytest.approx(np.sqrt(a**2 + b**2) / 2)


def test_without_a_pair_there_is_no_thrust() -> None:
    nan, one = np.array([np.nan, 1.0]), np.array([1.0, np.nan])
    read = reduce_stand(push=one, pull=nan, push_deviation=one, pull_deviation=one)
    assert np.isnan(read.thrust).all()
    assert read.one_sided.tolist() == [True, True]


def test_friction_that_never_wanders_adds_nothing() -> None:
    read = reduce_stand(push=np.array([1.8, 2.8]), pull=np.array([2.2, 3.2]),
                        push_deviation=np.full(2, 0.02), pull_deviation=np.full(2, 0.02))
    np.testing.assert_allclose(read.thrust_deviation, 0.02 / np.sqrt(2))


@pytest.mark.parametrize("wander", [0.0, 0.03])
def test_stated_deviations_are_those_of_many_draws(wander) -> None:
    """Twelve pairs and three single readings, friction drawn anew each time: the errors found are
    as large as stated, within the scatter of 1000 draws."""
    random = np.random.default_rng(7)
    scale, friction, pairs = 0.02, 0.06, 12
    errors, stated = [], []
    for _ in range(1000):
        truth = random.uniform(0.5, 2.5, pairs + 3)
        push = truth - friction - wander * random.standard_normal(pairs + 3)
        pull = truth + friction + wander * random.standard_normal(pairs + 3)
        push += scale * random.standard_normal(pairs + 3)
        pull += scale * random.standard_normal(pairs + 3)
        pull[pairs:] = np.nan
        read = reduce_stand(push=push, pull=pull, push_deviation=np.full(pairs + 3, scale),
                            pull_deviation=np.full(pairs + 3, scale))
        errors.append(read.thrust - truth)
        stated.append(read.thrust_deviation**2)
    for part in (slice(None, pairs), slice(pairs, None)):
        found = np.mean(np.concatenate([error[part] for error in errors]) ** 2)
        told = np.mean(np.concatenate([one[part] for one in stated]))
        # a floored estimate of the wander is a little too large where there is none
        assert 0.93 < told / found < (1.35 if wander == 0.0 else 1.08)
