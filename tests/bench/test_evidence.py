"""Pieces of evidence: readings put together, labels, voltages nobody read."""

from __future__ import annotations

import numpy as np
import pytest

from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.evidence import BENCH, CHARGE, LABELS, Piece, at_voltage, of_a_label
from thrustlapse.bench.readings import bench_readings
from thrustlapse.bench.together import together


def test_readings_put_together_keep_their_rows_their_air_and_what_was_told() -> None:
    warm = bench_readings(thrust=[1.0, 2.0], air_temperature=[300.0, np.nan], setting=["high"] * 2,
                          spread={"thrust": 0.01}, told=["a"])
    cold = bench_readings(thrust=[3.0], air_temperature=[270.0], air_pressure=[9e4],
                          inlet_blocked=[True], note=["last"], told=["a", "b"])
    both = together([warm, cold], source="two")
    assert both.thrust.tolist() == [1.0, 2.0, 3.0]
    assert both.row.tolist() == [1, 2, 3]
    assert both.setting == ("high", "high", "unnamed")
    assert both.note == ("", "", "last")
    assert both.told == ("a", "b")
    assert both.source == "two"
    assert both.inlet_blocked.tolist() == [False, False, True]
    assert both.spread["thrust"][:2].tolist() == [0.01, 0.01]
    assert np.isnan(both.spread["thrust"][2])
    # the second row's air is its own evening's, not that of a piece put before or behind it
    density = np.asarray(air_of(both)[0].density)
    assert density[0] == density[1] == pytest.approx(101_325.0 / (287.053 * 300.0), rel=1e-4)
    assert density[2] == pytest.approx(9e4 / (287.053 * 270.0), rel=1e-4)


def test_damp_air_stays_as_light_as_it_was() -> None:
    damp = bench_readings(thrust=[1.0], air_temperature=[303.15], air_pressure=[1e5],
                          relative_humidity=[0.9])
    alone, joined = (np.asarray(air_of(one)[0].density) for one in (damp, together([damp])))
    np.testing.assert_allclose(joined, alone, rtol=1e-12)


def test_nothing_cannot_be_put_together() -> None:
    with pytest.raises(ValueError, match="no readings"):
        together([])


def test_what_a_label_says_has_a_label_s_spread_unless_it_states_one() -> None:
    said = of_a_label(bench_readings(thrust=[2.0], electrical_power=[200.0], static_pressure=[1e3],
                                     spread={"electrical_power": 1.0}))
    assert said.spread["thrust"].tolist() == [LABELS["thrust"] * 2.0]
    assert said.spread["electrical_power"].tolist() == [1.0]
    assert np.isnan(said.spread["static_pressure"][0])


def test_a_voltage_nobody_read_is_about_the_description_s() -> None:
    read = bench_readings(thrust=[1.0, 1.0, 1.0], voltage=[20.0, np.nan, np.nan],
                          by_log=[False, False, True], spread={"voltage": 0.1})
    there = at_voltage(read, 22.0)
    assert there.voltage[:2].tolist() == [20.0, 22.0]
    assert np.isnan(there.voltage[2])
    assert there.spread["voltage"][:2].tolist() == [0.1, CHARGE * 22.0]
    assert at_voltage(read, np.nan) is read


def test_a_piece_is_of_a_kind_that_is_known() -> None:
    read = bench_readings(thrust=[1.0])
    assert Piece(kind=BENCH, name="a", digest="b", date="c", readings=read).kind == BENCH
    with pytest.raises(ValueError, match="no kind of evidence"):
        Piece(kind="rumour", name="a", digest="b", date="c", readings=read)
