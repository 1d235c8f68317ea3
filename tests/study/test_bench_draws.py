"""A fitted candidate in a scenario: its draws are the fit's, and nothing counts twice."""

from __future__ import annotations

import numpy as np
import pytest

import thrustlapse as tl
from tests.tools.bench_truths import AIRSPEEDS, INSIDE, NAME, TEXT, benches
from thrustlapse.bench.readings import AS_FLOWN, bench_readings
from thrustlapse.commands.bench_fit import candidate_text
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.nozzle import discharge_possible
from thrustlapse.study.bench_study import study_bench
from thrustlapse.study.sampling import drawables, shares, with_draws

CARRIED = """[candidates.blower.map]
source = "readings"
measured_diameter = "90 mm"
shaft_speed = "12 krpm"
volume_flow = ["0 L/s", "20 L/s", "40 L/s", "55 L/s"]
pressure_rise = ["1.5 kPa", "1.4 kPa", "0.9 kPa", "0.1 kPa"]
shaft_power = ["18 W", "45 W", "62 W", "60 W"]
inlet_temperature = "15 degC"
inlet_pressure = "101.325 kPa"
used_at = "60 krpm"
"""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    """The study of a bench, and the scenario that includes its candidate."""
    folder = tmp_path_factory.mktemp("fitted")
    (folder / "told.toml").write_text(TEXT, "utf-8")
    told = tl.read_scenario(folder / "told.toml")
    study = study_bench(told, NAME, benches(INSIDE, 12, 1, 5).readings[0])
    text, why = candidate_text(study, told)
    assert text is not None, why
    (folder / "blower.toml").write_text(text, "utf-8")
    (folder / "mine.toml").write_text(TEXT.split("[candidates.blower]")[0]
                                      + '[candidates.blower]\ninclude = "blower.toml"\n', "utf-8")
    return told, study, tl.read_scenario(folder / "mine.toml")


def test_the_included_candidate_is_the_fitted_one(fitted) -> None:
    _, study, mine = fitted
    for candidate in (mine.candidates[NAME], study.fit.candidate):
        thrust = operate(candidate, airspeed=AIRSPEEDS).installed_thrust
        assert np.isfinite(thrust).all()
    assert operate(mine.candidates[NAME], airspeed=AIRSPEEDS).installed_thrust == pytest.approx(
        operate(study.fit.candidate, airspeed=AIRSPEEDS).installed_thrust, rel=1e-5)


def test_a_file_of_a_map_carried_to_another_size_means_what_was_fitted(tmp_path) -> None:
    """The factors of a fit stand on the map that the fan laws and Reynolds number carried."""
    start = TEXT.index("[candidates.blower.map]")
    end = TEXT.index("\n[", start)
    file = tmp_path / "told.toml"
    file.write_text(TEXT[:start] + CARRIED + TEXT[end:], "utf-8")
    told = tl.read_scenario(file)
    point = operate(told.candidates[NAME], airspeed=np.zeros(1))
    read = bench_readings(thrust=0.93 * point.net_thrust, shaft_speed=1.02 * point.shaft_speed,
                          electrical_power=point.electrical_power, setting=[AS_FLOWN])
    study = study_bench(told, NAME, read, asked="static thrust")
    text, why = candidate_text(study, told)
    assert text is not None, why
    (tmp_path / "blower.toml").write_text(text, "utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(TEXT.split("[candidates.blower]")[0]
                    + '[candidates.blower]\ninclude = "blower.toml"\n', "utf-8")
    there, here = (operate(one, airspeed=np.zeros(1)).net_thrust for one in (
        study.fit.candidate, tl.read_scenario(mine).candidates[NAME]))
    assert here == pytest.approx(there, rel=1e-5)
    assert here < 0.97 * point.net_thrust


def test_its_draws_scatter_as_the_answer_says(fitted) -> None:
    """Linear about the fit, and 512 draws: two ways to one deviation.

    Draws leave the curved valley of what the readings allow, and scatter a little more; where the
    power cap takes over from the voltage they lie below the nominal value, by the kink.
    """
    told, study, mine = fitted
    inputs = drawables(mine)
    many = with_draws(mine, inputs, shares(512, len(inputs), seed=1)).candidates[NAME]
    assert bool(np.all(discharge_possible(many.unit.nozzle)))
    drawn = operate(many, airspeed=AIRSPEEDS).installed_thrust
    for place, speed in enumerate(AIRSPEEDS):
        found = tl.bench_answer(told, NAME, study.fit, "thrust at", airspeed=float(speed))
        low, high = np.quantile(drawn[:, place], [0.1587, 0.8413])
        assert 0.5 * (high - low) == pytest.approx(found.deviation, rel=0.2)
        assert np.median(drawn[:, place]) == pytest.approx(found.value, abs=found.deviation)
        assert np.isfinite(drawn[:, place]).mean() > 0.98


def test_what_the_fit_freed_is_drawn_from_it_alone(fitted) -> None:
    _, study, mine = fitted
    keys = [one.spread.key for one in drawables(mine)]
    assert len(keys) == len(set(keys))
    freed = {one.key for one in study.fit.unknowns if one.kept}
    beside = [one for one in drawables(mine) if one.group != f"{NAME}: bench fit"]
    assert not {one.spread.key.removeprefix(f"candidates.{NAME}.") for one in beside} & freed
    assert not [one for one in beside if one.side]


def test_a_fitted_value_that_the_scenario_overrides_leaves_the_fit(fitted, tmp_path) -> None:
    _, study, mine = fitted
    (tmp_path / "blower.toml").write_text((mine.path.parent / "blower.toml").read_text("utf-8"),
                                          "utf-8")
    (tmp_path / "mine.toml").write_text(
        TEXT.split("[candidates.blower]")[0] + '[candidates.blower]\ninclude = "blower.toml"\n'
        "[candidates.blower.nozzle]\ndischarge_coefficient = 0.95\n", "utf-8")
    fit = tl.read_scenario(tmp_path / "mine.toml").candidates[NAME].fit
    assert "nozzle.contraction" not in fit.unknowns
    assert len(fit.unknowns) == len([one for one in study.fit.unknowns if one.kept]) - 1
