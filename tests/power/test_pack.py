"""The pack as a source: published cells, strings in parallel, the two roots of a power."""

from __future__ import annotations

from importlib import resources

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.machines import CONSTANT_RESISTANCE
from thrustlapse.arrays import Array
from thrustlapse.power.pack import (
    CURVES,
    Pack,
    cell_curve,
    greatest_power,
    open_circuit_voltage,
    pack_resistance,
    resistance_from_half_charge,
    terminal_current,
    typical_resistance,
)


def pack(**changes) -> Pack:
    given_ = {"curve": cell_curve("NMC"), "series": 6.0, "parallel": 2.0,
              "resistance_curve": CONSTANT_RESISTANCE,
              "cell_resistance": 0.011, "cell_capacity": 4.0 * 3600.0, "state_of_charge": 0.7,
              "lead_resistance": 0.004}
    return Pack(**given_ | changes)


@pytest.mark.parametrize("name", CURVES)
def test_a_cell_curve_is_its_published_table(name: str) -> None:
    """Read a second way, by NumPy's own reader; the source stands in the file."""
    path = resources.files("thrustlapse.power").joinpath("cells").joinpath(CURVES[name])
    table = np.genfromtxt(str(path), delimiter=",", comments="#")
    table = table[np.isfinite(table).all(axis=1)]
    found = cell_curve(name)
    np.testing.assert_array_equal(found.state_of_charge, table[:, 0] / 100.0)
    np.testing.assert_array_equal(found.voltage, table[:, 1])
    assert len(found.source) > 10
    assert np.all(np.diff(found.voltage) > 0.0)


def test_cells_in_series_add_volts_and_in_parallel_share_the_current() -> None:
    """Kirchhoff: 6 x 11 mohm / 2 + 4 mohm = 37 mohm; two strings of 4 Ah at 70 % hold 5.6 Ah."""
    one, six = pack(series=1.0), pack()
    assert open_circuit_voltage(six) == pytest.approx(6.0 * open_circuit_voltage(one))
    assert float(pack_resistance(six)) == pytest.approx(0.037)
    assert float(pack_charge(six)) == pytest.approx(5.6 * 3600.0)
    assert np.isnan(open_circuit_voltage(pack(state_of_charge=1.2)))


def test_the_typical_resistance_is_the_published_cell_over_its_half_charge() -> None:
    """Schuster et al. 2015, read by NumPy: 0.0984 ohm at 50 %, 0.1264 at 20 %, 0.1917 at 0 %."""
    shape = typical_resistance()
    for charge, ohms in ((0.0, 0.1917), (0.1, 0.1546), (0.2, 0.1264), (0.5, 0.0984), (1.0, 0.0941)):
        found = pack(state_of_charge=charge, resistance_curve=shape, series=1.0, parallel=1.0,
                     lead_resistance=0.0, cell_resistance=0.0984)
        assert float(pack_resistance(found)) == pytest.approx(ohms, rel=1e-12)
    assert np.all(np.diff(shape.ratio[:11]) < 0.0)
    assert shape.source.startswith("Schuster")


@given(ohms=st.lists(st.floats(1e-3, 0.3), min_size=3, max_size=8),
       low=st.floats(0.0, 0.3), high=st.floats(0.6, 1.0))
def test_a_given_curve_is_met_at_its_points_and_stays_between_them(ohms, low, high) -> None:
    """Own readings come back whatever their reference; nothing is known beyond them."""
    at = np.linspace(low, high, len(ohms))
    half, curve = resistance_from_half_charge(state_of_charge=at, resistance=np.array(ohms))
    cell = {"cell_resistance": half, "resistance_curve": curve, "series": 1.0, "parallel": 1.0,
            "lead_resistance": 0.0}
    found = pack_resistance(pack(**cell, state_of_charge=at))
    np.testing.assert_allclose(found, ohms, rtol=1e-12)
    between = pack_resistance(pack(**cell, state_of_charge=np.linspace(low, high, 101)))
    assert min(ohms) * (1 - 1e-9) <= between.min() <= between.max() <= max(ohms) * (1 + 1e-9)
    assert np.isnan(pack_resistance(pack(**cell, state_of_charge=high + 0.1)))


def test_a_curve_that_does_not_hold_half_charge_counts_from_its_nearest_end() -> None:
    at, ohms = np.array([0.6, 1.0]), np.array([0.02, 0.01])
    half, curve = resistance_from_half_charge(state_of_charge=at, resistance=ohms)
    assert half == 0.02
    np.testing.assert_allclose(curve.ratio, [1.0, 0.5])


@given(voltage=st.floats(3.0, 60.0), resistance=st.just(0.0) | st.floats(1e-6, 0.5),
       share=st.floats(0.0, 0.999))
def test_a_power_is_met_at_the_smaller_of_two_currents(voltage, resistance, share) -> None:
    """Ohm: P = (V - I R) I, and I at most V / 2R, half the short circuit's."""
    most = float(greatest_power(voltage=voltage, resistance=resistance))
    power = share * min(most, 1e4)
    amps = float(terminal_current(voltage=voltage, resistance=resistance, power=power))
    assert (voltage - amps * resistance) * amps == pytest.approx(power, rel=1e-9, abs=1e-9)
    assert amps * 2.0 * resistance <= voltage * (1.0 + 1e-6)


@pytest.mark.parametrize("voltage", [0.37, 22.2, 411.0])
def test_the_greatest_power_is_had_at_half_the_voltage_and_no_more(voltage: float) -> None:
    """Maximum power theorem: V^2 / 4R at I = V / 2R; at every scale of voltage, to round-off."""
    most = greatest_power(voltage=voltage, resistance=0.037)
    at = {"voltage": voltage, "resistance": 0.037}
    assert float(most) == pytest.approx(voltage**2 / 0.148)
    assert float(terminal_current(power=most, **at)) == pytest.approx(voltage / 0.074)
    assert np.isnan(terminal_current(power=most * (1.0 + 1e-9), **at))
    assert np.isnan(terminal_current(power=most * 1.5, **at))


def pack_charge(pack: Pack) -> Array:
    """Charge left in the pack [A s]."""
    return np.asarray(pack.parallel * np.asarray(pack.cell_capacity) * pack.state_of_charge)
