"""The thin lip at rest, against the momentum theorem's own table."""

from __future__ import annotations

import pytest

from tests.authority import rows
from tests.credibility.records import agree, authority
from thrustlapse.propulsor.inlet import Inlet, inlet_state

P0, TT = 101_325.0, 288.15


@authority(part="nozzle", what="thin lip at rest", status="closed form",
           source="momentum theorem p0 = p (1 + gamma M^2)")
def test_a_thin_lip_at_rest():
    """The choked row is the 79 % printed in NACA TN 3004 (Fradenburgh and Wyatt, 1953); at
    vanishing Mach number the loss is one dynamic pressure (Borda)."""
    for row in rows("sharp_lip_inlet_static"):
        mach = row["duct_mach"]
        found = inlet_state(Inlet(throat_area=1e-3, lip_sharpness=1.0), throat=mach, pressure=P0,
                            total_pressure=P0, total_temperature=TT, airspeed=0.0)
        yield from agree(f"pt/p0 at Mach {mach:g}", found.total_pressure / P0, row["pt_over_p0"],
                         within=1e-6, why="printed digits")
        dynamic = 0.7 * found.static_pressure * mach**2
        yield from agree(f"loss over dynamic pressure at Mach {mach:g}",
                         (P0 - found.total_pressure) / dynamic,
                         row["K_total_pressure_loss_over_q"], within=2e-6, why="printed digits")


def test_a_smooth_lip_at_rest_loses_nothing() -> None:
    found = inlet_state(Inlet(throat_area=1e-3), throat=0.4, pressure=P0, total_pressure=P0,
                        total_temperature=TT, airspeed=0.0)
    assert float(found.total_pressure) == P0


@pytest.mark.parametrize("facing", [0.0, 0.5, 1.0])
def test_the_two_branches_of_a_thin_lip_join_at_any_angle(facing) -> None:
    """Once a jump at an angle let a balance sit where there was none."""
    import numpy as np

    lip = Inlet(throat_area=1e-3, lip_sharpness=1.0, facing=facing)
    airspeed = 60.0
    total = TT + airspeed**2 / 2009.37
    along = airspeed * np.cos(facing)
    machs = along / np.sqrt(1.4 * 287.05287 * (total - along**2 / 2009.37)) * np.array(
        [1.0 - 1e-7, 1.0 + 1e-7])
    found = inlet_state(lip, throat=machs, pressure=P0, total_pressure=P0 * 1.02,
                        total_temperature=total, airspeed=airspeed)
    assert found.total_pressure[0] == pytest.approx(found.total_pressure[1], rel=1e-6)
