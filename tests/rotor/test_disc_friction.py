"""Disc friction against its table, the free disc, and the form used in preliminary design."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import rows
from tests.credibility.records import PRINTED, agree, authority, digits
from tests.rotor.rival_discs import (
    REGIMES,
    free_laminar_moment_coefficient,
    free_turbulent_moment_coefficient,
    governing_regime,
    one_face_factor,
)
from thrustlapse.rotor.centrifugal import disc_friction as disc

TABLE = rows("centrifugal_disc_friction")
DENSITY, KINEMATIC_VISCOSITY = 1.2, 1.5e-5


@authority(part="impeller", what="disc friction", status="memory",
           source="Daily and Nece, regime constants from memory, evaluated elsewhere",
           kind="shared")
def test_table():
    for row in TABLE:
        radius = 0.5e-3 * row["diameter_mm"]
        speed = row["speed_rpm"] * np.pi / 30.0
        at = {"reynolds": speed * radius**2 / KINEMATIC_VISCOSITY,
              "gap_ratio": row["gap_ratio_s_over_a"]}
        for value, name in zip(disc.moment_coefficients(**at), ("Cm_I", "Cm_II", "Cm_III", "Cm_IV"),
                               strict=True):
            yield from digits(row, name, value)
        assert REGIMES[int(governing_regime(**at))].split()[0] == row["governing"]
        power = disc.disc_power(moment_coefficient=disc.enclosed_moment_coefficient(**at),
                                density=DENSITY, tip_speed=speed * radius, radius=radius)
        yield from digits(row, "one_side_power_W", power, unit="W")
        rival = (one_face_factor(reynolds=at["reynolds"]) * DENSITY * radius**2
                 * (speed * radius) ** 3)
        yield from digits(row, "oh_form_power_W", 0.25 * rival, unit="W")


@authority(part="impeller", what="free disc", status="published",
           source="Bird, Stewart and Lightfoot (0.616 pi, 0.073 per torque)")
def test_free_disc():
    """Both faces: 3.87 (Cochran's solution of von Karman's disc) and 0.146 (von Karman)."""
    yield from agree("laminar", free_laminar_moment_coefficient(reynolds=1.0), 3.87,
                     within=0.005, why=PRINTED)
    yield from agree("turbulent", free_turbulent_moment_coefficient(reynolds=1.0), 0.146,
                     within=5e-4, why=PRINTED)


@given(reynolds=st.floats(3e5, 1e7), gap=st.floats(0.05, 0.217))
def test_a_casing_drags_the_air_along_and_relieves_a_turbulent_disc(reynolds, gap):
    # the core turns at nearly half the disc's speed: (1/2)^1.8 = 0.29 to 1 of the free disc
    enclosed = disc.enclosed_moment_coefficient(reynolds=reynolds, gap_ratio=gap)
    free = free_turbulent_moment_coefficient(reynolds=reynolds)
    assert 0.29 * free < enclosed < free


@given(reynolds=st.floats(1e5, 1e7), gap=st.floats(*disc.GAP_RANGE))
def test_preliminary_design_form_is_one_face_at_a_narrow_gap(reynolds, gap):
    # agreement of rivals: P = f rho r^2 U^3 / 4 of one face makes f comparable with Cm
    enclosed = disc.enclosed_moment_coefficient(reynolds=reynolds, gap_ratio=gap)
    assert 0.6 < one_face_factor(reynolds=reynolds) / enclosed < 1.05


@given(reynolds=st.floats(1e-2, 10.0), gap=st.floats(0.01, 0.2))
def test_merged_laminar_layers_are_a_couette_flow(reynolds, gap):
    # conservation: torque of linear profiles on both faces, 2 * 2 pi mu w r^3 / s integrated
    radius = np.linspace(0.0, 1.0, 20001)
    torque = 2.0 * np.trapezoid(2.0 * np.pi * radius**3 / (gap * reynolds), radius)
    merged = disc.moment_coefficients(reynolds=reynolds, gap_ratio=gap)[0]
    assert merged == pytest.approx(torque / 0.5, rel=1e-6)


@given(size=st.floats(0.2, 5.0), speed=st.floats(0.2, 5.0))
def test_power_scales_as_fan_power_does(size, speed):
    one = disc.disc_power(moment_coefficient=5e-3, density=1.2, tip_speed=200.0, radius=0.02)
    other = disc.disc_power(moment_coefficient=5e-3, density=1.2, tip_speed=200.0 * size * speed,
                            radius=0.02 * size)
    assert other == pytest.approx(one * speed**3 * size**5)


def test_two_faces_rub_twice():
    faces = disc.disc_power(moment_coefficient=5e-3, density=1.2, tip_speed=200.0, radius=0.02,
                            faces=np.array([1.0, 2.0]))
    # both faces: P = w M = Cm/2 rho w^3 a^5
    assert faces == pytest.approx(np.array([0.5, 1.0]) * 2.5e-3 * 1.2 * 1e4**3 * 0.02**5)
