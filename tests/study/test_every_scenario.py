"""Draws of every shipped scenario: none is lost, and where their middle lies is told."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import thrustlapse
from thrustlapse.distributions import Sampling
from thrustlapse.report.uncertainty.words import sure_sentences
from thrustlapse.study.compare import compare
from thrustlapse.study.footing import Footing
from thrustlapse.study.leaning import LEANING, leaning
from thrustlapse.study.monte_carlo import fly_draws
from thrustlapse.study.sampling import drawables, shares

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_few_draws_are_lost_and_their_middle_is_the_nominal_or_explained(path: Path) -> None:
    """Under 2 % have no thrust at rest, or no top speed where there is one without draws; medians
    of both, and of thrust up to the top speed, within 1 %, or a sentence of the page names the
    answer and what moves it."""
    scenario = replace(thrustlapse.read_scenario(path), sampling=Sampling(samples=128, seed=5,
                                                                          airspeeds=16))
    found = compare(scenario)
    study = found.uncertainty
    assert study is not None
    assert study.left_out < 0.02 * study.samples
    said = sure_sentences(found)
    footing = Footing(basis=scenario.comparison, candidates=scenario.candidates)
    for name, one in study.candidates.items():
        level = found.candidates[name].level
        assert one.static_thrust.known > 0.98
        flown = footing.fly(scenario.candidates[name], study.airspeed).installed_thrust
        assert level is not None
        way = study.airspeed <= level.top_speed
        moved = one.bands["installed_thrust"].median[way] / flown[way] - 1.0
        away = {"thrust": float(moved[np.argmax(np.abs(moved))])}
        if one.top_speed is not None and np.isfinite(level.top_speed):
            assert one.top_speed.known > 0.98
            away["top speed"] = one.top_speed.median / float(level.top_speed) - 1.0
        for words, share in away.items():
            texts = [text for text in said if text.startswith(
                f"{name}: half of the draws lie {'below' if share < 0.0 else 'above'} the {words}")]
            assert len(texts) == (abs(share) > LEANING)
            for text in texts:
                # its own value without draws has every input at its median, not as it is given
                by = float(re.findall(r"by (\d\.\d+) %", text)[0])
                assert by == pytest.approx(100.0 * abs(share), abs=0.1)
                assert "on average" in text or "no more than the error" in text


def test_the_cause_told_is_what_draws_of_it_alone_do() -> None:
    """Brute force: only the head of the blower's map is drawn, and the mean of its thrust at speed
    moves by as much as the page says; its median does not move."""
    scenario = replace(thrustlapse.read_scenario(next(
        path for path in SCENARIOS if path.stem == "three_ways_to_push")),
        sampling=Sampling(samples=256, seed=5, airspeeds=16))
    study = compare(scenario).uncertainty
    assert study is not None
    told = study.leanings["blower"]
    assert told.airspeed > 20.0
    cause = "blower: head of the map"
    # what moves the mean most, many times what a mean of 512 draws errs by
    assert told.causes[cause] == min(told.causes.values()) < 0.0
    inputs = drawables(scenario)
    drawn = np.full((513, len(inputs)), 0.5)
    drawn[:-1, [one.label for one in inputs].index(cause)] = shares(512, 1, seed=8)[:, 0]
    thrust = fly_draws(scenario, inputs, drawn, np.array([0.0, told.airspeed]), expected={},
                       names=["blower"]).flown["blower"].thrust[:, 1]
    assert np.mean(thrust[:-1]) / thrust[-1] - 1.0 == pytest.approx(told.causes[cause], rel=0.1)
    assert np.median(thrust[:-1]) == pytest.approx(thrust[-1], rel=2e-3)


def test_a_middle_is_told_of_where_it_leaves_the_thrust_without_draws() -> None:
    """Closed form: a thrust that loses 4 % of itself at 10 m/s and 10 % at 20 m/s in every draw,
    and an input that takes a fifth of a newton at one deviation, with its square: by the rule of
    the ends its mean is that fifth, exactly."""
    x = np.linspace(-1.0, 1.0, 64)
    airspeed = np.array([0.0, 10.0, 20.0])
    drawn = np.stack([10.0 + x, 4.8 + 0.0 * x, 1.8 + 0.0 * x], axis=1)
    ends = np.broadcast_to(np.array([10.0, 5.0, 2.0]), (3, 4, 3)).copy()
    sides = np.array([-1.0, 1.0, -np.sqrt(3.0), np.sqrt(3.0)])
    ends[1, :, 2] -= 0.2 * sides**2
    ends[2, 0, 2] += 1e-13  # what is left of a balance is no cause
    told = leaning(drawn, ends, ["square", "none"], airspeed=airspeed, top_speed=np.nan)
    assert told is not None
    assert (told.airspeed, told.begins) == (10.0, 10.0)  # 2 N are a fifth of those at rest
    assert told.away == pytest.approx(-0.04)
    assert told.causes == {}
    further = leaning(drawn, ends, ["square", "none"], airspeed=airspeed, top_speed=25.0)
    assert further is not None
    assert (further.airspeed, further.begins) == (20.0, 10.0)
    assert further.away == pytest.approx(-0.1)
    assert further.error == pytest.approx(0.0, abs=1e-12)
    assert further.causes == {"square": pytest.approx(-0.1)}
    ends[2, 0] = np.nan  # at one of its ends there is no such machine
    ends[2, 2] = np.nan
    same = leaning(drawn, ends, ["square", "none"], airspeed=airspeed, top_speed=25.0)
    assert same is not None
    assert same.causes == {"square": pytest.approx(-0.1)}
    assert leaning(drawn, 0.0 * ends, ["square", "none"], airspeed=airspeed,
                   top_speed=25.0) is None
