"""Invented candidates, packs and an airframe for the tests of flight."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from tests.machines import BLOWER, CLOSED_FORM_PROPELLER, FAN, circle
from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.aircraft.climb import ThrustLaw
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.thrust_source import Setting, nothing_running
from thrustlapse.arrays import Array, Values
from thrustlapse.power.drive import Drive, DriveLimit
from thrustlapse.power.motor import efficiency_motor
from thrustlapse.power.pack import Pack, cell_curve, supply
from thrustlapse.propulsor.candidate import Candidate, Installation, operate
from thrustlapse.propulsor.evaluate_matched import Running, Unknowns

SITE = Site(altitude=100.0)
PACK = Pack(curve=cell_curve("NMC"), series=6.0, parallel=1.0, cell_resistance=0.012,
            cell_capacity=2.2 * 3600.0, state_of_charge=0.95, lead_resistance=0.006)


def blower(*, count: int = 1, power: float = 420.0, efficiency: bool = False) -> Candidate:
    """High pressure, small jet; driven up to a power cap, as suction motors are."""
    motor = efficiency_motor(load=np.array([0.2, 1.0]), efficiency=np.array([0.7, 0.8]),
                             rated_shaft_power=450.0)
    drive = (Drive(motor=motor, power_limit=power) if efficiency else
             replace(BLOWER.drive, power_limit=power, motor_lead_resistance=0.0))
    unit = replace(BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=circle(0.019)), drive=drive,
                   supply=supply(PACK, units=float(count)))
    return Candidate(name="blower", kind="blower", unit=unit, count=count, installed_mass=0.62,
                     installation=Installation(frontal_area=circle(0.06), pod_drag_area=3.4e-4),
                     site=SITE)


def fan(*, count: int = 1) -> Candidate:
    """Full voltage only: the shaft slows as the pack runs down."""
    unit = replace(FAN, supply=supply(PACK, units=float(count)))
    return Candidate(name="fan", kind="axial fan", unit=unit, count=count, installed_mass=0.58,
                     installation=Installation(frontal_area=circle(0.062), pod_drag_area=3.6e-4),
                     site=SITE)


def propeller(*, count: int = 1, power: float = 400.0) -> Candidate:
    """Power cap at low airspeed, full voltage at high: the two limits meet in flight."""
    rotor = CLOSED_FORM_PROPELLER
    unit = replace(rotor, drive=replace(rotor.drive, power_limit=power),
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
