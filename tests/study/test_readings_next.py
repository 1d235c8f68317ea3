"""What one more reading of a machine known by readings would buy."""

from __future__ import annotations

import numpy as np
import pytest

from tests.test_known_by_readings import text
from thrustlapse.propulsor.candidate import operate
from thrustlapse.report.uncertainty.words import _more
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.readings_next import more_readings
from thrustlapse.study.sampling import drawables, shares, with_draws
from thrustlapse.study.uncertainty_results import UncertaintyStudy

SPEED = 20.0


def drawn(file: str, name: str = "mine", count: int = 256):
    scenario = read_text(file)
    inputs = drawables(scenario)
    many = with_draws(scenario, inputs, shares(count, len(inputs), seed=1))
    return many.candidates[name], inputs


def thrust_of(candidate) -> np.ndarray:
    point = operate(candidate, airspeed=np.array([SPEED]))
    return np.where(point.valid, point.net_thrust, np.nan)[:, 0]


@pytest.fixture(scope="module")
def mine():
    return drawn(text())


def test_a_reading_that_is_the_answer_itself_leaves_its_own_error(mine) -> None:
    """Thrust equal to the shaft speed: what is left is half a per cent, the error of the speed."""
    candidate, inputs = mine
    speed = operate(candidate, airspeed=np.zeros(1)).shaft_speed[:, 0]
    first = more_readings("mine", candidate, inputs, thrust=speed, airspeed=SPEED, seed=1)[0]
    assert (first.reading, first.count) == ("the shaft speed", 3)
    assert first.left == pytest.approx(0.005, rel=0.15)
    assert first.deviation == pytest.approx(np.std(speed) / np.mean(speed))


def test_readings_buy_nothing_of_what_has_nothing_to_do_with_them(mine) -> None:
    candidate, inputs = mine
    apart = 1.0 + 0.1 * np.random.default_rng(3).standard_normal(256)
    found = more_readings("mine", candidate, inputs, thrust=apart, airspeed=SPEED, seed=1)
    assert {one.reading.split(" ")[1] for one in found} == {"shaft", "holds", "suction", "thrust",
                                                            "inlet's"}
    for one in found:
        assert one.left == pytest.approx(one.deviation, rel=0.05)


def test_what_it_says_is_what_the_reading_does(mine) -> None:
    """Independent check: draws whose shaft speed lies in a narrow window scatter no more than the
    page says of a machine whose speed is read."""
    candidate, inputs = mine
    thrust = thrust_of(candidate)
    found = {one.reading: one for one in more_readings(
        "mine", candidate, inputs, thrust=thrust, airspeed=SPEED, seed=1)}
    one = found["the shaft speed"]
    speed = operate(candidate, airspeed=np.zeros(1)).shaft_speed[:, 0]
    order = np.argsort(np.where(np.isfinite(thrust), speed, np.nan))[:int(
        np.isfinite(thrust).sum())]
    windows = [np.var(part) for part in np.array_split(thrust[order], 16)]
    assert np.sqrt(np.mean(windows)) / np.nanmean(thrust) == pytest.approx(one.left, rel=0.2)


def test_what_is_read_already_is_not_offered_and_a_propeller_has_its_speed() -> None:
    candidate, inputs = drawn(text() + 'shaft_speed = "35 krpm"\nvoltage = "22 V"\n'
                              'supply = "full voltage"\n', count=128)
    found = more_readings("mine", candidate, inputs, thrust=thrust_of(candidate), airspeed=SPEED,
                          seed=1)
    words = " ".join(one.reading for one in found)
    assert "shaft speed" not in words
    assert "watts" not in words
    propeller = text().split("[candidates")[0] + """[candidates.mine]
kind = "propeller"
diameter = "9 in"
[candidates.mine.table]
source = "pitch"
pitch = "6 in"
[candidates.mine.readings]
thrust = "5.5 N"
electrical_power = "90 W"
voltage = "11.4 V"
"""
    candidate, inputs = drawn(propeller, count=128)
    thrust = operate(candidate, airspeed=np.array([8.0])).net_thrust[:, 0]
    only, = more_readings("mine", candidate, inputs, thrust=thrust, airspeed=8.0, seed=1)
    assert only.reading == "the shaft speed"


def test_a_machine_known_by_its_map_and_few_draws_have_none(mine) -> None:
    candidate, inputs = mine
    none = [one for one in inputs if "readings.thrust" not in one.spread.key]
    thrust = thrust_of(candidate)
    assert more_readings("mine", candidate, none, thrust=thrust, airspeed=SPEED, seed=1) == ()
    thrust[:250] = np.nan
    assert more_readings("mine", candidate, inputs, thrust=thrust, airspeed=SPEED, seed=1) == ()


def test_the_page_says_by_how_many_readings_it_is_known(mine) -> None:
    candidate, inputs = mine
    found = more_readings("mine", candidate, inputs, thrust=thrust_of(candidate), airspeed=SPEED,
                          seed=1)
    study = object.__new__(UncertaintyStudy)
    object.__setattr__(study, "readings", found)
    said, = _more(study)
    assert said.startswith("mine is known by 3 readings: its thrust at 20.0 m/s is known to ± ")
