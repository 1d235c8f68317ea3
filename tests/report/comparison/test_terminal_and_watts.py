"""Lines for a terminal, and the books they and the figures sort by use."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.report.machines import (
    blower,
    equal_power,
    fan,
    five,
    propeller,
    single,
    three,
    without_airframe,
)
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.operating_point import MEANING, Flag
from thrustlapse.report.comparison.power_breakdown import USES, breakdown, breakdowns
from thrustlapse.report.comparison.terminal import (
    CAUTION,
    WIDTH,
    point_record,
    point_table,
    summary_lines,
)
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.findings_text import grouped
from thrustlapse.study.comparison import Comparison


@pytest.mark.parametrize("make", [single, three, five, without_airframe],
                         ids=lambda make: make.__name__)
def test_the_summary_is_the_verdict_and_the_caution(make: Callable[[], Comparison]) -> None:
    lines = summary_lines(make())
    text = " ".join(" ".join(lines).split())
    assert text.startswith(verdict(make()).headline)
    assert all(sentence in text for sentence in verdict(make()).sentences)
    assert text.endswith(CAUTION)
    assert all(name in text for name in make().candidates)
    table = [line for line in lines if any(line.startswith(name) for name in make().candidates)]
    assert all(len(line) <= WIDTH for line in lines if line not in table)
    heads = next(line for line in lines if "thrust at rest" in line)
    assert ("level top speed" in heads) == (make().drag_area is not None)


def test_serious_findings_are_listed_and_notes_counted() -> None:
    text = " ".join(" ".join(summary_lines(three())).split())
    serious = [one for one in three().findings if one.rank != "note"]
    assert serious
    assert all(one.text in text for one in serious)
    notes = [one for one in grouped(three().findings) if one.rank == "note"]
    assert f"and {len(notes)} notes on the page" in text


def test_one_point_as_a_table() -> None:
    point = operate(blower(), airspeed=30.0)
    lines = point_table(point, "blower")
    text = "\n".join(lines)
    assert lines[0] == "blower"
    assert f"{point.net_thrust.item():.3f} N" in text
    assert f"{point.shaft_speed.item() * 60.0 / (2.0 * np.pi) / 1000.0:.2f} krpm" in text
    assert "limited by                      power" in text
    assert "throat mach" in text
    assert max(map(len, lines)) <= WIDTH


def test_a_point_without_values_says_why() -> None:
    text = " ".join("\n".join(point_table(operate(propeller(), airspeed=90.0), "x")).split())
    assert "invalid" in text
    assert MEANING[Flag.OUTSIDE_MAP] in text
    assert "nan" not in text


def test_a_table_shows_one_point_only() -> None:
    with pytest.raises(ValueError, match="one operating point, not 3"):
        point_table(operate(blower(), airspeed=np.array([0.0, 1.0, 2.0])), "blower")


@pytest.mark.parametrize("airspeed", [0.0, 30.0, 90.0])
@pytest.mark.parametrize("machine", [blower(), propeller()], ids=["blower", "propeller"])
def test_one_point_as_json(machine: Candidate, airspeed: float) -> None:
    point = operate(machine, airspeed=airspeed)
    found = json.loads(json.dumps(point_record(point, machine.name), allow_nan=False))
    assert found["candidate"] == machine.name
    assert found["airspeed_m_s"] == airspeed
    thrust = point.net_thrust.item()
    assert found["net_thrust_N"] == (thrust if np.isfinite(thrust) else None)
    assert isinstance(found["flags"], list)
    assert found["severity"] == point.severity.item()


# Where the watts go ------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [three, five, equal_power], ids=lambda make: make.__name__)
def test_the_uses_add_up_to_the_pack_power(make: Callable[[], Comparison]) -> None:
    for name in make().candidates:
        for one in breakdowns(make(), name):
            assert len(one.parts) == len(USES)
            assert sum(one.parts) == pytest.approx(one.power, rel=1e-9)


@pytest.mark.parametrize("count", [1, 3])
@pytest.mark.parametrize("airspeed", [0.0, 25.0, 45.0])
def test_the_uses_of_several_units_add_up(count: int, airspeed: float) -> None:
    for one in (blower(), fan(), propeller()):
        unit = replace(one.unit, supply=replace(one.unit.supply, units=float(count)))
        machine = replace(one, unit=unit, count=count)
        found = breakdown("", operate(machine, airspeed=airspeed), count)
        assert sum(found.parts) == pytest.approx(found.power, rel=1e-9)
        assert found.parts[0] == pytest.approx(
            operate(machine, airspeed=airspeed).installed_thrust.item() * airspeed)


def test_no_top_speed_no_second_bar() -> None:
    assert [one.when for one in breakdowns(without_airframe(), "blower")] == ["at rest"]
    at_top = breakdowns(three(), "blower")[1]
    assert at_top.when == f"top {three().candidates['blower'].level.top_speed:.0f} m/s"
