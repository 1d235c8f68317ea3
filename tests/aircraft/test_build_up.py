"""Drag by parts: formulas as cited, sums and limits, and the measured 1.92 m model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.aircraft.textbook_drag import body_raymer_early, raymer_straight
from tests.authority import rows
from tests.credibility.records import Pair, agree, authority, between, digits
from thrustlapse.air.atmosphere import Air, standard_air
from thrustlapse.aircraft import form_factor
from thrustlapse.aircraft.build_up import (
    BLUFF,
    Bluff,
    Body,
    Surface,
    airframe,
    body_wetted_area,
    build_up,
    fineness,
    surface_wetted_area,
    wheel,
    wire,
)
from thrustlapse.aircraft.climb import drag_coefficient
from thrustlapse.aircraft.drag import drag_area
from thrustlapse.aircraft.glide import drag_from_best_glide
from thrustlapse.aircraft.skin_friction import prandtl_schlichting
from thrustlapse.aircraft.span_efficiency import MODEL_SCATTER, model_scale, viscous

AIR = standard_air(altitude=0.0)

RULES = {
    "wing_hoerner": form_factor.wing_hoerner, "wing_raymer_lowspeed": form_factor.wing_raymer,
    "wing_torenbeek": form_factor.wing_torenbeek, "body_hoerner": form_factor.body_hoerner,
    "body_raymer": body_raymer_early, "body_raymer_newer": form_factor.body_raymer,
    "body_torenbeek": form_factor.body_torenbeek, "nacelle_raymer": form_factor.nacelle_raymer,
}

WING_AREA, SPAN = 0.76924, 1.9172
"""The 1.92 m model's reference area [m^2] and span [m], from the header of its polar."""

MODEL = (
    Surface(name="wing", area=WING_AREA - 0.13 * 0.401, chord=0.401, thickness_ratio=0.15),
    Surface(name="tailplane", area=0.18 * WING_AREA, chord=0.20, thickness_ratio=0.05),
    Surface(name="fin", area=0.07 * WING_AREA, chord=0.22, thickness_ratio=0.05),
    Body(name="fuselage", length=1.5, width=0.13, height=0.16, shape="box"),
    wheel(name="main wheels", diameter=0.09, width=0.03, count=2),
    wheel(name="tail wheel", diameter=0.03, width=0.012),
    Bluff(name="gear legs", frontal_area=2.0 * 0.2 * 0.006, shape="flat plate across"),
    Bluff(name="engine and openings", frontal_area=0.005, shape="blunt engine or motor"),
)
"""The 1.92 m model: area, span and mean chord as published; everything else is assumed, as on any
high-drag trainer of that span, and was not adjusted to the answer."""

TUNNEL_SPEED = 18.0
"""Airspeed of the tunnel tests [m/s]; assumed, a dynamic pressure of 4 lb/ft^2."""


@authority(part="airframe", what="form factors", status="closed form",
           source="formulas of Hoerner, Raymer and Torenbeek, evaluated elsewhere",
           kind="shared")
def test_form_factors_as_cited():
    """No printed numbers exist."""
    for line in rows("form_factors"):
        argument = "thickness_ratio" if line["model"].startswith("wing") else "fineness"
        yield from digits(line, "FF", RULES[line["model"]](**{argument: line["x_tc_or_fineness"]}),
                          what=f"{line['model']} {line['x_tc_or_fineness']:g}", times=1.01)


def test_span_efficiency_as_cited() -> None:
    """Raymer eq. 12.49 (M): 0.9007 at aspect ratio 5, 0.8106 at 8."""
    assert float(raymer_straight(aspect_ratio=5.0)) == pytest.approx(0.9007, abs=1e-4)
    assert float(raymer_straight(aspect_ratio=8.0)) == pytest.approx(0.8106, abs=1e-4)


def measured_minimum() -> float:
    """CDmin of the parabola through the points below the stall (least squares of four)."""
    points = rows("uav_polar_1p92m")[:4]
    lift, cost = (np.array([line[key] for line in points]) for key in ("CL", "CD"))
    bend, slope, level = np.polyfit(lift, cost, 2)
    return float(level - slope**2 / (4.0 * bend))


def test_the_measured_model_of_1p92_m() -> None:
    """Acceptance: tunnel polar of a complete model (NASA/UMN, R), CDmin 0.0345, scatter 0.003.

    The build-up gives 0.0370, 7 % more, with Hoerner's factors; 0.0386, 12 % more, with
    Torenbeek's; its band, 0.0340 to 0.0447, holds the measurement near its lower end. A quarter
    of the sum is bluff parts whose sizes are assumed, so agreement to better than 10 % is luck.
    """
    measured = measured_minimum()
    assert measured == pytest.approx(0.03448, abs=1e-5)
    errors = {}
    for source in form_factor.SOURCES:
        built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED, source=source)
        assert built.low / WING_AREA < measured < built.high / WING_AREA
        errors[source] = float(built.drag_area) / WING_AREA / measured - 1.0
    assert errors["Hoerner"] == pytest.approx(0.07, abs=0.01)
    assert errors["Torenbeek"] == pytest.approx(0.12, abs=0.01)


@authority(part="airframe", what="least drag and polar of a measured model", status="published",
           source="NASA/UMN wind-tunnel polar of a 1.92 m model, CD within 0.003",
           kind="measured")
def test_a_measured_model_lies_in_the_band_of_its_build_up():
    """A quarter of the sum is bluff parts whose sizes are assumed. The span efficiency's factor has
    this aircraft as one of its three, so only the least drag is a test."""
    built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED)
    measured = measured_minimum()
    yield from between("CDmin measured, against the build-up's band", measured,
                       float(built.low) / WING_AREA, float(built.high) / WING_AREA,
                       why="the band that the page states")
    made = airframe(built, mass=7.41, wing_area=WING_AREA, span=SPAN, greatest_lift=1.0,
                    launch_speed=15.0, lift_of_least_drag=0.1527, body_width=0.13)
    points = rows("uav_polar_1p92m")[:4]
    lift, cost = (np.array([line[key] for line in points]) for key in ("CL", "CD"))
    predicted = drag_coefficient(made, lift_coefficient=lift)
    yield from agree("CD below the stall at CL", predicted, cost, share=0.075, at=lift,
                     why="build-up and tunnel scatter together")
    yield Pair(series="1.92 m model by build-up", quantity="drag", measured=cost,
               predicted=np.asarray(predicted), family="drag of a section and of a model")


@pytest.mark.parametrize(("offset", "least", "most"), [(0.1527, -0.065, 0.075),
                                                       (0.0, -0.18, 0.34)])
def test_the_whole_measured_polar(offset, least, most) -> None:
    """Same aircraft (R), points below the stall, CD +-0.003: nothing but parts and span given.

    With its own lift of least drag within 7 %; on a parabola centred on zero lift -17 to +33 %.
    The span efficiency's factor has this aircraft as one of its three, so only CDmin is a test.
    """
    built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED)
    made = airframe(built, mass=7.41, wing_area=WING_AREA, span=SPAN, greatest_lift=1.0,
                    launch_speed=15.0, lift_of_least_drag=offset, body_width=0.13)
    points = rows("uav_polar_1p92m")[:4]
    lift, measured = (np.array([line[key] for line in points]) for key in ("CL", "CD"))
    error = drag_coefficient(made, lift_coefficient=lift) / measured - 1.0
    assert least < error.min()
    assert error.max() < most
    assert error.min() == pytest.approx(least, abs=0.015)
    assert error.max() == pytest.approx(most, abs=0.015)


def test_beyond_its_greatest_lift_the_parabola_falls_short() -> None:
    """The other rows of that polar (R): from CL 0.96 up drag is 18 % and more above the parabola.

    Lift stays near 1.0 to 42 degrees, so the stall speed holds, and drag below it is not claimed.
    """
    built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED)
    made = airframe(built, mass=7.41, wing_area=WING_AREA, span=SPAN, greatest_lift=1.0,
                    launch_speed=15.0, lift_of_least_drag=0.1527, body_width=0.13)
    points = rows("uav_polar_1p92m")[4:]
    lift, measured = (np.array([line[key] for line in points]) for key in ("CL", "CD"))
    assert lift.max() == pytest.approx(made.greatest_lift, abs=0.015)
    short = drag_coefficient(made, lift_coefficient=lift) / measured - 1.0
    assert short.max() == pytest.approx(-0.18, abs=0.01)


def test_a_thin_plate_lies_in_its_band() -> None:
    """Pelletier and Mueller 2000 (R2, digitised to +-0.005): CD 0.015 without lift, Re 140,000."""
    line = next(line for line in rows("airframes_model_scale") if "plate" in line["configuration"])
    plate = Surface(name="plate", area=0.04, chord=0.2, thickness_ratio=0.0193, laminar_share=0.0,
                    most_laminar=1.0, interference=1.0)
    speed = 140e3 * float(AIR.viscosity / AIR.density) / 0.2
    built = build_up([plate], air=AIR, airspeed=speed, allowance=0.0)
    assert float(built.low) / 0.04 < line["CD0_or_note"] < float(built.high) / 0.04
    assert float(built.drag_area) / 0.04 == pytest.approx(line["CD0_or_note"], abs=0.005)


def test_span_efficiency_reads_high_at_model_scale() -> None:
    """Three complete models (NASA/UMN R, UMN R, Gryte et al. R): 0.63, 0.75, 0.83 measured.

    The estimate errs by +29 %, +3 % and +4 %: it knows nothing of a thick section at its limit.
    """
    table = {line["configuration"]: line for line in rows("airframes_model_scale")}
    for name, least, error in (("trainer-type research model, tunnel", 0.0345, 0.29),
                               ("sport-type research model", 0.0434, 0.03),
                               ("flying-wing UAV, tunnel", 0.0182, 0.04)):
        ratio = table[name]["AR"]
        measured = float(str(table[name]["oswald_e"]).split()[0])
        found = float(viscous(aspect_ratio=ratio, minimum_drag_coefficient=least,
                              body_width_ratio=0.07))
        assert found / measured - 1.0 == pytest.approx(error, abs=0.015), name


@authority(part="airframe", what="span efficiency of three small aircraft", status="published",
           source="University of Minnesota and Gryte et al., named in the table",
           kind="shared")
def test_span_efficiency_of_models_is_their_own():
    """The three from which the default's factor 0.90 comes: agreement, not validation."""
    table = {line["configuration"]: line for line in rows("airframes_model_scale")}
    ratios = []
    for name, least in (("trainer-type research model, tunnel", 0.0345),
                        ("sport-type research model", 0.0434), ("flying-wing UAV, tunnel", 0.0182)):
        measured = float(str(table[name]["oswald_e"]).split()[0])
        ratios.append(measured / float(model_scale(
            aspect_ratio=table[name]["AR"], minimum_drag_coefficient=least, body_width_ratio=0.07)))
        yield from agree(f"span efficiency, {name}", measured / ratios[-1], measured,
                         within=2.0 * MODEL_SCATTER * measured,
                         why="two standard deviations of the stated scatter")
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.01)
    assert np.std(ratios, ddof=1) / np.mean(ratios) == pytest.approx(MODEL_SCATTER, abs=0.02)


@authority(part="airframe", what="span efficiency of straight wings", status="memory",
           source="Raymer eq. 12.49, from memory, evaluated elsewhere")
def test_span_efficiency_of_straight_wings():
    """Aspect ratios of the table."""
    for line in rows("drag_level_estimates"):
        if line["quantity"] == "oswald_e_raymer":
            ratio = float(line["inputs"].split()[-1])
            yield from agree(f"at aspect ratio {ratio:g}", raymer_straight(aspect_ratio=ratio),
                             line["value"], within=line["rtol"] * line["value"], why="rounding")


def test_levels_of_drag_as_printed() -> None:
    """Anderson, Aircraft Performance and Design, ch. 8 (M): CD0 from Cfe, k from (L/D)max.

    And the model's own: an equivalent friction of the order of a light single's 0.0055 (Raymer
    table 12.3, M), higher at its lower Reynolds number; allowances of 5 to 20 % (R) hold ours.
    """
    table = {line["quantity"] if line["quantity"] != "Cfe" else line["inputs"]: line
             for line in rows("drag_level_estimates")}
    assert pytest.approx(table["CD0_from_Cfe"]["value"],
                                         rel=table["CD0_from_Cfe"]["rtol"]) == 0.0043 * 4.0
    found = float(drag_from_best_glide_factor(0.017, 14.0))
    assert found == pytest.approx(table["K_from_LDmax"]["value"], rel=table["K_from_LDmax"]["rtol"])
    built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED)
    wetted = sum(float(part.wetted_area) for part in built.parts
                 if part.kind in ("surface", "body"))
    light_single = table["light single-engine aircraft"]["value"]
    assert 1.0 < float(built.drag_area) / wetted / light_single < 2.5
    low, high = map(float, table["interference_and_protuberance_allowance"]["value"].split("-"))
    allowance = built.parts[-1]
    smooth = float(built.drag_area - allowance.drag_area) - sum(
        float(part.drag_area) for part in built.parts if part.kind == "bluff")
    assert low <= float(allowance.drag_area) / smooth <= high


def drag_from_best_glide_factor(least: float, ratio: float) -> float:
    """k of the best glide ratio by the package's own closed form: CL = 2 CDmin (L/D)."""
    lift = 2.0 * least * ratio
    speed = np.sqrt(2.0 * 9.80665 / (1.2 * 0.3 * lift))
    slope = np.arctan(1.0 / ratio)
    speed *= np.sqrt(np.cos(slope))
    _, factor = drag_from_best_glide(glide_ratio=ratio, airspeed=speed, mass=1.0, density=1.2,
                                     wing_area=0.3)
    return float(factor)


def test_every_line_is_its_own_product_and_the_sum_is_the_sum() -> None:
    built = build_up(MODEL, air=AIR, airspeed=np.array([10.0, 25.0]))
    total = np.zeros(2)
    for part in built.parts:
        total += part.drag_area
        if part.kind in ("surface", "body"):
            product = part.wetted_area * part.friction * part.form_factor * part.interference
            assert part.drag_area == pytest.approx(product, rel=1e-14)
        if part.kind == "bluff":
            assert part.drag_area == pytest.approx(part.frontal_area * part.coefficient)
        assert np.all(part.low <= part.drag_area)
        assert np.all(part.drag_area <= part.high)
    assert built.drag_area == pytest.approx(total, rel=1e-14)
    assert built.parts[-1].name == "gaps, hinges and leaks"
    assert built.parts[-1].drag_area == pytest.approx(
        0.1 * sum(part.drag_area for part in built.parts if part.kind in ("surface", "body")))


def test_a_plate_is_a_plate() -> None:
    """A surface without thickness, laminar run or neighbours drags as a flat plate on two sides."""
    flat = Surface(name="plate", area=0.5, chord=0.4, thickness_ratio=0.0, laminar_share=0.0,
                   interference=1.0)
    built = build_up([flat], air=AIR, airspeed=20.0, allowance=0.0)
    reynolds = 20.0 * 0.4 * float(AIR.density / AIR.viscosity)
    assert float(built.parts[0].reynolds) == pytest.approx(reynolds, rel=1e-14)
    assert float(built.drag_area) == pytest.approx(
        2.003 * 0.5 * float(prandtl_schlichting(reynolds=reynolds)), rel=1e-12)


def test_wetted_areas() -> None:
    """Raymer's rule for wings (header of form_factors.csv); a full prism for bodies."""
    assert float(surface_wetted_area(area=1.0, thickness_ratio=0.12)) == pytest.approx(2.0394)
    box = Body(name="b", length=1.0, width=0.1, height=0.2, shape="box")
    assert float(body_wetted_area(box)) == pytest.approx(0.85 * 0.6)
    tube = Body(name="t", length=1.0, width=0.1, height=0.1)
    assert float(body_wetted_area(tube)) == pytest.approx(0.85 * np.pi * 0.1)
    assert float(fineness(tube)) == pytest.approx(10.0)
    given_one = Body(name="g", length=1.0, width=0.1, height=0.1, wetted_area=0.3)
    assert float(body_wetted_area(given_one)) == 0.3


def test_words_for_bluff_parts() -> None:
    assert all(low <= likely <= high for likely, low, high in BLUFF.values())
    built = build_up([wire(name="aerial", diameter=0.001, length=0.5),
                      Bluff(name="hook", frontal_area=0.001, coefficient=0.9)],
                     air=AIR, airspeed=20.0, allowance=0.0)
    assert float(built.parts[0].drag_area) == pytest.approx(0.0005 * 1.1)
    assert float(built.parts[1].drag_area) == pytest.approx(0.0009)
    with pytest.raises(KeyError):
        build_up([Bluff(name="x", frontal_area=1.0, shape="teapot")], air=AIR, airspeed=20.0)


def test_an_airframe_of_parts() -> None:
    built = build_up(MODEL, air=AIR, airspeed=TUNNEL_SPEED)
    made = airframe(built, mass=7.41, wing_area=WING_AREA, span=SPAN, greatest_lift=1.0,
                    launch_speed=15.0, span_efficiency=0.63)
    assert float(drag_area(made)) == pytest.approx(float(built.drag_area), rel=1e-14)
    assert float(made.induced_factor) == pytest.approx(0.10611, rel=5e-3)  # note of the polar (R)
    guessed = airframe(built, mass=7.41, wing_area=WING_AREA, span=SPAN, greatest_lift=1.0,
                       launch_speed=15.0)
    assert float(guessed.induced_factor) < float(made.induced_factor)


@given(st.floats(5.0, 60.0), st.floats(0.3, 3.0))
def test_similarity(airspeed, size) -> None:
    """Drag coefficients depend on the Reynolds number alone: scale the model, unscale the speed."""
    def scaled(factor: float):
        return [Surface(name="wing", area=0.3 * factor**2, chord=0.2 * factor,
                        thickness_ratio=0.1),
                Body(name="pod", length=0.8 * factor, width=0.1 * factor, height=0.1 * factor)]

    small = build_up(scaled(1.0), air=AIR, airspeed=airspeed)
    large = build_up(scaled(size), air=AIR, airspeed=airspeed / size)
    assert float(large.drag_area) == pytest.approx(float(small.drag_area) * size**2, rel=1e-11)


def test_a_batch_is_its_points() -> None:
    speeds = np.array([8.0, 20.0, 45.0])
    batch = build_up(MODEL, air=AIR, airspeed=speeds)
    for place, speed in enumerate(speeds):
        assert batch.drag_area[place] == float(
            build_up(MODEL, air=AIR, airspeed=float(speed)).drag_area)


def test_thin_air_rubs_more_per_dynamic_pressure() -> None:
    """At equal airspeed a lower density lowers the Reynolds number and raises the drag area."""
    high = Air(pressure=50_000.0, temperature=255.0)
    assert build_up(MODEL, air=high, airspeed=20.0).drag_area > build_up(
        MODEL, air=AIR, airspeed=20.0).drag_area


def test_bands_of_a_skin_and_of_the_allowance() -> None:
    """The low end takes the longest laminar run and the least of the cited form factors, the high
    end a turbulent skin and the greatest; gaps cost from half to twice their allowance."""
    wing = Surface(name="wing", area=0.2, chord=0.5, thickness_ratio=0.12, laminar_share=0.2,
                   most_laminar=0.5, interference=1.05)

    def line(**changes):
        made = [build_up([replace(wing, **changes)], air=AIR, airspeed=40.0, allowance=0.0,
                         source=source).parts[0] for source in form_factor.SURFACE]
        return [float(one.drag_area) for one in made], float(made[0].low), float(made[0].high)

    usual, low, high = line()
    assert low == pytest.approx(min(line(laminar_share=0.5)[0]), rel=1e-12)
    assert high == pytest.approx(max(line(laminar_share=0.0)[0]), rel=1e-12)
    assert low < min(usual) <= max(usual) < high
    whole = build_up([wing], air=AIR, airspeed=40.0, allowance=0.1)
    gaps = whole.parts[-1]
    assert [float(gaps.low), float(gaps.drag_area), float(gaps.high)] == pytest.approx(
        [0.05 * usual[0], 0.1 * usual[0], 0.2 * usual[0]], rel=1e-12)
