"""The thin lip at rest, against the momentum theorem's own table."""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import rows
from tests.credibility.records import agree, authority
from thrustlapse.air import gas
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT
from thrustlapse.propulsor.inlet import Inlet, additive_drag, inlet_state, spills

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

    lip = Inlet(throat_area=1e-3, lip_sharpness=1.0, facing=facing)
    airspeed = 60.0
    total = TT + airspeed**2 / 2009.37
    along = airspeed * np.cos(facing)
    machs = along / np.sqrt(1.4 * 287.05287 * (total - along**2 / 2009.37)) * np.array(
        [1.0 - 1e-7, 1.0 + 1e-7])
    found = inlet_state(lip, throat=machs, pressure=P0, total_pressure=P0 * 1.02,
                        total_temperature=total, airspeed=airspeed)
    assert found.total_pressure[0] == pytest.approx(found.total_pressure[1], rel=1e-6)


# In flight, by the relations of a gas and the momentum theorem ----------------------------------

HEAT = GAMMA / (GAMMA - 1.0) * GAS_CONSTANT


def flown(inlet: Inlet, *, mach: float, airspeed: float, static: float = 280.0):
    """State at a throat Mach number in still air at 95 kPa, and the free stream's totals."""
    flight = airspeed / gas.speed_of_sound(temperature=static)
    total = {"total_pressure": float(gas.total_pressure(pressure=95e3, mach=flight)),
             "total_temperature": float(gas.total_temperature(temperature=static, mach=flight))}
    return inlet_state(inlet, throat=mach, pressure=95e3, airspeed=airspeed, **total), total


@pytest.mark.parametrize("throat", [0.05, 0.3, 0.7, 1.0, 1.4])
@pytest.mark.parametrize("share", [1.0, 0.6, -0.2])
def test_a_smooth_lip_recovers_its_share_and_passes_by_continuity(throat, share) -> None:
    """pt1 = p0 + eta (pt0 - p0); guards cost their coefficient of dynamic pressures; above 1 the
    throat is sonic and shocks divide what arrives at the rotor."""
    inlet = Inlet(throat_area=5e-4, ram_recovery=share, loss_coefficient=0.3)
    state, total = flown(inlet, mach=throat, airspeed=90.0)
    mach = min(throat, 1.0)
    arrives = 95e3 + share * (total["total_pressure"] - 95e3)
    assert float(state.total_pressure) == pytest.approx(arrives, rel=1e-12)
    assert float(state.mach) == mach
    static = arrives * float(gas.pressure_ratio(mach=mach))
    dynamic = arrives * 0.5 * GAMMA * mach**2 * float(gas.pressure_ratio(mach=mach))
    assert float(state.face_pressure) == pytest.approx(
        (arrives - 0.3 * dynamic) / max(throat, 1.0), rel=1e-12)
    assert float(state.static_pressure) == pytest.approx(static, rel=1e-12)
    temperature = total["total_temperature"] * float(gas.temperature_ratio(mach=mach))
    assert float(state.speed) == pytest.approx(
        mach * float(gas.speed_of_sound(temperature=temperature)), rel=1e-12)
    assert float(state.mass_flow) == pytest.approx(float(gas.mass_flow(
        area=5e-4, mach=mach, total_pressure=arrives,
        total_temperature=total["total_temperature"])), rel=1e-12)


@pytest.mark.parametrize("facing", [0.0, 0.4, 1.2, np.pi / 2.0, 2.5, np.pi])
@pytest.mark.parametrize("throat", [0.05, 0.2045, 0.3, 0.8])
@pytest.mark.parametrize("sharpness", [1.0, 0.4])
def test_a_thin_lip_obeys_the_momentum_theorem_at_any_angle(facing, throat, sharpness) -> None:
    """p1 (1 + gamma M1^2) = p0 + rho1 V1 V0 cos(theta) where it sucks air in, and the total
    pressure of the component along its axis where it spills; blended with the rounded lip."""
    airspeed = 70.0
    inlet = Inlet(throat_area=5e-4, facing=facing, lip_sharpness=sharpness)
    state, total = flown(inlet, mach=throat, airspeed=airspeed)
    temperature = total["total_temperature"] * float(gas.temperature_ratio(mach=throat))
    speed = throat * float(gas.speed_of_sound(temperature=temperature))
    along = airspeed * np.cos(facing)
    if speed > along:
        # rho1 = p1 / (R T1): solve for p1
        static = 95e3 / (1.0 + GAMMA * throat**2
                         - speed * along / (GAS_CONSTANT * temperature))
        thin = static / float(gas.pressure_ratio(mach=throat))
        assert static * (1.0 + GAMMA * throat**2) == pytest.approx(
            95e3 + static / (GAS_CONSTANT * temperature) * speed * along, rel=1e-12)
    else:
        still = total["total_temperature"] - along**2 / (2.0 * HEAT)
        thin = 95e3 * (total["total_temperature"] / still) ** 3.5
    expected = total["total_pressure"] + sharpness * (thin - total["total_pressure"])
    assert float(state.total_pressure) == pytest.approx(expected, rel=1e-10)
    assert float(state.speed) == pytest.approx(speed, rel=1e-12)
    assert bool(spills(inlet, state=state, airspeed=airspeed)) == (
        speed < along and facing < np.pi / 3.0)


@pytest.mark.parametrize("facing", [0.0, 0.5])
def test_additive_drag_is_momentum_and_pressure_on_the_stream_tube(facing) -> None:
    """s (mdot (V1 - V0 cos) + (p1 - p0) A1) with p1 of the stream brought to the throat's Mach
    number without loss; positive where it spills, none where the throat is faster."""
    airspeed, area = 80.0, 5e-4
    inlet = Inlet(throat_area=area, facing=facing, lip_sharpness=0.25)
    for throat, spilling in ((0.06, True), (0.15, True), (0.5, False)):
        state, total = flown(inlet, mach=throat, airspeed=airspeed)
        found = float(additive_drag(inlet, state=state, pressure=95e3, airspeed=airspeed,
                                    total_temperature=total["total_temperature"]))
        along = airspeed * np.cos(facing)
        still = total["total_temperature"] - along**2 / (2.0 * HEAT)
        static = (95e3 * (total["total_temperature"] / still) ** 3.5
                  * float(gas.pressure_ratio(mach=throat)))
        push = float(state.mass_flow) * (float(state.speed) - along) + (static - 95e3) * area
        assert found == (pytest.approx(0.25 * push, rel=1e-10) if spilling else 0.0)
        assert (found > 0.0) == spilling


def test_slow_additive_drag_is_the_textbooks_incompressible_one() -> None:
    """rho A (V0 - V1)^2 / 2 for incompressible flow (closed form from Bernoulli and momentum)."""
    inlet = Inlet(throat_area=5e-4, lip_sharpness=1.0)
    state, total = flown(inlet, mach=0.01, airspeed=12.0)
    found = float(additive_drag(inlet, state=state, pressure=95e3, airspeed=12.0,
                                total_temperature=total["total_temperature"]))
    density = 95e3 / (GAS_CONSTANT * 280.0)
    expected = 0.5 * density * 5e-4 * (12.0 - float(state.speed)) ** 2
    assert found == pytest.approx(expected, rel=2e-3)
