"""From the checked file to parts in SI, with a sentence for every default that had to stand in.

A default is never silent: what it is, how large it comes out here, and how well it is founded go
into the candidate's ``assumptions``, which every write-up prints.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.aircraft.drag import Airframe, induced_factor
from thrustlapse.power.drive import Drive
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate, Installation, Ratings
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted_match import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.scenario.motor_schema import (
    ConstantsMotorSection,
    DriveSection,
    EfficiencyMotorSection,
)
from thrustlapse.scenario.propulsor_schema import (
    AxialFanSection,
    BlowerSection,
    CandidateSection,
    DuctedPropellerSection,
    DuctSection,
    InletSection,
    PropellerSection,
    RotorSection,
    disc,
)
from thrustlapse.scenario.schema import AirframeSection
from thrustlapse.scenario.units import shown as shown_exactly

INLET_LOSS = {"blower": 0.15, "axial fan": 0.05}
"""Guard and motor struts in front of the rotor, on the throat's dynamic pressure (judgement)."""

DUCT_LOSS = {"blower": 0.25, "axial fan": 0.08}
"""Bend from scroll to nozzle, or motor and struts behind a fan (judgement)."""

ROUGHNESS = {"blower": 1e-4, "axial fan": 1.5e-6}
"""Printed scroll, moulded fan duct [m]; the words of ``propulsor_schema.WALLS``."""

HEAT_SHARE = {"blower": 0.8, "axial fan": 0.8}
"""Share of the motor's heat that its own stream carries off (judgement)."""

CONTROLLER_EFFICIENCY = 0.95
"""Controllers alone give 0.92 to 0.98 (from memory)."""

MOTOR_LEADS, CONTROLLER_LEADS = 2e-3, 5e-3
"""Lead resistance [ohm]: 0.6 m of AWG 14 there and back is 5 mohm (wire table)."""

POD_WIDTH = {"blower": 1.7, "axial fan": 1.15, "propeller": 0.18}
"""Diameter of casing, duct or motor pod over the rotor's tip diameter (judgement)."""

POD_DRAG = 0.12
"""Drag coefficient of a smooth pod on its frontal area; streamlined nacelles have 0.06 to 0.15
(from memory)."""

BASE_SHARE = {"blower": 0.10, "axial fan": 0.05, "propeller": 0.05}
"""Blunt rear over the pod's frontal area (judgement)."""

BASE_DRAG = 0.13
"""Drag coefficient of a base behind a body (judgement, after slender bodies in Hoerner)."""

SCRUBBED = {"blower": 2.0, "axial fan": 2.0, "propeller": 0.5}
"""Airframe surface in the jet over jet area, or in the slipstream over disc area (judgement)."""

SCRUBBING_FRICTION = 0.005
"""Turbulent skin friction at a Reynolds number of a few hundred thousand (flat-plate formulas)."""


def shown(value: float, kind: str) -> str:
    """A default for a sentence: three figures, in the unit people read."""
    return shown_exactly(float(f"{value:.3g}"), kind)


class Told:
    """Collects the sentences about defaults while parts are built."""

    def __init__(self) -> None:
        self.sentences: list[str] = []

    def default(self, given: float | None, value: float, sentence: str) -> float:
        """The value given, or the default with its sentence noted."""
        if given is not None:
            return given
        self.sentences.append(sentence)
        return value


def build_airframe(section: AirframeSection) -> Airframe:
    """Airframe in SI."""
    area = section.wing_area
    ratio = section.aspect_ratio if section.span is None else section.span**2 / area
    factor = section.induced_factor
    if factor is None:
        assert ratio is not None
        assert section.span_efficiency is not None
        factor = float(induced_factor(aspect_ratio=ratio,
                                      span_efficiency=section.span_efficiency))
    least = section.minimum_drag_coefficient
    if least is None:
        assert section.drag_area is not None
        least = section.drag_area / area
    return Airframe(mass=section.mass, wing_area=area, minimum_drag_coefficient=least,
                    induced_factor=factor,
                    lift_of_least_drag=section.lift_coefficient_of_least_drag,
                    greatest_lift=section.greatest_lift_coefficient,
                    launch_speed=section.launch_speed, drag_rise_mach=section.drag_rise_mach)


def build_candidate(name: str, section: CandidateSection, *, source: Supply, source_mass: float,
                    site: Site) -> Candidate:
    """Candidate in SI on a pack or bench supply of a mass [kg] at a site."""
    told = Told()
    shared = replace(source, units=float(section.count))
    drive = _drive(section.drive, section.motor, told)
    unit: Ducted | OpenRotor
    if isinstance(section, BlowerSection | AxialFanSection):
        unit = _ducted(section, drive, shared, site.air(), told)
    else:
        unit = _open_rotor(section, drive, shared, site.air(), told)
    return Candidate(
        name=name, kind=section.kind, unit=unit, count=section.count,
        installed_mass=section.count * section.unit_mass + source_mass,
        installation=_installation(section, told), site=site, ratings=_ratings(section),
        assumptions=tuple(told.sentences))


def _drive(section: DriveSection, motor: ConstantsMotorSection | EfficiencyMotorSection,
           told: Told) -> Drive:
    caps = {name: float("inf") if getattr(section, name) is None else getattr(section, name)
            for name in ("power_limit", "motor_current_limit", "supply_current_limit",
                         "speed_limit")}
    leads = told.default(section.controller_lead_resistance, CONTROLLER_LEADS,
                         f"{shown(CONTROLLER_LEADS, 'resistance')} of leads between pack and "
                         "controller (0.6 m of AWG 14 there and back)")
    if not isinstance(motor, ConstantsMotorSection):
        return Drive(motor=motor.motor(), controller_lead_resistance=leads, **caps)
    efficiency = told.default(section.controller_efficiency, CONTROLLER_EFFICIENCY,
                              f"controller efficiency {CONTROLLER_EFFICIENCY:g} (0.92 to 0.98 is "
                              "usual, from memory)")
    motor_leads = told.default(section.motor_lead_resistance, MOTOR_LEADS,
                               f"motor leads of {shown(MOTOR_LEADS, 'resistance')} (judgement)")
    return Drive(motor=motor.motor(), duty=1.0 if section.duty is None else section.duty,
                 motor_lead_resistance=motor_leads, controller_lead_resistance=leads,
                 controller_efficiency=efficiency, **caps)


def _ducted(section: BlowerSection | AxialFanSection, drive: Drive, shared: Supply, air: Air,
            told: Told) -> Ducted:
    stage, sentences = section.map.finished(rotor=section.rotor, air=air)
    told.sentences += sentences
    return Ducted(
        inlet=_inlet(section.inlet, section.kind, told),
        rotor=Rotor(stage=stage, tip_diameter=section.rotor.tip_diameter,
                    eye_area=eye_area(section.rotor)),
        duct=_duct(section.duct, section.kind, told), nozzle=_nozzle(section, told), drive=drive,
        supply=shared)


def _inlet(section: InletSection, kind: str, told: Told) -> Inlet:
    area = disc(section.throat_diameter) if section.throat_area is None else section.throat_area
    recovery = section.ram_recovery
    if recovery is None:
        recovery = 1.0 if section.facing == 0.0 else 0.0
        told.sentences.append(
            "ram recovery 1: a clean inlet facing forward" if recovery else
            "ram recovery 0: an inlet that does not face forward breathes still air")
    loss = told.default(section.loss_coefficient, INLET_LOSS[kind],
                        f"inlet loss coefficient {INLET_LOSS[kind]:g} (judgement)")
    return Inlet(throat_area=area, facing=section.facing, ram_recovery=recovery,
                 lip_sharpness=section.lip, loss_coefficient=loss)


def eye_area(section: RotorSection) -> float:
    """Flow area at the rotor face [m^2]."""
    if section.eye_area is not None:
        return section.eye_area
    outer = section.tip_diameter if section.eye_diameter is None else section.eye_diameter
    return disc(outer) - disc(section.hub_diameter or 0.0)


def _duct(section: DuctSection, kind: str, told: Told) -> Duct:
    round_diameter = float(np.sqrt(4.0 / np.pi * section.flow_area))
    hydraulic = section.hydraulic_diameter
    if hydraulic is None:
        hydraulic = section.diameter or round_diameter
    loss = told.default(section.loss_coefficient, DUCT_LOSS[kind],
                        f"duct loss coefficient {DUCT_LOSS[kind]:g} (judgement)")
    rough = told.default(section.roughness, ROUGHNESS[kind],
                         f"wall roughness {shown(ROUGHNESS[kind], 'length')} "
                         f"({'printed' if kind == 'blower' else 'moulded'})")
    heat = told.default(section.heat_share, HEAT_SHARE[kind],
                        f"{100 * HEAT_SHARE[kind]:g} % of the motor's heat goes into the air "
                        "(judgement)")
    return Duct(area=section.flow_area, loss_coefficient=loss, length=section.length,
                hydraulic_diameter=hydraulic, roughness=rough, heat_share=heat)


def _nozzle(section: BlowerSection | AxialFanSection, told: Told) -> Nozzle:
    nozzle = section.nozzle
    discharge, velocity = nozzle.coefficients
    for key, value in (("discharge", discharge), ("velocity", velocity)):
        if not nozzle.given(f"{key}_coefficient"):
            told.sentences.append(f"nozzle {key} coefficient {value:g} (short convergent nozzles, "
                                  "from memory)")
    return Nozzle(exit_area=nozzle.flow_area, discharge_coefficient=discharge,
                  velocity_coefficient=velocity)


def _open_rotor(section: PropellerSection | DuctedPropellerSection, drive: Drive, shared: Supply,
                air: Air, told: Told) -> OpenRotor:
    table, sentences = section.table.finished(diameter=section.diameter, air=air)
    told.sentences += sentences
    ratio = section.exit_area_ratio if isinstance(section, DuctedPropellerSection) else 0.0
    return OpenRotor(table=table, diameter=section.diameter, exit_area_ratio=ratio, drive=drive,
                     supply=shared)


def _installation(section: CandidateSection, told: Told) -> Installation:
    given, kind = section.installation, section.kind
    if isinstance(section, DuctedPropellerSection):
        return _whole_unit_installation(section, told)
    ducted = isinstance(section, BlowerSection | AxialFanSection)
    if isinstance(section, PropellerSection):
        tip = section.diameter
        stream = disc(tip)
    else:
        tip, stream = section.rotor.tip_diameter, section.nozzle.flow_area
    width = POD_WIDTH[kind] * tip if given.pod_diameter is None else given.pod_diameter
    across = disc(width)
    coefficient = POD_DRAG if given.pod_drag_coefficient is None else given.pod_drag_coefficient
    area = coefficient * across
    how = (f"{POD_WIDTH[kind]:g} times the tip diameter wide" if given.pod_diameter is None
           else f"{shown(width, 'length')} wide")
    pod = told.default(given.pod_drag_area, area,
                       f"pod drag area {shown(area, 'area')}: {coefficient:g} on the frontal area "
                       f"of a pod {how} (judgement)")
    base_area = told.default(given.base_area, BASE_SHARE[kind] * across,
                             f"base area {shown(BASE_SHARE[kind] * across, 'area')}: "
                             f"{100 * BASE_SHARE[kind]:g} % of the pod's frontal area (judgement)")
    base_drag = (BASE_DRAG if given.base_drag_coefficient is None
                 else given.base_drag_coefficient)
    wet = SCRUBBED[kind] * stream
    scrubbed = told.default(given.scrubbed_area, wet,
                            f"{shown(wet, 'area')} of airframe rubbed by the "
                            f"{'jet' if ducted else 'slipstream'}: {SCRUBBED[kind]:g} times "
                            f"{'the exit' if ducted else 'the disc'} area (judgement)")
    friction = (SCRUBBING_FRICTION if given.scrubbing_friction is None
                else given.scrubbing_friction)
    frontal = given.frontal_area
    if frontal is None:
        frontal = across if ducted else disc(tip)
    return Installation(pod_drag_area=pod, base_area=base_area, base_drag_coefficient=base_drag,
                        scrubbed_area=scrubbed, scrubbing_friction=friction,
                        frontal_area=frontal)


def _whole_unit_installation(section: DuctedPropellerSection, told: Told) -> Installation:
    """Coefficients of a whole ducted unit have the drag of duct and struts inside their thrust."""
    given = section.installation
    jet = section.exit_area_ratio * disc(section.diameter)
    pod = told.default(given.pod_drag_area, 0.0, "no pod drag beside the thrust: the coefficients "
                       "are of the whole unit, duct and struts included")
    wet = SCRUBBED["axial fan"] * jet
    scrubbed = told.default(given.scrubbed_area, wet, f"{shown(wet, 'area')} of airframe rubbed by "
                            "the jet: twice the exit area (judgement)")
    across = jet if given.frontal_area is None else given.frontal_area
    return Installation(
        pod_drag_area=pod, base_area=given.base_area or 0.0,
        base_drag_coefficient=(BASE_DRAG if given.base_drag_coefficient is None
                               else given.base_drag_coefficient),
        scrubbed_area=scrubbed,
        scrubbing_friction=(SCRUBBING_FRICTION if given.scrubbing_friction is None
                            else given.scrubbing_friction), frontal_area=across)


def _ratings(section: CandidateSection) -> Ratings:
    motor = section.motor
    amps = motor.current_rating if isinstance(motor, ConstantsMotorSection) else None
    electrical = Ratings(motor_current=amps, supply_current=section.drive.supply_current_rating)
    if not isinstance(section, BlowerSection | AxialFanSection):
        return electrical
    return replace(electrical, rotor_material=section.rotor.material,
                   rotor_bore_ratio=section.rotor.bore_ratio,
                   duct_softening=section.duct.softening_temperature)
