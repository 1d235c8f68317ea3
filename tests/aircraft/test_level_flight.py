"""Drag polars and level speeds: Anderson's two example aircraft, closed forms, and every launch."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.aircraft.textbook_flight import least_drag
from tests.authority import rows
from tests.credibility.records import PRINTED, agree, authority
from tests.machines import AIR, AIRFRAME
from thrustlapse.air.atmosphere import GRAVITY, Air, standard_air
from thrustlapse.aircraft.drag import (
    Airframe,
    drag_area,
    heaviest,
    induced_factor,
    level_drag,
    stall_speed,
)
from thrustlapse.aircraft.level_flight import level_flight

FOOT, POUND, SLUG_PER_CUBIC_FOOT = 0.3048, 4.4482216152605, 515.378818
TEXTBOOK = {row["aircraft"]: row for row in rows("aircraft_textbook")}


def textbook(name: str, *, launch: float = 60.0) -> tuple[Airframe, float]:
    """Airframe of an example aircraft and its total mass [kg]; CLmax is not its concern here."""
    row = TEXTBOOK[name]
    ratio = row["b_m"] ** 2 / row["S_m2"]
    return Airframe(mass=0.0, wing_area=row["S_m2"], minimum_drag_coefficient=row["CD0"],
                    induced_factor=float(induced_factor(aspect_ratio=ratio,
                                                        span_efficiency=row["oswald_e"])),
                    greatest_lift=3.0, launch_speed=launch, drag_rise_mach=2.0), row[
                        "W_N"] / GRAVITY


def flown(law):
    """A candidate known only by a thrust law [N] of airspeed [m/s]."""
    return lambda airspeed: SimpleNamespace(installed_thrust=np.asarray(law(airspeed)))


REQUIRED = [row for row in rows("performance_level_flight") if row["quantity"] == "TR"]


@authority(part="airframe", what="thrust required", status="memory",
           source="Anderson, Introduction to Flight, Ex 6.1 table, from memory")
def test_thrust_required():
    for row in REQUIRED:
        airframe, mass = textbook(row["aircraft"])
        feet = re.search(r"V=(\d+) ft/s", row["inputs"])[1]
        drag = level_drag(airframe, mass=mass, density=0.002377 * SLUG_PER_CUBIC_FOOT,
                          airspeed=float(feet) * FOOT, speed_of_sound=340.0)
        yield from agree(f"{row['aircraft']} at {feet} ft/s", drag.total / POUND, row["printed"],
                         share=row["rtol"], unit="lb", why="printed to the pound")


@authority(part="airframe", what="best glide ratio", status="worked",
           source="Anderson, Introduction to Flight, Ex 6.7 and 6.8")
def test_best_glide_ratio():
    for name in ("CP-1", "CJ-1"):
        row = next(row for row in rows("performance_level_flight")
                   if row["quantity"] == "(L/D)max" and row["aircraft"] == name)
        airframe, mass = textbook(name)
        drag, _ = least_drag(airframe, mass=mass, density=1.225)
        yield from agree(name, mass * GRAVITY / drag, row["printed"], share=row["rtol"],
                         why=PRINTED)


@pytest.mark.parametrize("name", ["CP-1", "CJ-1"])
def test_aspect_ratio(name) -> None:
    """Anderson, Ex 6.1 (M): 7.37 and 8.93, of the spans and areas in feet."""
    row = next(row for row in rows("performance_level_flight")
               if row["quantity"] == "AR" and row["aircraft"] == name)
    feet = TEXTBOOK[name]
    assert feet["b_ft"] ** 2 / feet["S_ft2"] == pytest.approx(row["printed"], rel=row["rtol"])
    assert feet["b_m"] ** 2 / feet["S_m2"] == pytest.approx(row["closed_form"], rel=2e-3)


@pytest.mark.parametrize(("name", "law", "launch"), [
    ("CP-1", lambda v: 230.0 * 745.7 * 0.8 / v, 60.0),
    ("CJ-1", lambda v: 2.0 * 3650.0 * POUND + 0.0 * v, 150.0)])
def test_top_speed_at_sea_level_in_feet(name, law, launch) -> None:
    """Anderson, Ex 6.4 (M, read off graphs): 265 and 975 ft/s; exact within rounded inputs."""
    row = next(row for row in rows("performance_level_flight")
               if row["quantity"].startswith("Vmax sea level") and row["aircraft"] == name
               and row["unit"] == "ft/s")
    airframe, mass = textbook(name, launch=launch)
    found = level_flight(flown(law), airframe, mass=mass, air=standard_air(altitude=0.0))
    assert found.top_speed / FOOT == pytest.approx(row["printed"], rel=row["rtol"])
    assert found.top_speed / FOOT == pytest.approx(row["closed_form"], rel=2e-3)


@authority(part="airframe", what="top speed on constant power", status="worked",
           source="Anderson, Introduction to Flight, Ex 6.4a")
def test_top_speed_on_constant_power():
    """CP-1, 230 hp at 0.8, 81 m/s off a graph; 79.7 m/s exact."""
    airframe, mass = textbook("CP-1")
    found = level_flight(flown(lambda v: 230.0 * 746.0 * 0.8 / v), airframe, mass=mass,
                         air=standard_air(altitude=0.0))
    yield from agree("CP-1, printed", found.top_speed, 81.0, share=2e-2, unit="m/s",
                     why="read off a graph")
    yield from agree("CP-1, exact", found.top_speed, 79.73, share=1e-3, unit="m/s",
                     status="closed form", why="rounded horsepower")


@authority(part="airframe", what="top speed on constant thrust", status="worked",
           source="Anderson, Introduction to Flight, Ex 6.16c and 6.4b")
def test_top_speed_on_constant_thrust():
    """CJ-1 at sea level and at 6706 m, thrust as density."""
    airframe, mass = textbook("CJ-1", launch=150.0)
    for density, printed, rtol in ((1.225, 298.4, 2e-3), (0.6107, 294.0, 1e-2)):
        air = Air(pressure=density * 287.05287 * 288.15, temperature=288.15)
        thrust = 32485.0 * density / 1.225
        found = level_flight(flown(lambda v, t=thrust: t + 0.0 * v), airframe, mass=mass, air=air)
        yield from agree(f"CJ-1 in air of {density} kg/m3", found.top_speed, printed, share=rtol,
                         unit="m/s", why="rounded inputs, or a graph")


@authority(part="airframe", what="stall speed and density", status="worked",
           source="Fox and McDonald 2001, Ex 9.8")
def test_stall_speed_goes_with_the_root_of_density():
    """175 mi/h at sea level is 285.77 mi/h at sigma 0.375."""
    speeds = [float(stall_speed(AIRFRAME, mass=1.5, density=1.225 * ratio))
              for ratio in (1.0, 0.375)]
    yield from agree("stall speed in thin air", 175.0 * speeds[1] / speeds[0], 285.77, within=0.01,
                     unit="mi/h", why=PRINTED)


def test_top_speed_without_induced_drag() -> None:
    """V = sqrt(2 F / (rho f)) (closed form)."""
    clean = Airframe(mass=0.0, wing_area=0.2, minimum_drag_coefficient=0.02, induced_factor=1e-15,
                     greatest_lift=1.0, launch_speed=20.0, drag_rise_mach=2.0)
    found = level_flight(flown(lambda v: 3.0 + 0.0 * v), clean, mass=1.0, air=AIR)
    assert found.top_speed == pytest.approx(np.sqrt(2.0 * 3.0 / (1.225 * float(drag_area(clean)))),
                                            rel=1e-8)


def test_least_drag_is_the_least_of_the_curve() -> None:
    """Offset parabola against a fine search."""
    speeds = np.linspace(5.0, 40.0, 200_001)
    total = level_drag(AIRFRAME, mass=1.6, density=1.2, airspeed=speeds,
                       speed_of_sound=340.0).total
    drag, speed = least_drag(AIRFRAME, mass=1.6, density=1.2)
    assert float(drag) == pytest.approx(total.min(), rel=1e-9)
    assert float(speed) == pytest.approx(speeds[np.argmin(total)], rel=1e-4)


THRUST = 1.6
"""Thrust that crosses the drag of AIRFRAME at 1.6 kg twice above the stall [N]."""


def both_speeds(launch: float, law=lambda v: THRUST + 0.0 * v):
    airframe = Airframe(**{**AIRFRAME.__dict__, "launch_speed": launch, "greatest_lift": 3.0})
    return level_flight(flown(law), airframe, mass=1.6, air=AIR)


def test_all_level_speeds_and_which_are_stable() -> None:
    found = both_speeds(20.0)
    assert found.speeds.size == 2
    assert found.stable.tolist() == [False, True]
    for speed in found.speeds:
        drag = level_drag(AIRFRAME, mass=1.6, density=1.225, airspeed=speed, speed_of_sound=340.0)
        assert float(drag.total) == pytest.approx(THRUST, rel=1e-7)


def test_launch_between_the_level_speeds_reaches_the_upper() -> None:
    found = both_speeds(20.0)
    assert found.top_speed == pytest.approx(found.speeds[1])


def test_launch_above_the_upper_slows_to_it() -> None:
    found = both_speeds(60.0)
    assert found.top_speed == pytest.approx(found.speeds[1])
    assert "slows" in found.reason


def test_launch_below_the_lower_is_not_enough() -> None:
    found = both_speeds(float(both_speeds(20.0).speeds[0]) * 0.98)
    assert np.isnan(found.top_speed)
    assert "launched faster" in found.reason


def test_launch_below_the_stall_is_told() -> None:
    found = both_speeds(2.0)
    assert np.isnan(found.top_speed)
    assert "below the stall" in found.reason


def test_never_enough_thrust_is_told() -> None:
    found = both_speeds(20.0, law=lambda v: 0.1 + 0.0 * v)
    assert np.isnan(found.top_speed)
    assert found.speeds.size == 0
    assert "every speed" in found.reason


def test_the_end_of_what_is_known_is_told() -> None:
    found = both_speeds(20.0, law=lambda v: np.where(v < 40.0, 9.0, np.nan))
    assert np.isnan(found.top_speed)
    assert 35.0 < found.lowest_bound < 40.0
    assert "still exceeds" in found.reason
    assert "is known" in found.reason


def test_where_the_search_ends_the_machine_is_not_said_to_be_unknown() -> None:
    """History: the thrust known everywhere, and "the highest speed at which the machine is known".
    """
    found = both_speeds(20.0, law=lambda v: 9e4 + 0.0 * v)
    assert found.lowest_bound == pytest.approx(0.95 * float(AIR.speed_of_sound), rel=1e-3)
    assert "looked at" in found.reason
    assert "is known" not in found.reason


def test_a_gap_in_the_thrust_curve_is_not_flown_through() -> None:
    """It once named the last speed known beyond the gap."""
    found = both_speeds(20.0, law=lambda v: np.where((v > 40.0) & (v < 50.0), np.nan, 9.0))
    assert np.isnan(found.top_speed)
    assert 30.0 < found.lowest_bound <= 40.0


@pytest.mark.parametrize("camber", [0.0, 0.25])
def test_the_heaviest_that_a_drag_allows_by_brute_force(camber) -> None:
    """Masses tried until the lift-dependent drag, or the stall, forbids more."""
    airframe = replace(AIRFRAME, lift_of_least_drag=camber)
    masses = np.linspace(0.01, 6.0, 60_000)
    for airspeed, induced in ((30.0, 0.4), (14.0, 0.5), (14.0, 40.0)):
        drag = level_drag(airframe, mass=masses, density=1.2, airspeed=airspeed,
                          speed_of_sound=340.0)
        flies = (drag.induced <= induced) & (drag.lift_coefficient <= airframe.greatest_lift)
        assert heaviest(airframe, induced=induced, density=1.2, airspeed=airspeed) == \
            pytest.approx(masses[flies][-1], abs=2e-4)
    assert np.isnan(heaviest(airframe, induced=-0.1, density=1.2, airspeed=30.0))
