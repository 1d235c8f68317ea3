"""Readings that cannot be, and repeats that scatter more than they should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.read_texts import bench_of_text
from thrustlapse.bench.consistency import cautions, jet_power, jet_speed
from thrustlapse.bench.readings import bench_readings
from thrustlapse.bench.repeats import repeat_groups, repeat_scatter
from thrustlapse.propulsor.ideal import ducted_thrust
from thrustlapse.scenario.readings.bench_file import bench_starter

GF = 9.80665e-3
KRPM = 1000 * np.pi / 30


@given(thrust=st.floats(0.01, 50.0), density=st.floats(0.8, 1.4), area=st.floats(1e-5, 1e-2))
def test_jet_power_is_the_inverse_of_momentum_theory(thrust, density, area) -> None:
    """Closed form: at rest F = (4 rho A P^2)^(1/3)."""
    power = float(jet_power(thrust=thrust, density=density, area=area))
    assert (4 * density * area * power**2) ** (1 / 3) == pytest.approx(thrust, rel=1e-12)
    assert float(ducted_thrust(power=power, area=area, density=density, airspeed=0.0)
                 ) == pytest.approx(thrust, rel=1e-9)
    speed = float(jet_speed(thrust=thrust, density=density, area=area))
    assert density * area * speed**2 == pytest.approx(thrust, rel=1e-12)


def test_the_starter_raises_no_caution() -> None:
    assert cautions(bench_of_text(bench_starter())) == ()


@pytest.mark.parametrize(("columns", "said"), [
    ({"thrust": 1900 * GF, "electrical_power": 350.0}, "more power than the machine draws"),
    ({"thrust": 500 * GF, "electrical_power": 350.0}, "more than 75 %"),
    ({"thrust": 19 * GF, "electrical_power": 350.0}, "less than 3 %"),
    ({"thrust": 190 * GF, "static_pressure": 300.0}, "do not belong together"),
    ({"thrust": 190 * GF, "outlet_blocked": True}, "leak"),
    ({"voltage": 22.0, "current": 16.0, "electrical_power": 310.0}, "volts times amps"),
    ({"shaft_speed": np.array([82.0, 70.0]) * KRPM, "outlet_blocked": np.array([False, True])},
     "slower with the outlet shut"),
    ({"shaft_speed": np.array([82.0, 70.0]) * KRPM, "inlet_blocked": np.array([False, True])},
     "slower with the inlet shut")])
def test_what_does_not_hold_together(columns, said) -> None:
    found = cautions(bench_readings(nozzle_diameter=0.021, **columns))
    assert len(found) == 1, found
    assert said in found[0]


def test_a_plausible_reading_is_let_through_and_lines_are_named() -> None:
    good = bench_readings(nozzle_diameter=0.021, thrust=190 * GF, electrical_power=350.0,
                          static_pressure=2700.0, voltage=22.0, current=16.0)
    assert cautions(good) == ()
    bad = bench_readings(nozzle_diameter=0.021, thrust=[190 * GF, 1900 * GF],
                         electrical_power=350.0, row=[7, 9])
    assert cautions(bad)[0].startswith("line 9: ")


def test_groups_of_repeats() -> None:
    readings = bench_readings(
        thrust=1.0, voltage=[22.0, 22.1, 23.0, 22.0, np.nan, np.nan],
        nozzle_diameter=[0.021, 0.021, 0.021, 0.019, 0.021, 0.021])
    assert [group.tolist() for group in repeat_groups(readings)] == [[0, 1], [4, 5]]


def test_scatter_of_true_spreads_and_of_spreads_too_small() -> None:
    """300 benches of 4 settings with 3 repeats: the ratio is near 1, and its chance is uniform;
    with spreads stated at a third nearly all are called out."""
    random = np.random.default_rng(11)
    truth = np.repeat([1.0, 1.4, 1.9, 2.3], 3)
    nozzle = np.repeat([0.018, 0.019, 0.020, 0.021], 3)
    chances, ratios, called = [], [], 0
    for _ in range(300):
        thrust = truth + 0.03 * random.standard_normal(truth.size)
        for stated in (0.03, 0.01):
            scatter, = repeat_scatter(bench_readings(thrust=thrust, nozzle_diameter=nozzle,
                                                     spread={"thrust": stated}))
            assert (scatter.quantity, scatter.freedom) == ("thrust", 8)
            if stated == 0.03:
                chances.append(scatter.chance)
                ratios.append(scatter.ratio**2)
            else:
                called += scatter.too_large
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.1)
    assert np.mean(np.array(chances) < 0.1) == pytest.approx(0.1, abs=0.06)
    assert called > 280
