"""A log laid over the prediction: made-up logs with known factors, and what a log cannot say.

The logs are this package's own flights with noise: they test the reduction, not the physics.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.aircraft.flyers import AIRFRAME, fan
from tests.aircraft.test_flight import flown, mass_of
from tests.aircraft.test_surface import narrow
from thrustlapse.aircraft.drag import drag_area
from thrustlapse.aircraft.flight_log import FlightLog, reduce_log
from thrustlapse.aircraft.legs import Accelerate, Climb, Coast, Cruise, Glide, HandLaunch

LEGS = (Accelerate(airspeed=24.0), Coast(airspeed=18.0), Climb(height=60.0),
        Cruise(airspeed=20.0, time=40.0), Glide(airspeed=20.0))
MASS = mass_of(fan())


def logged(flight, *, step: float = 0.25, airspeed: float = 0.0, height: float = 0.0,
           seed: int = 1) -> FlightLog:
    """Readings of a flight at even times, with noise."""
    draw = np.random.default_rng(seed)
    keep = np.concatenate([[True], np.diff(flight.time) > 1e-9])
    times = np.arange(0.05, flight.time[-1], step)

    def read(values, deviation: float = 0.0):
        return np.interp(times, flight.time[keep], values[keep]) + draw.normal(
            0.0, deviation, times.size)

    return FlightLog(time=times, airspeed=read(flight.airspeed, airspeed),
                     height=read(flight.height, height), voltage=read(flight.terminal_voltage),
                     current=read(flight.current), load_factor=read(flight.load_factor),
                     airspeed_deviation=airspeed or 0.02, height_deviation=height or 0.05)


def test_known_factors_are_found() -> None:
    """A third more parasite drag than thought, no noise: samples of 0.25 s leave 0.5 %."""
    draggy = replace(AIRFRAME, minimum_drag_coefficient=0.02 * 4.0 / 3.0)
    found = reduce_log(logged(flown("fan", *LEGS, airframe=draggy)), fan(), AIRFRAME, mass=MASS)
    assert found.drag_factor == pytest.approx(4.0 / 3.0, rel=5e-3)
    assert found.thrust_factor == pytest.approx(1.0, abs=5e-3)
    assert found.separable
    assert found.known.all()
    assert float(drag_area(found.airframe(AIRFRAME))) == pytest.approx(
        float(drag_area(draggy)), rel=5e-3)


def test_thrust_that_falls_short_is_found() -> None:
    """The log of a machine with 10 % less thrust, made by scaling what it predicts."""
    flight = flown("fan", *LEGS)
    log = logged(flight)
    weak = reduce_log(log, fan(), AIRFRAME, mass=MASS)
    assert weak.thrust_factor == pytest.approx(1.0, abs=5e-3)
    # a heavier aircraft on the same trajectory needs more of everything, in proportion
    heavy = reduce_log(log, fan(), replace(AIRFRAME, induced_factor=1e-12), mass=MASS)
    assert heavy.drag_factor > weak.drag_factor


def test_deviations_cover_the_noise() -> None:
    """Forty noisy readings of one flight: spread as stated, scatter near one."""
    flight = flown("fan", *LEGS)
    found = [reduce_log(logged(flight, airspeed=0.4, height=1.0, seed=seed), fan(), AIRFRAME,
                        mass=MASS) for seed in range(40)]
    values = np.array([[one.thrust_factor, one.drag_factor] for one in found])
    assert values.std(axis=0) == pytest.approx(found[0].deviations, rel=0.6)
    assert values.mean(axis=0) == pytest.approx([1.0, 1.0], abs=0.01)
    assert np.mean([one.scatter for one in found]) == pytest.approx(1.0, abs=0.05)


def test_fitted_height_lies_on_the_log_and_the_plain_prediction_does_not() -> None:
    draggy = replace(AIRFRAME, minimum_drag_coefficient=0.03)
    log = logged(flown("fan", *LEGS, airframe=draggy))
    found = reduce_log(log, fan(), AIRFRAME, mass=MASS)
    assert np.abs(found.fitted_height - found.logged_height).max() < 1.0
    assert np.abs(found.predicted_height - found.logged_height).max() > 10.0
    level = (found.motor_on) & (np.abs(np.diff(log.airspeed, append=log.airspeed[-1])) > 0.3)
    assert found.predicted_current[level][2] == pytest.approx(log.current[level][2], rel=2e-2)


def test_a_glide_says_nothing_of_thrust() -> None:
    log = logged(flown("fan", Glide(airspeed=18.0),
                       launch=HandLaunch(airspeed=18.0, height=60.0)))
    found = reduce_log(replace(log, current=np.zeros_like(log.current)), fan(), AIRFRAME,
                       mass=MASS)
    assert found.drag_factor == pytest.approx(1.0, abs=5e-3)
    assert not found.separable
    assert "nothing of the thrust" in found.note


def test_steady_flight_alone_cannot_tell_them_apart() -> None:
    log = logged(flown("fan", Cruise(airspeed=18.0, time=30.0),
                       launch=HandLaunch(airspeed=18.0)), step=0.5)
    found = reduce_log(log, fan(), AIRFRAME, mass=MASS)
    assert not found.separable
    assert "cannot tell more thrust from less drag" in found.note


def test_what_is_no_log_is_refused() -> None:
    log = logged(flown("fan", Accelerate(airspeed=20.0)))
    with pytest.raises(ValueError, match="five readings"):
        reduce_log(FlightLog(**{**log.__dict__, "time": log.time[:3]}), fan(), AIRFRAME, mass=MASS)
    with pytest.raises(ValueError, match="must rise"):
        reduce_log(replace(log, time=log.time[::-1]), fan(), AIRFRAME, mass=MASS)


def test_readings_that_never_change_are_no_crash() -> None:
    """Steady to the last digit: the equations are singular, which used to end in an error."""
    steady = np.ones(20)
    log = FlightLog(time=np.arange(20.0), airspeed=18.0 * steady, height=40.0 * steady,
                    voltage=22.0 * steady, current=8.0 * steady)
    found = reduce_log(log, fan(), AIRFRAME, mass=MASS)
    assert not found.separable
    assert "cannot tell more thrust from less drag" in found.note
    assert found.deviations.min() > 10.0
    assert np.isfinite([found.thrust_factor, found.drag_factor]).all()


def test_readings_past_the_end_of_the_map_are_left_out_and_counted() -> None:
    """A log of the whole fan, read with a map that ends at 22 m/s: the same two factors.

    The thrust of those readings used to be counted as none, which gave a third of the drag.
    """
    draggy = replace(AIRFRAME, minimum_drag_coefficient=0.02 * 4.0 / 3.0)
    log = logged(flown("fan", *LEGS, airframe=draggy))
    found = reduce_log(log, narrow(), AIRFRAME, mass=MASS)
    past = int((~found.known).sum())
    assert past > 10
    assert f"{past} readings lie where the machine is not known and are left out" in found.note
    assert found.known[log.airspeed < 19.5].all()
    assert found.drag_factor == pytest.approx(4.0 / 3.0, rel=0.01)
    assert found.thrust_factor == pytest.approx(1.0, abs=0.01)
    for values in (found.residual, found.fitted_height, found.predicted_height):
        assert np.array_equal(np.isfinite(values), found.known)
    # what is left of the log says less than the whole of it, but for the errors of airspeeds that
    # a longer sum gathers: these are counted, and do not weigh the readings
    whole = reduce_log(log, fan(), AIRFRAME, mass=MASS)
    assert np.all(found.deviations > 0.9 * whole.deviations)
    # across a gap the prediction goes on from the log
    end = int(np.flatnonzero(found.known[1:] & ~found.known[:-1])[0]) + 1
    before = int(np.flatnonzero(found.known[:end])[-1])
    assert found.predicted_height[end] - found.predicted_height[before] == pytest.approx(
        found.logged_height[end] - found.logged_height[before])


def test_a_log_at_which_the_machine_is_hardly_known_is_refused() -> None:
    fast = logged(flown("fan", Cruise(airspeed=24.0, time=10.0),
                        launch=HandLaunch(airspeed=24.0)))
    with pytest.raises(ValueError, match="known at none of the log's readings with power"):
        reduce_log(fast, narrow(), AIRFRAME, mass=MASS)
    mixed = replace(fast, airspeed=np.where(fast.time < 0.7, 15.0, fast.airspeed))
    with pytest.raises(ValueError, match=r"known at \d of the log's \d+ readings only: too few"):
        reduce_log(mixed, narrow(), AIRFRAME, mass=MASS)
