"""Constants of the rotors, each against what was published elsewhere or a closed form.

``python -m tests.tools.constants`` changes every one of them by a tenth; these notice.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from tests.authority import rows
from tests.rotor.centrifugal_cases import wheel
from thrustlapse.rotor.axial.losses import LOW_EXPONENT, STALL_INCIDENCE
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry, cautions
from thrustlapse.rotor.centrifugal.scroll_sizing import CONE_ANGLE, SPEED_SHARE
from thrustlapse.rotor.centrifugal.slip import SLIP_MODELS, WIESNER_SCATTER, slip_spread
from thrustlapse.rotor.propeller import geometry as blade
from thrustlapse.rotor.propeller.element import HIGHEST_MOMENTUM_LOADING
from thrustlapse.rotor.propeller.section import LowReynoldsSection, drag_rise
from thrustlapse.rotor.strength import OVERSPEED


def test_half_of_the_tests_lie_within_the_scatter_of_wiesner():
    # 52 % within 0.05 (ASME J. Eng. Gas Turbines Power 143(2) 021013, abstract)
    assert 2.0 * norm.cdf(0.05 / WIESNER_SCATTER) - 1.0 == pytest.approx(0.52, abs=0.01)


@pytest.mark.parametrize(("lean", "names"), [(44.0, ("wiesner", "stodola", "stanitz")),
                                             (46.0, ("wiesner", "stodola"))])
def test_stanitz_is_asked_within_45_degrees(lean, names):
    # Stanitz's form is for blades near radial, within 45 degrees (from memory)
    one = {"blades": 9.0, "exit_angle": np.deg2rad(lean), "radius_ratio": 0.4}
    each = [float(SLIP_MODELS[name](**one)) for name in names]
    assert float(slip_spread(**one)) == pytest.approx(np.std(each))


@pytest.mark.parametrize(("share", "tested"), [(0.0124, False), (0.0130, True), (0.2160, True),
                                               (0.2190, False)])
def test_disc_gaps_that_daily_and_nece_tested(share, tested):
    # gap over radius 0.0127 to 0.217: abstract of their paper
    g: CentrifugalGeometry = wheel()
    g = replace(g, disc_gap=share * 0.5 * np.asarray(g.outlet_diameter))
    assert tested == (not any("Daily" in note for note in cautions(g)))


def test_scroll_of_constant_speed_is_yahyas():
    # Yahya, Turbines, compressors and fans, Ex 12.5: 145 m/s over a swirl of 177.5 m/s
    assert pytest.approx(145.0 / 177.5, rel=0.05) == SPEED_SHARE


def test_best_cone_is_dixons():
    # a good cone: area ratio 2.13 over N/R1 4.66, Dixon Ex 2.3; its full angle is 11.26 degrees, at
    # the upper end of the usual 7 to 11 (from memory), whose middle this is
    full = 2.0 * np.rad2deg(np.arctan((np.sqrt(2.13) - 1.0) / 4.66))
    assert full == pytest.approx(11.26, abs=0.05)
    assert np.rad2deg(CONE_ANGLE) == pytest.approx(0.5 * (7.0 + full), abs=0.5)


def test_a_laminar_layers_drag_goes_as_one_over_the_root_of_reynolds_number():
    # Blasius
    plain = LowReynoldsSection(camber_angle=0.0, bubble_drag=0.0, lift_drag=0.0, stall_angle=0.2,
                               least_drag_lift=0.0, thickness=0.05)
    _, drag = plain.coefficients(angle=0.0, reynolds=np.array([1e5, 4e5]), mach=0.0)
    assert drag[0] / drag[1] == pytest.approx(2.0, rel=1e-6)
    assert 4.0 ** LOW_EXPONENT["thin"] == pytest.approx(2.0)


def test_a_section_stalls_11_degrees_above_its_ideal_angle():
    # measured Clark Y at 60,700: highest lift at 12.8 degrees; ideal angle 1.4 to 1.9 by its camber
    # line (3.4 % at 42 % of the chord, thin-airfoil theory of a parabola: near 1.5)
    polar = [row for row in rows("section_polars")
             if row["section"] == "Clark Y" and row["reynolds"] == 60700.0]
    highest = max(polar, key=lambda row: row["cl"])["alpha_deg"]
    assert np.rad2deg(STALL_INCIDENCE) == pytest.approx(highest - 1.5, abs=0.8)


def test_drag_rises_at_the_worked_mach_number():
    # t/c 0.10, cl 0.5: Korn and Lock, worked by hand from forms of memory: Mdd 0.72, Mcr 0.612
    rise = drag_rise(mach=np.array([0.6115, 0.6130]), lift=0.5, thickness=0.10)
    assert rise[0] == 0.0
    assert rise[1] > 0.0
    # Korn's Mach number is where the drag coefficient grows by 0.1 per Mach number
    step = 1e-5
    low, high = drag_rise(mach=0.72 + np.array([-step, step]), lift=0.5, thickness=0.10)
    assert (high - low) / (2.0 * step) == pytest.approx(0.1, rel=1e-3)


def test_momentum_theory_ends_at_an_induction_of_two_fifths():
    # kappa = a / (1 - a) at a = 0.4, where Buhl's relation joins
    assert pytest.approx(0.4 / (1.0 - 0.4)) == HIGHEST_MOMENTUM_LOADING


MOULDED = ("9x6", "10x4.7", "10x7", "19x12", "4.2x4")


@pytest.mark.parametrize("place", range(2, 11))
def test_generic_planform_is_the_mean_of_five_measured_blades(place):
    # geometry of the University of Illinois, every other station; inboard of 0.3 the chord bends
    # too fast for a straight line between stations
    station, chords, pitches = blade.GENERIC_STATIONS[place], [], []
    for name in MOULDED:
        table = [row for row in rows("propeller_blades") if str(row) == name]
        radius, chord, angle = (np.array([float(row[key]) for row in table])
                                for key in ("r_over_R", "c_over_R", "angle_deg"))
        diameter, nominal = map(float, name.split("x"))
        chords.append(np.interp(station, radius, chord))
        pitches.append(np.pi * diameter * station
                       * np.tan(np.deg2rad(np.interp(station, radius, angle))) / nominal)
    assert blade.GENERIC_CHORD[place] == pytest.approx(np.mean(chords), rel=0.05)
    assert blade.GENERIC_PITCH_RATIO[place] == pytest.approx(np.mean(pitches), rel=0.03)


def test_rotors_are_spun_at_a_stress_of_1p3225():
    # API 617: 115 % of the highest continuous speed, stress times 1.3225
    assert pytest.approx(1.3225) == OVERSPEED**2
