"""A stretched map: the same curve with each axis multiplied, whatever the map is made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.aircraft.flyers import propeller
from tests.rotor.axial_cases import free_vortex_fan
from thrustlapse.rotor.axial.stage import axial_stage
from thrustlapse.rotor.batched_map import BatchedMap, point_map
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.rotor.map_uncertainty import stretched
from thrustlapse.rotor.propeller.geometry import generic_blade
from thrustlapse.rotor.propeller.loading import ideal_power
from thrustlapse.rotor.stage_map import CoefficientMap

FLOW = np.linspace(0.02, 0.3, 15)
COEFFICIENTS = CoefficientMap(head_shutoff=0.5, head_slope=0.3, head_curvature=-8.0,
                              work_shutoff=0.7, work_slope=-1.1, shutoff_power=0.01,
                              highest_flow=0.3)
POINTS = point_map(flow=FLOW, head=COEFFICIENTS.head(FLOW), power=COEFFICIENTS.power(FLOW))
ROWS = point_map(flow=FLOW * np.array([[0.9], [1.0], [1.1]]), head=COEFFICIENTS.head(FLOW),
                 power=COEFFICIENTS.power(FLOW))


def axial():
    """The map of a fan from its blades."""
    return axial_stage(free_vortex_fan(), shaft_speed=2500.0, band=False).map


@pytest.mark.parametrize("make", [lambda: COEFFICIENTS, lambda: POINTS, lambda: ROWS, axial],
                         ids=["coefficients", "points", "batch", "axial"])
def test_head_and_power_are_those_at_the_flow_unstretched(make) -> None:
    """psi'(f phi) = h psi(phi), lambda'(f phi) = p lambda(phi), and every limit moves with f."""
    part = make()
    wide = stretched(part, flow=1.2, head=0.9, power=1.1)
    flow = np.linspace(0.0, 1.4 * np.max(part.highest_flow), 29)
    assert wide.head(1.2 * flow) == pytest.approx(0.9 * part.head(flow), rel=1e-12)
    assert wide.power(1.2 * flow) == pytest.approx(1.1 * part.power(flow), rel=1e-12)
    for edge in ("lowest_flow", "highest_flow", "stall_flow"):
        assert getattr(wide, edge) == pytest.approx(1.2 * getattr(part, edge), rel=1e-12)
    twice = stretched(wide, flow=0.5, head=2.0, power=3.0)
    assert twice.head(0.6 * flow) == pytest.approx(1.8 * part.head(flow), rel=1e-12)
    assert twice.power(0.6 * flow) == pytest.approx(3.3 * part.power(flow), rel=1e-12)


def test_efficiency_goes_with_flow_and_head_over_power() -> None:
    """eta = phi psi / lambda: f h / p of what it was."""
    wide = stretched(COEFFICIENTS, flow=1.2, head=0.9, power=1.1)
    was = FLOW * COEFFICIENTS.head(FLOW) / COEFFICIENTS.power(FLOW)
    now = 1.2 * FLOW * wide.head(1.2 * FLOW) / wide.power(1.2 * FLOW)
    assert now / was == pytest.approx(np.full(15, 1.2 * 0.9 / 1.1), rel=1e-12)


def test_a_propeller_is_stretched_in_thrust_and_power_not_in_advance_ratio() -> None:
    table = propeller().unit.table
    wide = stretched(replace(table, band=replace(table.band, loading=False)), flow=1.2, head=0.9,
                     power=1.1)
    at = {"advance_ratio": np.linspace(0.0, 1.0, 11), "shaft_speed": np.full(11, 700.0)}
    assert wide.thrust(**at) == pytest.approx(0.9 * table.thrust(**at), rel=1e-12)
    assert wide.power(**at) == pytest.approx(1.1 * table.power(**at), rel=1e-12)


def test_a_propeller_gains_loading_everywhere_and_power_above_momentum_theory() -> None:
    table = propeller().unit.table
    wide = stretched(replace(table, band=replace(table.band, loading=True)), head=0.9, power=1.1)
    at = {"advance_ratio": np.linspace(0.0, 1.0, 11), "shaft_speed": np.full(11, 700.0)}
    rest = table.thrust(advance_ratio=0.0, shaft_speed=700.0)
    assert wide.thrust(**at) == pytest.approx(table.thrust(**at) - 0.1 * rest, rel=1e-12)
    excess = [one.power(**at) - ideal_power(thrust=one.thrust(**at), advance_ratio=at[
        "advance_ratio"]) for one in (table, wide)]
    assert excess[1] == pytest.approx(1.1 * excess[0], rel=1e-9)


def test_what_is_no_map_is_refused() -> None:
    with pytest.raises(TypeError, match="float cannot be stretched"):
        stretched(1.0)


# A batch of maps, beside test_batched_map.py ----------------------------------------------------


def test_a_batch_knows_its_stall_where_it_is_told_and_its_swirl_where_it_has_one() -> None:
    assert isinstance(ROWS, BatchedMap)
    told = replace(ROWS, stall=np.array([0.10, 0.11, 0.12]), flow_scale=1.5)
    assert told.stall_flow[:, 0] == pytest.approx([0.15, 0.165, 0.18])
    assert ROWS.swirl(np.zeros(4)).tolist() == np.zeros((3, 4)).tolist()
    turning = point_map(flow=ROWS.flow, head=ROWS.head_points, power=ROWS.power_points,
                        swirl=2.0 * ROWS.flow)
    assert turning.swirl(FLOW[3:9]) == pytest.approx(np.tile(2.0 * FLOW[3:9], (3, 1)))


def test_an_empty_question_has_an_empty_answer() -> None:
    none = replace(ROWS, row=np.zeros(0, dtype=int))
    assert none.head(np.zeros(0)).shape == (0,)


def test_dimensions_know_their_blades() -> None:
    assert Dimensions(geometry=free_vortex_fan()).blades == 9.0
    assert Dimensions(geometry=generic_blade(blades=3, pitch=0.1, diameter=0.2)).blades == 3
