"""Drag of rotors without power: windmilling, standing still, folded."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.distributions import Sampling
from thrustlapse.power.drive import cut
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.unpowered import (
    FOLDED,
    STOPPED,
    WINDMILLING,
    stopped_duct_drag,
    unpowered_drag,
)
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.compare import compare

STORY = read_scenario(Path("scenarios/three_ways_to_push.toml"))


@given(st.floats(0.0, 1e4), st.floats(1e-5, 1e-2), st.floats(1.0, 60.0))
def test_a_loss_in_a_duct_drags_by_momentum_and_energy(loss: float, area: float,
                                                       speed: float) -> None:
    """D = mdot (V0 - V8) with pt0 - K rho V8^2 / 2 = p0 + rho V8^2 / 2; at most rho A V0^2 / 4."""
    drag = float(stopped_duct_drag(exit_area=area, density=1.2, airspeed=speed,
                                   loss_coefficient=loss))
    jet = speed / np.sqrt(1.0 + loss)
    assert 0.5 * 1.2 * speed**2 - loss * 0.5 * 1.2 * jet**2 == pytest.approx(0.5 * 1.2 * jet**2)
    assert drag == pytest.approx(1.2 * area * jet * (speed - jet), abs=1e-12)
    assert 0.0 <= drag <= 1.2 * area * speed**2 / 4.0 * (1.0 + 1e-12)


def test_the_most_drag_of_a_duct_is_at_three_dynamic_pressures_of_loss() -> None:
    """d D / d V8 = 0 at V8 = V0 / 2: K = 3, D = rho A V0^2 / 4."""
    assert float(stopped_duct_drag(exit_area=1e-3, density=1.2, airspeed=30.0,
                                   loss_coefficient=3.0)) == pytest.approx(1.2e-3 * 900.0 / 4.0)


def test_a_windmill_drags_what_its_balance_with_the_drive_cut_says_and_less_than_a_wall() -> None:
    """No more than a disc that stops half the stream: T = rho A V^2 / 2 (momentum theory)."""
    propeller = STORY.candidates["propeller"]
    air = STORY.site.air()
    speed = np.linspace(20.0, 60.0, 9)
    drag = unpowered_drag(propeller, air=air, airspeed=speed)
    idle = replace(propeller, unit=replace(propeller.unit, drive=cut(propeller.unit.drive)))
    point = operate(idle, airspeed=speed)
    assert point.valid.any()
    assert drag[point.valid] == pytest.approx(-point.net_thrust[point.valid], rel=1e-12)
    assert point.electrical_power[point.valid] == pytest.approx(0.0, abs=1e-9)
    disc = np.pi / 4.0 * propeller.unit.diameter**2
    assert np.all(drag > 0.0)
    assert np.all(drag < 0.5 * float(air.density) * disc * speed**2)


def test_a_folded_rotor_glides_best_and_any_other_drags() -> None:
    """History: the glide ratio of every page left the rotor out."""
    ratios = {}
    for word in (WINDMILLING, STOPPED, FOLDED):
        scenario = replace(STORY, sampling=Sampling(samples=0), candidates={
            name: replace(one, unpowered=word) for name, one in STORY.candidates.items()})
        found = compare(scenario).aircraft
        assert found is not None
        ratios[word] = {name: one.best_glide_ratio for name, one in found.performances.items()}
    for name in STORY.candidates:
        assert ratios[WINDMILLING][name] < ratios[FOLDED][name]
        assert ratios[STOPPED][name] < ratios[FOLDED][name]


def test_a_glide_with_the_rotor_s_drag_is_the_closed_form_of_its_polar() -> None:
    """(L/D) = 1 / (2 sqrt(k CD0)), with the rotor's drag area at that speed in CD0."""
    name = "blower"
    scenario = replace(STORY, sampling=Sampling(samples=0))
    found = compare(scenario).aircraft
    assert found is not None
    one, craft = found.performances[name], STORY.airframe
    assert craft is not None
    candidate, air = STORY.candidates[name], STORY.site.air()
    rotor = float(unpowered_drag(candidate, air=air, airspeed=one.best_glide_speed)) / (
        0.5 * float(air.density) * one.best_glide_speed**2)
    place = candidate.installation
    outer = candidate.count * (place.pod_drag_area + place.base_area * place.base_drag_coefficient)
    least = float(craft.minimum_drag_coefficient) + (rotor + outer) / float(craft.wing_area)
    k, at = float(craft.induced_factor), float(craft.lift_of_least_drag)
    best = np.sqrt(least / k + at**2)
    expected = best / (least + k * (best - at) ** 2)
    assert one.best_glide_ratio == pytest.approx(expected, rel=1e-6)


def test_a_fault_of_a_windmill_is_seen_and_no_drag_takes_its_place() -> None:
    """Air that is not known is no reason to take the rotor for standing still."""
    propeller, air = STORY.candidates["propeller"], STORY.site.air()
    nowhere = replace(air, pressure=np.nan)
    assert np.isnan(unpowered_drag(propeller, air=nowhere, airspeed=np.array([20.0]))).all()
    ended = unpowered_drag(STORY.candidates["fan"], air=air, airspeed=np.array([20.0]))
    standing = unpowered_drag(replace(STORY.candidates["fan"], unpowered=STOPPED), air=air,
                              airspeed=np.array([20.0]))
    assert ended == pytest.approx(standing)  # its map ends before its power falls below zero
