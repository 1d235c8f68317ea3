"""The ledger of every operating point closes, whatever the machine; so do the checks beside."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.machines import AIR, BLOWER, PROPELLER, circle, ducted_machines
from thrustlapse.air import gas
from thrustlapse.propulsor.control_volume import Stream, impulse, net_thrust
from thrustlapse.propulsor.ducted import free_stream, operate_ducted
from thrustlapse.propulsor.ducted_match import match, station_states
from thrustlapse.propulsor.energy_ledger import _relative
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.open_rotor import operate_open_rotor

AIRSPEEDS = np.array([0.0, 7.0, 31.0, 64.0, 118.0])
CLOSED = 1e-9
"""Relative closure of the ledger, as the definition of the ledger asks."""

LOSSES = ("ram_loss", "inlet_loss", "rotor_loss", "duct_loss", "heating_loss", "nozzle_loss")


@settings(max_examples=120)
@given(machine=ducted_machines())
def test_energy_forces_continuity_and_pressure_close(machine) -> None:
    """Energy to 1e-9 of the larger of shaft and jet power; nozzle flow equals rotor flow; wall
    forces sum to net thrust; the jet's total pressure follows from the entropies."""
    point = operate_ducted(machine, air=AIR, airspeed=AIRSPEEDS)
    good = point.valid
    for name in ("energy_residual", "electrical_residual", "force_residual",
                 "continuity_residual", "pressure_residual"):
        assert np.all(np.abs(getattr(point.ledger, name)[good]) < CLOSED), name


@settings(max_examples=80)
@given(machine=ducted_machines())
def test_no_nan_without_a_cause_and_no_value_where_invalid(machine) -> None:
    point = operate_ducted(machine, air=AIR, airspeed=AIRSPEEDS)
    for item in ("net_thrust", "shaft_speed", "shaft_power", "mass_flow", "jet_speed",
                 "installed_thrust", "electrical_power", "current", "pressure_ratio"):
        known = np.isfinite(getattr(point, item))
        assert np.array_equal(known, point.valid), item
    assert np.all((point.severity == "invalid") == ~point.valid)
    assert np.all((point.flags != "") | (point.severity == "ok"))


@settings(max_examples=60)
@given(machine=ducted_machines())
def test_no_part_destroys_entropy(machine) -> None:
    """Second law: where the map does not turn into a turbine, no loss is negative."""
    point = operate_ducted(machine, air=AIR, airspeed=AIRSPEEDS)
    ahead = point.valid & (point.head_coefficient >= 0.0)
    for name in LOSSES[1:]:
        values = getattr(point.ledger, name)[ahead]
        assert np.all(values >= -1e-9 * np.maximum(point.shaft_power[ahead], 1.0)), name


@settings(max_examples=40)
@given(machine=ducted_machines(), place=st.integers(0, 4))
def test_a_point_is_the_batch_at_its_place(machine, place) -> None:
    batch = operate_ducted(machine, air=AIR, airspeed=AIRSPEEDS)
    single = operate_ducted(machine, air=AIR, airspeed=AIRSPEEDS[place])
    assert single.net_thrust.shape == ()
    assert single.flags == batch.flags[place]
    if batch.valid[place]:
        for item in ("net_thrust", "shaft_speed", "electrical_power", "mass_flow"):
            assert getattr(single, item) == pytest.approx(getattr(batch, item)[place], rel=1e-9)


def test_parameters_and_airspeeds_broadcast_beyond_a_chunk() -> None:
    areas = circle(1.0) * np.linspace(0.012, 0.018, 7)[:, None] ** 2
    machine = replace(BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=areas))
    speeds = np.linspace(0.0, 60.0, 1801)
    point = operate_ducted(machine, air=AIR, airspeed=speeds)
    assert point.shape == (7, 1801)
    for row, place in ((0, 0), (3, 900), (6, 1800)):
        single = operate_ducted(
            replace(BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=float(areas[row, 0]))),
            air=AIR, airspeed=speeds[place])
        assert single.net_thrust == pytest.approx(point.net_thrust[row, place], rel=1e-10)


def test_the_control_volume_says_the_same() -> None:
    """Momentum theorem on the outside alone: free stream in, jet out."""
    point = operate_ducted(BLOWER, air=AIR, airspeed=AIRSPEEDS[:4])
    outside = net_thrust(
        entering=[Stream(mass_flow=point.mass_flow, speed=point.airspeed)],
        leaving=[Stream(mass_flow=point.mass_flow, speed=point.jet_speed)])
    np.testing.assert_allclose(point.net_thrust, outside, rtol=1e-12)


@pytest.mark.parametrize("airspeed", [0.0, 20.0])
def test_a_thin_lip_carries_no_force(airspeed) -> None:
    """A lip without thickness has nothing to pull on while the throat is faster than the flight
    (Fradenburgh and Wyatt, NACA TN 3004, 1953); a smooth one carries rho A (V1 - V0)^2 / 2
    (closed form, incompressible)."""
    thin = replace(BLOWER, inlet=Inlet(throat_area=circle(0.023), lip_sharpness=1.0))
    smooth = replace(BLOWER, inlet=Inlet(throat_area=circle(0.023), lip_sharpness=0.0))
    still = operate_ducted(thin, air=AIR, airspeed=airspeed)
    pulled = operate_ducted(smooth, air=AIR, airspeed=airspeed)
    assert abs(float(still.ledger.lip_force)) < 1e-9 * float(still.gross_thrust)
    throat = float(pulled.mass_flow) / (float(AIR.density) * circle(0.023))
    pull = 0.5 * float(AIR.density) * circle(0.023) * (throat - airspeed) ** 2
    assert float(pulled.ledger.lip_force) == pytest.approx(pull, rel=0.08)


def test_a_blocked_balance_keeps_its_shaft_power_as_heat() -> None:
    machine = replace(BLOWER, inlet=replace(BLOWER.inlet, facing=np.pi, ram_recovery=-0.9),
                      drive=replace(BLOWER.drive, power_limit=25.0))
    point = operate_ducted(machine, air=AIR, airspeed=150.0)
    assert point.flags == "no through flow"
    assert point.severity == "note"
    assert float(point.net_thrust) == 0.0
    assert float(point.mass_flow) == 0.0
    assert float(point.ledger.rotor_loss) >= float(point.shaft_power) > 0.0
    assert abs(float(point.ledger.energy_residual)) < CLOSED


def test_propeller_books_close() -> None:
    """P = T V + T w + rest, and all watts from the pack are found again."""
    point = operate_open_rotor(PROPELLER, air=AIR, airspeed=np.linspace(0.0, 40.0, 9))
    ledger = point.ledger
    np.testing.assert_allclose(
        ledger.shaft_power, ledger.thrust_power + ledger.jet_power + ledger.rotor_loss, rtol=1e-12)
    assert np.all(np.abs(ledger.electrical_residual) < CLOSED)
    assert np.all(ledger.rotor_loss > 0.0)


def test_every_array_has_the_shape_of_the_question() -> None:
    for operate, machine in ((operate_ducted, BLOWER), (operate_open_rotor, PROPELLER)):
        for airspeed in (np.zeros(()), np.zeros(1), np.zeros((2, 3)), np.zeros(0)):
            point = operate(machine, air=AIR, airspeed=airspeed)
            for record in (point, point.ledger):
                for item in fields(record):
                    value = getattr(record, item.name)
                    if isinstance(value, np.ndarray):
                        assert value.shape == airspeed.shape, item.name


def test_a_stream_at_ambient_pressure_pushes_with_its_momentum_alone() -> None:
    """mdot V, and (p - p0) A where a pressure is known on an area (momentum theorem)."""
    assert float(impulse(Stream(mass_flow=0.03, speed=90.0, area=4e-4), ambient=1e5)) == 0.03 * 90.0
    pressed = Stream(mass_flow=0.03, speed=90.0, area=4e-4, pressure=1.02e5)
    assert float(impulse(pressed, ambient=1e5)) == pytest.approx(2.7 + 2e3 * 4e-4)


def test_force_on_the_nozzle_is_the_change_of_impulse_through_it() -> None:
    """(p - p0) A + mdot V of the exit less that of the duct's end, the latter by gas relations at
    the area of the duct (momentum theorem)."""
    free = free_stream(AIR, np.array([20.0]))
    solved = match(BLOWER, free, 1)
    states = station_states(BLOWER, free, flow=solved.flow, throat=solved.throat, head=None)
    point = operate_ducted(BLOWER, air=AIR, airspeed=np.array([20.0]))
    flow, total = float(point.mass_flow[0]), float(states.axial_temperature[0])
    pressure, area = float(states.axial_pressure[0]), float(BLOWER.duct.area)
    mach = float(gas.mach_from_mass_flow_function(
        flow_function=flow * np.sqrt(gas.GAS_CONSTANT * total / gas.GAMMA) / (area * pressure)))
    static = pressure * float(gas.pressure_ratio(mach=mach))
    speed = mach * float(gas.speed_of_sound(
        temperature=total * float(gas.temperature_ratio(mach=mach))))
    entry = (static - float(AIR.pressure)) * area + flow * speed
    leave = flow * float(point.jet_speed[0])  # unchoked: at ambient pressure
    assert float(point.ledger.nozzle_force[0]) == pytest.approx(leave - entry, rel=1e-8)


def test_a_miss_is_told_over_its_scale_and_alone_where_there_is_none() -> None:
    assert _relative(np.array([2.0, 2.0, 3.0]), np.array([0.5, 4.0, 0.0])).tolist() == [
        4.0, 0.5, 3.0]
