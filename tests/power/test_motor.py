"""Motors from what a label or a data sheet says of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.power.textbook_motor import best_efficiency_current
from thrustlapse.power.motor import (
    ConstantsMotor,
    constant_efficiency_motor,
    efficiency_motor,
    input_power,
    motor_current,
    shaft_power,
    torque_constant_from_speed_constant,
)


def test_a_torque_constant_is_the_reciprocal_of_the_speed_constant() -> None:
    """In SI the constants of speed and torque are one number: 4400 rpm/V is 2.170 mN m/A."""
    kv = 4400.0 * np.pi / 30.0
    assert float(torque_constant_from_speed_constant(speed_constant=kv)) == pytest.approx(
        60.0 / (2.0 * np.pi * 4400.0))


def test_efficiencies_are_read_as_they_are_listed() -> None:
    """150 W from 80 %, 300 W from 75 %: by the definition of efficiency."""
    motor = efficiency_motor(load=np.array([0.5, 1.0]), efficiency=np.array([0.80, 0.75]),
                             rated_shaft_power=300.0)
    assert input_power(motor, shaft_power=np.array([0.0, 75.0, 150.0, 300.0])) == \
        pytest.approx([0.0, 93.75, 187.5, 400.0])
    assert shaft_power(motor, input_power=np.array([187.5, 400.0])) == pytest.approx([150.0, 300.0])
    # no more than its rating, whatever is on offer
    assert float(shaft_power(motor, input_power=5000.0)) == 300.0


def test_one_efficiency_has_no_hidden_end() -> None:
    """It once ended at 1000 W of shaft power without a word."""
    motor = constant_efficiency_motor(efficiency=0.8)
    power = np.array([0.0, 1.0, 900.0, 2.5e3, 1e6])
    assert shaft_power(motor, input_power=power) == pytest.approx(0.8 * power)
    assert input_power(motor, shaft_power=0.8 * power) == pytest.approx(power)


@pytest.mark.parametrize(("load", "efficiency"), [
    ([0.5, 0.5], [0.8, 0.7]), ([1.0, 0.5], [0.8, 0.8]), ([0.5, 0.6], [0.6, 0.9]),
    ([0.5, 0.6], [0.5, 0.6])])
def test_loads_and_their_inputs_must_rise(load, efficiency) -> None:
    """Else one input power would stand for two shaft powers."""
    with pytest.raises(ValueError, match="must both rise"):
        efficiency_motor(load=np.array(load), efficiency=np.array(efficiency),
                         rated_shaft_power=300.0)


def test_a_scaled_input_asks_for_more_and_is_read_back() -> None:
    motor = replace(efficiency_motor(load=np.array([1.0]), efficiency=np.array([0.8]),
                                     rated_shaft_power=200.0), input_scale=1.1)
    assert float(input_power(motor, shaft_power=100.0)) == pytest.approx(1.1 * 125.0)
    assert float(shaft_power(motor, input_power=1.1 * 125.0)) == pytest.approx(100.0)


def test_the_current_of_best_efficiency_is_where_no_other_is_better() -> None:
    """sqrt(I0 V / R), textbook motor of constant losses; held against a scan of the definition."""
    motor = ConstantsMotor(torque_constant=0.0022, resistance=0.05, no_load_current=1.2)
    volts = 15.0
    amps = np.linspace(1.3, 100.0, 200_001)
    speed = (volts - amps * motor.resistance) / motor.torque_constant
    efficiency = (amps - 1.2) * motor.torque_constant * speed / (volts * amps)
    assert float(best_efficiency_current(motor, voltage=volts)) == pytest.approx(
        amps[np.argmax(efficiency)], rel=1e-3)
    torque = 10.0 * motor.torque_constant
    assert float(motor_current(motor, torque=torque, shaft_speed=3000.0)) == pytest.approx(11.2)
