"""Turning of a row of blades: closed forms, an independent rule, and measured sections."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import rows
from tests.credibility.records import agree, authority
from thrustlapse.rotor.axial.cascade import (
    LIFT_EFFECTIVENESS,
    below_section_data,
    deviation_slope,
    howell_outlet_angle,
    lattice,
    lift_effectiveness,
)


def lift_factor(solidity, stagger):
    """Circulation of a flat lattice over that of isolated plates, from slope or offset."""
    answer = lattice(solidity=solidity, stagger=stagger, camber=0.0)
    if stagger == 0.0:
        return 2.0 * (1.0 - answer.slope) / ((1.0 + answer.slope) * np.pi * solidity)
    return answer.offset / (np.pi * solidity)


@pytest.mark.parametrize("solidity", [0.01, 0.3, 0.7, 1.0, 1.5, 2.5])
def test_flat_lattice_across_the_stream(solidity):
    # Weinig 1935, closed form: stagger 0 (status X)
    exact = 2.0 / (np.pi * solidity) * np.tanh(np.pi * solidity / 2.0)
    assert lift_factor(solidity, 0.0) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("solidity", [0.05, 0.3, 0.6, 0.8])
def test_flat_lattice_in_line(solidity):
    # Weinig 1935, closed form: stagger a quarter turn (status X)
    exact = 2.0 / (np.pi * solidity) * np.tan(np.pi * solidity / 2.0)
    assert lift_factor(solidity, np.pi / 2.0) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("stagger_deg", [-20.0, 35.0, 70.0])
def test_wide_spacing_is_thin_aerofoil_theory(stagger_deg):
    # parabolic mean line: lift slope 2 pi, zero lift at -camber / 4, ideal angle along the chord;
    # the next term of the expansions is camber^2 and solidity
    camber, stagger = np.radians(4.0), np.radians(stagger_deg)
    answer = lattice(solidity=1e-4, stagger=stagger, camber=camber)
    assert answer.zero_lift_angle - stagger == pytest.approx(-camber / 4.0, rel=1e-2)
    assert answer.ideal_angle - stagger == pytest.approx(0.0, abs=1e-3)


def test_close_spacing_guides_the_flow_along_the_trailing_edge():
    answer = lattice(solidity=6.0, stagger=np.radians(30.0), camber=np.radians(20.0))
    for inlet in (0.2, 0.8):
        outlet = np.arctan(answer.slope * np.tan(inlet) + answer.offset)
        assert np.degrees(outlet) == pytest.approx(20.0, abs=1.0)


@given(st.floats(0.05, 2.5), st.floats(-1.2, 1.2), st.floats(-0.8, 0.8))
def test_mirror_image_turns_the_mirror_way(solidity, stagger, camber):
    one = lattice(solidity=solidity, stagger=stagger, camber=camber)
    other = lattice(solidity=solidity, stagger=-stagger, camber=-camber)
    assert other.slope == pytest.approx(one.slope, rel=1e-9, abs=1e-9)
    assert other.offset == pytest.approx(-one.offset, rel=1e-9, abs=1e-9)


def test_lattice_is_elementwise():
    solidity, stagger = np.array([0.2, 0.9, 1.7]), np.array([[0.3], [1.1]])
    many = lattice(solidity=solidity, stagger=stagger, camber=0.3)
    one = lattice(solidity=0.9, stagger=1.1, camber=0.3)
    assert many.slope.shape == (2, 3)
    assert many.slope[1, 1] == pytest.approx(one.slope, rel=1e-13)


@pytest.mark.parametrize("solidity", [0.8, 1.0, 1.5, 2.0])
@pytest.mark.parametrize(("stagger", "camber"), [(20, 30), (40, 30), (40, 20), (55, 15), (60, 10)])
def test_lattice_and_howell_agree_at_design(solidity, stagger, camber):
    # agreement of rivals: potential theory with the lift deficit against Howell's deviation rule
    # (constants from memory), at the angle without a leading-edge singularity; 1 deg
    angles = {"solidity": solidity, "stagger": np.radians(stagger), "camber": np.radians(camber)}
    answer = lattice(**angles)
    inlet = np.tan(answer.ideal_angle)
    turned = inlet - (answer.slope * inlet + answer.offset)
    outlet = np.arctan(inlet - LIFT_EFFECTIVENESS * turned)
    assert np.degrees(outlet - howell_outlet_angle(**angles)) == pytest.approx(0.0, abs=1.0)


def test_howell_solves_his_own_rule():
    outlet = np.degrees(howell_outlet_angle(solidity=1.2, stagger=0.7, camber=0.5))
    metal = np.degrees(0.7 - 0.25)
    m = 0.23 + outlet / 500.0
    assert outlet - metal == pytest.approx(m * np.degrees(0.5) / np.sqrt(1.2), rel=1e-12)


def test_outlet_angle_follows_the_inlet_less_at_high_solidity():
    # agreement of rivals, slope of the outlet angle (NASA SP-36 fit from memory); 0.1
    for solidity in (0.6, 1.0, 1.5):
        answer = lattice(solidity=solidity, stagger=np.radians(40.0), camber=np.radians(20.0))
        step = 1e-5
        low, high = (np.arctan(answer.slope * np.tan(answer.ideal_angle + d) + answer.offset)
                     for d in (-step, step))
        rival = deviation_slope(solidity=solidity, inlet_angle=answer.ideal_angle)
        assert (high - low) / (2.0 * step) == pytest.approx(float(rival), abs=0.1)


def measured_lift(line, alpha_deg=2.5):
    return line["slope_per_rad"] * np.radians(alpha_deg - line["zero_lift_deg"])


@authority(part="axial", what="lift of sections at low Reynolds numbers", status="published",
           source="Lyon et al., Summary of Low-Speed Airfoil Data Vol. 3, SoarTech 1998",
           kind="shared")
def test_lift_lost_at_low_reynolds_number():
    """Lift at 2.5 degrees over that of the fastest run, from fitted slopes. The constants were read
    off these very sections, so this only guards them."""
    for section, last, kind in (("Clark-Y", "Clark-Y 400k", "thick"),
                                ("S7075", "S7075 300k", "thin")):
        lines = {str(r): r for r in rows("axial_section_lift_and_drag")
                 if str(r).startswith(section)}
        reference = lines[last]
        for line in lines.values():
            model = (lift_effectiveness(reynolds=line["reynolds"], section=kind)
                     / lift_effectiveness(reynolds=reference["reynolds"], section=kind))
            yield from agree(f"{line}", model, measured_lift(line) / measured_lift(reference),
                             within=0.05, why="one line through two sections' runs")


def test_lift_effectiveness_below_measured_sections_is_held_and_said():
    held = lift_effectiveness(reynolds=np.array([6.0e4, 2.0e4]))
    assert held[0] == held[1]
    assert list(below_section_data(reynolds=np.array([7.0e4, 2.0e4]))) == [False, True]
