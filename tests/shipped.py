"""The repository's scenarios and their answers, each worked out once in a process: none is changed,
a test that wants another takes it from ``dataclasses.replace``."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import thrustlapse as tl
from thrustlapse.distributions import Sampling
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison

FOLDER = Path(__file__).parents[1] / "scenarios"


@cache
def scenario(name: str) -> Scenario:
    """A scenario by the name of its file."""
    return tl.read_scenario(FOLDER / f"{name}.toml")


@cache
def answer(name: str) -> Comparison:
    """Its comparison."""
    return compare(scenario(name))


def without_draws(given: Scenario) -> Scenario:
    """The same with nothing drawn: of a comparison's time, most goes into its 256 draws, and what
    the numbers as they stand say is not moved by them."""
    return replace(given, sampling=Sampling(samples=0))


def story() -> Comparison:
    """The answer of the scenario that the README tells."""
    return answer("three_ways_to_push")
