"""How each leg of a flight ends, against closed forms; what cannot be begun, and in which words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.aircraft.flyers import AIRFRAME, SITE, LawEngine, fan
from tests.aircraft.test_flight import CLEAN, REAL, SLIPPERY, constant, flown, mass_of
from tests.aircraft.test_surface import narrow
from tests.aircraft.textbook_flight import steady_temperature
from thrustlapse.air.atmosphere import GRAVITY, Site
from thrustlapse.aircraft.discharge import RunningPack, Thermal, ThermalBody
from thrustlapse.aircraft.drag import level_drag
from thrustlapse.aircraft.endurance import level_endurance
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.legs import (
    Accelerate,
    Climb,
    Coast,
    Cruise,
    Dash,
    Glide,
    HandLaunch,
    Turn,
)
from thrustlapse.aircraft.thrust_source import engine_of

MASS = 2.0
DENSITY = float(Site().air().density)
TOP = float(np.sqrt(2.0 * 5.0 / (DENSITY * 0.2 * 0.02)))
"""Level top speed of the clean airframe with 5 N [m/s]."""


def pushed(thrust: float, *legs, airspeed: float, height: float = 0.0, airframe=CLEAN,
           mass: float = MASS, engine: LawEngine | None = None):
    return fly(engine or constant(thrust), airframe, HandLaunch(airspeed=airspeed, height=height),
               legs, mass=mass)


# Ends ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("leg", "words"), [
    (Accelerate(airspeed=20.0), "already faster than 20.0 m/s"),
    (Coast(airspeed=60.0), "already slower than 60.0 m/s"),
    (Climb(height=30.0), "already above 30 m"),
    (Dash(), "already at top speed"),
])
def test_a_leg_that_is_at_its_end_takes_no_time(leg, words: str) -> None:
    flight = pushed(5.0, leg, airspeed=0.999 * TOP, height=40.0)
    assert flight.completed
    assert flight.time[-1] == 0.0
    assert words in [event.text for event in flight.events]


def test_a_dash_from_above_the_top_speed_slows_down_to_it() -> None:
    """Constant thrust against quadratic drag, from above: V = V1 coth(t T / (m V1) + arcoth)."""
    flight = pushed(5.0, Dash(short_of_top=0.01), airspeed=1.6 * TOP)
    assert flight.completed
    expected = MASS * TOP / 5.0 * (np.arctanh(1.0 / 1.01) - np.arctanh(1.0 / 1.6))
    assert flight.time[-1] == pytest.approx(expected, rel=1e-4)
    assert flight.airspeed[-1] == pytest.approx(1.01 * TOP, rel=1e-5)
    assert "near top" not in {event.name for event in flight.events}


def test_cruise_over_a_distance() -> None:
    """At a constant airspeed: time is way over airspeed, work of the thrust is drag times way."""
    flight = pushed(5.0, Cruise(distance=600.0), airspeed=20.0)
    assert flight.completed
    assert flight.time[-1] == pytest.approx(30.0, rel=1e-9)
    assert flight.thrust[-1] == pytest.approx(0.5 * DENSITY * 400.0 * 0.2 * 0.02, rel=1e-9)
    assert flight.legs[1].energy == 0.0  # a law of thrust draws on nothing


@pytest.mark.parametrize("leg", [Cruise(time=100.0, longest=10.0), Cruise(longest=10.0),
                                 Cruise(distance=1e4, longest=10.0)])
def test_cruise_that_is_not_at_its_end_in_time(leg) -> None:
    flight = pushed(5.0, leg, airspeed=20.0)
    assert not flight.completed
    assert flight.reason.endswith("not at its end after 10 s")
    assert flight.time[-1] == pytest.approx(10.0)


def test_climb_ends_at_the_ceiling_of_a_thrust_that_falls_with_height() -> None:
    """Without drag the rate is V T(h) / W: it is 0.05 m/s at a height known beforehand."""
    engine = LawEngine(law=lambda v, h: 2.0 * (1.0 - h / 200.0) + 0.0 * v)
    flight = pushed(0.0, Climb(height=300.0, airspeed=12.0), airspeed=12.0, airframe=SLIPPERY,
                    engine=engine)
    ceiling = 200.0 * (1.0 - 0.05 * MASS * GRAVITY / (2.0 * 12.0))
    assert flight.height[-1] == pytest.approx(ceiling, rel=1e-6)
    assert flight.reason.endswith(f"climbs no more at {ceiling:.0f} m above the site")


def test_a_glide_gathers_its_airspeed_in_a_dive() -> None:
    """Without drag the height it costs is (V1^2 - V0^2) / (2 g)."""
    flight = pushed(0.0, Glide(airspeed=25.0, height=150.0), airspeed=12.0, height=200.0,
                    airframe=SLIPPERY)
    reached = int(np.argmax(flight.airspeed >= 25.0 * (1.0 - 1e-9)))
    assert 200.0 - flight.height[reached] == pytest.approx(
        (25.0**2 - 12.0**2) / (2.0 * GRAVITY), rel=1e-6)


def test_a_motor_ends_at_the_temperature_of_steady_heat() -> None:
    """Ta + Q / k after many time constants."""
    body = ThermalBody(heat_capacity=5.0, conductance=0.4)
    flight = flown("propeller", Cruise(airspeed=16.0, time=150.0), thermal=Thermal(motor=body))
    heat = np.diff(flight.books.motor_heat)[-1] / np.diff(flight.time)[-1]
    steady = float(steady_temperature(body, heat=heat, ambient=SITE.air(101.5).temperature))
    assert flight.motor_temperature[-1] == pytest.approx(steady, rel=1e-4)


# What cannot be flown ------------------------------------------------------------------------


def test_no_power_up_to_full_turns_that_hard() -> None:
    """The drag of the load factor stands in the words, and exceeds the thrust there is."""
    craft = replace(CLEAN, induced_factor=0.06, greatest_lift=1.2)
    flight = pushed(1.0, Turn(load_factor=2.0, throttle="held"), airspeed=20.0, airframe=craft)
    drag = float(level_drag(craft, mass=2.0 * MASS, density=DENSITY, airspeed=20.0,
                            speed_of_sound=340.0).total)
    assert drag > 1.0
    assert "cannot hold 20.0 m/s in a turn of load factor 2" in flight.reason
    assert f"{drag:.2f} N of drag" in flight.reason
    real = flown("fan", Turn(load_factor=3.0, throttle="held"), launch=HandLaunch(airspeed=26.0))
    assert "cannot hold 26.0 m/s in a turn of load factor 3" in real.reason


def test_no_thrust_no_top_speed() -> None:
    flight = pushed(0.01, Dash(), airspeed=20.0)
    assert "no top speed: thrust is short of drag" in flight.reason


def test_a_distance_that_the_pack_does_not_give() -> None:
    """The endurance of a nearly empty pack at an airspeed, times the airspeed (its own test)."""
    engine = engine_of(fan(), REAL.at(0.3), highest_airspeed=40.0, altitudes=(100.0, 200.0))
    flight = fly(engine, AIRFRAME, HandLaunch(airspeed=20.0), (Cruise(distance=1e5),),
                 mass=mass_of(fan()))
    assert not flight.completed
    assert "pack empty" in flight.reason
    run = level_endurance(fan(), AIRFRAME, REAL.at(0.3), mass=mass_of(fan()),
                          air=SITE.air(101.5), airspeed=20.0)
    assert flight.distance[-1] == pytest.approx(20.0 * float(run.time[0]), rel=1e-3)


def test_a_climb_slower_than_can_be_told_is_none() -> None:
    """0.02 m/s left: V (T - D) / W."""
    speed = 20.0
    drag = 0.5 * DENSITY * speed**2 * 0.2 * 0.02
    flight = pushed(drag + 0.02 * MASS * GRAVITY / speed, Climb(height=30.0, airspeed=speed),
                    airspeed=speed)
    assert "cannot climb at 20.0 m/s: 0.02 m/s at full power" in flight.reason


@pytest.mark.parametrize(("thrust", "leg", "airspeed", "words"), [
    (30.0, Climb(height=30.0, airspeed=12.0), 12.0,
     "no steady path at 12.0 m/s: thrust exceeds drag and weight"),
    (80.0, Climb(height=30.0), 12.0,
     "no steady climb at any airspeed: thrust exceeds drag and weight"),
    (0.0, Glide(airspeed=110.0), 110.0,
     "no steady path at 110.0 m/s: drag exceeds thrust and weight, even straight down"),
])
def test_where_no_straight_path_is_steady(thrust, leg, airspeed, words) -> None:
    """Thrust above the weight (19.6 N) and drag; or faster than it falls (90 m/s).

    The first used to be told as a climb of "nan m/s", the last as an excess of thrust.
    """
    flight = pushed(thrust, leg, airspeed=airspeed, height=20.0)
    assert not flight.completed
    assert words in flight.reason


def test_nothing_is_known_above_the_stall() -> None:
    engine = LawEngine(law=lambda v, h: 5.0 + 0.0 * (v + h), highest_airspeed=8.0)
    flight = pushed(5.0, Climb(height=30.0), airspeed=12.0, engine=engine,
                    airframe=replace(CLEAN, greatest_lift=1.2))
    assert "nothing is known of the machine at any airspeed above the stall" in flight.reason


def test_a_map_of_thrust_that_ends_without_warning() -> None:
    """The engine does not say where its law ends: the integrator halts there, and it is told."""
    ends = LawEngine(law=lambda v, h: np.where(v < 20.0, 5.0, np.nan) + 0.0 * h)
    flight = pushed(5.0, Turn(load_factor=1.01, angle=2000.0), airspeed=15.0, engine=ends)
    assert "nothing is known of the machine at 20.0 m/s" in flight.reason
    assert flight.airspeed[-1] == pytest.approx(20.0, rel=1e-6)
    assert np.isfinite(flight.thrust).all()


def test_a_law_of_thrust_without_bound_is_no_crash() -> None:
    endless = LawEngine(law=lambda v, h: 5.0 + 1.0 / np.square(20.0 - v) + 0.0 * h)
    flight = pushed(5.0, Turn(load_factor=1.01, angle=2000.0), airspeed=15.0, engine=endless)
    assert "the solver gave up" in flight.reason


def test_part_power_that_leaves_the_map() -> None:
    """At the end of its map a machine runs at full power only: slower, it passes too much."""
    one = narrow()
    engine = engine_of(one, REAL, highest_airspeed=40.0, altitudes=(90.0, 150.0))
    mass = mass_of(one)
    flight = fly(engine, AIRFRAME, HandLaunch(airspeed=21.5), (Cruise(time=10.0),), mass=mass)
    assert "cannot hold 21.5 m/s in level flight" in flight.reason
    assert "as far as its map is known" in flight.reason
    rich = flown("fan", Cruise(time=1.0), launch=HandLaunch(airspeed=21.5))
    assert rich.completed, rich.reason  # the same fan with the rest of its map


def test_a_dash_on_a_pack_at_its_floor() -> None:
    """Nothing left to draw: the top speed is that of the pack as it is."""
    spent = RunningPack(pack=REAL.pack, least_state_of_charge=REAL.start)
    engine = engine_of(fan(), spent, highest_airspeed=45.0, altitudes=(100.0, 200.0))
    flight = fly(engine, AIRFRAME, HandLaunch(), (Dash(),), mass=mass_of(fan()))
    assert "the least allowed" in flight.reason
