"""Crossovers, thresholds, footings and nozzles: what the study adds to the operating points."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from tests.machines import (
    AIR,
    AIRFRAME,
    BLOWER,
    PROPELLER,
    blocked_speeds,
    candidate,
    circle,
    kt,
    lossless_motor,
)
from tests.propulsor.test_ideal import matched_fan
from tests.report.machines import HandMade
from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.level_flight import level_flight
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.arrays import Array
from thrustlapse.elementwise import crossings
from thrustlapse.power.drive import Drive
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import (
    Installation,
    external_drag,
    operate,
    with_power_limit,
)
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import ON_AIRFRAME, Comparison
from thrustlapse.study.footing import Footing
from thrustlapse.study.lapse import reduced_lapse
from thrustlapse.study.limits.flow import stretches
from thrustlapse.study.nozzle_size import size_nozzle

EQUAL = Basis(footing="same electrical power", electrical_power=400.0)
SEA_LEVEL = Site()


Story = partial(HandMade, airframe=AIRFRAME, comparison=EQUAL, title="by hand", site=SEA_LEVEL,
                pack_current_rating=15.0, aircraft_use=None, pack=None)
"""A scenario built by hand: nothing of the file reader is needed."""

FAST = replace(PROPELLER, diameter=0.13, drive=replace(
    PROPELLER.drive, motor=replace(PROPELLER.drive.motor, torque_constant=kt(2300.0))))
"""A smaller propeller on a faster motor: less thrust at rest, more at speed."""
SPEEDS = np.linspace(0.0, 70.0, 36)
STORY = Story(candidates={"big": candidate(PROPELLER, name="big"),
                          "small": candidate(FAST, name="small", mass=0.9)}, airspeeds=SPEEDS)


@pytest.fixture(scope="module")
def story() -> Comparison:
    return compare(STORY)


def test_a_crossover_is_where_the_curves_meet(story) -> None:
    for crossing in story.crossovers:
        if crossing.kind == ON_AIRFRAME:
            continue
        sides = [float(Footing(basis=STORY.comparison, candidates=STORY.candidates).fly(
            STORY.candidates[name], np.array([crossing.airspeed])).installed_thrust[0])
            for name in crossing.between]
        assert sides[0] == pytest.approx(sides[1], rel=1e-6)
        assert crossing.net_thrust == pytest.approx(sides[0], rel=1e-6)


def test_the_drag_area_threshold_is_what_gives_both_the_same_top_speed(story) -> None:
    """An aircraft with exactly f* flies level at V* on either candidate (identity)."""
    crossing = next(one for one in story.crossovers if one.kind == ON_AIRFRAME)
    assert crossing.drag_area_threshold > 0.0
    airframe = replace(AIRFRAME, minimum_drag_coefficient=crossing.drag_area_threshold
                       / AIRFRAME.wing_area, drag_rise_mach=2.0)
    footing = Footing(basis=STORY.comparison, candidates=STORY.candidates)
    for name in crossing.between:
        made = STORY.candidates[name]
        found = level_flight(lambda v, c=made: footing.fly(c, v), airframe,
                             mass=total_mass(made, airframe), air=STORY.site.air())
        assert np.min(np.abs(found.speeds - crossing.airspeed)) < 1e-3


def test_the_threshold_does_not_depend_on_parasite_drag(story) -> None:
    dirty = replace(STORY, airframe=replace(AIRFRAME, minimum_drag_coefficient=0.2))
    again = [one for one in compare(dirty).crossovers if one.kind == ON_AIRFRAME]
    before = [one for one in story.crossovers if one.kind == ON_AIRFRAME]
    assert [one.airspeed for one in again] == pytest.approx([one.airspeed for one in before],
                                                            rel=1e-6)


def test_same_electrical_power_is_the_same(story) -> None:
    for result in story.candidates.values():
        reached = (result.short_of_reference == 0.0) & result.curve.valid
        assert reached.any()
        np.testing.assert_allclose(result.curve.electrical_power[reached], 400.0, rtol=2e-3)
        short = result.short_of_reference == 1.0
        assert np.all(result.curve.electrical_power[short] < 400.0)


def test_equal_power_follows_a_reference_candidate() -> None:
    basis = Basis(footing="same electrical power", reference="big")
    footing = Footing(basis=basis, candidates=STORY.candidates)
    speeds = np.array([0.0, 20.0])
    wanted = operate(STORY.candidates["big"], airspeed=speeds).electrical_power
    got = footing.fly(STORY.candidates["small"], speeds)
    assert np.all(got.electrical_power <= wanted * (1.0 + 1e-9))


def test_a_power_limit_is_shared_by_all_units() -> None:
    two = with_power_limit(candidate(BLOWER, count=2), 300.0)
    point = operate(two, airspeed=0.0)
    assert float(point.electrical_power) == pytest.approx(300.0, rel=1e-9)
    assert float(point.installed_thrust) == pytest.approx(2.0 * float(point.net_thrust), rel=1e-9)


def test_installed_thrust_takes_off_the_pod(story) -> None:
    made = STORY.candidates["big"]
    point = operate(made, airspeed=30.0)
    drag = 0.5 * float(made.site.air().density) * 30.0**2 * 4e-4
    assert float(point.net_thrust - point.installed_thrust) == pytest.approx(drag, rel=1e-9)


def test_findings_name_the_overloaded_pack_first(story) -> None:
    """400 W from about 23 V is 17 A, more than the 15 A the pack is rated for."""
    assert story.findings[0].rank == "stop"
    assert "pack current" in story.findings[0].text
    ranks = [finding.rank for finding in story.findings]
    assert ranks == sorted(ranks, key=["stop", "check", "note"].index)


def test_without_an_airframe_there_is_thrust_but_no_top_speed() -> None:
    found = compare(replace(STORY, airframe=None))
    assert all(result.level is None for result in found.candidates.values())
    assert all(one.kind != ON_AIRFRAME for one in found.crossovers)


def test_a_single_airspeed_is_enough() -> None:
    found = compare(replace(STORY, airspeeds=np.array([0.0])))
    assert found.candidates["big"].curve.shape == (1,)


def test_curves_that_do_not_meet_have_no_crossover() -> None:
    twins = Story(candidates={"a": candidate(PROPELLER, name="a", drag_area=1e-4),
                              "b": candidate(PROPELLER, name="b", drag_area=9e-4)},
                  airspeeds=np.linspace(5.0, 30.0, 9))
    assert compare(twins).crossovers == ()


@pytest.mark.parametrize("airspeed", [0.0, 30.0])
def test_best_nozzle_against_a_scalar_search(airspeed) -> None:
    made = candidate(BLOWER, drag_area=0.0)
    found = size_nozzle(made, airspeed=np.array([airspeed]),
                        fly=lambda c, v: operate(c, airspeed=v))

    def short(diameter: float) -> float:
        unit = replace(BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=circle(diameter)))
        return -float(operate_ducted(unit, air=made.site.air(), airspeed=airspeed).net_thrust)

    best = minimize_scalar(short, bounds=(0.008, 0.026), method="bounded",
                           options={"xatol": 1e-9})
    assert found.best_thrust[0] == pytest.approx(-best.fun, rel=2e-4)
    assert found.best_diameter[0] == pytest.approx(best.x, rel=2e-2)
    assert found.cost[0] == pytest.approx(1.0 - found.fixed_thrust[0] / found.best_thrust[0])


def test_linear_fan_gives_most_static_thrust_at_a_third_of_its_pressure() -> None:
    """p = p_max (1 - Q/Qmax) at constant speed and low Mach number: p_max / 3 (closed form).

    Without loss in front of the nozzle; the made-up fan's head is such a line.
    """
    fan = matched_fan(slow=1e-2)
    fan = replace(fan, duct=replace(fan.duct, loss_coefficient=0.0, area=circle(0.2)),
                  nozzle=replace(fan.nozzle, exit_area=circle(0.05)))
    made = candidate(fan, drag_area=0.0)
    found = size_nozzle(made, airspeed=np.array([0.0]), fly=lambda c, v: operate(c, airspeed=v))
    unit = replace(fan, nozzle=replace(fan.nozzle, exit_area=circle(found.best_diameter[0])))
    point = operate_ducted(unit, air=AIR, airspeed=0.0)
    shutoff = float(fan.rotor.stage.head(0.0))
    assert float(point.head_coefficient) / shutoff == pytest.approx(1.0 / 3.0, rel=0.03)


def test_a_blocked_inlet_turns_faster_than_a_blocked_outlet() -> None:
    """Behind a blocked inlet the air is thinner, and so is the load (physics of the drive)."""
    outlet, inlet = blocked_speeds(BLOWER, pressure=101_325.0, temperature=288.15)
    assert inlet > outlet > float(operate_ducted(BLOWER, air=AIR, airspeed=0.0).shaft_speed)


def test_blocked_outlet_with_a_weakly_regulated_drive() -> None:
    """Speed rises and power falls when Pi rises with phi (closed form)."""
    weak = replace(BLOWER, drive=Drive(motor=BLOWER.drive.motor, duty=0.7))
    open_point = operate_ducted(weak, air=AIR, airspeed=0.0)
    shut = operate_ducted(replace(weak, nozzle=replace(weak.nozzle, exit_area=circle(1e-4))),
                          air=AIR, airspeed=0.0)
    assert float(shut.shaft_speed) > float(open_point.shaft_speed)
    assert float(shut.electrical_power) < float(open_point.electrical_power)


def test_crossings_of_a_known_curve() -> None:
    roots, rising = crossings(np.cos, np.linspace(0.0, 10.0, 23))
    np.testing.assert_allclose(roots, np.pi * np.array([0.5, 1.5, 2.5]), atol=1e-9)
    assert rising.tolist() == [False, True, False]


def test_a_gap_hides_a_crossing() -> None:
    roots, _ = crossings(lambda x: np.where(np.abs(x) < 0.3, np.nan, x), np.linspace(-1, 1, 21))
    assert roots.size == 0


def test_a_lossless_drive_is_held_only_by_its_power() -> None:
    fan = replace(matched_fan(slow=1.0), drive=Drive(motor=lossless_motor(), power_limit=250.0))
    point = operate_ducted(fan, air=AIR, airspeed=10.0)
    assert point.drive_limit == "power"
    assert float(point.shaft_power) == pytest.approx(250.0, rel=1e-12)


def test_a_small_map_that_is_too_good_is_doubted() -> None:
    """Small blowers and fans have been found at 25 to 65 % (catalogue and memory)."""
    stage = replace(BLOWER.rotor.stage, head_curvature=-4.0, work_shutoff=0.62, work_slope=-0.3,
                    shutoff_power=0.004)
    unit = replace(BLOWER, rotor=replace(BLOWER.rotor, stage=stage))
    found = compare(Story(candidates={"good": candidate(unit, name="good")}, airspeeds=SPEEDS))
    assert any("isentropic efficiency" in finding.text for finding in found.findings)


def test_a_slow_jet_scrubs_nothing_and_gives_nothing_back() -> None:
    """Friction in a jet slower than the flight once came out as a push."""
    drags = external_drag(Installation(frontal_area=0.01, scrubbed_area=0.02,
                                       scrubbing_friction=0.005), density=1.2, airspeed=40.0,
                          jet_speed=np.array([0.0, 40.0, 60.0]), additive=0.0)
    assert drags["scrubbing"][:2].tolist() == [0.0, 0.0]
    assert drags["scrubbing"][2] == pytest.approx(0.6 * (3600.0 - 1600.0) * 0.005 * 0.02)


def test_touching_zero_is_no_crossing_and_a_zero_on_the_grid_is_one() -> None:
    grid = np.linspace(-1.0, 1.0, 21)
    assert crossings(np.square, grid)[0].size == 0
    roots, rising = crossings(lambda x: x, grid)
    np.testing.assert_allclose(roots, [0.0], atol=1e-12)
    assert rising.tolist() == [True]


def test_a_drive_that_cannot_turn_leaves_no_number_without_meaning() -> None:
    """History: with no shaft speed known, the stress check wrote nan into the findings."""
    stuck = replace(BLOWER, drive=replace(BLOWER.drive, motor=replace(
        BLOWER.drive.motor, no_load_current=500.0)))
    found = compare(Story(candidates={"stuck": candidate(stuck, name="stuck")}, airspeeds=SPEEDS))
    assert any("cannot turn" in finding.said for finding in found.findings)
    assert not any("nan" in finding.said for finding in found.findings)


def test_nothing_holds_an_unloaded_shaft() -> None:
    """History: a map without power at no flow on a pure power drive gave a tip at inf m/s."""
    stage = replace(BLOWER.rotor.stage, shutoff_power=0.0)
    free = replace(BLOWER, rotor=replace(BLOWER.rotor, stage=stage),
                   drive=Drive(motor=lossless_motor(), power_limit=250.0))
    found = compare(Story(candidates={"free": candidate(free, name="free")}, airspeeds=SPEEDS))
    said = next(one for one in found.findings if "nothing holds the shaft speed" in one.text)
    assert said.rank == "stop"
    assert not any("inf " in finding.said for finding in found.findings)


def test_a_machine_that_pushes_nothing_at_rest_has_no_reduced_lapse() -> None:
    """History: a division by the jet speed at rest gave inf, and a warning."""
    dead = replace(BLOWER.rotor, stage=replace(BLOWER.rotor.stage, head_shutoff=-0.1,
                                               head_slope=0.0))
    unit = replace(BLOWER, rotor=dead)
    at_rest = operate_ducted(unit, air=AIR, airspeed=0.0)
    assert float(at_rest.net_thrust) == 0.0
    lapse = reduced_lapse(operate_ducted(unit, air=AIR, airspeed=SPEEDS), at_rest)
    assert np.isnan(lapse.speed_ratio).all()
    assert np.isnan(lapse.thrust_ratio).all()


def test_a_flag_names_its_stretches() -> None:
    """History: separate stretches were joined, and a range that began at 20 m/s began "from rest".
    """
    raised = np.array([True, True, False, False, True, False, True, True])
    curve = operate_ducted(BLOWER, air=AIR, airspeed=np.arange(10.0, 90.0, 10.0))
    assert stretches(curve, raised, False) == ("from 10 m/s to 20 m/s and at 50 m/s and from "
                                               "70 m/s up")
    assert stretches(curve, raised, True).startswith("from rest to 20 m/s")
    assert stretches(curve, ~raised, True).startswith("at rest and from 30 m/s to 40 m/s")


def test_the_known_range_of_a_thrust_that_still_exceeds_drag_reaches_at_least_the_launch() -> None:
    """History: with the next known speed beyond a gap, the bound lay below the launch speed."""
    def fly(airspeed: Array):
        point = operate_ducted(BLOWER, air=AIR, airspeed=airspeed)
        known = np.abs(np.asarray(airspeed) - 15.0) < 0.01
        return replace(point, installed_thrust=np.where(known, 50.0, np.nan))

    found = level_flight(fly, AIRFRAME, mass=1.0, air=AIR)
    assert np.isnan(found.top_speed)
    assert found.lowest_bound == pytest.approx(15.0)
