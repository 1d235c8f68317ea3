"""The sentence to remember: each of its numbers is looked up in results.json, by other code.

Over the shipped scenarios' reports, over scenarios drawn at random, and over comparisons altered to
reach what those do not. Nothing in the sentence is left unread.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import thrustlapse as tl
from tests.report.bare import remembered
from tests.report.comparison.test_verdict import altered, clean, heavy, per_mass
from tests.report.machines import (
    AIRFRAME,
    blower,
    equal_power,
    fan,
    five,
    hand_made,
    propeller,
    single,
    three,
    two,
    without_airframe,
)
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.report.comparison.break_even import break_even_sentences, break_even_table
from thrustlapse.report.comparison.results_file import results_text
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import INSTALLED, Comparison

SHIPPED = sorted((Path(__file__).parents[3] / "reports").glob("*/results.json"))
NUMBER = r"−?\d+(?:\.\d+)?"


def agrees(said: str, value: float) -> bool:
    """Whether a number as said is a value to its last digit; three digits from 1000 up."""
    said = said.replace("−", "-")
    whole, _, decimals = said.lstrip("-").partition(".")
    step = 10.0 ** (-len(decimals) if decimals else max(len(whole) - 3, 0))
    return abs(float(said) - value) <= 0.501 * step


class Reading:
    """A sentence taken apart, each part held against the results."""

    def __init__(self, text: str, found: dict[str, Any]) -> None:
        self.left, self.found = text, found
        self.x = np.array(found["airspeed_m_s"])
        self.names = "|".join(sorted(map(re.escape, found["candidates"]), key=len, reverse=True))

    def take(self, pattern: str) -> tuple[str, ...] | None:
        """Groups of a pattern at the front of what is left, which is then read."""
        pattern = pattern.replace("NUM", f"({NUMBER})").replace("NAME", f"({self.names})")
        match = re.match(pattern, self.left, flags=re.IGNORECASE)
        if match is None:
            return None
        self.left = self.left[match.end():]
        return tuple(self.own(group) for group in match.groups())

    def own(self, group: str) -> str:
        """A name as the results have it, also where a sentence begins with it."""
        return next((name for name in self.found["candidates"]
                     if name == group or name[:1].upper() + name[1:] == group), group)

    def thrust(self, name: str) -> np.ndarray:
        """Installed thrust over the airspeeds; NaN where it does not draw the power."""
        one = self.found["candidates"][name]
        short = np.array(one["short_of_reference"], dtype=float) == 0.0
        return np.where(short, np.array(one["installed_thrust_N"], dtype=float), np.nan)

    def rest(self, name: str) -> float:
        value = self.found["candidates"][name]["at_rest"]["installed_thrust_N"]
        return np.nan if value is None else value

    def place(self, said: str) -> int:
        places = [place for place, speed in enumerate(self.x) if agrees(said, speed)]
        assert places, said
        return places[len(places) // 2]

    def crossings(self) -> list[dict[str, Any]]:
        per = self.found["footing"].startswith("thrust per")
        every = (self.found["other_footings"]["as given"] if per else self.found["crossovers"])
        return [one for one in every if one["net_thrust_N"] > 0.0
                and self.rest(one["winner_above"]) < self.rest(one["winner_below"])
                and self.rest(one["winner_above"]) > 0.0]


def check(text: str, found: dict[str, Any]) -> str:
    """Read a whole sentence against the results; says which kind it was."""
    read = Reading(text, found)
    power = read.take(r"At NUM W against NUM W, ") or read.take(r"At NUM W, ")
    alone = read.take(r"NAME starts with NUM N")
    if alone is not None:
        name, thrust = alone
        assert agrees(thrust, read.rest(name))
        kept = read.take(r" and keeps NUM % of it, installed, at NUM m/s")
        if kept is not None:
            left = read.thrust(name)[read.place(kept[1])]
            assert agrees(kept[0], 100.0 * left / read.rest(name))
        assert read.left == "."
        return "alone"
    start = read.take(r"NAME starts with NUM % of the thrust of NAME")
    assert start is not None, text
    name, share, rival = start
    assert agrees(share, 100.0 * read.rest(name) / read.rest(rival))
    for watts, who in zip(power or (), (name, rival), strict=False):
        assert agrees(watts, found["candidates"][who]["at_rest"]["electrical_power_W"])
    kept = read.take(r", keeps NUM % of its own, installed, at NUM m/s where NAME keeps NUM %")
    place = None
    if kept is not None:
        place = read.place(kept[1])
        assert kept[2] == rival
        for said, who in ((kept[0], name), (kept[3], rival)):
            assert agrees(said, 100.0 * read.thrust(who)[place] / read.rest(who))
    kind = _passes(read, name, rival) or _stays(read, name, rival) or "start"
    _others(read, name, rival, place)
    assert read.left == ".", read.left
    return kind


def _passes(read: Reading, name: str, rival: str) -> str | None:
    passes = read.take(r", and passes NAME at NUM m/s")
    if passes is None:
        assert read.crossings() == []
        return None
    assert passes[0] == rival
    there = [one for one in read.crossings() if agrees(passes[1], one["airspeed_m_s"])
             and (one["winner_above"], one["winner_below"]) == (name, rival)]
    needs = read.take(r" on an airframe below NUM cm² of drag area \(this one has NUM cm²\)")
    if needs is not None:
        assert any(agrees(needs[0], 1e4 * (one["drag_area_threshold_m2"] or np.nan))
                   for one in there)
        assert agrees(needs[1], 1e4 * read.found["drag_area_m2"])
        return "passes, f*"
    assert there
    if read.take(", but not on this airframe above its stall, once induced drag is taken off") \
            is not None:
        assert read.found["drag_area_m2"] is not None
        assert all(one["kind"] == INSTALLED for one in read.crossings())
        return "passes, not here"
    assert read.found["drag_area_m2"] is None
    return "passes"


def _stays(read: Reading, name: str, rival: str) -> str | None:
    own, other = read.thrust(name), read.thrust(rival)
    ahead = read.take(r", and is ahead of it at NUM m/s")
    if ahead is not None:
        place = read.place(ahead[0])
        assert own[place] > other[place]
        return "ahead"
    behind = read.take(r", and does not pass it up to NUM m/s")
    if behind is None:
        return None
    end = read.place(behind[0])
    assert np.all(own[:end + 1] <= other[:end + 1])
    assert np.all(own[:end + 1] > 0.0)
    if read.take(", the fastest asked for") is not None:
        assert end == read.x.size - 1
        return "behind, end"
    lost = read.take(", beyond which NAME does not push")
    if lost is not None:
        assert read.thrust(lost[0])[end + 1] <= 0.0
        return "behind, no push"
    lost = read.take(", beyond which NAME does not draw that power")
    if lost is not None:
        assert read.found["candidates"][lost[0]]["short_of_reference"][end + 1] == 1.0
        return "behind, short"
    lost = read.take(", beyond which nothing is known of NAME")
    assert lost is not None, read.left
    assert read.found["candidates"][lost[0]]["installed_thrust_N"][end + 1] is None
    return "behind, unknown"


def _others(read: Reading, name: str, rival: str, place: int | None) -> None:
    others = {one: read.thrust(one)[place] for one in read.found["candidates"]
              if one not in (name, rival)} if place is not None else {}
    known = {one: value for one, value in others.items() if np.isfinite(value)}
    if not others:
        return
    if not known:
        assert read.take(r"; of .* nothing is known at NUM m/s on that footing") is not None
        return
    most = max(known, key=lambda one: known[one])
    if known[most] <= 0.0:
        assert read.take("; NAME does not push at NUM m/s")[0] == most
        return
    still = read.take("; NAME still makes NUM N at NUM m/s")
    told = still or read.take("; NAME makes NUM N at NUM m/s")
    assert told[0] == most
    assert agrees(told[1], known[most])
    assert (still is not None) == (known[most] > read.thrust(name)[place])


def held(comparison: Comparison) -> str:
    """The kind of a comparison's sentence, after all its numbers were found right."""
    return check(remembered(comparison), json.loads(results_text(comparison)))


# The shipped scenarios, made ones, and made ones at random ----------------------------------------


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.parent.name)
def test_the_sentence_of_a_shipped_report_agrees_with_its_results(path: Path) -> None:
    found = json.loads(path.read_text(encoding="utf-8"))
    if found["format"] != "thrustlapse comparison":
        return
    assert check(remembered(tl.read_results(path)), found)


@pytest.mark.parametrize(("make", "kind"), [
    (three, "passes, f*"), (two, "passes, f*"), (equal_power, "passes, f*"), (five, "passes, f*"),
    (clean, "passes, f*"), (per_mass, "passes, f*"), (heavy, "passes, not here"),
    (without_airframe, "passes"), (single, "alone"),
])
def test_the_sentence_fits_the_case(make, kind) -> None:
    assert held(make()) == kind
    assert remembered(make()).startswith("At 400 W, ")


@pytest.mark.parametrize("seed", range(14))
def test_the_sentence_is_true_of_scenarios_at_random(seed: int) -> None:
    rng = np.random.default_rng(seed)
    machines = [blower(exit_diameter=rng.uniform(0.010, 0.024), power=rng.uniform(100.0, 700.0)),
                fan(), propeller(power=rng.uniform(60.0, 500.0)),
                blower("second blower", exit_diameter=rng.uniform(0.010, 0.024))]
    chosen = [machines[place] for place in rng.permutation(4)[:rng.integers(1, 5)]]
    footing = rng.choice(["as given", "same electrical power", "thrust per installed mass"])
    reference = chosen[0].name if footing == "same electrical power" else None
    lowest = rng.choice([0.0, 0.0, 12.0])
    scenario = hand_made(
        *chosen, comparison=Basis(footing=footing, reference=reference, electrical_power=None),
        airframe=None if rng.random() < 0.3 else replace(
            AIRFRAME, minimum_drag_coefficient=rng.uniform(0.001, 0.03)),
        airspeeds=np.linspace(lowest, rng.uniform(20.0, 90.0), rng.integers(1, 60)))
    assert held(compare(scenario))


# Altered, for what is rare ------------------------------------------------------------------------


def slower(comparison: Comparison, **changes: np.ndarray) -> Comparison:
    """Without crossovers, and with other installed thrusts."""
    comparison = replace(comparison, crossovers=())
    for name, thrust in changes.items():
        curve = comparison.candidates[name].curve
        comparison = altered(comparison, name, curve=replace(
            curve, installed_thrust=np.asarray(thrust), flag_bits=np.where(
                np.isfinite(thrust), curve.flag_bits, int(Flag.OUTSIDE_MAP))))
    return comparison


def test_nobody_passes_anybody() -> None:
    x = two().airspeed
    weak, strong = np.full(x.shape, 0.5), 9.0 - 0.01 * x
    assert held(slower(two(), blower=weak, propeller=strong)) == "behind, end"
    assert held(slower(two(), blower=0.5 - 0.01 * x, propeller=strong)) == "behind, no push"
    gone = np.where(x < 30.0, strong, np.nan)
    assert held(slower(two(), blower=weak, propeller=gone)) == "behind, unknown"
    assert held(slower(two(), blower=np.where(x < 30.0, weak, np.nan), propeller=strong)) == \
        "behind, unknown"
    short = altered(slower(two(), blower=weak, propeller=strong), "propeller",
                    short_of_reference=np.where(x > 20.0, 1.0, 0.0))
    assert held(short) == "behind, short"
    assert held(slower(two(), blower=strong, propeller=weak)) == "ahead"
    assert held(slower(two(), blower=-weak, propeller=strong)) == "start"


def test_the_others_are_told_as_they_are() -> None:
    x = three().airspeed
    for thrust, words in ((np.full(x.shape, 3.0), "ducted fan still makes 3.00 N at"),
                          (np.full(x.shape, 0.1), "ducted fan makes 0.100 N at"),
                          (np.full(x.shape, -0.1), "ducted fan does not push at"),
                          (np.full(x.shape, np.nan), "of ducted fan nothing is known at")):
        changed = slower(three(), **{"ducted fan": thrust})
        changed = replace(changed, crossovers=tuple(
            one for one in three().crossovers if "ducted fan" not in one.between))
        assert words in remembered(changed)
        held(changed)


def test_unequal_watts_are_both_told() -> None:
    weak = compare(hand_made(blower(power=250.0), propeller()))
    assert remembered(weak).startswith("At 250 W against 400 W, blower starts with ")
    held(weak)


def test_nothing_known_is_nothing_to_remember() -> None:
    lost = single().candidates["blower"].at_rest
    assert remembered(altered(single(), "blower", at_rest=replace(
        lost, installed_thrust=np.asarray(np.nan)))) == ""
    dark = altered(single(), "blower", at_rest=replace(
        lost, electrical_power=np.asarray(np.nan)))
    assert remembered(dark).startswith("Blower starts with ")
    still = compare(hand_made(blower(), airframe=None, airspeeds=np.array([0.0])))
    assert re.fullmatch(rf"At 400 W, blower starts with {NUMBER} N\.", remembered(still))


# What it would take -------------------------------------------------------------------------------


def test_the_need_is_told_at_the_same_airspeed_with_the_results_numbers() -> None:
    said = break_even_sentences(three())
    speed = re.search(r"installed, at (\S+) m/s", remembered(three())).group(1)
    assert said[0].startswith(f"To tie with blower at {speed} m/s, ") or \
        said[0].startswith(f"To tie with propeller at {speed} m/s, ")
    rival = re.match(r"To tie with (\w+) at", said[0]).group(1)
    place = [*three().airspeed].index(float(speed))
    for told in re.finditer(rf"(blower|ducted fan|propeller) would need a chain efficiency of "
                            rf"({NUMBER}) % at its jet speed or ({NUMBER}) % at its exit, and has "
                            rf"({NUMBER}) %", said[0]):
        name, *numbers = told.groups()
        one = next(one for one in three().break_even if one.kind != INSTALLED
                   and (one.candidate, one.rival) == (name, rival))
        for text, values in zip(numbers, (one.needed_chain_efficiency_jet_held,
                                          one.needed_chain_efficiency_exit_held,
                                          one.own_chain_efficiency), strict=True):
            assert agrees(text, 100.0 * values[place])


def test_where_nobody_could_is_said_and_nowhere_else() -> None:
    """Needs above 1 over some airspeeds: those, and no others, are in the sentence."""
    base = next(one for one in two().break_even if one.kind != INSTALLED
                and (one.candidate, one.exit) == ("blower", "as built"))
    x = two().airspeed
    for above, words in (((x >= 20) & (x <= 30), "from 20.0 m/s to 30.0 m/s at the power"),
                         (x <= 30, "up to 30.0 m/s at the power"), (x == 40.0, "at 40.0 m/s at"),
                         (((x >= 20) & (x <= 30)) | (x == 40), "30.0 m/s and at 40.0 m/s at the"),
                         (x < 0.0, None)):
        needed = np.where(np.isfinite(base.needed_chain_efficiency_jet_held),
                          np.where(above, 1.2, 0.9), np.nan)
        changed = replace(two(), break_even=(replace(
            base, needed_chain_efficiency_jet_held=needed),))
        told = [text for text in break_even_sentences(changed) if "whoever builds it" in text]
        assert len(told) == (words is not None)
        assert words is None or words in told[0]


def test_the_nozzle_alone_is_told_where_it_is_worth_it() -> None:
    assert "The best nozzle exit alone would give, at" in break_even_sentences(two())[-1]
    as_good = replace(two(), best_nozzles={"blower": replace(
        two().best_nozzles["blower"],
        best_thrust=two().candidates["blower"].curve.installed_thrust)})
    assert not any("nozzle" in text for text in break_even_sentences(as_good))


def test_the_table_has_the_weaker_of_each_pair() -> None:
    table = break_even_table(three())
    place = [*three().airspeed].index(float(re.search(r"at (\S+) m/s", table.caption).group(1)))
    assert {(row[0], row[1]) for row in table.rows} == {
        (one.candidate + (", best exit" if one.exit != "as built" else ""), one.rival)
        for one in three().break_even if one.kind != INSTALLED
        and one.needed_chain_efficiency_jet_held[place] > one.own_chain_efficiency[place]}
    assert all(len(row) == len(table.heads) == 9 for row in table.rows)
    assert len(break_even_table(without_airframe()).heads) == 8
    assert break_even_table(single()).rows == ()
    assert break_even_sentences(single()) == []
