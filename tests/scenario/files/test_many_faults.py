"""Faults do not hide each other, say nothing twice, and blame what was written."""

from __future__ import annotations

import copy
import pickle
import tomllib

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.known_machines import AIRFRAME, MACHINE
from thrustlapse.scenario.faults import MOST_SHOWN, ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = starter_text()


def faults_of(*changes: tuple[str, str]) -> ScenarioError:
    text = STARTER
    for old, new in changes:
        assert old in text, f"the starter no longer has {old!r}"
        text = text.replace(old, new, 1)
    with pytest.raises(ScenarioError) as caught:
        read_text(text, name="mine.toml")
    return caught.value


def keys(error: ScenarioError) -> list[str]:
    return [fault.key for fault in error.faults]


def test_a_slip_in_the_name_of_a_table_is_one_fault_and_its_inside_is_read() -> None:
    error = faults_of(("[candidates.blower.inlet]", "[candidates.blower.inlt]"),
                      ('throat_diameter = "25 mm"', 'throat_diameter = "25 kg"'))
    assert keys(error) == ["candidates.blower.inlt", "candidates.blower.inlt.throat_diameter"]
    assert 'did you mean "inlet"' in str(error)
    assert error.faults[1].value == '"25 kg"'
    assert error.faults[1].line == error.faults[0].line + 1


def test_a_slip_in_the_name_of_a_key_is_one_fault() -> None:
    error = faults_of(('throat_diameter = "25 mm"', 'throat_diamter = "25 mm"'))
    assert keys(error) == ["candidates.blower.inlet.throat_diamter"]


def test_a_wrong_model_does_not_hide_a_wrong_rotor() -> None:
    error = faults_of(('model = "efficiency"', 'model = "efficient"'),
                      ('hub_diameter = "27 mm"', 'hub_diameter = "90 mm"'))
    assert set(keys(error)) == {"candidates.fan.motor.model", "candidates.fan.rotor.hub_diameter"}


def test_a_bad_value_does_not_hide_what_the_whole_table_shows() -> None:
    error = faults_of(('exit_diameter = "15 mm"', 'exit_diameter = "55 mm"'),
                      ('length = "60 mm"', 'length = "60 s"'))
    assert set(keys(error)) == {"candidates.blower.nozzle.exit_diameter",
                                "candidates.blower.duct.length"}


def test_a_reference_to_a_faulty_candidate_is_not_blamed() -> None:
    error = faults_of(('electrical_power = "350 W"', 'reference = "fan"'),
                      ('kind = "axial fan"', 'kind = "turbine"'))
    assert keys(error) == ["candidates.fan.kind"]


def test_keys_of_another_source_are_told_where_they_go() -> None:
    error = faults_of(('source = "coefficients"', 'source = "points"'))
    assert 'belongs in [candidates.NAME.map] with source = "coefficients"' in str(error)


def test_keys_of_another_table_are_told_where_they_go() -> None:
    error = faults_of(('lip = "rounded"', 'lip = "rounded"\npower_limit = "1 W"'))
    assert "belongs in [candidates.NAME.drive]" in str(error)


@pytest.mark.parametrize(("old", "new", "key"), [
    ("[pack]", '[supply]\nvoltage = "9 V"\nresistance = "0 ohm"\nmass = 0\n[pack]', "supply"),
    ('span = "1.2 m"', 'span = "1.2 m"\naspect_ratio = 7.2', "airframe.aspect_ratio"),
    ("points = 81", 'at = ["3 m/s"]', "airspeed.at"),
    ('exit_diameter = "15 mm"', 'exit_diameter = "15 mm"\nexit_area = "2 cm^2"',
     "candidates.blower.nozzle.exit_area"),
])
def test_two_keys_for_one_thing(old, new, key) -> None:
    error = faults_of((old, new))
    assert key in keys(error)
    assert "given together with" in str(error)


@pytest.mark.parametrize(("old", "new", "said"), [
    ("[pack]", "[battery]", "missing: pack or supply"),
    ('throat_diameter = "64 mm"', "", "throat_diameter or throat_area"),
    ('span = "1.2 m"', "#", "of no use without a span"),
    ('span = "1.2 m"\nspan_efficiency = 0.8', "#", "the lift-dependent drag is not given"),
    ('eye_diameter = "21 mm"', "", "the eye is not given"),
    ('speed_constant = "4400 rpm/V"', "", "speed_constant or torque_constant"),
    ('title = "What lies on my bench"', "", "title: missing"),
    ("[airspeed]", "[airspeeds]", 'did you mean "airspeed"'),
])
def test_what_is_missing_is_named(old, new, said) -> None:
    assert said in str(faults_of((old, new)))


def test_an_efficiency_motor_takes_nothing_that_would_be_ignored() -> None:
    error = faults_of(('power_limit = "350 W"            # a motor known',
                       'power_limit = "350 W"\nduty = 0.9\ncontroller_efficiency = 0.9  #'))
    assert keys(error) == ["candidates.fan.drive.duty",
                           "candidates.fan.drive.controller_efficiency"]


def test_a_long_list_of_faults_is_cut_and_counted() -> None:
    text = STARTER + "".join(f"\n[extra{n}]\n" for n in range(200))
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    assert len(caught.value.faults) == 200
    assert f"and {200 - MOST_SHOWN} more" in str(caught.value)
    assert len(str(caught.value).splitlines()) < 4 * MOST_SHOWN


@pytest.mark.parametrize("text", [
    ".".join("a" * 5000) + " = 1", "x = {" + ".".join(["'b c'"] * 5000) + " = 1}",
    "".join(f"k{n} = 1\n" for n in range(5000)) + STARTER,
    STARTER + "".join(f'\n[candidates.c{n}]\nkind = "propeller"\n' for n in range(500))])
def test_files_made_to_wear_a_reader_out(text) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    assert len(str(caught.value)) < 20_000


def test_messages_carry_nothing_a_terminal_obeys() -> None:
    error = faults_of(('title = "What', '"\\u001b[2Jkey" = "\\u202e\\u0007"\ntitle = "What'))
    assert str(error).replace("\n", "").isprintable()


def test_the_error_travels_between_processes() -> None:
    error = faults_of(('length = "60 mm"', 'length = "60 s"'))
    again = pickle.loads(pickle.dumps(error))
    assert again.faults == error.faults
    assert str(again) == str(error)


def _places(data, path=()):
    entries = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in entries:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from _places(value, (*path, key))


ODD = st.sampled_from([
    True, 0, -1, 1e308, float("nan"), float("inf"), "", "x", "24 mm", "5 %", "1e300 m", "0 mm",
    [], [1], ["a", "b"], [0.1, 0.1], [[1, 2]], [{}], {}, {"a": 1}, {"source": "points"},
    {"model": "constants"}, {"kind": "blower"}, 10**40, "75 krpm", "NMC", "runs", "readings",
    "coefficients", "geometry", "efficiency", "propeller", "blower", "same electrical power"])


@settings(max_examples=80)
@given(st.data())
def test_any_number_of_faults_at_once_gives_words_and_lines(data) -> None:
    tree = tomllib.loads(STARTER)
    for _ in range(data.draw(st.integers(1, 5))):
        places = list(_places(tree))
        path = data.draw(st.sampled_from(places))
        here = tree
        for step in path[:-1]:
            here = here[step]
        odd = data.draw(st.one_of(st.none(), ODD))
        if odd is None:
            here.pop(path[-1])
        else:
            here[path[-1]] = copy.deepcopy(odd)  # a later fault may go into it
    try:
        text = tomlkit.dumps(tree)
        tomllib.loads(text)
    except Exception:  # mixed lists and the like, which the writer refuses
        return
    try:
        read_text(text)
    except ScenarioError as error:
        for fault in error.faults:
            assert fault.accepted
            assert fault.line > 0 or fault.problem.startswith(("missing", "empty"))


def test_masses_that_are_tried_on_no_aircraft_are_a_fault() -> None:
    """History: they did nothing, without a word."""
    text = f'title = "x"\n{MACHINE}[when]\nmasses = ["0.5 kg", "1 kg"]\n'
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    assert keys(caught.value) == ["when.masses"]
    assert "no airframe" in caught.value.faults[0].problem
    assert read_text(text + AIRFRAME).section.when.masses == (0.5, 1.0)


def test_a_file_without_machines_is_told_the_shortest_one() -> None:
    """And what it is told is enough."""
    with pytest.raises(ScenarioError) as caught:
        read_text('title = "x"\n')
    fault = next(one for one in caught.value.faults if one.key == "candidates")
    assert "[candidates.NAME.readings]" in fault.hint
    made = read_text(f'title = "x"\n[when]\n{MACHINE}')
    assert made.section.when.power_points > 1
