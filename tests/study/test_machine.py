"""A machine laid open: shares that add up, files a maker can use."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from thrustlapse.cli import main
from thrustlapse.report.atomic_write import MANIFEST
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.machine import study_machine

STORY = Path(__file__).parents[2] / "scenarios" / "three_ways_to_push.toml"


@pytest.fixture(scope="module")
def scenario():
    return read_scenario(STORY)


def test_shares_of_shaft_power_add_up_to_one(scenario) -> None:
    found = study_machine(scenario.candidates["blower"], scenario.dimensions["blower"],
                          air=scenario.site.air())
    total = np.sum(list(found.shares.values()), axis=0)
    np.testing.assert_allclose(total, 1.0, atol=1e-9)
    np.testing.assert_allclose(found.shares["head delivered"][1:],
                               found.efficiency[1:], rtol=1e-6)


def test_the_map_laid_open_is_the_map_that_is_matched(scenario) -> None:
    found = study_machine(scenario.candidates["blower"], scenario.dimensions["blower"],
                          air=scenario.site.air())
    stage = scenario.candidates["blower"].unit.rotor.stage
    np.testing.assert_allclose(stage.head(found.variable), found.output, rtol=1e-9)


def test_a_map_without_dimensions_has_no_losses_to_show(scenario) -> None:
    found = study_machine(scenario.candidates["fan"], scenario.dimensions.get("fan"),
                          air=scenario.site.air())
    assert found.shares == {}
    assert found.scroll is None


def test_the_files_of_an_impeller(tmp_path) -> None:
    result = CliRunner().invoke(main, ["machine", str(STORY), "--candidate", "blower", "--out",
                                       str(tmp_path / "m"), "--section", "rectangular"])
    assert result.exit_code == 0, result.output
    names = {path.name for path in (tmp_path / "m").iterdir()}
    assert names == {"map.csv", "scroll.csv", "scroll.svg", "scroll.dxf", "losses.svg",
                     "losses.png", MANIFEST}
    lines = [line for line in (tmp_path / "m" / "map.csv").read_text("utf-8").splitlines()
             if not line.startswith("#")]
    table = list(csv.DictReader(lines))
    assert float(table[0]["flow_coefficient"]) == 0.0
    assert float(table[0]["power_coefficient"]) > 0.0  # a blocked machine still draws power


@pytest.mark.parametrize("words", [("--candidate", "blowr"), ("--candidate", "blower", "--finish",
                                                              "velvet")])
def test_wrong_words_are_answered(words) -> None:
    result = CliRunner().invoke(main, ["machine", str(STORY), *words])
    assert result.exit_code == 2
    assert "Traceback" not in result.output
