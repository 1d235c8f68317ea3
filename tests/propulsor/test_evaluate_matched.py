"""Recomputing from the matched unknowns gives the match back, and closes when they are off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.aircraft.flyers import PACK, SITE, blower, fan, propeller
from thrustlapse.power.pack import supply
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.ducted import free_stream
from thrustlapse.propulsor.ducted_match import match
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.evaluate_matched import Unknowns, recompute
from thrustlapse.propulsor.operating_point import LOSSES

AIR = SITE.air()


SPEEDS = np.array([0.0, 8.0, 25.0, 33.0])
def choked() -> Candidate:
    """A blower driven until its nozzle chokes: the jet leaves above ambient pressure."""
    whole = blower(power=8000.0)
    rich = replace(whole.unit, supply=replace(whole.unit.supply, voltage=60.0),
                   nozzle=replace(whole.unit.nozzle, exit_area=0.3 * whole.unit.nozzle.exit_area))
    return replace(whole, unit=rich)


MAKERS = {"blower": blower, "fan": fan, "propeller": propeller,
          "efficiency": lambda: blower(efficiency=True), "two fans": lambda: fan(count=2),
          "shrouded": lambda: replace(propeller(), unit=replace(propeller().unit,
                                                                exit_area_ratio=1.2)),
          "choked nozzle": choked}


def unknowns_of(candidate, point) -> Unknowns:
    """Matched unknowns at :data:`SPEEDS`."""
    if not isinstance(candidate.unit, Ducted):
        none = np.zeros_like(SPEEDS)
        return Unknowns(shaft_speed=point.shaft_speed, flow=none, throat=none)
    with np.errstate(invalid="ignore", divide="ignore"):
        solved = match(candidate.unit, free_stream(AIR, SPEEDS), SPEEDS.size)
    return Unknowns(shaft_speed=point.shaft_speed, flow=solved.flow, throat=solved.throat)


def miss(run, airspeed):
    """What the ledger of a candidate misses, over its electrical power."""
    spent = (run.lead_heat + run.controller_heat + run.motor_heat + run.machine_loss
             + run.jet_power + run.swirl_power + run.stored_power + run.net_thrust * airspeed)
    return (run.electrical_power - spent) / run.electrical_power


@pytest.mark.parametrize("name", MAKERS)
def test_matched_unknowns_give_the_match_back(name) -> None:
    """Every total against ``operate`` and its ledger."""
    one = MAKERS[name]()
    point = operate(one, airspeed=SPEEDS, air=AIR)
    run = recompute(one, air=AIR, airspeed=SPEEDS, unknowns=unknowns_of(one, point))
    ledger, count = point.ledger, one.count
    loss = sum(getattr(ledger, name) for name in LOSSES)
    pairs = [
        (run.net_thrust, count * point.net_thrust), (run.installed_thrust, point.installed_thrust),
        (run.current, point.current), (run.electrical_power, point.electrical_power),
        (run.terminal_voltage, point.terminal_voltage), (run.duty, point.duty),
        (run.machine_loss, count * loss), (run.jet_power, count * ledger.jet_power),
        (run.stored_power, count * ledger.stored_power),
        (run.pack_heat, count * ledger.pack_heat), (run.lead_heat, count * ledger.lead_heat),
        (run.controller_heat, count * ledger.controller_heat)]
    for mine, theirs in pairs:
        assert mine == pytest.approx(theirs, rel=1e-8, abs=1e-8, nan_ok=True)
    assert np.abs(miss(run, SPEEDS)).max() < 1e-12


@settings(max_examples=25)
@given(st.sampled_from(sorted(MAKERS)), st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
def test_unknowns_that_are_off_still_close(name, one_off, other_off) -> None:
    """First law from pack to jet at unknowns that satisfy no balance."""
    one = MAKERS[name]()
    point = operate(one, airspeed=SPEEDS, air=AIR)
    good = unknowns_of(one, point)
    off = Unknowns(shaft_speed=good.shaft_speed * (1.0 + one_off),
                   flow=good.flow * (1.0 + one_off), throat=good.throat * (1.0 + other_off))
    run = recompute(one, air=AIR, airspeed=SPEEDS, unknowns=off)
    assert np.abs(miss(run, SPEEDS)).max() < 1e-12


def test_supply_of_the_moment_broadcasts() -> None:
    one = fan()
    low = supply(replace(PACK, state_of_charge=0.4))
    volts = np.array([np.asarray(low.voltage), np.asarray(one.unit.supply.voltage)])
    many = replace(one, unit=replace(one.unit, supply=replace(low, voltage=volts)))
    point = operate(many, airspeed=20.0, air=AIR)
    with np.errstate(invalid="ignore", divide="ignore"):
        solved = match(many.unit, replace(free_stream(AIR, 20.0), airspeed=np.full(2, 20.0)), 2)
    run = recompute(many, air=AIR, airspeed=20.0, unknowns=Unknowns(
        shaft_speed=point.shaft_speed, flow=solved.flow, throat=solved.throat))
    assert run.net_thrust == pytest.approx(point.net_thrust, rel=1e-8)
    assert run.net_thrust[1] > run.net_thrust[0]
