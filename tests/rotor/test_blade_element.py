"""Blade-element momentum theory: worked elements, conservation, existence, the known traps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from tests.authority import rows
from tests.credibility.records import PRINTED, agree, authority, digits
from tests.rotor.textbook_windmill import windmill_induction
from thrustlapse.rotor.propeller.element import (
    HIGHEST_MOMENTUM_LOADING,
    Element,
    element_loads,
    inflow_angle,
    prandtl_loss,
)
from thrustlapse.rotor.propeller.section import CLARK_Y, SECTIONS

DENSITY = 1.225
AIR = {"density": DENSITY, "viscosity": 1.789e-5, "speed_of_sound": 340.3}


class StraightPolar:
    """The analytic section of the worked element."""

    def __init__(self, *, zero_lift_deg=-3.0, friction=0.018, rise=0.02, least=0.35):
        self.zero, self.friction = np.deg2rad(zero_lift_deg), friction
        self.rise, self.least = rise, least

    def coefficients(self, *, angle, **unused):  # noqa: ARG002 - the same at every Reynolds number
        lift = 5.7 * (np.asarray(angle) - self.zero)
        return lift, self.friction + self.rise * np.square(lift - self.least)


class Inviscid(StraightPolar):
    """Lift as a sine, no drag: everything stays bounded and energy can be counted."""

    def coefficients(self, *, angle, **unused):  # noqa: ARG002 - the same at every Reynolds number
        lift = 5.7 * np.sin(np.asarray(angle) - self.zero)
        return lift, 0.0 * lift


def worked(row):
    """The element of ``propeller_element.csv``."""
    omega, radius, loss = 6000.0 * np.pi / 30.0, 0.085725, row["F"] is not None
    return Element(axial_speed=float(row["V_mps"]), rotational_speed=omega * radius,
                   blade_angle=np.deg2rad(row["theta_deg"]), blades=2, chord=0.018, radius=radius,
                   tip_radius=0.1143, hub_radius=0.0130 if loss else 0.0, tip_loss=loss)


WORKED = rows("propeller_element")


@authority(part="blade element", what="a worked element", status="independent",
           source="a made-up element solved elsewhere at 40 digits")
def test_worked_element():
    for row in WORKED:
        found = element_loads(worked(row), section=StraightPolar(), **AIR)
        answer = {"phi_deg": np.rad2deg(found.inflow_angle), "F": found.loss_factor,
                  "alpha_deg": np.rad2deg(found.angle_of_attack), "cl": found.lift,
                  "cd": found.drag, "vi_mps": found.axial_induced_speed,
                  "vt_mps": found.swirl_speed, "W_mps": found.relative_speed,
                  "dT_dr": found.thrust, "dQ_dr": found.torque}
        for name, value in answer.items():
            blank = row[name] is None
            yield from agree(f"{row} {name}", value, 1.0 if blank else row[name],
                             within=1e-12 if blank else max(row.half_unit(name), 1e-12),
                             why=PRINTED)
        assert worked(row).solidity == pytest.approx(0.0668367215084, abs=5e-14)
        assert found.converged


@authority(part="blade element", what="windmill induction", status="closed form",
           source="Buhl's relation (from memory) at 40 digits elsewhere")
def test_windmill_induction():
    for row in rows("propeller_windmill"):
        a = windmill_induction(loading=row["kappa"], loss_factor=row["F"])
        yield from digits(row, "induction", a)
        yield from agree(f"{row} C_T", 4.0 * row["F"] * row["kappa"] * (1.0 - a) ** 2, row["C_T"],
                         within=1e-11, why="printed digits")


def test_windmill_induction_is_continuous_and_regular():
    """Momentum theory and Buhl meet at a = 0.4; the usual form's singular point is none here."""
    for loss in (0.3, 0.7, 1.0):
        edge = np.array([1.0 - 1e-12, 1.0 + 1e-12]) * HIGHEST_MOMENTUM_LOADING
        assert windmill_induction(loading=edge, loss_factor=loss) == pytest.approx(0.4, abs=1e-9)
    for loss in (0.3, 0.7):
        singular = (25.0 / 9.0 - 2.0 * loss) / (2.0 * loss)  # g3 = 0 in Ning 2014
        g2 = 2.0 * loss * singular - loss * (4.0 / 3.0 - loss)
        a = windmill_induction(loading=singular, loss_factor=loss)
        assert a == pytest.approx(1.0 - 1.0 / (2.0 * np.sqrt(g2)), abs=1e-12)


def test_prandtl_loss_limits():
    """Closed form: none at the edge of the blade, 1 with no inflow or many blades."""
    at = {"radius": 0.08, "edge": 0.1, "inflow_sine": 0.2}
    assert prandtl_loss(blades=2, radius=0.1, edge=0.1, inflow_sine=0.2) == 0.0
    assert prandtl_loss(blades=2, radius=0.08, edge=0.1, inflow_sine=0.0) == 1.0
    assert prandtl_loss(blades=400, **at) == pytest.approx(1.0, abs=1e-9)
    expected = 2.0 / np.pi * np.arccos(np.exp(-2.0 * 0.02 / (2.0 * 0.08 * 0.2)))
    assert prandtl_loss(blades=2, **at) == pytest.approx(expected, rel=1e-14)


# The traps -----------------------------------------------------------------------------------


def test_relative_speed_is_not_the_drag_free_shortcut():
    """sqrt(V^2 + (Omega r)^2) cos(phi - phi0) misses dT/dr by 0.2 to 0.8 % with drag (T)."""
    for row in WORKED:
        element, found = worked(row), element_loads(worked(row), section=StraightPolar(), **AIR)
        undisturbed = np.arctan2(element.axial_speed, element.rotational_speed)
        short = (np.hypot(element.axial_speed, element.rotational_speed)
                 * np.cos(found.inflow_angle - undisturbed))
        assert 0.0015 < abs((short / found.relative_speed) ** 2 - 1.0) < 0.0085


def test_the_near_root_is_taken_above_zero_thrust():
    """History: beyond the advance ratio of zero thrust a solver once took a far root of the
    residual and was off by a factor of ten. Nothing lies between phi0 and the root taken."""
    element = Element(axial_speed=np.linspace(20.0, 60.0, 41), rotational_speed=40.0,
                      blade_angle=np.deg2rad(18.0), blades=2, chord=0.018, radius=0.085725,
                      tip_radius=0.1143, hub_radius=0.013)
    found = element_loads(element, section=CLARK_Y, **AIR)
    start = np.arctan2(element.axial_speed, 40.0)
    assert np.all(found.converged)
    assert np.all(np.abs(found.inflow_angle - start) < np.deg2rad(15.0))
    # of a loading as small as this, the induced angle is small, and it turns sign with the lift
    assert np.all(np.sign(found.axial_induced_speed[5:]) == -1.0)
    assert np.all(np.abs(np.diff(found.thrust)) < 40.0)
    no_induction = CLARK_Y.coefficients(
        angle=np.deg2rad(18.0) - start, mach=0.1, chord_to_radius=0.21,
        reynolds=DENSITY * np.hypot(element.axial_speed, 40.0) * 0.018 / AIR["viscosity"])[0]
    assert np.all(np.abs(found.lift) <= np.abs(no_induction) + 0.05)


def residual_of_ning(phi, element, section):
    """Form (A), sin(phi) (1 - kappa) - V / (Omega r) cos(phi) (1 + kappa'), one element."""
    sine, cosine = np.sin(phi), np.cos(phi)
    loss = (prandtl_loss(blades=element.blades, radius=element.radius, edge=element.tip_radius,
                         inflow_sine=sine)
            * prandtl_loss(blades=element.blades, radius=element.radius, edge=element.hub_radius,
                           inflow_sine=sine))
    speed = np.hypot(element.axial_speed, element.rotational_speed)
    cl, cd = section.coefficients(
        angle=element.blade_angle - phi, chord_to_radius=element.chord / element.radius,
        reynolds=DENSITY * speed * element.chord / AIR["viscosity"],
        mach=speed / AIR["speed_of_sound"])
    kappa = element.solidity * (cl * cosine - cd * sine) / (4.0 * loss * sine**2)
    swirl = element.solidity * (cl * sine + cd * cosine) / (4.0 * loss * sine * cosine)
    ratio = element.axial_speed / element.rotational_speed
    return sine * (1.0 - kappa) - ratio * cosine * (1.0 + swirl)


@pytest.mark.parametrize("speed", [0.0, 3.0, 6.0, 9.0])
def test_same_root_as_a_scalar_solver_on_another_form(speed):
    """Agreement of a rival form, solved one by one by SciPy's brentq, while thrust is positive."""
    for share, angle in ((0.3, 35.0), (0.5, 26.0), (0.75, 20.0), (0.9, 18.0)):
        element = Element(axial_speed=speed, rotational_speed=500.0 * share * 0.12,
                          blade_angle=np.deg2rad(angle), blades=3, chord=0.02,
                          radius=share * 0.12, tip_radius=0.12, hub_radius=0.018)
        found = element_loads(element, section=CLARK_Y, **AIR)
        assert found.thrust > 0.0
        start = np.arctan2(speed, element.rotational_speed)
        grid = np.linspace(start + 1e-6, np.deg2rad(angle + 8.0), 400)
        values = [float(residual_of_ning(phi, element, CLARK_Y)) for phi in grid]
        first = int(np.argmax(np.diff(np.sign(values)) != 0))
        root = brentq(residual_of_ning, grid[first], grid[first + 1], args=(element, CLARK_Y),
                      xtol=1e-14)
        assert found.inflow_angle == pytest.approx(root, abs=1e-10)


# Conservation --------------------------------------------------------------------------------

SHARES = st.floats(0.15, 0.97)
RATIOS = st.one_of(st.just(0.0), st.floats(1e-6, 2.5))


def any_element(share, angle, ratio, blades, width):
    """Element of a 0.2 m propeller turning at 600 rad/s; ratio is V over Omega R."""
    return Element(axial_speed=ratio * 60.0, rotational_speed=60.0 * share, blade_angle=angle,
                   blades=blades, chord=width * 0.1, radius=0.1 * share, tip_radius=0.1,
                   hub_radius=0.012)


@given(SHARES, st.floats(0.0, np.deg2rad(80.0)), RATIOS, st.integers(1, 6),
       st.floats(0.03, 0.14), st.sampled_from(sorted(SECTIONS)))
def test_every_element_has_a_root_and_its_momentum_closes(share, angle, ratio, blades, width,
                                                          name):
    """Blade forces equal the change of momentum of the ring, or Buhl's thrust; round-off."""
    element = any_element(share, angle, ratio, blades, width)
    found = element_loads(element, section=SECTIONS[name], **AIR)
    assert found.converged
    ring = 4.0 * np.pi * element.radius * DENSITY * found.loss_factor
    through = element.axial_speed + found.axial_induced_speed
    swirl = ring * element.radius * abs(through) * found.swirl_speed
    scale = DENSITY * (element.rotational_speed**2 + element.axial_speed**2) * 0.1
    assert found.torque == pytest.approx(swirl, abs=1e-9 * scale)
    slowed = -found.axial_induced_speed / element.axial_speed if element.axial_speed else 0.0
    if slowed <= 0.4:
        momentum = ring * abs(through) * found.axial_induced_speed
        assert found.thrust == pytest.approx(momentum, abs=1e-9 * scale)
    else:
        loss = found.loss_factor
        coefficient = 8 / 9 + (4 * loss - 40 / 9) * slowed + (50 / 9 - 4 * loss) * slowed**2
        disc = DENSITY * np.pi * element.radius * element.axial_speed**2
        assert -found.thrust == pytest.approx(disc * coefficient, abs=1e-8 * scale)


@given(SHARES, st.floats(np.deg2rad(5.0), np.deg2rad(40.0)), st.floats(0.0, 0.3),
       st.integers(1, 5))
def test_without_drag_all_power_goes_into_the_stream(share, angle, ratio, blades):
    """Lift does no work: Omega dQ = dT (V + vi) + dQ vt / r. Round-off."""
    element = any_element(share, angle, ratio, blades, 0.08)
    found = element_loads(element, section=Inviscid(), **AIR)
    power = found.torque * 600.0
    useful = found.thrust * (element.axial_speed + found.axial_induced_speed)
    turned = found.torque * found.swirl_speed / element.radius
    assert power == pytest.approx(useful + turned, rel=1e-9, abs=1e-9)


def test_lightly_loaded_element_at_rest():
    """Closed form: without loss and drag at rest, sin^2(phi) = sigma cl cos(phi) / 4."""
    element = Element(axial_speed=0.0, rotational_speed=50.0, blade_angle=np.deg2rad(8.0),
                      blades=2, chord=0.002, radius=0.08, tip_radius=0.1, tip_loss=False)
    found = element_loads(element, section=Inviscid(), **AIR)
    expected = element.solidity * found.lift * np.cos(found.inflow_angle) / 4.0
    assert np.sin(found.inflow_angle) ** 2 == pytest.approx(expected, rel=1e-10)


# Corners -------------------------------------------------------------------------------------


def test_rest_is_the_limit_of_slow_flight():
    element = replace(worked(WORKED[1]), axial_speed=np.array([0.0, 1e-7]))
    found = element_loads(element, section=StraightPolar(), **AIR)
    assert found.thrust[1] == pytest.approx(found.thrust[0], rel=1e-7)
    assert found.torque[1] == pytest.approx(found.torque[0], rel=1e-7)


@given(SHARES, st.floats(np.deg2rad(1.0), np.deg2rad(12.0)))
def test_reversed_pitch_at_rest_is_the_mirror_image(share, angle):
    """A symmetric section turned the other way pushes the air back as hard."""
    section = StraightPolar(zero_lift_deg=0.0, least=0.0)
    both = element_loads(any_element(share, np.array([angle, -angle]), 0.0, 2, 0.08),
                         section=section, **AIR)
    assert both.converged.all()
    assert both.thrust[1] == pytest.approx(-both.thrust[0], rel=1e-9)
    assert both.torque[1] == pytest.approx(both.torque[0], rel=1e-9)


def test_values_out_of_range_are_named_not_guessed():
    """NaN, not turning, and backward flight: not converged and NaN, the neighbours unharmed."""
    element = replace(worked(WORKED[0]), axial_speed=np.array([12.0, np.nan, 12.0, -1.0]),
                      rotational_speed=np.array([53.9, 53.9, 0.0, 53.9]))
    found = element_loads(element, section=CLARK_Y, **AIR)
    assert found.converged.tolist() == [True, False, False, False]
    assert np.isfinite(found.thrust).tolist() == [True, False, False, False]
    alone = element_loads(replace(element, axial_speed=12.0, rotational_speed=53.9),
                          section=CLARK_Y, **AIR)
    assert alone.thrust == found.thrust[0]


def test_shapes_broadcast_and_may_be_empty():
    element = Element(axial_speed=np.zeros((2, 1)), rotational_speed=np.array([20.0, 30.0, 40.0]),
                      blade_angle=0.3, blades=2, chord=0.02, radius=0.06, tip_radius=0.1)
    phi, found = inflow_angle(element, section=CLARK_Y, **AIR)
    assert phi.shape == found.shape == (2, 3)
    empty = element_loads(replace(element, rotational_speed=np.zeros(0), axial_speed=0.0),
                          section=CLARK_Y, **AIR)
    assert empty.thrust.shape == (0,)


def test_a_duct_takes_the_tip_loss_away():
    near_tip = replace(worked(WORKED[0]), radius=0.112, rotational_speed=70.0)
    open_tip, shrouded = (element_loads(replace(near_tip, tip_loss=loss), section=CLARK_Y, **AIR)
                          for loss in (True, False))
    assert shrouded.thrust > 1.1 * open_tip.thrust


def test_a_section_that_drives_itself_has_no_inflow():
    """Drag below zero is no section's: no answer is made up for it."""
    element = worked(WORKED[0])
    wrong = StraightPolar(friction=-2.0, rise=0.0)
    angle, found = inflow_angle(replace(element, blade_angle=-0.5), section=wrong, **AIR)
    assert not found
    assert np.isnan(angle)
