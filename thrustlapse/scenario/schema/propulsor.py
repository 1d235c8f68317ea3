"""Tables of a candidate: inlet, rotor, map, duct, nozzle, propeller table, motor, drive, drag.

What a table can build alone it builds itself, so that a new source of a map or a new model of a
motor is one class here and one name in the union that lists them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from thrustlapse.arrays import plain
from thrustlapse.propulsor.nozzle import Nozzle, discharge_possible, widest_discharge
from thrustlapse.propulsor.unpowered import UNPOWERED, WINDMILLING
from thrustlapse.register import NOZZLE_CONTRACTION, NOZZLE_VELOCITY
from thrustlapse.rotor.strength import FORMS, MATERIALS
from thrustlapse.scenario.fields import Count, Quantity, Text, Word
from thrustlapse.scenario.schema.drag import PartSection
from thrustlapse.scenario.schema.fit import FitSection
from thrustlapse.scenario.schema.geometry import (
    BladesTableSection,
    FanBladesMapSection,
    ImpellerMapSection,
    PitchTableSection,
)
from thrustlapse.scenario.schema.map import NumbersMap
from thrustlapse.scenario.schema.motor import (
    ConstantsMotorSection,
    DriveSection,
    EfficiencyMotorSection,
    Motor,
)
from thrustlapse.scenario.schema.readings import KnownReadingsSection, PropellerReadingsSection
from thrustlapse.scenario.schema.table import NumbersTable
from thrustlapse.scenario.section import Problem, Section

Length = Annotated[float, Quantity("length", 0.0, 100.0)]
Diameter = Annotated[float, Quantity("length", 1e-4, 20.0)]
Area = Annotated[float, Quantity("area", 1e-8, 300.0)]
SideArea = Annotated[float, Quantity("area", 0.0, 300.0)]
Loss = Annotated[float, Quantity("ratio", 0.0, 20.0)]
Share = Annotated[float, Quantity("ratio", 0.0, 1.0)]
Coefficient = Annotated[float, Quantity("ratio", 0.3, 1.0)]
DragCoefficient = Annotated[float, Quantity("ratio", 0.0, 3.0)]
Mass = Annotated[float, Quantity("mass", 1e-4, 1e4)]

FACING = (("forward", 0.0), ("aft", float(np.pi)))
LIPS = (("bell-mouth", 0.0), ("rounded", 0.4), ("thin", 1.0))
"""Lip sharpness by word: the loss at rest, at low speed, over one dynamic pressure;
a free-standing lip rounded to 5 % of the diameter loses 0.40 (Idelchik diagram 3-4, as reprinted
by ASHRAE; also 0.74 at 2 %, 0.15 at 10 %, 0.03 at 20 %, which is taken for 0)."""
WALLS = (("smooth", 1.5e-6), ("printed", 1e-4))
"""Equivalent sand roughness by word [m]: moulded plastic (Moody chart's drawn tubing); half
a layer of 0.2 mm for a printed wall (judgement, no source)."""


class InletSection(Section):
    """What the air passes before the rotor."""

    ONE_OF = (("throat_diameter", "throat_area"),)
    throat_diameter: Diameter | None = Field(
        None, description="Diameter just behind the lip, for a round throat without a hub")
    throat_area: Area | None = Field(None, description="Flow area just behind the lip")
    facing: Annotated[float, Quantity("angle", 0.0, float(np.pi), FACING)] = Field(
        0.0, description="Which way the inlet looks: forward, aft, or the angle to the direction "
        "of flight")
    ram_recovery: Annotated[float, Quantity("ratio", -1.0, 1.0)] | None = Field(
        None, description="Share of the free stream's dynamic pressure that arrives; 1 for a clean "
        "inlet facing forward, 0 in still air of a wake, negative in a base flow")
    lip: Annotated[float, Quantity("ratio", 0.0, 1.0, LIPS)] = Field(
        description="Lip: bell-mouth (0), rounded (0.4, radius 5 % of the diameter), thin (1, no "
        "suction on it), or a number between")
    loss_coefficient: Loss | None = Field(
        None, description="Guards, struts and bends between throat and rotor, on the throat's "
        "dynamic pressure")


class RotorSection(Section):
    """The turning part of a ducted machine."""

    tip_diameter: Diameter = Field(description="Outer diameter of the wheel")
    eye_diameter: Diameter | None = Field(
        None, description="Outer diameter of the flow area at the rotor face; an axial fan's is "
        "its tip diameter unless given")
    hub_diameter: Length | None = Field(
        None, description="Diameter of the hub inside that area; may be 0")
    eye_area: Area | None = Field(
        None, description="Flow area at the rotor face, in place of the two diameters")
    material: Annotated[str, Word(tuple(MATERIALS), advice=(
        "of another plastic or metal take one that is no stronger"))] | None = Field(
        None, description="What the rotor is made of, for its burst speed")
    bore_ratio: Annotated[float, Quantity("ratio", 0.0, 0.9)] = Field(
        0.1, description="Shaft bore over tip diameter, for the stress")
    form: Annotated[str, Word(tuple(FORMS))] = Field(
        "bored wheel", description="What its stress is worked out as: on a shaft through it, with "
        "no hole, or with a shroud over the blades")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.given("eye_area") and self.given("eye_diameter", "hub_diameter"):
            yield Problem(path=("eye_area",), problem="given together with "
                          + " and ".join(self.given("eye_diameter", "hub_diameter")),
                          accepted="eye_area, or hub_diameter with eye_diameter")
        eye = self.tip_diameter if self.eye_diameter is None else self.eye_diameter
        if np.any(eye > self.tip_diameter):
            yield Problem(path=("eye_diameter",), problem="the eye is wider than the wheel",
                          accepted="at most tip_diameter")
        if self.hub_diameter is not None and np.any(self.hub_diameter >= eye):
            yield Problem(path=("hub_diameter",), problem="the hub leaves no eye open",
                          accepted="less than eye_diameter")
        if self.eye_area is not None and np.any(
                self.eye_area > np.pi / 4.0 * self.tip_diameter**2):
            yield Problem(path=("eye_area",), problem="the eye is wider than the wheel",
                          accepted="at most the disc of tip_diameter")


class DuctSection(Section):
    """From the stage to the nozzle."""

    ONE_OF = (("diameter", "area"),)
    diameter: Diameter | None = Field(None, description="Diameter of a round duct without a core")
    area: Area | None = Field(None, description="Flow area, which is also the nozzle's entry")
    hydraulic_diameter: Diameter | None = Field(
        None, description="Four times area over wetted perimeter; of a round duct unless given")
    length: Length = Field(description="Length of wall that rubs")
    loss_coefficient: Loss | None = Field(
        None, description="Bends, struts, diffusion, on the duct's dynamic pressure")
    roughness: Annotated[float, Quantity("length", 0.0, 0.01, WALLS)] | None = Field(
        None, description="Equivalent sand roughness of the wall: smooth, printed, or a length")
    heat_share: Share | None = Field(
        None, description="Share of the motor's heat that goes into the air")
    softening_temperature: Annotated[
        float, Quantity("temperature", 313.15, 1773.15)] | None = Field(
        None, description="Temperature at which the duct's plastic goes soft; unchecked if absent")

    @property
    def flow_area(self) -> float:
        """Flow area [m^2]."""
        return disc(self.diameter) if self.area is None else self.area


class NozzleSection(Section):
    """The convergent end."""

    AT_MOST_ONE = (("exit_diameter", "exit_area"),)
    exit_diameter: Diameter | None = Field(
        None, description="Diameter of a round exit; of a machine known by readings theirs, unless "
        "given")
    exit_area: Area | None = Field(None, description="Flow area of the exit")
    discharge_coefficient: Coefficient | None = Field(
        None, description="Mass flow over that of a loss-free exit of the same area")
    velocity_coefficient: Coefficient | None = Field(
        None, description="Jet speed over the loss-free one")

    @property
    def coefficients(self) -> tuple[float, float]:
        """Discharge and velocity coefficient, defaults filled in [-]."""
        discharge, velocity = self.discharge_coefficient, self.velocity_coefficient
        speed = NOZZLE_VELOCITY if velocity is None else velocity
        contracted = plain(NOZZLE_CONTRACTION * widest_discharge(velocity_coefficient=speed))
        return contracted if discharge is None else discharge, speed

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        discharge, velocity = self.coefficients
        nozzle = Nozzle(exit_area=1.0, discharge_coefficient=discharge,
                        velocity_coefficient=velocity)
        if np.any(~discharge_possible(nozzle) & np.isfinite(discharge + velocity)):
            key = (self.given("discharge_coefficient", "velocity_coefficient") or [""])[0]
            yield Problem(path=(key,), problem="a discharge coefficient of "
                          f"{np.max(discharge):g} with a velocity coefficient of "
                          f"{np.min(velocity):g}: the jet would be wider than the exit",
                          accepted="a discharge coefficient below the velocity coefficient")


class InstallationSection(Section):
    """What one unit puts into the airstream besides its stream tube."""

    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (
        ("pod_drag_area", "pod_diameter"), ("pod_drag_area", "pod_drag_coefficient"),
        ("parts", "pod_drag_area"), ("parts", "pod_drag_coefficient"))
    parts: tuple[PartSection, ...] = Field(
        (), description="Outer parts of one unit, as of an airframe, in place of its pod's drag")
    pod_drag_area: SideArea | None = Field(
        None, description="Drag area of pod, casing and pylon outside the stream tube")
    pod_diameter: Diameter | None = Field(
        None, description="Largest diameter of pod or casing, in place of its drag area")
    pod_drag_coefficient: DragCoefficient | None = Field(
        None, description="Drag coefficient on the pod's frontal area")
    base_area: SideArea | None = Field(None, description="Blunt rear that no jet fills")
    base_drag_coefficient: DragCoefficient | None = Field(
        None, description="Drag coefficient on that area")
    scrubbed_area: SideArea | None = Field(
        None, description="Wetted area of the airframe inside the jet or slipstream")
    scrubbing_friction: Annotated[float, Quantity("ratio", 0.0, 0.1)] | None = Field(
        None, description="Skin-friction coefficient on that area")
    frontal_area: Area | None = Field(
        None, description="Largest cross-section, for comparisons per frontal area")


class _UnitSection(Section):
    FILLED: ClassVar[tuple[str, ...]] = ("unit_mass", "motor")
    count: Annotated[int, Count(1, 1000)] = Field(
        1, description="Number of equal units on the aircraft, all fed by the same pack")
    unit_mass: Mass = Field(
        description="Mass of one unit: rotor, duct, motor, controller, mount; not the pack")
    motor: Motor = Field(description="What turns the rotor")
    drive: DriveSection = Field(DriveSection(), description="Controller, wiring and limits")
    installation: InstallationSection = Field(
        InstallationSection(), description="External drag of one unit")
    fit: FitSection | None = Field(
        None, description="What a bench fit found out about values given here")
    unpowered: Annotated[str, Word(UNPOWERED)] = Field(
        WINDMILLING, description="What its rotor does without power, in a glide or descent: "
        "windmilling with the drive cut, stopped, or folded (no drag of its own)")
    same_machine_as: Annotated[str, Text(40)] | None = Field(
        None, description="Name of an earlier candidate that is the same machine in another trim: "
        "what is not known of both is then drawn once")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self.drive.check_with(self.motor)
        if self.fit is not None:
            yield from self.fit.check_with(self)


class _DuctedSection(_UnitSection):
    FILLED = (*_UnitSection.FILLED, "inlet", "rotor", "map", "duct", "nozzle")
    inlet: InletSection
    rotor: RotorSection
    duct: DuctSection
    nozzle: NozzleSection
    readings: KnownReadingsSection | None = Field(
        None, description="Readings of the whole unit at rest; every table that is then left out "
        "is typical of its kind")

    @property
    def exit_area(self) -> float:
        """Exit area [m^2]; of the readings where the nozzle gives none."""
        if self.nozzle.exit_area is not None:
            return self.nozzle.exit_area
        if self.nozzle.exit_diameter is None and self.readings is not None:
            return disc(self.readings.exit_diameter)
        return disc(self.nozzle.exit_diameter)

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        exit_area, entry = self.exit_area, self.duct.flow_area
        if self.readings is None and not self.nozzle.given("exit_diameter", "exit_area"):
            yield Problem(path=("nozzle",), problem="missing: exit_diameter or exit_area",
                          accepted="exactly one of exit_diameter, exit_area")
        if np.any(exit_area > entry * (1.0 + 1e-9)):
            yield Problem(
                path=("nozzle", *(self.nozzle.given("exit_diameter", "exit_area")[:1])),
                problem="the nozzle's exit is larger than its entry, the duct: "
                f"{np.max(exit_area) * 1e4:.4g} against {np.min(entry) * 1e4:.4g} cm^2",
                accepted="at most the duct's area; the nozzle only converges")
        if self.readings is not None:
            yield from _motor_of_readings(self.motor)


def _motor_of_readings(motor: ConstantsMotorSection | EfficiencyMotorSection) -> Iterator[Problem]:
    if isinstance(motor, ConstantsMotorSection):
        yield Problem(path=("motor",), problem="the readings set the motor's efficiency, which its "
                      "constants would set again", accepted="no table [motor], or no readings")


BlowerMap = Annotated[NumbersMap | ImpellerMapSection, Field(discriminator="source")]
FanMap = Annotated[NumbersMap | FanBladesMapSection, Field(discriminator="source")]
PropellerCurves = Annotated[NumbersTable | BladesTableSection | PitchTableSection,
                            Field(discriminator="source")]
"""Where each kind's numbers may come from; a new source is one class and its name here."""


class BlowerSection(_DuctedSection):
    """A centrifugal machine that breathes through an eye and blows through a nozzle."""

    kind: Literal["blower"]
    map: BlowerMap

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self.map.check_with(self.rotor)
        if not self.rotor.given("eye_area") and len(
                self.rotor.given("eye_diameter", "hub_diameter")) < 2:
            yield Problem(path=("rotor",), problem="the eye is not given",
                          accepted="eye_diameter with hub_diameter (0 where there is none), or "
                          "eye_area")


class AxialFanSection(_DuctedSection):
    """An axial fan in a duct with a nozzle."""

    kind: Literal["axial fan"]
    map: FanMap

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self.map.check_with(self.rotor)
        if not self.rotor.given("eye_area", "hub_diameter"):
            yield Problem(path=("rotor",), problem="the flow area at the rotor face is not given",
                          accepted="hub_diameter, or eye_area")


class PropellerSection(_UnitSection):
    """An open propeller, by its coefficients."""

    kind: Literal["propeller"]
    diameter: Diameter = Field(description="Tip diameter")
    table: PropellerCurves
    readings: PropellerReadingsSection | None = Field(
        None, description="A reading at rest, to which the table is scaled; motor and drive then "
        "follow from it")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self.table.check_table(diameter=self.diameter, exit_area_ratio=0.0)
        if self.readings is not None:
            yield from _motor_of_readings(self.motor)


class DuctedPropellerSection(_UnitSection):
    """A propeller in a duct, known by the coefficients of the whole unit."""

    kind: Literal["ducted propeller"]
    diameter: Diameter = Field(description="Tip diameter")
    exit_area_ratio: Annotated[float, Quantity("ratio", 0.3, 3.0)] = Field(
        description="Exit area of the duct over the disc area")
    table: PropellerCurves

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self.table.check_table(diameter=self.diameter,
                                          exit_area_ratio=self.exit_area_ratio)


CandidateSection = Annotated[
    BlowerSection | AxialFanSection | PropellerSection | DuctedPropellerSection,
    Field(discriminator="kind")]
"""What a candidate may be; a new kind is one class and its name here."""


def disc(diameter: float | None) -> float:
    """Area of a circle [m^2]; NaN where the diameter is not known."""
    return float("nan") if diameter is None else np.pi / 4.0 * diameter**2

