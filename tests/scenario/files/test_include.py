"""Candidates in files of their own: putting in, overriding, what a fit keeps, and every fault."""

from __future__ import annotations

import copy
import os
import tomllib
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import tomlkit

import thrustlapse as tl
from tests.scenario.hostile_includes import attempt
from tests.shipped import without_draws
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.json_schema import schema_json
from thrustlapse.scenario.files.read import read_scenario, read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = tomllib.loads(starter_text())
BLOWER = copy.deepcopy(STARTER["candidates"]["blower"])
BLOWER["fit"] = {"bench": "an invented afternoon", "unknowns": ["motor.resistance",
                                                               "map.head_shutoff"],
                 "covariance": [[4e-6, -1e-5], [-1e-5, 1e-4]]}


def scenario(tmp_path: Path, *, beside: dict | None = None, included: dict | str | None = None,
             path: str = "mine.toml"):
    """The starter with its blower included from a file; ``beside`` stands beside the include."""
    text = included if isinstance(included, str) else tomlkit.dumps(included or BLOWER)
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    raw = copy.deepcopy(STARTER)
    raw["candidates"] = {"mine": {"include": path, **(beside or {})}}
    (tmp_path / "asks.toml").write_text(tomlkit.dumps(raw), encoding="utf-8")
    return read_scenario(tmp_path / "asks.toml")


def faults(tmp_path: Path, **given) -> list:
    with pytest.raises(ScenarioError) as caught:
        scenario(tmp_path, **given)
    return caught.value.faults


def test_an_included_candidate_is_the_same_as_one_written_out(tmp_path) -> None:
    mine = scenario(tmp_path).candidates["mine"]
    there = read_text(starter_text()).candidates["blower"]
    assert mine.unit.drive == there.unit.drive
    assert float(tl.operate(mine, airspeed=20.0).net_thrust) == float(
        tl.operate(there, airspeed=20.0).net_thrust)


def test_the_fit_comes_along_and_the_write_up_tells_it(tmp_path) -> None:
    read = scenario(tmp_path)
    fit = read.candidates["mine"].fit
    assert fit.unknowns == ("motor.resistance", "map.head_shutoff")
    assert fit.values == pytest.approx([0.045, 0.56])
    assert fit.deviations == pytest.approx([2e-3, 1e-2])
    answer = tl.compare(without_draws(read))
    told = answer.candidates["mine"].measured
    assert "motor.resistance 45 mohm ± 2 mohm" in told[0]
    assert "an invented afternoon" in told[0]
    tl.write_report(answer, tmp_path / "out", scenario_text=read.text)
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "Fitted to readings on a bench" in page
    assert "included from" in page
    assert tl.read_results(tmp_path / "out" / "results.json").candidates["mine"].measured == told


def test_what_stands_beside_overrides_and_leaves_the_fit(tmp_path) -> None:
    mine = scenario(tmp_path, beside={"motor": {"resistance": "50 mohm"},
                                      "duct": {"length": "10 mm"}}).candidates["mine"]
    assert mine.unit.drive.motor.resistance == pytest.approx(0.050)
    assert mine.unit.duct.length == pytest.approx(0.010)
    assert mine.unit.duct.area == pytest.approx(np.pi / 4 * 0.026**2)
    assert mine.fit.unknowns == ("map.head_shutoff",)
    assert mine.fit.covariance == pytest.approx(np.array([[1e-4]]))
    assert any("motor.resistance as the scenario gives it" in told for told in mine.assumptions)


def test_a_table_of_another_kind_replaces_the_included_one_whole(tmp_path) -> None:
    mine = scenario(tmp_path, beside={"motor": {"model": "efficiency", "efficiency": 0.8}})
    assert mine.candidates["mine"].fit.unknowns == ("map.head_shutoff",)


def test_a_result_is_traced_to_the_included_bytes(tmp_path) -> None:
    first = scenario(tmp_path).digest
    assert scenario(tmp_path, included=tomlkit.dumps(BLOWER) + "# a remark\n").digest != first


def changed(path: str, value) -> dict:
    raw = copy.deepcopy(BLOWER)
    part = raw
    *tables, key = path.split(".")
    for table in tables:
        part = part[table]
    if value is None:
        del part[key]
    else:
        part[key] = value
    return raw


@pytest.mark.parametrize(("path", "value", "said"), [
    ("motor.resistance", "45 kg", "a mass"),
    ("nozzle.exit_diameter", "60 mm", "larger than its entry"),
    ("fit.covariance", [[4e-6]], "1 rows of 1 entries beside 2 unknowns"),
    ("fit.unknowns", ["motor.resistance", "motor.resistence"], "names no number"),
    ("fit.unknowns", ["motor.resistance", "map.source"], "names no number"),
    ("fit.unknowns", ["motor.resistance", "motor.resistance"], "there twice"),
    ("fit.unknowns", ["motor.resistance", 3], "not a key inside a table"),
    ("fit.covariance", [[4e-6, -1e-5], [-1e-5]], "2 rows of 1 or 2 entries"),
    ("fit.covariance", [[4e-6, -1e-5], [-2e-5, 1e-4]], "not symmetric"),
    ("fit.covariance", [[4e-6, -3e-5], [-3e-5, 1e-4]], "no covariance can be like that"),
    ("fit.covariance", [[4e-6, 0.0], [0.0, 0.0]], "variance of map.head_shutoff"),
    ("fit.covariance", [[4e-6, "x"], [0.0, 1.0]], "not a plain number"),
])
def test_a_fault_names_the_included_file_and_line(tmp_path, path, value, said) -> None:
    found = faults(tmp_path, included=changed(path, value))
    text = (tmp_path / "mine.toml").read_text(encoding="utf-8").splitlines()
    assert len(found) == 1
    assert found[0].file == str(tmp_path / "mine.toml")
    assert found[0].key == path
    assert path.rpartition(".")[2] in text[found[0].line - 1]
    assert said in found[0].problem


def test_a_fault_beside_the_include_names_the_scenario(tmp_path) -> None:
    found = faults(tmp_path, beside={"duct": {"length": "10 s"}})
    assert [(fault.file, fault.key) for fault in found] == [
        (str(tmp_path / "asks.toml"), "candidates.mine.duct.length")]


def test_faults_of_both_files_come_together(tmp_path) -> None:
    found = faults(tmp_path, beside={"duct": {"length": "10 s"}},
                   included=changed("motor.resistance", "45 kg"))
    assert len(found) == 2
    assert len({fault.file for fault in found}) == 2


@pytest.mark.parametrize(("path", "said"), [
    ("../mine.toml", "outside"), ("/etc/hostname", "outside"), ("none.toml", "no such file"),
    (".", "folder"), (7, "not the path"), ("", "not the path"), ("a\0b", "not the path"),
])
def test_a_file_that_may_not_be_included(tmp_path, path, said) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "mine.toml").write_text("kind = 1\n", encoding="utf-8")
    assert said in faults(tmp_path / "in", path=path)[0].problem


def test_a_link_that_leads_out_is_refused(tmp_path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "secret.toml").write_text("kind = 1\n", encoding="utf-8")
    (tmp_path / "in" / "link.toml").symlink_to(tmp_path / "secret.toml")
    assert "outside" in faults(tmp_path / "in", path="link.toml")[0].problem


@pytest.mark.parametrize(("text", "said"), [
    ("", "empty"), ("kind = blower", "broken TOML"), ("[candidates.x]\nkind = 1", "whole scenario"),
    ('include = "other.toml"', "cannot include another")])
def test_a_file_that_holds_no_candidate(tmp_path, text, said) -> None:
    assert said in faults(tmp_path, included=text or "\n")[0].problem


def test_a_text_that_is_no_file_includes_nothing() -> None:
    raw = copy.deepcopy(STARTER)
    raw["candidates"] = {"mine": {"include": "mine.toml"}}
    with pytest.raises(ScenarioError, match="no file"):
        read_text(tomlkit.dumps(raw))


def test_the_schema_lets_an_include_stand_alone_and_nothing_else() -> None:
    checker = jsonschema.Draft202012Validator(schema_json())
    raw = copy.deepcopy(STARTER)
    raw["candidates"] = {"mine": {"include": "mine.toml"}}
    assert checker.is_valid(raw)
    raw["candidates"] = {"mine": {}}
    assert not checker.is_valid(raw)


@pytest.mark.parametrize("source", ["fan"])
def test_factors_stretch_a_given_map(source) -> None:
    raw = copy.deepcopy(STARTER)
    plain = read_text(tomlkit.dumps(raw)).candidates[source].unit.rotor.stage
    raw["candidates"][source]["map"] |= {"head_scale": 0.9, "flow_scale": 1.1, "power_scale": 1.2}
    stage = read_text(tomlkit.dumps(raw)).candidates[source].unit.rotor.stage
    assert stage.head(0.22 * 1.1) == pytest.approx(0.9 * plain.head(0.22), rel=1e-12)
    assert stage.power(0.22 * 1.1) == pytest.approx(1.2 * plain.power(0.22), rel=1e-12)
    raw["candidates"][source]["map"]["power_scale"] = 0.5
    with pytest.raises(ScenarioError, match="efficiency exceeds one"):
        read_text(tomlkit.dumps(raw))


def test_a_missing_file_is_told_where_it_is_asked_for(tmp_path) -> None:
    """It used to be told by its path alone, as if it were the scenario."""
    fault, = faults(tmp_path, path="none.toml")
    assert fault.file.endswith("asks.toml")
    assert fault.line > 0
    assert fault.key == "candidates.mine.include"
    assert "none.toml: no such file" in fault.problem


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path) -> None:
    """It used to be read, which never ended."""
    os.mkfifo(tmp_path / "pipe.toml")
    fault, = faults(tmp_path, path="pipe.toml")
    assert fault.key == "candidates.mine.include"
    assert "not a plain file" in fault.problem


@pytest.mark.parametrize("start", range(0, 140, 20))
def test_damaged_includes_and_fits_are_read_or_refused(start, tmp_path) -> None:
    for number in range(start, start + 20):
        assert attempt(number, tmp_path) in ("read", "refused")
