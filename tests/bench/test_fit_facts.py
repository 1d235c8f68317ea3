"""Facts of the trade about suction-motor blowers (common practice, no source), from a few readings.

Three readings and what is typical must give a machine that is physical and does all that is said.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.machines import candidate, circle
from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.bench.readings import bench_readings
from thrustlapse.power.drive import Drive
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.rotor.stage_map import CoefficientMap, efficiency
from thrustlapse.study.bench_fit import fit_bench

GF = GRAVITY / 1000.0
RPM = np.pi / 30.0
EYE = 0.021

SUCTION_BLOWER = candidate(Ducted(
    inlet=Inlet(throat_area=circle(EYE), lip_sharpness=0.3, loss_coefficient=0.15),
    rotor=Rotor(stage=CoefficientMap(
        head_shutoff=0.55, head_curvature=-0.55 / 0.13**2, work_shutoff=0.8, work_slope=-4.0,
        shutoff_power=0.012, highest_flow=0.13), tip_diameter=0.040,
        eye_area=circle(EYE) - circle(0.007)),
    duct=Duct(area=circle(0.026), loss_coefficient=0.25, length=0.05, hydraulic_diameter=0.026,
              roughness=1e-4, heat_share=0.8),
    nozzle=Nozzle(exit_area=circle(EYE), discharge_coefficient=0.96, velocity_coefficient=0.98),
    drive=Drive(motor=ConstantsMotor(torque_constant=0.0022, resistance=0.12,
                                     no_load_current=1.0)),
    supply=Supply(voltage=22.0)))
"""A guess of such a machine: wheel of 40 mm, an eye of 21 mm, motor on 22 V without any cap."""

READINGS = bench_readings(
    nozzle_diameter=[EYE, 0.019, EYE], voltage=22.0, setting=["high", "high", "low"],
    thrust=[190.0 * GF, 1.14 * 190.0 * GF, np.nan], electrical_power=[350.0, np.nan, 120.0],
    shaft_speed=[82500.0 * RPM, np.nan, np.nan], air_temperature=293.15, air_pressure=101325.0,
    spread={"thrust": 0.04, "electrical_power": [10.0, 10.0, 5.0], "shaft_speed": 100.0})
"""About 350 W at about 82,500 rpm and 190 gf through an exit as wide as the eye; roughly 14 % more
through a slightly tighter one, taken as 19 mm; the low setting draws about 120 W (common practice,
no source)."""


@pytest.fixture(scope="module")
def fit():
    return fit_bench(SUCTION_BLOWER, READINGS)


def running(fit, **changes):
    """The fitted machine at full duty of the high setting, at rest, as a candidate."""
    duty = next(value for one, value in zip(fit.unknowns, fit.values, strict=True)
                if one.setting == "high")
    unit = replace(fit.candidate.unit, drive=replace(fit.candidate.unit.drive, duty=float(duty)),
                   supply=Supply(voltage=22.0), **changes)
    return replace(fit.candidate, unit=unit)


def test_the_fit_is_physical(fit) -> None:
    stage = fit.candidate.unit.rotor.stage
    flow = np.linspace(1e-3, 0.13, 200)
    best = float(np.nanmax(efficiency(stage, flow)))
    # small fans and suction units: 24 to 53 % with their motor (catalogue), impellers to 78 %
    # (abstracts); blower-motor.md section 4
    assert 0.24 < best < 0.78
    # sealed suction: 1.0 to 1.2 on rho U^2 / 2 (from memory), blower-motor.md section 4
    assert 0.45 < float(stage.head(0.0)) < 0.65
    assert 0.02 < float(operate(running(fit), airspeed=0.0).flow_coefficient) < 0.13
    assert not [text for text in fit.messages if "sits on" in text or "contradict" in text]


def test_it_gives_the_thrust_at_rest_and_more_through_a_tighter_nozzle(fit) -> None:
    wide = operate(running(fit), airspeed=0.0)
    tight = operate(running(fit, nozzle=replace(fit.candidate.unit.nozzle,
                                                exit_area=circle(0.019))), airspeed=0.0)
    assert float(wide.net_thrust) / GF == pytest.approx(190.0, abs=8.0)
    assert float(wide.electrical_power) == pytest.approx(350.0, abs=20.0)
    assert float(wide.shaft_speed) / RPM == pytest.approx(82500.0, rel=0.03)
    assert float(tight.net_thrust / wide.net_thrust) == pytest.approx(1.14, abs=0.04)


def test_the_low_setting_draws_its_watts(fit) -> None:
    low = [one for one in fit.residuals if one.quantity == "electrical_power" and one.read < 200.0]
    assert low[0].fitted == pytest.approx(120.0, abs=10.0)


@pytest.mark.parametrize("inlet", [False, True])
def test_blocked_the_speed_rises_and_the_power_falls(fit, inlet) -> None:
    open_point = operate(running(fit), airspeed=0.0)
    shut = operate_blocked(running(fit).unit, pressure=101325.0, temperature=293.15,
                           inlet=np.array(inlet))
    assert float(shut.shaft_speed) > 1.02 * float(open_point.shaft_speed)
    assert float(shut.electrical_power) < 0.9 * float(open_point.electrical_power)


def test_an_inlet_facing_aft_changes_nothing_that_shows(fit) -> None:
    ahead = running(fit, inlet=replace(fit.candidate.unit.inlet, lip_sharpness=0.0))
    aft = running(fit, inlet=replace(fit.candidate.unit.inlet, lip_sharpness=0.0, facing=np.pi,
                                     ram_recovery=0.0))
    speeds = np.array([0.0, 8.0])
    thrust = operate(ahead, airspeed=speeds).net_thrust / GF
    turned = operate(aft, airspeed=speeds).net_thrust / GF
    assert turned[0] == pytest.approx(thrust[0], abs=0.5)  # grams on a kitchen scale
    assert turned[1] == pytest.approx(thrust[1], rel=0.03)
