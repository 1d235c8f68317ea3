"""Two trims of one machine against draws that share it by hand.

By hand: two files with one candidate each know nothing of each other; the same arrays are put into
both. They are drawn here by SciPy's distributions, from the register's words for each entry.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from thrustlapse.arrays import Array
from thrustlapse.distributions import Sampling, Spread
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.propulsor.nozzle import widest_discharge
from thrustlapse.rotor.map_shape import departed
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import read_scenario, read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.sampling import drawables, shares, with_draws
from thrustlapse.study.uncertainty import uncertainty

ROOT = Path(__file__).parents[2]
STORY = (ROOT / "scenarios" / "three_ways_to_push.toml").read_text("utf-8")
HEAD, _, REST = STORY.partition("[candidates.blower]")
BLOWER = "[candidates.blower]" + REST.partition("# An axial fan in a duct")[0]
DRAWS, SPEEDS = 4096, np.array([0.0, 20.0, 40.0])


def _blower(name: str, millimetres: float) -> str:
    text = BLOWER.replace("candidates.blower", f"candidates.{name}")
    assert 'exit_diameter = "15 mm"' in text
    return text.replace('exit_diameter = "15 mm"', f'exit_diameter = "{millimetres} mm"')


def _by_hand(spread: Spread, random: np.random.Generator) -> Array:
    if spread.form == "uniform":
        return random.uniform(spread.low, spread.high, DRAWS)
    if spread.form == "triangular":
        low, wide = spread.low, spread.high - spread.low
        top = spread.nominal if np.isnan(spread.peak) else spread.peak
        return np.asarray(stats.triang((top - low) / wide, low, wide).rvs(DRAWS,
                                                                         random_state=random))
    if spread.form == "lognormal":
        return spread.nominal * np.exp(spread.deviation * random.standard_normal(DRAWS))
    most = np.inf if np.isnan(spread.high) else (spread.high - spread.nominal) / spread.deviation
    return np.asarray(stats.truncnorm(-4.0, min(most, 4.0), spread.nominal, spread.deviation).rvs(
        DRAWS, random_state=random))


def _thrust(scenario: Scenario, values: dict[str, Array], factors: dict[str, Array]) -> Array:
    """Installed thrust (draws, speeds) of the only candidate at the story's 400 W."""
    velocity = values["nozzle.velocity_coefficient"]
    values = values | {"nozzle.discharge_coefficient": widest_discharge(
        velocity_coefficient=velocity) * values["nozzle.discharge_coefficient"]}
    ((name, _),) = scenario.candidates.items()
    one = scenario.drawn({f"candidates.{name}.{key}": value
                          for key, value in values.items()}).candidates[name]
    unit = one.unit
    unit = replace(unit, rotor=replace(unit.rotor, stage=departed(
        unit.rotor.stage, **{side: factor[:, None] for side, factor in factors.items()})))
    return operate(with_power_limit(replace(one, unit=unit), 400.0),
                   airspeed=SPEEDS).installed_thrust


@pytest.mark.parametrize(("small", "large"), [(15, 17), (12, 13)])
def test_who_wins_of_two_nozzles_is_that_of_a_machine_shared_by_hand(small, large) -> None:
    """Within three Monte Carlo errors, at rest and at speed; the second pair is no walk-over."""
    random = np.random.default_rng(1517)
    alone = [read_text(HEAD.partition("[comparison]")[0] + _blower("machine", size))
             for size in (small, large)]
    ((_, machine),) = alone[0].candidates.items()
    values = {one.spread.key.removeprefix("candidates.machine."): _by_hand(one.spread, random)
              for one in alone[0].assumed}
    assert {"nozzle.velocity_coefficient", "inlet.lip", "drive.controller_efficiency",
            "installation.pod_drag_coefficient"} <= set(values)
    band = machine.unit.rotor.stage.band
    factors = {side: np.exp(np.sqrt(np.log1p(getattr(band, side)**2))
                            * random.standard_normal(DRAWS)) for side in ("flow", "head", "power")}
    narrow, wide = (_thrust(one, values, factors) for one in alone)
    by_hand = np.mean(narrow > wide, axis=0)

    both = replace(read_text(HEAD + _blower("blower", small) + _blower("wide", large)),
                   sampling=Sampling(samples=1024, seed=2, airspeeds=10, drivers=False))
    # the grid of ten airspeeds ends at 90 m/s: 0, 10, 20, ...
    nominal = compare(replace(both, sampling=Sampling(samples=0)))
    study = uncertainty(both, nominal)
    at_rest = study.candidates["blower"].most_at_rest
    (pair,) = study.pairs
    for place, speed in enumerate(SPEEDS):
        column = int(np.argmin(np.abs(study.airspeed - speed)))
        assert study.airspeed[column] == pytest.approx(speed)
        share = float(pair.first_wins[column])
        error = np.sqrt(by_hand[place] * (1.0 - by_hand[place]) * (1 / DRAWS + 1 / 1024))
        assert abs(share - by_hand[place]) <= 3.0 * error
    assert pair.first_wins[0] == at_rest.share
    # apart, the two would be near even: sharing decides
    loose = uncertainty(replace(both, same_part={}), nominal).pairs[0].first_wins[0]
    assert abs(loose - 0.5) < 0.5 * abs(by_hand[0] - 0.5)


# What else is the same thing ----------------------------------------------------------------------


def _same(scenario: Scenario, one: str, other: str) -> tuple[Array, Array]:
    """Static thrust of both over the same draws, with what is not shared at its median."""
    inputs = drawables(scenario)
    shared = [place for place, each in enumerate(inputs) if {one, other} <= set(each.owners)]
    assert shared
    drawn = np.full((256, len(inputs)), 0.5)
    drawn[:, shared] = shares(256, len(shared), seed=6)
    many = with_draws(scenario, inputs, drawn).candidates
    first, second = (operate(many[name], airspeed=0.0).installed_thrust[..., 0]
                     for name in (one, other))
    return first, second


def test_one_fit_included_twice_is_one_machine(tmp_path: Path) -> None:
    """One and two units of a fitted blower: two make exactly twice as much in every draw, since
    the supply of this file does not sag."""
    fitted = (ROOT / "reports" / "story_blower_bench" / "blower.toml").read_text("utf-8")
    (tmp_path / "blower.toml").write_text(fitted, "utf-8")
    text = """
title = "One or two"
[supply]
voltage = "22 V"
resistance = "0 ohm"
mass = "0.8 kg"
[airspeed]
highest = "40 m/s"
[candidates.single]
include = "blower.toml"
[candidates.double]
include = "blower.toml"
count = 2
"""
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    scenario = read_scenario(tmp_path / "mine.toml")
    inputs = drawables(scenario)
    fit = [one for one in inputs if one.group.endswith("bench fit")]
    assert len(fit) > 10
    assert all(one.owners == ("single", "double") for one in inputs if one.candidate)
    single, double = _same(scenario, "single", "double")
    assert np.std(single) > 0.003 * np.mean(single)
    assert double == pytest.approx(2.0 * single, rel=1e-9)


PROPELLERS = """
title = "Two propellers"
[supply]
voltage = "22 V"
resistance = "0 ohm"
mass = "0.8 kg"
[airspeed]
highest = "20 m/s"
[candidates.small]
kind = "propeller"
unit_mass = "100 g"
diameter = "180 mm"
motor = { model = "efficiency", efficiency = "80 %" }
drive = { power_limit = "200 W" }
TABLE
[candidates.large]
kind = "propeller"
unit_mass = "100 g"
diameter = "230 mm"
motor = { model = "efficiency", efficiency = "75 %" }
drive = { power_limit = "250 W" }
OTHER
"""
TABLE = """[candidates.small.table]
source = "points"
advance_ratio = [0.0, 0.4, 0.8]
thrust_coefficient = [0.10, 0.07, 0.0]
power_coefficient = [0.05, 0.045, 0.02]
band = { head = 0.04, power = 0.05 }
"""


def test_one_table_is_drawn_once_whatever_it_is_fixed_to() -> None:
    """Two sizes on two motors by one table: its factors are the same for both."""
    text = PROPELLERS.replace("TABLE", TABLE).replace("OTHER", TABLE.replace("small", "large"))
    scenario = read_text(text)
    sides = [one for one in drawables(scenario) if one.side]
    assert [one.owners for one in sides] == [("small", "large")] * 2
    small, large = _same(scenario, "small", "large")
    assert np.corrcoef(np.log(small), np.log(large))[0, 1] > 0.999
    assert np.std(np.log(small)) > 0.02
    other = TABLE.replace("small", "large").replace("0.07", "0.071")
    apart = drawables(read_text(PROPELLERS.replace("TABLE", TABLE).replace("OTHER", other)))
    assert all(len(one.owners) == 1 for one in apart if one.side)
