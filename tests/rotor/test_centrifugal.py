"""The centrifugal stage: its books close, its limits hold, one machine is a batch of one."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.rotor.centrifugal_cases import (
    MM,
    PRESSURE,
    SUCTION_SPEED,
    SUCTION_WHEEL,
    TEMPERATURE,
    scaled,
    stage,
    wheel,
)
from thrustlapse.air import gas
from thrustlapse.rotor.centrifugal import losses
from thrustlapse.rotor.centrifugal.geometry import problems
from thrustlapse.rotor.centrifugal.impeller import eye_choke_flow, shock_free_flow
from thrustlapse.rotor.centrifugal.points import INTERNAL, LIMITS, PARASITIC, centrifugal_points
from thrustlapse.rotor.centrifugal.slip import SLIP_MODELS, slip_speed
from thrustlapse.rotor.centrifugal.stage import ENDS, LOWEST_HEAD, centrifugal_stage
from thrustlapse.rotor.stage_map import exceeds_unity

STATE = {"total_pressure": PRESSURE, "total_temperature": TEMPERATURE}


@cache
def machine():
    """The suction wheel's stage, made when first asked for and not on import."""
    return stage()


@st.composite
def machines(draw):
    """Sound machines of every lean, and a shaft speed for each."""
    outlet = draw(st.floats(0.02, 0.6))
    eye = outlet * draw(st.floats(0.25, 0.75))
    base = outlet * draw(st.floats(1.0, 1.3))
    throat = outlet**2 * draw(st.floats(0.03, 0.3))
    geometry = wheel(
        outlet_diameter=outlet, eye_diameter=eye, hub_diameter=eye * draw(st.floats(0.0, 0.7)),
        outlet_width=outlet * draw(st.floats(0.03, 0.2)), blades=float(draw(st.integers(5, 24))),
        exit_angle=np.deg2rad(draw(st.floats(-40.0, 70.0))),
        inlet_angle=np.deg2rad(draw(st.floats(25.0, 72.0))),
        blade_thickness=outlet * draw(st.floats(0.002, 0.008)),
        tip_clearance=outlet * draw(st.floats(0.0, 0.01)), roughness=draw(st.floats(0.0, 3e-5)),
        disc_gap=outlet * draw(st.floats(0.01, 0.1)), diffuser_diameter=base,
        diffuser_width=outlet * draw(st.floats(0.05, 0.2)), throat_area=throat,
        exit_area=throat * draw(st.floats(1.0, 3.0)),
        exit_cone_angle=np.deg2rad(draw(st.floats(3.0, 180.0))), shrouded=draw(st.booleans()),
        slip_model=draw(st.sampled_from(sorted(SLIP_MODELS))))
    tip = draw(st.floats(15.0, 330.0))
    return geometry, 2.0 * tip / outlet


# Books ---------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(machine=machines())
def test_books_close_and_no_map_exceeds_unity(machine):
    geometry, speed = machine
    if problems(geometry):
        return   # blades that overlap at the root; what is refused is tested elsewhere
    found = centrifugal_stage(geometry, shaft_speed=speed, flows=60, **STATE)
    points = found.points
    assert (points.limit == 0).all()
    total = sum(points.power_terms().values())
    assert total == pytest.approx(points.power, rel=1e-9, abs=1e-12)
    for lost in points.internal.values():
        assert (lost >= -1e-9).all()
    for wasted in points.parasitic.values():
        assert (wasted >= 0.0).all()
    # a map with less power than head times flow would be refused
    assert not exceeds_unity(found.map)
    assert points.power[0] > 0.0
    assert points.flow[0] == 0.0
    assert (np.diff(points.flow) > 0.0).all()


def test_shares_add_up_and_are_named():
    shares = machine().loss_shares()
    assert list(shares) == ["head delivered", *INTERNAL, *PARASITIC]
    assert sum(shares.values()) == pytest.approx(np.ones(200), rel=1e-9)
    assert shares["head delivered"] == pytest.approx(machine().points.efficiency)


def test_rim_state_is_the_gas_of_its_own_work_and_loss():
    # conservation of mass and energy at the rim, by gas relations alone
    p, g = machine().points, SUCTION_WHEEL
    tip = 0.5 * SUCTION_SPEED * 40 * MM
    mass_flow = machine().mass_flow(p.flow)
    within = sum(p.internal[name] for name in INTERNAL[:5])
    total_temperature = TEMPERATURE + p.work * tip**2 / gas.SPECIFIC_HEAT
    total_pressure = PRESSURE * (1.0 + (p.work - within) * tip**2
                                 / (gas.SPECIFIC_HEAT * TEMPERATURE)) ** 3.5
    mach = p.exit_mach
    temperature = total_temperature * gas.temperature_ratio(mach=mach)
    density = (total_pressure * gas.pressure_ratio(mach=mach)
               / (gas.GAS_CONSTANT * temperature))
    assert density * p.exit_flow * tip * g.outlet_area == pytest.approx(mass_flow, abs=1e-12)
    speed = mach * gas.speed_of_sound(temperature=temperature)
    slip = slip_speed("wiesner", blades=9.0, exit_angle=g.exit_angle, radius_ratio=g.radius_ratio)
    swirl = tip * (1.0 - slip - p.exit_flow * np.tan(g.exit_angle))
    assert speed == pytest.approx(np.hypot(swirl, p.exit_flow * tip))
    assert p.work == pytest.approx(swirl / tip)


def test_map_reads_the_points_back():
    best = machine().points.flow == float(machine().best_flow)
    assert machine().map.head(machine().points.flow) == pytest.approx(machine().points.head)
    assert machine().map.power(machine().points.flow[best]) == pytest.approx(
        machine().points.power[best])
    assert machine().map.stall_flow == pytest.approx(float(machine().stall_flow), abs=3e-4)
    assert machine().map.source
    assert "Wiesner" in machine().map.band.basis


# Batches -------------------------------------------------------------------------------------


def test_a_batch_is_its_machines_one_by_one():
    clearance = np.array([0.1, 0.3]) * MM
    lean = np.deg2rad([[10.0], [30.0], [50.0]])
    speed = np.array([60e3, 110e3]) * np.pi / 30.0
    batch = stage(wheel(tip_clearance=clearance, exit_angle=lean), shaft_speed=speed, flows=40)
    assert batch.highest_flow.shape == (3, 2)
    assert batch.points.head.shape == (3, 2, 40)
    for i, j in np.ndindex(3, 2):
        alone = stage(wheel(tip_clearance=float(clearance[j]), exit_angle=float(lean[i, 0])),
                      shaft_speed=float(speed[j]), flows=40)
        assert batch.points.flow[i, j] == pytest.approx(alone.points.flow, rel=1e-12)
        assert batch.points.head[i, j] == pytest.approx(alone.points.head, rel=1e-9)
        assert batch.points.power[i, j] == pytest.approx(alone.points.power, rel=1e-9)
        assert batch.map_at((i, j)).band == alone.map.band
        assert batch.best_efficiency[i, j] == pytest.approx(float(alone.best_efficiency))
        assert batch.end_at((i, j)) == alone.end_at()


def test_points_are_elementwise():
    flow = np.array([0.0, 0.01, 0.03, 0.05])
    whole = centrifugal_points(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED, flow=flow, **STATE)
    for k, phi in enumerate(flow):
        one = centrifugal_points(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED, flow=float(phi),
                                 **STATE)
        for field in fields(one):
            value = getattr(one, field.name)
            if isinstance(value, np.ndarray):
                assert value.shape == ()
                assert value == pytest.approx(getattr(whole, field.name)[k], rel=1e-12)


def test_a_bad_element_is_nan_and_says_so_while_the_rest_is_unharmed():
    batch = stage(wheel(tip_clearance=np.array([0.2, -0.1]) * MM), flows=30)
    assert np.isnan(batch.points.head[1]).all()
    assert np.isnan(batch.best_efficiency[1])
    assert batch.end_at((1,)) == "bad geometry"
    assert batch.points.head[0] == pytest.approx(stage(flows=30).points.head)
    with pytest.raises(ValueError, match="bad geometry"):
        batch.map_at((1,))
    with pytest.raises(ValueError, match="use map_at"):
        _ = batch.map


def test_bad_geometry_alone_is_refused_by_name():
    with pytest.raises(ValueError, match=r"hub diameter is 22 mm.*tip clearance is -1 mm"):
        stage(wheel(hub_diameter=22 * MM, tip_clearance=-1 * MM))


# Limits --------------------------------------------------------------------------------------


def test_slow_wheels_obey_the_fan_laws():
    # limit: incompressible, and at one Reynolds number: size up, speed down by its square, and the
    # roughness with the size; what is left is Mach number squared, 6e-4 at 9 m/s
    small = stage(shaft_speed=450.0)
    large = stage(scaled(SUCTION_WHEEL, 2.0), shaft_speed=450.0 / 4.0)
    flow = np.linspace(0.0, 0.06, 7)
    assert small.map.head(flow) == pytest.approx(large.map.head(flow), rel=2e-3, abs=1e-3)
    assert small.map.power(flow) == pytest.approx(large.map.power(flow), rel=2e-3)


@given(pressure=st.floats(3e4, 2e5))
@settings(max_examples=10)
def test_pressure_of_the_air_matters_through_friction_alone(pressure):
    # Reynolds number moves friction; by way of the density at the rim that moves the rest a little
    flow = np.array([0.0, 0.02, 0.04])
    one, other = (centrifugal_points(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED, flow=flow,
                                     total_pressure=p, total_temperature=TEMPERATURE)
                  for p in (PRESSURE, pressure))
    assert other.work == pytest.approx(one.work, rel=3e-3)
    for name in ("incidence", "clearance", "blade loading"):
        assert other.internal[name] == pytest.approx(one.internal[name], rel=0.02, abs=1e-6)


def test_eye_chokes_at_the_relative_sonic_flow():
    # second route: thin strips, each sonic at its relative total state, blades' thickness off
    g = SUCTION_WHEEL
    edges = 0.5 * np.linspace(float(g.hub_diameter), float(g.eye_diameter), 2001)
    radius = 0.5 * (edges[1:] + edges[:-1])
    relative = TEMPERATURE + 0.5 * (SUCTION_SPEED * radius) ** 2 / gas.SPECIFIC_HEAT
    pressure = PRESSURE * (relative / TEMPERATURE) ** 3.5
    angle = np.arctan(np.tan(g.inlet_angle) * radius / (0.5 * g.mean_inlet_diameter))
    area = np.diff(edges) * (2.0 * np.pi * radius * np.cos(angle) - g.blades * g.blade_thickness)
    wanted = gas.mass_flow(area=area, total_pressure=pressure, total_temperature=relative,
                           mach=1.0).sum()
    choke = eye_choke_flow(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED,
                           total_temperature=TEMPERATURE)
    assert machine().mass_flow(choke) == pytest.approx(wanted, rel=1e-5)
    assert machine().end_at() == "inducer chokes"
    assert float(machine().highest_flow) == pytest.approx(float(choke), rel=1e-12)


def test_incidence_vanishes_at_the_shock_free_flow():
    slow = stage(shaft_speed=300.0)
    near = float(shock_free_flow(SUCTION_WHEEL))
    lost = np.interp(near * np.array([0.5, 1.0, 1.5]), slow.points.flow,
                     slow.points.internal["incidence"])
    assert lost[1] < 1e-4
    assert lost[0] == pytest.approx(lost[2], rel=0.02)


def test_a_slow_wheel_is_followed_until_it_is_blown_through():
    slow = stage(shaft_speed=SUCTION_SPEED / 4.0)
    assert slow.end_at() == ENDS[-1]
    assert slow.points.head[-1] == pytest.approx(LOWEST_HEAD, abs=0.01)
    # most of the flows are where it works
    assert (slow.points.head > 0.0).sum() > 120


@pytest.mark.parametrize(("changes", "said"), [
    ({"throat_area": 40e-6, "exit_area": 60e-6}, "scroll throat chokes"),
    ({"outlet_width": 1.0 * MM}, "impeller exit chokes or loses all pressure"),
    ({"diffuser_width": 0.8 * MM, "eye_diameter": 26 * MM, "blade_thickness": 0.3 * MM},
     "vaneless space chokes"),
])
def test_whatever_chokes_first_ends_the_map(changes, said):
    found = stage(wheel(**changes), shaft_speed=1.3 * SUCTION_SPEED)
    assert found.end_at() == said
    beyond = centrifugal_points(wheel(**changes), shaft_speed=1.3 * SUCTION_SPEED,
                                flow=1.01 * float(found.highest_flow), **STATE)
    assert LIMITS[int(beyond.limit)] == said
    assert np.isnan(beyond.head)


@pytest.mark.parametrize("model", sorted(SLIP_MODELS))
def test_slip_model_is_chosen_by_name(model):
    found = stage(replace(SUCTION_WHEEL, slip_model=model))
    slip = slip_speed(model, blades=9.0, exit_angle=SUCTION_WHEEL.exit_angle,
                      radius_ratio=SUCTION_WHEEL.radius_ratio)
    assert found.points.work[0] == pytest.approx(1.0 - slip)   # Euler, blocked


@pytest.mark.parametrize(("field", "values"), [
    ("tip_clearance", [0.0, 0.1 * MM, 0.4 * MM]),
    ("roughness", [0.0, 1e-5, 1e-4]),
    ("exit_angle", [0.0, 0.5, 1.0]),
    ("blade_thickness", [0.3 * MM, 0.6 * MM, 0.9 * MM]),
])
def test_what_costs_head(field, values):
    batch = stage(wheel(**{field: np.array(values)}), flows=60)
    heads = [float(batch.map_at((k,)).head(0.035)) for k in range(3)]
    assert (np.diff(heads) < 0.0).all()


def test_a_cover_trades_tip_clearance_for_a_second_rubbing_face():
    at = machine().points.flow.size // 2
    covered = stage(replace(SUCTION_WHEEL, shrouded=True, tip_clearance=0.1 * MM))
    assert covered.points.internal["clearance"][at] == 0.0
    assert covered.points.parasitic["disc friction"][at] == pytest.approx(
        2.0 * machine().points.parasitic["disc friction"][at], rel=0.05)
    assert covered.points.parasitic["leakage"][0] > 0.0   # it leaks when blocked, too


def test_band_widens_with_loss():
    # at twenty times the size, where what was found on measured machines is less than either
    tight, loose = (stage(scaled(wheel(**changes), 20.0), shaft_speed=SUCTION_SPEED / 20.0).map.band
                    for changes in ({"tip_clearance": 0.0},
                                    {"tip_clearance": 0.6 * MM, "roughness": 1e-4}))
    assert 0.05 < tight.head < loose.head < 0.4
    assert 0.05 < tight.power < loose.power < 0.4


def test_nan_in_nan_out():
    flow = np.array([0.02, np.nan, -0.01])
    got = centrifugal_points(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED, flow=flow, **STATE)
    assert np.isnan(got.head).tolist() == [False, True, True]
    assert [LIMITS[k] for k in got.limit] == ["within", *2 * ["flow is negative or not a number"]]


def test_a_wheel_that_raises_nothing_has_no_map():
    """Points whose head is lost everywhere, as by a scroll that wastes all: told, not drawn."""
    machine = stage(wheel(tip_clearance=0.2 * MM))
    lost = replace(machine, points=replace(machine.points, head=-np.abs(machine.points.head)))
    with pytest.raises(ValueError, match="raises no head at any flow"):
        _ = lost.map


def test_a_batch_with_a_bad_element_has_no_maps_and_says_which():
    batch = stage(wheel(tip_clearance=np.array([0.2, -0.1, 0.3]) * MM), flows=30)
    with pytest.raises(ValueError, match="no map for 1 of 3 machines, the first: bad geometry"):
        _ = batch.maps


# Wired as the formulas are meant, in metres and metres per second ---------------------------------


def test_eye_rim_and_loading_of_an_impeller_by_hand():
    """Continuity in the eye, triangles at the rim, Coppage's factor and the losses of it."""
    g, u = SUCTION_WHEEL, SUCTION_SPEED * float(SUCTION_WHEEL.outlet_diameter) / 2.0
    place = int(np.argmin(np.abs(machine().points.flow - 0.9 * float(machine().best_flow))))
    at = {name: float(np.asarray(getattr(machine().points, name))[place]) for name in (
        "flow", "work", "exit_flow", "eye_mach", "exit_density_ratio", "diffusion_factor")}
    total = {"total_pressure": PRESSURE, "total_temperature": TEMPERATURE}
    mass_flow = at["flow"] * u * float(g.outlet_diameter) ** 2 * PRESSURE / (
        gas.GAS_CONSTANT * TEMPERATURE)
    assert float(gas.mass_flow(area=g.eye_area, mach=at["eye_mach"], **total)) == pytest.approx(
        mass_flow, rel=1e-9)
    cold = TEMPERATURE * float(gas.temperature_ratio(mach=at["eye_mach"]))
    eye_speed = at["eye_mach"] * float(gas.speed_of_sound(temperature=cold))
    swirl, through = at["work"] * u, at["exit_flow"] * u  # no swirl in the eye
    relative = np.hypot(through, u - swirl)
    eye_blade = u * float(g.eye_diameter) / float(g.outlet_diameter)
    factor = losses.diffusion_factor(
        exit_relative_speed=relative, eye_relative_speed=np.hypot(eye_blade, eye_speed),
        work_coefficient=swirl / u, blades=g.blades,
        eye_radius_ratio=float(g.eye_diameter) / float(g.outlet_diameter))
    assert at["diffusion_factor"] == pytest.approx(float(factor), rel=1e-6)

    def lost(name: str) -> float:
        return float(machine().points.internal[name][place]) * u**2

    # Gibbs: what the impeller's losses took of the head is the entropy they made; each made its
    # share at the temperature where it arises
    warm = TEMPERATURE + swirl * u / gas.SPECIFIC_HEAT
    rim = warm - 0.5 * (swirl**2 + through**2) / gas.SPECIFIC_HEAT
    taken = sum(map(lost, ("incidence", "blade loading", "skin friction", "clearance", "mixing")))
    kelvin = -taken / (gas.SPECIFIC_HEAT * np.log(1.0 - taken / (gas.SPECIFIC_HEAT * warm)))
    along = kelvin / (0.5 * (cold + rim))
    assert lost("blade loading") == pytest.approx(along * float(losses.blade_loading_loss(
        diffusion_factor=factor, tip_speed=u)), rel=1e-6)
    assert lost("incidence") == pytest.approx(kelvin / cold * float(losses.incidence_loss(
        mismatch_speed=u * float(g.radius_ratio) - eye_speed * np.tan(g.inlet_angle))), rel=1e-6)
    assert lost("mixing") == pytest.approx(kelvin / rim * float(losses.mixing_loss(
        passage_speed=through, mixed_speed=through * float(g.outlet_area) / (
            np.pi * float(g.outlet_diameter) * float(g.diffuser_width)))), rel=1e-6)
    eye_density = PRESSURE / (gas.GAS_CONSTANT * TEMPERATURE) * float(
        gas.density_ratio(mach=at["eye_mach"]))
    rim_density = at["exit_density_ratio"] * PRESSURE / (gas.GAS_CONSTANT * TEMPERATURE)
    assert lost("clearance") == pytest.approx(along * float(losses.clearance_loss(
        clearance=g.tip_clearance, outlet_width=g.outlet_width, exit_swirl=swirl,
        inlet_speed=eye_speed, blades=g.blades, eye_radius=float(g.eye_diameter) / 2.0,
        hub_radius=float(g.hub_diameter) / 2.0, outlet_radius=float(g.outlet_diameter) / 2.0,
        density_ratio=rim_density / eye_density)), rel=1e-6)
    # continuity at the rim
    assert rim_density * through * float(g.outlet_area) == pytest.approx(mass_flow, rel=1e-9)


def test_leakage_of_a_covered_wheel_by_hand():
    """The rise of static pressure in the wheel drives air back through the eye seal; both static
    pressures from the energy equation and the gas. Power over that of the Euler work."""
    covered = stage(wheel(shrouded=True))
    g, u = covered.geometry, SUCTION_SPEED * float(wheel().outlet_diameter) / 2.0
    place = int(np.argmin(np.abs(covered.points.flow - 0.9 * float(covered.best_flow))))
    at = {name: float(np.asarray(getattr(covered.points, name))[place]) for name in (
        "flow", "work", "exit_flow", "eye_mach", "exit_density_ratio")}
    density = PRESSURE / (gas.GAS_CONSTANT * TEMPERATURE)
    speed = np.hypot(at["work"], at["exit_flow"]) * u
    warm = TEMPERATURE + (at["work"] * u**2 - 0.5 * speed**2) / gas.SPECIFIC_HEAT
    rim = at["exit_density_ratio"] * density * gas.GAS_CONSTANT * warm
    eye = PRESSURE * float(gas.pressure_ratio(mach=at["eye_mach"]))
    leaked = losses.seal_leakage_power(
        static_rise=rim - eye, work=at["work"] * u**2, seal_gap=g.tip_clearance,
        eye_diameter=g.eye_diameter, density=at["exit_density_ratio"] * density)
    euler = at["flow"] * density * u * float(g.outlet_diameter) ** 2 * at["work"] * u**2
    assert float(covered.points.parasitic["leakage"][place]) / (
        at["flow"] * at["work"]) == pytest.approx(float(leaked) / euler, rel=1e-5)
