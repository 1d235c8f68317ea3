"""What a log says of thrust and drag: known truths in noise, and what they do to the top speed.

The flights are made by this package's own model with known factors: they test the reduction of a
log, not the physics behind it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests import make_story_log as story
from tests.machines import AIRFRAME
from thrustlapse.aircraft.flight_log import FlightLog, LogReduction, reduce_log
from thrustlapse.study.log_study import LogStudy, study_log

STARTS = (0.0, 0.13, 0.29, 0.41)
"""When the first reading is taken [s]: what falls between two readings differs."""
TRUTH = np.array([story.THRUST, story.DRAG])


def read(rows: np.ndarray) -> FlightLog:
    time, airspeed, height, volts, amps = rows.T
    return FlightLog(time=time, airspeed=airspeed, height=height, voltage=volts, current=amps,
                     airspeed_deviation=story.AIRSPEED_NOISE, height_deviation=story.HEIGHT_NOISE)


def study(rows: np.ndarray) -> LogStudy:
    return study_log(read(rows), story.CANDIDATE, story.AIRFRAME)


def reduced(rows: np.ndarray) -> LogReduction:
    return reduce_log(read(rows), story.CANDIDATE, story.AIRFRAME, mass=story.MASS)


def test_without_noise_the_factors_are_found() -> None:
    """Half a second between readings leaves 0.6 %, most of it where a rotor begins to windmill."""
    found = reduced(story.flight(STARTS[1]))
    np.testing.assert_allclose([found.thrust_factor, found.drag_factor], TRUTH, rtol=7e-3)


def test_the_stated_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """95 % intervals over 48 noisy flights: 40 or more hold it (binomial, chance below 0.4 %).

    History: power that changed between two readings was booked as if in the middle, always; the
    intervals then held the truth in half of the flights.
    """
    inside = np.zeros(2)
    clean = [story.flight(first) for first in STARTS]
    for seed in range(48):
        found = reduced(story.noisy(clean[seed % 4], seed))
        miss = np.array([found.thrust_factor, found.drag_factor]) - TRUTH
        inside += np.abs(miss) < 1.96 * found.deviations
    assert np.all(inside >= 40), inside


def test_top_speed_follows_from_the_factors() -> None:
    found = study(story.noisy(story.flight(), 5))
    assert found.explained_top_speed < found.top_speed
    # both factors together are known better than either: thrust equals drag at the top speed
    assert found.top_speed_deviation < 0.02 * found.explained_top_speed
    draggy = replace(story.AIRFRAME, minimum_drag_coefficient=story.DRAG * np.asarray(
        story.AIRFRAME.minimum_drag_coefficient))
    right = reduce_log(read(story.flight()), story.CANDIDATE, draggy, mass=story.MASS)
    assert right.drag_factor == pytest.approx(1.0, abs=5e-3)


def test_a_flight_without_power_leaves_the_thrust_as_predicted() -> None:
    flown = story.flight()
    glide = flown[flown[:, 4] == 0.0][-40:]
    found = study(glide)
    assert found.reduction.thrust_factor == 1.0
    assert found.reduction.drag_factor == pytest.approx(story.DRAG, rel=0.02)
    assert np.isfinite(found.top_speed_deviation)
    assert "nothing of the thrust" in found.reduction.note


def test_a_log_of_something_else_is_refused() -> None:
    rows = story.flight()
    rows[:, 1] += 250.0
    with pytest.raises(ValueError, match="none of the log's readings"):
        study_log(read(rows), story.CANDIDATE, AIRFRAME)
