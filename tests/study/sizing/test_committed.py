"""The committed sizing study: it follows from the code, says what its numbers say, and keeps to
physics and to what is known of such machines."""

from __future__ import annotations

import json
import re
from html import unescape
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

import thrustlapse as tl
from tests.make_when_study import FOLDER, SCENARIO
from tests.tools import sizing_trial
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import design_text, domain_of, kinds, rules
from thrustlapse.study.sizing.merit import worth

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


def known(values: Any) -> np.ndarray:
    return np.array([[np.nan if one is None else one for one in row] for row in values])


def designs(name: str) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Free variables and thrust of every best design, (powers, airspeeds); NaN where none is."""
    told = BODY["kinds"][name]
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


@pytest.mark.parametrize("name", list(kinds(READ)))
def test_every_design_is_worth_what_is_told_within_every_limit(name: str) -> None:
    """All of them, at rest and shut too."""
    kind, (free, thrust) = kinds(READ)[name], designs(name)
    there = np.isfinite(thrust).ravel()
    places = kind.places({key: one.ravel()[there] for key, one in free.items()})
    airspeed, power = (one[there] for one in DOMAIN.points)
    made = worth(kind, rules(READ), places, airspeed=airspeed, power=power)
    assert made.beyond.max() <= 1e-9, MAKE
    np.testing.assert_allclose(made.installed_thrust, thrust.ravel()[there], rtol=1e-6, atol=1e-7)
    assert np.all(made.electrical_power <= power * (1.0 + 1e-6))
    converged = np.array(BODY["kinds"][name]["converged"])
    assert np.mean(converged) > 0.7


def values() -> dict[str, np.ndarray]:
    return {name: known(told["thrust_less_own_induced_drag_N"])
            for name, told in BODY["kinds"].items()}


def test_the_sentence_is_what_the_numbers_say() -> None:
    """Who leads, how near the blower comes and where, worked out again from the numbers."""
    every = {name: np.nan_to_num(one, nan=-np.inf) for name, one in values().items()}
    best = np.max(list(every.values()), axis=0)
    led = {name: int(np.sum((one == best) & (best > 0.0))) for name, one in every.items()}
    pulls = int(np.sum(best > 0.0))
    said = BODY["read_aloud"]
    assert f"of the {pulls} points" in said
    for name, count in led.items():
        assert (f"{name} at {100.0 * count / pulls:.0f} %" in said) == (count > 0)
    others = np.maximum(every["fan"], every["propeller"])
    ratio = np.where((DOMAIN.airspeed > 0.0) & (others > 0.0), every["blower"] / others, -np.inf)
    row, column = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
    near = re.search(r"nearest to leading at ([\d.]+) m/s and ([\d.]+) W, with (\d+) %", said)
    assert near is not None
    told = [float(one) for one in near.groups()]
    np.testing.assert_allclose(told, [DOMAIN.airspeed[column], DOMAIN.power[row],
                                      100.0 * ratio[row, column]], rtol=0.02)
    page = unescape((FOLDER / "index.html").read_text(encoding="utf-8"))
    assert said in page
    assert len(said.split()) <= 150


def test_conditions_tell_what_their_maps_hold() -> None:
    for flip in BODY["what_would_flip_it"]:
        each = {name: np.nan_to_num(known(one), nan=-np.inf)
                for name, one in flip["thrust_less_own_induced_drag_N"].items()}
        best = np.max(list(each.values()), axis=0)
        for name, one in each.items():
            share = np.sum((one == best) & (best > 0.0)) / np.sum(best > 0.0)
            assert flip["share_led"][name] == pytest.approx(share)
    words = {flip["condition"] for flip in BODY["what_would_flip_it"]}
    assert {"at 3000 m", "units at most 40 mm wide", "an aircraft of 0.5 kg, of the same shape",
            "an aircraft of 10 kg, of the same shape"} <= words


def test_a_narrower_limit_never_helps() -> None:
    """Whatever fits into 40 mm fits into 60 and 80; the optimiser may miss by a few per cent."""
    maps = {flip["condition"]: flip["thrust_less_own_induced_drag_N"]
            for flip in BODY["what_would_flip_it"]}
    chain = ["units at most 40 mm wide", "units at most 60 mm wide", "units at most 80 mm wide",
             "as things stand"]
    for tight, wide in pairwise(chain):
        for name in BODY["kinds"]:
            small, large = known(maps[tight][name]), known(maps[wide][name])
            both = np.isfinite(small) & (small > 0.5)
            short = small[both] / large[both] - 1.0
            assert np.mean(short > 0.03) < 0.05, (tight, name, short.max())


def test_where_propellers_lead_full_size_aircraft_have_them() -> None:
    """Below about half the speed of sound full-size aircraft are driven by propellers, ducted fans
    follow, jets of high speed come last (common practice, no source): with disc free, the same
    order at every point at which all of them pull."""
    every = values()
    pull = np.all([one > 0.2 for one in every.values()], axis=0) & (DOMAIN.airspeed > 0.0)
    assert pull.sum() > 100
    assert np.all(every["propeller"][pull] > every["fan"][pull])
    assert np.mean(every["fan"][pull] > every["blower"][pull]) > 0.95
