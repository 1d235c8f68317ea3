"""A scenario with arrays is, sample by sample, the scenario with single numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.footing import Footing

SPEEDS = np.array([0.0, 17.0, 41.0])

VALUES = {
    "candidates.blower.nozzle.exit_diameter": np.array([14.6e-3, 15.3e-3]),
    "candidates.blower.inlet.facing": np.array([0.1, 2.0]),
    "candidates.blower.map.tip_clearance": np.array([2.6e-4, 3.3e-4]),
    "candidates.blower.rotor.tip_diameter": np.array([37.9e-3, 38.1e-3]),
    "candidates.blower.motor.speed_constant": np.array([450.0, 466.0]),
    "candidates.fan.rotor.hub_diameter": np.array([26e-3, 28e-3]),
    "candidates.fan.drive.motor_current_limit": np.array([19.0, 23.0]),  # not in the file
    "candidates.fan.count": np.array([1.0, 2.0]),
    "candidates.propeller.table.pitch": np.array([0.145, 0.155]),
    "candidates.propeller.diameter": np.array([0.176, 0.181]),
    "pack.cell_resistance": np.array([9e-3, 14e-3]),
    "pack.state_of_charge": np.array([0.62, 0.8]),
    "airframe.minimum_drag_coefficient": np.array([0.02, 0.024]),
    "airframe.span": np.array([1.1, 1.2]),
    "comparison.electrical_power": np.array([380.0, 410.0]),
}


@pytest.fixture(scope="module")
def story() -> Scenario:
    return read_scenario(Path("scenarios/three_ways_to_push.toml"))


def test_each_sample_is_the_scenario_with_its_numbers(story: Scenario) -> None:
    many = story.drawn(VALUES)
    footing = Footing(basis=many.comparison, candidates=many.candidates)
    for sample in range(2):
        one = story.drawn({key: float(array[sample]) for key, array in VALUES.items()})
        alone = Footing(basis=one.comparison, candidates=one.candidates)
        for name in story.candidates:
            batch = footing.fly(many.candidates[name], SPEEDS)
            single = alone.fly(one.candidates[name], SPEEDS)
            assert batch.shape == (2, 3)
            for quantity in ("installed_thrust", "electrical_power", "shaft_speed"):
                assert getattr(batch, quantity)[sample] == pytest.approx(
                    getattr(single, quantity), rel=1e-9), (name, quantity)
            mass = np.broadcast_to(many.candidates[name].installed_mass, (2, 1))
            assert mass[sample, 0] == pytest.approx(one.candidates[name].installed_mass)
        assert many.airframe is not None
        assert one.airframe is not None
        assert np.ravel(many.airframe.induced_factor)[sample] == pytest.approx(
            one.airframe.induced_factor)


def test_numbers_of_the_file_given_again_change_nothing(story: Scenario) -> None:
    same = story.drawn({"pack.cell_resistance": 11e-3, "candidates.blower.unit_mass": 0.26})
    for name, candidate in story.candidates.items():
        before, after = operate(candidate, airspeed=SPEEDS), operate(same.candidates[name],
                                                                     airspeed=SPEEDS)
        assert np.array_equal(before.installed_thrust, after.installed_thrust)


def test_the_air_of_the_day_reaches_machine_and_map(story: Scenario) -> None:
    values = {"site.temperature": np.array([278.0, 303.0]), "site.altitude": np.array([0.0, 900.0])}
    many = story.drawn(values)
    batch = operate(many.candidates["blower"], airspeed=SPEEDS).net_thrust
    for sample in range(2):
        one = story.drawn({key: float(array[sample]) for key, array in values.items()})
        assert batch[sample] == pytest.approx(
            operate(one.candidates["blower"], airspeed=SPEEDS).net_thrust, rel=1e-9)


@pytest.mark.parametrize(("values", "words"), [
    ({"candidates.blower.nozzle.exit_diameter": [-0.015, 0.015]}, "1 of 2 values out of range"),
    ({"candidates.blower.nozzle.exit_diameter": [0.015, 0.030]}, "larger than its entry"),
    ({"candidates.blower.rotor.hub_diameter": [0.008, 0.022]}, "leaves no eye open"),
    ({"candidates.blower.map.outlet_width": [0.003, -0.001]}, "out of range"),
    ({"candidates.blower.map.blade_thickness": [0.8e-3, 9e-3]}, "for some of the values"),
    ({"candidates.fan.count": [1.0, 1.5]}, "out of range"),
    ({"pack.mas": [1.0, 2.0]}, 'did you mean "mass"'),
    ({"candidates.blowr.count": [1.0, 2.0]}, 'did you mean "blower"'),
    ({"candidates.fan.map.head": [1.0, 2.0]}, "not a single quantity"),
    ({"candidates.fan.map.band.head": [0.1, 0.2]}, "does not vary"),
    ({"airspeed.highest": [50.0, 60.0]}, "does not vary"),
    ({"pack.mass": [np.nan, 1.0]}, "out of range"),
    ({"pack.mass": [0.8, 0.9], "airframe.mass": [0.6, 0.7, 0.8]}, "different lengths"),
    ({"candidates.blower.nozzle.exit_area": [1e-4, 2e-4]}, "given together with"),
])
def test_values_that_cannot_be_are_refused_by_key(story: Scenario, values: dict[str, list[float]],
                                                  words: str) -> None:
    with pytest.raises(ScenarioError, match=words) as caught:
        story.drawn({key: np.array(given) for key, given in values.items()})
    fault = caught.value.faults[0]
    assert fault.problem
    assert "lengths" in words or fault.key


def test_every_fault_is_told_at_once(story: Scenario) -> None:
    with pytest.raises(ScenarioError) as caught:
        story.drawn({"pack.mass": -1.0, "airframe.mass": np.array([0.5, -2.0])})
    assert {fault.key for fault in caught.value.faults} == {"pack.mass", "airframe.mass"}


@pytest.mark.parametrize("key", ["installation.base_drag_coefficient",
                                 "nozzle.velocity_coefficient"])
def test_a_key_drawn_alone_that_the_file_leaves_out(story: Scenario, key: str) -> None:
    """A drag that nothing else of the machine hangs on, and a default that the write-up names."""
    values = np.array([0.90, 0.95])
    many = story.drawn({f"candidates.blower.{key}": values}).candidates["blower"]
    thrust = operate(many, airspeed=SPEEDS).installed_thrust
    assert thrust.shape == (2, 3)
    for sample, value in enumerate(values):
        one = story.drawn({f"candidates.blower.{key}": float(value)}).candidates["blower"]
        assert thrust[sample] == pytest.approx(operate(one, airspeed=SPEEDS).installed_thrust)
