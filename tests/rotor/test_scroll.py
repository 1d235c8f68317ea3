"""Scroll losses against conservation, and scroll layout against its laws and a textbook."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tests.authority import column, row, rows
from tests.credibility.records import agree, authority
from tests.rotor.centrifugal_cases import MM, SUCTION_WHEEL, stage, with_scroll
from thrustlapse.rotor.centrifugal import scroll, scroll_sizing
from thrustlapse.rotor.centrifugal.scroll_sizing import (
    ScrollDuty,
    outline,
    scroll_duty,
    size_scroll,
)
from thrustlapse.rotor.wall_friction import FINISHES

# Losses --------------------------------------------------------------------------------------


@given(swirl=st.floats(-100.0, 200.0), base=st.floats(0.01, 0.1), wider=st.floats(1.0, 2.0))
def test_a_scroll_that_fits_its_swirl_loses_nothing_by_size(swirl, base, wider):
    lost = scroll.size_mismatch_loss(swirl=swirl, throat_speed=swirl / wider, base_radius=base,
                                     throat_radius=base * wider)
    assert lost == pytest.approx(0.0, abs=1e-9 * (1.0 + swirl**2))


@given(swirl=st.floats(-100.0, 200.0), faster=st.floats(0.0, 200.0))
def test_a_narrow_scroll_mixes_two_streams(swirl, faster):
    # conservation: streams of two speeds that meet at one radius lose half the difference squared
    lost = scroll.size_mismatch_loss(swirl=swirl, throat_speed=swirl + faster, base_radius=1.0,
                                     throat_radius=1.0)
    assert lost == pytest.approx(0.5 * faster**2, abs=1e-9 * (1.0 + swirl**2 + faster**2))


@given(swirl=st.floats(1.0, 200.0), share=st.floats(0.0, 1.0))
def test_a_wide_scroll_loses_no_more_than_the_swirl_has(swirl, share):
    lost = scroll.size_mismatch_loss(swirl=swirl, throat_speed=share * swirl, base_radius=1.0,
                                     throat_radius=1.0)
    kinetic = 0.5 * swirl**2 * (1.0 - share**2)
    # from memory: half of the kinetic energy that the slowing sets free
    assert lost == pytest.approx(0.5 * kinetic, abs=1e-9 * swirl**2)


def test_scroll_friction_is_the_force_on_the_walls():
    density, speed, friction = 1.3, 90.0, 0.007
    area, base = 110e-6, 23 * MM
    middle = scroll.throat_radius(base_radius=base, throat_area=area)
    length = 0.5 * 2.0 * np.pi * 0.5 * (base + middle)
    rim = np.pi * np.sqrt(4.0 * area / np.pi)
    power = 0.5 * friction * density * speed**2 * rim * length * speed
    got = scroll.scroll_friction_loss(skin_friction=friction, throat_speed=speed, base_radius=base,
                                      throat_radius=middle, throat_area=area)
    assert got == pytest.approx(power / (density * speed * area))


@authority(part="impeller", what="conical diffuser", status="worked",
           source="Dixon, Ex 2.3, read in an open solution")
def test_cone_of_dixon():
    """Area ratio 2.13, 11.26 degrees, recovers 0.60 of an ideal 0.78; effectiveness 0.77."""
    lost = scroll.cone_loss(throat_speed=np.sqrt(2.0), throat_area=1.0, exit_area=2.13,
                            full_angle=np.deg2rad(11.26))
    yield from agree("pressure recovery", 1.0 - 1.0 / 2.13**2 - lost, 0.60, within=0.005,
                     why="printed to two digits")


@given(ratio=st.floats(1.0, 4.0))
def test_a_blunt_cone_is_a_sudden_enlargement(ratio):
    # conservation: Borda and Carnot; where it loses less than a good cone, the good cone's holds
    lost = scroll.cone_loss(throat_speed=10.0, throat_area=1.0, exit_area=ratio, full_angle=np.pi)
    sudden = 50.0 * (1.0 - 1.0 / ratio) ** 2
    assert lost == pytest.approx(max(sudden, 0.23 * 50.0 * (1.0 - ratio**-2)), abs=1e-9)


# Schedules -----------------------------------------------------------------------------------

VOLUTE = "centrifugal_volute_schedule"
YAHYA = {"volume_flow": 5.4, "width": 0.12, "base_radius": 0.25}


@authority(part="impeller", what="scroll, free vortex", status="worked",
           source="Yahya, Ex 12.5: printed laws with the book's inputs")
def test_free_vortex_schedule_of_yahya():
    angle = column(VOLUTE, "angle_deg")
    got = scroll_sizing.rectangular_free_vortex(
        angle=np.deg2rad(angle), angular_momentum=0.25 * 177.5, **YAHYA)
    at = [f"{a:.0f} deg" for a in angle]
    yield from agree("outer radius at", got, column(VOLUTE, "r4_free_vortex_m"), within=5.01e-6,
                     at=at, unit="m", why="to the fifth digit")
    yield from agree("throat height at", got - 0.25, column(VOLUTE, "throat_height_free_vortex_m"),
                     within=5.01e-6, at=at, unit="m", why="to the fifth digit")


@authority(part="impeller", what="scroll, constant speed", status="worked",
           source="Yahya, Ex 12.5: printed laws with the book's inputs")
def test_constant_speed_schedule_of_yahya():
    angle = column(VOLUTE, "angle_deg")
    got = scroll_sizing.rectangular_constant_speed(angle=np.deg2rad(angle), mean_speed=145.0,
                                                   **YAHYA)
    yield from agree("outer radius at", got, column(VOLUTE, "r4_constant_velocity_m"),
                     within=5.01e-6, at=[f"{a:.0f} deg" for a in angle], unit="m",
                     why="to the fifth digit")


@authority(part="impeller", what="a scroll laid out from its duty", status="worked",
           source="Yahya, Ex 12.5: printed laws with the book's inputs")
def test_layout_reaches_yahyas_radius_after_one_turn():
    duty = ScrollDuty(volume_flow=5.4, angular_momentum=44.375, impeller_radius=0.22,
                      base_radius=0.25, width=0.12)
    design = size_scroll(duty, section="rectangular", stations=361)
    assert len(rows(VOLUTE)) == 8
    yield from agree("radius after one turn",
                     np.interp(2.0 * np.pi, design.angle, design.outer_radius),
                     row(VOLUTE, "360")["r4_free_vortex_m"], within=5.01e-6, unit="m",
                     why="to the fifth digit")


@given(angle=st.floats(0.1, 6.3), flow=st.floats(1e-3, 0.05), momentum=st.floats(1.0, 5.0),
       base=st.floats(0.02, 0.1))
def test_round_section_carries_its_share_as_a_free_vortex(angle, flow, momentum, base):
    # conservation: K / r integrated over the circle that touches the base radius
    radius = float(scroll_sizing.circular_free_vortex(
        angle=angle, volume_flow=flow, angular_momentum=momentum, base_radius=base))
    # height of the circle at r = centre + radius sin(x), so that the integrand is smooth
    carried = quad(lambda x: momentum * 2.0 * (radius * np.cos(x)) ** 2
                   / (base + radius + radius * np.sin(x)), -np.pi / 2.0, np.pi / 2.0)[0]
    assert carried == pytest.approx(angle / (2.0 * np.pi) * flow, rel=1e-7)


@given(flow=st.floats(1e-3, 0.05), momentum=st.floats(1.0, 5.0), base=st.floats(0.02, 0.1))
def test_a_thin_round_section_runs_at_the_swirl_of_its_base(flow, momentum, base):
    # limit: area tends to theta Q / (2 pi cth3), with an error of the order of radius over base
    angle = 1e-9
    radius = scroll_sizing.circular_free_vortex(angle=angle, volume_flow=flow,
                                                angular_momentum=momentum, base_radius=base)
    wanted = angle / (2.0 * np.pi) * flow * base / momentum
    assert np.pi * radius**2 == pytest.approx(wanted, rel=float(4.0 * radius / base) + 1e-9)


@given(angle=st.floats(0.1, 6.3), flow=st.floats(1e-3, 0.05), speed=st.floats(20.0, 200.0))
def test_constant_speed_sections_are_equal_in_area(angle, flow, speed):
    radius = scroll_sizing.circular_constant_speed(angle=angle, volume_flow=flow, mean_speed=speed)
    outer = scroll_sizing.rectangular_constant_speed(angle=angle, volume_flow=flow,
                                                     mean_speed=speed, width=0.01, base_radius=0.03)
    assert np.pi * radius**2 == pytest.approx((outer - 0.03) * 0.01)


# Layout --------------------------------------------------------------------------------------

DUTY = ScrollDuty(volume_flow=0.01, angular_momentum=2.85, impeller_radius=20 * MM,
                  base_radius=20.5 * MM, width=6 * MM)
KINDS = list(scroll_sizing.SCHEDULES)


@pytest.mark.parametrize(("section", "schedule"), KINDS)
def test_layout(section, schedule):
    design = size_scroll(DUTY, section=section, schedule=schedule, tongue_clearance=0.10,
                         area_ratio=1.6)
    assert design.tongue_clearance >= 0.10 - 1e-6
    assert design.tongue_angle >= scroll_sizing.LEAST_TONGUE_ANGLE
    assert (np.diff(design.area) > 0.0).all()
    assert design.exit_area == pytest.approx(1.6 * design.throat_area)
    narrow, wide = np.sqrt(4.0 / np.pi * np.array([design.throat_area, design.exit_area]))
    assert wide - narrow == pytest.approx(2.0 * design.cone_length
                                          * np.tan(0.5 * design.cone_angle))
    assert design.exit_height - design.opening == pytest.approx(wide - narrow)


@pytest.mark.parametrize("schedule", ["free vortex", "constant speed"])
def test_the_opening_at_the_tongue_carries_the_whole_flow(schedule):
    # conservation: between tongue and outer wall, one turn on, at the schedule's own speeds
    design = size_scroll(DUTY, section="rectangular", schedule=schedule)
    low, high = design.tongue_radius, design.outer_radius[-1]
    if schedule == "free vortex":
        carried = DUTY.angular_momentum * DUTY.width * np.log(high / low)
    else:
        carried = scroll_sizing.SPEED_SHARE * DUTY.swirl * DUTY.width * (high - low)
    assert carried == pytest.approx(DUTY.volume_flow, rel=1e-9)
    assert design.throat_area == pytest.approx((high - low) * DUTY.width)


def test_a_wanted_clearance_is_reached_where_it_governs():
    design = size_scroll(DUTY, section="rectangular", tongue_clearance=0.25)
    # interpolated in the schedule at an eighth of a degree
    assert design.tongue_clearance == pytest.approx(0.25, abs=1e-5)


def crossings(points: np.ndarray) -> int:
    """Pairs of sides of a closed polygon that cross."""
    start, end = points, np.roll(points, -1, axis=0)

    def side(a, b, c):
        return np.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))

    count = 0
    for i in range(len(points)):
        for j in range(i + 2, len(points) - (i == 0)):
            a, b, c, d = start[i], end[i], start[j], end[j]
            count += bool(side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0)
    return count


@pytest.mark.parametrize(("section", "schedule"), KINDS)
@pytest.mark.parametrize("clearance", [0.05, 0.20])
def test_outline_is_a_simple_polygon_around_the_wheel(section, schedule, clearance):
    design = size_scroll(DUTY, section=section, schedule=schedule, tongue_clearance=clearance,
                         stations=49)
    points = outline(design)
    assert crossings(points) == 0
    assert np.hypot(*points.T).min() >= DUTY.impeller_radius * (1.0 + clearance) - 1e-9
    # its end is as high as it says, and square to the inner wall
    end, inner = points[-2] - points[-1], points[-1] - points[0]
    # the throat is cut along a radius, a few degrees from square to the cone
    assert np.hypot(*end) == pytest.approx(design.exit_height, rel=0.05)
    assert abs(end @ inner) < 0.25 * np.hypot(*end) * np.hypot(*inner)


def test_crossings_are_found():
    assert crossings(np.array([[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]])) == 1


# With a machine ------------------------------------------------------------------------------


def test_duty_is_the_machines_own():
    machine = stage()
    duty = scroll_duty(machine)
    best = machine.points.flow == float(machine.best_flow)
    density = machine.points.scroll_density[best].item()
    # conservation of mass through the map's own flow; air is denser than before the eye
    assert duty.volume_flow * density == pytest.approx(float(machine.mass_flow(machine.best_flow)))
    assert 1.0 < density / 1.225 < 1.4
    # friction in the vaneless space took some of the impeller's angular momentum, less than 5 %
    given_off = machine.points.work[best].item() * 209.44 * 20 * MM
    assert 0.95 < duty.angular_momentum / given_off < 1.0


@pytest.mark.parametrize(("section", "schedule"), KINDS)
def test_a_scroll_made_for_a_machine_suits_it(section, schedule):
    poor = stage(replace(SUCTION_WHEEL, throat_area=300e-6, exit_area=450e-6))
    design = size_scroll(scroll_duty(poor, width=6 * MM), section=section, schedule=schedule,
                         finish="moulded plastic")
    suited = stage(with_scroll(poor.geometry, design))
    assert float(suited.best_efficiency) > float(poor.best_efficiency) + 0.005
    # free vortex and throat agree about the flow at which nothing is lost by size: within 25 %
    assert float(suited.best_flow) == pytest.approx(float(poor.best_flow), rel=0.25)


def test_finish_of_the_casing_costs_head():
    machine = stage()
    duty = scroll_duty(machine, flow=0.03)
    finishes = ("hydraulically smooth", "moulded plastic", "resin print",
                "filament print, coarse layers")
    printed = [stage(with_scroll(SUCTION_WHEEL, size_scroll(duty, finish=name)))
               for name in finishes]
    heads = [float(each.map.head(0.03)) for each in printed]
    assert (np.diff(heads) < 0.0).all()
    assert printed[-1].geometry.casing_roughness == FINISHES["filament print, coarse layers"]
    # the impeller keeps its own finish
    assert printed[-1].geometry.roughness == SUCTION_WHEEL.roughness


def test_faults_are_named_all_at_once():
    bad = ScrollDuty(volume_flow=-1.0, angular_momentum=2.0, impeller_radius=0.03,
                     base_radius=0.02, width=0.005)
    with pytest.raises(ValueError, match="accepted") as fault:
        size_scroll(bad, section="square", finish="print", area_ratio=0.5, tongue_clearance=-0.1)
    for word in ("'square'", "'print'", "volume flow is -1", "base radius", "tongue clearance",
                 "area ratio"):
        assert word in str(fault.value)


def test_a_design_flow_outside_the_map_is_refused():
    with pytest.raises(ValueError, match=r"design flow 0\.9 is outside the map"):
        scroll_duty(stage(), flow=0.9)


@pytest.mark.parametrize(("angle", "coefficient"), [(20.0, 2.6 * np.sin(np.radians(10.0))),
                                                    (40.0, 2.6 * np.sin(np.radians(20.0))),
                                                    (44.9, 2.6 * np.sin(np.radians(22.45))),
                                                    (46.0, 1.0)])
def test_gradual_enlargements_as_crane_has_them(angle, coefficient):
    """TP-410 (1979) p. A-26: 2.6 sin(angle / 2) of the sudden loss up to 45 degrees, then all."""
    lost = scroll.cone_loss(throat_speed=10.0, throat_area=1.0, exit_area=4.0,
                            full_angle=np.radians(angle))
    good = 0.23 * 50.0 * (1.0 - 1.0 / 16.0)
    assert lost == pytest.approx(max(coefficient * 50.0 * 0.75**2, good), rel=1e-12)
