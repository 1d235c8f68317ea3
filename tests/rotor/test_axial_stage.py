"""The axial stage: conservation, limits, similarity, usual values, what it says of itself."""

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.authority import row
from tests.credibility.records import agree, authority, between
from tests.rotor.axial_cases import HUB_RATIO, free_vortex_fan
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import take
from thrustlapse.rotor.axial.flow import _equilibrium, cut_stage, pass_stage, radial_balance
from thrustlapse.rotor.axial.row import AxialModels
from thrustlapse.rotor.axial.stage import (
    AxialMap,
    _rms_difference,
    axial_stage,
    default_flows,
    notes,
)
from thrustlapse.rotor.axial.stall import _crossing, _vertex, shutoff
from thrustlapse.rotor.stage_map import NoMap, exceeds_unity

SPEED = 30_000.0 * 2.0 * np.pi / 60.0


@cache
def with_vanes():
    """The fan with its vanes, made when first asked for and not on import."""
    return axial_stage(free_vortex_fan(), shaft_speed=SPEED)


@cache
def bare():
    """The fan without vanes."""
    return axial_stage(free_vortex_fan(with_vanes=False), shaft_speed=SPEED)


@pytest.fixture(params=[with_vanes, bare], ids=["vanes", "bare"])
def stage(request):
    """Each of the two."""
    return request.param()


def at_best(stage, values):
    return values[..., int(np.nanargmin(np.abs(stage.flow - stage.best_flow)))]


# Radial balance: closed forms (status X) -------------------------------------------------------


def test_free_vortex_leaves_axial_velocity_even():
    radius = np.linspace(0.015, 0.035, 9)
    swirl = 0.65 / radius
    square = radial_balance(radius=radius, work=3000.0 * radius * swirl, swirl=swirl)
    assert np.max(np.abs(square)) < 1e-9


def test_solid_body_swirl_has_its_closed_form():
    # dVx^2/dr = 4 k (omega - k) r for swirl k r and work omega k r^2
    radius = np.linspace(0.015, 0.035, 9)
    k, omega = 400.0, 3000.0
    square = radial_balance(radius=radius, work=omega * k * radius**2, swirl=k * radius)
    exact = 2.0 * k * (omega - k) * (radius**2 - radius[0] ** 2)
    np.testing.assert_allclose(square, exact, rtol=1e-12, atol=1e-9)


def test_flow_behind_the_rotor_carries_the_mass_and_is_in_balance():
    # independent quadrature of the returned profile: continuity and the radial equation
    fan = free_vortex_fan(with_vanes=False, blockage=0.0)
    cut = cut_stage(fan, shaft_speed=SPEED, total_pressure=101_325.0, total_temperature=288.15,
                    radii=11)
    passage = pass_stage(cut, flow=np.array([0.27, 0.33]), models=AxialModels())
    u, radius = SPEED * 0.035, cut.rotor.radius[0]
    swirl, axial = passage.rotor_swirl, passage.axial_out
    work = SPEED * radius * swirl
    gained = axial**2 - axial[:, :1] ** 2
    np.testing.assert_allclose(gained, radial_balance(radius=radius, work=work, swirl=swirl),
                               atol=1e-4 * u**2)
    speed = np.hypot(axial, swirl)
    warm = 288.15 + work / SPECIFIC_HEAT
    density = 1.225 * (warm / 288.15) ** (1.0 / (GAMMA - 1.0)) * (
        1.0 - speed**2 / (2.0 * SPECIFIC_HEAT * warm)) ** (1.0 / (GAMMA - 1.0))
    flow = np.mean(density * axial, axis=-1) * cut.area[0, 0] / (1.225 * u * 0.07**2)
    np.testing.assert_allclose(flow, [0.27, 0.33], rtol=0.01)  # losses thin the air by less


# Energy and momentum ---------------------------------------------------------------------------


def test_losses_and_head_add_up_to_the_power(stage):
    inside = ~stage.outside
    total = sum(stage.losses.values()) + stage.head * stage.flow
    np.testing.assert_allclose(total[inside], stage.power[inside], rtol=0.0, atol=1e-12)
    assert all(np.all(loss[inside] >= -1e-12) for loss in stage.losses.values())


def test_power_is_the_angular_momentum_given_to_the_air(stage):
    # sum of r Vt over the rings, from the published section data, less what the gap lets past
    s = stage.sections
    torque = stage.flow * np.sum(s.mass_share * s.radius_ratio * s.rotor_swirl, axis=-1)
    gap, hub = 0.02 * (1.0 - HUB_RATIO), HUB_RATIO
    past = 2.0 * (1.0 + 0.5 * gap) * gap / ((1.0 + gap) ** 2 - hub**2)
    known = np.isfinite(torque) & np.isfinite(stage.power)
    np.testing.assert_allclose(stage.power[known], torque[known] * (1.0 - past), rtol=1e-9)


def test_vanes_carry_what_the_rotor_gave_less_the_swirl_left():
    s, flow = with_vanes().sections, with_vanes().flow
    left = flow * np.sum(s.mass_share * s.radius_ratio * s.stage_swirl, axis=-1) / 2.0
    gained = flow * np.sum(s.mass_share * s.radius_ratio * s.rotor_swirl, axis=-1) / 2.0
    known = np.isfinite(left)
    np.testing.assert_allclose((with_vanes().vane_torque + left)[known], gained[known], rtol=1e-9)
    assert np.nanmax(np.abs(bare().vane_torque)) == 0.0


def test_bare_rotor_keeps_its_swirl_energy_in_the_head():
    # total to total: the bare rotor's head is the greater by the vanes' loss alone
    flow = np.array([0.30])
    alone = axial_stage(bare().geometry, shaft_speed=SPEED, flows=flow, band=False)
    vanes = axial_stage(with_vanes().geometry, shaft_speed=SPEED, flows=flow, band=False)
    cost = sum(v for k, v in vanes.losses.items() if k.startswith("vane")) / flow
    assert alone.power == pytest.approx(vanes.power, rel=1e-12)
    assert alone.head - vanes.head == pytest.approx(cost, rel=1e-3)
    assert vanes.swirl < 0.5 * alone.swirl
    s = alone.sections
    assert alone.swirl**2 == pytest.approx(np.sum(s.mass_share * s.stage_swirl**2, axis=-1))


def test_never_more_than_the_ideal(stage):
    assert not exceeds_unity(stage.map)
    assert np.nanmax(stage.efficiency) < 1.0


@settings(max_examples=15)
@given(st.floats(0.02, 0.5), st.floats(50.0, 200.0), st.floats(0.0, 0.05), st.floats(3.0, 14.0),
       st.floats(-6.0, 6.0), st.booleans())
def test_any_fan_keeps_its_books(diameter, tip_speed, gap, count, turn, vanes):
    fan = free_vortex_fan(diameter=diameter, gap_share=gap, with_vanes=vanes)
    fan = replace(fan, blade_count=count, stagger=fan.stagger + np.radians(turn))
    stage = axial_stage(fan, shaft_speed=2.0 * tip_speed / diameter, band=False)
    inside = ~stage.outside
    total = sum(stage.losses.values()) + stage.head * stage.flow
    np.testing.assert_allclose(total[inside], stage.power[inside], rtol=0.0, atol=1e-11)
    assert not exceeds_unity(stage.map)
    assert stage.power[0] > 0.0
    assert 0.0 < stage.limits.lowest <= stage.stall_flow <= stage.best_flow < stage.limits.highest


# Similarity ------------------------------------------------------------------------------------


def test_coefficients_depend_on_size_only_through_reynolds_and_mach_number():
    # same fan, twice the size, half the shaft speed, half the pressure: all numbers are the same
    small = axial_stage(free_vortex_fan(), shaft_speed=SPEED, flows=np.array([0.0, 0.28, 0.33]))
    large = axial_stage(free_vortex_fan(diameter=0.14), shaft_speed=0.5 * SPEED,
                        total_pressure=0.5 * 101_325.0, flows=np.array([0.0, 0.28, 0.33]))
    np.testing.assert_allclose(large.head, small.head, rtol=1e-9)
    np.testing.assert_allclose(large.power, small.power, rtol=1e-9)


def test_slow_air_is_incompressible():
    # head is work less losses over density, to the square of the Mach number
    stage = axial_stage(free_vortex_fan(diameter=20.0), shaft_speed=0.3, flows=np.array([0.3]))
    lost = sum(stage.losses.values()) / 0.3
    mach_squared = 3.0**2 / (GAMMA * GAS_CONSTANT * 288.15)
    assert stage.head == pytest.approx(stage.power / 0.3 - lost, rel=mach_squared)


def test_larger_fans_are_better_and_rougher_ones_worse():
    def best(**changes):
        stage = axial_stage(free_vortex_fan(**changes), shaft_speed=SPEED * 0.07
                            / changes.get("diameter", 0.07), band=False)
        return float(np.nanmax(stage.efficiency))

    assert best(diameter=0.4) > best(diameter=0.07) > best(diameter=0.03)
    assert best() > best(roughness=60e-6) > best(roughness=150e-6)
    assert best(gap_share=0.01) > best() > best(gap_share=0.04)


# Limits ----------------------------------------------------------------------------------------


def test_stalled_side_is_flagged_and_honest(stage):
    fan_map = stage.map
    assert isinstance(fan_map, AxialMap)
    assert fan_map.stall_flow == stage.stall_flow
    assert np.array_equal(stage.stalled, stage.flow < stage.stall_flow)
    assert stage.flow[0] == 0.0
    assert stage.power[0] == pytest.approx(float(stage.shutoff.power))
    assert stage.head[0] == pytest.approx(float(stage.shutoff.head))
    # nothing but a straight line below the last flow the blade model vouches for
    below = stage.flow <= stage.limits.lowest
    assert np.allclose(np.diff(stage.head[below], 2), 0.0, atol=1e-6)
    assert stage.stall_reason != "none"


def test_unstalled_head_falls_and_ends_in_windmilling(stage):
    unstalled = (stage.flow > 1.02 * stage.stall_flow) & ~stage.outside
    # rings stall one after the other near the hub, which ripples the head by 0.5 %
    assert np.all(np.diff(stage.head[unstalled]) < 0.005 * np.nanmax(stage.head[unstalled]))
    assert np.all(np.diff(stage.head[stage.flow > 1.1 * stage.stall_flow]) < 0.0)
    assert stage.head[~stage.outside][-1] < 0.0
    assert np.interp(stage.limits.idle, stage.flow, stage.head) == pytest.approx(0.0, abs=1e-3)


def test_shutoff_power_is_above_that_at_best_flow():
    # fan practice: an axial fan takes more power blocked than at work (from memory); the factor is
    # an estimate good to 1.5 either way
    ratio = with_vanes().power[0] / at_best(with_vanes(), with_vanes().power)
    assert 1.0 < ratio < 3.0


def test_higher_setting_stalls_at_higher_flow():
    fan = free_vortex_fan()
    flat = replace(fan, stagger=fan.stagger + np.radians(6.0))
    assert axial_stage(flat, shaft_speed=SPEED, band=False).stall_flow < with_vanes().stall_flow


def test_flows_past_the_map_are_nan_and_said():
    stage = axial_stage(free_vortex_fan(), shaft_speed=SPEED,
                        flows=np.array([-0.1, 0.0, 0.3, 0.9, np.nan]), band=False)
    assert list(stage.outside) == [True, False, False, True, True]
    assert list(np.isfinite(stage.head)) == [False, True, True, False, False]


def test_fast_fan_ends_at_the_choked_annulus():
    # tip Mach number 1.3: the annulus chokes before the head is gone
    fan = free_vortex_fan()
    stage = axial_stage(fan, shaft_speed=1.3 * 340.3 / 0.035, band=False)
    assert np.isnan(stage.limits.idle)
    area = np.pi * ((0.035 + fan.tip_clearance) ** 2 - (0.035 * HUB_RATIO) ** 2) * 0.98
    choke = 0.5787 * 340.3 * area / (1.3 * 340.3 * 0.07**2)
    assert stage.limits.highest == pytest.approx(0.98 * choke, rel=2e-3)


# Contract --------------------------------------------------------------------------------------


def test_batch_is_its_elements():
    fan = free_vortex_fan()
    stagger = fan.stagger + np.radians([[-1.0], [0.0], [1.5]])
    diameter, gap = np.array([0.069, 0.07, 0.0715]), np.array([3e-4, 4e-4, 6e-4])
    batch = axial_stage(replace(fan, tip_diameter=diameter, tip_clearance=gap, stagger=stagger),
                        shaft_speed=np.array([SPEED, 0.8 * SPEED, SPEED]), band=False)
    assert batch.head.shape == batch.flow.shape == (3, 61)
    alone = axial_stage(replace(fan, tip_diameter=0.0715, tip_clearance=6e-4, stagger=stagger[2]),
                        shaft_speed=SPEED, band=False)
    np.testing.assert_allclose(batch.head[2], alone.head, rtol=1e-12)
    np.testing.assert_allclose(batch.losses["rotor profile"][2], alone.losses["rotor profile"],
                               rtol=1e-12)
    assert batch.map_at(2).stall_flow == pytest.approx(float(alone.stall_flow), rel=1e-12)
    with pytest.raises(ValueError, match="map_at"):
        _ = batch.map


def test_map_survives_slicing_and_reads_its_points():
    fan_map = with_vanes().map
    piece = take(fan_map, (4,), slice(1, 3))
    assert isinstance(piece, AxialMap)
    np.testing.assert_allclose(fan_map.head(with_vanes().flow), with_vanes().head, atol=1e-12)
    np.testing.assert_allclose(piece.power(0.3), fan_map.power(0.3))
    np.testing.assert_allclose(fan_map.swirl(with_vanes().flow), with_vanes().swirl, atol=1e-12)


def test_more_radii_change_little():
    few, many = (axial_stage(free_vortex_fan(), shaft_speed=SPEED, flows=np.array([0.28, 0.33]),
                             radii=n, band=False) for n in (7, 31))
    np.testing.assert_allclose(few.head, many.head, rtol=0.02)
    np.testing.assert_allclose(few.power, many.power, rtol=0.02)


def test_unknown_model_is_refused():
    with pytest.raises(ValueError, match="lattice, howell"):
        AxialModels(turning="guess")


# Usual values ----------------------------------------------------------------------------------


PRACTICE = {"part": "axial", "status": "memory",
            "source": "usual ranges of fan practice (Wallis; Eck; Dixon and Hall), from memory"}


@authority(what="efficiency of a good fan of 0.4 m", **PRACTICE)
def test_rotor_with_vanes_at_0p4_m_is_as_good_as_practice_says():
    """0.80 to 0.88."""
    usual = row("axial_typical_values", "efficiency_rotor_and_vanes_0.4_m")
    stage = axial_stage(free_vortex_fan(diameter=0.4), shaft_speed=3000.0 * np.pi / 30.0,
                        band=False)
    yield from between("greatest efficiency", np.nanmax(stage.efficiency), usual["least"],
                       usual["greatest"], why="a range of practice")


@authority(what="efficiency of small fans as bought", **PRACTICE)
def test_rough_small_fan_with_a_wide_gap_is_as_poor_as_practice_says():
    """0.55 to 0.75 for 50 to 90 mm. A smooth thin-bladed one with a 2 % gap is put at 0.85, above
    that range: the range is of whole units as bought."""
    usual = row("axial_typical_values", "efficiency_small_fan_50_to_90_mm")
    stage = axial_stage(free_vortex_fan(gap_share=0.03, roughness=60e-6), shaft_speed=SPEED,
                        models=AxialModels(section="thick"), band=False)
    yield from between("greatest efficiency, rough, 3 % gap", np.nanmax(stage.efficiency),
                       usual["least"], usual["greatest"], why="a range of practice")


@authority(what="efficiency lost to the tip gap", **PRACTICE)
def test_gap_costs_efficiency_as_practice_says():
    """1.5 to 2 points per per cent of span, mean from no gap to 4 %."""
    usual = row("axial_typical_values", "points_per_percent_of_span_clearance")
    best = [np.nanmax(axial_stage(free_vortex_fan(diameter=0.4, gap_share=gap),
                                  shaft_speed=314.0, band=False).efficiency)
            for gap in (0.0, 0.04)]
    yield from between("points per per cent of span", 100.0 * (best[0] - best[1]) / 4.0,
                       usual["least"], usual["greatest"] + 0.1, why="range of practice, 0.1 wider")


@authority(what="best flow and vane loss", **PRACTICE)
def test_best_flow_and_vane_loss_are_usual():
    """Best flow 0.2 to 0.4 of tip speed through the annulus, vanes 2 to 4 % of the pressure rise;
    the made-up fan is set for 0.45."""
    flow = row("axial_typical_values", "best_flow_on_tip_speed")
    through = with_vanes().best_flow / (np.pi / 4.0 * (1.0 - HUB_RATIO**2))
    yield from between("best axial velocity over tip speed", through, flow["least"],
                       flow["greatest"] + 0.05, why="a range of practice; the fan is set for 0.45")
    vanes = sum(v for k, v in with_vanes().losses.items() if k.startswith("vane"))
    fan = with_vanes()
    share = at_best(fan, vanes) / at_best(fan, fan.head * fan.flow)
    usual = row("axial_typical_values", "vane_loss_share_of_pressure_rise")
    yield from between("vane loss over pressure rise", share, usual["least"],
                       usual["greatest"] + 0.015, why="a range of practice, and small vanes")


@authority(part="axial", what="load of a published fan's blades", status="published",
           source="Scientific Reports 12 (2022), s41598-022-19530-9, Table 1")
def test_design_table_blades_carry_the_load_they_were_designed_for():
    """Hub and tip settings, solidities, NACA 3512 (3 % camber). A free vortex of the table's
    pressure coefficient at 0.85 efficiency (judgement) needs a swirl work of 0.117 / 2 / 0.85 at
    both ends; chord and angle between them are not published."""
    from tests.rotor.textbook_camber import camber_from_rise
    from thrustlapse.rotor.axial.cascade import LIFT_EFFECTIVENESS, lattice

    def of(key):
        return row("axial_fan_design_table", key)["value"]

    need = of("pressure_coefficient") / 2.0 / 0.85
    for place, radius in (("hub", of("hub_ratio")), ("tip", 1.0)):
        answer = lattice(solidity=of(f"solidity_{place}"),
                         stagger=np.radians(90.0 - of(f"setting_{place}_deg")),
                         camber=camber_from_rise(rise=0.03, chord=1.0))
        turned = radius - (answer.slope * radius + answer.offset * of("flow_coefficient"))
        work = LIFT_EFFECTIVENESS * turned * radius
        yield from agree(f"swirl work at the {place}", work, need, within=0.25 * need,
                         why="efficiency by judgement, sections between the ends not published")


# What it says about itself ---------------------------------------------------------------------


def test_band_travels_with_the_map_and_names_its_basis():
    band = with_vanes().map.band
    assert 0.12 <= band.head < 0.2
    assert 0.12 <= band.power < 0.2
    assert "measurement" in band.basis
    assert "rival" in band.basis


def test_band_widens_where_sections_are_least_known():
    slow = axial_stage(free_vortex_fan(diameter=0.05), shaft_speed=0.3 * SPEED)
    assert slow.band.head > 1.5 * with_vanes().band.head


def test_notes_name_number_and_limit():
    loaded = free_vortex_fan(diameter=0.4, gap_share=0.01)
    said = notes(axial_stage(loaded, shaft_speed=314.0, band=False))
    assert any("diffusion factor" in text and "0.45" in text for text in said)
    slow = notes(axial_stage(free_vortex_fan(diameter=0.03), shaft_speed=SPEED, band=False))
    assert any("Reynolds number" in text and "60000" in text for text in slow)


def test_a_fan_that_never_works_has_no_map_and_nothing_to_say():
    """At a tip speed of 800 m/s every flow chokes or stalls; in a batch the count is told."""
    fan = free_vortex_fan()
    alone = axial_stage(fan, shaft_speed=800.0 / 0.035, band=False)
    assert np.isnan(alone.head).all()
    assert notes(alone) == []
    both = axial_stage(replace(fan, tip_diameter=np.full(2, fan.tip_diameter)),
                       shaft_speed=np.array([SPEED, 800.0 / 0.035]), band=False)
    with pytest.raises(NoMap, match=r"no map for 1 of 2 fans: their blades stall or choke"):
        _ = both.maps


def test_maps_of_a_batch_are_those_of_its_elements():
    fan = free_vortex_fan()
    gaps = np.array([3e-4, 6e-4])
    batch = axial_stage(replace(fan, tip_clearance=gaps), shaft_speed=SPEED, band=False).maps
    flow = np.linspace(0.2, 0.35, 7)
    for place, gap in enumerate(gaps):
        alone = axial_stage(replace(fan, tip_clearance=gap), shaft_speed=SPEED, band=False).map
        np.testing.assert_allclose(batch.head(flow)[place], alone.head(flow), rtol=1e-9)
        np.testing.assert_allclose(batch.swirl(flow)[place], alone.swirl(flow), rtol=1e-9)
        np.testing.assert_allclose(batch.stall_flow[place], alone.stall_flow, rtol=1e-9)


# Limits and shutoff by hand ---------------------------------------------------------------------


def test_shutoff_of_a_fan_ring_by_ring():
    """Stalled plates (Hoerner) and air turning with the blades: the lesser head, power alike."""
    fan = free_vortex_fan()
    stage = cut_stage(fan, shaft_speed=SPEED, total_pressure=101325.0, total_temperature=288.15,
                      radii=9)
    found = shutoff(stage)
    tip, hub = 0.035, 0.035 * HUB_RATIO
    radius = np.sqrt(hub**2 + (np.arange(9) + 0.5) / 9.0 * (tip**2 - hub**2))
    angle = 0.5 * np.pi - np.abs(np.ravel(stage.rotor.stagger))
    normal = 1.0 / (0.222 + 0.283 / np.sin(angle))
    share = radius / tip
    force = 0.5 * np.ravel(stage.rotor.solidity) * normal
    plate = np.mean(force * share**2 * np.cos(angle))
    cost = np.mean(force * share**3 * np.sin(angle)) * float(np.ravel(stage.annulus)[0]) / 0.07**2
    vortex = np.mean(0.5 * (share**2 - HUB_RATIO**2))
    assert float(found.head) == pytest.approx(min(plate, vortex), rel=1e-6)
    assert float(found.power) == pytest.approx(cost * min(plate, vortex) / plate, rel=1e-6)
    assert float(found.spread) == pytest.approx(abs(plate - vortex) / (plate + vortex), rel=1e-6)


@pytest.mark.parametrize("top", [0.0, 0.21, 0.4, 0.57, 1.0])
def test_top_and_zero_of_sampled_curves(top):
    """The vertex of a parabola is exact between samples; at an end it is the end."""
    flow = np.linspace(0.0, 1.0, 11)
    values = 1.0 - (flow - top) ** 2
    place = np.array([int(np.argmax(values))])
    assert float(_vertex(flow, values, place)[0]) == pytest.approx(top, abs=1e-12)
    line = flow - 0.437
    assert float(_crossing(flow, line, np.array([4]), np.nan)[0]) == pytest.approx(0.437)
    assert np.isnan(_crossing(flow, line, np.array([6]), np.nan)[0])


def test_flows_of_a_map_are_few_below_stall_and_reach_both_ends():
    flows = default_flows(with_vanes().limits)
    low, high = float(with_vanes().limits.lowest), float(with_vanes().limits.highest)
    assert flows[[0, 1, 2, -1]] == pytest.approx([0.0, 0.5 * low, low, high])
    assert np.all(np.diff(flows) > 0.0)


def test_rivals_that_agree_differ_by_nothing_and_others_by_their_share():
    stage = cut_stage(free_vortex_fan(), shaft_speed=SPEED, total_pressure=101325.0,
                      total_temperature=288.15, radii=5)
    passed = pass_stage(stage, flow=np.array([0.28, 0.32]), models=AxialModels())
    assert _rms_difference(passed, passed) == (0.0, 0.0)
    more = passed._replace(head=1.1 * passed.head, work=0.95 * passed.work)
    assert _rms_difference(passed, more) == pytest.approx((0.1, 0.05))


def test_best_flow_is_the_flow_of_highest_efficiency():
    """Between the grid's neighbours of the best sample."""
    place = int(np.nanargmax(np.where(with_vanes().stalled, np.nan, with_vanes().efficiency)))
    assert with_vanes().flow[place - 1] < with_vanes().best_flow < with_vanes().flow[place + 1]


def test_air_behind_the_rotor_is_denser_by_its_work_and_thinner_by_its_losses():
    """p = pt (T / Tt)^(g / (g - 1)) exp(-entropy / R) and rho = p / (R T), by hand."""
    radius, swirl, axial = np.array([[[0.02, 0.03]]]), np.array([[[20.0, 15.0]]]), np.full(
        (1, 1, 2), 60.0)
    stage = SimpleNamespace(total_temperature=288.0, total_pressure=1e5,
                            rotor=SimpleNamespace(radius=radius))
    lost = np.array([[[0.01, 0.02]]])
    _, _, density = _equilibrium(stage, 3000.0 * radius, swirl, lost, axial, np.array([[[70.0]]]))
    static = 288.0 + (3000.0 * radius * swirl - 0.5 * (axial**2 + swirl**2)) / SPECIFIC_HEAT
    pressure = 1e5 * (static / 288.0) ** (GAMMA / (GAMMA - 1.0)) * np.exp(-lost)
    np.testing.assert_allclose(density, pressure / (GAS_CONSTANT * static), rtol=1e-12)
