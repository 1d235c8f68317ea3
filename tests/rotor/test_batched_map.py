"""A row of a batch of maps is the map of that machine alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from tests.rotor.centrifugal_cases import PRESSURE, SUCTION_SPEED, TEMPERATURE, wheel
from thrustlapse.arrays import Array, take
from thrustlapse.rotor.batched_map import (
    BatchedMap,
    BatchedTable,
    RowCurves,
    point_map,
    row_curves,
)
from thrustlapse.rotor.centrifugal.stage import centrifugal_stage
from thrustlapse.rotor.propeller import geometry as blades
from thrustlapse.rotor.propeller.blades import propeller_table
from thrustlapse.rotor.propeller.many_tables import MOST_DISTINCT, many_tables
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import PointMap, rises_steeply


@given(st.integers(0, 2**32 - 1), st.integers(3, 12))
def test_rows_are_the_curves_scipy_draws(seed: int, points: int) -> None:
    """SciPy's PchipInterpolator is the oracle inside; outside the ends go on straight."""
    rng = np.random.default_rng(seed)
    knots = np.cumsum(rng.uniform(0.1, 1.0, (5, points)), axis=1)
    values = rng.normal(size=(5, points)).round(1)  # equal neighbours and turning points happen
    curves = row_curves(knots, values)
    for row in range(5):
        oracle = PchipInterpolator(knots[row], values[row])
        at = np.linspace(knots[row, 0], knots[row, -1], 57)
        assert curves(np.full(57, row), at) == pytest.approx(oracle(at), abs=1e-10)
        span = knots[row, -1] - knots[row, 0]
        slope = oracle.derivative()(knots[row, [0, -1]])
        beyond = knots[row, [0, -1]] + np.array([-3.0, 5.0]) * span
        straight = values[row, [0, -1]] + slope * np.array([-3.0, 5.0]) * span
        assert curves(np.full(2, row), beyond) == pytest.approx(straight, rel=1e-9, abs=1e-9)


def fan_curves(rows: int) -> tuple[Array, Array, Array]:
    flow = np.linspace(0.05, 0.3, 9) * np.linspace(0.9, 1.1, rows)[:, None]
    head = 0.2 - 1.5 * (flow - 0.12) ** 2
    return flow, head, 0.03 + 0.25 * flow


def test_each_row_of_a_batch_rises_as_steeply_as_its_own_head() -> None:
    """d ln x^n / d ln x = n; one that rises through zero is as steep as can be."""
    flow = np.linspace(0.05, 0.3, 15) * np.ones((5, 1))
    head = np.stack([flow[0] ** 2, flow[1], flow[2] ** 1.2, 0.5 - flow[3], flow[4] - 0.1])
    found = row_curves(flow, head).steepest_rise()
    assert found == pytest.approx([2.0, 1.0, 1.2, 0.0, np.inf], rel=0.1)
    batch = point_map(flow=flow, head=head, power=0.1 + flow)
    assert np.ravel(rises_steeply(batch)).tolist() == [True, False, False, False, True]
    part = take(batch, (5, 1), np.array([4, 1]))
    assert np.ravel(rises_steeply(part)).tolist() == [True, False]


def test_a_batch_reads_like_its_maps_one_by_one_and_in_slices() -> None:
    flow, head, power = fan_curves(7)
    batch = point_map(flow=flow, head=head, power=power)
    assert isinstance(batch, BatchedMap)
    at = np.linspace(0.02, 0.4, 11)
    for row in range(7):
        alone = point_map(flow=flow[row], head=head[row], power=power[row])
        assert isinstance(alone, PointMap)
        assert batch.head(at)[row] == pytest.approx(alone.head(at), rel=1e-12)
        assert batch.power(at)[row] == pytest.approx(alone.power(at), rel=1e-12)
        for edge in ("lowest_flow", "highest_flow", "stall_flow"):
            assert getattr(batch, edge)[row, 0] == pytest.approx(float(getattr(alone, edge)))
    whole = batch.head(at)
    part = take(batch, (7, 11), slice(25, 60))
    assert part.head(np.broadcast_to(at, (7, 11)).ravel()[25:60]) == pytest.approx(
        whole.ravel()[25:60], rel=1e-14)
    assert np.isnan(batch.head(np.nan)).all()


def test_impellers_of_a_batch_are_those_computed_alone() -> None:
    gaps = np.array([0.1, 0.25, 0.4]) * 1e-3
    air = {"total_pressure": PRESSURE, "total_temperature": TEMPERATURE}
    batch = centrifugal_stage(wheel(tip_clearance=gaps), shaft_speed=SUCTION_SPEED, **air).maps
    flow = np.linspace(0.01, 0.2, 9)
    for row, gap in enumerate(gaps):
        alone = centrifugal_stage(wheel(tip_clearance=gap), shaft_speed=SUCTION_SPEED, **air).map
        assert batch.head(flow)[row] == pytest.approx(alone.head(flow), rel=1e-10)


def test_propellers_between_nodes_are_near_those_computed_alone() -> None:
    """0.3 % of the peaks over plus and minus 10 %, as ``many_tables.NODES`` says."""
    rng = np.random.default_rng(4)
    pitch, size = (middle * rng.uniform(0.9, 1.1, MOST_DISTINCT + 6) for middle in (0.15, 0.2))

    def make(one: dict[str, float]) -> object:
        return propeller_table(blades.generic_blade(blades=2, **one))

    batch = many_tables(make, {"pitch": pitch, "diameter": size})  # type: ignore[arg-type]
    speed, advance = np.full(25, 800.0), np.linspace(0.0, 0.9, 25)
    ct = batch.thrust(advance_ratio=advance, shaft_speed=speed)
    cp = batch.power(advance_ratio=advance, shaft_speed=speed)
    for row in (0, 17, 40):
        alone = propeller_table(blades.generic_blade(blades=2, pitch=pitch[row],
                                                     diameter=size[row]))
        true_ct = alone.thrust(advance_ratio=advance, shaft_speed=speed)
        true_cp = alone.power(advance_ratio=advance, shaft_speed=speed)
        assert np.abs(ct[row] - true_ct).max() < 3e-3 * true_ct.max()
        assert np.abs(cp[row] - true_cp).max() < 3e-3 * true_cp.max()


def test_too_many_dimensions_of_blades_are_refused() -> None:
    values = {name: np.linspace(0.1, 0.2, 100) for name in ("a", "b", "c")}
    with pytest.raises(ValueError, match="3 dimensions of the blades vary at once"):
        many_tables(lambda _: None, values)  # type: ignore[arg-type, return-value]


@pytest.mark.parametrize("speeds", [[600.0], [600.0, 900.0], [500.0, 700.0, 1000.0]])
def test_a_batch_of_tables_reads_like_each_table_alone(speeds: list[float]) -> None:
    """Between and outside the speeds, past the advance ratios, and with scales."""
    advance = np.linspace(0.0, 0.8, 9)
    ct = np.array([1.0, 0.95, 1.05])[:len(speeds), None] * (0.1 - 0.12 * advance)
    alone = PropellerTable(advance_ratio=advance, shaft_speed=np.array(speeds), thrust_points=ct,
                           power_points=0.5 * ct + 0.01, thrust_scale=1.1, power_scale=0.9)

    def curves(points: Array) -> RowCurves:
        return row_curves(np.tile(advance, (2 * len(speeds), 1)), np.tile(points, (2, 1)))

    batch = BatchedTable(shaft_speed=np.tile(speeds, (2, 1)), last_advance_ratio=np.full(2, 0.8),
                         thrust_curves=curves(ct), power_curves=curves(0.5 * ct + 0.01),
                         row=np.array([[0], [1]]), thrust_scale=1.1, power_scale=0.9)
    where = {"advance_ratio": np.linspace(0.0, 1.0, 22),
             "shaft_speed": np.linspace(400.0, 1100.0, 22)}
    for name in ("thrust", "power"):
        assert getattr(batch, name)(**where) == pytest.approx(
            np.tile(getattr(alone, name)(**where), (2, 1)), rel=1e-12)
    outside = batch.outside_speed(where["shaft_speed"])
    assert outside.shape == (2, 22)
    assert np.array_equal(outside[1], alone.outside_speed(where["shaft_speed"]))
    assert batch.highest_advance_ratio.tolist() == [[0.8], [0.8]]


def test_a_batch_of_tables_with_errors_of_loading_reads_as_each_table_alone() -> None:
    from pathlib import Path

    from thrustlapse.rotor.map_uncertainty import stretched
    from thrustlapse.scenario.files.read import read_scenario

    story = read_scenario(Path("scenarios/three_ways_to_push.toml"))
    diameters = np.array([0.25, 0.26, 0.27])
    key = "candidates.propeller.diameter"
    head, power = np.array([[0.9], [1.0], [1.1]]), np.array([[1.2], [1.0], [0.8]])
    many = stretched(story.drawn({key: diameters}).candidates["propeller"].unit.table, head=head,
                     power=power)
    j, omega = np.array([[0.0, 0.3, 0.6]]), np.full((1, 3), 900.0)
    for row, diameter in enumerate(diameters):
        alone = stretched(story.drawn({key: diameter}).candidates["propeller"].unit.table,
                          head=head[row, 0], power=power[row, 0])
        for word in ("thrust", "power"):
            batch = getattr(many, word)(advance_ratio=j, shaft_speed=omega)[row]
            one = getattr(alone, word)(advance_ratio=j[0], shaft_speed=omega[0])
            assert batch == pytest.approx(one, rel=5e-3, abs=1e-4)
