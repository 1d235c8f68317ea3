"""A bench file as a person writes it, and what it is reduced to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.read_texts import bench_of_text
from thrustlapse.air.atmosphere import standard_air
from thrustlapse.bench.readings import CONDITIONS, MEASURED, UNNAMED
from thrustlapse.bench.summary import summarise
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.readings.bench_file import (
    COLUMNS,
    bench_starter,
    read_bench,
)

GF = 9.80665e-3


def test_the_starter_is_a_good_file_and_names_every_column(tmp_path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(bench_starter(), encoding="utf-8")
    readings = read_bench(path)
    assert "INVENTED" in bench_starter()
    for column in COLUMNS:
        assert column.heading in bench_starter(), column.heading
    assert set(readings.names) == {"voltage", "current", "shaft_speed", "thrust",
                                   "static_pressure"}
    assert set(readings.setting) == {"high", "low"}
    assert readings.inlet_blocked.sum() == readings.outlet_blocked.sum() == 1
    assert readings.source == str(path)


def test_the_storys_bench_is_read_without_a_caution() -> None:
    path = Path(__file__).parents[3] / "scenarios" / "story_blower_bench.csv"
    summary = summarise(read_bench(path))
    assert path.read_text(encoding="utf-8").startswith("# INVENTED")
    assert summary.cautions == ()
    assert not any(one.too_large for one in summary.scatter)
    assert len(summary.readings) == 17
    # made with 6 gf of friction
    assert np.nanmean(summary.readings.stand_friction) == pytest.approx(6 * GF, abs=1 * GF)


def test_every_column_reaches_its_field() -> None:
    names = {column.name for column in COLUMNS}
    assert {*CONDITIONS, *MEASURED} <= names
    # none is accepted and dropped: what is no reading itself is reduced to one, or counts units
    numeric = {column.name for column in COLUMNS if column.kind not in ("words", "yes or no")}
    assert numeric - {*CONDITIONS, *MEASURED} == {
        "push", "pull", "sea_level_pressure", "altitude", "units"}
    read = bench_of_text(
        "duty [%],nozzle exit diameter [mm] ± 0.1,orifice diameter [mm],orifice suction [kPa],"
        "supply voltage [V],supply current [A],electrical power [W] ± 2 %,shaft speed [rpm],"
        "thrust [gf] ± 3,duct static pressure [kPa],airspeed [km/h],air temperature [degC] ± 1,"
        "air pressure [hPa],units\n"
        "60,21,16,15,22,16,350,82500,190,7.5,36,21,1004,2\n")
    wanted = {"duty": 0.6, "nozzle_diameter": 0.021, "orifice_diameter": 0.016, "suction": 15e3,
              "voltage": 22.0, "current": 16.0, "electrical_power": 350.0,
              "shaft_speed": 82500 * np.pi / 30, "thrust": 190 * GF, "static_pressure": 7500.0,
              "airspeed": 10.0, "air_temperature": 294.15, "air_pressure": 100400.0,
              "units": 2.0}
    for name, value in wanted.items():
        assert getattr(read, name)[0] == pytest.approx(value), name
    assert read.spread["thrust"][0] == pytest.approx(3 * GF)
    assert read.spread["nozzle_diameter"][0] == pytest.approx(1e-4)
    assert read.spread["electrical_power"][0] == pytest.approx(7.0)
    assert read.spread["air_temperature"][0] == pytest.approx(1.0)
    assert np.isnan(read.spread["voltage"][0])
    assert read.setting == ("duty 60 %",)


def test_settings_are_words_and_unnamed_rows_are_one_setting() -> None:
    read = bench_of_text("thrust [gf],drive setting\n1,High \n2,high\n3,\n")
    assert read.setting == ("high", "high", UNNAMED)


def test_readings_of_a_rolling_stand_become_thrust() -> None:
    read = bench_of_text("push reading [gf] ± 2,pull reading [gf] ± 2\n184,196\n90,\n")
    np.testing.assert_allclose(read.thrust, np.array([190, 96]) * GF)
    np.testing.assert_allclose(read.stand_friction, np.array([6, 6]) * GF)
    np.testing.assert_allclose(read.spread["thrust"],
                               np.array([np.sqrt(2), np.sqrt(4 + 2)]) * GF)
    assert any("one direction only" in line for line in read.told)


def test_a_single_direction_without_a_pair_gives_no_thrust() -> None:
    read = bench_of_text("push reading [gf],supply voltage [V]\n184,22\n")
    assert np.isnan(read.thrust[0])
    assert any("no pair" in line for line in read.told)


def test_a_weather_report_is_brought_to_the_bench() -> None:
    """ICAO altimeter setting: at standard sea-level pressure the bench has standard pressure."""
    read = bench_of_text("thrust [gf],sea-level pressure [hPa],altitude [m]\n"
                         "1,1013.25,500\n2,,500\n3,1030,0\n")
    standard = float(standard_air(altitude=500.0).pressure)
    np.testing.assert_allclose(read.air_pressure, [standard, standard, 103000.0], rtol=1e-9)
    assert any("weather report" in line for line in read.told)
    assert any("altitude alone" in line for line in read.told)


@pytest.mark.parametrize(("text", "said"), [
    ("note\nx\n", "no reading of any machine"),
    ("thrust [gf],push reading [gf]\n1,2\n", "beside readings of a rolling stand"),
    ("orifice diameter [mm],inlet blocked,shaft speed [krpm]\n16,yes,80\n",
     "an orifice in a blocked inlet"),
    ("drive setting,thrust [gf]\n" + "very " * 9 + "high,190\n", "belongs in the note"),
    ("orifice suction [kPa]\n15\n", "suction without a plate"),
    ("sea-level pressure [hPa],thrust [gf]\n1013,190\n", "without the altitude"),
    ("sea-level pressure [hPa],air pressure [hPa],altitude [m],thrust [gf]\n1013,1000,100,190\n",
     "two air pressures"),
    ("push reading [gf],pull reading [gf]\n196,170\n", "swapped"),
    ("supply voltage [V],supply current [A],electrical power [W]\n22,16,120\n", "volts times amps"),
])
def test_contradictory_rows(text, said) -> None:
    with pytest.raises(ScenarioError, match=said):
        bench_of_text(text)


def test_push_above_pull_by_chance_is_let_through() -> None:
    read = bench_of_text("push reading [gf] ± 2,pull reading [gf] ± 2\n191,190\n190,196\n")
    assert read.stand_friction[0] < 0.0
