"""Machines built by hand, and hypothesis strategies that draw whole machines from sane ranges."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from thrustlapse.air.atmosphere import SEA_LEVEL_PRESSURE, Air, Site
from thrustlapse.air.gas import GAS_CONSTANT
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, Values
from thrustlapse.power.drive import Drive, cut
from thrustlapse.power.motor import (
    ConstantsMotor,
    EfficiencyMotor,
    constant_efficiency_motor,
    efficiency_motor,
)
from thrustlapse.power.pack import ResistanceCurve, Supply
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import Candidate, Installation
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import NOT_STATED, Band, CoefficientMap

DENSITY = 1.225
AIR = Air(pressure=SEA_LEVEL_PRESSURE,
          temperature=SEA_LEVEL_PRESSURE / (DENSITY * GAS_CONSTANT))
"""Air of exactly 1.225 kg/m^3, as the reference tables assume."""


def circle(diameter: float) -> float:
    """Area of a circle [m^2]."""
    return float(np.pi / 4.0 * diameter**2)


def kt(rpm_per_volt: float) -> float:
    """Torque constant [N m/A] of a speed constant in rpm/V."""
    return 60.0 / (2.0 * np.pi * rpm_per_volt)


def lossless_motor() -> EfficiencyMotor:
    """Motor and controller that turn all electrical power into shaft power."""
    return constant_efficiency_motor(efficiency=1.0)


BLOWER_MAP = CoefficientMap(head_shutoff=0.55, head_slope=0.2, head_curvature=-22.0,
                            work_shutoff=0.8, work_slope=-1.4, shutoff_power=0.012,
                            highest_flow=0.17)

BLOWER = Ducted(
    inlet=Inlet(throat_area=circle(0.023), lip_sharpness=0.2, loss_coefficient=0.3),
    rotor=Rotor(stage=BLOWER_MAP, tip_diameter=0.038, eye_area=circle(0.021) - circle(0.008)),
    duct=Duct(area=circle(0.026), loss_coefficient=0.2, length=0.05, hydraulic_diameter=0.026,
              roughness=5e-5, heat_share=0.8),
    nozzle=Nozzle(exit_area=circle(0.016), discharge_coefficient=0.96, velocity_coefficient=0.98),
    drive=Drive(motor=ConstantsMotor(torque_constant=kt(5000.0), resistance=0.06,
                                     no_load_current=1.0, no_load_current_slope=1e-4),
                power_limit=400.0, controller_efficiency=0.95, controller_lead_resistance=0.005,
                motor_lead_resistance=0.002),
    supply=Supply(voltage=24.0, resistance=0.09, units=1.0))

FAN = Ducted(
    inlet=Inlet(throat_area=circle(0.05), lip_sharpness=0.3, loss_coefficient=0.1),
    rotor=Rotor(stage=CoefficientMap(head_shutoff=0.30, head_slope=0.05, head_curvature=-6.0,
                                     work_shutoff=0.42, work_slope=-0.9, shutoff_power=0.004,
                                     highest_flow=0.30),
                tip_diameter=0.05, eye_area=circle(0.05) - circle(0.02)),
    duct=Duct(area=circle(0.048), loss_coefficient=0.1, length=0.08, hydraulic_diameter=0.03,
              roughness=5e-5, heat_share=0.9),
    nozzle=Nozzle(exit_area=circle(0.042), discharge_coefficient=0.97, velocity_coefficient=0.98),
    drive=Drive(motor=ConstantsMotor(torque_constant=kt(2600.0), resistance=0.05,
                                     no_load_current=1.5),
                controller_efficiency=0.95, controller_lead_resistance=0.005),
    supply=Supply(voltage=24.0, resistance=0.09, units=1.0))

PROPELLER_TABLE = PropellerTable(
    advance_ratio=np.linspace(0.0, 0.9, 10), shaft_speed=np.array([700.0, 2500.0]),
    thrust_points=np.array([[0.106, 0.104, 0.099, 0.091, 0.080, 0.066, 0.050, 0.033, 0.014, -0.007],
                            [0.110, 0.108, 0.103, 0.094, 0.082, 0.068, 0.052, 0.034, 0.015,
                             -0.006]]),
    power_points=np.array([[0.054, 0.055, 0.056, 0.056, 0.054, 0.050, 0.044, 0.035, 0.024, 0.011],
                           [0.052, 0.053, 0.054, 0.054, 0.052, 0.048, 0.042, 0.033, 0.022,
                            0.009]]))

PROPELLER = OpenRotor(
    table=PROPELLER_TABLE, diameter=0.178,
    drive=Drive(motor=ConstantsMotor(torque_constant=kt(1150.0), resistance=0.038,
                                     no_load_current=1.1),
                power_limit=400.0, controller_efficiency=0.95, controller_lead_resistance=0.005,
                motor_lead_resistance=0.002),
    supply=Supply(voltage=24.0, resistance=0.03, units=1.0))

ADVANCE = np.linspace(0.0, 0.9, 19)
CLOSED_FORM_PROPELLER = OpenRotor(
    table=PropellerTable(
        advance_ratio=ADVANCE, shaft_speed=np.array([500.0, 1000.0]),
        thrust_points=np.outer([0.95, 1.0], 0.11 - 0.13 * ADVANCE - 0.02 * ADVANCE**2),
        power_points=np.outer([1.0, 1.0], 0.05 + 0.01 * ADVANCE - 0.06 * ADVANCE**2)),
    diameter=0.18,
    drive=Drive(motor=ConstantsMotor(torque_constant=kt(1100.0), resistance=0.05,
                                     no_load_current=1.0),
                power_limit=400.0, controller_efficiency=0.95),
    supply=Supply(voltage=24.0, resistance=0.09, units=1.0))

AIRFRAME = Airframe(mass=0.62, wing_area=0.19, minimum_drag_coefficient=0.021,
                    induced_factor=0.0586, lift_of_least_drag=0.1, greatest_lift=1.05,
                    launch_speed=15.0)


def candidate(unit: Ducted | OpenRotor, *, name: str = "unit", mass: float = 1.0,
              drag_area: float = 4e-4, count: int = 1) -> Candidate:
    """A candidate of a unit with a pod's drag area [m^2] and an installed mass [kg]."""
    shared = replace(unit, supply=replace(unit.supply, units=float(count)))
    kind = "blower" if isinstance(unit, Ducted) else "propeller"
    return Candidate(name=name, kind=kind, unit=shared, count=count, installed_mass=mass,
                     installation=Installation(pod_drag_area=drag_area, frontal_area=0.004),
                     site=Site())


@dataclass(frozen=True, kw_only=True)
class LineMap:
    """A stage map in closed form: head and efficiency as functions of the annulus's own phi.

    psi = 0.55 - 0.50 phi on rho U^2 / 2, efficiency 0.70 - 2 (phi - 0.5)^2, phi = Vx / U: the
    made-up fan of ``matched_fan_*.csv``. It shows that a map need only answer six questions.
    """

    annulus: float
    diameter: float
    band: Band = NOT_STATED
    lowest_flow: float = 0.0
    highest_flow: float = 0.6
    stall_flow: float = 0.0

    def _phi(self, flow):
        return np.asarray(flow) * self.diameter**2 / self.annulus

    def head(self, flow):
        """Head coefficient [-]."""
        return 0.5 * (0.55 - 0.50 * self._phi(flow))

    def power(self, flow):
        """Power coefficient [-]."""
        phi = self._phi(flow)
        return np.asarray(flow) * self.head(flow) / (0.70 - 2.0 * (phi - 0.5) ** 2)

    def swirl(self, flow):
        """None."""
        return np.zeros(np.shape(flow))


# Whole machines, drawn ---------------------------------------------------------------------------

between = st.floats


@st.composite
def drives(draw) -> Drive:
    """A drive in which any limit may be the active one."""
    kind = draw(st.sampled_from(["constants", "efficiency"]))
    power = draw(st.one_of(between(60.0, 600.0), between(2e3, 9e3)))
    if kind == "efficiency":
        motor = efficiency_motor(load=np.array([0.2, 1.0]),
                                 efficiency=np.array([draw(between(0.4, 0.7)),
                                                      draw(between(0.7, 0.9))]),
                                 rated_shaft_power=300.0)
        return Drive(motor=motor, power_limit=power, controller_lead_resistance=0.004)
    limits = draw(st.sampled_from(["none", "power", "motor current", "supply current", "speed"]))
    return Drive(
        motor=ConstantsMotor(torque_constant=kt(draw(between(2500.0, 6000.0))),
                             resistance=draw(between(0.005, 0.1)),
                             no_load_current=draw(between(0.2, 2.0)),
                             no_load_current_slope=draw(between(0.0, 2e-4))),
        duty=draw(between(0.5, 1.0)),
        power_limit=power if limits == "power" else np.inf,
        motor_current_limit=draw(between(8.0, 90.0)) if limits == "motor current" else np.inf,
        supply_current_limit=draw(between(4.0, 60.0)) if limits == "supply current" else np.inf,
        speed_limit=draw(between(3000.0, 20e3)) if limits == "speed" else np.inf,
        motor_lead_resistance=0.002, controller_lead_resistance=0.005,
        controller_efficiency=draw(between(0.85, 1.0)))


@st.composite
def ducted_machines(draw) -> Ducted:
    """A ducted machine with every option on: swirl, heat, friction, lips, facings, chokes."""
    shutoff, slope = draw(between(0.2, 0.6)), draw(st.one_of(between(-1.0, 0.5),
                                                             between(2.0, 3.2)))
    curvature, work_slope = draw(between(-24.0, -8.0)), draw(between(-1.5, -0.5))
    peak = shutoff + max(slope, 0.0) ** 2 / (-4.0 * curvature)
    # no map beyond an efficiency of one
    work = draw(between(0.7, 0.9)) + max(peak - 0.18 * work_slope - 0.7, 0.0)
    facing = draw(st.sampled_from([0.0, 0.5, np.pi]))
    duct = draw(between(0.018, 0.034))
    return Ducted(
        inlet=Inlet(throat_area=circle(draw(between(0.010, 0.030))), facing=facing,
                    ram_recovery=1.0 if facing == 0.0 else draw(between(-0.2, 0.3)),
                    lip_sharpness=draw(between(0.0, 1.0)),
                    loss_coefficient=draw(between(0.0, 1.5))),
        rotor=Rotor(stage=CoefficientMap(
            head_shutoff=shutoff, head_slope=slope, head_curvature=curvature, work_shutoff=work,
            work_slope=work_slope, shutoff_power=draw(between(0.005, 0.03)),
            highest_flow=0.18, swirl_ratio=draw(between(0.0, 0.2))),
            tip_diameter=0.038, eye_area=circle(draw(between(0.012, 0.022)))),
        duct=Duct(area=circle(duct), loss_coefficient=draw(between(0.0, 0.6)),
                  length=draw(between(0.0, 0.2)), hydraulic_diameter=duct,
                  roughness=draw(between(0.0, 1e-4)), heat_share=draw(between(0.0, 1.0))),
        nozzle=Nozzle(exit_area=circle(duct * draw(between(0.35, 1.0))),
                      discharge_coefficient=draw(between(0.85, 0.94)),
                      velocity_coefficient=draw(between(0.96, 1.0))),
        drive=draw(drives()),
        supply=Supply(voltage=draw(st.one_of(between(14.0, 50.0), between(60.0, 120.0))),
                      resistance=draw(between(0.0, 0.12)),
                      units=float(draw(st.integers(1, 4)))))


def braked(drive: Drive) -> Drive:
    """The drive with its windings shorted: kt^2 omega / R, their inductance left out.

    An upper bound: kt^2 omega R / (R^2 + (omega_e L)^2) brakes less.
    """
    return replace(cut(drive), synchronous_rectification=True)


def blocked_speeds(machine: Ducted, *, pressure: Values, temperature: Values
                   ) -> tuple[Array, Array]:
    """Shaft speed [rad/s] with the outlet blocked, and with the inlet blocked; elementwise."""
    outlet, inlet = (operate_blocked(machine, pressure=pressure, temperature=temperature,
                                     inlet=np.array(shut)).shaft_speed for shut in (False, True))
    return outlet, inlet


CONSTANT_RESISTANCE = ResistanceCurve(
    state_of_charge=np.array([0.0, 1.0]), ratio=np.ones(2), source="taken as constant")
"""A resistance that does not change as the cell empties."""
