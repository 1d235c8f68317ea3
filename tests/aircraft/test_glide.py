"""Drag from glides and coasting runs: identities, textbook glides, and recovery from noise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.climb import glide, lift_speed
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.glide import (
    drag_from_best_glide,
    drag_from_glide_ratio,
    fit_coasting,
    fit_glides,
    glide_points,
)

MASS, DENSITY, AREA = 1.6, 1.2, 0.3
AIRFRAME = Airframe(mass=MASS, wing_area=AREA, minimum_drag_coefficient=0.025,
                    induced_factor=0.05, lift_of_least_drag=0.1, greatest_lift=1.1,
                    launch_speed=10.0)
SPEEDS = np.linspace(10.0, 26.0, 12)


def sinks(speeds: np.ndarray) -> np.ndarray:
    """Sink at airspeeds along the path, from the force balance [m/s]: W sin = D(W cos)."""
    sine = np.zeros_like(speeds)
    force = 0.5 * DENSITY * speeds**2 * AREA
    for _ in range(60):
        lift = MASS * GRAVITY * np.sqrt(1.0 - sine**2) / force
        sine = force * (0.025 + 0.05 * (lift - 0.1) ** 2) / (MASS * GRAVITY)
    return speeds * sine


@given(st.floats(10.0, 40.0))
def test_one_glide_ratio(airspeed) -> None:
    sink = float(sinks(np.array([airspeed]))[0])
    ratio = np.sqrt(airspeed**2 - sink**2) / sink
    found = drag_from_glide_ratio(glide_ratio=ratio, airspeed=airspeed, mass=MASS,
                                  density=DENSITY, wing_area=AREA, induced_factor=0.05,
                                  lift_of_least_drag=0.1)
    assert float(found) == pytest.approx(0.025, rel=1e-10)


def test_best_glide_gives_both() -> None:
    """Anderson's CP-1 (C): L/D 13.6 near CL 0.634 is CDmin 0.025 and k 1 / (pi 0.8 7.37)."""
    weight, density, area = 13127.5, 0.905, 16.165
    angle = np.arctan(1.0 / 13.606)
    speed = np.sqrt(2.0 * weight * np.cos(angle) / (density * area * 0.6804))
    least, factor = drag_from_best_glide(glide_ratio=13.606, airspeed=speed,
                                         mass=weight / GRAVITY, density=density, wing_area=area)
    assert float(least) == pytest.approx(0.025, rel=1e-3)
    assert float(factor) == pytest.approx(1.0 / (np.pi * 0.8 * 7.366), rel=1e-3)


def test_exact_readings_give_the_polar_back() -> None:
    fit = fit_glides(airspeed=SPEEDS, sink=sinks(SPEEDS), mass=MASS, density=DENSITY,
                     wing_area=AREA, airspeed_deviation=0.3, sink_deviation=0.05,
                     lift_of_least_drag=0.1)
    assert fit.minimum_drag_coefficient == pytest.approx(0.025, rel=1e-9)
    assert fit.induced_factor == pytest.approx(0.05, rel=1e-9)
    assert np.abs(fit.residual).max() < 1e-9
    assert fit.separable
    assert fit.airframe(AIRFRAME) == AIRFRAME.__class__(**{
        **AIRFRAME.__dict__, "minimum_drag_coefficient": fit.minimum_drag_coefficient,
        "induced_factor": fit.induced_factor})


def test_stated_deviations_cover_the_scatter_of_repeated_glides() -> None:
    """200 noisy sets: the mean is right to its own error, the spread is what one fit states."""
    draw = np.random.default_rng(5)
    true = sinks(SPEEDS)
    found = []
    for _ in range(200):
        fit = fit_glides(airspeed=SPEEDS + draw.normal(0.0, 0.2, SPEEDS.size),
                         sink=true + draw.normal(0.0, 0.06, SPEEDS.size), mass=MASS,
                         density=DENSITY, wing_area=AREA, airspeed_deviation=0.2,
                         sink_deviation=0.06, lift_of_least_drag=0.1)
        found.append([fit.minimum_drag_coefficient, fit.induced_factor, fit.scatter])
    values = np.array(found)
    spread = values[:, :2].std(axis=0)
    assert spread == pytest.approx(fit.deviations, rel=0.25)
    assert np.abs(values[:, :2].mean(axis=0) - [0.025, 0.05]) == pytest.approx(
        0.0, abs=0.35 * spread.max())
    assert values[:, 2].mean() == pytest.approx(1.0, abs=0.05)


def test_glides_at_nearly_one_speed_say_what_they_cannot_tell() -> None:
    speeds = np.array([14.0, 14.05, 14.1])
    fit = fit_glides(airspeed=speeds, sink=sinks(speeds), mass=MASS, density=DENSITY,
                     wing_area=AREA, airspeed_deviation=0.3, sink_deviation=0.05)
    assert not fit.separable
    assert "against each other" in fit.weakest
    with pytest.raises(ValueError, match="one airspeed"):
        fit_glides(airspeed=np.full(3, 14.0), sink=np.full(3, 1.0), mass=MASS, density=DENSITY,
                   wing_area=AREA, airspeed_deviation=0.3, sink_deviation=0.05)
    with pytest.raises(ValueError, match="above zero"):
        fit_glides(airspeed=SPEEDS, sink=sinks(SPEEDS), mass=MASS, density=DENSITY,
                   wing_area=AREA, airspeed_deviation=0.0, sink_deviation=0.0)


def test_points_agree_with_the_steady_glide() -> None:
    flown = glide(AIRFRAME, mass=MASS, density=DENSITY, lift_coefficient=np.array([0.3, 0.7]))
    points = glide_points(airspeed=flown.airspeed, sink=flown.sink, mass=MASS, density=DENSITY,
                          wing_area=AREA, airspeed_deviation=0.1, sink_deviation=0.1)
    assert points.lift_coefficient == pytest.approx([0.3, 0.7], rel=1e-12)
    assert points.drag_coefficient == pytest.approx(
        0.025 + 0.05 * (np.array([0.3, 0.7]) - 0.1) ** 2, rel=1e-12)


def coasting(start: float, times: np.ndarray, *, least: float, factor: float) -> np.ndarray:
    """Airspeed in level flight without thrust, by small steps (brute force)."""
    half, lift = 0.5 * DENSITY * AREA, MASS * GRAVITY / (0.5 * DENSITY * AREA)
    steps = 4000
    grid = np.linspace(0.0, times[-1], steps + 1)
    step, speed, out = grid[1], start, [start]
    for _ in range(steps):
        def rate(v: float) -> float:
            return -half * v * v * (least + factor * (lift / v**2 - 0.1) ** 2) / MASS
        middle = speed + 0.5 * step * rate(speed)
        speed += step * rate(middle)
        out.append(speed)
    return np.interp(times, grid, out)


def test_coasting_run_gives_the_polar_back() -> None:
    times = np.linspace(0.0, 9.0, 19)
    speeds = coasting(27.0, times, least=0.025, factor=0.05)
    fit = fit_coasting(time=times, airspeed=speeds, mass=MASS, density=DENSITY, wing_area=AREA,
                       airspeed_deviation=0.2, lift_of_least_drag=0.1)
    assert fit.minimum_drag_coefficient == pytest.approx(0.025, rel=1e-3)
    assert fit.induced_factor == pytest.approx(0.05, rel=1e-3)


def test_a_held_induced_factor_leaves_one_unknown() -> None:
    """A short run then tells CDmin well; two airspeeds in sinks are no longer wanted."""
    times = np.linspace(0.0, 2.0, 9)
    speeds = coasting(24.0, times, least=0.025, factor=0.05)
    common = {"mass": MASS, "density": DENSITY, "wing_area": AREA, "lift_of_least_drag": 0.1}
    free = fit_coasting(time=times, airspeed=speeds, airspeed_deviation=0.2, **common)
    held = fit_coasting(time=times, airspeed=speeds, airspeed_deviation=0.2, induced_factor=0.05,
                        **common)
    assert held.minimum_drag_coefficient == pytest.approx(0.025, rel=2e-3)
    assert held.deviations[1] == 0.0
    assert held.deviations[0] < 0.2 * free.deviations[0]
    one = np.array([14.0])
    glides = fit_glides(airspeed=one, sink=sinks(one), airspeed_deviation=0.3, sink_deviation=0.05,
                        induced_factor=0.05, **common)
    assert glides.minimum_drag_coefficient == pytest.approx(0.025, rel=1e-9)
    assert np.isnan(glides.scatter)
    many = fit_glides(airspeed=SPEEDS, sink=sinks(SPEEDS), airspeed_deviation=0.3,
                      sink_deviation=0.05, induced_factor=0.05, **common)
    assert many.deviations[0] < glides.deviations[0]


@given(st.floats(0.0, 0.25), st.floats(0.03, 0.09), st.floats(0.015, 0.05))
def test_best_glide_of_an_offset_parabola(offset, factor, least) -> None:
    """The closed form turned round: glide at the best lift coefficient, and get the polar back."""
    plane = Airframe(mass=MASS, wing_area=AREA, minimum_drag_coefficient=least,
                     induced_factor=factor, lift_of_least_drag=offset, greatest_lift=9.0,
                     launch_speed=9.0)
    flown = glide(plane, mass=MASS, density=DENSITY,
                  lift_coefficient=np.sqrt(offset**2 + least / factor))
    found = drag_from_best_glide(glide_ratio=flown.glide_ratio, airspeed=flown.airspeed, mass=MASS,
                                 density=DENSITY, wing_area=AREA, lift_of_least_drag=offset)
    assert float(found[0]) == pytest.approx(least, rel=1e-10)
    assert float(found[1]) == pytest.approx(factor, rel=1e-10)


def test_coasting_without_lift_is_a_hyperbola() -> None:
    """Closed form: 1/V grows by rho S CD t / (2 m) when nothing depends on lift."""
    times = np.linspace(0.0, 6.0, 13)
    rate = 0.5 * DENSITY * AREA * 0.03 / MASS
    speeds = 1.0 / (1.0 / 40.0 + rate * times)
    fit = fit_coasting(time=times, airspeed=speeds, mass=MASS, density=DENSITY, wing_area=AREA,
                       airspeed_deviation=0.1, lift_of_least_drag=0.0)
    assert fit.minimum_drag_coefficient == pytest.approx(0.03, rel=1e-5)
    assert abs(fit.induced_factor) < 1e-5


def test_noisy_coasting_runs_are_covered_by_their_deviations() -> None:
    draw = np.random.default_rng(11)
    times = np.linspace(0.0, 9.0, 46)
    clean = coasting(27.0, times, least=0.025, factor=0.05)
    misses = []
    for _ in range(60):
        fit = fit_coasting(time=times, airspeed=clean + draw.normal(0.0, 0.25, times.size),
                           mass=MASS, density=DENSITY, wing_area=AREA, airspeed_deviation=0.25,
                           lift_of_least_drag=0.1)
        misses.append((np.array([fit.minimum_drag_coefficient, fit.induced_factor])
                       - [0.025, 0.05]) / fit.deviations)
    assert np.std(np.array(misses), axis=0) == pytest.approx([1.0, 1.0], abs=0.3)


def test_what_is_no_coasting_run_is_refused() -> None:
    common = {"mass": MASS, "density": DENSITY, "wing_area": AREA, "airspeed_deviation": 0.2}
    with pytest.raises(ValueError, match="four readings"):
        fit_coasting(time=np.arange(3.0), airspeed=np.array([20.0, 19.0, 18.0]), **common)
    with pytest.raises(ValueError, match="must fall"):
        fit_coasting(time=np.arange(4.0), airspeed=np.array([18.0, 19.0, 20.0, 21.0]), **common)
    with pytest.raises(ValueError, match="above zero"):
        fit_coasting(time=np.arange(4.0), airspeed=np.array([18.0, 15.0, 12.0, 0.0]), **common)
    for start in (21.0, 2e120, 2e200):  # no polar slows down that fast
        with pytest.raises(ValueError, match="no polar explains"):
            fit_coasting(time=np.array([0.0, 6.0, 71.0, 72.0, 78.0]),
                         airspeed=np.array([start, 80.0, 63.0, 61.0, 0.37]), **common)


def test_readings_that_cannot_tell_the_two_apart_are_refused_in_words() -> None:
    """The matrix is singular there, and its library's words used to reach the reader."""
    common = {"mass": MASS, "density": DENSITY, "wing_area": AREA, "airspeed_deviation": 0.2}
    lost = {"time": np.array([0.136, 0.139, 0.198, 1.42, 1350.0]),
            "airspeed": np.array([144.0, 30.9, 13.2, 1.32, 0.27])}
    with pytest.raises(ValueError, match="cannot tell CDmin from the induced factor"):
        fit_coasting(**lost, **common)
    # lift coefficients as far above CL0 at one end as below at the other have the same drag there
    ends = np.array([20.0, 12.0])
    lift = MASS * GRAVITY / (0.5 * DENSITY * AREA) / ends**2
    run = {"time": np.linspace(0.0, 6.0, 5), "airspeed": np.linspace(20.0, 12.0, 5)}
    with pytest.raises(ValueError, match="cannot tell CDmin from the induced factor"):
        fit_coasting(**run, **common, lift_of_least_drag=float(lift.mean()))
    held = fit_coasting(**run, **common, lift_of_least_drag=float(lift.mean()),
                        induced_factor=0.05)
    assert held.minimum_drag_coefficient > 0.0
    two = np.array([20.0, 20.0 * (1.0 + 1e-15)])
    with pytest.raises(ValueError, match="cannot tell CDmin from the induced factor"):
        fit_glides(airspeed=two, sink=np.array([1.0, 1.0]), mass=MASS, density=DENSITY,
                   wing_area=AREA, airspeed_deviation=0.1, sink_deviation=0.1)


def test_lift_speed_carries_the_weight() -> None:
    speed = lift_speed(AIRFRAME, mass=MASS, density=DENSITY, lift_coefficient=0.5)
    assert 0.5 * DENSITY * speed**2 * AREA * 0.5 == pytest.approx(MASS * GRAVITY)
