"""Duct: friction against an independent library, losses on the dynamic pressure, continuity."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from tests.credibility.records import agree, authority
from thrustlapse.air import gas
from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.propulsor.duct import Duct, duct_loss, friction_factor

PRESSURE, TEMPERATURE, AREA, DIAMETER = 104e3, 310.0, 8e-4, 0.03


@authority(part="nozzle", what="friction factor of pipes", status="independent",
           source="`fluids`, an open library: Churchill (1977), its `Churchill_1977`",
           kind="shared")
def test_friction_factor_as_fluids_has_it():
    """Laminar, between and turbulent; smooth and rough."""
    for rough in (0.0, 1e-4, 3e-3, 0.02):
        for reynolds in (500.0, 1800.0, 3000.0, 1e4, 2e5, 3e6):
            yield from agree(f"at Re {reynolds:g}, roughness {rough:g}",
                             friction_factor(reynolds=reynolds, relative_roughness=rough),
                             fluids.friction.Churchill_1977(reynolds, rough),
                             within=1e-9, why="the same expression elsewhere")


def test_laminar_friction_is_64_over_reynolds() -> None:
    """Hagen and Poiseuille (closed form)."""
    assert friction_factor(reynolds=700.0, relative_roughness=1e-3) == pytest.approx(64.0 / 700.0,
                                                                                    rel=1e-6)


@pytest.mark.parametrize("mach", [0.02, 0.15, 0.4])
@pytest.mark.parametrize("length", [0.0, 0.3, 1.0])
def test_loss_is_its_coefficients_of_dynamic_pressures(mach: float, length: float) -> None:
    """(K + f L / D) q at the entry's Mach number, with Re on the hydraulic diameter."""
    duct = Duct(area=AREA, loss_coefficient=0.25, length=length, hydraulic_diameter=DIAMETER,
                roughness=6e-5)
    flow = float(gas.mass_flow(area=AREA, mach=mach, total_pressure=PRESSURE,
                               total_temperature=TEMPERATURE))
    behind, found = duct_loss(duct, mass_flow=flow, total_pressure=PRESSURE,
                              total_temperature=TEMPERATURE)
    static = PRESSURE * float(gas.pressure_ratio(mach=mach))
    cold = TEMPERATURE * float(gas.temperature_ratio(mach=mach))
    reynolds = flow * DIAMETER / (AREA * float(sutherland_viscosity(temperature=cold)))
    friction = fluids.friction.Churchill_1977(reynolds, 6e-5 / DIAMETER)
    dynamic = 0.5 * gas.GAMMA * static * mach**2
    assert float(found) == pytest.approx(mach, rel=1e-9)
    assert PRESSURE - float(behind) == pytest.approx(
        (0.25 + friction * length / DIAMETER) * dynamic, rel=1e-8)


def test_still_air_loses_nothing_and_too_much_does_not_pass() -> None:
    duct = Duct(area=AREA, loss_coefficient=0.25, length=0.3, hydraulic_diameter=DIAMETER)
    choked = float(gas.mass_flow(area=AREA, mach=1.0, total_pressure=PRESSURE,
                                 total_temperature=TEMPERATURE))
    behind, mach = duct_loss(duct, mass_flow=np.array([0.0, 0.5 * choked, 1.01 * choked]),
                             total_pressure=PRESSURE, total_temperature=TEMPERATURE)
    assert behind[0] == PRESSURE
    assert mach[0] == 0.0
    assert PRESSURE * 0.9 < behind[1] < PRESSURE
    assert np.isnan([behind[2], mach[2]]).all()
