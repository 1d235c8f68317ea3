"""The committed sizing study: it follows from the code, and brute force finds nothing better."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import thrustlapse as tl
from tests.make_when_study import FOLDER, SCENARIO
from tests.tools import sizing_trial
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import design_text, domain_of, kinds, rules
from thrustlapse.study.sizing.merit import judged
from thrustlapse.study.sizing.walk import SMALL, SMALL_SPEED

MAKE = "make it anew: python -m tests.make_when_study"
READ = tl.read_scenario(SCENARIO)
DOMAIN = domain_of(READ)
BODY: dict[str, Any] = json.loads((FOLDER / "when.json").read_text(encoding="utf-8"))
ROWS = sizing_trial.kept()

SHORT = 2e-3
"""How far below the best that brute force finds a design may stay [-]."""

SHARE = 0.01
"""Most designs the study may work out at a point, over those of the grid [-]."""


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


def test_brute_force_is_of_this_code_and_of_this_domain() -> None:
    """The best designs of the grids, worked out again; a seeded few."""
    every, held = kinds(READ), rules(READ)
    by_word = {kind.name: kind for kind in every.values()}
    for place in np.random.default_rng(3).permutation(len(ROWS))[:4].tolist():
        row = ROWS[place]
        places = np.array([[float(value) for value in row["places"].split()]])
        value, beyond = judged(by_word[row["kind"]], held, places,
                               airspeed=np.array([float(row["airspeed_m_per_s"])]),
                               power=np.array([float(row["power_W"])]))
        assert value[0] == pytest.approx(float(row["best_N"]), rel=1e-4)
        assert beyond[0] < 1e-4


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['kind']}-{row['point']}")
def test_no_grid_of_a_million_designs_holds_a_better_one(row: dict[str, str]) -> None:
    """At points of the domain fixed beforehand, by at most 0.2 %, and the study worked out at most
    a hundredth of the designs, on average over its points."""
    airspeed, power = (values[int(row["point"])] for values in DOMAIN.points)
    assert float(row["power_W"]) == pytest.approx(power, rel=1e-5)
    assert float(row["airspeed_m_per_s"]) == pytest.approx(airspeed, rel=1e-5, abs=1e-9)
    told = next(one for one in BODY["kinds"].values() if one["kind"] == row["kind"])
    found = np.ravel(told["thrust_less_own_induced_drag_N"])[int(row["point"])]
    best = float(row["best_N"])
    if not np.isfinite(best):
        return
    assert found is not None
    assert found >= best - SHORT * max(abs(best), SMALL * power / (airspeed + SMALL_SPEED))
    assert int(row["designs"]) >= 1_000_000
    assert told["evaluations"] / DOMAIN.points[0].size <= SHARE * int(row["designs"])
