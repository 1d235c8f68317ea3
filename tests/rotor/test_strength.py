"""Stress in a spinning disc: closed forms against each other, limits, and a table."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tests.authority import rows
from tests.credibility.records import agree, authority
from thrustlapse.rotor.strength import (
    IMPELLER_SHARE,
    MATERIALS,
    OVERSPEED,
    bored_disc_stress,
    impeller_stress,
    limit_tip_speed,
    ring_stress,
    rotor_stress,
    solid_disc_stress,
)

OURS = {"aluminium 7075-T6": "aluminium 7075-T6", "aluminium 6061-T6": "aluminium 6061-T6",
        "PEEK unfilled": "PEEK", "PA66 30 % glass fibre, dry": "PA66 30 % glass",
        "PLA printed, across layers": "PLA printed", "SLA resin, tough grade": "resin printed"}
"""Materials of the table that the package has, by its own names."""


@authority(part="strength", what="tip speed of plain discs", status="memory",
           source="typical handbook strengths from memory; thin-disc formulas")
def test_tip_speed_at_which_a_disc_reaches_its_strength():
    """Printed parts: the weaker direction, across the layers, is the one the package uses."""
    for row in rows("rotor_material_tip_speeds"):
        strength = 1e6 * row["strength_MPa"]
        disc = {"density": row["density_kg_m3"], "poisson": row["poisson"], "tip_speed": 1.0}
        for key, unit in (("U_limit_solid_disc_m_s", solid_disc_stress(**disc)),
                          ("U_limit_bore_ratio_0p1_m_s", bored_disc_stress(bore_ratio=0.1,
                                                                           **disc))):
            yield from agree(f"{row} {key}", np.sqrt(strength / unit), row[key],
                             within=row.half_unit(key), unit="m/s", why="printed digits")
        if str(row) in OURS:
            stuff = MATERIALS[OURS[str(row)]]
            yield from agree(f"{row} bladed wheel over plain disc",
                             limit_tip_speed(stuff, bore_ratio=0.1)
                             / row["U_limit_bore_ratio_0p1_m_s"], 0.7, within=0.101,
                             why="impellers reach 0.6 to 0.8 of a plain disc's speed")


def test_every_material_is_in_the_table():
    """With the strength it has there: a copy, so no record of the credibility page."""
    assert set(OURS.values()) == set(MATERIALS)
    for row in rows("rotor_material_tip_speeds"):
        if str(row) in OURS:
            assert MATERIALS[OURS[str(row)]].strength == 1e6 * row["strength_MPa"]


@given(poisson=st.floats(0.2, 0.45), speed=st.floats(10.0, 500.0))
def test_limits_of_the_disc_formulas(poisson, speed):
    """A pinhole doubles the stress at the centre; a thin rim is a ring (Ugural and Fenster)."""
    disc = {"density": 1300.0, "tip_speed": speed, "poisson": poisson}
    assert bored_disc_stress(bore_ratio=1e-9, **disc) == pytest.approx(
        2.0 * solid_disc_stress(**disc), rel=1e-12)
    assert bored_disc_stress(bore_ratio=1.0, **disc) == pytest.approx(
        ring_stress(density=1300.0, tip_speed=speed), rel=1e-12)


def test_mean_hoop_stress_of_a_bored_disc_balances_half_the_disc():
    """Force balance, independent of elasticity: the hoop stress over a radial cut carries the
    centrifugal load of half the disc; its peak, at the bore, lies above that mean."""
    density, speed, bore, poisson = 1370.0, 209.0, 0.1, 0.35

    def hoop(r):
        # Timoshenko's disc with a hole, r and bore over the tip radius
        a = (3.0 + poisson) / 8.0 * density * speed**2
        b = (1.0 + 3.0 * poisson) / (3.0 + poisson)
        return a * (1.0 + bore**2 + bore**2 / r**2 - b * r**2)

    carried = quad(hoop, bore, 1.0)[0]
    load = density * speed**2 * quad(lambda r: r**2, bore, 1.0)[0]
    assert carried == pytest.approx(load, rel=1e-10)
    assert bored_disc_stress(density=density, tip_speed=speed, poisson=poisson,
                             bore_ratio=bore) == pytest.approx(hoop(bore), rel=1e-12)


@pytest.mark.parametrize("name", MATERIALS)
def test_at_its_limit_a_wheel_has_its_strength(name):
    stuff = MATERIALS[name]
    speed = limit_tip_speed(stuff, bore_ratio=0.2)
    assert impeller_stress(stuff, tip_speed=speed, bore_ratio=0.2) == pytest.approx(stuff.strength)
    plain = bored_disc_stress(density=stuff.density, tip_speed=speed, poisson=stuff.poisson,
                              bore_ratio=0.2)
    assert plain == pytest.approx(stuff.strength * IMPELLER_SHARE**2)


# Wheels of every form by hand ------------------------------------------------------------------


@pytest.mark.parametrize("form", ["solid wheel", "bored wheel", "shrouded wheel"])
def test_a_wheel_reaches_a_stress_at_six_tenths_of_a_discs_speed(form):
    """So it has that of a plain disc at 1/0.6 of its speed; a shroud that hangs on the blades is
    no better off than a free ring, rho U^2 (thin ring)."""
    stuff, speed = MATERIALS["PEEK"], 120.0
    plain = {"density": stuff.density, "tip_speed": speed / 0.6, "poisson": stuff.poisson}
    disc = float(solid_disc_stress(**plain) if form == "solid wheel" else
                 bored_disc_stress(bore_ratio=0.12, **plain))
    expected = max(disc, stuff.density * speed**2) if form == "shrouded wheel" else disc
    found = float(rotor_stress(stuff, tip_speed=speed, bore_ratio=0.12, form=form))
    assert found == pytest.approx(expected, rel=1e-12)


def test_rotors_are_judged_at_the_spin_tests_overspeed():
    """115 % of the highest continuous speed, as in API 617 (from memory)."""
    assert OVERSPEED == 1.15
