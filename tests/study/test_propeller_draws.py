"""Draws of a propeller's own band: thrust and power err together, so none is impossible."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import thrustlapse
from thrustlapse.study.monte_carlo import fly_draws
from thrustlapse.study.sampling import drawables, shares

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.mark.parametrize("name", ["how_sure", "three_ways_to_push"])
def test_none_is_lost_and_the_median_is_the_nominal(name) -> None:
    """Under 2 % of draws lost, medians within 1 % down to half of the static thrust."""
    scenario = thrustlapse.read_scenario(SCENARIOS / f"{name}.toml")
    inputs = drawables(scenario)
    own = [place for place, one in enumerate(inputs) if one.candidate == "propeller" and one.side]
    assert own
    grid = np.concatenate([[0.0], scenario.airspeeds])
    drawn = shares(256, len(inputs), seed=11)
    spread, nominal = (fly_draws(scenario, inputs, sample, grid, expected={}, only=only,
                                 names=["propeller"]).flown["propeller"]
                       for sample, only in ((drawn, own), (drawn[:1], [])))
    assert np.mean(spread.impossible) < 0.02
    wanted = nominal.thrust[0]
    pulls = wanted > 0.5 * wanted[0]  # below it the median of 256 draws is not that exact
    assert np.nanmedian(spread.thrust[:, pulls], axis=0) == pytest.approx(wanted[pulls], rel=0.01)
