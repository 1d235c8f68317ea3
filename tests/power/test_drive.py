"""The drive envelope against brute force, and motors and packs against worked examples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from tests.machines import braked, drives, kt, lossless_motor
from tests.power.textbook_motor import constants_from_bench
from thrustlapse.power import motor as motors
from thrustlapse.power.drive import (
    Drive,
    DriveLimit,
    allowed_power,
    controller_input,
    cut,
    electrical_state,
    shaft_speed,
    torque_available,
)
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.power.pack import (
    Pack,
    Supply,
    cell_curve,
    greatest_power,
    open_circuit_voltage,
    pack_resistance,
    supply,
    terminal_current,
)

MOTOR = ConstantsMotor(torque_constant=kt(4400.0), resistance=0.045, no_load_current=1.2,
                       no_load_current_slope=5e-5)
SUPPLY = Supply(voltage=22.2, resistance=0.05, units=2.0)
LOAD = np.geomspace(1e-12, 1e-7, 9)


def by_brute_force(drive: Drive, source: Supply, load: float) -> float:
    """Speed at which the torque within every limit but speed equals the load, by brentq."""
    def excess(speed: float) -> float:
        given_torque, _ = torque_available(drive, source, shaft_speed=speed)
        return float(given_torque) - load * speed * speed

    return min(brentq(excess, 1e-3, 1e6, xtol=1e-10, rtol=1e-14),
               float(np.asarray(drive.speed_limit)))


@settings(max_examples=80)
@given(drive=drives(), volts=st.floats(12.0, 50.0), ohms=st.floats(1e-3, 0.1),
       load=st.floats(-11.0, -7.5))
def test_the_least_speed_is_where_the_envelope_meets_the_load(drive, volts, ohms, load) -> None:
    source = Supply(voltage=volts, resistance=ohms, units=1.0)
    found, _ = shaft_speed(drive, source, torque_coefficient=10.0**load)
    if np.isfinite(float(found)):
        assert float(found) == pytest.approx(by_brute_force(drive, source, 10.0**load), rel=1e-8)


@pytest.mark.parametrize(("limits", "expected"), [
    ({}, DriveLimit.FULL_VOLTAGE), ({"power_limit": 150.0}, DriveLimit.POWER),
    ({"motor_current_limit": 9.0}, DriveLimit.MOTOR_CURRENT),
    ({"supply_current_limit": 7.0}, DriveLimit.SUPPLY_CURRENT),
    ({"speed_limit": 4000.0}, DriveLimit.SPEED)])
def test_each_limit_can_be_the_active_one_and_is_met(limits, expected) -> None:
    drive = Drive(motor=MOTOR, controller_efficiency=0.95, controller_lead_resistance=0.004,
                  motor_lead_resistance=0.002, **limits)
    load = 6e-10
    speed, limit = shaft_speed(drive, SUPPLY, torque_coefficient=load)
    assert int(limit) == expected
    state = electrical_state(drive, SUPPLY, shaft_speed=speed, torque=load * speed**2, limit=limit)
    met = {DriveLimit.FULL_VOLTAGE: (state.duty, 1.0),
           DriveLimit.POWER: (state.terminal_power, 150.0),
           DriveLimit.MOTOR_CURRENT: (state.motor_current, 9.0),
           DriveLimit.SUPPLY_CURRENT: (state.supply_current, 7.0),
           DriveLimit.SPEED: (speed, 4000.0)}[expected]
    assert float(met[0]) == pytest.approx(met[1], rel=1e-9)
    assert float(state.duty) <= 1.0 + 1e-9


@settings(max_examples=60)
@given(drive=drives(), load=st.floats(-10.5, -7.5))
def test_watts_from_the_pack_are_all_found_again(drive, load) -> None:
    speed, limit = shaft_speed(drive, SUPPLY, torque_coefficient=10.0**load)
    torque = 10.0**load * speed**2
    state = electrical_state(drive, SUPPLY, shaft_speed=speed, torque=torque, limit=limit)
    if not (np.isfinite(float(speed)) and bool(state.deliverable)):
        return
    spent = (speed * torque + state.lead_heat + state.controller_heat + state.winding_heat
             + state.no_load_heat + state.unsplit_heat)
    assert float(spent) == pytest.approx(float(state.terminal_power), rel=1e-9)
    resting = SUPPLY.voltage * state.supply_current
    assert float(state.terminal_power + state.pack_heat) == pytest.approx(float(resting), rel=1e-9)


def test_full_voltage_speed_stays_finite_as_the_load_vanishes() -> None:
    """Towards the no-load speed (V - I0 R) / (kt + slope R): closed form."""
    drive = Drive(motor=replace(MOTOR, no_load_current_slope=0.0))
    bare = Supply(voltage=20.0, resistance=0.0)
    speed, _ = shaft_speed(drive, bare, torque_coefficient=np.array([1e-20, 0.0]))
    expected = (20.0 - 1.2 * 0.045) / kt(4400.0)
    np.testing.assert_allclose(speed, expected, rtol=1e-9)


def test_constant_power_goes_with_the_cube_root() -> None:
    """omega ~ Pi^(-1/3) at constant power and density (closed form)."""
    drive = Drive(motor=lossless_motor(), power_limit=100.0)
    speed, _ = shaft_speed(drive, Supply(voltage=50.0, resistance=0.0), torque_coefficient=LOAD)
    np.testing.assert_allclose(speed, np.cbrt(100.0 / LOAD), rtol=1e-12)


def test_units_share_the_pack() -> None:
    """n units that each draw I sag the pack by n I R: each of two sees what one would see of a pack
    of twice the resistance (closed form)."""
    drive = Drive(motor=MOTOR, controller_efficiency=0.95)
    two, _ = shaft_speed(drive, Supply(voltage=22.2, resistance=0.05, units=2.0),
                         torque_coefficient=LOAD)
    one, _ = shaft_speed(drive, Supply(voltage=22.2, resistance=0.10, units=1.0),
                         torque_coefficient=LOAD)
    np.testing.assert_allclose(two, one, rtol=1e-13)


@pytest.mark.parametrize(("duty", "synchronous"), [(1.0, False), (0.6, False), (0.6, True)])
def test_an_overspun_shaft_follows_the_motors_straight_line(duty: float, synchronous: bool) -> None:
    """V = I R + kt w at the duty's voltage down to no current; beyond, the current reverses at
    full voltage or with synchronous rectification, else only where the back voltage meets the bus.
    """
    drive = Drive(motor=MOTOR, duty=duty, synchronous_rectification=synchronous)
    bare = Supply(voltage=20.0, resistance=0.0)
    for volts in np.array([0.5, 0.99, 1.01, 1.3, 1.9]) * 20.0 * duty:
        omega = volts / kt(4400.0)
        amps = (20.0 * duty - volts) / MOTOR.resistance
        if volts > 20.0 * duty and duty < 1.0 and not synchronous:
            amps = min(20.0 - volts, 0.0) / MOTOR.resistance
        idle = float(motors.no_load_current(MOTOR, shaft_speed=omega))
        torque, limit = torque_available(drive, bare, shaft_speed=omega)
        assert float(torque) == pytest.approx(kt(4400.0) * (amps - idle), rel=1e-9)
        assert int(limit) == (DriveLimit.FULL_VOLTAGE if amps > 0.0 else DriveLimit.REGENERATING
                              if amps < 0.0 else DriveLimit.FREEWHEELING)
        state = electrical_state(drive, bare, shaft_speed=omega, torque=torque, limit=limit)
        assert float(state.motor_current) == pytest.approx(amps, abs=1e-9)
        assert float(state.duty) <= 1.0 + 1e-9


def test_a_drive_cut_carries_no_current_and_a_short_brakes() -> None:
    """No-load torque alone up to the bus; shorted windings: kt^2 w / R more (textbook)."""
    drive = Drive(motor=MOTOR, power_limit=100.0, speed_limit=500.0)
    omega = np.array([300.0, 1500.0])
    idle = motors.no_load_current(MOTOR, shaft_speed=omega)
    free, limit = torque_available(cut(drive), SUPPLY, shaft_speed=omega)
    assert free == pytest.approx(-kt(4400.0) * idle)
    assert np.all(limit == DriveLimit.FREEWHEELING)
    shorted, _ = torque_available(braked(drive), SUPPLY, shaft_speed=omega)
    assert shorted == pytest.approx(-kt(4400.0) * idle
                                    - kt(4400.0) ** 2 * omega / MOTOR.resistance)


def test_a_drive_too_weak_to_turn_says_so() -> None:
    weak = Drive(motor=MOTOR, power_limit=0.01)
    speed, _ = shaft_speed(weak, SUPPLY, torque_coefficient=1e-9)
    assert np.isnan(float(speed))


def test_a_pack_that_cannot_deliver() -> None:
    """V^2 / 4 R is the most a source gives (maximum power transfer, closed form)."""
    assert float(greatest_power(voltage=20.0, resistance=0.5)) == 200.0
    assert np.isnan(float(terminal_current(voltage=20.0, resistance=0.5, power=201.0)))
    assert float(terminal_current(voltage=20.0, resistance=0.5, power=200.0)) == pytest.approx(20.0)
    drive = Drive(motor=lossless_motor(), power_limit=900.0)
    power, _, reachable = allowed_power(drive, Supply(voltage=20.0, resistance=0.5))
    assert not bool(reachable)
    assert float(power) == 200.0


def test_a_pack_below_half_its_voltage_breaks_no_cap_unsaid() -> None:
    """12 V behind 0.2 ohm, a motor of 0.02 ohm all but standing: by Ohm's law full voltage draws
    12 / 0.22 = 54.5 A, whatever a cap of 20 A says. History: three times a supply current cap was
    drawn and nothing was said."""
    motor = ConstantsMotor(torque_constant=0.01, resistance=0.02, no_load_current=0.0)
    pack = Supply(voltage=12.0, resistance=0.2)
    crawl = 1e-6
    for limits in ({"supply_current_limit": 20.0}, {"power_limit": 59.6}, {}):
        drive = Drive(motor=motor, **limits)
        torque, limit = torque_available(drive, pack, shaft_speed=crawl)
        assert int(limit) == DriveLimit.FULL_VOLTAGE
        assert float(torque) == pytest.approx(0.01 * 12.0 / 0.22, rel=1e-6)
        state = electrical_state(drive, pack, shaft_speed=crawl, torque=torque, limit=limit)
        assert float(state.supply_current) == pytest.approx(12.0 / 0.22, rel=1e-6)
        # 54.5 A through 0.2 ohm leave 1.09 V at the terminals: 59.5 W
        assert bool(state.deliverable) == ("supply_current_limit" not in limits)


def test_leads_too_thin_for_the_cap_are_a_pack_that_cannot_deliver() -> None:
    """10 V and 0.01 ohm of leads pass at most 10^2 / 0.04 = 2,500 W on, of 5,000 W drawn at 500 A.
    History: at a cap of 15 kW the leads took more than all, and the motor braked."""
    drive = Drive(motor=lossless_motor(), power_limit=15e3, controller_lead_resistance=0.01)
    pack = Supply(voltage=10.0, resistance=0.0)
    power, _, reachable = allowed_power(drive, pack)
    assert float(power) == pytest.approx(5000.0)
    assert not bool(reachable)
    assert float(controller_input(drive, pack, terminal_power=power)) == pytest.approx(2500.0)


def test_sag_of_a_worked_pack() -> None:
    """6 cells of 3.7 V, 92 mohm loop, 400 W: 19.6 A, 20.4 V at the motor, sag 1.8 V (worked
    example of the battery notes, X)."""
    amps = float(terminal_current(voltage=22.2, resistance=0.092, power=400.0))
    assert amps == pytest.approx(19.6, abs=0.05)
    assert 22.2 - amps * 0.092 == pytest.approx(20.4, abs=0.05)


def test_controller_leads_take_their_share() -> None:
    drive = Drive(motor=MOTOR, controller_lead_resistance=0.01)
    left = controller_input(drive, Supply(voltage=20.0, resistance=0.0), terminal_power=200.0)
    assert float(left) == pytest.approx(200.0 - 10.0**2 * 0.01)


def test_permanent_magnet_motor_of_a_textbook() -> None:
    """Fitzgerald, Kingsley and Umans, Electric Machinery, Ex 7.9 p.389 (C): 50 V, 1.25 A, 1.03 ohm,
    2100 rpm no load, loss 61 W there; at 48 V and 1700 rpm, with that loss held constant, 267.07 W
    come out (275.05 W printed, with the constant rounded to 0.22). Here the loss is a constant
    current, so it is the power before losses that must agree: 267.07 + 61."""
    constant = (50.0 - 1.25 * 1.03) / (2100.0 * 2.0 * np.pi / 60.0)
    machine = ConstantsMotor(torque_constant=constant, resistance=1.03, no_load_current=1.25)
    drive, bench = Drive(motor=machine), Supply(voltage=48.0, resistance=0.0)
    omega = 1700.0 * 2.0 * np.pi / 60.0
    torque, limit = torque_available(drive, bench, shaft_speed=omega)
    state = electrical_state(drive, bench, shaft_speed=omega, torque=torque, limit=limit)
    assert float(torque * omega + state.no_load_heat) == pytest.approx(267.07 + 61.0, abs=0.5)
    unloaded = Supply(voltage=50.0, resistance=0.0)
    speed, limit = shaft_speed(drive, unloaded, torque_coefficient=0.0)
    idle = electrical_state(drive, unloaded, shaft_speed=speed, torque=0.0, limit=limit)
    assert float(speed) * 60.0 / (2.0 * np.pi) == pytest.approx(2100.0, rel=1e-9)
    assert float(idle.no_load_heat) == pytest.approx(61.0, abs=0.5)


def test_constants_follow_from_two_readings() -> None:
    """V = kt omega + I R at both readings: the two equations are met (closed form)."""
    no_load, loaded = (24.0, 0.5, 3000.0), (24.0, 6.0, 2600.0)
    found, resistance = constants_from_bench(
        no_load_voltage=no_load[0], no_load_current=no_load[1], no_load_speed=no_load[2],
        load_voltage=loaded[0], load_current=loaded[1], load_speed=loaded[2])
    for volts, amps, speed in (no_load, loaded):
        assert float(found * speed + resistance * amps) == pytest.approx(volts, rel=1e-12)


@pytest.mark.parametrize(("charge", "volts"), [(0.0, 2.500), (0.2, 3.485), (0.5, 3.751),
                                               (0.8, 4.042), (1.0, 4.200)])
def test_open_circuit_voltage_of_a_published_cell(charge, volts) -> None:
    """Chen et al., J. Electrochem. Soc. 167 (2020) 080534, 5 Ah NMC811 21700 (R2, to 1 mV)."""
    pack = Pack(curve=cell_curve("NMC"), series=1.0, cell_resistance=0.01, cell_capacity=18e3,
                state_of_charge=charge)
    assert float(open_circuit_voltage(pack)) == pytest.approx(volts, abs=1e-3)


def test_cells_in_series_and_parallel() -> None:
    pack = Pack(curve=cell_curve("NMC"), series=6.0, parallel=2.0, cell_resistance=0.012,
                cell_capacity=18e3, state_of_charge=0.5, lead_resistance=0.004)
    assert float(pack_resistance(pack)) == pytest.approx(6 * 0.012 / 2 + 0.004)
    assert float(supply(pack, units=3.0).voltage) == pytest.approx(6 * 3.7509)
    beyond = replace(pack, state_of_charge=1.2)
    assert np.isnan(float(open_circuit_voltage(beyond)))


def test_a_power_that_only_warms_the_windings_turns_nothing() -> None:
    """The no-load current alone takes I0^2 R; with less than that there is no balance. (It once
    came back as a speed the Newton steps happened to stop at.)"""
    motor = ConstantsMotor(torque_constant=0.76e-3, resistance=0.486, no_load_current=1.385)
    least = 1.385**2 * 0.486
    loads = np.geomspace(1e-11, 1e-6, 6)
    for power, turns in ((0.5 * least, False), (0.999 * least, False), (1.001 * least, True)):
        speed, _ = shaft_speed(Drive(motor=motor, power_limit=power), Supply(voltage=1e4),
                               torque_coefficient=loads)
        assert np.all(np.isfinite(speed)) == turns
        assert turns or not np.any(np.isfinite(speed))


@pytest.mark.parametrize("motor", [MOTOR, lossless_motor()])
def test_a_cap_that_is_not_known_leaves_no_speed(motor) -> None:
    """NaN is no licence to run without a cap (which it once was)."""
    speed, _ = shaft_speed(Drive(motor=motor, power_limit=np.nan, speed_limit=5000.0), SUPPLY,
                           torque_coefficient=1e-8)
    assert np.isnan(speed)


@settings(max_examples=200)
@given(volts=st.floats(3.0, 400.0), ohms=st.floats(1e-4, 1.0))
def test_the_greatest_power_of_a_source_can_be_drawn(volts, ohms) -> None:
    """At V^2 / 4R the current is V / 2R (maximum power transfer, closed form).

    History: round-off under the root sometimes made it NaN.
    """
    most = greatest_power(voltage=volts, resistance=ohms)
    current = terminal_current(voltage=volts, resistance=ohms, power=most)
    assert float(current) == pytest.approx(0.5 * volts / ohms, rel=1e-6)
