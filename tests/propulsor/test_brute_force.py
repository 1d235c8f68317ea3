"""Every balance a machine has, found by plain scanning, against what the matching reports."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.machines import AIR, BLOWER, BLOWER_MAP, ducted_machines
from tests.propulsor.brute_force import Plain, starved
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.rotor.batched_map import BatchedMap, point_map
from thrustlapse.rotor.stage_map import rises_steeply

UNDECIDED = 1e-3
"""Relative distance from an end of the map within which in or out may differ by round-off."""


@settings(max_examples=25)
@given(machine=ducted_machines(), airspeed=st.sampled_from([0.0, 9.0, 37.0, 83.0, 150.0]))
def test_the_matching_finds_the_largest_balance_that_scanning_finds(machine, airspeed) -> None:
    """Scanning is written from the definitions alone and solves one plain float after another."""
    assert_as_scanned(machine, airspeed)


@pytest.mark.parametrize("exit_share", [0.6, 0.8, 1.0, 1.3])
@pytest.mark.parametrize("airspeed", [0.0, 30.0, 70.0])
def test_a_map_that_rises_steeply_may_balance_twice(exit_share: float, airspeed: float) -> None:
    """Head that dips and then rises faster than the square of the flow, as behind a deep stall."""
    stage = replace(BLOWER_MAP, head_shutoff=0.1, head_slope=-3.0, head_curvature=40.0)
    assert rises_steeply(stage)
    machine = replace(BLOWER, rotor=replace(BLOWER.rotor, stage=stage), nozzle=replace(
        BLOWER.nozzle, exit_area=exit_share * BLOWER.nozzle.exit_area))
    assert_as_scanned(machine, airspeed)


@pytest.mark.parametrize(("curvature", "share"), [(60.0, 0.8), (40.0, 1.3)])
def test_the_one_machine_of_a_batch_that_may_balance_twice_is_looked_at_alone(
        curvature: float, share: float) -> None:
    """History: looked at along the 25 places of its map, one of 25 machines was taken for all, and
    had no balance, or three times its thrust."""
    flow = np.linspace(0.0, 0.19, 12)
    deep = replace(BLOWER_MAP, head_shutoff=0.1, head_slope=-3.0, head_curvature=curvature)
    every = [deep if row == 11 else BLOWER_MAP for row in range(25)]
    stage = point_map(flow=flow, head=np.stack([one.head(flow) for one in every]),
                      power=np.stack([one.power(flow) for one in every]))
    assert isinstance(stage, BatchedMap)
    assert np.flatnonzero(stage.steep[:, 0]).tolist() == [11]
    shares = np.where(np.arange(25) == 11, share, 1.0)[:, None]

    def thrust(rows: slice) -> np.ndarray:
        machine = replace(
            BLOWER, rotor=replace(BLOWER.rotor, stage=replace(
                stage, row=np.arange(25)[rows, None])), nozzle=replace(
                BLOWER.nozzle, exit_area=(shares * BLOWER.nozzle.exit_area)[rows]))
        return operate_ducted(machine, air=AIR, airspeed=np.zeros(1)).net_thrust

    together = thrust(slice(0, 25))
    alone = np.concatenate([thrust(slice(row, row + 1)) for row in range(25)])
    assert np.isfinite(alone[11, 0])
    np.testing.assert_allclose(together, alone, rtol=1e-9)


def assert_as_scanned(machine: Ducted, airspeed: float) -> None:
    point = operate_ducted(machine, air=AIR, airspeed=airspeed)
    scan = Plain(machine, air=AIR, airspeed=airspeed).scan()
    flags = int(point.flag_bits)
    if not scan.flows:
        if scan.blocked:
            assert flags & Flag.NO_THROUGH_FLOW
        elif point.valid:
            # the same balance, on either side of an end of the map by round-off
            ends = (machine.rotor.stage.lowest_flow, machine.rotor.stage.highest_flow)
            assert flags & Flag.NO_THROUGH_FLOW or float(point.flow_coefficient) == pytest.approx(
                float(ends[1]), rel=UNDECIDED)
        return
    short = starved(machine.drive, machine.supply, scan.shaft_speed, scan.shaft_power)
    assert bool(flags & Flag.PACK_CANNOT_DELIVER) == short
    if short:
        return
    assert point.valid, point.flags
    assert not flags & Flag.NO_THROUGH_FLOW
    assert bool(flags & Flag.EYE_CHOKED) == scan.eye_choked
    assert float(point.flow_coefficient) == pytest.approx(scan.flows[-1], rel=1e-7)
    assert float(point.shaft_speed) == pytest.approx(scan.shaft_speed, rel=1e-7)
    assert float(point.mass_flow) == pytest.approx(scan.mass_flow, rel=1e-7)
    assert float(point.shaft_power) == pytest.approx(scan.shaft_power, rel=1e-6, abs=1e-9)
    assert float(point.net_thrust) == pytest.approx(scan.net_thrust, rel=1e-6, abs=1e-9)
    assert np.isfinite(point.current)
