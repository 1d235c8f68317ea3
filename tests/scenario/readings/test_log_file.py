"""Flight logs: what is read, and every way in which one can be wrong."""

from __future__ import annotations

import numpy as np
import pytest

from tests.read_texts import log_of_text
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.readings.log_file import (
    USUAL_DEVIATION,
    log_starter,
    read_log,
)

HEAD = "time [s],airspeed [km/h],height [ft],voltage [V],current [A]\n"
ROWS = ("0,36,10,24.1,11\n1,54,20,23.9,12\n2,72,30,23.8,13\n3,90,40,23.7,14\n"
        "4,93.6,50,23.6,15\n")


def test_units_of_the_heading_are_carried_to_si() -> None:
    """1 km/h = 1/3.6 m/s and 1 ft = 0.3048 m exactly (international yard and pound, 1959)."""
    log = log_of_text(HEAD + ROWS)
    np.testing.assert_allclose(log.airspeed, [10.0, 15.0, 20.0, 25.0, 26.0])
    np.testing.assert_allclose(log.height, 0.3048 * np.array([10.0, 20.0, 30.0, 40.0, 50.0]))
    assert log.load_factor is None


def test_spread_is_stated_or_usual_and_then_told() -> None:
    silent = log_of_text(HEAD + ROWS)
    assert np.all(silent.airspeed_deviation == USUAL_DEVIATION["airspeed"])
    assert any("airspeed" in text for text in silent.told)
    stated = log_of_text(HEAD.replace("[ft]", "[ft] ± 3") + ROWS)
    np.testing.assert_allclose(stated.height_deviation, 3 * 0.3048)
    assert not any("height" in text for text in stated.told)


def test_the_starter_is_a_log() -> None:
    log = log_of_text(log_starter())
    assert log.time.size >= 5
    assert "INVENTED" in log_starter()


@pytest.mark.parametrize(("old", "new", "said"), [
    ("current [A]", "amps [A]", ['column "amps [A]"', "current [A]"]),
    (",current [A]", "", ["cells", "headings"]),
    ("airspeed [km/h]", "airspeed [kg]", ["airspeed", "kg"]),
    ("airspeed [km/h]", "airspeed", ["no unit"]),
    ("1,54,", "1,,", ['line 3', "airspeed", "empty"]),
    ("1,54,", "1,=2+3,", ["airspeed", '"=2+3"']),
    ("2,72,", "0.5,72,", ["time", "does not rise"]),
    ("1,54,", "nan,54,", ["time"]),
    ("93.6", "93600", ["airspeed", "above"]),
    (ROWS[16:], "", ["1 readings", "5 or more"]),
])
def test_a_wrong_log_gets_a_clear_message(old: str, new: str, said: list[str]) -> None:
    text = HEAD + ROWS
    assert old in text
    with pytest.raises(ScenarioError) as caught:
        log_of_text(text.replace(old, new, 1))
    message = str(caught.value)
    for words in ("readings.csv", *(one.replace("line ", ":") for one in said)):
        assert words in message, message


def test_all_faults_come_at_once_and_files_too(tmp_path) -> None:
    with pytest.raises(ScenarioError) as caught:
        log_of_text((HEAD + ROWS).replace("54", "x").replace("12\n", "\n"))
    assert len(caught.value.faults) >= 2
    with pytest.raises(ScenarioError, match="no such file"):
        read_log(tmp_path / "none.csv")
    (tmp_path / "log.csv").write_text(HEAD + ROWS, encoding="utf-8")
    assert read_log(tmp_path / "log.csv").source.endswith("log.csv")
