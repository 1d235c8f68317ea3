"""The drive's envelope point by point: the most current that no limit forbids, found by halving.

Written from the circuit alone (pack, leads, controller, windings), without the package's formulas.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.machines import kt
from thrustlapse.power.drive import (
    Drive,
    DriveLimit,
    allowed_power,
    electrical_state,
    motor_heat,
    shaft_speed,
    torque_available,
)
from thrustlapse.power.motor import ConstantsMotor, efficiency_motor
from thrustlapse.power.pack import Supply

KT = kt(3000.0)
MOTOR = ConstantsMotor(torque_constant=KT, resistance=0.04, no_load_current=1.4,
                       no_load_current_slope=4e-4)
SOURCE = Supply(voltage=21.0, resistance=0.03, units=2.0)
BASE = Drive(motor=MOTOR, duty=0.9, controller_efficiency=0.94, motor_lead_resistance=0.003,
             controller_lead_resistance=0.008)
DRIVES = {
    "full voltage": BASE, "power": replace(BASE, power_limit=180.0),
    "motor current": replace(BASE, motor_current_limit=22.0),
    "supply current": replace(BASE, supply_current_limit=12.0),
    "speed": replace(BASE, speed_limit=3000.0),
    "all": replace(BASE, power_limit=230.0, motor_current_limit=35.0, supply_current_limit=14.0,
                   speed_limit=4600.0),
}
SPEEDS = np.concatenate([np.linspace(200.0, 5800.0, 15), [5920.0, 5950.0, 6100.0]])
"""Up to where the last ampere is lost, at 5938 rad/s, and a little past it [rad/s]."""
LOADS = np.concatenate([np.geomspace(1e-10, 1e-6, 13), [0.0], -np.geomspace(1e-13, 1e-8, 6)])


def taken(drive: Drive, omega: float, current: float) -> tuple[float, float, float]:
    """Pack current, terminal power and volts over the motor's terminals; infinite where none."""
    volts = KT * omega + current * (0.04 + 0.003)
    entry = volts * current / 0.94
    upstream = 2.0 * 0.03 + 0.008
    under = 21.0**2 - 4.0 * upstream * entry
    if under < 0.0:
        return math.inf, math.inf, volts
    amps = (21.0 - math.sqrt(under)) / (2.0 * upstream)
    return amps, (21.0 - amps * 0.06) * amps, volts


def allowed(drive: Drive, omega: float, current: float) -> bool:
    """Whether no limit forbids a motor current; at full duty the pack gives duty I / eta of it."""
    amps, power, volts = taken(drive, omega, current)
    at_most = drive.duty * (21.0 - 0.068 * drive.duty * current / 0.94)
    return (volts <= at_most and current <= drive.motor_current_limit
            and (math.isinf(drive.supply_current_limit) or amps <= drive.supply_current_limit)
            and (math.isinf(drive.power_limit) or power <= drive.power_limit))


def greatest_torque(drive: Drive, omega: float) -> float:
    """By halving; without current the shaft only drags."""
    low, high = 0.0, 600.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if allowed(drive, omega, middle) else (low, middle)
    return KT * (low - 1.4 - 4e-4 * omega)


@pytest.mark.parametrize("name", DRIVES)
def test_torque_available_is_the_most_that_no_limit_forbids(name: str) -> None:
    found, limit = torque_available(DRIVES[name], SOURCE, shaft_speed=SPEEDS)
    expected = [greatest_torque(DRIVES[name], float(omega)) for omega in SPEEDS]
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)
    held = KT * (np.asarray(expected) / KT + 1.4 + 4e-4 * SPEEDS) <= 1e-9
    assert np.array_equal(np.asarray(limit) == DriveLimit.FREEWHEELING, held)


@pytest.mark.parametrize("name", DRIVES)
def test_shaft_speed_is_where_the_load_takes_that_torque(name: str) -> None:
    """For loads from nothing to locked, and for loads that drive the shaft."""
    drive = DRIVES[name]
    found, _ = shaft_speed(drive, SOURCE, torque_coefficient=LOADS)
    for load, speed in zip(LOADS, found, strict=True):
        def excess(omega: float, load: float = float(load)) -> float:
            return greatest_torque(drive, omega) - load * omega**2

        if speed > 0.9 * 21.0 / KT:
            continue  # beyond the last ampere: a solver's guess only
        end = min(float(drive.speed_limit), 0.9 * 21.0 / KT)  # the highest at which current flows
        expected = end if excess(end) >= 0.0 else brentq(excess, 1.0, end, xtol=1e-11, rtol=1e-14)
        assert speed == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("name", DRIVES)
def test_every_volt_and_ampere_of_a_state(name: str) -> None:
    """Pack, leads, controller and windings one after another at given speed and torque."""
    drive = DRIVES[name]
    omega = np.array([900.0, 2500.0, 4400.0])
    torque, limit = torque_available(drive, SOURCE, shaft_speed=omega)
    state = electrical_state(drive, SOURCE, shaft_speed=omega, torque=torque, limit=limit)
    for place, speed in enumerate(omega):
        current = float(torque[place]) / KT + 1.4 + 4e-4 * speed
        amps, power, volts = taken(drive, speed, current)
        assert float(state.motor_current[place]) == pytest.approx(current, rel=1e-12)
        assert float(state.motor_voltage[place]) == pytest.approx(volts, rel=1e-12)
        assert float(state.supply_current[place]) == pytest.approx(amps, rel=1e-8)
        assert float(state.terminal_power[place]) == pytest.approx(power, rel=1e-8)
        assert float(state.terminal_voltage[place]) == pytest.approx(21.0 - 0.06 * amps)
        assert float(state.pack_heat[place]) == pytest.approx(0.06 * amps**2, rel=1e-8)
        assert float(state.duty[place]) == pytest.approx(volts / (21.0 - 0.068 * amps), rel=1e-8)
        assert float(state.winding_heat[place]) == pytest.approx(0.04 * current**2, rel=1e-12)
        assert float(state.no_load_heat[place]) == pytest.approx(
            KT * speed * (1.4 + 4e-4 * speed), rel=1e-12)
        assert float(state.controller_heat[place]) == pytest.approx(
            volts * current * (1.0 / 0.94 - 1.0), rel=1e-12)
        assert float(state.lead_heat[place]) == pytest.approx(
            0.003 * current**2 + 0.008 * amps**2, rel=1e-8)
        assert float(state.unsplit_heat[place]) == 0.0
        heat = float(motor_heat(drive, shaft_speed=speed, torque=float(torque[place])))
        assert heat == pytest.approx(0.04 * current**2 + KT * speed * (1.4 + 4e-4 * speed))
    assert state.deliverable.all()


# What the pack allows ------------------------------------------------------------------------


def test_power_allowed_is_the_least_of_cap_current_and_pack() -> None:
    """I (V - I n R) of the current cap while it lies on the pack's rising side, else no cap at
    all; at most what is drawn at half the voltage behind pack and controller's leads, where they
    pass most on (maximum power transfer, closed form)."""
    matched = 21.0 / (2.0 * (0.06 + BASE.controller_lead_resistance))
    most = matched * (21.0 - matched * 0.06)
    for cap, amps, expected, limit, reachable in (
            (200.0, np.inf, 200.0, DriveLimit.POWER, True),
            (200.0, 5.0, 5.0 * (21.0 - 0.3), DriveLimit.SUPPLY_CURRENT, True),
            (90.0, 5.0, 90.0, DriveLimit.POWER, True),
            (1e4, 100.0, 100.0 * (21.0 - 6.0), DriveLimit.SUPPLY_CURRENT, True),
            (1e4, 150.0, 150.0 * (21.0 - 150.0 * 0.06), DriveLimit.SUPPLY_CURRENT, True),
            (1e4, 174.0, most, DriveLimit.SUPPLY_CURRENT, False),
            (1e4, 180.0, most, DriveLimit.POWER, False),
            (1e4, np.inf, most, DriveLimit.POWER, False)):
        power, which, known = allowed_power(
            replace(BASE, power_limit=cap, supply_current_limit=amps), SOURCE)
        assert float(power) == pytest.approx(expected, rel=1e-12)
        assert int(which) == limit
        assert bool(known) == reachable


LISTED = efficiency_motor(load=np.array([0.25, 1.0]), efficiency=np.array([0.6, 0.8]),
                          rated_shaft_power=300.0)


def test_a_motor_known_by_efficiency_takes_its_input_and_heats_by_the_rest() -> None:
    drive = Drive(motor=LISTED, power_limit=260.0, controller_lead_resistance=0.008)
    load = 2e-9
    speed, limit = shaft_speed(drive, SOURCE, torque_coefficient=load)
    torque = load * float(speed) ** 2
    amps = brentq(lambda i: (21.0 - 0.06 * i) * i - 260.0, 0.0, 100.0)
    fed = 260.0 - 0.008 * amps**2
    # 75 W at 0.6 and 300 W at 0.8: inputs 125 and 375 W, straight between them
    shaft = 75.0 + (fed - 125.0) * 225.0 / 250.0
    assert torque * float(speed) == pytest.approx(shaft, rel=1e-9)
    available, _ = torque_available(drive, SOURCE, shaft_speed=speed)
    assert float(available) == pytest.approx(torque, rel=1e-9)
    state = electrical_state(drive, SOURCE, shaft_speed=speed, torque=torque, limit=limit)
    assert float(state.supply_current) == pytest.approx(amps, rel=1e-9)
    assert float(state.terminal_power) == pytest.approx(260.0, rel=1e-9)
    assert float(state.unsplit_heat) == pytest.approx(fed - shaft, rel=1e-8)
    assert float(motor_heat(drive, shaft_speed=speed, torque=torque)) == pytest.approx(
        fed - shaft, rel=1e-8)
    assert float(state.lead_heat) == pytest.approx(0.008 * amps**2, rel=1e-8)
    for unknown in ("motor_current", "motor_voltage", "duty"):
        assert np.isnan(getattr(state, unknown))
    for none in ("controller_heat", "winding_heat", "no_load_heat"):
        assert float(getattr(state, none)) == 0.0
    free, _ = shaft_speed(drive, SOURCE, torque_coefficient=np.array([-1e-9, 0.0, np.nan]))
    assert np.isposinf(free[:2]).all()
    assert np.isnan(free[2])
    windmill = electrical_state(drive, SOURCE, shaft_speed=3000.0, torque=-0.01, limit=limit)
    idle = float(motor_heat(drive, shaft_speed=0.0, torque=0.0))
    assert float(windmill.unsplit_heat) == pytest.approx(idle + 30.0)
    assert float(motor_heat(drive, shaft_speed=3000.0, torque=-0.01)) == pytest.approx(idle + 30.0)


def test_what_the_pack_cannot_give_is_not_deliverable() -> None:
    state = electrical_state(BASE, SOURCE, shaft_speed=3000.0, torque=np.array([0.1, 2.0]),
                             limit=np.full(2, DriveLimit.POWER))
    assert state.deliverable.tolist() == [True, False]


def test_a_stall_torque_below_the_motors_own_drag_turns_nothing() -> None:
    """190 A at most, where the idle motor alone takes 300: the shaft does not move."""
    stiff = replace(BASE, motor=replace(MOTOR, no_load_current=300.0))
    speed, _ = shaft_speed(stiff, SOURCE, torque_coefficient=np.array([1e-9, 1e-7, 1e-5]))
    assert np.isnan(speed).all()
