"""Climb, ceilings, glide, runway and sizing: textbook aircraft, closed forms, limits."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tests.aircraft.flyers import AIRFRAME, SITE, fan, propeller, thrust_law
from tests.aircraft.textbook_flight import landing_run
from tests.authority import rows
from tests.credibility.records import PRINTED, agree, authority
from thrustlapse.air.atmosphere import GRAVITY, Site, standard_air
from thrustlapse.aircraft.climb import (
    best_climb,
    best_lift_coefficient,
    ceilings,
    climb,
    drag_coefficient,
    glide,
    greatest,
    least_to_fly,
    lift_speed,
    path_sine,
    vertical_speed,
)
from thrustlapse.aircraft.drag import Airframe, induced_factor, level_drag, stall_speed
from thrustlapse.aircraft.runway import ground_effect, ground_roll, roll_force, take_off_run
from thrustlapse.aircraft.sizing import (
    launch_speed_needed,
    passing,
    units_needed,
    with_count,
)
from thrustlapse.propulsor.candidate import operate

FOOT, MILE_PER_HOUR, POUND, HORSEPOWER = 0.3048, 0.44704, 4.4482216152605, 745.7
SLUG_PER_CUBIC_FOOT = 515.378818
TEXTBOOK = {row["aircraft"]: row for row in rows("aircraft_textbook")}
ANSWERS = rows("performance_climb_glide_range")
SEA_LEVEL = Site()
HIGHEST = {"CP-1": 120.0, "CJ-1": 330.0}


def textbook(name: str, *, greatest_lift: float = 3.0, drag_factor: float = 1.0
             ) -> tuple[Airframe, float]:
    """Airframe of an example aircraft, and its mass [kg]."""
    row = TEXTBOOK[name]
    factor = induced_factor(aspect_ratio=row["b_m"] ** 2 / row["S_m2"],
                            span_efficiency=row["oswald_e"])
    return Airframe(mass=0.0, wing_area=row["S_m2"], induced_factor=float(factor),
                    minimum_drag_coefficient=row["CD0"] * drag_factor,
                    greatest_lift=greatest_lift, launch_speed=60.0,
                    drag_rise_mach=2.0), row["W_N"] / GRAVITY


def engine(name: str):
    """Constant power (CP-1) or thrust (CJ-1) in proportion to density: the book's engines."""
    def law(airspeed, altitude):
        share = standard_air(altitude=altitude).density / 1.225
        if name == "CP-1":
            return 230.0 * HORSEPOWER * 0.8 * share / airspeed
        return 32485.0 * share + 0.0 * airspeed

    return law


def printed(aircraft: str, quantity: str, unit: str):
    """The row of a quantity."""
    return next(row for row in ANSWERS if row["aircraft"] == aircraft
                and row["quantity"].startswith(quantity) and row["unit"] == unit)


@authority(part="airframe", what="best climb", status="memory",
           source="Anderson, Introduction to Flight, Ex. 6.6, a plotted peak from memory")
def test_best_climb_at_sea_level():
    """1500 and 8100 ft/min, by excess power."""
    for name in ("CP-1", "CJ-1"):
        row = printed(name, "max rate of climb", "ft/min")
        airframe, mass = textbook(name)
        found = best_climb(engine(name), airframe, mass=mass, site=SEA_LEVEL, altitude=0.0,
                           highest=HIGHEST[name], small_angle=True)
        yield from agree(name, found.rate / FOOT * 60.0, row["printed"], share=row["rtol"],
                         unit="ft/min", why="plotted peak")


def test_best_climb_speed_is_that_of_least_power() -> None:
    """Constant power: the fastest climb is at the speed of least power, 33.54 m/s for CP-1 (X)."""
    airframe, mass = textbook("CP-1")
    found = best_climb(engine("CP-1"), airframe, mass=mass, site=SEA_LEVEL, altitude=0.0,
                       highest=120.0, small_angle=True)
    least = least_to_fly(airframe, mass=mass, density=1.225)
    assert float(found.airspeed) == pytest.approx(float(least.power_speed), rel=1e-4)
    assert float(found.airspeed) == pytest.approx(33.54, abs=0.01)
    power = 230.0 * HORSEPOWER * 0.8
    assert float(found.rate) == pytest.approx(
        (power - float(least.power)) / (mass * GRAVITY), rel=1e-4)


@authority(part="airframe", what="ceilings", status="memory",
           source="Anderson, Introduction to Flight, section 6.10, graph readings from memory")
def test_ceilings():
    """Absolute, and service at 100 ft/min."""
    for name in ("CP-1", "CJ-1"):
        airframe, mass = textbook(name)
        found = ceilings(engine(name), airframe, mass=mass, site=SEA_LEVEL, highest=450.0,
                         service="100 ft/min", small_angle=True)
        for value, quantity in ((found.absolute, "absolute"), (found.service, "service")):
            row = printed(name, quantity + " ceiling", "ft")
            yield from agree(f"{name} {quantity}", value / FOOT, row["printed"],
                             share=row["rtol"], unit="ft", why="graph read to 1000 ft")
        other = ceilings(engine(name), airframe, mass=mass, site=SEA_LEVEL, highest=450.0,
                         small_angle=True)
        assert found.service < other.service < other.absolute


def test_at_the_ceiling_thrust_is_the_least_drag() -> None:
    """Closed form: constant thrust in proportion to density, T = W / (L/D)max."""
    airframe, mass = textbook("CJ-1")
    found = ceilings(engine("CJ-1"), airframe, mass=mass, site=SEA_LEVEL, highest=450.0)
    least = float(least_to_fly(airframe, mass=mass, density=1.0).thrust)
    share = float(standard_air(altitude=found.absolute).density) / 1.225
    assert 32485.0 * share == pytest.approx(least, rel=1e-5)


def test_what_cannot_climb_has_no_ceiling() -> None:
    airframe, mass = textbook("CJ-1")
    found = ceilings(lambda v, h: 100.0 + 0.0 * (v + h), airframe, mass=mass, site=SEA_LEVEL,
                     highest=330.0)
    assert np.isnan(found.absolute)
    assert "cannot climb" in found.reason


BEST = {"(CL^1.5/CD)max": 1.5, "(CL^0.5/CD)max": 0.5}


@authority(part="airframe", what="best ratios of lift to drag", status="worked",
           source="Anderson, Introduction to Flight, Ex. 6.12 to 6.15")
def test_best_lift_ratios():
    """12.81 and 23.4."""
    for name, quantity in (("CP-1", "(CL^1.5/CD)max"), ("CJ-1", "(CL^0.5/CD)max")):
        row, (airframe, _) = printed(name, quantity, "-"), textbook(name)
        lift = best_lift_coefficient(airframe, exponent=BEST[quantity])
        yield from agree(f"{name} {quantity}", lift ** BEST[quantity] / drag_coefficient(
            airframe, lift_coefficient=lift), row["printed"], share=row["rtol"], why=PRINTED)


@pytest.mark.parametrize("name", ["CP-1", "CJ-1"])
def test_best_glide(name) -> None:
    """Anderson, Ex. 6.7 and 6.8: 4.2 (C) and 3.39 deg (F+M); 41.45 and 51.51 km from 3048 m (F).

    The distances follow from the rounded 13.6 and 16.9.
    """
    airframe, mass = textbook(name)
    lift = best_lift_coefficient(airframe, exponent=1.0)
    found = glide(airframe, mass=mass, density=1.0, lift_coefficient=lift)
    row = printed(name, "minimum glide angle", "deg")
    assert np.degrees(float(found.angle)) == pytest.approx(row["printed"], rel=row["rtol"])
    distance = printed(name, "max glide ground range", "m")["closed_form"]
    assert 3048.0 * float(found.glide_ratio) == pytest.approx(distance, rel=4e-3)


@authority(part="airframe", what="best glide speed", status="worked",
           source="Anderson, Introduction to Flight, Ex. 6.9")
def test_best_glide_speed():
    """53.1 and 47.0 m/s at the densities and CL 0.634 of the book."""
    airframe, mass = textbook("CP-1")
    for line in (row for row in ANSWERS if "best-glide speed" in row["quantity"]):
        density = float(re.search(r"rho ([\d.]+)", line["inputs"])[1])
        found = glide(airframe, mass=mass, density=density, lift_coefficient=0.634)
        yield from agree(line["quantity"], found.airspeed, line["closed_form"],
                         share=line["rtol"], unit="m/s", why="rounded inputs")


def test_take_off_roll() -> None:
    """Anderson, Ex. 6.17 (F): CJ-1, 1102.7 m with the force at 0.7 of lift-off speed, g 9.8.

    The exact integral of the same force is 0.3 % longer.
    """
    row = printed("CJ-1", "take-off ground roll", "m")
    airframe, mass = textbook("CJ-1", greatest_lift=1.0)
    near = float(ground_effect(height=1.83, span=16.25))
    arguments = {"mass": mass, "density": 1.225, "friction": 0.02, "lift_coefficient": 1.0,
                 "induced_share": near}
    distance, speed = take_off_run(lambda v: 32485.0 + 0.0 * v, airframe, method="mean force",
                                   **arguments)
    assert distance == pytest.approx(row["closed_form"], rel=row["rtol"])
    assert speed == pytest.approx(83.77, abs=0.005)
    exact, _ = take_off_run(lambda v: 32485.0 + 0.0 * v, airframe, **arguments)
    assert exact == pytest.approx(distance, rel=5e-3)


def test_landing_roll() -> None:
    """Anderson, Ex. 6.18 (F+M): 257 m, 842 ft, with brakes and without lift; V_T 45.32 m/s."""
    row = printed("CJ-1", "landing ground roll", "m")
    airframe, _ = textbook("CJ-1", greatest_lift=2.5, drag_factor=1.1)
    distance, speed = landing_run(airframe, mass=54966.4 / GRAVITY, density=1.225, friction=0.4,
                                  method="mean force")
    assert distance == pytest.approx(row["printed"], rel=row["rtol"])
    assert speed == pytest.approx(45.32, abs=0.01)


def test_ground_roll_closed_forms() -> None:
    """Constant force: m V^2 / (2 F). Drag alone: (m / (rho f)) ln(V1 / V0) with f = 2 x 0.5 f."""
    assert float(ground_roll(lambda v: 3.0 + 0.0 * v, mass=2.0, start=0.0, end=12.0)
                 ) == pytest.approx(2.0 * 144.0 / 6.0, rel=1e-13)
    slowed = ground_roll(lambda v: -0.01 * v**2, mass=2.0, start=30.0, end=10.0)
    assert float(slowed) == pytest.approx(200.0 * np.log(3.0), rel=1e-9)
    assert np.isnan(ground_roll(lambda v: 1.0 - 0.1 * v, mass=2.0, start=0.0, end=12.0))
    with pytest.raises(ValueError, match="unknown method"):
        ground_roll(lambda v: v, mass=1.0, start=0.0, end=1.0, method="guess")


def test_transport_aircraft() -> None:
    """Cengel and Cimbala 2010, Ex. 11-5 (C): landing at 1.2 times stall, CL and power in cruise."""
    plain = Airframe(mass=0.0, wing_area=150.0, minimum_drag_coefficient=0.03, induced_factor=0.0,
                     greatest_lift=1.52, launch_speed=1.0, drag_rise_mach=2.0)
    flaps = Airframe(**{**plain.__dict__, "greatest_lift": 3.48})
    for airframe, quantity in ((plain, "no flaps"), (flaps, ", flaps")):
        row = next(row for row in ANSWERS if row["quantity"].endswith(quantity))
        speed = 1.2 * float(stall_speed(airframe, mass=70000.0, density=1.2))
        assert speed == pytest.approx(row["printed"], rel=row["rtol"])
    speed = 558.0 / 3.6
    drag = level_drag(plain, mass=70000.0, density=0.312, airspeed=speed, speed_of_sound=300.0)
    row = printed("transport", "CL in cruise", "-")
    assert float(drag.lift_coefficient) == pytest.approx(row["printed"], rel=row["rtol"])
    row = printed("transport", "cruise power", "kW")
    assert float(drag.total) * speed / 1000.0 == pytest.approx(row["printed"], rel=row["rtol"])


@authority(part="airframe", what="a human-powered aircraft", status="worked",
           source="Munson et al., Ex. 9.15")
def test_human_powered_aircraft():
    """CL 1.09 and 0.302 hp at 15 ft/s."""
    human = Airframe(mass=0.0, wing_area=96.0 * 7.5 * FOOT**2, minimum_drag_coefficient=0.046,
                     induced_factor=0.0, greatest_lift=2.0, launch_speed=4.0)
    speed = 15.0 * FOOT
    drag = level_drag(human, mass=210.0 * POUND / GRAVITY, density=2.38e-3 * SLUG_PER_CUBIC_FOOT,
                      airspeed=speed, speed_of_sound=340.0)
    yield from agree("CL", drag.lift_coefficient, 1.09, share=2e-3, why=PRINTED)
    yield from agree("power", drag.total * speed / 0.8 / HORSEPOWER, 0.302, share=2e-3, unit="hp",
                     why=PRINTED)


def test_least_drag_over_speed() -> None:
    """Fox and McDonald, Ex. 9.8 (C, of a graph): 320 mi/h; 522.56 in air of 0.375 the density."""
    jet = Airframe(mass=0.0, wing_area=1600.0 * FOOT**2, minimum_drag_coefficient=0.0182,
                   induced_factor=float(induced_factor(aspect_ratio=6.5, span_efficiency=1.0)),
                   greatest_lift=3.0, launch_speed=80.0)
    lift = best_lift_coefficient(jet, exponent=0.5)
    speed = lift_speed(jet, mass=150_000.0 * POUND / GRAVITY, lift_coefficient=lift,
                       density=0.00238 * SLUG_PER_CUBIC_FOOT * np.array([1.0, 0.375]))
    assert speed[0] / MILE_PER_HOUR == pytest.approx(320.0, rel=1e-2)
    assert 320.0 * speed[1] / speed[0] == pytest.approx(522.56, abs=0.01)


@given(st.floats(0.0, 0.3), st.floats(0.02, 0.2), st.floats(0.01, 0.06),
       st.sampled_from([0.5, 1.0, 1.5]))
def test_best_lift_is_the_best(offset, factor, least, exponent) -> None:
    """Closed form against a fine search, offset parabola."""
    airframe = Airframe(mass=1.0, wing_area=0.2, minimum_drag_coefficient=least,
                        induced_factor=factor, lift_of_least_drag=offset, greatest_lift=9.0,
                        launch_speed=10.0)
    lift = np.linspace(0.01, 6.0, 60_001)
    merit = lift**exponent / drag_coefficient(airframe, lift_coefficient=lift)
    found = float(best_lift_coefficient(airframe, exponent=exponent))
    assert found**exponent / drag_coefficient(airframe, lift_coefficient=found) >= merit.max() * (
        1.0 - 1e-9)


@given(st.floats(0.0, 6.0), st.floats(12.0, 40.0))
def test_steady_path_balances_forces(thrust, airspeed) -> None:
    """Along the path T = D + W sin, across it L = W cos."""
    sine = float(path_sine(AIRFRAME, thrust=thrust, mass=1.5, density=1.2, airspeed=airspeed,
                           speed_of_sound=340.0))
    cosine = np.sqrt(1.0 - sine**2)
    drag = level_drag(AIRFRAME, mass=1.5 * cosine, density=1.2, airspeed=airspeed,
                      speed_of_sound=340.0).total
    assert thrust - float(drag) == pytest.approx(1.5 * GRAVITY * sine, abs=1e-9)


@given(st.floats(0.2, 5.0), st.floats(13.0, 30.0), st.floats(0.5, 4.0))
def test_similar_aircraft_climb_and_glide_alike(size, airspeed, thrust) -> None:
    """Lengths by s, masses and forces by s^3, in the same air: speeds and rates go with root s.

    Angles, glide ratios and lift coefficients stay; powers go with s^3.5, runs with s.
    """
    large = Airframe(**{**AIRFRAME.__dict__, "wing_area": AIRFRAME.wing_area * size**2})
    root, cube = np.sqrt(size), size**3
    small = climb(AIRFRAME, thrust=thrust, mass=1.5, density=1.2, airspeed=airspeed,
                  speed_of_sound=1e6)
    other = climb(large, thrust=thrust * cube, mass=1.5 * cube, density=1.2,
                  airspeed=airspeed * root, speed_of_sound=1e6)
    assert float(other.rate) == pytest.approx(float(small.rate) * root, rel=1e-9, abs=1e-9)
    assert float(other.angle) == pytest.approx(float(small.angle), rel=1e-9, abs=1e-9)
    least, most = (least_to_fly(plane, mass=mass, density=1.2)
                   for plane, mass in ((AIRFRAME, 1.5), (large, 1.5 * cube)))
    assert float(most.power) == pytest.approx(float(least.power) * size**3.5, rel=1e-10)
    assert float(most.thrust_speed) == pytest.approx(float(least.thrust_speed) * root, rel=1e-10)
    runs = [take_off_run(lambda v, t=pull: t + 0.0 * v, plane, mass=mass, density=1.2,
                         friction=0.05, lift_coefficient=0.4)[0]
            for plane, mass, pull in ((AIRFRAME, 1.5, 6.0), (large, 1.5 * cube, 6.0 * cube))]
    assert runs[1] == pytest.approx(runs[0] * size, rel=1e-9)


def test_no_thrust_is_a_glide_and_much_thrust_has_no_straight_line() -> None:
    lift = 0.6
    flown = glide(AIRFRAME, mass=1.5, density=1.2, lift_coefficient=lift)
    down = climb(AIRFRAME, thrust=0.0, mass=1.5, density=1.2, airspeed=flown.airspeed,
                 speed_of_sound=340.0)
    assert float(down.angle) == pytest.approx(-float(flown.angle), rel=1e-10)
    assert float(down.rate) == pytest.approx(-float(flown.sink), rel=1e-10)
    assert np.isnan(climb(AIRFRAME, thrust=40.0, mass=1.5, density=1.2, airspeed=20.0,
                          speed_of_sound=340.0).rate)
    assert np.isnan(climb(AIRFRAME, thrust=2.0, mass=1.5, density=1.2, airspeed=5.0,
                          speed_of_sound=340.0).rate)


def test_a_matched_machine_goes_through_the_same_functions() -> None:
    """The batch of altitudes is its points, and the ceiling of a propeller on its pack exists."""
    one = propeller()
    mass = float(AIRFRAME.mass + one.installed_mass)
    law = thrust_law(one)
    heights = np.array([100.0, 2000.0, 5000.0])
    batch = best_climb(law, AIRFRAME, mass=mass, site=SITE, altitude=heights, highest=45.0)
    assert np.all(np.diff(batch.rate) < 0.0)
    alone = best_climb(law, AIRFRAME, mass=mass, site=SITE, altitude=heights[1], highest=45.0)
    assert float(alone.rate) == pytest.approx(float(batch.rate[1]), rel=1e-9)
    found = ceilings(law, AIRFRAME, mass=mass, site=SITE, highest=60.0)
    assert 5000.0 < found.service < found.absolute < 20000.0


def installed(candidate, airspeed, air):
    return operate(candidate, airspeed=np.asarray(airspeed), air=air).installed_thrust


def test_launch_speed_needed() -> None:
    """Constant thrust that crosses the drag twice: the lower crossing; closed form without CL0."""
    airframe = Airframe(mass=0.0, wing_area=0.2, minimum_drag_coefficient=0.02,
                        induced_factor=0.08, greatest_lift=3.0, launch_speed=9.0,
                        drag_rise_mach=2.0)
    air = standard_air(altitude=0.0)
    weight, thrust = 1.6 * GRAVITY, 1.6
    scale = 0.5 * float(air.density) * 0.2
    balance = thrust / weight
    square = weight / (2.0 * scale * 0.02) * (balance - np.sqrt(balance**2 - 4.0 * 0.08 * 0.02))
    assert launch_speed_needed(lambda v: thrust + 0.0 * v, airframe, mass=1.6, air=air,
                               airspeed=18.0) == pytest.approx(np.sqrt(square), rel=1e-6)
    assert np.isnan(launch_speed_needed(lambda v: thrust + 0.0 * v, airframe, mass=1.6, air=air,
                                        airspeed=60.0))
    stall = float(stall_speed(airframe, mass=1.6, density=air.density))
    assert launch_speed_needed(lambda v: 9.0 + 0.0 * v, airframe, mass=1.6, air=air,
                               airspeed=18.0) == pytest.approx(stall)
    # nothing flies level below its stall, whatever the thrust
    assert np.isnan(launch_speed_needed(lambda v: 9.0 + 0.0 * v, airframe, mass=1.6, air=air,
                                        airspeed=0.99 * stall))


def test_what_would_let_it_pass() -> None:
    """At the largest drag area and at the largest mass, thrust just meets drag on the way."""
    one, air = fan(), SITE.air()
    found = passing(one, AIRFRAME, air=air, airspeed=34.0, shared_mass=0.3)
    assert not found.passed
    assert found.spare < 0.0
    assert found.drag_area < found.drag_area_now
    way = np.linspace(16.0, 34.0, 161)
    lean = Airframe(**{**AIRFRAME.__dict__,
                       "minimum_drag_coefficient": found.drag_area / AIRFRAME.wing_area})
    mass = float(AIRFRAME.mass + one.installed_mass)
    left = installed(one, way, air) - level_drag(lean, mass=mass, density=air.density,
                                                 airspeed=way, speed_of_sound=340.0).total
    assert left.min() == pytest.approx(0.0, abs=1e-9)
    assert found.count == 2
    double = with_count(one, 2, shared_mass=0.3)
    assert passing(double, AIRFRAME, air=air, airspeed=34.0).passed
    easy = passing(one, AIRFRAME, air=air, airspeed=24.0)
    assert easy.passed
    heavy = easy.airframe_mass + float(one.installed_mass)
    way = np.linspace(16.0, 24.0, 161)
    drag = level_drag(AIRFRAME, mass=heavy, density=air.density, airspeed=way,
                      speed_of_sound=340.0)
    tight = np.minimum((installed(one, way, air) - drag.total) / drag.total,
                       AIRFRAME.greatest_lift - drag.lift_coefficient)
    assert tight.min() == pytest.approx(0.0, abs=1e-6)


def test_units() -> None:
    two = with_count(fan(), 2, shared_mass=0.3)
    assert float(two.installed_mass) == pytest.approx(0.3 + 2.0 * 0.28)
    assert float(np.asarray(two.unit.supply.units)) == 2.0
    asked = []

    def never(one) -> bool:
        asked.append(one.count)
        return False

    assert units_needed(fan(), never, most_units=4) is None
    assert asked == [1, 2, 3, 4]


# Written out by hand -------------------------------------------------------------------------

OFFSET = Airframe(mass=0.0, wing_area=0.2, minimum_drag_coefficient=0.02, induced_factor=0.08,
                  lift_of_least_drag=0.3, greatest_lift=1.2, launch_speed=9.0, drag_rise_mach=0.4)


@pytest.mark.parametrize("airspeed", [14.0, 60.0, 170.0])
@pytest.mark.parametrize("inertia", [0.0, 0.2])
def test_a_path_balances_weight_thrust_and_drag_with_its_rise(airspeed, inertia) -> None:
    """W sin (1 + inertia) = T - q S (CDmin + k (CL cos - CL0)^2 + 20 (M - Mdd)^4)."""
    weight, force = 1.5 * GRAVITY, 0.5 * 1.1 * airspeed**2 * 0.2
    sine = 0.35
    lift = weight * np.sqrt(1.0 - sine**2) / force
    rise = 20.0 * max(airspeed / 330.0 - 0.4, 0.0) ** 4
    drag = force * (0.02 + 0.08 * (lift - 0.3) ** 2 + rise)
    thrust = drag + weight * sine * (1.0 + inertia)
    found = path_sine(OFFSET, thrust=thrust, mass=1.5, density=1.1, airspeed=airspeed,
                      speed_of_sound=330.0, inertia=inertia)
    assert float(found) == pytest.approx(sine, rel=1e-9)


def test_rate_and_angle_of_a_climb() -> None:
    """Rate V sin, angle arcsin; flown from the stall on; a textbook's excess may exceed one."""
    stall = float(stall_speed(OFFSET, mass=1.5, density=1.1))
    speed = np.array([0.999, 1.0, 1.5]) * stall
    flown = climb(OFFSET, thrust=4.0, mass=1.5, density=1.1, airspeed=speed, speed_of_sound=330.0)
    assert np.isnan([flown.rate[0], flown.angle[0]]).all()
    assert np.isfinite(flown.rate[1:]).all()
    assert np.sin(flown.angle[1:]) * speed[1:] == pytest.approx(flown.rate[1:], rel=1e-14)
    steep = climb(OFFSET, thrust=40.0, mass=1.5, density=1.1, airspeed=2.0 * stall,
                  speed_of_sound=330.0, small_angle=True)
    assert float(steep.rate) > 2.0 * stall
    assert np.isnan(steep.angle)


@pytest.mark.parametrize("best", [-1.0, 0.0, 0.137, 0.5, 0.98, 1.0, 2.0])
def test_the_greatest_of_a_parabola_is_at_its_top_or_at_an_end(best: float) -> None:
    low, high = np.array([3.0, 10.0]), np.array([5.0, 40.0])
    top = low + best * (high - low)
    found = greatest(lambda x: -np.square(x - top[:, None]), low, high)
    assert found == pytest.approx(np.clip(top, low, high), abs=5e-4)
    none = greatest(lambda x: np.full(x.shape, np.nan), low, high)
    assert np.isnan(none).all()
    gap = greatest(lambda x: np.where(x > 4.0, np.nan, x), low[:1], high[:1])
    assert gap == pytest.approx([4.0], abs=1e-3)


@pytest.mark.parametrize(("law", "absolute", "words"), [
    (lambda h: 8.0 * (1.0 - h / 3000.0), 2700.0, "falls to zero there"),
    (lambda h: np.where(h < 100.0, 0.0, 8.0 * (1.0 - h / 3000.0)), 2700.0, "cannot climb at 0 m"),
    (lambda h: 0.86 + 0.0 * h, np.nan, "still climbs at the highest altitude known"),
    (lambda h: np.where(((h > 1400.0) & (h < 2600.0)) | (h > 3400.0), 0.0, 8.0), 1400.0,
     "falls to zero there"),
])
def test_ceilings_of_made_up_thrusts(law, absolute, words) -> None:
    """Nearly no drag but that of 0.8 N at any speed: thrust meets it at heights known beforehand.

    The first loss of climb is the ceiling, though it might climb again above.
    """
    slippery = replace(OFFSET, minimum_drag_coefficient=1e-9, induced_factor=1e-9)
    found = ceilings(lambda v, h: law(h) - 0.8 + 0.0 * v, slippery, mass=1.5, site=Site(),
                     highest=30.0, ceiling_limit=4000.0, service="0.5 m/s")
    assert words in found.reason
    if np.isnan(absolute):
        assert np.isnan(found.absolute)
    else:
        assert found.absolute == pytest.approx(absolute, abs=3.0)


def test_service_ceiling_alone_is_no_ceiling() -> None:
    """The rate falls below 0.5 m/s and stays above zero: it still climbs."""
    slippery = replace(OFFSET, minimum_drag_coefficient=1e-9, induced_factor=1e-9)
    found = ceilings(lambda v, h: 1.0 / (1.0 + h / 1000.0) + 0.0 * v, slippery, mass=1.5,
                     site=Site(), highest=30.0, ceiling_limit=8000.0)
    assert np.isnan(found.absolute)
    assert "still climbs" in found.reason
    # rate V T / W, with 30 m/s growing as 1/sqrt(density): 0.5 m/s where V T falls to W / 2
    at = Site().air(found.service)
    speed = 30.0 * float(np.sqrt(Site().air().density / at.density))
    assert speed / (1.0 + found.service / 1000.0) == pytest.approx(0.5 * 1.5 * GRAVITY, rel=1e-3)


def test_a_glide_with_more_drag_area() -> None:
    """tan of the angle is (CD + f / S) / CL; V from the lift that carries W cos."""
    flown = glide(OFFSET, mass=1.5, density=1.1, lift_coefficient=0.7, extra_drag_area=0.004)
    cost = 0.02 + 0.08 * 0.4**2 + 0.02
    assert float(flown.glide_ratio) == pytest.approx(0.7 / cost, rel=1e-12)
    assert np.tan(float(flown.angle)) == pytest.approx(cost / 0.7, rel=1e-12)
    assert 0.5 * 1.1 * float(flown.airspeed) ** 2 * 0.2 * 0.7 == pytest.approx(
        1.5 * GRAVITY * np.cos(float(flown.angle)), rel=1e-12)


# The runway by hand --------------------------------------------------------------------------


def test_force_along_the_runway() -> None:
    """T - q S (CDmin + share k (CL - CL0)^2) - mu (W - q S CL)."""
    found = roll_force(OFFSET, thrust=5.0, mass=1.5, density=1.1, airspeed=8.0, friction=0.06,
                       lift_coefficient=0.9, induced_share=0.7)
    force = 0.5 * 1.1 * 64.0 * 0.2
    assert float(found) == pytest.approx(
        5.0 - force * (0.02 + 0.7 * 0.08 * 0.6**2) - 0.06 * (1.5 * GRAVITY - 0.9 * force),
        rel=1e-13)


def test_rolls_of_a_batch_and_rolls_that_lead_nowhere() -> None:
    """m (V1^2 - V0^2) / (2 F), both ways; none where the force points away, zero for no change."""
    start, end = np.array([0.0, 12.0, 3.0, 5.0]), np.array([12.0, 0.0, 9.0, 5.0])
    force = np.array([3.0, -3.0, -1.0, 2.0])
    found = ground_roll(lambda v: force[:, None] + 0.0 * v, mass=2.0, start=start, end=end)
    assert found[:2] == pytest.approx([48.0, 48.0], rel=1e-12)
    assert np.isnan(found[2])
    mean = ground_roll(lambda v: force[:, None] + 0.0 * v, mass=2.0, start=start, end=end,
                       method="mean force")
    assert mean[:2] == pytest.approx([48.0, 48.0], rel=1e-12)
    assert np.isnan(mean[2])
    assert mean[3] == 0.0
    for start, end in ((3.0, 3.1), (3.1, 3.0)):  # nor a short one: -0.61 m
        short = ground_roll(lambda v, sign=end - start: -np.sign(sign) + 0.0 * v, mass=2.0,
                            start=np.array([start]), end=np.array([end]), method="mean force")
        assert np.isnan(short).all()
    read = []
    ground_roll(lambda v: read.append(float(v.ravel()[0])) or np.array([-1.0]), mass=1.0,
                start=np.array([10.0]), end=np.array([0.0]), method="mean force")
    assert read == [7.0]


@pytest.mark.parametrize("lift", [0.0, 0.5])
def test_a_landing_roll_by_quadrature(lift: float) -> None:
    """SciPy's quad of m V dV / F; with the nose down no induced drag is left."""
    found, speed = landing_run(OFFSET, mass=1.5, density=1.1, friction=0.1, thrust=-0.5,
                               lift_coefficient=lift)
    assert speed == pytest.approx(1.3 * float(stall_speed(OFFSET, mass=1.5, density=1.1)))

    def slowing(v: float) -> float:
        force = 0.5 * 1.1 * v**2 * 0.2
        drag = force * (0.02 + (0.08 * (lift - 0.3) ** 2 if lift else 0.0))
        return 1.5 * v / (0.5 + drag + 0.1 * (1.5 * GRAVITY - lift * force))

    assert found == pytest.approx(quad(slowing, 0.0, speed)[0], rel=1e-8)


def test_a_take_off_roll_by_quadrature() -> None:
    found, speed = take_off_run(lambda v: 6.0 - 0.1 * v, OFFSET, mass=1.5, density=1.1,
                                friction=0.08, lift_coefficient=0.4, induced_share=0.6)
    assert speed == pytest.approx(1.2 * float(stall_speed(OFFSET, mass=1.5, density=1.1)))

    def gaining(v: float) -> float:
        force = 0.5 * 1.1 * v**2 * 0.2
        return 1.5 * v / (6.0 - 0.1 * v - force * (0.02 + 0.6 * 0.08 * 0.1**2)
                          - 0.08 * (1.5 * GRAVITY - 0.4 * force))

    assert found == pytest.approx(quad(gaining, 0.0, speed)[0], rel=1e-8)


@pytest.mark.parametrize("mach", [0.3, 0.4, 0.55, 0.8])
def test_the_drag_rise_is_twenty_times_the_fourth_power(mach: float) -> None:
    """Lock's formula (from memory), on the reference area."""
    found = level_drag(OFFSET, mass=1.5, density=1.1, airspeed=330.0 * mach, speed_of_sound=330.0)
    force = 0.5 * 1.1 * (330.0 * mach) ** 2 * 0.2
    assert float(found.compressibility) == pytest.approx(
        force * 20.0 * max(mach - 0.4, 0.0) ** 4, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("offset", [0.0, 0.15])
def test_thrust_above_weight_climbs_straight_up_at_one_airspeed(offset: float) -> None:
    """T = W + q S (CDmin + k CL0^2), closed form for constant thrust; lines are found again
    above it, none below."""
    frame = replace(AIRFRAME, lift_of_least_drag=offset)
    air, mass = SEA_LEVEL.air(), 1.0
    thrust = 1.5 * mass * GRAVITY
    bent = frame.minimum_drag_coefficient + frame.induced_factor * offset**2
    expected = np.sqrt((thrust - mass * GRAVITY) / (0.5 * air.density * frame.wing_area * bent))
    found = vertical_speed(frame, thrust=lambda v: np.full(np.shape(v), thrust), mass=mass,
                           density=float(air.density), speed_of_sound=1e6, lowest=5.0,
                           highest=120.0)
    assert found == pytest.approx(float(expected), rel=1e-6)
    beyond = climb(frame, thrust=thrust, mass=mass, density=air.density, speed_of_sound=1e6,
                   airspeed=np.linspace(1.02 * found, 1.1 * found, 50))
    assert np.isfinite(beyond.rate).all()
    assert np.all(beyond.rate < 1.1 * found)
    below = climb(frame, thrust=thrust, mass=mass, density=air.density, speed_of_sound=1e6,
                  airspeed=np.linspace(0.5 * found, 0.99 * found, 20))
    assert np.isnan(below.rate).all()  # no steady line: it would curve upward
