"""The committed sizing study: it follows from the code and keeps to physics."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import thrustlapse as tl
from tests.make_when_study import FOLDER, SCENARIO
from tests.tools import sizing_trial
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import design_text, domain_of, kinds

MAKE = "make it anew: python -m tests.make_when_study"
READ = tl.read_scenario(SCENARIO)
DOMAIN = domain_of(READ)
BODY: dict[str, Any] = json.loads((FOLDER / "when.json").read_text(encoding="utf-8"))


def test_it_is_of_the_scenario_as_it_stands() -> None:
    assert BODY["scenario_digest"] == READ.digest, MAKE
    np.testing.assert_allclose(BODY["axes"][0]["values"], DOMAIN.power)
    np.testing.assert_allclose(BODY["axes"][1]["values"], DOMAIN.airspeed)
    assert {"index.html", "figures", "when.json"} <= {path.name for path in FOLDER.iterdir()}


@pytest.mark.parametrize("name", list(kinds(READ)))
def test_some_of_its_machines_built_again_make_the_same_thrust(name: str) -> None:
    """A seeded few, through the text of a scenario and its reader, to a millionth."""
    told, (_, thrust) = BODY["kinds"][name], designs(name)
    known = np.argwhere(np.isfinite(thrust))
    for row, column in known[np.random.default_rng(7).permutation(len(known))[:3]].tolist():
        free = {key: one["values"][row][column] for key, one in told["design"].items()}
        text = design_text(READ, name=name, free=free, power=float(DOMAIN.power[row]), title=name)
        point = tl.operate(read_text(text).candidates[name],
                           airspeed=np.array([DOMAIN.airspeed[column]]))
        assert point.installed_thrust[0] == pytest.approx(thrust[row, column], rel=1e-6), MAKE


def designs(name: str) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Free variables and thrust of every best design, (powers, airspeeds); NaN where none is."""
    told = BODY["kinds"][name]

    def known(values: Any) -> np.ndarray:
        return np.array([[np.nan if one is None else one for one in row] for row in values])

    return ({key: known(one["values"]) for key, one in told["design"].items()},
            known(told["installed_thrust_N"]))


@pytest.mark.parametrize("name", list(kinds(READ)))
def test_no_best_design_beats_an_ideal_jet_or_disc_of_its_area(name: str) -> None:
    """Momentum theory (Rankine, Froude), with all the electrical power in the air."""
    kind = kinds(READ)[name]
    free, thrust = designs(name)
    for (row, column), value in np.ndenumerate(thrust):
        if np.isfinite(value):
            places = kind.places({key: one[row, column].reshape(1) for key, one in free.items()})
            assert value < sizing_trial.ideal(kind, places, power=float(DOMAIN.power[row]),
                                              airspeed=float(DOMAIN.airspeed[column]))[0]


def test_no_small_fan_has_the_figure_of_merit_of_the_best_large_duct() -> None:
    """T^1.5 / (2 sqrt(rho A) P) on the exit area at rest; 0.81 is the best measured, of a 7-ft
    ducted propeller at its shaft (Mort and Gamse, NASA TN D-4142, 1967)."""
    free, thrust = designs("fan")
    at = {key: one[:, 0] for key, one in free.items()}
    area = at["exit_over_eye"] * 0.25 * np.pi * at["diameter"]**2 * (1.0 - at["hub_ratio"]**2)
    density = float(READ.site.air().density)
    merit = thrust[:, 0]**1.5 / (2.0 * np.sqrt(density * area) * DOMAIN.power)
    assert np.all(merit < 0.81)
