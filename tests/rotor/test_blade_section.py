"""Blade sections against measured polars, printed forms and their limits."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import rows
from tests.credibility.records import agree, authority, between, digits
from tests.rotor.polar_section import PolarSection, _hermite
from thrustlapse.rotor.propeller.section import (
    BUBBLE_LIFT,
    CLARK_Y,
    SECTIONS,
    TUNNEL_RECOVERY_REYNOLDS,
    attachment,
    bubble_growth,
    drag_rise,
    slope_factor,
    stall_delay,
)
from thrustlapse.rotor.stalled_plate import plate_normal_force

ANGLES = np.linspace(-np.pi, np.pi, 4001)
IN_TUNNEL = replace(CLARK_Y, recovery_reynolds=TUNNEL_RECOVERY_REYNOLDS)

# Printed forms -------------------------------------------------------------------------------


def test_plate_normal_force_of_the_stalled_axial_blade():
    # Hoerner's form, evaluated in the reference table of stalled plates (status M)
    angles = np.radians([20.0, 45.0, 90.0])
    assert plate_normal_force(angle=angles) == pytest.approx(
        [0.952892, 1.607142, 1.980198], abs=5e-7)


@authority(part="section", what="plate beyond stall", status="memory",
           source="Hoerner's plate, evaluated from memory",
           kind="shared")
def test_plate_normal_force():
    for row in rows("section_post_stall"):
        angle = np.deg2rad(row["alpha_deg"])
        yield from digits(row, "cn", plate_normal_force(angle=angle), what=f"cn at {row} deg")
        back = plate_normal_force(angle=-np.deg2rad(180.0 - row["alpha_deg"]))
        yield from digits(row, "cn", -back, what=f"-cn at {row} - 180 deg")


def test_stall_delay_with_snels_factor():
    """c/r = 0.3, 18 degrees above zero lift, cl 1.0 -> 1.262959: Snel's form from memory (M)."""
    potential = 2.0 * np.pi * np.deg2rad(18.0)
    lift = stall_delay(lift=1.0, potential_lift=potential, chord_to_radius=0.3,
                       factor=3.0)
    assert lift == pytest.approx(1.262959, abs=5e-7)


def test_stall_delay_never_exceeds_potential_flow():
    assert stall_delay(lift=0.8, potential_lift=2.0, chord_to_radius=3.0) == 2.0


def test_drag_rise_begins_at_the_critical_mach_number():
    """t/c 0.10, cl 0.5: Mdd 0.72, Mcr 0.612, from Korn's and Lock's relations (M)."""
    at = {"lift": 0.5, "thickness": 0.10}
    assert drag_rise(mach=0.6115, **at) == 0.0
    assert drag_rise(mach=0.6130, **at) > 0.0
    step = 1e-5  # Mdd is defined by a slope of 0.1
    slope = (drag_rise(mach=0.72 + step, **at) - drag_rise(mach=0.72 - step, **at)) / (2 * step)
    assert slope == pytest.approx(0.1, rel=1e-6)


def test_slope_grows_as_prandtl_and_glauert_say():
    """Closed form; held above Mach 0.7."""
    assert slope_factor(mach=0.6) == pytest.approx(1.25, rel=1e-12)
    assert slope_factor(mach=0.85) == slope_factor(mach=0.7)


def test_half_of_the_camber_works_at_the_recovery_reynolds_number():
    share = attachment(reynolds=np.array([3e4, 6e4, 12e4]), recovery_reynolds=6e4,
                       recovery_width=0.8)
    assert share[1] == pytest.approx(0.5, abs=1e-12)
    assert share[0] + share[2] == pytest.approx(1.0, abs=1e-12)
    assert attachment(reynolds=6e4 * np.exp(0.8), recovery_reynolds=6e4,
                      recovery_width=0.8) == pytest.approx(1.0 / (1.0 + np.exp(-2.0)))


def test_bubble_drag_needs_lift():
    assert bubble_growth(lift=0.0) == 0.0
    assert bubble_growth(lift=-BUBBLE_LIFT) == pytest.approx(0.5)


# Measured polars -----------------------------------------------------------------------------
# The form's common numbers were fitted to the Clark Y polars of these tables (and to propellers),
# so agreement here says the form can follow them; it is no validation.


@authority(part="section", what="Clark Y polars", status="published", source="Lyon et al. 1998",
           kind="shared")
def test_clark_y_follows_its_polars():
    """Declared band below 11.5 degrees: lift 0.08, drag 40 %, 20 % rms. The form's common numbers
    were fitted to these polars (and to propellers): this says the form can follow them, it is no
    validation."""
    for reynolds in (60700, 100000, 200000, 399900):
        polar = [row for row in rows("section_polars")
                 if row["reynolds"] == reynolds and row["alpha_deg"] < 11.5]
        alpha, lift, drag = (np.array([row[key] for row in polar])
                             for key in ("alpha_deg", "cl", "cd"))
        cl, cd = IN_TUNNEL.coefficients(angle=np.deg2rad(alpha), reynolds=reynolds, mach=0.0)
        at = [f"{a:.1f} deg" for a in alpha]
        yield from agree(f"Re {reynolds} cl at", cl, lift, within=0.08, at=at, why="declared band")
        miss = np.log(cd / drag)
        yield from agree(f"Re {reynolds} ln of drag ratio at", miss, 0.0 * miss,
                         within=np.log(1.40), at=at, why="declared band of 40 %")
        yield from agree(f"Re {reynolds} rms ln of drag ratio", np.sqrt(np.mean(miss**2)), 0.0,
                         within=np.log(1.20), why="declared band of 20 % rms")


@authority(part="section", what="Clark Y, reduced", status="published",
           source="reduced from Lyon et al. 1998",
           kind="shared")
def test_clark_y_trends():
    """Zero lift, slope, least drag, highest lift in the run."""
    for row in rows("section_reduced"):
        alpha, told = np.deg2rad(np.linspace(-2.0, 6.5, 18)), f"Re {row['reynolds']:.0f}"
        cl, _ = IN_TUNNEL.coefficients(angle=alpha, reynolds=row["reynolds"], mach=0.0)
        slope, offset = np.polyfit(alpha, cl, 1)
        yield from agree(f"{told} angle of zero lift", np.rad2deg(-offset / slope),
                         row["zero_lift_deg"], within=0.45, unit="deg", why="declared band")
        yield from between(f"{told} lift slope", slope, 5.5, 6.4, unit="1/rad",
                           why="range of the measured slopes")
        cl, cd = IN_TUNNEL.coefficients(angle=np.deg2rad(np.linspace(-5.0, 12.5, 71)),
                                        reynolds=row["reynolds"], mach=0.0)
        yield from agree(f"{told} least drag", cd.min(), row["least_cd"], share=0.30,
                         why="declared band")
        yield from agree(f"{told} highest lift", cl.max(), row["highest_cl"], within=0.12,
                         why="declared band")


@authority(part="section", what="fall of least drag with Reynolds number", status="published",
           source="Lyon et al. 1998",
           kind="shared")
def test_clark_y_least_drag_falls_threefold():
    """From Re 61k to 400k the measured least drag falls 3.1 times."""
    alpha = np.deg2rad(np.linspace(-5.0, 12.0, 69))
    low, high = (IN_TUNNEL.coefficients(angle=alpha, reynolds=re, mach=0.0)[1].min()
                 for re in (60700.0, 399900.0))
    yield from agree("least drag at Re 61k over that at 400k", low / high, 3.1, share=0.15,
                     why="declared band")


# Any angle, any section ----------------------------------------------------------------------


@pytest.mark.parametrize("name", SECTIONS)
@pytest.mark.parametrize("mach", [0.0, 0.5, 0.85])
def test_finite_and_continuous_all_round(name, mach):
    for reynolds in (1e3, 2e4, 1e5, 1e6):
        cl, cd = SECTIONS[name].coefficients(angle=ANGLES, reynolds=reynolds, mach=mach,
                                             chord_to_radius=0.4)
        assert np.all(np.isfinite(cl))
        assert np.all(cd > 0.0)
        # no step: nothing changes faster than 25 per radian
        assert np.max(np.abs(np.diff(cl))) < 25.0 * (ANGLES[1] - ANGLES[0])
        assert np.max(np.abs(np.diff(cd))) < 25.0 * (ANGLES[1] - ANGLES[0])
        assert cl[0] == pytest.approx(cl[-1], abs=1e-6)


@pytest.mark.parametrize("name", SECTIONS)
def test_deep_stall_is_a_plate(name):
    """Beyond 55 degrees the section is a plate with friction: a limit of the form."""
    angle = np.deg2rad([60.0, 90.0, 120.0, -75.0])
    cl, cd = SECTIONS[name].coefficients(angle=angle, reynolds=5e4, mach=0.0, chord_to_radius=0.3)
    cn = plate_normal_force(angle=angle)
    assert cl == pytest.approx(cn * np.cos(angle), abs=1e-6)
    assert np.all(cd >= cn * np.sin(angle))
    assert np.all(cd < cn * np.sin(angle) + 0.06)


@given(st.floats(-3.1, 3.1), st.floats(1e4, 5e5), st.floats(0.0, 0.85), st.floats(0.0, 0.8))
def test_point_equals_batch(angle, reynolds, mach, chord_to_radius):
    at = {"reynolds": reynolds, "mach": mach, "chord_to_radius": chord_to_radius}
    for section in SECTIONS.values():
        one = section.coefficients(angle=angle, **at)
        many = section.coefficients(angle=np.array([0.1, angle, -0.4]), **at)
        assert one[0] == pytest.approx(many[0][1], rel=1e-12)
        assert one[1] == pytest.approx(many[1][1], rel=1e-12)


@given(st.floats(2e4, 3e5), st.floats(1.05, 3.0))
def test_more_reynolds_number_more_lift_less_drag(reynolds, ratio):
    at = {"angle": np.deg2rad(4.0), "mach": 0.0}
    for section in SECTIONS.values():
        low = section.coefficients(reynolds=reynolds, **at)
        high = section.coefficients(reynolds=reynolds * ratio, **at)
        assert high[0] > low[0]
        assert high[1] < low[1]


# Sections from polars ------------------------------------------------------------------------


def measured():
    """Section built from the extract of the Clark Y polars."""
    polars = {}
    for reynolds in (60700.0, 100000.0, 200000.0, 399900.0):
        polar = [row for row in rows("section_polars") if row["reynolds"] == reynolds]
        polars[reynolds] = (np.deg2rad([row["alpha_deg"] for row in polar]),
                            np.array([row["cl"] for row in polar]),
                            np.array([row["cd"] for row in polar]))
    return PolarSection(polars=polars, thickness=0.117)


def test_polar_section_passes_near_its_points():
    """Its own input read back, so no record of the credibility page: to the inner table of half a
    degree."""
    section = measured()
    for row in rows("section_polars"):
        cl, cd = section.coefficients(angle=np.deg2rad(row["alpha_deg"]),
                                      reynolds=row["reynolds"], mach=0.0)
        assert cl == pytest.approx(row["cl"], abs=0.01)
        assert cd == pytest.approx(row["cd"], rel=0.03)


def test_polar_section_is_straight_in_ln_reynolds():
    section, angle = measured(), np.deg2rad(3.0)
    low, mid, high = (section.coefficients(angle=angle, reynolds=re, mach=0.0)
                      for re in (1e5, np.sqrt(2.0) * 1e5, 2e5))
    for k in range(2):
        assert mid[k] == pytest.approx(0.5 * (low[k] + high[k]), rel=1e-12)


def test_polar_section_beyond_its_reynolds_numbers():
    """Held above; below, lift held and drag as Re^-1/2 (a stated extrapolation)."""
    section, angle = measured(), np.deg2rad(3.0)
    at = {"angle": angle, "mach": 0.0}
    lowest = section.coefficients(reynolds=60700.0, **at)
    below = section.coefficients(reynolds=60700.0 / 4.0, **at)
    assert below[0] == lowest[0]
    assert below[1] == pytest.approx(2.0 * lowest[1], rel=1e-9)
    highest = section.coefficients(reynolds=399900.0, **at)
    above = section.coefficients(reynolds=4e6, **at)
    assert [float(c) for c in above] == pytest.approx([float(c) for c in highest], rel=1e-12)


def test_polar_section_all_round():
    section = measured()
    for reynolds in (1e4, 8e4, 1e6):
        cl, cd = section.coefficients(angle=ANGLES, reynolds=reynolds, mach=0.3,
                                      chord_to_radius=0.3)
        assert np.all(np.isfinite(cl))
        assert np.all(cd > 0.0)
        assert np.max(np.abs(np.diff(cl))) < 25.0 * (ANGLES[1] - ANGLES[0])
    nothing = section.coefficients(angle=np.array([np.nan, 0.1]), reynolds=1e5, mach=0.0)
    assert np.isnan(nothing[0]).tolist() == [True, False]


@pytest.mark.parametrize(("polars", "why"), [
    ({}, "at least one polar"),
    ({1e5: ([0.0, 0.1], [0.0, 0.5], [0.01, 0.01])}, "three or more"),
    ({1e5: ([0.0, 0.2, 0.1], [0.0, 1.0, 0.5], [0.01, 0.01, 0.01])}, "rising angle"),
    ({1e5: ([0.0, 0.1, 0.2], [0.0, 0.5, 1.0], [0.01, 0.0, 0.01])}, "drag must be above 0"),
    ({1e5: ([0.0, 5.0, 10.0], [0.0, 0.5, 1.0], [0.01, 0.01, 0.01])}, "angles in rad"),
])
def test_bad_polars_are_refused(polars, why):
    with pytest.raises(ValueError, match=why):
        PolarSection(polars=polars)


def test_the_curve_between_nodes_is_the_cubic_of_values_and_slopes():
    """Hermite: a cubic is given back exactly."""
    cubic = np.polynomial.Polynomial([0.3, -1.2, 0.5, 2.0])
    nodes = np.array([0.0, 0.5])
    rows = np.stack([cubic(nodes), cubic.deriv()(nodes)], axis=1)[None, :, :, None]
    share = np.linspace(0.0, 1.0, 7)
    zero = np.zeros(7, dtype=int)
    found = _hermite(rows, zero, zero, share[:, None], 0.5)
    np.testing.assert_allclose(found[:, 0], cubic(0.5 * share), rtol=1e-13)
