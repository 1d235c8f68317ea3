"""Skin friction in passages, and the named finishes."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.rotor.wall_friction import FINISHES, skin_friction_coefficient


@given(reynolds=st.floats(1.0, 1500.0))
def test_laminar_flow_is_poiseuille(reynolds):
    # closed form 16 / Re; Churchill's expression is within 0.1 % below Re 1500
    got = skin_friction_coefficient(reynolds=reynolds, relative_roughness=0.0)
    assert got == pytest.approx(16.0 / reynolds, rel=1e-3)


@given(reynolds=st.floats(5e3, 1e7), roughness=st.floats(0.0, 0.03))
def test_turbulent_flow_agrees_with_colebrook(reynolds, roughness):
    # rival: Colebrook and White as an independent library solves it; Churchill states 3 %
    rival = fluids.friction.Colebrook(Re=reynolds, eD=roughness) / 4.0
    got = skin_friction_coefficient(reynolds=reynolds, relative_roughness=roughness)
    assert got == pytest.approx(rival, rel=0.04)


def test_mean_line_practice():
    # from memory: 0.005 to 0.01 in vaneless diffusers; a suction blower's is at Re near 5e4
    smooth, rough = skin_friction_coefficient(reynolds=5e4, relative_roughness=np.array([0, 5e-3]))
    assert 0.005 < smooth < rough < 0.01


def test_printed_walls_rub_more():
    depth = 8e-3
    order = ["hydraulically smooth", "moulded plastic", "resin print",
             "filament print, sanded and filled", "filament print, fine layers",
             "filament print, coarse layers"]
    cost = skin_friction_coefficient(
        reynolds=5e4, relative_roughness=np.array([FINISHES[name] for name in order]) / depth)
    assert (np.diff(cost) > 0.0).all()
