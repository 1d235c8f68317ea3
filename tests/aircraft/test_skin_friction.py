"""Skin friction against printed tables and worked plates, and its limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import row, rows
from thrustlapse.aircraft.build_up import LOW_REYNOLDS_SPREAD
from thrustlapse.aircraft.skin_friction import (
    TURBULENT,
    after_transition,
    cut_off_reynolds,
    fully_rough,
    ittc_1957,
    laminar,
    laminar_local,
    laminar_share,
    mixed,
    power_law,
    power_law_local,
    prandtl_schlichting,
    schoenherr,
    white,
)

CLOSED_FORM = {
    "Cf_laminar_blasius": laminar, "Cf_power_law": power_law,
    "Cf_prandtl_schlichting": prandtl_schlichting, "Cf_ittc57": ittc_1957,
    "Cf_schoenherr": schoenherr, "Cf_white": white,
    "Cf_PS_transition_1700": lambda reynolds: after_transition(reynolds=reynolds),
    "Cf_PS_transition_1610": lambda reynolds: after_transition(reynolds=reynolds,
                                                               constant="Schlichting"),
}


@pytest.mark.parametrize("column", CLOSED_FORM)
def test_correlations_as_cited(column) -> None:
    """The cited formulas, evaluated elsewhere (X); Blasius's 1.32823 is printed 1.328."""
    for line in rows("skin_friction_closed_form"):
        if line[column] is not None:
            slack = line.half_unit(column) * 1.01
            if column == "Cf_laminar_blasius":
                slack += 2e-4 * line[column]
            assert CLOSED_FORM[column](reynolds=line["Re"]) == pytest.approx(line[column],
                                                                             abs=slack)


@pytest.mark.parametrize("line", rows("skin_friction_ittc"), ids=str)
def test_ittc_line(line) -> None:
    """Tupper, table 8.3 (R), the row 1e8 misprinted by 1.7e-6; NPL Ship Report 142 (R), whose
    Reynolds number is itself rounded to three digits."""
    slack = line.half_unit("Cf") * 1.001
    if line.printed["Re"] == "1e8":
        slack = 2e-6
    elif line.printed["Re"] == "5.62e6":
        slack += 0.19 * line["Cf"] * 0.005 / 5.62
    assert float(ittc_1957(reynolds=line["Re"])) == pytest.approx(line["Cf"], abs=slack)


def test_laminar_plate() -> None:
    """Cengel and Cimbala 2010, Ex. 11-3 (C): oil, one side, 58 N."""
    line = row("skin_friction_examples", "CC11-3")
    pressure = 0.5 * line["rho_kg_m3"] * line["V_m_s"] ** 2
    force = float(laminar(reynolds=line["Re"])) * pressure * line["L_m"] * 1.0
    assert force == pytest.approx(line["force_N"], rel=line["rtol"])


def test_airfoil_as_a_plate() -> None:
    """Anderson, Fundamentals, 3rd ed., Ex. 4.7 to 4.9 (C): laminar, turbulent, transition at 5e5.

    The last is the sum of both sides, and is what Prandtl's rule of mixing must give.
    """
    assert float(laminar(reynolds=3.1e6)) == pytest.approx(7.5425e-4, rel=3e-4)
    assert float(power_law(reynolds=3.1e6)) == pytest.approx(3.72357e-3, rel=1e-4)
    both = 2.0 * mixed(reynolds=3.1e6, turbulent="power law",
                       laminar_share=laminar_share(reynolds=3.1e6, transition=5e5))
    assert float(both) == pytest.approx(6.32e-3, rel=1e-3)


def test_plate_in_air() -> None:
    """Anderson, Fundamentals, 3rd ed., Ex. 18.1 (C, exponent of the viscosity put right): 175.6 N.

    The Reynolds number is given in five digits.
    """
    line = row("skin_friction_examples", "AN18.1")
    force = float(laminar(reynolds=line["Re"])) * 0.5 * line["rho_kg_m3"] * 100.0**2 * 40.0 * 2.0
    assert force == pytest.approx(line["force_N"], rel=line["rtol"])


@pytest.mark.parametrize(("name", "constant", "force"), [
    ("MU9.7", "Prandtl", 0.5 * 1.94 * 10.0**2 * 4.0 * 0.5 * 4.4482216),
    ("FM9.5", "Schlichting", 0.5 * 1020.0 * 6.692**2 * 43200.0)])
def test_plates_in_water(name, constant, force) -> None:
    """Munson et al., Ex. 9.7, water of 1.94 slug/ft^3, one side of 4 by 0.5 ft, 0.597 lb; Fox and
    McDonald, Ex. 9.5, 1.445 MN (both C)."""
    line = row("skin_friction_examples", name)
    drag = float(after_transition(reynolds=line["Re"], constant=constant)) * force
    assert drag == pytest.approx(line["force_N"], rel=line["rtol"])


def test_local_friction() -> None:
    """Fox and McDonald, Ex. 9.4 (C): laminar 6.64e-4, turbulent 5.64 times it at Re 1e6."""
    low, high = float(laminar_local(reynolds=1e6)), float(power_law_local(reynolds=1e6))
    assert low == pytest.approx(6.64e-4, rel=1e-3)
    assert high / low == pytest.approx(5.64, abs=0.01)


def test_measured_sections_lie_within_the_stated_band() -> None:
    """SD8020, 10 % thick, cl 0 (Selig et al. 1995, R2): the docstring of build_up states the error.

    Two sides, Hoerner's factor, laminar over 70 % of the chord.
    """
    table = rows("skin_friction_section_drag")
    cf = mixed(reynolds=np.array([line["Re"] for line in table]), laminar_share=0.7)
    error = 2.0 * cf * (1.0 + 0.2 + 60.0 * 1e-4) / [line["cd"] for line in table] - 1.0
    assert error.min() > -0.02
    assert error.max() < 0.235 <= LOW_REYNOLDS_SPREAD


@given(st.floats(2e4, 1e8), st.floats(0.0, 1.0), st.sampled_from(sorted(TURBULENT)))
def test_mixing_runs_from_turbulent_to_laminar(reynolds, share, law) -> None:
    rough = float(mixed(reynolds=reynolds, laminar_share=0.0, turbulent=law))
    smooth = float(mixed(reynolds=reynolds, laminar_share=1.0, turbulent=law))
    assert rough == pytest.approx(float(TURBULENT[law](reynolds=reynolds)), rel=1e-12)
    assert smooth == pytest.approx(float(laminar(reynolds=reynolds)), rel=1e-12)
    more = min(share + 0.05, 1.0)
    assert mixed(reynolds=reynolds, laminar_share=more, turbulent=law) <= mixed(
        reynolds=reynolds, laminar_share=share, turbulent=law) + 1e-15


@given(st.floats(50.0, 2e4), st.floats(0.0, 1.0))
def test_no_layer_rubs_less_than_a_laminar_one(reynolds, share) -> None:
    """The turbulent laws fall below Blasius under about 1e4, where no layer is turbulent."""
    assert float(mixed(reynolds=reynolds, laminar_share=share)) >= float(
        laminar(reynolds=reynolds)) * (1.0 - 1e-12)


def test_two_laws_of_roughness_agree() -> None:
    """Raymer's cut-off Reynolds number against Schlichting's sand-roughened plate (both M): 6 %."""
    ratio = 1.0 / np.geomspace(200.0, 1e5, 25)
    held = mixed(reynolds=1e9, laminar_share=0.0, relative_roughness=ratio)
    assert held == pytest.approx(fully_rough(relative_roughness=ratio), rel=0.06)


@given(st.floats(2e4, 1e7), st.floats(0.0, 0.9), st.floats(1e-5, 1e-2))
def test_roughness_never_helps(reynolds, share, ratio) -> None:
    smooth = float(mixed(reynolds=reynolds, laminar_share=share))
    rough = float(mixed(reynolds=reynolds, laminar_share=share, relative_roughness=ratio))
    assert rough >= smooth * (1.0 - 1e-12)
    if reynolds < 0.1 * float(cut_off_reynolds(relative_roughness=ratio)):
        assert rough == pytest.approx(smooth, rel=1e-12)


def test_schoenherr_solves_its_law() -> None:
    re = np.geomspace(1e4, 1e10, 50)
    cf = schoenherr(reynolds=re)
    assert 0.242 / np.sqrt(cf) == pytest.approx(np.log10(re * cf), rel=1e-12)


def test_a_share_outside_zero_and_one_is_unknown() -> None:
    assert np.isnan(mixed(reynolds=1e6, laminar_share=np.array([-0.1, 1.1]))).all()
    assert np.isnan(after_transition(reynolds=4e5))
