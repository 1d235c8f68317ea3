"""Draws of every shipped scenario: none is lost, and where their middle lies is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import thrustlapse
from thrustlapse.chance import Sampling
from thrustlapse.report.uncertainty.words import LEANING, sure_sentences
from thrustlapse.study.batch import fly_draws
from thrustlapse.study.compare import compare
from thrustlapse.study.draws import drawables, shares

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_few_draws_are_lost_and_their_middle_is_the_nominal_or_explained(path: Path) -> None:
    """Under 2 % have no thrust at rest, or no top speed where there is one without draws; medians
    of both within 1 %, or a sentence of the page names the answer and what moves it."""
    scenario = replace(thrustlapse.read_scenario(path), sampling=Sampling(samples=128, seed=5,
                                                                          airspeeds=16))
    found = compare(scenario)
    study = found.uncertainty
    assert study is not None
    assert study.left_out < 0.02 * study.samples
    said = sure_sentences(found)
    for name, one in study.candidates.items():
        result = found.candidates[name]
        told = [(one.static_thrust, float(result.at_rest.installed_thrust), "static thrust")]
        if one.top_speed is not None and result.level is not None and np.isfinite(
                result.level.top_speed):
            told.append((one.top_speed, float(result.level.top_speed), "top speed"))
        for drawn, nominal, words in told:
            assert drawn.known > 0.98
            away = abs(drawn.median / nominal - 1.0)
            if away > LEANING:
                (text,) = [one for one in said if words in one
                           and one.startswith(f"{name}: half of the draws")]
                chance = away < 2.0 * drawn.median_error / nominal
                assert chance == ("no more than the error" in text)
                assert chance or "on average" in text


def test_the_cause_told_is_what_draws_of_it_alone_do() -> None:
    """Brute force: only the head of the blower's map is drawn, and the mean of its thrust moves by
    as much as the page says; its median does not move."""
    scenario = replace(thrustlapse.read_scenario(next(
        path for path in SCENARIOS if path.stem == "three_ways_to_push")),
        sampling=Sampling(samples=256, seed=5, airspeeds=16))
    study = compare(scenario).uncertainty
    assert study is not None
    (told,) = [one for one in study.drivers if one.answer == "static thrust of blower"]
    (cause,) = [one for one in told.drivers if one.key == "blower: head of the map"]
    assert cause.lean < -0.01 * told.nominal
    inputs = drawables(scenario)
    place = [one.label for one in inputs].index(cause.key)
    drawn = np.full((512, len(inputs)), 0.5)
    drawn[:, place] = shares(512, 1, seed=8)[:, 0]
    thrust = fly_draws(scenario, inputs, drawn, np.zeros(1), expected={},
                       names=["blower"]).flown["blower"].thrust
    assert np.mean(thrust) - told.nominal == pytest.approx(cause.lean, rel=0.1)
    assert np.median(thrust) == pytest.approx(told.nominal, rel=2e-3)
