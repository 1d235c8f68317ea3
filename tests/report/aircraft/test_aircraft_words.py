"""What a person reads of the aircraft: bars, curves, tables, sentences, drawn from the numbers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.report.machines import AIRFRAME, USE, blower, hand_made, propeller, single, three
from thrustlapse.report.aircraft.figures import MOST_BARS, drag_bars, figure_climb, figure_drag
from thrustlapse.report.comparison.captions import alt_text, caption
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.terminal import summary_lines
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.number_format import amount, area, short_speed
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison


def with_source(comparison: Comparison, **changes: object) -> Comparison:
    assert comparison.aircraft is not None
    source = replace(comparison.aircraft.drag_source, **changes)  # type: ignore[arg-type]
    return replace(comparison, aircraft=replace(comparison.aircraft, drag_source=source))


def test_bars_are_the_parts_largest_first_then_the_sum_then_the_candidates() -> None:
    known = three()
    bars = drag_bars(known, known.aircraft)
    areas = [value for _, value, _, _, owner in bars if not owner][:-1]
    assert areas == sorted(areas, reverse=True)
    assert sum(areas) == pytest.approx(sum(part.drag_area
                                           for part in known.aircraft.drag_source.parts))
    assert [owner for *_, owner in bars if owner] == list(known.candidates)
    for _, value, _, _, owner in bars[-3:]:
        assert value == pytest.approx(sum(known.candidates[owner].external_drag_areas.values()))
    drawn = figure_drag(known)
    widths = sorted(patch.get_width() for patch in drawn.axes[0].patches)
    assert widths == pytest.approx(sorted(1e4 * value for _, value, *_ in bars))


def test_many_parts_share_a_bar() -> None:
    known = three()
    part = known.aircraft.drag_source.parts[0]
    many = with_source(known, parts=tuple(replace(part, name=f"part {n}", drag_area=1e-4 * (n + 1))
                                          for n in range(MOST_BARS + 8)))
    bars = drag_bars(many, many.aircraft)
    assert bars[MOST_BARS][0] == "8 smaller parts"
    assert bars[MOST_BARS][1] == pytest.approx(1e-4 * sum(range(1, 9)))
    assert figure_drag(many) is not None


def test_a_given_polar_is_one_bar_without_a_band() -> None:
    given = with_source(three(), source="given", parts=(), drag_area_low=float("nan"),
                        drag_area_high=float("nan"))
    bars = drag_bars(given, given.aircraft)
    assert bars[0][0] == "airframe, as given"
    assert len(bars) == 1 + len(given.candidates)
    assert all(np.isnan(low) and np.isnan(high) for _, _, low, high, owner in bars if not owner)
    assert figure_drag(given) is None  # a figure of one bar says what the sentence says
    assert "(" not in alt_text(given, "drag").split("Airframe")[1].split("Each")[0]


def test_curves_of_climb_are_the_numbers() -> None:
    known = three()
    lines = {tuple(line.get_ydata()): line for line in figure_climb(known).axes[0].lines}
    for one in known.aircraft.performances.values():
        assert any(np.array_equal(np.asarray(data), one.climb_rate, equal_nan=True)
                   for data in lines if len(data) == one.climb_rate.size)
        assert short_speed(one.best_climb_rate) in alt_text(known, "climb")
    assert "full power" in caption(known, "climb")


def test_nothing_climbs_is_still_drawn_and_said() -> None:
    weak = compare(hand_made(blower(power=25.0)))
    assert figure_climb(weak) is not None
    assert "blower cannot climb" in alt_text(weak, "climb")
    table = {row[0]: row[1] for row in all_tables(weak)["performance"].rows}
    assert table["best rate of climb"] == "cannot climb"
    assert "absolute ceiling" not in table
    assert "thrust is short" in table["longest endurance"]
    assert not [text for text in verdict(weak).sentences if "Best rate of climb" in text]


def test_a_climb_between_two_points_of_the_curve_is_described() -> None:
    """It once ended in an error: the best rate was above zero, and no point of the curve was."""
    known = single()
    one = known.aircraft.performances["blower"]
    hardly = replace(one, climb_rate=-np.abs(one.climb_rate), best_climb_rate=0.01)
    changed = replace(known, aircraft=replace(known.aircraft, performances={"blower": hardly}))
    assert f"climbs from {short_speed(one.best_climb_speed)}" in alt_text(changed, "climb")


def test_tables_tell_what_was_computed() -> None:
    known, tables = three(), all_tables(three())
    head = tables["performance"].heads
    rows = {row[0]: dict(zip(head[1:], row[1:], strict=True)) for row in
            tables["performance"].rows}
    for name, one in known.aircraft.performances.items():
        assert rows["best rate of climb"][name].startswith(short_speed(one.best_climb_rate))
        assert rows["total mass"][name] == amount("total_mass", one.total_mass)
        assert rows["longest endurance"][name].startswith(amount("endurance",
                                                                 one.longest.endurance))
        assert rows["units needed to fly level"][name] == "1"
    assert "take-off run" not in rows
    parts = {row[0]: row for row in tables["drag"].rows}
    for part in known.aircraft.drag_source.parts:
        assert parts[part.name][1] == area(part.drag_area)
    assert "×" in parts["wing"][5]
    fast = [row for row in tables["cruises"].rows if row[1] == "200 m/s"]
    assert len(fast) == 3
    assert all(row[5] == "thrust is short of drag at full power" for row in fast)
    assert tables["altitudes"].rows[0][0] == "100 m"
    for table in tables.values():
        assert all(len(row) == len(table.heads) for row in table.rows)
        assert "nan" not in str(table.rows)


def test_the_verdict_says_how_it_climbs_and_how_long_it_flies() -> None:
    text = " ".join(verdict(three()).sentences)
    for one in three().aircraft.performances.values():
        assert short_speed(one.best_climb_rate) in text
        assert amount("endurance", one.longest.endurance) in text
    assert "built up from parts" in text
    assert "; level top speeds then are blower" in text
    assert "within one standard deviation" not in text
    measured = with_source(single(), source="coasting run")
    assert "from a coasting run, and may be" in " ".join(verdict(measured).sentences)
    assert "within one standard deviation" in " ".join(verdict(measured).sentences)
    assert "Best rate of climb" in "\n".join(summary_lines(three()))


def test_ceilings_beyond_the_atmosphere_known_are_said_so() -> None:
    known = three()
    one = known.aircraft.performances["propeller"]
    high = replace(one, absolute_ceiling=float("nan"), service_ceiling=float("nan"))
    changed = replace(known, aircraft=replace(known.aircraft, performances={
        **known.aircraft.performances, "propeller": high}))
    rows = {row[0]: row for row in all_tables(changed)["performance"].rows}
    assert rows["absolute ceiling"][3] == "beyond 20 km"


def test_an_upright_climb_has_a_gap_and_a_reason() -> None:
    """Thrust above weight: no steady straight line exists at low airspeed, and that is said."""
    light = compare(hand_made(propeller(power=900.0), airframe=replace(AIRFRAME, mass=0.05),
                              aircraft_use=replace(USE, source_mass=0.1)))
    one = light.aircraft.performances["propeller"]
    assert "upright" in one.climb_reason
    assert any("upright" in finding.text for finding in light.findings)
    assert np.isnan(one.climb_rate).any()
    assert math.isfinite(one.best_climb_rate)
    assert one.best_climb_rate > 10.0
    assert one.steepest_angle == pytest.approx(0.5 * math.pi)
    assert not any("hardly climbs" in finding.text or "nan" in finding.text
                   for finding in light.findings)
    assert figure_climb(light) is not None
