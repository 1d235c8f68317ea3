"""Flight: closed forms, worked examples, events, what cannot be flown, solvers, surfaces."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.aircraft.flyers import AIRFRAME, PACK, SITE, LawEngine, blower, fan, propeller
from tests.aircraft.test_climb import FOOT, MILE_PER_HOUR, POUND, SLUG_PER_CUBIC_FOOT
from tests.authority import row
from thrustlapse.air.atmosphere import GRAVITY, Site
from thrustlapse.air.gas import GAS_CONSTANT
from thrustlapse.aircraft.climb import best_climb
from thrustlapse.aircraft.discharge import RunningPack, Thermal, ThermalBody
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.aircraft.endurance import level_endurance, on_pack
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.fly_candidates import engine_for, fly_all
from thrustlapse.aircraft.legs import (
    Accelerate,
    Climb,
    Coast,
    Cruise,
    Dash,
    Glide,
    HandLaunch,
    RailLaunch,
    Turn,
)
from thrustlapse.aircraft.level_flight import level_flight
from thrustlapse.aircraft.thrust_source import engine_of
from thrustlapse.aircraft.thrust_surface import build_surface, possible_limits
from thrustlapse.aircraft.thrust_table_lookup import full_power
from thrustlapse.power.drive import DriveLimit
from thrustlapse.propulsor.candidate import operate

REAL = RunningPack(pack=PACK)
MAKERS = {"blower": blower, "fan": fan, "propeller": propeller}
LEGS = (Accelerate(airspeed=19.0), Climb(height=60.0), Turn(load_factor=1.4), Dash(),
        Cruise(airspeed=18.0, time=40.0), Glide())
CLEAN = Airframe(mass=0.0, wing_area=0.2, minimum_drag_coefficient=0.02, induced_factor=0.0,
                 greatest_lift=30.0, launch_speed=5.0, drag_rise_mach=9.0)
SLIPPERY = replace(CLEAN, minimum_drag_coefficient=1e-13)


def mass_of(candidate) -> float:
    return float(AIRFRAME.mass + candidate.installed_mass)


@cache
def engine(name: str):
    return engine_of(MAKERS[name](), REAL, highest_airspeed=45.0, altitudes=(100.0, 250.0))


def flown(name: str, *legs, launch=None, airframe=AIRFRAME, **options):
    return fly(engine(name), airframe, launch or HandLaunch(), legs,
               mass=mass_of(MAKERS[name]()), **options)


@cache
def whole(name: str):
    return flown(name, *LEGS)


def constant(thrust: float) -> LawEngine:
    return LawEngine(law=lambda v, h: thrust + 0.0 * (v + h), site=Site())


# Closed forms and worked examples ------------------------------------------------------------


def test_level_acceleration_is_a_tanh() -> None:
    """Constant thrust against quadratic drag: V = V1 tanh(t T / (m V1) + artanh(V0 / V1))."""
    flight = fly(constant(5.0), CLEAN, HandLaunch(height=0.0), (Accelerate(airspeed=40.0),),
                 mass=2.0)
    top = np.sqrt(2.0 * 5.0 / (float(Site().air().density) * 0.2 * 0.02))
    exact = top * np.tanh(5.0 * flight.time / (2.0 * top) + np.arctanh(5.0 / top))
    assert flight.airspeed == pytest.approx(exact, rel=1e-7)
    way = 2.0 * top**2 / 5.0 * np.log(np.cosh(5.0 * flight.time / (2.0 * top)
                                              + np.arctanh(5.0 / top))
                                      / np.cosh(np.arctanh(5.0 / top)))
    assert flight.distance == pytest.approx(way, rel=1e-6, abs=1e-6)


def test_drag_only_deceleration() -> None:
    """Fox and McDonald 2001, Ex. 9.7 (C): 270 to 100 mi/h in 5.05 s; 5.0494 exact."""
    line = row("performance_climb_glide_range", "FM9.7")
    density = 0.00238 * SLUG_PER_CUBIC_FOOT
    # a site whose air has that density: the temperature at standard pressure
    site = Site(temperature_offset=101325.0 / (density * GAS_CONSTANT) - 288.15)
    car = replace(CLEAN, wing_area=25.0 * FOOT**2, minimum_drag_coefficient=1.42,
                  greatest_lift=1e6)
    flight = fly(LawEngine(law=lambda v, h: 0.0 * (v + h), site=site), car,
                 HandLaunch(airspeed=270.0 * MILE_PER_HOUR, height=0.0),
                 (Coast(airspeed=100.0 * MILE_PER_HOUR),), mass=1600.0 * POUND / GRAVITY)
    assert flight.time[-1] == pytest.approx(line["printed"], rel=line["rtol"])


def test_constant_power_climb_without_drag() -> None:
    """Height grows by P / W per second whatever the angle (closed form)."""
    power = LawEngine(law=lambda v, h: 60.0 / v + 0.0 * h)
    flight = fly(power, SLIPPERY, HandLaunch(airspeed=12.0, height=0.0),
                 (Climb(height=90.0, airspeed=12.0),), mass=1.5)
    assert flight.completed
    assert flight.time[-1] == pytest.approx(90.0 * 1.5 * GRAVITY / 60.0, rel=1e-9)
    assert flight.distance[-1] == pytest.approx(
        flight.time[-1] * 12.0 * np.sqrt(1.0 - (60.0 / (1.5 * GRAVITY * 12.0)) ** 2), rel=1e-8)


def test_glide_at_constant_lift_coefficient() -> None:
    """Constant equivalent airspeed: each metre forward costs CD/CL of energy height (exact).

    The lift coefficient stays but for the cosine of the path, and the true airspeed falls with
    height, which gives back kinetic energy.
    """
    sail = replace(CLEAN, induced_factor=0.05, greatest_lift=1.2)
    flight = fly(constant(0.0), sail, HandLaunch(airspeed=13.0, height=800.0),
                 (Glide(airspeed=13.0, height=0.0, hold="equivalent airspeed"),), mass=1.5)
    assert flight.completed
    density = Site().air(flight.height).density
    lift = 1.5 * GRAVITY * np.cos(flight.path_angle) / (0.5 * density * flight.airspeed**2 * 0.2)
    lift = lift[1:]  # the first sample is the launch, still level
    assert lift == pytest.approx(lift[0], rel=2e-4)
    energy = flight.height + flight.airspeed**2 / (2.0 * GRAVITY)
    ratio = (energy[0] - energy[-1]) / flight.distance[-1]
    assert ratio == pytest.approx((0.02 + 0.05 * lift[0] ** 2) / lift[0], rel=2e-4)
    assert flight.airspeed[-1] < 13.0 * 0.97


def test_steady_glide_is_that_of_the_closed_form() -> None:
    """At true airspeed over 20 m the glide ratio is CL / CD at mid height."""
    sail = replace(CLEAN, induced_factor=0.05, greatest_lift=1.2)
    flight = fly(constant(0.0), sail, HandLaunch(airspeed=13.0, height=20.0),
                 (Glide(airspeed=13.0),), mass=1.5)
    angle = np.arctan(20.0 / flight.distance[-1])
    lift = 1.5 * GRAVITY * np.cos(angle) / (0.5 * float(Site().air(10.0).density) * 169.0 * 0.2)
    assert np.tan(angle) == pytest.approx((0.02 + 0.05 * lift**2) / lift, rel=1e-6)


def test_rail_launch() -> None:
    """Constant force without drag: V^2 = 2 L (F / m - g sin) at the end of the rail."""
    launch = RailLaunch(length=3.0, angle=0.3, pull=40.0, height=0.5)
    flight = fly(constant(5.0), SLIPPERY, launch, (Accelerate(airspeed=12.5),), mass=1.5)
    expected = np.sqrt(2.0 * 3.0 * (45.0 / 1.5 - GRAVITY * np.sin(0.3)))
    assert "launched" in {event.name for event in flight.events}
    assert flight.airspeed[flight.legs[0].last] == pytest.approx(expected, rel=1e-7)
    assert flight.height[-1] == pytest.approx(0.5 + 3.0 * np.sin(0.3), rel=1e-7)
    assert flight.books.launcher_work[-1] == pytest.approx(40.0 * 3.0, rel=1e-7)


def test_full_circle_at_constant_airspeed() -> None:
    """2 pi V / (g sqrt(n^2 - 1)) seconds, with the drag of the load (closed form)."""
    flight = flown("propeller", Turn(load_factor=1.6, throttle="held"))
    assert flight.completed
    assert flight.time[-1] == pytest.approx(
        2.0 * np.pi * 16.0 / (GRAVITY * np.sqrt(1.6**2 - 1.0)), rel=1e-7)
    drag = level_drag(AIRFRAME, mass=1.6 * mass_of(propeller()),
                      density=SITE.air(101.5).density, airspeed=16.0, speed_of_sound=340.0)
    assert flight.drag[-1] == pytest.approx(float(drag.total), rel=1e-9)
    assert flight.thrust[-1] - flight.external_drag[-1] == pytest.approx(float(drag.total),
                                                                          rel=1e-7)


# The same machine, the same pack -------------------------------------------------------------


@pytest.mark.parametrize("name", [*MAKERS, "efficiency", "two", "all limits"])
def test_surface_error(name) -> None:
    """Thrust and current at random points against the match itself: below 0.1 %."""
    one = {**MAKERS, "efficiency": lambda: blower(efficiency=True), "two": lambda: blower(count=2),
           "all limits": lambda: replace(fan(), unit=replace(fan().unit, drive=replace(
               fan().unit.drive, motor_current_limit=20.0, supply_current_limit=19.0,
               speed_limit=5100.0)))}[name]()
    surface = build_surface(one, REAL, highest_airspeed=45.0, altitudes=(100.0, 400.0))
    assert surface.accurate
    draw = np.random.default_rng(2)
    speed, height = draw.uniform(0.0, 30.0, 300), draw.uniform(100.0, 400.0, 300)
    charge = draw.uniform(0.15, REAL.start, 300)
    found = full_power(surface, air=SITE.air(height), airspeed=speed, altitude=height,
                       state_of_charge=charge)
    true = operate(on_pack(one, REAL.supply(charge, units=float(one.count))), airspeed=speed,
                   altitude=height)
    assert found.net_thrust == pytest.approx(one.count * true.net_thrust, rel=1e-3)
    assert found.current == pytest.approx(true.current, rel=1e-3)
    if name == "all limits":
        assert len(possible_limits(one)) == 4
        assert set(true.drive_limit_code) >= {int(DriveLimit.SPEED), int(DriveLimit.FULL_VOLTAGE),
                                              int(DriveLimit.SUPPLY_CURRENT)}


@pytest.mark.parametrize("name", MAKERS)
def test_two_solvers_agree_and_steps_do_not_matter(name) -> None:
    """Explicit 5th against 8th order, and the tolerance 100 times either way."""
    base = whole(name)
    assert base.completed, base.reason
    for options in ({"method": "DOP853"}, {"tolerance": 1e-10}, {"tolerance": 1e-6}):
        other = flown(name, *LEGS, **options)
        coarse = options.get("tolerance") == 1e-6
        slack = 2e-4 if coarse else 2e-6
        assert other.time[-1] == pytest.approx(base.time[-1], rel=slack)
        assert other.distance[-1] == pytest.approx(base.distance[-1], rel=slack)
        assert other.energy_used == pytest.approx(base.energy_used, rel=slack)
        assert [leg.end for leg in other.legs] == pytest.approx([leg.end for leg in base.legs],
                                                                rel=10.0 * slack)


def test_a_stiff_solver_agrees_too() -> None:
    other = flown("fan", *LEGS[:2], method="LSODA")
    base = flown("fan", *LEGS[:2])
    assert other.time[-1] == pytest.approx(base.time[-1], rel=1e-6)
    assert other.energy_used == pytest.approx(base.energy_used, rel=1e-6)


@pytest.mark.parametrize("name", ["fan", "blower"])
def test_dash_ends_within_half_a_percent_of_the_matched_top_speed(name) -> None:
    """Top speed found by the match, without the surface, at the pack's state at the end."""
    one, flight = MAKERS[name](), flown(name, Dash())
    assert flight.completed
    spent = on_pack(one, REAL.supply(flight.state_of_charge[-1], units=1.0))
    air = SITE.air(101.5)
    top = level_flight(lambda v: operate(spent, airspeed=v, air=air), AIRFRAME,
                       mass=mass_of(one), air=air).top_speed
    assert flight.airspeed[-1] == pytest.approx(0.995 * top, rel=3e-4)
    near = next(event for event in flight.events if event.name == "near top")
    assert 0.0 < near.time < flight.time[-1]


def test_cruise_to_an_empty_pack_is_the_endurance() -> None:
    """The trajectory against the sum over states of charge, which knows no trajectory."""
    for name, speed in (("fan", 20.0), ("propeller", 24.0)):
        flight = flown(name, Cruise(airspeed=speed, distance=None), Glide(),
                       launch=HandLaunch(airspeed=speed, height=40.0))
        one = MAKERS[name]()
        run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=SITE.air(140.0),
                              airspeed=speed)
        assert flight.legs[1].end == pytest.approx(float(run.time[0]), rel=1e-4)
        assert flight.state_of_charge[-1] == pytest.approx(float(run.state_of_charge[0]), abs=1e-4)
        assert flight.legs[1].completed
        assert "pack empty" in flight.legs[1].reason
        assert flight.legs[2].completed
        assert flight.completed


def test_fastest_climb_is_the_one_of_the_climb_functions() -> None:
    one, flight = fan(), flown("fan", Climb(height=5.0))
    speed = flight.airspeed[-1]
    full = on_pack(one, REAL.supply(REAL.start, units=1.0))
    best = best_climb(lambda v, h: operate(full, airspeed=v, altitude=h).installed_thrust,
                      AIRFRAME, mass=mass_of(one), site=SITE, altitude=101.5, highest=45.0)
    assert speed == pytest.approx(float(best.airspeed), rel=1e-2)  # the optimum is flat
    start = flight.legs[1].first
    rate = np.diff(flight.height[start:]) / np.maximum(np.diff(flight.time[start:]), 1e-12)
    assert rate[-1] == pytest.approx(float(best.rate), rel=1e-2)


def test_temperatures_follow_the_lumped_model() -> None:
    """Constant heat: T = Ta + Q / k (1 - exp(-k t / C)) for the motor of a cruise (closed form)."""
    body = ThermalBody(heat_capacity=50.0, conductance=0.4, limit=300.0)
    flight = flown("propeller", Cruise(airspeed=16.0, time=120.0),
                   thermal=Thermal(motor=body, pack=ThermalBody(heat_capacity=300.0,
                                                                conductance=0.5)))
    ambient = float(SITE.air(101.5).temperature)
    heat = flight.books.motor_heat[-1] / flight.time[-1]
    expected = ambient + heat / 0.4 * (1.0 - np.exp(-0.4 * flight.time / 50.0))
    # it begins at the site's own temperature, 0.01 K above that at height
    assert flight.motor_temperature == pytest.approx(expected, abs=0.011)
    assert np.all(np.diff(flight.pack_temperature[1:]) >= 0.0)
    assert "motor hot" in {event.name for event in flight.events}
    assert np.isnan(whole("fan").motor_temperature).all()


# What cannot be flown ------------------------------------------------------------------------


def test_launch_below_the_stall() -> None:
    flight = flown("fan", *LEGS, launch=HandLaunch(airspeed=5.0))
    assert not flight.completed
    assert "below the stall" in flight.reason
    assert all(leg.reason.startswith("not begun") for leg in flight.legs[1:])
    assert flight.time.size == 1


@pytest.mark.parametrize(("leg", "words"), [
    (Accelerate(airspeed=44.0), "cannot reach 44.0 m/s: level flight settles at"),
    (Cruise(airspeed=44.0), "cannot reach 44.0 m/s"),
    (Turn(load_factor=3.0), "stalls at"),
    (Turn(load_factor=1.0), "needs a load factor above 1"),
    (Climb(height=200.0, airspeed=32.0), "cannot reach 32.0 m/s"),
    (Glide(height=50.0), "not above 50.0 m"),
    (Accelerate(airspeed=25.0, longest=1.0), "not at its end after 1 s"),
])
def test_a_leg_that_cannot_be_flown_says_so_and_the_rest_is_kept(leg, words) -> None:
    flight = flown("fan", Accelerate(airspeed=18.0), leg, Cruise(time=5.0))
    assert not flight.completed
    assert words in flight.legs[2].reason
    assert flight.legs[1].completed
    assert flight.legs[3].reason.startswith("not begun")
    assert flight.airspeed[flight.legs[1].last] == pytest.approx(18.0, rel=1e-9)
    assert np.isfinite(flight.books.residual).all()


def test_a_heavy_turn_runs_into_the_stall() -> None:
    flight = flown("fan", Turn(load_factor=1.55, angle=60.0),
                   airframe=replace(AIRFRAME, minimum_drag_coefficient=0.25))
    assert "stalls" in flight.reason
    slowest = float(stall_speed(AIRFRAME, mass=1.55 * mass_of(fan()),
                                density=SITE.air(101.5).density))
    assert flight.airspeed[-1] == pytest.approx(slowest, rel=1e-6)


def test_a_pack_that_is_nearly_empty() -> None:
    low = engine_of(fan(), REAL.at(0.12), highest_airspeed=40.0, altitudes=(100.0, 200.0))
    flight = fly(low, AIRFRAME, HandLaunch(height=30.0), (Climb(height=150.0), Glide()),
                 mass=mass_of(fan()))
    assert not flight.completed
    assert "pack empty: a cell sags to 3.20 V" in flight.legs[1].reason
    assert flight.legs[2].completed  # it still glides down
    assert flight.height[-1] == pytest.approx(0.0, abs=1e-6)
    floor = RunningPack(pack=PACK, least_state_of_charge=0.94)
    flight = fly(engine_of(fan(), floor, highest_airspeed=40.0, altitudes=(100.0, 200.0)),
                 AIRFRAME, HandLaunch(), (Climb(height=150.0),), mass=mass_of(fan()))
    assert "the least allowed" in flight.reason
    assert flight.state_of_charge[-1] == pytest.approx(0.94, abs=1e-6)


def test_a_rail_that_is_too_short_or_too_steep() -> None:
    short = flown("fan", launch=RailLaunch(length=1.0, pull=5.0))
    assert "leaves the rail at" in short.reason
    assert "below the stall" in short.reason
    steep = flown("fan", launch=RailLaunch(length=1.0, angle=1.2))
    assert "do not move it" in steep.reason


def test_the_end_of_the_map_ends_the_flight() -> None:
    narrow = engine_of(fan(), REAL, highest_airspeed=22.0, altitudes=(100.0, 200.0))
    flight = fly(narrow, AIRFRAME, HandLaunch(), (Accelerate(airspeed=25.0),),
                 mass=mass_of(fan()))
    assert "cannot reach 25.0 m/s: thrust still exceeds drag" in flight.reason
    faster = fly(narrow, AIRFRAME, HandLaunch(airspeed=26.0), (Turn(load_factor=1.2),),
                 mass=mass_of(fan()))
    assert "nothing is known of the machine" in faster.reason


# The record ----------------------------------------------------------------------------------


def test_the_record_is_of_a_piece() -> None:
    flight = whole("fan")
    assert np.all(np.diff(flight.time) >= 0.0)
    assert np.all(np.diff(flight.distance) >= -1e-9)  # round-off where an event repeats a point
    assert np.all(np.diff(flight.state_of_charge) <= 1e-15)
    assert flight.leg.tolist() == sorted(flight.leg.tolist())
    for place, leg in enumerate(flight.legs):
        assert leg.completed
        assert set(flight.leg[leg.first:leg.last + 1]) == {place}
        assert flight.time[leg.last] == pytest.approx(leg.end)
    assert sum(leg.energy for leg in flight.legs) == pytest.approx(flight.energy_used, rel=1e-12)
    assert flight.power == pytest.approx(flight.current * flight.terminal_voltage, rel=1e-9)
    assert [event.time for event in flight.events] == sorted(
        event.time for event in flight.events)
    level = flight.leg == 4
    assert flight.height[level] == pytest.approx(flight.height[level][0], abs=1e-9)


def test_everyone_flies_the_same_legs() -> None:
    """Time to 95 % of top speed, energy, whether 34 m/s is passed, and what would let it."""
    raced = fly_all({name: make() for name, make in MAKERS.items()}, AIRFRAME, HandLaunch(),
                    (Climb(height=40.0), Dash(), Glide()), pack=REAL, passing_speed=34.0,
                    shared_mass=0.3)
    for name, one in raced.items():
        assert one.flight.completed, one.flight.reason
        assert max(one.thrust_error, one.current_error) < 1e-3
        assert one.passing is not None
        assert one.passing.passed == (one.level.top_speed > 34.0)
        dash = flown(name, Dash(short_of_top=0.05))
        assert one.near_top_time == pytest.approx(dash.time[-1], rel=1e-3)
        assert one.near_top_energy == pytest.approx(dash.energy_used, rel=1e-3)
    assert raced["propeller"].passing.passed
    assert not raced["fan"].passing.passed
    assert raced["fan"].near_top_time > raced["propeller"].near_top_time


def test_who_cannot_be_launched_is_told() -> None:
    raced = fly_all({"fan": fan()}, replace(AIRFRAME, launch_speed=6.0), HandLaunch(),
                    (Dash(),), pack=REAL)
    assert np.isnan(raced["fan"].near_top_time)
    assert "below the stall" in raced["fan"].near_top_reason
    made, level = engine_for(fan(), AIRFRAME, HandLaunch(), LEGS, REAL)
    assert float(made.known_to(REAL.start)) > level.top_speed
