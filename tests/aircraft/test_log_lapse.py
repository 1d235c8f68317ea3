"""Slope of the thrust factor, wind, bank, and what a log cannot tell: made logs and a real one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.aircraft.flyers import AIRFRAME, propeller
from tests.aircraft.made_logs import FULL_PLAN, MACHINE, MASS, STRAIGHT, Truth, made_log
from tests.authority import rows
from tests.read_texts import log_of_text
from tests.tools.benchmarks.flight_log import misses
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_log import FlightLog, LogReduction, reduce_log
from thrustlapse.aircraft.log_wind import steady_wind
from thrustlapse.report.flight_log.words import headline, sentences
from thrustlapse.study.log_study import study_log

WINDY = Truth(thrust=0.95, slope=-0.3, drag=1.1, east=3.0, north=-4.0, scale=1.05)
SMALL_NOISE = (0.02, 0.05)
"""Noise of readings so small that what is left comes from 0.25 s between them."""


def reduced(log: FlightLog) -> LogReduction:
    return reduce_log(log, MACHINE, AIRFRAME, mass=MASS)


def told(log: FlightLog) -> str:
    return " ".join(sentences(study_log(log, MACHINE, AIRFRAME)))


def test_slope_wind_and_sensor_come_out_of_a_log_with_circles() -> None:
    found = reduced(made_log(WINDY, seed=1, plan=FULL_PLAN, noise=SMALL_NOISE))
    at = found.middle / WINDY.middle
    assert found.slope_told
    assert found.slope == pytest.approx(WINDY.slope * at, abs=0.04)
    assert found.thrust_factor == pytest.approx(WINDY.thrust + WINDY.slope * (at - 1.0), abs=0.015)
    assert found.drag_factor == pytest.approx(WINDY.drag, abs=0.03)
    assert found.wind.known
    assert (found.wind.east, found.wind.north) == pytest.approx((3.0, -4.0), abs=0.15)
    assert found.wind.scale == pytest.approx(1.05, abs=0.005)
    # air that moves to east 3, south 4 comes from 36.9 degrees left of north
    assert math.degrees(found.wind.blows_from) == pytest.approx(360.0 - 36.87, abs=3.0)


def test_intervals_hold_the_truth() -> None:
    """95 % intervals of 40 drawn logs, wind and all: 33 or more hold each unknown (binomial, chance
    of fewer 0.3 %). 300 of them: ``python -m tests.tools.benchmarks.flight_log``."""
    pairs = [misses(seed, ground=True) for seed in range(1000, 1040)]
    miss, spread = (np.array(one) for one in zip(*pairs, strict=True))
    assert np.isfinite(miss).mean() > 0.95
    assert np.all(np.sum(np.abs(miss) < 1.96 * spread, axis=0) >= 33)


def test_a_lapse_that_is_steeper_is_called_so() -> None:
    log = made_log(replace(WINDY, scale=1.0), seed=2, plan=FULL_PLAN)
    found = reduced(log)
    ratio, deviation = found.lapse()
    slow, fast = (WINDY.thrust + WINDY.slope * (one / WINDY.middle - 1.0)
                  for one in found.powered)
    assert abs(ratio - fast / slow) < 3.0 * deviation
    assert "more lapse than predicted" in told(log)


def test_without_circles_or_directions_the_wind_is_not_told() -> None:
    straight = made_log(WINDY, seed=3, plan=STRAIGHT)
    assert not reduced(straight).wind.known
    assert "directions flown are too few" in told(straight)
    blind = replace(made_log(WINDY, seed=3, plan=FULL_PLAN), track=None)
    assert "neither track nor heading" in told(blind)
    assert "no ground speed" in told(replace(blind, ground_speed=None))
    few = replace(straight, ground_speed=np.where(straight.time > 1.0, np.nan,
                                                  straight.ground_speed))
    assert "too few to tell the wind" in told(few)


def test_power_on_throughout_at_one_speed_tells_neither_drag_nor_slope() -> None:
    log = made_log(Truth(thrust=1.0, slope=0.0, drag=1.0), seed=4, plan=((60.0, True, 0.0, 0.0),))
    late = log.time > 45.0  # at its top speed
    part = replace(log, bank=None, **{name: getattr(log, name)[late] for name in (
        "time", "airspeed", "height", "voltage", "current", "ground_speed", "track")})
    found = reduced(part)
    assert not found.separable
    assert not found.slope_told
    assert found.slope == 0.0
    assert found.level_run is not None
    assert found.level_run.end - found.level_run.start > 5.0
    assert "cannot test the thrust lapse" in told(part)


def test_a_bank_that_is_logged_is_not_taken_for_drag() -> None:
    """Circles at 55 degrees: without the bank their induced drag looks like parasite drag."""
    plan = ((8.0, True, 0.0, 0.96), (5.0, False, 0.0, 0.0), (8.0, True, 0.0, 0.96),
            (5.0, False, -0.05, 0.0), (8.0, True, 0.0, 0.96))
    log = made_log(Truth(thrust=1.0, slope=0.0, drag=1.0), seed=5, plan=plan, noise=SMALL_NOISE)
    np.testing.assert_allclose(log.load, 1.0 / np.cos(log.bank))

    def error(one: FlightLog) -> float:
        found = reduced(one)
        return abs(found.drag_factor - 1.0) + abs(found.thrust_factor - 1.0)

    assert error(log) < 0.06
    assert error(replace(log, bank=None)) > 3.0 * error(log)
    assert "neither bank nor load factor" in told(replace(log, bank=None))


def test_a_factor_that_nobody_should_believe_is_doubted() -> None:
    log = made_log(Truth(thrust=0.6, slope=0.0, drag=1.0), seed=6, plan=STRAIGHT)
    assert "A thrust factor of 0." in told(log)
    assert "is doubtful" in told(log)
    fair = made_log(Truth(thrust=0.9, slope=0.0, drag=1.0), seed=6, plan=FULL_PLAN)
    assert "doubtful" not in told(fair)


@pytest.mark.parametrize("by", ["track", "heading"])
def test_wind_from_exact_speeds_and_directions(by) -> None:
    """Vectors added by hand, no noise: the wind and the factor come back."""
    direction = np.linspace(0.0, 2.0 * math.pi, 40)
    true = 18.0 + 2.0 * np.sin(3.0 * direction)
    over = np.stack([true * np.sin(direction) + 5.0, true * np.cos(direction) + 2.0])
    directions = {"track": np.arctan2(*over), "heading": direction}
    found = steady_wind(airspeed=true / 0.96, airspeed_deviation=0.01,
                        ground_speed=np.hypot(*over), ground_deviation=0.01,
                        **({"track": None, "heading": None} | {by: directions[by]}))
    assert found.known
    assert (found.east, found.north, found.scale) == pytest.approx((5.0, 2.0, 0.96), abs=5e-4)


def test_columns_of_a_file() -> None:
    text = ("time [s],airspeed [m/s],height [m],voltage [V],current [A],bank [deg],"
            "ground speed [km/h],track [deg],heading [deg]\n" + "".join(
                f"{k},20,{k},22,10,{'' if k == 3 else -60},36,{350 + k},180\n" for k in range(6)))
    log = log_of_text(text)
    np.testing.assert_allclose(log.load, [2.0, 2.0, 2.0, 1.0, 2.0, 2.0])
    np.testing.assert_allclose(log.ground_speed, 10.0)
    np.testing.assert_allclose(np.degrees(log.track), 350.0 + np.arange(6))
    np.testing.assert_allclose(log.heading, math.pi)


def test_a_real_log_that_cannot_tell_says_so() -> None:
    """An electric 9.5 kg aircraft: no heading, ground speed, bank, motor or propeller in the log.

    With an invented propeller the factors mean nothing, and that is what the answer says: neither
    wind nor a top speed. Mass, wing area and aspect ratio are the source's; the rest of the
    airframe is a guess of a textbook kind.
    """
    taken = {name: np.array([one[name] for one in rows("flight3_electric_log")]) for name
             in ("time_s", "true_airspeed_m_s", "barometric_altitude_m", "pack_voltage_V",
                 "pack_current_A")}
    height = taken["barometric_altitude_m"]
    log = FlightLog(time=taken["time_s"], airspeed=taken["true_airspeed_m_s"],
                    height=height - height[0], voltage=taken["pack_voltage_V"],
                    current=taken["pack_current_A"])
    machine = propeller()
    machine = replace(machine, unit=replace(machine.unit, diameter=0.36))
    airframe = Airframe(mass=9.45 - 0.55, wing_area=1.499, minimum_drag_coefficient=0.04,
                        induced_factor=1.0 / (math.pi * 0.8 * 12.2), greatest_lift=1.3,
                        launch_speed=8.0)
    study = study_log(log, machine, airframe)
    said = " ".join(sentences(study))
    assert not study.reduction.wind.known
    assert "no ground speed, so it says nothing of the wind" in said
    assert study.reduction.level_run is None
    assert "tells no top speed" in said
    assert "tells no top speed" in headline(study) or "no level top speed" in headline(study)
    assert "neither bank nor load factor is logged" in said
    doubted = [not 0.7 <= one <= 1.4 for one in (study.reduction.thrust_factor,
                                                 study.reduction.drag_factor)]
    assert said.count("is doubtful") == sum(doubted)
