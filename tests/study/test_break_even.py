"""Break-even of a comparison: against brute force, machines flown again, and its own crossovers."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.report.machines import AIRFRAME, blower, fan, hand_made, propeller
from thrustlapse.aircraft.drag import level_drag
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import (
    AS_BUILT,
    BEST_EXIT,
    INSTALLED,
    ON_AIRFRAME,
    BreakEven,
    Comparison,
)
from thrustlapse.study.nozzle_size import with_exit_diameter

STORY = Path(__file__).parents[2] / "scenarios/three_ways_to_push.toml"
EQUAL = Basis(footing="same electrical power", reference=None, electrical_power=400.0)


@cache
def story() -> Comparison:
    """With no draws, which do not enter here."""
    scenario = read_scenario(STORY)
    return compare(replace(scenario, sampling=replace(scenario.sampling, samples=0)))


@cache
def trio() -> Comparison:
    return compare(hand_made(blower(), fan(), propeller(), comparison=EQUAL))


def pair(comparison: Comparison, name: str, rival: str, kind: str = INSTALLED,
         exit: str = AS_BUILT) -> BreakEven:
    found = [one for one in comparison.break_even
             if (one.candidate, one.rival, one.kind, one.exit) == (name, rival, kind, exit)]
    assert len(found) == 1
    return found[0]


def test_the_story_by_hand() -> None:
    """Worked by hand: thrust times the mean of jet speed and airspeed over the watts is the chain's
    own efficiency; with 4.71 N to tie with at 56 m/s and 400 W the blower needs 1.21 at its jet
    speed and 1.75 at its exit. The propeller's blade model has since come down to 4.46 N."""
    at = int(np.flatnonzero(story().airspeed == 56.0)[0])
    own, rival = (story().candidates[name].curve for name in ("blower", "propeller"))
    jet, flow, drag = (float(value[at]) for value in (own.jet_speed, own.mass_flow,
                                                      own.external_drag))
    told = pair(story(), "blower", "propeller")
    gross = float(own.installed_thrust[at]) + drag
    assert told.own_chain_efficiency[at] == pytest.approx(gross * (jet + 56.0) / 800.0, rel=1e-6)
    thrust = float(rival.installed_thrust[at]) + drag
    assert told.needed_chain_efficiency_jet_held[at] == pytest.approx(
        thrust * (jet + 56.0) / 800.0, rel=1e-6)
    held = 0.5 * (56.0 + np.sqrt(56.0**2 + 4.0 * thrust * jet / flow))
    assert told.needed_chain_efficiency_exit_held[at] == pytest.approx(
        thrust * (held + 56.0) / 800.0, rel=1e-6)
    assert (4.71 + drag) * (jet + 56.0) / 800.0 == pytest.approx(1.21, abs=0.01)
    then = 0.5 * (56.0 + np.sqrt(56.0**2 + 4.0 * (4.71 + drag) * jet / flow))
    assert (4.71 + drag) * (then + 56.0) / 800.0 == pytest.approx(1.75, abs=0.02)
    assert told.needed_chain_efficiency_jet_held[at] > 1.0  # nobody can build it
    assert np.isnan(told.needed_jet_speed[at])


@pytest.mark.parametrize("make", [story, trio])
def test_who_needs_more_than_he_has_is_behind(make) -> None:
    """Own and needed cross where the thrusts do, in both kinds, with the jet or the exit held."""
    seen = 0
    for one in make().break_even:
        first, second = make().candidates[one.candidate], make().candidates[one.rival]
        thrust = (first.curve.installed_thrust if one.exit == AS_BUILT
                  else make().best_nozzles[one.candidate].best_thrust)
        lead = thrust - second.curve.installed_thrust
        if one.kind == ON_AIRFRAME:
            lead = lead - first.induced_drag + second.induced_drag
        for needed in (one.needed_chain_efficiency_jet_held,
                       one.needed_chain_efficiency_exit_held):
            known = np.isfinite(needed) & (np.abs(lead) > 1e-9)
            assert np.array_equal((one.own_chain_efficiency > needed)[known], lead[known] > 0.0)
            seen += int(known.sum())
        known = np.isfinite(one.needed_jet_speed)
        slower = one.needed_chain_efficiency_jet_held > one.own_chain_efficiency
        if one.exit == AS_BUILT:
            drawn, jet = first.curve.electrical_power, first.curve.jet_speed
            assert np.array_equal((one.needed_jet_speed < jet)[known], slower[known])
            assert np.array_equal((one.needed_power > drawn)[known], slower[known])
    assert seen > 900


def test_the_drag_area_allowed_ties_when_flown() -> None:
    """The pod made as bulky as allowed: then thrusts are equal, computed anew."""
    at = 10
    told = pair(trio(), "blower", "ducted fan")
    speed, curve = float(trio().airspeed[at]), trio().candidates["blower"].curve
    given = blower().installation
    dynamic = 0.5 * trio().density * speed**2
    other = float(curve.external_drag[at]) / dynamic - given.pod_drag_area  # additive, scrubbing
    bulky = replace(blower(), installation=replace(
        given, pod_drag_area=told.allowed_drag_area[at] - other))
    flown = operate(bulky, airspeed=speed, altitude=100.0)
    assert float(flown.electrical_power) == pytest.approx(float(curve.electrical_power[at]))
    assert float(flown.installed_thrust) == pytest.approx(
        float(trio().candidates["ducted fan"].curve.installed_thrust[at]), rel=1e-9)


def test_the_mass_allowed_ties_when_weighed() -> None:
    told = pair(trio(), "propeller", "ducted fan", ON_AIRFRAME)
    at = int(np.flatnonzero(np.isfinite(told.allowed_mass))[0]) + 8
    left = []
    for name, mass in (("propeller", float(told.allowed_mass[at])),
                       ("ducted fan", trio().candidates["ducted fan"].installed_mass)):
        drag = level_drag(AIRFRAME, mass=mass + AIRFRAME.mass, density=trio().density,
                          airspeed=trio().airspeed[at], speed_of_sound=340.0)
        assert drag.lift_coefficient < AIRFRAME.greatest_lift
        left.append(float(trio().candidates[name].curve.installed_thrust[at] - drag.induced))
    assert left[0] == pytest.approx(left[1], rel=1e-9)


@pytest.mark.parametrize("name", ["blower", "ducted fan"])
def test_no_other_exit_is_better_than_the_best(name) -> None:
    """Three hundred exits at every airspeed, flown anew at the same power."""
    best = trio().best_nozzles[name]
    machine = {"blower": blower(), "ducted fan": fan()}[name]
    wide = float(np.sqrt(4.0 / np.pi * machine.unit.duct.area))
    tried = operate(with_exit_diameter(machine, np.linspace(0.3, 1.0, 301)[:, None] * wide),
                    airspeed=trio().airspeed, altitude=100.0)
    most = np.nanmax(tried.installed_thrust, axis=0)
    span = np.nanmax(np.abs(most))
    assert np.all(best.best_thrust >= most - 2e-3 * span)
    assert np.all(best.best_thrust >= trio().candidates[name].curve.installed_thrust - 1e-3 * span)
    assert np.all(best.best_diameter <= wide * (1.0 + 1e-12))


def test_two_units_need_what_one_does_for_half() -> None:
    """Closed form: every thrust doubled at twice the power is the same efficiency."""
    def of(count: int) -> BreakEven:
        doubled = []
        for one in (blower(), propeller()):
            unit = replace(one.unit, supply=replace(one.unit.supply, units=float(count),
                                                    resistance=one.unit.supply.resistance / count))
            doubled.append(replace(one, unit=unit, count=count))
        return pair(compare(hand_made(*doubled, airframe=None)), "blower", "propeller")

    for field in ("own_chain_efficiency", "needed_chain_efficiency_jet_held",
                  "needed_chain_efficiency_exit_held", "needed_jet_speed"):
        assert getattr(of(2), field) == pytest.approx(getattr(of(1), field), rel=1e-6, nan_ok=True)
    assert of(2).needed_power == pytest.approx(2.0 * of(1).needed_power, rel=1e-6, nan_ok=True)


def test_nothing_is_needed_where_it_means_nothing() -> None:
    """No value below the stall, against a rival that does not push, or at unequal watts."""
    told = pair(trio(), "blower", "propeller", ON_AIRFRAME)
    stall = max(trio().candidates[name].level.stall_speed for name in ("blower", "propeller"))
    assert np.isnan(told.needed_chain_efficiency_jet_held[trio().airspeed < stall]).all()
    rival = trio().candidates["propeller"].curve.installed_thrust
    told = pair(trio(), "blower", "propeller")
    assert (rival <= 0.0).any()
    assert np.isnan(told.needed_chain_efficiency_exit_held[~(rival > 0.0)]).all()
    weak = compare(hand_made(replace(blower(), unit=replace(blower().unit, drive=replace(
        blower().unit.drive, duty=0.3))), propeller(), comparison=EQUAL, airframe=None))
    machine = weak.candidates["blower"]
    assert machine.curve.valid.sum() > 20
    assert (machine.short_of_reference[machine.curve.valid] > 0.0).all()
    for one in weak.break_even:
        if one.exit == AS_BUILT:
            assert np.isnan(one.needed_chain_efficiency_jet_held).all()
    assert np.isfinite(pair(weak, "blower", "propeller").own_chain_efficiency).any()


def test_who_has_a_rival_has_a_record() -> None:
    assert {(one.candidate, one.rival, one.kind, one.exit) for one in trio().break_even} == {
        (name, rival, kind, exit) for name in trio().candidates for rival in trio().candidates
        if name != rival for kind in (INSTALLED, ON_AIRFRAME) for exit in (AS_BUILT, BEST_EXIT)
        if exit == AS_BUILT or name != "propeller"}
    alone = compare(hand_made(blower()))
    assert alone.break_even == ()
    assert set(alone.best_nozzles) == {"blower"}
    assert {one.kind for one in compare(hand_made(blower(), propeller(), airframe=None)).break_even
            } == {INSTALLED}


def test_a_shrouded_rotor_fills_its_exit() -> None:
    """A ducted propeller by its table: F = rho A Ve (Ve - V) gives back its own jet."""
    shrouded = propeller("shrouded")
    shrouded = replace(shrouded, unit=replace(shrouded.unit, exit_area_ratio=0.9))
    own = compare(hand_made(shrouded, propeller(), airframe=None))
    rival = compare(hand_made(shrouded, replace(shrouded, name="twin"), airframe=None))
    told = pair(rival, "shrouded", "twin")
    known = np.isfinite(told.needed_chain_efficiency_exit_held)
    assert known.sum() > 10
    assert told.needed_chain_efficiency_exit_held[known] == pytest.approx(
        told.own_chain_efficiency[known], rel=1e-9)
    assert pair(own, "shrouded", "propeller").candidate == "shrouded"


def test_an_exit_without_a_value_is_none() -> None:
    """Where a flight at 900 m/s ends on every map, no exit is best, and nothing is claimed."""
    fast = compare(hand_made(blower(), propeller(), airframe=None,
                             airspeeds=np.array([20.0, 900.0])))
    best = fast.best_nozzles["blower"]
    assert np.isfinite(best.best_diameter).tolist() == [True, False]
    assert np.isfinite(best.best_thrust).tolist() == [True, False]
    for one in fast.break_even:
        assert np.isnan(one.own_chain_efficiency[1])
        assert np.isnan(one.allowed_drag_area[1])
