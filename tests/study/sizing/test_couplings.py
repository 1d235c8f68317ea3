"""Motor, unit and weight couplings: what scaling laws and closed forms demand of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.study.sizing import motor_size
from thrustlapse.study.sizing.unit_size import own_induced_drag, unit_mass

MASS, SPEED, FACTOR = st.floats(0.01, 2.0), st.floats(500.0, 12_000.0), st.floats(1.1, 5.0)


@given(MASS, SPEED, FACTOR)
def test_a_rewound_motor_trades_volts_for_amps_and_loses_the_same(mass: float, speed: float,
                                                                 turns: float) -> None:
    """Same torque, same copper loss and same no-load loss, whatever the turns: I^2 R and V0 I0."""
    constant = motor_size.motor_constant(mass=mass, greatest_speed=speed)
    torque = 0.1 * mass
    losses, idle = [], []
    for kt in (0.01, 0.01 * turns):
        resistance = motor_size.winding_resistance(torque_constant=kt, motor_constant=constant)
        losses.append(float((torque / kt) ** 2 * resistance))
        current = motor_size.no_load_torque(mass=mass, greatest_speed=speed,
                                            shaft_speed=0.5 * speed) / kt
        idle.append(float(current * kt * 0.5 * speed))
    assert losses[1] == pytest.approx(losses[0], rel=1e-12)
    assert idle[1] == pytest.approx(idle[0], rel=1e-12)


@given(MASS, SPEED, FACTOR)
def test_copper_loss_at_the_greatest_speed_follows_from_power_and_mass_alone(
        mass: float, speed: float, faster: float) -> None:
    """P^2 / (merit^2 m), by hand: torque P/w over Km, squared."""
    power = 3_000.0 * mass
    for top in (speed, faster * speed):
        constant = motor_size.motor_constant(mass=mass, greatest_speed=top, merit=400.0)
        assert float((power / top / constant) ** 2) == pytest.approx(
            power**2 / (400.0**2 * mass), rel=1e-12)


@given(MASS, FACTOR)
def test_similar_motors_keep_their_rim_speed_and_shed_heat_by_surface(mass: float,
                                                                     size: float) -> None:
    """Lengths times s: mass s^3, surface s^2, the same speed at the rotor's rim."""
    larger = mass * size**3
    rim = [float(motor_size.speed_limit(mass=m) * motor_size.motor_diameter(mass=m))
           for m in (mass, larger)]
    assert rim[1] == pytest.approx(rim[0], rel=1e-12)
    assert float(motor_size.heat_limit(mass=larger) / motor_size.heat_limit(mass=mass)) \
        == pytest.approx(size**2, rel=1e-12)


def test_a_motor_of_the_size_they_are_sold_in() -> None:
    """60 g, wound for 4300 rpm/V, built for 70 krpm: some 20 mohm, 1 to 2 A without load at 8 V,
    and 20 to 26 mm wide (data sheets of such inrunners, from memory)."""
    kt, top = 60.0 / (2.0 * np.pi * 4300.0), 70e3 * np.pi / 30.0
    constant = motor_size.motor_constant(mass=0.060, greatest_speed=top)
    assert 0.015 < float(motor_size.winding_resistance(torque_constant=kt,
                                                       motor_constant=constant)) < 0.030
    free = 8.0 / kt
    assert 1.0 < float(motor_size.no_load_torque(mass=0.060, greatest_speed=top,
                                                 shaft_speed=free)) / kt < 2.0
    assert 0.020 < float(motor_size.motor_diameter(mass=0.060)) < 0.026


def test_no_load_torque_doubles_and_more_from_rest_to_the_greatest_speed() -> None:
    slow, fast = (float(motor_size.no_load_torque(mass=0.1, greatest_speed=5e3, shaft_speed=w))
                  for w in (0.0, 5e3))
    assert fast == pytest.approx(3.0 * slow)
    assert fast * 5e3 == pytest.approx(1.5 * motor_size.IRON_LOSS * 0.1)


def test_mass_of_a_unit_is_the_sum_of_its_parts() -> None:
    """80 g of wheel and casing at 45 mm, 100 g of motor, 40 g of controller for 1 kW."""
    made = float(unit_mass("blower", diameter=0.045, motor_mass=0.1, power=1e3))
    assert made == pytest.approx(0.22, abs=0.001)


FRAME = Airframe(mass=1.0, wing_area=0.2, minimum_drag_coefficient=0.02, induced_factor=0.06,
                 greatest_lift=1.1, launch_speed=10.0)


@given(st.floats(0.2, 5.0), st.floats(0.05, 1.0), st.floats(1.01, 8.0))
def test_own_induced_drag_is_the_difference_of_two_level_flights(base: float, unit: float,
                                                                over: float) -> None:
    """Above the stall with all aboard, for a polar without offset."""
    v = over * float(stall_speed(FRAME, mass=base + unit, density=1.2))
    both = [float(level_drag(FRAME, mass=m, density=1.2, airspeed=v, speed_of_sound=340.0).induced)
            for m in (base + unit, base)]
    found = float(own_induced_drag(FRAME, base_mass=base, unit_mass=unit, density=1.2, airspeed=v))
    assert found == pytest.approx(both[0] - both[1], rel=1e-9)


def test_on_the_ground_weight_costs_no_induced_drag() -> None:
    assert float(own_induced_drag(FRAME, base_mass=1.0, unit_mass=0.3, density=1.2,
                                  airspeed=0.0)) == 0.0
