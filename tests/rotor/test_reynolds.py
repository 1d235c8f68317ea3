"""The Reynolds-number law of efficiency: its form, its refusals, and what it does to a map."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.rotor.reynolds import (
    CONSTANT_SHARE_RANGE,
    EXPONENT_RANGE,
    best_efficiency,
    carried_efficiency,
    carried_efficiency_range,
    carried_map,
    correction_accepted,
    loss_factor,
    machine_reynolds,
)
from thrustlapse.rotor.stage_map import Band, PointMap, efficiency, exceeds_unity

MAP = PointMap(flow=np.linspace(0.0, 0.4, 9),
               head_points=np.array([0.26, 0.25, 0.24, 0.22, 0.19, 0.15, 0.10, 0.05, -0.02]),
               power_points=np.array([0.03, 0.032, 0.037, 0.043, 0.048, 0.05, 0.049, 0.045, 0.038]),
               band=Band(flow=0.01, head=0.02, power=0.03, basis="test rig"))


def test_law_by_hand():
    # form and ranges from memory (status M); arithmetic: 0.4 + 0.6 x 4^0.15 = 1.138687
    assert loss_factor(reynolds_from=8e5, reynolds_to=2e5) == pytest.approx(
        0.4 + 0.6 * np.exp(0.15 * np.log(4.0)), rel=1e-14)
    assert carried_efficiency(efficiency=0.8, reynolds_from=8e5, reynolds_to=2e5) == pytest.approx(
        1.0 - 0.2 * 1.138687, abs=2e-7)


def test_machine_reynolds():
    # 70 mm at 30,000 rpm in standard air: 110 m/s x 0.07 m / 1.46e-5 m2/s
    assert machine_reynolds(shaft_speed=np.pi * 1000.0, diameter=0.07, density=1.225,
                            viscosity=1.789e-5) == pytest.approx(5.27e5, rel=1e-3)


@given(st.floats(0.05, 0.95), st.floats(2e5, 2e7), st.floats(0.2, 5.0), st.floats(0.2, 5.0))
def test_two_steps_of_friction_alone_are_one(old, start, first, second):
    # without a constant share the law is a power: steps multiply
    step = {"constant_share": 0.0}
    one = loss_factor(reynolds_from=start, reynolds_to=start * first, **step)
    two = loss_factor(reynolds_from=start * first, reynolds_to=start * first * second, **step)
    both = loss_factor(reynolds_from=start, reynolds_to=start * first * second, **step)
    if np.isfinite(one * two * both):
        assert one * two == pytest.approx(both, rel=1e-12)


@given(st.floats(0.05, 0.95), st.floats(2e5, 2e7), st.floats(0.1, 10.0))
def test_larger_machines_are_better_and_no_step_is_no_change(old, start, ratio):
    same = carried_efficiency(efficiency=old, reynolds_from=start, reynolds_to=start)
    assert same == pytest.approx(old, rel=1e-14)
    new = carried_efficiency(efficiency=old, reynolds_from=start, reynolds_to=start * ratio)
    if np.isfinite(new):
        assert (new - old) * (ratio - 1.0) >= 0.0
        assert 0.0 < new < 1.0
        low, high = carried_efficiency_range(efficiency=old, reynolds_from=start,
                                             reynolds_to=start * ratio)
        if np.isfinite(low):
            assert low - 1e-12 <= new <= high + 1e-12


def test_large_steps_and_small_numbers_are_refused():
    start = np.array([1e6, 1e6, 1e6, 9e4, 1e6, np.nan])
    end = np.array([1.1e5, 0.9e5, 1.1e7, 2e5, 0.0, 1e6])
    assert list(correction_accepted(reynolds_from=start, reynolds_to=end)) == [
        True, False, False, False, False, False]
    new = carried_efficiency(efficiency=0.7, reynolds_from=start, reynolds_to=end)
    assert list(np.isfinite(new)) == [True, False, False, False, False, False]
    assert np.isnan(carried_efficiency(efficiency=0.05, reynolds_from=1e6, reynolds_to=1.1e5))
    assert np.isnan(carried_efficiency(efficiency=1.2, reynolds_from=1e6, reynolds_to=5e5))


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_carried_map_has_the_law_at_its_best_flow(share):
    carried = carried_map(MAP, reynolds_from=1e6, reynolds_to=3e5, head_share=share)
    want = carried_efficiency(efficiency=best_efficiency(MAP), reynolds_from=1e6, reynolds_to=3e5)
    assert best_efficiency(carried) == pytest.approx(float(want), rel=1e-12)
    flow = np.linspace(0.0, 0.4, 33)
    ratio = float(want / best_efficiency(MAP))
    np.testing.assert_allclose(carried.head(flow), MAP.head(flow) * ratio**share, rtol=1e-12)
    np.testing.assert_allclose(carried.power(flow), MAP.power(flow) * ratio ** (share - 1.0),
                               rtol=1e-12)
    assert not exceeds_unity(carried)
    assert carried.power(0.0) > 0.0


def test_best_efficiency_is_that_of_the_map():
    flow = np.linspace(0.0, 0.35, 2001)
    assert best_efficiency(MAP) == pytest.approx(float(np.nanmax(efficiency(MAP, flow))), rel=1e-5)


def test_band_widens_with_the_step_and_says_why():
    near = carried_map(MAP, reynolds_from=1e6, reynolds_to=8e5).band
    far = carried_map(MAP, reynolds_from=1e6, reynolds_to=2e5).band
    assert MAP.band.head < near.head < far.head
    assert MAP.band.power < near.power < far.power
    assert near.flow == MAP.band.flow
    assert "test rig" in far.basis
    assert "memory" in far.basis
    none = carried_map(MAP, reynolds_from=1e6, reynolds_to=1e6).band
    assert (none.head, none.power) == pytest.approx((MAP.band.head, MAP.band.power))


def test_band_covers_the_ranges_of_the_constants():
    carried = carried_map(MAP, reynolds_from=1e6, reynolds_to=2e5)
    old = best_efficiency(MAP)
    corners = [float(carried_efficiency(efficiency=old, reynolds_from=1e6, reynolds_to=2e5,
                                        constant_share=a, exponent=n))
               for a in CONSTANT_SHARE_RANGE for n in EXPONENT_RANGE]
    half_range = 0.5 * (max(corners) - min(corners)) / float(best_efficiency(carried))
    added = (np.sqrt(carried.band.head**2 - MAP.band.head**2)
             + np.sqrt(carried.band.power**2 - MAP.band.power**2))
    assert added >= half_range


def test_arrays_of_reynolds_numbers_make_one_map():
    target = np.array([1e6, 4e5, 5e4])
    carried = carried_map(MAP, reynolds_from=1e6, reynolds_to=target)
    head = carried.head(0.2)
    assert head.shape == (3,)
    assert head[0] == pytest.approx(float(MAP.head(0.2)))
    assert head[1] < head[0]
    assert np.isnan(head[2])
    assert "refused" in carried.band.basis
