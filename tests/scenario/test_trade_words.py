"""Hints in the words of the trade, and a scroll for a machine that is known by its readings."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from thrustlapse.cli import main
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.short import short_starter_text
from thrustlapse.scenario.files.starter import starter_text
from thrustlapse.scenario.readings.bench_file import read_bench
from thrustlapse.study.machine import study_machine

KV = 'speed_constant = "4400 rpm/V"'


@pytest.mark.parametrize(("text", "old", "new", "said"), [
    (short_starter_text(), "series = 5", 'series = "6S"', "without quotes: 6"),
    (short_starter_text(), "series = 5", 'series = 5\nchemistry = "LiPo"', "NMC is near"),
    (short_starter_text(), 'exit_diameter = "23.5 mm"',
     'exit_diameter = "23.5 mm"\nsupply = "full"', "full throttle"),
    (short_starter_text(), 'kind = "blower"', 'kind = "blower"\nthrust = "2 N"',
     "belongs in [candidates.NAME.readings]"),
    (short_starter_text(), 'kind = "blower"', 'kind = "blower"\nwatts = "200 W"',
     '"electrical_power", and belongs in'),
    (short_starter_text(), 'exit_diameter = "23.5 mm"', 'exit = "23.5 mm"',
     'did you mean "exit_diameter"'),
    (starter_text(), KV, 'speed_constant = "4400kV"', "no kilovolt"),
    (starter_text(), KV, 'speed_constant = "4400 Kv"', "rpm/V"),
    (starter_text(), KV, 'speed_constant = "4400 rpm"', "per volt"),
    (starter_text(), KV, "Kv = 4400", 'did you mean "speed_constant"')])
def test_words_of_the_trade_get_a_hint(text: str, old: str, new: str, said: str) -> None:
    assert old in text
    with pytest.raises(ScenarioError) as caught:
        read_text(text.replace(old, new, 1))
    assert said in str(caught.value)


def test_one_slip_of_the_pack_is_one_fault() -> None:
    with pytest.raises(ScenarioError) as caught:
        read_text(short_starter_text().replace("series = 5", 'series = "6S"'))
    assert [fault.key for fault in caught.value.faults] == ["pack.series"]


@pytest.mark.parametrize(("heading", "hint"), [
    ("rpm", "shaft speed [rpm]"), ("rpm [krpm]", "shaft speed [krpm]"),
    ("shaft sped [rpm]", "shaft speed [rpm]"), ("thrst [gf]", "thrust [gf]"),
    ("thrst [mm]", "thrust [")])
def test_a_hint_keeps_the_unit_of_the_writer(heading: str, hint: str, tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.write_text(f"{heading},electrical power [W]\n30000,240\n", encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        read_bench(path)
    assert hint in str(caught.value)


def test_a_scroll_from_flow_and_pressure_alone(tmp_path: Path) -> None:
    """Euler: swirl times radius is work over shaft speed; the flow is that at rest."""
    scenario = read_text(short_starter_text())
    candidate = scenario.candidates["blower"]
    found = study_machine(candidate, None, air=scenario.site.air())
    assert found.scroll is not None
    point = operate(candidate, airspeed=0.0)
    duty = found.scroll.duty
    assert duty.volume_flow * float(scenario.site.air().density) == pytest.approx(
        float(point.mass_flow), rel=1e-9)
    assert duty.angular_momentum * float(point.shaft_speed) * float(
        point.mass_flow) == pytest.approx(float(point.shaft_power), rel=1e-9)
    path = tmp_path / "mine.toml"
    path.write_text(short_starter_text(), encoding="utf-8")
    told = CliRunner().invoke(main, ["machine", str(path), "--candidate", "blower", "--out",
                                     str(tmp_path / "m")])
    assert told.exit_code == 0
    assert "flow and pressure at rest alone" in told.output
    assert (tmp_path / "m" / "scroll.svg").exists()


def test_a_machine_without_a_scroll_says_why(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(starter_text(), encoding="utf-8")
    for name, said in (("fan", "an axial fan has none"), ("propeller", "a propeller has none")):
        told = CliRunner().invoke(main, ["machine", str(path), "--candidate", name, "--out",
                                         str(tmp_path / name)])
        assert said in told.output
