"""From the checked file to parts in SI, with a sentence for every default that had to stand in.

A default is never silent: what it is, how large it comes out here, and how well it is founded go
into the candidate's ``assumptions``, which every write-up prints.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.arrays import Values, plain
from thrustlapse.power.drive import Drive
from thrustlapse.power.pack import Supply, terminal_current
from thrustlapse.propulsor.anchored import KnownBy, anchored
from thrustlapse.propulsor.anchored_rotor import ReadRotor, RotorReading, anchored_rotor
from thrustlapse.propulsor.candidate import Candidate, Ratings
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.register import REGISTER
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.rotor.map_shape import AS_IT_IS, departed
from thrustlapse.rotor.map_uncertainty import stretched
from thrustlapse.rotor.typical import TYPICAL
from thrustlapse.scenario.build.defaults_log import DefaultsLog, shown
from thrustlapse.scenario.build.installation import FRICTION_SPEED, build_installation
from thrustlapse.scenario.schema.geometry import (
    BladesTableSection,
    FanBladesMapSection,
    ImpellerMapSection,
    PitchTableSection,
)
from thrustlapse.scenario.schema.motor import (
    ConstantsMotorSection,
    DriveSection,
    EfficiencyMotorSection,
)
from thrustlapse.scenario.schema.propulsor import (
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
from thrustlapse.scenario.schema.readings import (
    FULL_VOLTAGE,
    POWER_CAP,
    KnownReadingsSection,
    PropellerReadingsSection,
)

INLET_LOSS = {"blower": 0.15, "axial fan": 0.05}
"""Guard and motor struts in front of the rotor, on the throat's dynamic pressure (judgement)."""

DUCT_LOSS = {"blower": 0.25, "axial fan": 0.08}
"""Bend from scroll to nozzle, or motor and struts behind a fan (judgement)."""

ROUGHNESS = {"blower": 1e-4, "axial fan": 1.5e-6}
"""Printed scroll, moulded fan duct [m]; the words of ``scenario.schema.propulsor.WALLS``."""

HEAT_SHARE = {"blower": 0.8, "axial fan": 0.8}
"""Share of the motor's heat that its own stream carries off (judgement)."""

(CONTROLLER_EFFICIENCY, MOTOR_LEADS, CONTROLLER_LEADS, NO_LOAD_GROWTH, CLEAN_RECOVERY,
 DRIVE_EFFICIENCY) = (
    REGISTER[name].spread.nominal for name in (
        "controller efficiency", "motor leads", "controller leads", "no-load growth",
        "ram recovery", "drive efficiency"))
"""Medians of the register."""

FORWARD = np.deg2rad(30.0)
"""Largest angle to the flight direction at which an inlet still counts as facing forward [rad]: at
30 degrees the stream's normal component keeps three quarters of its dynamic pressure."""


def build_dimensions(candidates: Mapping[str, CandidateSection]) -> dict[str, Dimensions]:
    """Dimensions of the candidates that are described by them."""
    found = {}
    for name, section in candidates.items():
        if isinstance(section, BlowerSection | AxialFanSection):
            if isinstance(section.map, ImpellerMapSection | FanBladesMapSection):
                found[name] = Dimensions(geometry=section.map.geometry(section.rotor),
                                         shaft_speed=section.map.shaft_speed)
        elif isinstance(section.table, BladesTableSection | PitchTableSection):
            found[name] = Dimensions(geometry=section.table.geometry(section.diameter))
    return found


ONE_EFFICIENCY = ("one efficiency at every load; at the small loads of cruise and endurance motors "
                  "do worse (common practice, no source)")
"""Said of a motor that is known by a single number."""


def build_candidate(name: str, section: CandidateSection, *, source: Supply, source_mass: float,
                    site: Site, friction_speed: float = FRICTION_SPEED,
                    source_assumptions: tuple[str, ...] = ()) -> Candidate:
    """Candidate in SI on a pack or bench supply of a mass [kg] at a site.

    ``friction_speed`` [m/s] is where the skin friction of its outer parts is worked out;
    ``source_assumptions`` are the sentences about the pack's own defaults.
    """
    defaults = DefaultsLog(*source_assumptions)
    shared = replace(source, units=section.count * 1.0)
    drive = _drive(section.drive, section.motor, shared, defaults)
    unit: Ducted | OpenRotor
    known: KnownBy | None = None
    read_by: ReadRotor | None = None
    if isinstance(section, BlowerSection | AxialFanSection):
        unit = _ducted(section, drive, shared=shared, air=site.air(), defaults=defaults)
        form = section.fit
        if form is not None:
            unit = replace(unit, rotor=replace(unit.rotor, stage=departed(
                unit.rotor.stage, flow=np.exp(form.flow_form or 0.0),
                fall=form.fall_form or 0.0,
                head_shape=form.head_form or AS_IT_IS,
                power_shape=form.power_form or AS_IT_IS)))
        if section.readings is not None:
            unit, known = _known_by(section, section.readings, unit=unit, air=site.air(),
                                    defaults=defaults)
    else:
        unit = _open_rotor(section, drive, shared=shared, air=site.air(), defaults=defaults)
        if isinstance(section, PropellerSection) and section.readings is not None:
            unit, read_by = _read_rotor(section.readings, unit, site.air(), defaults)
        unit = replace(unit, table=stretched(unit.table, head=section.table.thrust_factor,
                                             power=section.table.power_factor))
    if not section.given("unpowered"):
        defaults.sentences.append("without power its rotor windmills with the drive cut, or stands "
                                  "still where the air cannot turn it or nothing is known of it "
                                  "(judgement)")
    return Candidate(
        name=name, kind=section.kind, unit=unit, count=section.count,
        installed_mass=section.count * section.unit_mass + source_mass,
        installation=build_installation(section, defaults, air=site.air(),
                                        friction_speed=friction_speed),
        site=site, ratings=_ratings(section), unpowered=section.unpowered,
        assumptions=tuple(defaults.sentences),
        fit=None if section.fit is None else section.fit.fit(section), known_by=known,
        read_by=read_by)


def _known_by(section: BlowerSection | AxialFanSection, read: KnownReadingsSection, unit: Ducted,
              air: Air, defaults: DefaultsLog) -> tuple[Ducted, KnownBy]:
    """A ducted unit scaled to its readings."""
    full: Any = read.supply == FULL_VOLTAGE if read.full_voltage is None \
        else np.asarray(read.full_voltage) > 0.5
    volts = read.voltage if read.voltage is not None else _under_load(
        unit.supply, read.electrical_power)
    second = read.second_exit_diameter
    unit, known = anchored(unit, air=air, known=KnownBy(
        thrust=read.thrust, electrical_power=read.electrical_power,
        drive=TYPICAL[section.kind].drive, exit_area=disc(read.exit_diameter), voltage=volts,
        full=full, shaft_speed=read.shaft_speed, suction=read.shut_pressure,
        second_exit_area=None if second is None else disc(second),
        second_thrust=read.second_thrust, typical_losses=read.typical_losses))
    defaults.sentences[:] = [text for text in defaults.sentences if text != ONE_EFFICIENCY] + [
        "a motor that is at its best at the reading: windings and idling lose the same there "
        "(judgement)"]
    law = ("the full voltage" if np.all(full) else "a regulated cap") + (
        " (not given: drawn between cap and full voltage)"
        if read.supply is None and read.full_voltage is None else "")
    defaults.sentences.append(
        "meets its readings of thrust and power at rest with a drive of "
        f"{100 * float(np.nanmedian(known.efficiency)):.0f} %, the watts limited by {law}")
    return unit, known


def _under_load(supply: Supply, power: Values) -> Any:
    """Voltage at the terminals with every unit at a power [W]; NaN where it cannot be given."""
    amps = terminal_current(voltage=supply.voltage, resistance=supply.resistance,
                            power=np.asarray(power) * supply.units)
    return plain(np.asarray(supply.voltage - supply.resistance * amps))


def _read_rotor(read: PropellerReadingsSection, unit: OpenRotor, air: Air,
                defaults: DefaultsLog) -> tuple[OpenRotor, ReadRotor]:
    """A propeller scaled to its reading."""
    share = read.drive_efficiency
    if read.electrical_power is not None and read.shaft_power is not None:
        share = plain(np.asarray(read.shaft_power) / read.electrical_power)
    elif share is None:
        share = DRIVE_EFFICIENCY
        defaults.sentences.append(f"motor and controller together {100 * share:.0f} % (judgement)")
    shaft = read.shaft_power
    if shaft is None:
        assert read.electrical_power is not None
        shaft = plain(np.asarray(read.electrical_power) * share)
    full = read.supply != POWER_CAP
    volts = read.voltage if read.voltage is not None else _under_load(
        unit.supply, plain(np.asarray(shaft) / share))
    reading = RotorReading(thrust=read.thrust, shaft_power=shaft, drive=share,
                           shaft_speed=read.shaft_speed, voltage=volts if full else None)
    made = anchored_rotor(unit, air=air, reading=reading)
    defaults.sentences.append(
        "scaled to its reading: "
        + (f"CT {_factor(unit, made, 'thrust_scale')} and " if read.shaft_speed is not None
           else "no shaft speed, so CT as computed, and ")
        + f"CP {_factor(unit, made, 'power_scale')} of the table's, the watts limited by "
        + ("the full voltage" if full else "a regulated cap")
        + (" (judgement)" if read.supply is None else ""))
    return made, ReadRotor(rotor=unit, reading=reading)


def _factor(before: OpenRotor, after: OpenRotor, scale: str) -> str:
    return f"{float(np.nanmedian(getattr(after.table, scale) / getattr(before.table, scale))):.2f}"


def _drive(section: DriveSection, motor: ConstantsMotorSection | EfficiencyMotorSection,
           shared: Supply, defaults: DefaultsLog) -> Drive:
    caps: dict[str, Any] = {
        name: float("inf") if getattr(section, name) is None else getattr(section, name)
        for name in ("power_limit", "motor_current_limit", "supply_current_limit",
                     "speed_limit")}
    leads = defaults.default(section.controller_lead_resistance, CONTROLLER_LEADS,
                             f"{shown(CONTROLLER_LEADS, 'resistance')} of leads between pack and "
                             "controller (0.6 m of AWG 14 there and back)")
    if not isinstance(motor, ConstantsMotorSection):
        if len(motor.efficiency) == 1:
            defaults.sentences.append(ONE_EFFICIENCY)
        return Drive(motor=motor.motor(), controller_lead_resistance=leads, **caps)
    efficiency = defaults.default(section.controller_efficiency, CONTROLLER_EFFICIENCY,
                                  f"controller efficiency {CONTROLLER_EFFICIENCY:g} (0.92 to "
                                  "0.98 is usual, from memory)")
    motor_leads = defaults.default(section.motor_lead_resistance, MOTOR_LEADS,
                                   f"motor leads of {shown(MOTOR_LEADS, 'resistance')} (judgement)")
    made = motor.motor()
    if motor.no_load_current_slope is None:
        unloaded = np.asarray(shared.voltage) / made.torque_constant
        made = replace(made, no_load_current_slope=plain(
            NO_LOAD_GROWTH * np.asarray(made.no_load_current) / unloaded))
        defaults.sentences.append(f"no-load current {100 * NO_LOAD_GROWTH:g} % higher at the "
                                  "unloaded speed on this supply than at rest (judgement)")
    return Drive(motor=made, duty=1.0 if section.duty is None else section.duty,
                 motor_lead_resistance=motor_leads, controller_lead_resistance=leads,
                 controller_efficiency=efficiency,
                 synchronous_rectification=section.synchronous_rectification, **caps)


def _ducted(section: BlowerSection | AxialFanSection, drive: Drive, shared: Supply, air: Air,
            defaults: DefaultsLog) -> Ducted:
    stage, sentences = section.map.finished(rotor=section.rotor, air=air)
    defaults.sentences += sentences
    if section.map.source != "geometry" and not section.map.given("swirl", "swirl_ratio"):
        defaults.sentences.append("no swirl left in the jet")
    if section.rotor.material is not None and not section.rotor.given("bore_ratio"):
        defaults.sentences.append(f"shaft bore {section.rotor.bore_ratio:g} of the tip diameter, "
                                  "for the rotor's stress (judgement)")
    return Ducted(
        inlet=_inlet(section.inlet, section.kind, defaults),
        rotor=Rotor(stage=stage, tip_diameter=section.rotor.tip_diameter,
                    eye_area=eye_area(section.rotor),
                    inducer_diameter=section.rotor.tip_diameter
                    if isinstance(section, AxialFanSection) else section.rotor.eye_diameter),
        duct=_duct(section.duct, section.kind, defaults), nozzle=_nozzle(section, defaults),
        drive=drive, supply=shared)


def _inlet(section: InletSection, kind: str, defaults: DefaultsLog) -> Inlet:
    area = disc(section.throat_diameter) if section.throat_area is None else section.throat_area
    recovery = section.ram_recovery
    if recovery is None:
        recovery = plain(np.where(section.facing <= FORWARD + 1e-9, CLEAN_RECOVERY, 0.0))
        defaults.sentences.append(
            f"ram recovery {CLEAN_RECOVERY:.3g}: a clean inlet facing forward (judgement)"
            if np.all(recovery) else
            "ram recovery 0: an inlet that does not face forward breathes still air")
    loss = defaults.default(section.loss_coefficient, INLET_LOSS[kind],
                            f"inlet loss coefficient {INLET_LOSS[kind]:g} (judgement)")
    return Inlet(throat_area=area, facing=section.facing, ram_recovery=recovery,
                 lip_sharpness=section.lip, loss_coefficient=loss)


def eye_area(section: RotorSection) -> float:
    """Flow area at the rotor face [m^2]."""
    if section.eye_area is not None:
        return section.eye_area
    outer = section.tip_diameter if section.eye_diameter is None else section.eye_diameter
    hub = 0.0 if section.hub_diameter is None else section.hub_diameter
    return disc(outer) - disc(hub)


def _duct(section: DuctSection, kind: str, defaults: DefaultsLog) -> Duct:
    round_diameter = plain(np.sqrt(4.0 / np.pi * section.flow_area))
    hydraulic = section.hydraulic_diameter
    if hydraulic is None:
        hydraulic = round_diameter
        if section.diameter is None:
            defaults.sentences.append(f"hydraulic diameter {shown(hydraulic, 'length')}: a round "
                                      "duct of the same area")
    loss = defaults.default(section.loss_coefficient, DUCT_LOSS[kind],
                            f"duct loss coefficient {DUCT_LOSS[kind]:g} (judgement)")
    rough = defaults.default(section.roughness, ROUGHNESS[kind],
                             f"wall roughness {shown(ROUGHNESS[kind], 'length')} "
                             f"({'printed' if kind == 'blower' else 'moulded'})")
    heat = defaults.default(section.heat_share, HEAT_SHARE[kind],
                            f"{100 * HEAT_SHARE[kind]:g} % of the motor's heat goes into the air "
                            "(judgement)")
    return Duct(area=section.flow_area, loss_coefficient=loss, length=section.length,
                hydraulic_diameter=hydraulic, roughness=rough, heat_share=heat)


def _nozzle(section: BlowerSection | AxialFanSection, defaults: DefaultsLog) -> Nozzle:
    nozzle = section.nozzle
    discharge, velocity = nozzle.coefficients
    for key, value in (("discharge", discharge), ("velocity", velocity)):
        if not nozzle.given(f"{key}_coefficient"):
            defaults.sentences.append(f"nozzle {key} coefficient {float(np.mean(value)):g} (short "
                                      "convergent nozzles, from memory)")
    return Nozzle(exit_area=section.exit_area, discharge_coefficient=discharge,
                  velocity_coefficient=velocity)


def _open_rotor(section: PropellerSection | DuctedPropellerSection, drive: Drive, shared: Supply,
                air: Air, defaults: DefaultsLog) -> OpenRotor:
    table, sentences = section.table.finished(diameter=section.diameter, air=air)
    defaults.sentences += sentences
    ratio = section.exit_area_ratio if isinstance(section, DuctedPropellerSection) else 0.0
    return OpenRotor(table=replace(table, exit_area_ratio=ratio), diameter=section.diameter,
                     exit_area_ratio=ratio, drive=drive, supply=shared)


def _ratings(section: CandidateSection) -> Ratings:
    motor = section.motor
    amps = motor.current_rating if isinstance(motor, ConstantsMotorSection) else None
    electrical = Ratings(motor_current=amps, supply_current=section.drive.supply_current_rating)
    if not isinstance(section, BlowerSection | AxialFanSection):
        return electrical
    return replace(electrical, rotor_material=section.rotor.material,
                   rotor_bore_ratio=section.rotor.bore_ratio, rotor_form=section.rotor.form,
                   duct_softening=section.duct.softening_temperature)
