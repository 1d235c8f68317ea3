"""Every limit can speak and can be silent; each says number, limit, margin, source and remedy."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from tests import shipped
from tests.machines import blocked_speeds
from thrustlapse.power.pack import open_circuit_voltage
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.relative_mach import relative_mach
from thrustlapse.report.findings_text import grouped
from thrustlapse.rotor.strength import (
    FORMS,
    MATERIALS,
    impeller_stress,
    limit_tip_speed,
    ring_stress,
    rotor_stress,
    solid_disc_stress,
)
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.schema.wiring import WiringSection
from thrustlapse.study.comparison import Finding
from thrustlapse.study.limits.collect import findings
from thrustlapse.study.limits.states import states_of
from thrustlapse.study.limits.table import LIMITS
from thrustlapse.study.search.bits import BITS

TEXT = Path("scenarios/three_ways_to_push.toml").read_text(encoding="utf-8")
SCENARIO = read_text(TEXT)


def told(scenario=SCENARIO, *, subject: str, words: str) -> list[Finding]:
    return [one for one in findings(shipped.story(), scenario)
            if one.subject == subject and words in one.said]


def with_ratings(name: str, **ratings):
    one = SCENARIO.candidates[name]
    return replace(SCENARIO, candidates={**SCENARIO.candidates, name: replace(
        one, ratings=replace(one.ratings, **ratings))})


def test_what_has_a_limit_has_a_source_a_margin_and_a_remedy() -> None:
    for one in findings(shipped.story(), SCENARIO):
        if one.limit is not None:
            assert one.source or "measured" in one.text or "found at" in one.text, one.text
            assert one.margin is not None
            assert np.isfinite(one.margin)
        assert one.change or one.rank == "note"


def test_a_margin_is_the_room_to_the_limit() -> None:
    base = {"rank": "note", "subject": "a", "text": "", "unit": "A", "change": ""}
    assert Finding(value=80.0, limit=100.0, **base).margin == pytest.approx(0.2)
    assert Finding(value=120.0, limit=100.0, **base).margin == pytest.approx(-0.2)
    assert Finding(value=12.0, limit=10.0, least=True, **base).margin == pytest.approx(0.2)
    assert Finding(value=None, limit=10.0, **base).margin is None


@pytest.mark.parametrize("form", FORMS)
def test_forms_of_a_rotor_are_the_closed_forms_of_discs(form: str) -> None:
    """Ugural and Fenster: solid disc, bored disc, thin ring; bladed wheels at 0.6 of their speed
    (from memory)."""
    for stuff in MATERIALS.values():
        stress = float(rotor_stress(stuff, tip_speed=150.0, bore_ratio=0.1, form=form))
        bored = float(impeller_stress(stuff, tip_speed=150.0, bore_ratio=0.1))
        solid = float(solid_disc_stress(density=stuff.density, tip_speed=150.0,
                                        poisson=stuff.poisson)) / 0.36
        ring = float(ring_stress(density=stuff.density, tip_speed=150.0))
        assert stress == pytest.approx({"bored wheel": bored, "solid wheel": solid,
                                        "shrouded wheel": max(bored, ring)}[form])
        limit = float(limit_tip_speed(stuff, bore_ratio=0.1, form=form))
        assert float(rotor_stress(stuff, tip_speed=limit, bore_ratio=0.1, form=form)) == \
            pytest.approx(stuff.strength)


def test_a_print_is_told_what_printing_costs_and_is_stopped() -> None:
    (one,) = told(with_ratings("blower", rotor_material="PLA printed"), subject="blower",
                  words="rotor stress")
    assert one.rank == "stop"
    assert "between its layers" in one.text
    assert "API 617" in one.source
    (moulded,) = told(subject="blower", words="rotor stress")
    assert moulded.rank != "stop"
    assert "layers" not in moulded.text


def test_the_rotor_is_judged_at_the_fastest_it_turns_anywhere() -> None:
    """The shut inlet is the fastest state of this machine (see the propulsor's own tests)."""
    blower = SCENARIO.candidates["blower"]
    air = SCENARIO.site.air()
    _, inlet = blocked_speeds(blower.unit, pressure=air.pressure, temperature=air.temperature)
    tip = 0.5 * 0.038 * float(inlet)
    (one,) = told(subject="blower", words="rotor stress")
    assert f"{tip:.0f} m/s tip speed with the inlet blocked" in one.text


def test_limits_are_held_along_the_flight_too() -> None:
    scenario, answer = (make("there_and_back") for make in (shipped.scenario, shipped.answer))
    for name, result in answer.candidates.items():
        states = states_of(answer, result, scenario.candidates[name], pack=scenario.pack)
        track = answer.flights.flights[name].track
        assert states.each("current").size == result.curve.current.size + 2 + track.current.size
        resting = open_circuit_voltage(replace(scenario.pack,
                                               state_of_charge=track.state_of_charge))
        assert states.flown["sag"] == pytest.approx(track.terminal_voltage / resting)
        assert np.nanmax(states.each("shaft_speed")) >= np.nanmax(track.shaft_speed)
    lower = replace(scenario, pack_current_rating=float(np.nanmax(
        answer.flights.flights["fan"].track.current)) * 0.9)
    assert [one.rank for one in findings(answer, lower)
            if one.subject == "fan" and "pack current" in one.text] == ["stop"]


@pytest.mark.parametrize("name", ["pack current", "rotor stress"])
def test_a_limit_without_any_value_is_not_kept_in_silence(name: str) -> None:
    """One rule for page, search, draws and free sizing: unknown everywhere is stopped, unknown
    somewhere is judged by the rest, and a machine that runs nowhere is no matter of limits."""
    result, candidate = shipped.story().candidates["blower"], SCENARIO.candidates["blower"]
    states = states_of(shipped.story(), result, candidate, pack_current_rating=60.0)
    limit = replace(LIMITS[name], value=lambda _: np.full(7, np.nan), bound=lambda _: 1.0)
    assert limit.stopped(states).all()
    found = limit.finding(states)
    assert found is not None
    assert found.rank == "stop"
    assert "not known whether" in found.text
    once = replace(limit, value=lambda _: np.array([np.nan, 0.1]))
    assert not once.stopped(states).any()
    still = replace(states, points=(replace(result.at_rest, installed_thrust=np.array([np.nan])),))
    assert not limit.stopped(still).any()
    assert limit.finding(still) is None


@pytest.mark.parametrize(("softening", "rank"), [(305.0, "stop"), (315.0, "check"),
                                                 (360.0, "note")])
def test_air_against_the_plastic_it_flows_through(softening: float, rank: str) -> None:
    (one,) = told(with_ratings("blower", duct_softening=softening), subject="blower",
                  words="softens")
    assert one.rank == rank
    assert one.limit == softening


def test_heat_of_the_motor_is_the_ledgers_where_it_is_hottest() -> None:
    for name in ("fan", "propeller"):
        (one,) = told(subject=name, words="into heat, ")
        curve = shipped.story().candidates[name].curve
        heat = curve.ledger.winding_heat + curve.ledger.no_load_heat
        worst = int(np.nanargmax(heat))
        assert one.value == pytest.approx(heat[worst] / curve.electrical_power[worst], rel=0.02)
        assert f"{np.nanmax(heat):.0f} W into heat" in one.text


def test_cells_are_counted_and_overloaded_ones_are_found() -> None:
    """17.4 A from two strings of 4 Ah: 8.7 A each, 2.2 times their capacity an hour."""
    (one,) = told(subject="blower", words="each cell gives")
    assert one.rank == "note"
    assert "8.7 A" in one.text
    assert "2.2 times an hour" in one.text
    small = replace(SCENARIO, pack=replace(SCENARIO.pack, cell_capacity=0.2 * 4.0 * 3600.0))
    assert told(small, subject="blower", words="each cell gives")[0].rank == "check"


def test_a_shut_machine_keeps_its_heat() -> None:
    (one,) = told(subject="blower", words="blocked, up to")
    air = SCENARIO.site.air()
    shut = operate_blocked(SCENARIO.candidates["blower"].unit, pressure=air.pressure,
                           temperature=air.temperature, inlet=np.array([True, False]))
    assert one.value == pytest.approx(float(np.max(shut.electrical_power)))
    assert "no air carries that heat away" in one.about


def test_room_to_the_stall_is_a_number_or_said_to_be_unknown() -> None:
    (fan,) = told(subject="fan", words="stall limit")
    least = min(float(np.nanmin(point.flow_coefficient)) for point in (
        shipped.story().candidates["fan"].curve, shipped.story().candidates["fan"].at_rest))
    assert fan.value == pytest.approx(least)
    assert fan.limit == pytest.approx(0.18)  # the head of its map is greatest there
    assert fan.margin == pytest.approx(least / 0.18 - 1.0)
    (blower,) = told(subject="blower", words="stall or surge")
    assert "not known" in blower.text


def test_where_the_head_falls_all_along_a_map_no_limit_is_made_up() -> None:
    """History: the first flow of such a map was told as its stall limit, and the room as a number.
    """
    fan = SCENARIO.candidates["fan"]
    stage = fan.unit.rotor.stage
    falling = replace(stage, flow=stage.flow[2:], head_points=stage.head_points[2:],
                      power_points=stage.power_points[2:])
    assert float(falling.stall_flow) == float(falling.lowest_flow) > 0.0
    unit = replace(fan.unit, rotor=replace(fan.unit.rotor, stage=falling))
    scenario = replace(SCENARIO, candidates={**SCENARIO.candidates, "fan": replace(fan, unit=unit)})
    (one,) = told(scenario, subject="fan", words="stall")
    assert "not known" in one.text
    assert one.limit is None


def test_blades_have_a_tone_where_they_were_counted() -> None:
    """Nine blades: nine times the turns of a second (arithmetic)."""
    (one,) = told(subject="blower", words="blades pass")
    fastest = max(float(np.nanmax(shipped.story().candidates["blower"].curve.shaft_speed)),
                  float(shipped.story().candidates["blower"].at_rest.shaft_speed))
    assert one.value == pytest.approx(9.0 * fastest / (2.0 * np.pi))
    assert told(subject="fan", words="blades pass") == []  # nobody counted them


def test_tip_mach_number_is_told_from_half_the_limit() -> None:
    (one,) = told(subject="propeller", words="blade tips at up to Mach")
    assert one.value == pytest.approx(float(np.nanmax(
        shipped.story().candidates["propeller"].curve.tip_mach)))
    assert told(subject="fan", words="tips at up to Mach") == []


def test_a_fan_beyond_the_speed_of_sound_is_no_ordinary_point() -> None:
    """Relative Mach number of an axial rotor from its triangle of speeds, worked out here: U of
    the tip and the axial speed at the face over the speed of sound there."""
    fan = SCENARIO.candidates["fan"]
    drive = replace(fan.unit.drive, power_limit=12e3, speed_limit=float("inf"))
    supply = replace(fan.unit.supply, voltage=120.0)
    fast = replace(fan, unit=replace(fan.unit, drive=drive, supply=supply))
    point = operate(fast, airspeed=20.0)
    area, still = float(fan.unit.rotor.eye_area), 287.05287 * float(
        SCENARIO.site.air().temperature) + 20.0**2 / 7.0
    face = brentq(lambda v: float(point.face_pressure) * (1.0 - v**2 / (7.0 * still))**2.5 / still
                  * v * area - float(point.mass_flow), 0.0, 300.0)
    tip = float(point.shaft_speed) * 0.5 * float(fan.unit.rotor.tip_diameter)
    sound = np.sqrt(1.4 * (still - face**2 / 7.0))
    assert float(relative_mach(fan.unit, point)) == pytest.approx(np.hypot(tip, face) / sound,
                                                                  rel=1e-6)
    assert np.hypot(tip, face) / sound > 0.85
    assert bool(point.flagged("tip mach high"))
    assert point.severity.item() == "note"


def test_the_rim_of_a_blower_is_no_blade_that_air_meets() -> None:
    blower = SCENARIO.candidates["blower"]
    point = shipped.story().candidates["blower"].curve
    share = 21.0 / 38.0  # eye over wheel
    mach = relative_mach(blower.unit, point)
    assert np.nanmax(mach) < np.nanmax(point.tip_mach) or share > 0.9
    assert np.all(mach[np.isfinite(mach)] >= share * point.tip_mach[np.isfinite(mach)])


def test_a_label_propeller_of_81_per_cent_and_a_blower_of_75_draw_a_doubt() -> None:
    """Measured propellers of that size reach 57 to 73 % (University of Illinois database)."""
    (propeller,) = told(subject="propeller", words="efficiency at its best")
    (blower,) = told(subject="blower", words="isentropic efficiency at its best")
    assert propeller.rank == blower.rank == "check"
    assert blower.value == pytest.approx(0.755, abs=0.005)  # its peak; it is flown below


def test_a_map_that_is_too_poor_draws_a_doubt() -> None:
    blower = SCENARIO.candidates["blower"]
    stage = blower.unit.rotor.stage
    poor = replace(stage, power_points=4.0 * stage.power_points)
    unit = replace(blower.unit, rotor=replace(blower.unit.rotor, stage=poor))
    scenario = replace(SCENARIO, candidates={**SCENARIO.candidates,
                                             "blower": replace(blower, unit=unit)})
    (one,) = told(scenario, subject="blower", words="too low than too high")
    assert one.value < 0.25


def test_what_is_the_same_for_all_is_told_once_and_nothing_is_lost() -> None:
    entries = grouped(shipped.story().findings)
    sound = [entry for entry in entries if "wear hearing protection above" in entry.rest]
    assert len(sound) == 1
    assert [subject for subject, _ in sound[0].parts] == ["blower", "fan"]
    assert sum(len(entry.parts) for entry in entries) == len(shipped.story().findings)
    assert [entry.rank for entry in entries] == sorted(
        (entry.rank for entry in entries), key=("stop", "check", "note").index)


def test_every_rating_a_limit_asks_for_is_a_key_a_person_can_give() -> None:
    """One entry, one key: a rating misspelt in either would never be held."""
    asked: set[str] = set()

    class Ratings(dict):  # type: ignore[type-arg]
        def get(self, key: str, default: object = None) -> object:
            asked.add(key)
            return default

    states = states_of(shipped.story(), shipped.story().candidates["blower"],
                       SCENARIO.candidates["blower"], wiring=Wiring(ratings=Ratings()))
    for limit in LIMITS.values():
        limit.finding(states)
    assert asked == set(WiringSection.model_fields) - {"gauge", "length"}


def test_causes_of_a_search_do_not_share_a_bit() -> None:
    assert len(set(BITS.values())) == len(BITS)
    assert all(0 < bit < 2**63 for bit in BITS.values())
    assert sum(BITS.values()) == int(np.bitwise_or.reduce(list(BITS.values())))
