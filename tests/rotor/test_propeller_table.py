"""Propeller tables: measured runs kept to their digits, continued without steps, read by speed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column, rows
from thrustlapse.arrays import take
from thrustlapse.rotor.propeller.table import PropellerTable, table_from_runs

RPM = 2.0 * np.pi / 60.0
DIAMETER = 9.0 * 0.0254


def measured(*rpm):
    """One curve of a 9 x 6 inch propeller from the named runs: J, CT, CP in rising J."""
    lines = sorted((r["J_1"], r["CT_1"], r["CP_1"]) for r in rows("propeller_9x6_runs")
                   if r["rpm_1min"] in rpm)
    return tuple(np.array(lines).T)


RUNS = {4003.0 * RPM: measured(4003.0), 5013.0 * RPM: measured(5013.0),
        6708.0 * RPM: measured(6701.0, 6715.0, 6717.0)}


def line(low, high, *, slope, start, points=6):
    """A made-up run whose CT is a straight line and whose CP is half of it plus 0.05."""
    j = np.linspace(low, high, points)
    return j, start + slope * (j - low), 0.05 + 0.5 * (start + slope * (j - low))


# Measured runs -------------------------------------------------------------------------------


@pytest.mark.parametrize("speed", RUNS, ids=lambda w: f"{w / RPM:.0f} rpm")
def test_every_measured_point_is_kept(speed):
    """UIUC Propeller Database, AIAA 2011-1255 (R2): CT and CP to their four decimals.

    History: the common grid used to miss the points by up to twice their last half digit.
    """
    table = table_from_runs(RUNS)
    j, thrust, power = RUNS[speed]
    assert np.abs(table.thrust(advance_ratio=j, shaft_speed=speed) - thrust).max() < 1e-12
    assert np.abs(table.power(advance_ratio=j, shaft_speed=speed) - power).max() < 1e-12
    assert table.highest_advance_ratio == 0.836


def test_printed_efficiency_is_what_the_coefficients_say():
    """UIUC (R2): eta = J CT/CP, three printed decimals; CT and CP carry half a unit each."""
    table = table_from_runs({1.0: RUNS[6708.0 * RPM]})
    tested = [r for r in rows("propeller_9x6_runs")
              if r["rpm_1min"] > 6700.0 and r["eta_1"] is not None]
    for r in tested:
        at = {"advance_ratio": r["J_1"], "shaft_speed": 1.0}
        thrust, power = table.thrust(**at), table.power(**at)
        allowed = 6e-4 + r["J_1"] * (5e-5 / power + abs(thrust) * 5e-5 / power**2)
        assert r["J_1"] * thrust / power == pytest.approx(r["eta_1"], abs=float(allowed))
    assert len(tested) == 12


def test_lapse_at_constant_power():
    """Worked from the measured CT, CP (X): static shaft power held, thrust against airspeed."""
    table = table_from_runs({1.0: RUNS[6708.0 * RPM]})
    name = "propeller_9x6_lapse_constant_power"
    j = column(name, "J_1")
    thrust, power = (f(advance_ratio=j, shaft_speed=1.0) for f in (table.thrust, table.power))
    watts = power[0] * 1.225 * (6700.0 / 60.0) ** 3 * DIAMETER**5
    n = np.cbrt(watts / (1.225 * power * DIAMETER**5))
    newtons = thrust * 1.225 * n**2 * DIAMETER**4
    assert watts == pytest.approx(column(name, "shaft_power_W"), abs=5e-3)
    assert np.all(np.abs(60.0 * n - column(name, "rpm_1min")) <= 0.5 + 0.5)  # and its start, 0.5
    assert np.all(np.abs(j * n * DIAMETER - column(name, "V_mps")) <= 2e-3)
    assert newtons == pytest.approx(column(name, "thrust_N"), rel=2e-4)
    assert np.all(np.abs(newtons / newtons[0] - column(name, "T_over_T0_1")) <= 5.1e-5)


# Continuation --------------------------------------------------------------------------------


def steps(table):
    """Largest jump of slope x spacing between neighbours: a step shows as a large difference."""
    spacing = np.diff(table.advance_ratio)
    return np.abs(np.diff(table.thrust_points, axis=1) / spacing).max()


def test_no_step_where_a_run_ends():
    """The unequal measured runs: between neighbours no row changes faster than the measurements."""
    table = table_from_runs(RUNS)
    fastest = max(np.abs(np.diff(thrust) / np.diff(j)).max() for j, thrust, _ in RUNS.values())
    assert steps(table) <= 1.15 * fastest  # between points the curve is a little steeper


def test_a_run_follows_its_neighbour_from_its_own_end():
    """Beyond J 0.64 the 5013 rpm run keeps its distance there to the nearest run, 4003 rpm."""
    table = table_from_runs(RUNS)
    beyond = np.array([0.7, 0.75, 0.8])
    slow = table.thrust(advance_ratio=beyond, shaft_speed=4003.0 * RPM)
    own = table.thrust(advance_ratio=beyond, shaft_speed=5013.0 * RPM)
    at_end = (table.thrust(advance_ratio=0.64, shaft_speed=5013.0 * RPM)
              - table.thrust(advance_ratio=0.64, shaft_speed=4003.0 * RPM))
    assert own - slow == pytest.approx(at_end, abs=1e-5)  # read between the points of the grid


def test_runs_that_overlap_like_a_chain():
    """0-0.3, 0.25-0.6, 0.55-0.9: each row reaches everywhere, by way of its neighbours.

    History: beyond the second run's end the first jumped to the average of all.
    """
    runs = {400.0: line(0.0, 0.3, slope=-0.10, start=0.100),
            500.0: line(0.25, 0.6, slope=-0.12, start=0.090),
            600.0: line(0.55, 0.9, slope=-0.15, start=0.145)}
    table = table_from_runs(runs)
    assert steps(table) == pytest.approx(0.15, rel=1e-9)
    low, middle, high = 0.1 - 0.03, 0.09 - 0.042, 0.145 - 0.0525
    for row, end in ((0, low - 0.3 * 0.12 - 0.3 * 0.15), (1, middle - 0.3 * 0.15), (2, high)):
        assert table.thrust_points[row, -1] == pytest.approx(end, rel=1e-9)
    assert table.thrust_points[2, 0] == pytest.approx(0.145 + 0.3 * 0.12 + 0.25 * 0.10, rel=1e-9)


@given(slopes=st.tuples(*[st.floats(-0.3, -0.01)] * 3),
       starts=st.tuples(*[st.floats(0.1, 0.5)] * 3), ends=st.tuples(*[st.floats(0.35, 1.0)] * 3))
def test_continuation_is_never_steeper_than_the_runs(slopes, starts, ends):
    """Whatever three overlapping straight runs are given, no row has a step anywhere."""
    runs = {300.0 + 100.0 * k: line(0.05 * k, ends[k], slope=slopes[k], start=starts[k])
            for k in range(3)}
    table = table_from_runs(runs)
    assert np.isfinite(table.thrust_points).all()
    assert steps(table) <= -min(slopes) * (1.0 + 1e-6) + 1e-9


def test_runs_with_a_hole_between_them_are_refused():
    runs = {400.0: line(0.0, 0.3, slope=-0.1, start=0.1),
            600.0: line(0.55, 0.9, slope=-0.1, start=0.1)}
    with pytest.raises(ValueError, match=r"no other run covers .* 0\.55, where .* 600 rad/s"):
        table_from_runs(runs)


@pytest.mark.parametrize("j", [[0.2], [0.2, 0.2, 0.4], [0.3, 0.2]])
def test_a_run_needs_two_points_in_order(j):
    values = np.linspace(0.1, 0.05, len(j))
    with pytest.raises(ValueError, match="two or more points with rising advance ratio"):
        table_from_runs({500.0: (np.array(j), values, values)})


def test_outside_the_advance_ratios_the_table_is_straight():
    """For the root finder only; the matching reports it."""
    table = table_from_runs(RUNS)
    for curve in (table.thrust, table.power):
        for j in ([0.9, 1.1, 1.3], [-0.3, -0.2, -0.1]):
            first, second, third = curve(advance_ratio=np.array(j), shaft_speed=450.0)
            assert third - second == pytest.approx(second - first, rel=1e-9)


# Shaft speed ---------------------------------------------------------------------------------


def two_rows(**fields):
    j = np.array([0.0, 0.3, 0.7])
    return PropellerTable(advance_ratio=j, shaft_speed=np.array([400.0, 800.0]),
                          thrust_points=np.array([[0.11, 0.09, 0.02], [0.13, 0.10, 0.05]]),
                          power_points=np.array([[0.050, 0.048, 0.021], [0.052, 0.051, 0.033]]),
                          **fields)


def test_between_two_speeds_the_table_is_linear():
    """A quarter of the way from 400 to 800 rad/s, at the points of the grid, by hand."""
    table = two_rows()
    at = {"advance_ratio": np.array([0.0, 0.3, 0.7]), "shaft_speed": 500.0}
    assert table.thrust(**at) == pytest.approx([0.115, 0.0925, 0.0275], rel=1e-12)
    assert table.power(**at) == pytest.approx([0.0505, 0.04875, 0.024], rel=1e-12)


def test_outside_the_speeds_the_nearest_row_holds_and_is_reported():
    table = two_rows()
    omega = np.array([100.0, 400.0, 600.0, 800.0, 2000.0, np.nan])
    np.testing.assert_array_equal(table.outside_speed(omega), [True, False, False, False, True,
                                                               False])
    read = table.thrust(advance_ratio=0.3, shaft_speed=omega)
    assert read[:5] == pytest.approx([0.09, 0.09, 0.095, 0.10, 0.10], rel=1e-12)


def test_unknown_speed_reads_nothing():
    """History: a NaN shaft speed used to read the slowest row, as if it were known."""
    table = two_rows()
    for at in ({"advance_ratio": 0.3, "shaft_speed": np.nan},
               {"advance_ratio": np.nan, "shaft_speed": 600.0}):
        assert np.isnan(table.thrust(**at))
        assert np.isnan(table.power(**at))


def test_a_single_run_knows_nothing_of_speed():
    table = table_from_runs({500.0: RUNS[5013.0 * RPM]})
    omega = np.array([1.0, 500.0, 5000.0])
    assert not table.outside_speed(omega).any()
    assert np.ptp(table.power(advance_ratio=0.3, shaft_speed=omega)) == 0.0


# Batches -------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", [
    table_from_runs(RUNS), two_rows(), table_from_runs({1.0: RUNS[5013.0 * RPM]}),
    two_rows(thrust_scale=np.array([0.9, 1.0, 1.1])[:, None], power_scale=1.05)])
def test_point_is_batch(table):
    """f(x)[j] == f(x[j]): at rest, past zero thrust, outside, between speeds, NaN, sliced."""
    j = np.array([0.0, 0.29, 0.64, 0.81, 1.4, np.nan])
    omega = np.array([0.0, 455.0, 700.0, 530.0, 3000.0, 500.0])
    for name in ("thrust", "power"):
        batch = np.broadcast_to(getattr(table, name)(advance_ratio=j, shaft_speed=omega), (3, 6))
        for i in range(3):
            one = take(table, (3, 1), np.array([i]))
            for k in range(6):
                single = getattr(one, name)(advance_ratio=j[k], shaft_speed=omega[k])
                assert np.asarray(single).reshape(()) == pytest.approx(batch[i, k], rel=1e-14,
                                                                      nan_ok=True)


@pytest.mark.parametrize(("j", "omega", "shape"), [
    (0.3, 500.0, ()), (np.array([]), 500.0, (0,)), (np.array([0.3]), 500.0, (1,)),
    (np.full(4, 0.3), np.full((2, 1), 500.0), (2, 4)), (0.3, np.full(3, 500.0), (3,))])
def test_shapes_broadcast(j, omega, shape):
    for table in (two_rows(), table_from_runs({1.0: RUNS[5013.0 * RPM]})):
        assert np.shape(table.thrust(advance_ratio=j, shaft_speed=omega)) == shape


def test_scales_stretch_only_their_own_coefficient():
    plain, scaled = two_rows(), two_rows(thrust_scale=0.8, power_scale=1.1)
    at = {"advance_ratio": 0.41, "shaft_speed": 640.0}
    assert scaled.thrust(**at) == pytest.approx(0.8 * plain.thrust(**at), rel=1e-14)
    assert scaled.power(**at) == pytest.approx(1.1 * plain.power(**at), rel=1e-14)


def test_replaced_points_are_read():
    """History: a table whose points were replaced kept the curves of the old ones."""
    plain = two_rows()
    new = replace(plain, power_points=plain.power_points + 0.01)
    at = {"advance_ratio": 0.41, "shaft_speed": 640.0}
    assert new.power(**at) == pytest.approx(plain.power(**at) + 0.01, rel=1e-12)
    assert new.thrust(**at) == plain.thrust(**at)
    assert replace(plain, thrust_scale=0.9).curves is plain.curves
