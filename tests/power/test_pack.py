"""The pack as a source: published cells, strings in parallel, the two roots of a power."""

from __future__ import annotations

from importlib import resources

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.power.pack import (
    CURVES,
    Pack,
    cell_curve,
    greatest_power,
    open_circuit_voltage,
    pack_charge,
    pack_resistance,
    terminal_current,
)


def pack(**changes) -> Pack:
    given_ = {"curve": cell_curve("NMC"), "series": 6.0, "parallel": 2.0,
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
