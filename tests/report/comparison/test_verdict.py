"""The verdict follows from the numbers, in every case an aircraft and its machines can be in.

Cases marked "altered" change single results of a computed comparison, to reach each branch; the
others are computed from start to end.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.report.bare import verdict
from tests.report.machines import (
    AIRFRAME,
    blower,
    equal_power,
    five,
    hand_made,
    propeller,
    single,
    three,
    two,
    without_airframe,
)
from tests.shipped import without_draws
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.operating_point import MEANING, Flag
from thrustlapse.report.comparison.ranking import (
    changes_lead,
    in_words,
    leads,
    runs,
    static_order,
    tops,
)
from thrustlapse.report.comparison.results_file import results_text
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.verdict import TIE, TIE_SPEED
from thrustlapse.report.number_format import area, listed, number, percent, sentence, speed
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import (
    INSTALLED,
    ON_AIRFRAME,
    Comparison,
    Crossover,
    Finding,
    FlipItem,
)


def said(comparison: Comparison) -> str:
    told = verdict(comparison)
    return "\n".join([told.headline, *told.sentences])


def about(comparison: Comparison, words: str) -> str:
    found = [text for text in verdict(comparison).sentences if words in text]
    assert len(found) == 1, (words, found)
    return found[0]


def altered(comparison: Comparison, name: str, **changes: Any) -> Comparison:
    result = replace(comparison.candidates[name], **changes)
    return replace(comparison, candidates={**comparison.candidates, name: result})


def flown(comparison: Comparison, name: str, *, top: float, bound: float | None = None,
          reason: str = "thrust is short of drag at every speed above the stall") -> Comparison:
    level = comparison.candidates[name].level
    assert level is not None
    nowhere = not np.isfinite(top)
    changed = replace(level, top_speed=top, lowest_bound=top if bound is None else bound,
                      reason=reason)
    return altered(comparison, name, level=changed,
                   **({"at_top": None} if nowhere else {}))


def with_rest(comparison: Comparison, **thrusts: float) -> Comparison:
    for name, thrust in thrusts.items():
        point = comparison.candidates[name].at_rest
        comparison = altered(comparison, name,
                             at_rest=replace(point, installed_thrust=np.asarray(thrust)))
    return comparison


@cache
def clean() -> Comparison:
    """An airframe so slippery that the blower gets beyond the crossover."""
    slippery = replace(AIRFRAME, minimum_drag_coefficient=0.0008)
    return compare(hand_made(blower(), propeller(), airframe=slippery))


@cache
def heavy() -> Comparison:
    """An aircraft that none of them holds up."""
    return compare(hand_made(blower(), propeller(), airframe=replace(
        AIRFRAME, mass=20.0, launch_speed=60.0, induced_factor=0.4)))


@cache
def per_mass() -> Comparison:
    return compare(hand_made(blower(), propeller(), comparison=Basis(
        footing="thrust per installed mass", reference=None, electrical_power=None)))


# Headlines ---------------------------------------------------------------------------------------


def test_nothing_gets_to_the_crossover() -> None:
    crossing = next(one for one in two().crossovers if one.kind == ON_AIRFRAME)
    top = two().candidates["propeller"].level.top_speed
    assert crossing.airspeed > top
    assert verdict(two()).headline == (
        f"Blower would overtake propeller at {speed(crossing.airspeed)}, but nothing here gets "
        f"there: propeller is the fastest, {speed(top)}.")
    assert "none of these gets there" in about(two(), "left for parasite drag")


def test_a_clean_airframe_gets_beyond_the_crossover() -> None:
    crossing = next(one for one in clean().crossovers if one.kind == ON_AIRFRAME)
    top = clean().candidates["blower"].level.top_speed
    assert top > crossing.airspeed
    headline = verdict(clean()).headline
    assert headline.startswith(f"Blower wins: it flies level at {speed(top)}, beyond the")
    assert "overtakes propeller; propeller has the most installed thrust at rest" in headline
    assert "still makes the faster aircraft" in about(clean(), "threshold f*")


def test_the_threshold_does_not_depend_on_the_parasite_drag() -> None:
    dirty, slippery = (next(one for one in comparison.crossovers if one.kind == ON_AIRFRAME)
                       for comparison in (two(), clean()))
    assert dirty.drag_area_threshold == pytest.approx(slippery.drag_area_threshold, rel=1e-6)
    text = about(two(), "threshold f*")
    assert area(dirty.drag_area_threshold) in text
    assert area(two().drag_area) in text
    assert area(two().drag_area - dirty.drag_area_threshold) in text


def test_no_airframe_claims_no_top_speed() -> None:
    assert "without an airframe nobody can say" in verdict(without_airframe()).headline
    assert "no top speed is claimed" in said(without_airframe())
    assert "threshold" not in said(without_airframe())


def test_a_single_candidate_has_no_rival() -> None:
    text = said(single())
    thrust = single().candidates["blower"].at_rest.installed_thrust.item()
    assert verdict(single()).headline.startswith(f"Blower makes {number(thrust)} N")
    assert "flies level at" in verdict(single()).headline
    assert "overtakes" not in text
    assert "other footings" not in text


def test_level_flight_is_impossible_with_any_of_them() -> None:
    assert tops(heavy()) == []
    assert verdict(heavy()).headline == ("Level flight is impossible with any of these: blower and "
                                         "propeller.")
    for name in ("blower", "propeller"):
        reason = heavy().candidates[name].level.reason
        assert f"Level flight is impossible with {name}: {reason}" in said(heavy())
    assert "flip" not in said(heavy())


def test_a_single_candidate_that_does_not_fly() -> None:
    grounded = flown(single(), "blower", top=np.nan)
    assert "level flight is impossible with it" in verdict(grounded).headline


def test_one_of_them_does_not_fly() -> None:
    assert "Level flight is impossible with blower with half the power limit" in said(five())


def test_a_top_speed_beyond_the_data_is_a_lower_bound() -> None:
    unknown = flown(two(), "propeller", top=np.nan, bound=66.0)
    assert verdict(unknown).headline.startswith(
        "Propeller is the fastest of what is known on this airframe, at least 66.0 m/s")
    assert "its top speed lies higher and is not known" in said(unknown)
    assert "propeller at least 66.0 m/s" in said(unknown)


def test_altered_a_rival_whose_data_end_is_not_beaten() -> None:
    """The slower one still gains where its table ends: who is faster is not known."""
    unknown = flown(two(), "blower", top=np.nan, bound=30.0)
    headline = verdict(unknown).headline
    assert headline.startswith("Propeller is the fastest of what is known on this airframe, 40.4")
    assert "blower is still gaining at 30.0 m/s, as far as it is known or looked at" in headline
    assert "nothing here gets there" not in headline
    assert "wins" not in headline


def test_altered_practically_as_fast() -> None:
    top = two().candidates["propeller"].level.top_speed
    close = flown(two(), "blower", top=top * (1.0 - 0.9 * TIE_SPEED))
    assert "practically as fast" in verdict(close).headline
    apart = flown(two(), "blower", top=top * (1.0 - 1.1 * TIE_SPEED))
    assert "practically" not in verdict(apart).headline


def test_altered_one_wins_everywhere() -> None:
    alone = replace(two(), crossovers=())
    assert verdict(alone).headline.startswith("Propeller wins at rest and at speed")
    assert "no candidate overtakes another above the stall" in said(alone)


def test_altered_fastest_without_a_crossover() -> None:
    other = with_rest(replace(two(), crossovers=()), blower=99.0)
    assert verdict(other).headline.startswith("Propeller is the fastest on this airframe")
    assert "blower has the most installed thrust at rest" in verdict(other).headline


def test_altered_a_crossover_no_airframe_reaches() -> None:
    hopeless = Crossover(kind=ON_AIRFRAME, between=("blower", "propeller"),
                         winner_below="propeller", winner_above="blower", airspeed=70.0,
                         net_thrust=-0.4, drag_area_threshold=-1.4e-4)
    text = said(replace(two(), crossovers=(hopeless,)))
    assert "no airframe gets there, however clean" in text
    assert text.startswith("Propeller wins at rest and at speed")


@pytest.mark.parametrize("left", [-0.4, 0.0])
def test_altered_changing_places_without_thrust_is_no_win(left: float) -> None:
    """Below the top speed, as behind a hump of drag that the launch carries it over."""
    empty = Crossover(kind=ON_AIRFRAME, between=("blower", "propeller"),
                      winner_below="blower", winner_above="propeller", airspeed=20.0,
                      net_thrust=left, drag_area_threshold=left / 245.0)
    changed = replace(two(), crossovers=(empty,))
    text = said(with_rest(changed, blower=99.0))
    assert "no usable crossover" in text
    assert "propeller overtakes" not in text
    assert "it overtakes" not in text
    (row,) = all_tables(changed)["crossovers"].rows
    assert row[0] == ("no usable crossover: neither can carry the aircraft there, propeller falls "
                      "short by less than blower")
    assert row[-2:] == ("no aircraft can, however clean", "no: no thrust is left there")


def test_pushing_backwards_less_is_worded_as_that() -> None:
    empty = Crossover(kind=INSTALLED, between=("blower", "propeller"), winner_below="propeller",
                      winner_above="blower", airspeed=70.0, net_thrust=-0.4,
                      drag_area_threshold=None)
    assert in_words(empty) == (
        "no usable crossover: neither makes thrust there, and blower drags less than propeller")
    assert in_words(replace(empty, net_thrust=0.4)) == "blower overtakes propeller"
    text = said(replace(two(), crossovers=(empty,)))
    assert "No candidate overtakes another while both pull" in text


def test_altered_nothing_known_at_rest() -> None:
    blank = with_rest(two(), blower=np.nan, propeller=np.nan)
    assert "Nothing is known at rest of blower and propeller" in said(blank)
    grounded = flown(flown(blank, "blower", top=np.nan), "propeller", top=np.nan)
    assert verdict(grounded).headline.startswith("Nothing is known of any candidate at rest")


# At rest, over the airspeeds, footings -----------------------------------------------------------


def test_who_has_most_thrust_at_rest() -> None:
    rest = {name: result.at_rest.installed_thrust.item()
            for name, result in two().candidates.items()}
    text = about(two(), "At rest")
    assert text.startswith("At rest propeller makes the most installed thrust")
    assert f"{number(rest['propeller'])} N" in text
    assert f"{rest['propeller'] / rest['blower']:.1f} times as much as blower" in text


def test_altered_equal_at_rest() -> None:
    close = with_rest(two(), blower=10.0, propeller=10.0 * (1.0 + 0.5 * TIE))
    assert "are equal within 5 %" in about(close, "At rest")
    assert "times as much" not in about(close, "At rest")


def test_the_lead_passes_at_the_crossover() -> None:
    crossing = next(one for one in two().crossovers if one.kind == INSTALLED)
    first, second, last = leads(two())
    assert (first.name, second.name, last.name) == ("propeller", "blower", None)
    assert first.stop == second.start == crossing.airspeed
    curve = two().candidates["blower"].measure
    assert np.interp(last.start, two().airspeed, curve) == pytest.approx(0.0, abs=1e-6)
    assert f"leads from rest to {number(crossing.airspeed)} m/s; then blower" in said(two())
    assert "no candidate makes thrust" in said(two())


def test_a_lead_lost_because_data_end_is_said() -> None:
    comparison = without_airframe()
    measure = comparison.candidates["propeller"].measure.copy()
    measure[10:] = np.nan
    short = altered(comparison, "propeller", measure=measure)
    assert leads(short)[1].ended == "propeller"
    assert "where its data ends" in verdict(short).headline
    assert f"Nothing is known of propeller beyond {number(comparison.airspeed[9])} m/s" \
        in said(short)


def test_only_crossings_of_the_leaders_change_the_lead() -> None:
    lead = {one.between for one in three().crossovers
            if one.kind == INSTALLED and one.net_thrust > 0.0 and changes_lead(three(), one)}
    assert lead == {("blower", "propeller")}


def test_a_footing_per_mass_compares_and_flies_as_given() -> None:
    text = said(per_mass())
    rest = per_mass().candidates["propeller"]
    per = rest.at_rest.installed_thrust.item() / rest.installed_mass
    assert f"most installed thrust per installed mass, {number(per)} N/kg" in text
    assert "overtakes propeller at" in text
    assert "threshold f*" in text


def test_an_equal_footing_out_of_reach_is_said() -> None:
    short = equal_power().candidates["propeller"].short_of_reference
    assert short.any()
    text = about(equal_power(), "cannot draw the reference power")
    start = runs(equal_power().airspeed, [str(value) for value in short.tolist()])
    assert f"from {number(next(run[0] for run in start if run[2] == '1.0'))} m/s" in text
    assert "that of blower at each airspeed" in said(equal_power())


def test_a_stated_power_is_named() -> None:
    fixed = replace(equal_power(), reference=None, reference_power=350.0)
    assert "same electrical power, 350 W at the pack" in said(fixed)


def test_other_footings_are_told() -> None:
    assert "(thrust per installed mass)" in about(two(), "On another basis")
    assert "(thrust per frontal area)" in about(two(), "On another basis")


def test_a_single_airspeed_ranks_at_that_airspeed() -> None:
    at_thirty = compare(hand_made(blower(), propeller(), airspeeds=np.array([30.0])))
    text = about(at_thirty, "the only airspeed asked for")
    assert text.index("propeller") < text.index("blower")
    assert "leads from" not in said(at_thirty)


# Nozzle, drive, flip items, notes ----------------------------------------------------------------


def test_the_best_nozzle_and_the_cost_of_the_fixed_one() -> None:
    study = two().candidates["blower"].nozzle
    text = about(two(), "The nozzle exit that gives blower most thrust")
    assert f"{number(1000.0 * study.best_diameter[0])} mm at rest" in text
    assert "its 19.0 mm exit" in text
    assert percent(float(study.cost[0])) + " at rest" in text
    assert percent(float(study.cost[-1])) + " at" in text


def test_a_nozzle_at_its_best_costs_nothing() -> None:
    study = two().candidates["blower"].nozzle
    best = altered(two(), "blower", nozzle=replace(study, fixed_thrust=0.999 * study.best_thrust))
    assert "is within 1.0 %" in about(best, "nozzle exit that gives")
    edge = altered(two(), "blower", nozzle=replace(study, at_edge=np.ones(6, dtype=bool)))
    assert "a wider duct might do more" in about(edge, "nozzle exit that gives")
    dead = altered(two(), "blower", nozzle=replace(study, fixed_thrust=-study.best_thrust))
    assert "loses all of it at rest" in about(dead, "nozzle exit that gives")
    none = altered(two(), "blower", nozzle=replace(study, best_thrust=-study.best_thrust))
    assert "No nozzle exit gives blower any thrust" in said(none)


def test_the_active_drive_limit_is_told_along_the_curve() -> None:
    text = about(two(), "What limits the shaft speed")
    assert "blower: the power cap throughout" in text
    assert "propeller: the power cap up to 53.0 m/s, then full voltage" in text


def test_no_single_item_flips_it() -> None:
    needed = next(item.needed for item in two().flip_items if item.rival == "blower")
    text = about(two(), "flip the order")
    assert text.startswith("No single drag item is large enough")
    assert area(needed) in text
    assert area(two().candidates["blower"].external_drag_areas["pod"]) in text


def test_altered_one_item_flips_it() -> None:
    items = (FlipItem(rival="blower", item="pod", drag_area=5e-4, needed=2e-4, possible=True),
             FlipItem(rival="blower", item="base", drag_area=1e-4, needed=2e-4, possible=False))
    text = about(replace(two(), flip_items=items), "One change that would flip it")
    assert "2.00 cm² off blower's pod and duct drag (now 5.00 cm²)" in text
    assert "large enough" not in said(replace(two(), flip_items=items))


def test_altered_a_rival_held_back_by_its_launch() -> None:
    items = (FlipItem(rival="blower", item="pod", drag_area=5e-4, needed=-1e-4, possible=True),)
    grounded = flown(replace(two(), flip_items=items), "blower", top=np.nan,
                     reason="it would have to be launched faster than 30.0 m/s")
    text = about(grounded, "thrust to spare")
    assert "launched faster than 30.0 m/s" in text
    assert "One change that would flip it" not in said(grounded)


@pytest.mark.parametrize("flag", [Flag.STALL_SIDE, Flag.THROAT_CHOKED, Flag.NOZZLE_CHOKED,
                                  Flag.TIP_MACH_HIGH, Flag.TWO_MATCHES])
def test_notes_on_decisive_points_qualify_the_verdict(flag: Flag) -> None:
    result = two().candidates["blower"]
    assert MEANING[flag] not in said(two())
    point = replace(result.at_top, flag_bits=result.at_top.flag_bits | int(flag))
    text = about(altered(two(), "blower", at_top=point), MEANING[flag])
    assert text.startswith("Read blower with care at its top speed")


def test_findings_that_say_stop_come_first() -> None:
    stop = Finding(rank="stop", subject="blower", text="too fast", value=1.0, limit=0.5, unit="",
                   change="slow down")
    told = verdict(replace(two(), findings=(stop, *two().findings)))
    assert told.sentences[0] == ("One finding says stop (blower): settle that before anything is "
                                 "run.")
    assert "says stop" not in said(two())


@pytest.mark.parametrize("make", [single, two, three, five, without_airframe, equal_power, clean,
                                  heavy, per_mass], ids=lambda make: make.__name__)
def test_every_verdict_says_what_it_is(make: Any) -> None:
    told = verdict(make())
    text = "\n".join([told.headline, *told.sentences])
    assert "computed for these builds" in text
    assert "not in these numbers" in text
    assert "invented" in text
    assert "nan" not in text.replace("finance", "")
    assert "None" not in text
    assert "no value" not in text
    for one in (told.headline, *told.sentences):
        assert one[0].isupper() or one[0].isdigit()
        assert one.endswith(".")
        assert "  " not in one
    real = verdict(replace(make(), invented=False))
    assert "invented" not in "\n".join(real.sentences)


@pytest.mark.parametrize(("value", "text"), [
    (0.0451, "0.0451"), (2.151, "2.15"), (13.42, "13.4"), (1368.0, "1370"), (0.0, "0"),
    (99.97, "100"), (9.996, "10.0"), (-1.107, "\u22121.11"), (float("nan"), "no value"),
    (123456.0, "123000"),
])
def test_numbers_keep_three_digits(value: float, text: str) -> None:
    assert number(value) == text


def test_lists_and_sentences() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert sentence("blower wins") == "Blower wins."
    assert sentence("Done.") == "Done."
    assert percent(0.0957) == "9.6 %"
    assert percent(0.12) == "12 %"


def test_who_cannot_draw_the_reference_is_named_with_its_watts_and_not_ranked() -> None:
    """History: a propeller that drew 274 W of 600 W was ranked and given crossovers."""
    text = Path("scenarios/which_machine_when.toml").read_text(encoding="utf-8")
    wound = text.replace('pitch = "70 mm"', 'pitch = "50 mm"').replace(
        'speed_constant = "3600 rpm/V"\nresistance = "24 mohm"',
        'speed_constant = "3000 rpm/V"\nresistance = "24 mohm"')
    short = compare(without_draws(read_text(wound)))
    drawn = short.candidates["propeller"].at_rest.electrical_power.item()
    assert drawn < 300.0
    told = verdict(short)
    for words in (told.headline, told.sentences[0]):
        assert f"draws only {number(drawn)} W of the 600 W at rest" in words
    assert "propeller" not in dict(static_order(short))
    assert all(stretch.name != "propeller" for stretch in leads(short))
    every = [*short.crossovers, *short.other_footings.get("same electrical power", ())]
    assert not any("propeller" in one.between for one in every)
    mended = compare(without_draws(read_text(text)))
    propeller = mended.candidates["propeller"]
    assert propeller.at_rest.electrical_power.item() == pytest.approx(600.0, rel=1e-3)
    held = propeller.short_of_reference == 0.0
    assert np.nanmax(propeller.curve.tip_mach[held]) < 0.85
    assert "draws only" not in told_of(mended)


def test_where_none_draws_the_reference_nobody_wins_and_nothing_known_is_denied() -> None:
    """History: "wins at rest and at speed" of one that drew 220 W of 600 W, as all fell short; or,
    where none flew, "Nothing is known at rest" and "Nothing pulls", of machines that did pull."""
    text = Path("scenarios/which_machine_when.toml").read_text(encoding="utf-8")
    asked = text.replace('electrical_power = "600 W"', 'electrical_power = "20 kW"', 1)
    for mass in ("0.9 kg", "60 kg"):
        heavy = asked.replace('mass = "0.9 kg"', f'mass = "{mass}"')
        none = compare(without_draws(read_text(heavy)))
        told = told_of(none)
        assert not static_order(none)
        assert all(one.at_rest.installed_thrust > 0.0 for one in none.candidates.values())
        for wrong in (" wins", "most installed thrust at rest", "Nothing is known of any",
                      "No candidate makes thrust at any"):
            assert wrong not in told, (mass, wrong)
        assert "No candidate makes thrust on that power at any airspeed asked for" in told
        assert ("none draws the power all are held to" in told.lower()) == bool(tops(none))
        assert ("Level flight is impossible with any" in told) != bool(tops(none))


def told_of(comparison: Comparison) -> str:
    told = verdict(comparison)
    return told.headline + " ".join(told.sentences)


def test_a_trust_that_nobody_stated_is_null_in_the_file() -> None:
    answer = three()
    document = json.loads(results_text(answer))
    for name, one in answer.candidates.items():
        if one.trust_basis == "not stated":
            key_ = next(k for k in document["candidates"][name] if k.startswith("output_trust"))
            assert document["candidates"][name][key_] is None
    assert any(one.output_trust is None for one in answer.candidates.values())
