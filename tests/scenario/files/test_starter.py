"""The starter's alternatives, which stand in comments, are as good as what they replace."""

from __future__ import annotations

import re
import tomllib

import jsonschema
import numpy as np
import pytest

from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.files.json_schema import schema_json
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = starter_text()


def with_alternative(table: str, source: str) -> str:
    """The starter with the commented lines of a source in place of the table's own."""
    begin = STARTER.index(f"[{table}]")
    end = STARTER.index("\n[", STARTER.index("\n\n# From", begin))
    block = STARTER[begin:end]
    found = re.search(rf'^# source = "{source}".*?(?=^# source|\Z|^$)', block, re.M | re.S)
    assert found is not None
    rows = re.sub("^# ?", "", found.group(), flags=re.M)
    return STARTER.replace(block, f"[{table}]\n{rows}\n")


@pytest.mark.parametrize(("name", "part", "source"), [
    ("blower", "map", "geometry"), ("fan", "map", "geometry"), ("propeller", "table", "pitch"),
    ("propeller", "table", "geometry")])
def test_alternatives_in_comments_are_good(name, part, source) -> None:
    text = with_alternative(f"candidates.{name}.{part}", source)
    assert tomllib.loads(text)["candidates"][name][part]["source"] == source
    jsonschema.validate(tomllib.loads(text), schema_json(), cls=jsonschema.Draft202012Validator)
    candidate = read_text(text).candidates[name]
    assert np.isfinite(operate(candidate, airspeed=5.0).net_thrust)


def test_the_search_in_comments_is_good() -> None:
    begin = STARTER.index("# [search]")
    block = STARTER[begin:STARTER.index("\n\n", begin)]
    text = STARTER + re.sub("^# ?", "", block, flags=re.M)
    jsonschema.validate(tomllib.loads(text), schema_json(), cls=jsonschema.Draft202012Validator)
    assert read_text(text).searches


def test_the_flight_in_comments_is_good() -> None:
    begin = STARTER.index("# [flight]")
    block = STARTER[begin:STARTER.index("\n\n", begin)]
    text = STARTER.replace(block, re.sub("^# ?", "", block, flags=re.M))
    jsonschema.validate(tomllib.loads(text), schema_json(), cls=jsonschema.Draft202012Validator)
    plan = read_text(text).flight
    assert plan is not None
    assert len({type(leg) for leg in plan.legs}) == 7


def test_every_kind_is_there_and_runs() -> None:
    begin = STARTER.index("# [candidates.shrouded]")
    text = STARTER[:begin] + re.sub("^# ?", "", STARTER[begin:], flags=re.M)
    scenario = read_text(text)
    assert {candidate.kind for candidate in scenario.candidates.values()} == {
        "blower", "axial fan", "propeller", "ducted propeller"}
    for candidate in scenario.candidates.values():
        assert operate(candidate, airspeed=0.0).net_thrust > 0.5  # newtons: each one pushes


@pytest.mark.parametrize("twice", [
    {"throat_area": "5 cm^2"}, {"throat_diameter": "5 mm", "throat_area": "5 cm^2"}])
def test_the_schema_knows_which_keys_exclude_each_other(twice) -> None:
    data = tomllib.loads(STARTER)
    inlet = data["candidates"]["blower"]["inlet"]
    del inlet["throat_diameter"]
    inlet.update(twice)
    checker = jsonschema.Draft202012Validator(schema_json())
    assert checker.is_valid(data) == (len(twice) == 1)
    inlet.clear()
    assert not checker.is_valid(data)


def test_the_schema_says_what_a_key_accepts() -> None:
    inlet = schema_json()["$defs"]["InletSection"]["properties"]
    assert "from 100 um to 20 m" in inlet["throat_diameter"]["description"]
    assert '"bell-mouth"' in inlet["lip"]["description"]
    assert "null" not in str(schema_json())
    jsonschema.Draft202012Validator.check_schema(schema_json())
