"""Freely sized designs: their maps, and that one alone is the same as in a batch."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.searches import MACHINES
from thrustlapse.arrays import take
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.strength import MATERIALS, OVERSPEED, rotor_stress
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.limits.rotor import stress
from thrustlapse.study.limits.states import States
from thrustlapse.study.sizing.merit import OUTRIGHT, judged, worth

SCENARIO = read_text(MACHINES)
KINDS = kinds(SCENARIO)
RULES = rules(SCENARIO)
RNG = np.random.default_rng(5)

@pytest.mark.parametrize("name", list(KINDS))
def test_a_design_alone_is_worth_what_it_is_worth_in_a_batch(name: str) -> None:
    kind = KINDS[name]
    places = RNG.random((12, len(kind.variables)))
    speed, power = np.linspace(0.0, 60.0, 12), np.geomspace(100.0, 400.0, 12)
    together = worth(kind, RULES, places, airspeed=speed, power=power)
    for row in (0, 5, 11):
        alone = worth(kind, RULES, places[[row]], airspeed=speed[[row]], power=power[[row]])
        assert alone.beyond[0] == pytest.approx(together.beyond[row], rel=1e-9, abs=1e-12)
        if np.isfinite(alone.value[0]):
            assert alone.value[0] == pytest.approx(together.value[row], rel=1e-7)


@pytest.mark.parametrize("name", ["blower", "fan"])
def test_the_drive_is_set_so_that_no_shut_rotor_passes_its_strength(name: str) -> None:
    """115 % of any speed, shut or running, within the material's strength, by the formula
    itself."""
    kind = KINDS[name]
    made = kind.sized(RNG.random((64, len(kind.variables))), np.full(64, 600.0)).candidate
    unit, air = made.unit, made.site.air()
    assert isinstance(unit, Ducted)
    rest = operate(made, airspeed=np.zeros((64, 1)))
    states = States(candidate=made, air=air, points=(rest,), rest=rest)
    found = stress(states)
    assert found is not None
    stuff = MATERIALS["aluminium 7075-T6"]
    assert np.nanmax(found) * OVERSPEED**2 <= stuff.strength
    fastest = 0.5 * np.asarray(unit.rotor.tip_diameter) * np.asarray(unit.drive.speed_limit)
    assert np.max(rotor_stress(stuff, tip_speed=fastest) * OVERSPEED**2) == pytest.approx(
        stuff.strength, rel=1e-4)


def test_a_larger_rotor_brings_more_mass_drag_and_front() -> None:
    for kind in KINDS.values():
        places = np.full((2, len(kind.variables)), 0.5)
        places[1, 0] = 0.8
        made = kind.sized(places, np.full(2, 300.0))
        assert made.unit_mass[1, 0] > made.unit_mass[0, 0]
        assert made.width[1, 0] > made.width[0, 0]
        out = made.candidate.installation
        assert np.diff(np.ravel(out.frontal_area))[0] > 0.0
        assert (np.diff(np.ravel(out.pod_drag_area))[0] > 0.0) != (kind.name == "propeller")


def test_buried_there_is_no_pod_and_less_pressure_arrives() -> None:
    kind = KINDS["blower"]
    places = np.full((1, len(kind.variables)), 0.5)
    pod, buried = (replace(kind, buried=on).sized(places, np.array([300.0])).candidate
                   for on in (False, True))
    assert np.all(np.asarray(buried.installation.pod_drag_area) == 0.0)
    assert isinstance(pod.unit, Ducted)
    assert isinstance(buried.unit, Ducted)
    assert np.all(buried.unit.inlet.ram_recovery < np.asarray(pod.unit.inlet.ram_recovery))
    assert np.all(buried.unit.inlet.loss_coefficient > np.asarray(pod.unit.inlet.loss_coefficient))


def test_limits_are_those_of_the_table_and_what_sizing_adds() -> None:
    kind = KINDS["blower"]
    places = np.full((1, len(kind.variables)), 0.5)
    found = worth(kind, RULES, places, airspeed=np.array([20.0]), power=np.array([300.0]))
    assert {"rotor stress", "runaway", "motor heat", "motor speed", "stall"} <= set(found.limits)
    narrow = worth(kind, replace(RULES, frontal_limit=0.01), places, airspeed=np.array([20.0]),
                   power=np.array([300.0]))
    assert narrow.beyond[0] > found.beyond[0]


@pytest.mark.parametrize("name", ["blower", "fan", "propeller"])
def test_what_dimensions_alone_forbid_is_not_operated_and_the_rest_is_judged_alike(
        name: str) -> None:
    kind, narrow = KINDS[name], replace(RULES, frontal_limit=0.1)
    places = RNG.random((300, len(kind.variables)))
    speed, power = np.full(300, 30.0), np.full(300, 400.0)
    whole = worth(kind, narrow, places, airspeed=speed, power=power, at_rest=False)
    value, beyond = judged(kind, narrow, places, airspeed=speed, power=power)
    outright = beyond > OUTRIGHT
    assert 20 < outright.sum() < 280
    np.testing.assert_array_equal(beyond <= 0.0, whole.beyond <= 0.0)
    np.testing.assert_allclose(beyond[~outright], whole.beyond[~outright], rtol=1e-6, atol=1e-9)
    known = ~outright & np.isfinite(whole.value)
    np.testing.assert_allclose(value[known], whole.value[known], rtol=1e-6)
    assert whole.beyond.max() < OUTRIGHT


@pytest.mark.parametrize("name", ["blower", "fan", "propeller"])
def test_how_a_design_runs_is_within_what_it_is_held_to(name: str) -> None:
    kind = KINDS[name]
    places = RNG.random((200, len(kind.variables)))
    made = worth(kind, RULES, places, airspeed=np.full(200, 20.0), power=np.full(200, 400.0))
    good, runs = made.beyond <= 0.0, made.running
    pulls = good & (made.installed_thrust > 0.0)
    assert pulls.sum() > 5
    assert np.all((runs["rotor_efficiency"] > 0.0)[pulls] & (runs["rotor_efficiency"] < 1.0)[pulls])
    assert np.all(runs["tip_mach"][good] <= RULES.tip_mach_limit)
    unloaded = kind.sized(places, np.full(200, 400.0)).motor_speed[:, 0]
    assert np.all(runs["shaft_speed"][pulls] <= unloaded[pulls] * (1.0 + 1e-9))
    if name == "propeller":
        assert np.isnan(runs["strength_used"]).all()
        # at most what momentum theory lets a disc do at this speed, thrust and area
        free = kind.values(places)
        loading = made.installed_thrust / (0.25 * np.pi * free["diameter"] ** 2)
        q = 0.5 * float(kind.air.density) * 20.0**2
        froude = 2.0 / (1.0 + np.sqrt(1.0 + loading[pulls] / q))
        assert np.all(runs["rotor_efficiency"][pulls] < froude)
    else:
        assert np.all(runs["strength_used"][good] <= 1.0 / OVERSPEED**2)


def test_a_batch_is_sliced_like_any_candidate() -> None:
    kind = KINDS["fan"]
    made = kind.sized(RNG.random((5, len(kind.variables))), np.full(5, 300.0))
    one = take(made.candidate, (5, 1), np.array([3]))
    assert isinstance(one.unit, Ducted)
    assert isinstance(made.candidate.unit, Ducted)
    assert float(np.ravel(one.unit.nozzle.exit_area)[0]) == float(
        np.ravel(made.candidate.unit.nozzle.exit_area)[3])
