"""Loss correlations against measured sections, each other, and usual practice."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import row, rows
from thrustlapse.rotor.axial import losses as loss


def isolated_drag(lift, reynolds, section):
    """Drag coefficient of an isolated section by the cascade correlations: vanishing solidity."""
    solidity, inlet = 1e-6, 0.9
    outlet = np.arctan(np.tan(inlet) - 0.5 * lift * solidity / np.cos(inlet))
    ratio = loss.equivalent_diffusion_ratio(inlet_angle=inlet, outlet_angle=outlet,
                                            solidity=solidity)
    wake = loss.wake_thickness(equivalent_diffusion=ratio)
    coefficient = loss.loss_from_wake(wake_thickness=wake, solidity=solidity, inlet_angle=inlet,
                                      outlet_angle=outlet)
    drag = loss.drag_from_loss(loss=coefficient, solidity=solidity, inlet_angle=inlet,
                               mean_angle=inlet)
    return drag * loss.reynolds_factor(reynolds=reynolds, section=section)


@pytest.mark.parametrize(("key", "section"), [
    ("Clark-Y 200k", "thick"), ("Clark-Y 400k", "thick"), ("S7075 200k", "thin"),
    ("S7075 300k", "thin")])
def test_profile_loss_meets_measured_drag_above_the_bubble(key, section):
    # UIUC low-speed tests (status R); 35 %: cascade data of other sections, from memory
    line = row("axial_section_lift_and_drag", key)
    for lift in (0.3, 0.6):
        assert isolated_drag(lift, line["reynolds"], section) == pytest.approx(
            line[f"drag_at_lift_{lift}"], rel=0.35)


def test_profile_loss_falls_short_of_the_bubble_drag_in_quiet_air():
    # known weakness, kept in sight: at Re 60,000 isolated sections in a quiet tunnel drag about
    # twice what the cascade law says, which is meant for the turbulence of a machine
    for line in rows("axial_section_lift_and_drag"):
        if line["reynolds"] < 7e4:
            kind = "thick" if str(line).startswith("Clark") else "thin"
            short = line["drag_at_lift_0.6"] / isolated_drag(0.6, line["reynolds"], kind)
            assert 1.2 < short < 2.2


def test_rival_profile_losses_agree_at_design():
    # agreement: equivalent diffusion against diffusion factor at design loads; 40 %
    inlet = np.radians(np.array([45.0, 55.0, 60.0]))
    outlet = np.radians(np.array([25.0, 38.0, 48.0]))
    ratio = loss.equivalent_diffusion_ratio(inlet_angle=inlet, outlet_angle=outlet, solidity=1.0)
    factor = loss.diffusion_factor(inlet_speed=1.0 / np.cos(inlet),
                                   outlet_speed=1.0 / np.cos(outlet),
                                   turning=np.tan(inlet) - np.tan(outlet), solidity=1.0)
    assert np.all((factor > 0.3) & (factor < 0.5))
    assert loss.wake_thickness_rival(diffusion_factor=factor, incidence=0.0) == pytest.approx(
        loss.wake_thickness(equivalent_diffusion=ratio), rel=0.40)


@given(st.floats(0.01, 3.0), st.floats(0.1, 1.3), st.floats(0.1, 1.3), st.floats(0.0, 0.1))
def test_drag_and_loss_are_inverse(solidity, inlet, mean, drag):
    there = loss.loss_from_drag(drag=drag, solidity=solidity, inlet_angle=inlet, mean_angle=mean)
    back = loss.drag_from_loss(loss=there, solidity=solidity, inlet_angle=inlet, mean_angle=mean)
    assert back == pytest.approx(drag, rel=1e-12, abs=1e-15)


def test_wake_and_drag_routes_agree_without_turning():
    # with no turning a wake of momentum thickness theta is a drag of 2 theta / c
    wake = loss.loss_from_wake(wake_thickness=0.006, solidity=0.8, inlet_angle=0.7,
                               outlet_angle=0.7)
    drag = loss.loss_from_drag(drag=0.012, solidity=0.8, inlet_angle=0.7, mean_angle=0.7)
    assert wake == pytest.approx(drag, rel=1e-12)


def test_reynolds_factor_is_continuous_and_roughness_holds_it():
    edge = loss.LAMINAR_BREAK
    low, high = loss.reynolds_factor(reynolds=np.array([edge * (1 - 1e-9), edge * (1 + 1e-9)]))
    assert low == pytest.approx(high, rel=1e-8)
    smooth, rough = (loss.reynolds_factor(reynolds=2e6, roughness_ratio=k) for k in (0.0, 1e-3))
    assert smooth < rough
    assert rough == pytest.approx(float(loss.reynolds_factor(reynolds=90.0 / 1e-3)), rel=1e-12)


def test_separation_grows_smoothly_from_nothing():
    load = np.linspace(0.0, 3.0, 301)
    share = loss.attached_share(overload=load)
    assert np.all(np.diff(share) <= 0.0)
    assert np.max(np.abs(np.diff(share))) < 0.025  # 0.66 x 3.7 x the step of 0.01
    assert loss.separation_drag(attached=1.0, angle_of_attack=0.3) == 0.0
    assert loss.separated_lift(attached=1.0) == 1.0


def test_endwall_loss_is_howells_annulus_drag_when_both_walls_see_the_blades_speed():
    # Howell's 0.020 spacing / height (from memory) on the same stage: short span, mean radius
    chord, spacing, height, axial, angle = 0.02, 0.018, 0.001, 40.0, np.radians(45.0)
    radius = 10.0
    speed = axial / np.cos(angle)
    flow = axial * 2.0 * np.pi * radius * height
    here = loss.endwall_loss(hub_speed=speed, casing_speed=speed, hub_radius=radius,
                             casing_radius=radius, hub_length=chord, casing_length=chord,
                             volume_flow=flow)
    coefficient = loss.loss_from_drag(drag=0.020 * spacing / height, solidity=chord / spacing,
                                      inlet_angle=angle, mean_angle=angle)
    assert here == pytest.approx(float(coefficient) * 0.5 * speed**2, rel=1e-12)


def test_clearance_loss_vanishes_with_load_and_gap():
    frame = {"axial_velocity": 50.0, "tip_speed": 110.0, "height": 0.02, "chord": 0.018,
             "mean_angle": 1.1}
    assert loss.clearance_loss(work=0.0, clearance=4e-4, **frame) == 0.0
    assert loss.clearance_loss(work=1500.0, clearance=0.0, **frame) == 0.0
    both = loss.clearance_loss(work=np.array([1500.0, -1500.0]), clearance=4e-4, **frame)
    assert both[0] == both[1] > 0.0


def test_clearance_costs_what_practice_says():
    # 1.5 to 2 points of efficiency per per cent of span (from memory, Wallis): Lakshminarayana's
    # form (from memory too) at a usual tip load, within half a point
    cost = loss.clearance_loss(work=0.15 * 110.0**2, clearance=4e-4, axial_velocity=48.0,
                               tip_speed=110.0, height=0.02, chord=0.018,
                               mean_angle=np.radians(63.0))
    points = 100.0 * cost / (0.15 * 110.0**2) / 2.0
    usual = row("axial_typical_values", "points_per_percent_of_span_clearance")
    assert usual["least"] - 0.5 < points < usual["greatest"] + 0.5
