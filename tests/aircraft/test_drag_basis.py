"""Where a polar comes from: what each source says of drag, how sure it is, what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe, induced_factor
from thrustlapse.aircraft.drag_basis import (
    Lift,
    drag_of_fit,
    drag_of_glide_ratio,
    given_drag,
)
from thrustlapse.aircraft.glide import fit_glides

BLANK = Airframe(mass=0.9, wing_area=0.2, minimum_drag_coefficient=np.nan, induced_factor=np.nan,
                 greatest_lift=1.1, launch_speed=10.0)
MASS, DENSITY = 1.1, 1.2
FLOWN = {"mass": MASS, "density": DENSITY, "glide_deviation": 0.1, "airspeed_deviation": 0.5}
RATIO_OF_WING = Lift(aspect_ratio=8.0, span_efficiency=0.8)


def ratio_at(speed: float, *, least: float, factor: float) -> float:
    """Glide ratio CL / CD of a parabola at an airspeed, by fixed point over the path's angle."""
    ratio = 10.0
    for _ in range(60):
        lift = MASS * GRAVITY * np.cos(np.arctan(1.0 / ratio)) / (0.5 * DENSITY * speed**2 * 0.2)
        ratio = lift / (least + factor * lift**2)
    return float(ratio)


def test_induced_factor_of_what_is_known_of_the_wing() -> None:
    """Given as it is, or 1 / (pi e A)."""
    assert Lift(induced_factor=0.07, aspect_ratio=8.0, span_efficiency=0.8).known == 0.07
    assert RATIO_OF_WING.known == pytest.approx(1.0 / (np.pi * 0.8 * 8.0))
    assert Lift(aspect_ratio=8.0).known is None
    assert Lift(span_efficiency=0.8).known is None
    with pytest.raises(ValueError, match="lift-dependent drag is not given"):
        given_drag(BLANK, Lift(), minimum_drag_coefficient=0.02)


def test_an_estimated_span_efficiency_is_the_one_told() -> None:
    made, basis = given_drag(BLANK, Lift(aspect_ratio=8.0, span=1.3),
                             minimum_drag_coefficient=0.02, body_width=0.13)
    factor = float(np.asarray(made.induced_factor))
    assert factor == pytest.approx(float(induced_factor(aspect_ratio=8.0,
                                                        span_efficiency=basis.span_efficiency)))
    assert basis.induced_deviation > 0.0
    slim, _ = given_drag(BLANK, Lift(aspect_ratio=8.0, span=1.3), minimum_drag_coefficient=0.02)
    assert float(np.asarray(slim.induced_factor)) < factor  # a body costs span efficiency
    _, basis = given_drag(BLANK, RATIO_OF_WING, minimum_drag_coefficient=0.02)
    assert np.isnan(basis.induced_deviation)
    assert basis.span_efficiency == pytest.approx(0.8)


@pytest.mark.parametrize("best", [False, True])
def test_a_glide_ratio_gives_the_parabola_it_was_flown_with(best: bool) -> None:
    least, factor = 0.025, RATIO_OF_WING.known
    assert factor is not None
    speed = 12.0
    if best:  # where CL^2 = CDmin / k; the path's angle is small enough to leave that alone
        lift = np.sqrt(least / factor)
        speed = float(np.sqrt(MASS * GRAVITY * np.cos(np.arctan(2.0 * np.sqrt(least * factor)))
                              / (0.5 * DENSITY * 0.2 * lift)))
    made, basis = drag_of_glide_ratio(
        BLANK, Lift() if best else RATIO_OF_WING, best=best, airspeed=speed,
        glide_ratio=ratio_at(speed, least=least, factor=factor), **FLOWN)
    assert made.minimum_drag_coefficient == pytest.approx(least, rel=1e-9)
    assert made.induced_factor == pytest.approx(factor, rel=1e-9)
    assert basis.source == "glide ratio"
    assert basis.high - least == pytest.approx(least - basis.low)
    assert basis.low == pytest.approx(least - basis.deviation)


def test_deviation_of_the_least_drag_of_a_glide_by_finite_differences() -> None:
    """From a ratio and an airspeed, each off alone, added in squares; k is held as known."""
    common = {"best": False, "glide_ratio": 11.0, "airspeed": 12.0, "mass": MASS,
              "density": DENSITY, "glide_deviation": 1.1, "airspeed_deviation": 0.6}

    def least(**changes: float) -> float:
        made, _ = drag_of_glide_ratio(BLANK, RATIO_OF_WING, **{**common, **changes})
        return float(np.asarray(made.minimum_drag_coefficient))

    by_ratio = (least(glide_ratio=11.01) - least(glide_ratio=10.99)) / 0.02 * 1.1
    by_speed = (least(airspeed=12.01) - least(airspeed=11.99)) / 0.02 * 0.6
    _, basis = drag_of_glide_ratio(BLANK, replace(RATIO_OF_WING), **common)
    assert basis.deviation == pytest.approx(np.hypot(by_ratio, by_speed), rel=1e-3)


def test_where_nothing_is_known_of_the_wing_but_its_aspect_ratio() -> None:
    """Span efficiency and least drag depend on each other: what comes out fits both."""
    made, basis = drag_of_glide_ratio(BLANK, Lift(aspect_ratio=8.0), best=False, glide_ratio=11.0,
                                      airspeed=12.0, **FLOWN)
    least, factor = (float(np.asarray(value)) for value in (made.minimum_drag_coefficient,
                                                            made.induced_factor))
    assert ratio_at(12.0, least=least, factor=factor) == pytest.approx(11.0, rel=1e-6)
    again, _ = given_drag(BLANK, Lift(aspect_ratio=8.0), minimum_drag_coefficient=least)
    assert float(np.asarray(again.induced_factor)) == pytest.approx(factor, rel=1e-6)
    assert basis.induced_deviation > 0.0


def test_machine_drag_is_taken_out_of_what_was_flown_with_it() -> None:
    """What hung below the glider belongs to the machine: CDmin falls by its area over S."""
    with_it, _ = drag_of_glide_ratio(BLANK, RATIO_OF_WING, best=False, glide_ratio=11.0,
                                     airspeed=12.0, **FLOWN)
    alone, _ = drag_of_glide_ratio(BLANK, RATIO_OF_WING, best=False, glide_ratio=11.0,
                                   airspeed=12.0, machine_drag_area=4e-4, **FLOWN)
    assert (float(np.asarray(with_it.minimum_drag_coefficient))
            - float(np.asarray(alone.minimum_drag_coefficient))) == pytest.approx(4e-4 / 0.2)


def glides():
    speeds = np.array([10.0, 12.0, 15.0, 19.0])
    ratio = np.array([ratio_at(v, least=0.025, factor=0.05) for v in speeds])
    return fit_glides(airspeed=speeds, sink=speeds * np.sin(np.arctan(1.0 / ratio)), mass=MASS,
                      density=DENSITY, wing_area=0.2, airspeed_deviation=0.3, sink_deviation=0.05)


def test_a_fit_is_the_polar_less_the_machine_and_widened_by_its_scatter() -> None:
    fit = glides()
    made, basis = drag_of_fit(BLANK, RATIO_OF_WING, fit, source="sink and speed",
                              machine_drag_area=4e-4)
    assert made.minimum_drag_coefficient == pytest.approx(0.025 - 0.002, rel=1e-6)
    assert basis.deviation == pytest.approx(fit.deviations[0])
    assert basis.correlation == pytest.approx(
        fit.covariance[0, 1] / np.prod(fit.deviations))
    assert any(text.startswith("least certain") for text in basis.told)
    _, apart = drag_of_fit(BLANK, RATIO_OF_WING, replace(fit, separable=False),
                           source="sink and speed")
    assert not any(text.startswith("least certain") for text in apart.told)
    scattered, wide = drag_of_fit(BLANK, RATIO_OF_WING, replace(fit, scatter=3.0),
                                  source="sink and speed")
    assert wide.deviation == pytest.approx(3.0 * fit.deviations[0])
    assert wide.induced_deviation == pytest.approx(3.0 * fit.deviations[1])
    assert scattered.induced_factor == pytest.approx(0.05, rel=1e-6)


def test_what_no_polar_explains_is_refused_with_its_numbers() -> None:
    with pytest.raises(ValueError, match="no polar explains it"):  # k alone takes more than flown
        drag_of_glide_ratio(BLANK, Lift(induced_factor=2.0), best=False, glide_ratio=11.0,
                            airspeed=12.0, **FLOWN)
    with pytest.raises(ValueError, match="no polar explains it"):
        drag_of_glide_ratio(BLANK, Lift(aspect_ratio=8.0), best=False, glide_ratio=400.0,
                            airspeed=9.0, **FLOWN)
    with pytest.raises(ValueError, match=r"no polar explains it.*CDmin -0.025"):
        drag_of_fit(BLANK, RATIO_OF_WING, glides(), source="sink and speed",
                    machine_drag_area=0.01)
