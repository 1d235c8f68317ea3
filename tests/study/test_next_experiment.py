"""What to measure next: the chance that an experiment settles a verdict, and the order of them."""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import thrustlapse as tl
from thrustlapse.bench.evidence import BENCH, Piece
from thrustlapse.bench.readings import AS_FLOWN, bench_readings
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.bench_fit import FitError, FittedMachine
from thrustlapse.study.evidence import machine_of
from thrustlapse.study.next_experiment import (
    DEVIATIONS,
    DIVE,
    SETTLED,
    SHUT,
    chance_settled,
    next_experiments,
)
from thrustlapse.study.verdict_question import Verdict

SCENARIOS = Path(__file__).parents[2] / "scenarios"
TRIAL = Path(__file__).parents[1] / "tools" / "next_trial.csv"


@cache
def _story() -> Scenario:
    return tl.read_scenario(SCENARIOS / "three_ways_to_push.toml")


@cache
def _described(name: str) -> FittedMachine:
    return machine_of(_story().candidates[name], ())


@cache
def _read() -> FittedMachine:
    bench = tl.read_bench(SCENARIOS / "story_blower_bench.csv")
    return machine_of(_story().candidates["blower"], [Piece(
        kind=BENCH, name="a", digest="b", date="c", readings=bench)])


@pytest.mark.parametrize(("mean", "before", "after"), [
    (0.5, 1.0, 0.3), (0.0, 2.0, 0.5), (-1.0, 1.0, 0.6), (3.0, 1.0, 0.9)])
def test_the_chance_of_settling_is_what_happens_to_many_truths(mean: float, before: float,
                                                               after: float) -> None:
    """Truths drawn, each read with the error that leaves ``after``; Bayes' rule for normal numbers
    (any text on statistics); counted how often the answer is then surer than 95 %."""
    random = np.random.default_rng(3)
    truth = mean + before * random.standard_normal(400_000)
    error = (after**-2 - before**-2)**-0.5
    seen = truth + error * random.standard_normal(truth.size)
    posterior = after**2 * (mean / before**2 + seen / error**2)
    settled = np.mean(np.abs(posterior) >= DEVIATIONS * after)
    assert chance_settled(mean, before=before, after=after) == pytest.approx(settled, abs=3e-3)


def test_an_experiment_that_tells_nothing_settles_what_is_settled_and_nothing_else() -> None:
    assert chance_settled(2.0, before=1.0, after=1.0) == 1.0
    assert chance_settled(1.0, before=1.0, after=1.0) == 0.0
    assert chance_settled(0.1, before=0.0, after=0.0) == 1.0


def test_a_reading_at_hand_beats_one_that_says_little_and_both_beat_a_glide() -> None:
    """Drag is given without a spread in this scenario, so a coasting run tells nothing of it."""
    found = next_experiments(_story(), "blower", _described("blower"), Verdict(reach=27.0))
    order = [one.name for one in found.experiments]
    assert not found.settled
    assert not found.out_of_reach
    assert order.index("repeat") < order.index("shaft speed by sound") < order.index("coasting run")
    assert {"second nozzle", "shut inlet", "shut outlet", "suction behind a plate",
            "level run at full throttle", "dive and pull-out", "a better scale"} <= {*order}
    chances = [one.expected_chance_settled for one in found.experiments]
    assert chances == sorted(chances, reverse=True)
    assert all(one.deviation <= found.deviation * (1.0 + 1e-9) for one in found.experiments)
    assert found.all_together >= max(chances) - 1e-9
    cautions = {one.name: one.caution for one in found.experiments}
    assert cautions["shut inlet"] == SHUT
    assert cautions["dive and pull-out"] == DIVE


def test_the_predicted_deviation_comes_true_when_the_experiment_is_made() -> None:
    """The bench's first reading made again, as the description predicts it, by the whole fit."""
    asked = Verdict(reach=27.0)
    before = next_experiments(_story(), "blower", _described("blower"), asked, flights=False)
    expected = {one.name: one.deviation for one in before.experiments}
    point = operate(_story().candidates["blower"], airspeed=np.zeros(1))
    read = bench_readings(thrust=point.net_thrust, electrical_power=point.electrical_power,
                          setting=[AS_FLOWN], nozzle_diameter=[0.015])
    after = next_experiments(_story(), "blower", machine_of(_story().candidates["blower"], [
        Piece(kind=BENCH, name="a", digest="b", date="c", readings=read)]), asked, flights=False)
    assert after.deviation == pytest.approx(expected["repeat"], rel=0.03)


def test_what_is_clear_is_called_settled_and_what_is_too_near_out_of_reach() -> None:
    far = next_experiments(_story(), "blower", _described("blower"), Verdict(rival="fan"))
    assert far.settled
    assert far.chance_now < 1.0 - SETTLED
    near = next_experiments(_story(), "blower", _read(), Verdict(reach=27.0), flights=False)
    assert near.out_of_reach
    assert not near.settled
    assert "level run at full throttle" not in {one.name for one in near.experiments}


def test_of_two_nozzles_what_they_share_does_not_count() -> None:
    """A machine's own error moves both alike: their difference is far surer than either."""
    wanted = Verdict(nozzle=0.0165, airspeed=20.0)
    found = next_experiments(_story(), "blower", _described("blower"), wanted)
    thrust = tl.bench_answer(_story(), "blower", _described("blower"), "thrust at", airspeed=20.0)
    assert found.deviation < 0.4 * thrust.deviation
    assert found.unit == "N"


def test_a_propeller_has_experiments_too_and_none_with_a_nozzle() -> None:
    found = next_experiments(_story(), "propeller", _described("propeller"), Verdict(rival="fan"))
    names = {one.name for one in found.experiments}
    assert {"repeat", "shaft speed by sound", "level run at full throttle", "level run of fan"} <= (
        names)
    assert not {"second nozzle", "shut inlet", "suction behind a plate"} & names


def test_without_an_airframe_pulls_are_compared_on_the_bench_alone() -> None:
    bare = replace(_story(), airframe=None)
    found = next_experiments(bare, "blower", _described("blower"), Verdict(
        rival="fan", airspeed=0.0))
    assert found.question == "blower pulls more than fan at rest"
    assert not {"level run at full throttle", "coasting run"} & {
        one.name for one in found.experiments}


@pytest.mark.parametrize(("name", "wanted", "said"), [
    ("blower", Verdict(rival="kite"), "no rival is called 'kite'"),
    ("blower", Verdict(rival="blower"), "no rival is called 'blower'"),
    ("propeller", Verdict(nozzle=0.02), "has no nozzle"),
    ("blower", Verdict(nozzle=0.2), "wider than the duct"),
    ("blower", Verdict(reach=1e4), "accepted up to 250 m/s"),
])
def test_a_verdict_that_cannot_be_asked_is_refused_in_words(name: str, wanted: Verdict,
                                                            said: str) -> None:
    with pytest.raises(FitError, match=said):
        next_experiments(_story(), name, _described(name), wanted)


def test_a_speed_to_reach_needs_an_aircraft() -> None:
    with pytest.raises(FitError, match="no \\[airframe\\]"):
        next_experiments(replace(_story(), airframe=None), "blower", _described("blower"),
                         Verdict(reach=20.0))


def test_following_the_advice_settles_sooner_and_is_seldom_wrong() -> None:
    """The committed trial of 200 machines: ``python -m tests.tools.next_trial 200 --keep``."""
    with TRIAL.open(encoding="utf-8") as stream:
        rows = [*csv.DictReader(line for line in stream if not line.startswith("#"))]
    ways = {way: [row for row in rows if row["way"] == way]
            for way in ("next", "protocol", "repeats")}
    assert all(len(of) >= 190 for of in ways.values())
    needed = {way: np.mean([float(row["experiments"]) for row in of]) for way, of in ways.items()}
    assert needed["next"] <= 0.5 * needed["protocol"]
    assert needed["next"] <= 0.5 * needed["repeats"]
    settled = [row for row in ways["next"] if row["settled"] == "True"]
    wrong = np.mean([row["right"] != "True" for row in settled])
    assert wrong < 0.05
    met = np.array([float(row["met"]) for row in ways["next"] if row["met"]])
    assert abs(met.mean() - 1.0) < 0.20
