"""Stage maps: the words for their coefficients, similarity, edges, trust, and slices of a batch."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column
from tests.rotor.fan_laws import carry_flow, carry_power, carry_pressure
from thrustlapse.arrays import take
from thrustlapse.rotor.stage_map import (
    CONVENTIONS,
    CoefficientMap,
    PointMap,
    coefficients_from_readings,
    efficiency,
    exceeds_unity,
    from_convention,
    straight_ended,
)

R, CP = 287.05287, 3.5 * 287.05287

# A backward-curved blower: head with a stall side, power rising with flow, 64 % at best.
BLOWER = PointMap(flow=np.array([0.01, 0.05, 0.09, 0.14, 0.19]),
                  head_points=np.array([0.47, 0.53, 0.51, 0.38, 0.11]),
                  power_points=np.array([0.021, 0.047, 0.072, 0.094, 0.103]),
                  swirl_points=np.array([0.31, 0.24, 0.17, 0.08, -0.02]))
FAN = CoefficientMap(head_shutoff=0.215, head_slope=-0.31, work_shutoff=0.34, work_slope=-0.27,
                     shutoff_power=0.0021, highest_flow=0.52, swirl_ratio=0.06)


def machine(stage, phi, *, tip_speed, diameter, density, temperature=290.0):
    """Volume flow, pressure rise and shaft power of a dimensioned machine, per the definitions."""
    pressure = density * R * temperature
    rise = np.expm1(3.5 * np.log1p(stage.head(phi) * tip_speed**2 / (CP * temperature)))
    return {"volume_flow": phi * tip_speed * diameter**2, "pressure_rise": pressure * rise,
            "shaft_power": stage.power(phi) * density * tip_speed**3 * diameter**2}


# Conventions ---------------------------------------------------------------------------------


def test_conventions_worked_by_hand():
    """pi/4, 1/2 and pi/8; annulus 0.64 of the disc at hub ratio 0.6, mean radius 0.8 of the tip."""
    given_words = {"flow": 0.30, "head": 0.40, "power": 0.17, "hub_ratio": 0.6}
    by_hand = {
        "tip speed and diameter": (0.30, 0.40, 0.17),
        "fan engineering": (0.2356194490, 0.20, 0.0667588439),
        "annulus": (0.1507964474, 0.20, 0.0427256601),
        "mean radius": (0.1206371579, 0.256, 0.0437510759),
    }
    assert set(by_hand) == set(CONVENTIONS)
    for convention, wanted in by_hand.items():
        assert from_convention(convention=convention, **given_words) == pytest.approx(wanted,
                                                                                      rel=1e-9)


def test_unknown_convention_is_named():
    with pytest.raises(ValueError, match=r"unknown convention 'disc area'.*fan engineering"):
        from_convention(convention="disc area", flow=0.2, head=0.3, power=0.1)


def specific_speed(phi, psi):
    """omega sqrt(Q) / (dp/rho)^(3/4) from this package's coefficients."""
    return 2.0 * np.sqrt(phi) / psi**0.75


def test_axial_fan_of_a_printed_design_table():
    """Scientific Reports 12 (2022), s41598-022-19530-9, table 1 (R): 0.285, 0.117, Ns 7.77.

    Worked from those coefficients (X): 7.14 if the flow is on the annulus (hub ratio 0.44), 7.95
    on the full disc; the printed value lies between.
    """
    words = {"flow": 0.285, "head": 0.117, "power": 0.05, "hub_ratio": 0.44}
    annulus = specific_speed(*from_convention(convention="annulus", **words)[:2])
    disc = specific_speed(*from_convention(convention="fan engineering", **words)[:2])
    assert annulus == pytest.approx(7.14, abs=5e-3)
    assert disc == pytest.approx(7.95, abs=6e-3)
    assert annulus < 7.77 < disc


def test_free_vortex_stage_in_two_conventions():
    """Made-up stage solved by brute force (T): Vx 50 m/s, 2 kPa, 70 mm, hub 30 mm, 30 000 rpm.

    Cordier's phi 0.371206864 and psi 0.270077291 are fan-engineering words; Vx/U on the annulus
    must mean the same machine: Ns 4.84774069, 392.699082 W at efficiency 0.80.
    """
    tip = np.pi * 0.07 * 500.0
    assert tip == pytest.approx(column("free_vortex_stage", "U_m_s")[-1], abs=5e-7)
    area = np.pi / 4.0 * (0.07**2 - 0.03**2)
    disc = np.pi / 4.0 * 0.07**2
    power = 392.699082 / (1.225 * tip**3)
    cordier = from_convention(convention="fan engineering", flow=0.371206864, head=0.270077291,
                              power=power / (0.5 * disc))
    ring = from_convention(convention="annulus", flow=50.0 / tip, head=2000 / (0.6125 * tip**2),
                           power=power / (0.5 * area), hub_ratio=3.0 / 7.0)
    assert ring == pytest.approx(cordier, rel=3e-9)
    assert specific_speed(*ring[:2]) == pytest.approx(4.84774069, abs=5e-9)
    assert ring[0] * ring[1] / ring[2] == pytest.approx(0.80, rel=1e-8)


@pytest.mark.parametrize("convention", CONVENTIONS)
@given(hub=st.floats(0.0, 0.8), scale=st.floats(0.1, 10.0))
def test_conversion_is_linear_in_each_word(convention, hub, scale):
    """A convention only rescales: flow, head and power never mix, and efficiency is kept."""
    once = from_convention(convention=convention, flow=0.2, head=0.3, power=0.1, hub_ratio=hub)
    for k, name in enumerate(("flow", "head", "power")):
        words = {"flow": 0.2, "head": 0.3, "power": 0.1}
        words[name] *= scale
        again = from_convention(convention=convention, hub_ratio=hub, **words)
        assert again[k] == pytest.approx(scale * once[k], rel=1e-13)
        assert all(again[m] == once[m] for m in range(3) if m != k)
    assert once[0] * once[1] / once[2] == pytest.approx(0.6, rel=1e-12)


def test_conventions_broadcast_hub_ratio_against_points():
    words = {"flow": np.array([0.1, 0.2, 0.3]), "head": 0.3, "power": np.array([[0.1], [0.2]])}
    for convention in CONVENTIONS:
        phi, psi, cost = from_convention(convention=convention, hub_ratio=0.5, **words)
        assert (phi.shape, np.shape(psi), cost.shape) == ((3,), (), (2, 1))
        one = from_convention(convention=convention, hub_ratio=0.5, flow=0.3, head=0.3, power=0.2)
        assert one == pytest.approx((phi[2], float(psi), cost[1, 0]), rel=1e-15)


# Similarity ----------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", [BLOWER, FAN], ids=["points", "coefficients"])
@given(share=st.floats(0.05, 0.95), tip_speed=st.floats(20.0, 240.0), diameter=st.floats(0.02, 1.0),
       density=st.floats(0.4, 1.5), temperature=st.floats(220.0, 330.0))
def test_readings_give_the_map_back(stage, share, tip_speed, diameter, density, temperature):
    """Whatever the size, speed and air, the same three coefficients are read."""
    phi = stage.lowest_flow + share * (stage.highest_flow - stage.lowest_flow)
    run = machine(stage, phi, tip_speed=tip_speed, diameter=diameter, density=density,
                  temperature=temperature)
    read = coefficients_from_readings(
        **run, shaft_speed=2.0 * tip_speed / diameter, diameter=diameter, density=density,
        inlet_pressure=density * R * temperature, inlet_temperature=temperature)
    assert read == pytest.approx([float(v) for v in (phi, stage.head(phi), stage.power(phi))],
                                 rel=1e-10)


@pytest.mark.parametrize("stage", [BLOWER, FAN], ids=["points", "coefficients"])
@given(speed=st.floats(0.4, 2.5), size=st.floats(0.4, 2.5), thick=st.floats(0.4, 1.3),
       share=st.floats(0.05, 0.95))
def test_a_map_obeys_the_fan_laws_at_low_pressure(stage, speed, size, thick, share):
    """N D^3, rho N^2 D^2, rho N^3 D^5 at constant phi; pressure to the order of its own ratio."""
    phi = stage.lowest_flow + share * (stage.highest_flow - stage.lowest_flow)
    here = machine(stage, phi, tip_speed=8.0, diameter=0.3, density=1.2)
    there = machine(stage, phi, tip_speed=8.0 * speed * size, diameter=0.3 * size,
                    density=1.2 * thick)
    change = {"speed_ratio": speed, "diameter_ratio": size}
    assert there["volume_flow"] == pytest.approx(
        carry_flow(volume_flow=here["volume_flow"], **change), rel=1e-12)
    assert there["shaft_power"] == pytest.approx(
        carry_power(shaft_power=here["shaft_power"], density_ratio=thick, **change), rel=1e-12)
    order = max(there["pressure_rise"] / thick, here["pressure_rise"]) / (1.2 * R * 290.0)
    assert there["pressure_rise"] == pytest.approx(
        carry_pressure(pressure_rise=here["pressure_rise"], density_ratio=thick, **change),
        rel=float(order))


# Points and ends -----------------------------------------------------------------------------


def test_map_goes_through_its_points():
    assert BLOWER.head(BLOWER.flow) == pytest.approx(BLOWER.head_points, rel=1e-14)
    assert BLOWER.power(BLOWER.flow) == pytest.approx(BLOWER.power_points, rel=1e-14)
    assert BLOWER.swirl(BLOWER.flow) == pytest.approx(BLOWER.swirl_points, rel=1e-13)


@given(low=st.floats(0.01, 0.19), step=st.floats(0.0, 0.18))
def test_no_wiggle_between_points(low, step):
    """Shape-preserving (Fritsch & Carlson 1980): rising points give a rising curve."""
    high = min(low + step, 0.19)
    assert BLOWER.power(high) >= BLOWER.power(low) - 1e-15
    assert BLOWER.head(low) <= BLOWER.head_points.max() * (1.0 + 1e-15)


def test_both_ends_go_on_straight():
    """No jump, no kink, no bend outside: the root finder sees one smooth curve."""
    x, y = np.array([0.2, 0.5, 0.9, 1.4]), np.array([1.0, 1.7, 1.1, 0.2])
    curve = straight_ended(x, y)
    h = 1e-6
    for edge, away in ((0.2, -1.0), (1.4, 1.0)):
        inside = (curve(edge) - curve(edge - away * h)) / (away * h)
        outside = (curve(edge + away * h) - curve(edge)) / (away * h)
        far = (curve(edge + away * 50.0) - curve(edge)) / (away * 50.0)
        assert outside == pytest.approx(inside, rel=1e-4)
        assert far == pytest.approx(outside, rel=1e-8)


def test_two_points_are_a_straight_line_everywhere():
    line = straight_ended(np.array([1.0, 3.0]), np.array([5.0, 1.0]))
    assert line(np.array([-4.0, 1.0, 2.0, 3.0, 20.0])) == pytest.approx([15, 5, 3, 1, -33])


def test_several_curves_on_one_grid_are_each_their_own():
    x, y = np.array([0.0, 0.3, 1.0]), np.array([[1.0, 2.0], [0.7, 2.6], [0.1, 2.8]])
    both = straight_ended(x, y)(np.array([-0.2, 0.4, 1.7]))
    for k in range(2):
        assert both[:, k] == pytest.approx(straight_ended(x, y[:, k])(np.array([-0.2, 0.4, 1.7])))


def test_limits_of_a_map():
    """Lowest, highest and stall flow move with the flow scale and with nothing else."""
    scaled = replace(BLOWER, flow_scale=np.array([1.0, 1.3]), head_scale=np.array([[0.8], [1.1]]))
    for name, value in (("lowest_flow", 0.01), ("stall_flow", 0.05), ("highest_flow", 0.19)):
        assert getattr(BLOWER, name) == value
        assert getattr(scaled, name) == pytest.approx([value, 1.3 * value], rel=1e-15)


def test_stall_side_is_where_head_rises_with_flow():
    left, right = np.linspace(0.01, 0.05, 30), np.linspace(0.05, 0.19, 60)
    assert np.all(np.diff(BLOWER.head(left)) > 0.0)
    assert np.all(np.diff(BLOWER.head(right)) < 0.0)


@pytest.mark.parametrize(("slope", "bend", "stall"), [
    (-0.4, -0.7, 0.0), (0.0, -0.7, 0.0), (0.28, -0.7, 0.2), (0.3, 0.0, 0.5), (0.3, 0.2, 0.5),
    (-0.3, 0.0, 0.0)])
def test_stall_flow_of_a_parabola(slope, bend, stall):
    """Peak of psi0 + a phi + b phi^2 at -a / 2b; falling maps have none, rising ones end there."""
    stage = replace(FAN, head_slope=slope, head_curvature=bend, highest_flow=0.5)
    assert stage.stall_flow == pytest.approx(stall, abs=1e-15)


def test_coefficients_are_what_they_say():
    """psi = 0.215 - 0.31 phi; Pi = phi (0.34 - 0.27 phi) + 0.0021, at phi = 0.3 by hand."""
    assert FAN.head(0.3) == pytest.approx(0.122, rel=1e-14)
    assert FAN.power(0.3) == pytest.approx(0.0798, rel=1e-14)
    assert FAN.power(0.0) == 0.0021  # blocked, it still draws power
    assert FAN.swirl(0.3) == 0.06


# Trust ---------------------------------------------------------------------------------------


def test_efficiency_at_the_ends_and_by_hand():
    """psi phi / Pi: nothing when blocked, 0.122 x 0.3 / 0.0798 inside, NaN where no power goes."""
    assert efficiency(FAN, 0.0) == 0.0
    assert efficiency(FAN, 0.3) == pytest.approx(0.4586466165, rel=1e-9)
    idle = replace(FAN, shutoff_power=0.0)
    np.testing.assert_array_equal(np.isnan(efficiency(idle, np.array([0.0, 0.1, np.nan]))),
                                  [True, False, True])


def test_more_out_than_in_is_noticed_anywhere_in_the_map():
    assert not exceeds_unity(BLOWER)
    assert not exceeds_unity(FAN)
    assert exceeds_unity(replace(FAN, head_shutoff=0.5))
    assert exceeds_unity(replace(BLOWER, power_scale=0.5))
    assert not exceeds_unity(replace(FAN, work_shutoff=0.215, work_slope=-0.31, shutoff_power=0.0))


@pytest.mark.parametrize("stage", [
    replace(BLOWER, power_scale=np.array([1.0, 0.5, 0.9])),
    replace(BLOWER, head_scale=np.array([1.0, 2.0, 1.2])),
    replace(FAN, head_shutoff=np.array([0.215, 0.5, 0.25])),
    replace(FAN, highest_flow=np.array([0.5, 0.4, 0.3]), shutoff_power=np.array([0.1, -0.1, 0.0]))])
def test_each_map_of_a_batch_is_judged_by_itself(stage):
    """A batch in whichever field; history: an array of head scales alone used to fail."""
    np.testing.assert_array_equal(exceeds_unity(stage), [False, True, False])


def test_batches_along_two_axes_are_judged_together():
    stage = replace(BLOWER, head_scale=np.array([1.0, 2.0])[:, None],
                    flow_scale=np.array([1.0, 1.1, 0.2]))
    np.testing.assert_array_equal(exceeds_unity(stage), [[False, False, False],
                                                         [True, True, False]])


# Batches -------------------------------------------------------------------------------------


@pytest.mark.parametrize("stage", [
    BLOWER, FAN, replace(BLOWER, flow_scale=np.array([0.9, 1.0, 1.2])[:, None],
                         head_scale=np.array([1.0, 1.1, 0.8])[:, None], power_scale=1.3),
    replace(FAN, head_slope=np.array([-0.3, -0.2, -0.4])[:, None], swirl_ratio=0.1)])
@pytest.mark.parametrize("quantity", ["head", "power", "swirl"])
def test_point_is_batch(stage, quantity):
    """f(x)[j] == f(x[j]): blocked, inside, outside, NaN; a part taken from a batch is that part."""
    flow = np.array([0.0, 0.01, 0.05, 0.123, 0.19, 0.9, np.nan])
    batch = getattr(stage, quantity)(flow)
    assert batch.shape in ((7,), (3, 7))
    whole = np.broadcast_to(batch, (3, 7))
    for i in range(3):
        one = take(stage, (3, 1), np.array([i]))
        for j, phi in enumerate(flow):
            single = np.asarray(getattr(one, quantity)(phi)).reshape(())
            assert single == pytest.approx(whole[i, j], rel=1e-14, nan_ok=True)


@pytest.mark.parametrize("stage", [BLOWER, FAN, replace(BLOWER, swirl_points=None)])
@pytest.mark.parametrize("shape", [(), (0,), (1,), (2, 3)])
def test_every_curve_has_the_shape_of_the_flow(stage, shape):
    """History: the swirl of a map without any had no shape."""
    flow = np.full(shape, 0.07)
    for curve in (stage.head, stage.power, stage.swirl):
        assert np.shape(curve(flow)) == shape


def test_no_swirl_is_said_to_be_none():
    np.testing.assert_array_equal(replace(BLOWER, swirl_points=None).swirl(np.array([0.1, 0.2])), 0)


def test_scales_stretch_their_own_axis():
    """The map of a machine with 1.2 of the flow, 0.9 of the head, 1.05 of the power."""
    stretched = replace(BLOWER, flow_scale=1.2, head_scale=0.9, power_scale=1.05)
    assert stretched.head(1.2 * BLOWER.flow) == pytest.approx(0.9 * BLOWER.head_points)
    assert stretched.power(1.2 * BLOWER.flow) == pytest.approx(1.05 * BLOWER.power_points)
    assert stretched.swirl(1.2 * BLOWER.flow) == pytest.approx(BLOWER.swirl_points)


def test_replaced_points_are_read():
    """History: a map whose points were replaced kept the curves of the old ones."""
    for name, curve in (("head_points", "head"), ("power_points", "power"),
                        ("swirl_points", "swirl")):
        new = replace(BLOWER, **{name: getattr(BLOWER, name) * 1.7})
        assert getattr(new, curve)(0.07) == pytest.approx(1.7 * getattr(BLOWER, curve)(0.07))
    moved = replace(BLOWER, flow=BLOWER.flow + 0.02)
    assert moved.head(0.09) == pytest.approx(BLOWER.head(0.07), rel=1e-12)


def test_slices_share_the_curves():
    """A chunk of a batch does not build its interpolation again."""
    batch = replace(BLOWER, head_scale=np.linspace(0.9, 1.1, 6))
    assert batch.curves is BLOWER.curves
    assert take(batch, (6,), slice(2, 4)).curves is BLOWER.curves


@pytest.mark.parametrize("flow", [[0.1, 0.1, 0.2], [0.3, 0.2, 0.4], [0.1, np.nan, 0.4]])
def test_flow_that_does_not_rise_is_refused(flow):
    with pytest.raises(ValueError, match=r"sequence|finite"):
        PointMap(flow=np.array(flow), head_points=np.ones(3), power_points=np.ones(3))
