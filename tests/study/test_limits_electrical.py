"""Parts rated for less than what flows are found and named; people near are warned."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

import thrustlapse as tl
from thrustlapse.distributions import Sampling
from thrustlapse.power.wiring import CHASSIS, Wiring
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text
from thrustlapse.study.limits import electrical, people
from thrustlapse.study.limits.people import fan_sound_power
from thrustlapse.study.limits.states import states_of

# no draws: what is tested is what the numbers as they stand say
SCENARIO = replace(read_text(starter_text()), sampling=Sampling(samples=0))
NAME = "blower"


@cache
def answer():
    return tl.compare(SCENARIO)


@cache
def states():
    return states_of(answer(), answer().candidates[NAME], SCENARIO.candidates[NAME],
                     pack=SCENARIO.pack)


@cache
def amps() -> float:
    return float(np.nanmax(answer().candidates[NAME].curve.current))


def said(limits, of):
    return [one for one in (limit.finding(of) for limit in limits) if one is not None]


def wiring(gauge=None, length=None, **ratings):
    return Wiring(gauge=gauge, length=length, ratings=ratings)


def found(**given):
    return said(electrical.LIMITS, replace(states(), wiring=wiring(**given)))


def ranks(findings, word):
    return [one.rank for one in findings if word in one.text]


def test_a_switch_rated_for_a_fraction_of_the_current_is_named():
    one = next(f for f in found(switch_rating=0.4 * amps(), switch_voltage=60.0)
               if f.text.startswith("switch"))
    assert (one.rank, one.limit) == ("stop", pytest.approx(0.4 * amps()))
    assert one.value == pytest.approx(amps(), rel=0.01)
    assert "rated for 40 % of what flows" in one.text
    assert "welds shut" in one.change


@pytest.mark.parametrize(("share", "rank"), [(0.99, "stop"), (1.05, "check"), (1.4, "note")])
def test_the_rank_follows_the_margin(share, rank):
    assert ranks(found(connector_rating=share * amps()), "connector") == [rank]


def test_wire_is_judged_by_its_gauge_and_length():
    thin = min(CHASSIS, key=CHASSIS.get)
    assert ranks(found(gauge=thin), "AWG") == ["stop"]
    assert ranks(found(gauge=6), "AWG") == ["note"]
    assert ranks(found(gauge=16, length=6.0), "into heat") == ["check"]
    assert ranks(found(gauge=6, length=0.5), "into heat") == []


def test_a_switch_must_break_the_voltage_of_the_pack():
    assert ranks(found(switch_rating=99.0, switch_voltage=12.0), "breaks direct") == ["stop"]
    assert ranks(found(switch_rating=99.0, switch_voltage=60.0), "breaks direct") == []
    assert ranks(found(switch_rating=99.0), "is not given") == ["check"]


def test_a_fuse_must_hold_and_must_protect():
    assert ranks(found(fuse_rating=0.9 * amps()), "may blow") == ["stop"]
    assert ranks(found(fuse_rating=1.1 * amps()), "may blow") == ["check"]
    assert ranks(found(fuse_rating=2.0 * amps()), "may blow") == []
    assert ranks(found(fuse_rating=200.0, gauge=20), "protects nothing") == ["check"]
    assert ranks(found(fuse_rating=60.0, connector_rating=45.0), "protects nothing") == []


def test_the_rush_of_closing_is_the_pack_over_its_resistance():
    source = SCENARIO.candidates[NAME].unit.supply
    one = next(f for f in found(switch_rating=9.0, switch_voltage=60.0) if "closing" in f.text)
    assert one.value == pytest.approx(source.voltage / source.resistance)
    assert one.rank == "check"


def test_nothing_given_is_nothing_said():
    assert found() == []
    assert said(electrical.LIMITS, replace(states(), wiring=None)) == []


def test_findings_reach_the_comparison_ranked():
    poor = replace(SCENARIO, wiring=wiring(switch_rating=2.0))
    found = tl.compare(poor).findings
    assert [f.rank for f in found] == sorted((f.rank for f in found),
                                             key=("stop", "check", "note").index)
    stops = [f for f in found if f.rank == "stop" and f.text.startswith("switch")]
    assert {f.subject for f in stops} == set(SCENARIO.candidates)


def test_sound_follows_power_and_pressure():
    """Beranek's rule, from memory: 97 dB for 1 kW at 1 kPa; ten times either is 10 dB more."""
    assert fan_sound_power(shaft_power=1e3, pressure_rise=1e3) == pytest.approx(97.0)
    assert fan_sound_power(shaft_power=1e4, pressure_rise=1e3) == pytest.approx(107.0)
    assert fan_sound_power(shaft_power=1e3, pressure_rise=1e4) == pytest.approx(107.0)
    assert np.isnan(fan_sound_power(shaft_power=0.0, pressure_rise=1.0))


def test_people_are_warned_of_sound_and_of_energy():
    result, one = answer().candidates[NAME], SCENARIO.candidates[NAME]
    sound, energy = said(people.LIMITS, states())
    assert "± 10 dB" in sound.said
    double = said(people.LIMITS, replace(states(), candidate=replace(one, count=2)))[0]
    assert double.value - sound.value == pytest.approx(10.0 * np.log10(2.0))
    mass = answer().airframe_mass + result.installed_mass
    assert energy.value == pytest.approx(0.5 * mass * result.level.top_speed**2)
    assert "J" in energy.text
