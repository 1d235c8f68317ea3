"""Invented candidates, packs and an airframe for the tests of flight."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.aircraft.climb import ThrustLaw
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.engine import Setting, nothing_running
from thrustlapse.arrays import Array, Values
from thrustlapse.power.drive import Drive, DriveLimit
from thrustlapse.power.motor import ConstantsMotor, efficiency_motor
from thrustlapse.power.pack import Pack, cell_curve, supply
from thrustlapse.propulsor.candidate import Candidate, Installation, operate
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.from_unknowns import Running, Unknowns
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import CoefficientMap

SITE = Site(altitude=100.0)
PACK = Pack(curve=cell_curve("NMC"), series=6.0, parallel=1.0, cell_resistance=0.012,
            cell_capacity=2.2 * 3600.0, state_of_charge=0.95, lead_resistance=0.006)


def circle(diameter: float) -> float:
    return float(np.pi / 4.0 * diameter**2)


def torque_constant(rpm_per_volt: float) -> float:
    return float(60.0 / (2.0 * np.pi * rpm_per_volt))


def blower(*, count: int = 1, power: float = 420.0, efficiency: bool = False) -> Candidate:
    """High pressure, small jet; driven up to a power cap, as suction motors are."""
    stage = CoefficientMap(head_shutoff=0.55, head_slope=0.2, head_curvature=-22.0,
                           work_shutoff=0.8, work_slope=-1.4, shutoff_power=0.012,
                           highest_flow=0.17)
    motor = (efficiency_motor(load=np.array([0.2, 1.0]), efficiency=np.array([0.7, 0.8]),
                              rated_shaft_power=450.0) if efficiency else
             ConstantsMotor(torque_constant=torque_constant(5000.0), resistance=0.06,
                            no_load_current=1.0, no_load_current_slope=1e-4))
    extra = {} if efficiency else {"controller_efficiency": 0.95,
                                   "controller_lead_resistance": 0.005}
    unit = Ducted(
        inlet=Inlet(throat_area=circle(0.023), lip_sharpness=0.2, loss_coefficient=0.3),
        rotor=Rotor(stage=stage, tip_diameter=0.038, eye_area=circle(0.021) - circle(0.008)),
        duct=Duct(area=circle(0.026), loss_coefficient=0.2, length=0.05, hydraulic_diameter=0.026,
                  roughness=5e-5, heat_share=0.8),
        nozzle=Nozzle(exit_area=circle(0.019), discharge_coefficient=0.96,
                      velocity_coefficient=0.98),
        drive=Drive(motor=motor, power_limit=power, **extra),
        supply=supply(PACK, units=float(count)))
    return Candidate(name="blower", kind="blower", unit=unit, count=count, installed_mass=0.62,
                     installation=Installation(frontal_area=circle(0.06), pod_drag_area=3.4e-4),
                     site=SITE)


def fan(*, count: int = 1) -> Candidate:
    """Full voltage only: the shaft slows as the pack runs down."""
    stage = CoefficientMap(head_shutoff=0.30, head_slope=0.05, head_curvature=-6.0,
                           work_shutoff=0.42, work_slope=-0.9, shutoff_power=0.004,
                           highest_flow=0.30)
    unit = Ducted(
        inlet=Inlet(throat_area=circle(0.05), lip_sharpness=0.3, loss_coefficient=0.1),
        rotor=Rotor(stage=stage, tip_diameter=0.05, eye_area=circle(0.05) - circle(0.02)),
        duct=Duct(area=circle(0.048), loss_coefficient=0.1, length=0.08,
                  hydraulic_diameter=0.03, roughness=5e-5, heat_share=0.9),
        nozzle=Nozzle(exit_area=circle(0.042), discharge_coefficient=0.97,
                      velocity_coefficient=0.98),
        drive=Drive(motor=ConstantsMotor(torque_constant=torque_constant(2600.0), resistance=0.05,
                                         no_load_current=1.5),
                    controller_efficiency=0.95, controller_lead_resistance=0.005),
        supply=supply(PACK, units=float(count)))
    return Candidate(name="fan", kind="axial fan", unit=unit, count=count, installed_mass=0.58,
                     installation=Installation(frontal_area=circle(0.062), pod_drag_area=3.6e-4),
                     site=SITE)


def propeller(*, count: int = 1, power: float = 400.0) -> Candidate:
    """Power cap at low airspeed, full voltage at high: the two limits meet in flight."""
    advance = np.linspace(0.0, 0.9, 19)
    thrust = 0.11 - 0.13 * advance - 0.02 * advance**2
    cost = 0.05 + 0.01 * advance - 0.06 * advance**2
    table = PropellerTable(advance_ratio=advance, shaft_speed=np.array([500.0, 1000.0]),
                           thrust_points=np.array([0.95 * thrust, thrust]),
                           power_points=np.array([cost, cost]))
    unit = OpenRotor(table=table, diameter=0.18,
                     drive=Drive(motor=ConstantsMotor(torque_constant=torque_constant(1100.0),
                                                      resistance=0.05, no_load_current=1.0),
                                 power_limit=power, controller_efficiency=0.95),
                     supply=supply(PACK, units=float(count)))
    return Candidate(name="propeller", kind="propeller", unit=unit, count=count,
                     installed_mass=0.55,
                     installation=Installation(frontal_area=circle(0.035), pod_drag_area=1.2e-4,
                                               scrubbed_area=0.008, scrubbing_friction=0.005),
                     site=SITE)


AIRFRAME = Airframe(mass=0.9, wing_area=0.16, minimum_drag_coefficient=0.02, induced_factor=0.06,
                    lift_of_least_drag=0.1, greatest_lift=1.0, launch_speed=16.0)


def thrust_law(candidate: Candidate) -> ThrustLaw:
    """Installed thrust of a candidate on its own supply, as a thrust law."""
    def law(airspeed: Array, altitude: Array) -> Array:
        return operate(candidate, airspeed=airspeed, altitude=altitude).installed_thrust

    return law


@dataclass(frozen=True, kw_only=True)
class LawEngine:
    """Any thrust law [N] of airspeed [m/s] and altitude [m], without pack or losses.

    Its books know thrust power only. Part power is whatever share of the law is wanted.
    """

    law: ThrustLaw
    name: str = "thrust law"
    site: Site = field(default_factory=Site)
    highest_airspeed: float = 1000.0

    @property
    def pack(self) -> None:
        """None: it draws on nothing."""
        return

    def known_to(self, state_of_charge: Values) -> Array:
        """Highest airspeed of the law [m/s]."""
        return np.full(np.shape(state_of_charge), self.highest_airspeed)

    def _pushing(self, thrust: Array, airspeed: Values) -> Running:
        values = nothing_running(np.shape(thrust))
        values["net_thrust"] = thrust
        values["electrical_power"] = thrust * np.asarray(airspeed)
        values["drive_limit_code"] = np.full(np.shape(thrust), int(DriveLimit.NONE))
        return Running(**values)

    def known_margin(self, *, airspeed: Values, altitude: Values,  # noqa: ARG002
                     state_of_charge: Values) -> Array:  # noqa: ARG002
        """Known up to the highest airspeed [-]."""
        return np.asarray(1.0 - np.asarray(airspeed) / self.highest_airspeed)

    def full(self, *, air: Air, airspeed: Values, altitude: Values,  # noqa: ARG002
             state_of_charge: Values, beyond: bool = False) -> Running:  # noqa: ARG002
        """The law itself."""
        return self._pushing(np.asarray(self.law(np.asarray(airspeed, dtype=float),
                                                 np.asarray(altitude, dtype=float))), airspeed)

    def held(self, setting: Setting, *, air: Air, airspeed: Values,  # noqa: ARG002
             state_of_charge: Values) -> Running:  # noqa: ARG002
        """The thrust asked for, which a law keeps in ``torque``."""
        return self._pushing(np.full(np.shape(airspeed), setting.torque), airspeed)

    def hold_margin(self, setting: Setting, *, state_of_charge: Values) -> Array:  # noqa: ARG002
        """Always enough."""
        return np.ones(np.shape(state_of_charge))

    def cut(self, *, air: Air, airspeed: Values, extra_drag_area: Values = 0.0) -> Running:
        """No thrust."""
        dynamic = 0.5 * air.density * np.square(airspeed)
        values = nothing_running(np.shape(dynamic))
        values["external_drag"] = dynamic * extra_drag_area
        return Running(**values)

    def setting(self, *, air: Air, airspeed: float, altitude: float, thrust: float,  # noqa: ARG002
                state_of_charge: float) -> Setting | None:  # noqa: ARG002
        """The thrust, where the law reaches it."""
        full = float(np.asarray(self.law(np.asarray(airspeed), np.asarray(altitude))))
        none = np.zeros(())
        return Setting(shaft_speed=0.0, torque=thrust, unknowns=Unknowns(
            shaft_speed=none, flow=none, throat=none)) if full >= thrust else None
