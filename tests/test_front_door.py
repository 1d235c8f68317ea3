"""Python use as short as the commands: what the pages show runs, and names are where they say."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

import thrustlapse as tl
from tests import shipped
from tests.tools.documentation.build import PAGES

ROOT = Path(__file__).parents[1]


def test_the_documentation_s_python_runs(tmp_path, monkeypatch, capsys) -> None:
    """Its comparisons are those that other tests have made of the same files."""
    known = {shipped.scenario(name).digest: name
             for name in ("three_ways_to_push", "there_and_back")}
    monkeypatch.setattr(tl, "compare", lambda scenario: shipped.answer(known[scenario.digest]),
                        raising=False)
    page = (PAGES / "python.md").read_text("utf-8")
    code = re.search(r"```python\n(.*?)```", page, re.DOTALL)[1]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    exec(compile(code, "python.md", "exec"), {})  # the page's own words
    assert "power" in capsys.readouterr().out
    assert (tmp_path / "out" / "index.html").exists()


@pytest.mark.parametrize("name", tl.__all__)
def test_every_public_name_is_there(name) -> None:
    assert getattr(tl, name) is not None


def test_operate_takes_arrays_of_any_shape_and_altitudes() -> None:
    scenario = tl.read_scenario(ROOT / "scenarios" / "three_ways_to_push.toml")
    point = tl.operate(scenario.candidates["blower"], airspeed=[0.0, 20.0],
                       altitude=np.array([[0.0], [3000.0]]))
    assert point.net_thrust.shape == (2, 2)
    assert np.all(point.net_thrust[1] < point.net_thrust[0])  # thinner air, less thrust
    for name in ("gross_thrust", "mass_flow", "jet_speed", "shaft_speed", "shaft_power",
                 "electrical_power", "current", "drive_limit", "severity", "flags"):
        assert getattr(point, name).shape == (2, 2)
    assert point.ledger.energy_residual.shape == (2, 2)


def test_a_result_loads_back_into_the_same_object(tmp_path) -> None:
    from tests.equal import equal_results

    answer = shipped.story()
    tl.write_results(answer, tmp_path / "results.json")
    assert equal_results(tl.read_results(tmp_path / "results.json"), answer)
