"""What a good file becomes: parts in SI, with a sentence for every default that stood in."""

from __future__ import annotations

import json
import tomllib
from importlib import resources
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thrustlapse.power.motor import EfficiencyMotor
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.json_schema import schema_json
from thrustlapse.scenario.files.read import read_scenario, read_text
from thrustlapse.scenario.files.starter import starter_text

SCENARIOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.toml"))


@pytest.fixture(scope="module")
def starter():
    return read_text(starter_text())


def test_the_starter_is_good_and_says_it_is_invented(starter) -> None:
    assert list(starter.candidates) == ["blower", "fan", "propeller"]
    assert starter.invented


def test_a_file_that_only_asks_when_each_kind_would_win() -> None:
    """A title and the table are enough; a pack of its own stays."""
    scenario = read_text('title = "x"\n[when]\n')
    assert {one.kind for one in scenario.candidates.values()} == {
        "blower", "axial fan", "propeller"}
    assert any("no candidates given" in text
               for text in scenario.candidates["fan"].assumptions)
    assert scenario.section.supply is not None
    own = read_text('title = "x"\n[when]\n[pack]\nseries = 4\ncell_capacity = "3 Ah"\n')
    assert own.section.supply is None
    assert own.section.pack.series == 4


def test_everyday_units_become_si(starter) -> None:
    """By hand: pi/4 (15 mm)^2, 60 / (2 pi 4400) N m/A, 6 cells at 70 %, 2 g/cm^3 nowhere."""
    blower = starter.candidates["blower"].unit
    assert isinstance(blower, Ducted)
    assert blower.nozzle.exit_area == pytest.approx(np.pi / 4 * 0.015**2, rel=1e-12)
    assert blower.rotor.eye_area == pytest.approx(np.pi / 4 * (0.021**2 - 0.008**2), rel=1e-12)
    assert blower.drive.motor.torque_constant == pytest.approx(60 / (2 * np.pi * 4400), rel=1e-12)
    assert blower.drive.speed_limit == pytest.approx(95e3 * 2 * np.pi / 60, rel=1e-12)
    assert blower.drive.power_limit == 350.0
    # a typical cell at 70 % has 93.8 of the 98.4 mohm it has at half charge (Schuster et al. 2015)
    assert blower.supply.resistance == pytest.approx(6 * 0.012 * 0.0938 / 0.0984 + 0.004, rel=1e-12)
    assert blower.supply.voltage == pytest.approx(6 * 3.9479, rel=1e-12)  # NMC table at 70 %
    propeller = starter.candidates["propeller"].unit
    assert isinstance(propeller, OpenRotor)
    assert propeller.diameter == pytest.approx(0.1778, rel=1e-12)
    fan = starter.candidates["fan"].unit
    assert isinstance(fan.drive.motor, EfficiencyMotor)
    assert starter.airframe.induced_factor == pytest.approx(
        0.20 / (np.pi * 0.8 * 1.2**2), rel=1e-12)
    assert starter.candidates["blower"].installed_mass == pytest.approx(0.25 + 0.48)
    np.testing.assert_allclose(starter.airspeeds, np.linspace(0, 80, 81))


def test_what_was_not_said_is_told(starter) -> None:
    told = " ".join(starter.candidates["blower"].assumptions)
    for word in ("inlet loss", "controller efficiency", "pod drag area", "base area",
                 "rubbed by the jet", "wall roughness", "discharge coefficient"):
        assert word in told
    for candidate in starter.candidates.values():
        assert candidate.installation.pod_drag_area > 0.0
        assert candidate.installation.scrubbed_area > 0.0


def test_carriage_returns_and_a_byte_order_mark_change_nothing(tmp_path, starter) -> None:
    path = tmp_path / "dos.toml"
    path.write_bytes(b"\xef\xbb\xbf" + starter_text().replace("\n", "\r\n").encode())
    assert list(read_scenario(path).candidates) == list(starter.candidates)


def test_a_single_airspeed_is_fine() -> None:
    text = starter_text().replace('highest = "80 m/s"', 'highest = "0 m/s"')
    np.testing.assert_array_equal(read_text(text).airspeeds, [0.0])


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_every_scenario_is_good_and_fits_the_schema(path: Path) -> None:
    assert read_scenario(path).candidates
    jsonschema.validate(tomllib.loads(path.read_text(encoding="utf-8")), schema_json(),
                        cls=jsonschema.Draft202012Validator)


def test_the_schema_refuses_a_wrong_key_and_is_the_one_shipped() -> None:
    data = tomllib.loads(starter_text())
    data["candidates"]["blower"]["rotor"]["tip_diamter"] = "3 mm"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema_json(), cls=jsonschema.Draft202012Validator)
    shipped = resources.files("thrustlapse.scenario").joinpath("scenario.schema.json")
    assert json.loads(shipped.read_text(encoding="utf-8")) == schema_json(), (
        "write it anew: thrustlapse schema > thrustlapse/scenario/scenario.schema.json")


def _places(data, path=()):
    if isinstance(data, dict):
        for key, value in data.items():
            yield (*path, key)
            yield from _places(value, (*path, key))


PLACES = list(_places(tomllib.loads(starter_text())))
ODD = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12),
                st.lists(st.one_of(st.integers(), st.text(max_size=4)), max_size=3),
                st.dictionaries(st.text(min_size=1, max_size=4), st.integers(), max_size=2))


@settings(max_examples=60)
@given(place=st.sampled_from(PLACES), odd=ODD, action=st.sampled_from(["put", "drop", "rename"]))
def test_any_damage_to_the_starter_is_read_or_refused_with_words(place, odd, action) -> None:
    """Never another exception, whatever stands where."""
    import tomlkit

    data = tomllib.loads(starter_text())
    here = data
    for step in place[:-1]:
        here = here[step]
    old = here.pop(place[-1])
    if action == "put" and odd is not None:
        here[place[-1]] = odd
    elif action == "rename":
        here[place[-1] + "x"] = old
    try:
        text = tomlkit.dumps(data)
        tomllib.loads(text)
    except Exception:  # the writer's own refusal of odd values is not under test
        return
    try:
        read_text(text)
    except ScenarioError as error:
        assert str(error)
        assert error.faults


READINGS = """
source = "readings"
measured_diameter = "{size} mm"
shaft_speed = "12 krpm"
volume_flow = ["0 L/s", "20 L/s", "40 L/s", "55 L/s"]
pressure_rise = ["1.5 kPa", "1.4 kPa", "0.9 kPa", "0.1 kPa"]
shaft_power = ["18 W", "45 W", "62 W", "60 W"]
inlet_temperature = "15 degC"
inlet_pressure = "101.325 kPa"
used_at = "{speed} krpm"
"""


def carried(*, size: float, speed: float):
    text = starter_text()
    start = text.index("[candidates.blower.map]")
    end = text.index("[candidates.blower.duct]")
    made = READINGS.format(size=size, speed=speed)
    return text[:start] + "[candidates.blower.map]" + made + text[end:]


def test_readings_are_carried_to_another_reynolds_number() -> None:
    """The wheel of the starter has 38 mm; losses grow on the way down in size, by the law of
    ``rotor/reynolds.py``, and the two routes of the fan laws widen the band of flow."""
    read = read_text(carried(size=90.0, speed=60.0))
    stage = read.candidates["blower"].unit.rotor.stage
    bare = read_text(carried(size=90.0, speed=60.0).replace('used_at = "60.0 krpm"', ""))
    plain, flow = bare.candidates["blower"].unit.rotor.stage, 0.5 * float(stage.highest_flow)
    assert float(stage.power(flow)) > float(plain.power(flow))
    assert float(stage.head(flow)) < float(plain.head(flow))
    # factors that a fit found multiply the map as it is carried, whatever they are
    factors = 'used_at = "60.0 krpm"\nhead_scale = 0.9\npower_scale = 1.2'
    fitted = read_text(carried(size=90.0, speed=60.0).replace('used_at = "60.0 krpm"', factors))
    moved = fitted.candidates["blower"].unit.rotor.stage
    assert float(moved.head(flow)) == pytest.approx(0.9 * float(stage.head(flow)), rel=1e-12)
    assert float(moved.power(flow)) == pytest.approx(1.2 * float(stage.power(flow)), rel=1e-12)
    assert stage.band.flow > 0.0
    assert stage.band.power > 0.0
    assert any("Reynolds number" in told for told in read.candidates["blower"].assumptions)


def test_a_step_of_reynolds_number_too_far_is_refused() -> None:
    with pytest.raises(ScenarioError, match="too far for the correction") as caught:
        read_text(carried(size=900.0, speed=20.0))
    assert caught.value.faults[0].key == "candidates.blower.map.used_at"


@pytest.mark.parametrize(("old", "new", "key"), [
    ('source = "points"                # or "runs": a list of tables, each with its shaft_speed',
     'source = "pitch"\npitch = 6', "candidates.propeller.table.pitch"),
    ('speed_constant = "1150 rpm/V"', "speed_constant = 11500",
     "candidates.propeller.motor.speed_constant")])
def test_plain_numbers_that_cannot_be_si_are_refused(old, new, key) -> None:
    """6 for six inches is six metres; a speed constant without its unit is in rad/s per volt."""
    text = starter_text()
    assert old in text
    if "pitch" in key:
        start = text.index("advance_ratio = [")
        text = text[:start] + text[text.index("# From the label, or from calipers"):]
    with pytest.raises(ScenarioError) as caught:
        read_text(text.replace(old, new, 1))
    assert key in [fault.key for fault in caught.value.faults]


def test_the_scale_of_a_map_carried_to_another_size_may_be_many_values() -> None:
    """History: a spread or a search on it ended in a TypeError."""
    read = read_scenario("scenarios/published_machines.toml")
    drawn = read.drawn({"candidates.carried fan.map.head_scale": np.array([0.9, 1.0, 1.1])})
    still, speeds = np.array([0.0]), np.array([0.0, 20.0])
    thrust = operate(drawn.candidates["carried fan"], airspeed=speeds).net_thrust
    alone = operate(read.candidates["carried fan"], airspeed=speeds).net_thrust
    np.testing.assert_allclose(thrust[1], alone, rtol=1e-9)
    assert np.all(np.diff(thrust, axis=0) > 0.0)
    assert operate(drawn.candidates["carried fan"], airspeed=still).net_thrust.shape == (3, 1)
