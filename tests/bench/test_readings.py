"""The record of readings, what stands in for what was not read, and the air of the day."""

from __future__ import annotations

import numpy as np
import pytest

from thrustlapse.bench.air_density import (
    air_of,
    saturation_pressure,
    station_pressure,
)
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import CONDITIONS, MEASURED, UNNAMED, bench_readings


def test_what_is_not_given_is_not_read() -> None:
    readings = bench_readings(thrust=[1.8, 2.1], spread={"thrust": 0.02})
    assert len(readings) == 2
    assert readings.names == ("thrust",)
    assert readings.setting == (UNNAMED, UNNAMED)
    np.testing.assert_array_equal(readings.airspeed, 0.0)
    np.testing.assert_array_equal(readings.spread["thrust"], 0.02)
    for name in (*CONDITIONS, *MEASURED):
        if name not in ("thrust", "airspeed"):
            assert np.isnan(getattr(readings, name)).all()


def test_shapes_and_names_are_checked() -> None:
    with pytest.raises(TypeError, match="thurst"):
        bench_readings(thurst=[1.0])
    with pytest.raises(ValueError, match="at least one"):
        bench_readings()
    with pytest.raises(ValueError, match="spread"):
        bench_readings(thrust=[1.0], spread={"thrust": -1.0})
    with pytest.raises(ValueError, match="spread"):
        bench_readings(thrust=[1.0], spread={"thurst": 1.0})
    with pytest.raises(ValueError, match="note"):
        bench_readings(thrust=[1.0], note=["a", "b"])
    with pytest.raises(ValueError, match="shape"):
        bench_readings(thrust=[1.0], row=[1, 2], note=["", ""], setting=["", ""])


def test_usual_spreads_fill_only_what_is_open() -> None:
    readings = bench_readings(thrust=[1.8, 2.1, np.nan], voltage=22.0, airspeed=[0.0, 10.0, 0.0],
                              spread={"thrust": [0.5, np.nan, np.nan]})
    filled = with_default_uncertainty(readings)
    np.testing.assert_allclose(filled.spread["thrust"],
                               [0.5, np.hypot(0.02, 0.021), np.nan])
    np.testing.assert_allclose(filled.spread["airspeed"], [0.0, 0.5, 0.0])
    assert sum("thrust" in line for line in filled.told) == 1


def test_air_is_carried_from_the_reading_before() -> None:
    readings = bench_readings(thrust=1.0, air_temperature=[np.nan, 290.0, np.nan, 295.0, np.nan],
                              air_pressure=np.nan)
    air, told = air_of(readings)
    np.testing.assert_array_equal(air.temperature, [290.0, 290.0, 290.0, 295.0, 295.0])
    np.testing.assert_array_equal(air.pressure, 101_325.0)
    assert len(told) == 3
    assert "dry" in told[-1]


@pytest.mark.parametrize(("celsius", "kilopascal"), [(0.01, 0.6117), (10, 1.228), (20, 2.339),
                                                     (30, 4.247), (40, 7.384)])
def test_saturation_pressure(celsius, kilopascal) -> None:
    """Steam-table values, from memory; the form is good for 0.4 %."""
    assert float(saturation_pressure(temperature=273.15 + celsius)) == pytest.approx(
        1e3 * kilopascal, rel=0.004)


def test_damp_air_is_a_mixture_by_partial_pressures() -> None:
    """Closed form: dry air and vapour each keep their own gas law; R of water 461.5 J/(kg K)."""
    temperature, pressure, humidity = 308.15, 100_000.0, 0.8
    vapour = humidity * float(saturation_pressure(temperature=temperature))
    density = ((pressure - vapour) / (287.05287 * temperature)
               + vapour / (461.52 * temperature))
    air, told = air_of(bench_readings(thrust=1.0, air_temperature=temperature,
                                      air_pressure=pressure, relative_humidity=humidity))
    assert float(air.density[0]) == pytest.approx(density, rel=1e-4)
    assert "1.7 % lighter" in told[-1]
    dry, _ = air_of(bench_readings(thrust=1.0, air_temperature=temperature,
                                   air_pressure=pressure))
    assert float(dry.density[0]) == pytest.approx(pressure / (287.05287 * temperature))


def test_station_pressure_of_a_standard_day_and_at_sea_level() -> None:
    """Closed forms of the altimeter setting; the third by a reader's rule: near sea level a
    hectopascal more at sea level is a hectopascal more at the bench, within 1 %."""
    assert float(station_pressure(sea_level_pressure=99_000.0, altitude=0.0)) == pytest.approx(
        99_000.0)
    low, high = (float(station_pressure(sea_level_pressure=p, altitude=100.0))
                 for p in (101_325.0, 101_425.0))
    assert high - low == pytest.approx(100.0, rel=0.015)


def test_saturation_at_the_ice_point_is_the_guides_constant() -> None:
    """6.112 hPa at 0 degC, WMO-No. 8, annex 4.B (from memory)."""
    assert float(saturation_pressure(temperature=273.15)) == 611.2
