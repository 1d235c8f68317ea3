"""Each impeller loss against a second route: its constants are from memory and need one.

A conservation law where there is one, else a rival correlation or rule inside its own range, with
the band of the agreement stated. The reference state is a suction wheel near its design flow.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rotor.centrifugal_cases import MM
from thrustlapse.rotor.centrifugal import losses as loss

TIP = 209.4
WORK = 0.70 * TIP**2

shares = st.floats(0.05, 1.0)


# Incidence -----------------------------------------------------------------------------------


@given(swirl=st.floats(10.0, 150.0), axial=st.floats(20.0, 120.0), blade=st.floats(0.0, 1.0))
def test_incidence_is_a_share_of_the_sudden_turn(swirl, axial, blade):
    # conservation: at constant meridional speed a sudden turn loses half the square of the
    # tangential change; what blades recover of it leaves Conrad's 0.5 to 0.7
    mismatch = swirl - axial * np.tan(blade)
    sudden = 0.5 * mismatch**2
    got = loss.incidence_loss(mismatch_speed=mismatch)
    assert 0.5 * sudden <= got <= 0.7 * sudden
    assert loss.incidence_loss(mismatch_speed=mismatch, factor=1.0) == pytest.approx(sudden)


# Blade loading and diffusion -----------------------------------------------------------------


def test_diffusion_factor_is_diffusion_plus_loading():
    none = loss.diffusion_factor(exit_relative_speed=80.0, eye_relative_speed=80.0,
                                 work_coefficient=0.0, blades=9.0, eye_radius_ratio=0.5)
    assert none == 0.0
    many = loss.diffusion_factor(exit_relative_speed=60.0, eye_relative_speed=80.0,
                                 work_coefficient=0.7, blades=1e9, eye_radius_ratio=0.5)
    assert many == pytest.approx(0.25)   # 1 - W2/W1 when the work is spread over endless blades


def test_blade_loading_agrees_with_the_speed_difference_across_a_blade():
    # rival: Aungier's DW^2 / 48 with DW = 2 pi D2 w / (Z L U2), from memory; within a factor of 3
    for blades, eye in ((9.0, 0.5), (14.0, 0.55), (20.0, 0.6)):
        factor = loss.diffusion_factor(exit_relative_speed=75.0, eye_relative_speed=115.0,
                                       work_coefficient=0.7, blades=blades, eye_radius_ratio=eye)
        got = loss.blade_loading_loss(diffusion_factor=factor, tip_speed=TIP)
        length = 0.55   # of the blade over D2
        rival = (2.0 * np.pi * WORK / (blades * length * TIP)) ** 2 / 48.0
        assert 1.0 / 3.0 < got / rival < 3.0


def test_accelerating_flow_loses_nothing_to_diffusion():
    for lost in (loss.blade_loading_loss(diffusion_factor=-0.2, tip_speed=TIP),
                 loss.recirculation_loss(diffusion_factor=-0.2, swirl_over_meridional=3.0,
                                         tip_speed=TIP)):
        assert lost == 0.0


# Friction ------------------------------------------------------------------------------------

WHEEL = {"eye_diameter": 20 * MM, "hub_diameter": 8 * MM, "outlet_diameter": 40 * MM,
         "outlet_width": 3.5 * MM}
ANGLES = {"eye_angle": 1.1, "hub_angle": 0.75, "exit_angle": 0.8}


def test_hydraulic_diameter_is_the_mean_of_both_ends():
    # second route: 2 s h / (s + h) with spacing s normal to the blades and height h, at each end
    blades = 9.0
    cosine = 0.5 * (np.cos(ANGLES["eye_angle"]) + np.cos(ANGLES["hub_angle"]))
    ends = ((np.pi * 40 * MM * np.cos(ANGLES["exit_angle"]) / blades, 3.5 * MM),
            (np.pi * 14 * MM * cosine / blades, 6 * MM))
    mean = np.mean([2.0 * s * h / (s + h) for s, h in ends])
    assert loss.passage_hydraulic_diameter(blades=blades, **WHEEL, **ANGLES) == pytest.approx(mean)


def test_flow_length_of_radial_blades_is_a_quarter_circle():
    # second route: axial and radial extent equal, no lean: arc of a quarter circle
    got = loss.flow_length(eye_diameter=20 * MM, hub_diameter=20 * MM, outlet_diameter=40 * MM,
                           outlet_width=0.0, axial_length=10 * MM, eye_angle=0.0, hub_angle=0.0,
                           exit_angle=0.0)
    assert got == pytest.approx(np.pi / 2.0 * 10 * MM)


def test_skin_friction_is_the_force_on_the_walls():
    # conservation: wall shear times wetted area times speed is the power lost
    density, speed, side, length, friction = 1.3, 80.0, 4 * MM, 25 * MM, 0.006
    power = 0.5 * friction * density * speed**2 * (4.0 * side * length) * speed
    mass_flow = density * speed * side**2
    got = loss.skin_friction_loss(skin_friction=friction, flow_length=length,
                                  hydraulic_diameter=side, mean_speed=speed)
    assert got == pytest.approx(power / mass_flow)


@given(speed=st.floats(1.0, 300.0))
def test_mean_speed_of_an_even_flow_is_that_speed(speed):
    # the weights add up to 8
    got = loss.mean_relative_speed(eye_speed=speed, exit_speed=speed, eye_relative_speed=speed,
                                   hub_relative_speed=speed, exit_relative_speed=speed)
    assert got == pytest.approx(speed)


# Clearance and leakage -----------------------------------------------------------------------


def clearance_share(clearance: float) -> float:
    lost = loss.clearance_loss(
        clearance=clearance * 3.5 * MM, outlet_width=3.5 * MM, exit_swirl=0.7 * TIP,
        inlet_speed=45.0, blades=9.0, eye_radius=10 * MM, hub_radius=4 * MM, outlet_radius=20 * MM,
        density_ratio=1.15)
    return float(lost / WORK)


@given(clearance=st.floats(0.01, 0.15))
def test_clearance_costs_as_much_as_the_rule_says(clearance):
    # rival: 0.2 to 0.5 points of efficiency per point of clearance over exit width (from memory)
    assert 0.2 < clearance_share(clearance) / clearance < 0.5


def test_tip_leakage_carries_the_moment_of_momentum():
    # conservation: pressure on the blades, times area, times radius, is the torque of the flow
    mass_flow, swirl, blades, length, density = 0.0144, 147.0, 9.0, 25 * MM, 1.4
    mean_radius, mean_width = 13.8 * MM, 4.75 * MM
    pressure = mass_flow * 20 * MM * swirl / (blades * mean_radius * mean_width * length)
    speed = 0.816 * np.sqrt(2.0 * pressure / density)
    gap_flow = density * speed * blades * length * 0.2 * MM
    got = loss.tip_leakage_power(
        mass_flow=mass_flow, exit_swirl=swirl, clearance=0.2 * MM, blades=blades,
        exit_density=density, tip_speed=TIP, outlet_radius=20 * MM, mean_inlet_radius=7.6 * MM,
        outlet_width=3.5 * MM, inlet_height=6 * MM, flow_length=length)
    assert got == pytest.approx(0.5 * gap_flow * speed * TIP)
    assert 0.01 < got / (mass_flow * WORK) < 0.06   # 1 to 6 % of the work at 6 % clearance


def test_seal_leakage_is_an_orifice():
    # rival: 0.6 of Torricelli through the gap; a seal of 0.1 mm leaks 2 to 10 % of 14 g/s
    pressure, density, gap, diameter = 20e3, 1.4, 0.1 * MM, 20 * MM
    got = loss.seal_leakage_power(static_rise=pressure, work=WORK, seal_gap=gap,
                                  eye_diameter=diameter, density=density)
    flow = 0.6 * np.pi * diameter * gap * np.sqrt(2.0 * density * 0.75 * pressure)
    assert got == pytest.approx(flow * WORK)
    assert 0.02 < flow / 0.0144 < 0.10


def test_nothing_leaks_backwards_through_a_wheel_that_raises_nothing():
    got = loss.seal_leakage_power(static_rise=-5e3, work=WORK, seal_gap=0.1 * MM,
                                  eye_diameter=20 * MM, density=1.2)
    assert got == 0.0


# Mixing --------------------------------------------------------------------------------------


@given(passage=st.floats(1.0, 100.0), wake=st.floats(0.0, 0.5), step=st.floats(1.0, 3.0))
def test_mixing_conserves_momentum(passage, wake, step):
    # conservation: a jet beside still air in a channel: static pressure from momentum, then the
    # total pressure that is gone
    jet, mixed = passage / (1.0 - wake), passage / step
    filled = mixed / jet
    rise = filled * jet**2 - mixed**2              # static pressure rise over density
    total = 0.5 * jet**2 - (rise + 0.5 * mixed**2)
    got = loss.mixing_loss(passage_speed=passage, mixed_speed=mixed, wake_share=wake)
    assert got == pytest.approx(total, abs=1e-9 * jet**2)


@given(passage=st.floats(1.0, 100.0), wake=st.floats(0.0, 0.5), step=st.floats(1.0, 3.0))
def test_mixing_is_johnston_and_dean_behind_the_step(passage, wake, step):
    # their form from memory: [(1 - e - b) / (1 - e)]^2 Cm^2 / 2 with b the ratio of widths
    mixed = passage / step
    printed = ((1.0 - wake - step) / (1.0 - wake)) ** 2 * 0.5 * mixed**2
    got = loss.mixing_loss(passage_speed=passage, mixed_speed=mixed, wake_share=wake)
    assert got == pytest.approx(printed, rel=1e-9, abs=1e-12)


# Recirculation and shutoff -------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [68.0, 71.5, 75.0])
def test_recirculation_rivals_agree_where_both_hold(degrees):
    # Coppage and Dallenbach against Oh, Yoon and Chung, both from memory: within a factor of 3
    angle = np.deg2rad(degrees)
    flat = loss.recirculation_loss(diffusion_factor=0.5, swirl_over_meridional=np.tan(angle),
                                   tip_speed=TIP)
    steep = loss.recirculation_loss_steep(diffusion_factor=0.5, exit_flow_angle=angle,
                                          tip_speed=TIP)
    assert 1.0 / 3.0 < steep / flat < 3.0


def test_steep_recirculation_is_useless_at_shutoff():
    # why the map does not use it: many times the Euler work
    absurd = loss.recirculation_loss_steep(diffusion_factor=0.6, exit_flow_angle=np.pi / 2.0,
                                           tip_speed=1.0)
    assert absurd > 10.0


def test_exchange_fades_out_below_the_shock_free_flow():
    onset = loss.EXCHANGE_ONSET * 0.03
    got = loss.exchange_flow(flow=onset * np.array([0.0, 0.5, 1.0, 1.5]), shock_free_flow=0.03)
    assert got == pytest.approx(loss.EXCHANGE_SPEED * np.array([1.0, 0.5, 0.0, 0.0]))
