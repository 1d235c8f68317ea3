"""Tables of a candidate's electrical side: motor, and the drive with its limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from thrustlapse.arrays import plain
from thrustlapse.power.motor import (
    ConstantsMotor,
    EfficiencyMotor,
    constant_efficiency_motor,
    efficiency_motor,
    torque_constant_from_speed_constant,
)
from thrustlapse.scenario.fields import Flag, Quantity, Series
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import RPM

Resistance = Annotated[float, Quantity("resistance", 0.0, 100.0)]
Current = Annotated[float, Quantity("current", 1e-3, 1e4)]
Power = Annotated[float, Quantity("power", 1e-2, 1e7)]
Efficiency = Quantity("ratio", 0.01, 1.0)


class ConstantsMotorSection(Section):
    """A direct-current motor by its constants."""

    ONE_OF = (("speed_constant", "torque_constant"),)
    model: Literal["constants"]
    speed_constant: Annotated[float, Quantity("speed constant", 0.1, 6283.2)] | None = Field(
        None, description="Kv: unloaded shaft speed per volt")
    torque_constant: Annotated[float, Quantity("torque constant", 1e-5, 10.0)] | None = Field(
        None, description="kt: torque per ampere, 1 / Kv in SI")
    resistance: Annotated[float, Quantity("resistance", 1e-5, 100.0)] = Field(
        description="Winding resistance between terminals, warm")
    no_load_current: Annotated[float, Quantity("current", 0.0, 1e3)] = Field(
        description="Current of the bare motor, at no_load_speed where that is given")
    no_load_speed: Annotated[float, Quantity("shaft speed", 0.0, 3e5 * RPM)] | None = Field(
        None, description="Shaft speed at which no_load_current was read; with "
        "no_load_current_slope")
    no_load_current_slope: Annotated[float, Quantity("current over speed", 0.0, 1.0)] | None = \
        Field(None, description="Growth of the no-load current with shaft speed")
    current_rating: Current | None = Field(
        None, description="Motor current it stands for as long as wanted; unchecked if absent")

    @property
    def idle(self) -> tuple[float, float]:
        """No-load current at vanishing speed [A] and its growth with shaft speed [A s/rad]."""
        slope = 0.0 if self.no_load_current_slope is None else self.no_load_current_slope
        speed = 0.0 if self.no_load_speed is None else self.no_load_speed
        return self.no_load_current - slope * speed, slope

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.given("no_load_speed") and not self.given("no_load_current_slope"):
            yield Problem(path=("no_load_speed",), problem="of no use without a slope",
                          accepted="no_load_speed together with no_load_current_slope")
        if np.any(self.idle[0] < 0.0):
            yield Problem(path=("no_load_current",), problem="less than the slope makes of it: the "
                          "motor would run by itself at vanishing speed",
                          accepted="at least no_load_current_slope times no_load_speed")

    def motor(self) -> ConstantsMotor:
        """The motor."""
        if self.torque_constant is None:
            assert self.speed_constant is not None
            constant = plain(torque_constant_from_speed_constant(
                speed_constant=self.speed_constant))
        else:
            constant = self.torque_constant
        current, slope = self.idle
        return ConstantsMotor(torque_constant=constant, resistance=self.resistance,
                              no_load_current=current, no_load_current_slope=slope)


class EfficiencyMotorSection(Section):
    """Motor and controller together, as an efficiency."""

    model: Literal["efficiency"]
    efficiency: Annotated[tuple[float, ...], Series(Efficiency, single=True, least=2)] = Field(
        description="Shaft power over electrical power of the controller: one for all loads, or a "
        "list that belongs to load")
    load: Annotated[tuple[float, ...], Series(Quantity("ratio", 1e-3, 3.0))] | None = Field(
        None, description="Shaft power over rated_shaft_power, rising")
    rated_shaft_power: Power | None = Field(
        None, description="Shaft power that counts as load 1; with one efficiency, the most the "
        "motor gives")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        together = self.given("load", "rated_shaft_power")
        if len(self.efficiency) > 1 and len(together) < 2:
            yield Problem(path=("efficiency",), problem="a list without the loads it belongs to",
                          accepted="load and rated_shaft_power beside it, or one efficiency")
            return
        if self.load is None or not np.all(np.isfinite([*self.efficiency, *self.load])):
            return
        if len(self.load) != len(self.efficiency):
            yield Problem(path=("load",), problem=f"{len(self.load)} entries beside "
                          f"{len(self.efficiency)} efficiencies", accepted="as many of each")
            return
        try:
            efficiency_motor(load=np.array(self.load), efficiency=np.array(self.efficiency),
                             rated_shaft_power=1.0)
        except ValueError:
            yield Problem(path=("load",), problem="loads, or the input power they imply, fold back",
                          accepted="rising loads, with efficiencies that let the input power rise")

    def motor(self) -> EfficiencyMotor:
        """The motor."""
        if len(self.efficiency) == 1:
            motor = constant_efficiency_motor(efficiency=self.efficiency[0],
                                              rated_shaft_power=self.rated_shaft_power)
            return replace(motor, input_scale=plain(motor.input_scale))
        assert self.rated_shaft_power is not None
        return efficiency_motor(load=np.array(self.load), efficiency=np.array(self.efficiency),
                                rated_shaft_power=self.rated_shaft_power)


Motor = Annotated[ConstantsMotorSection | EfficiencyMotorSection, Field(discriminator="model")]
"""Models of a motor; a new one is one class with a ``motor`` method and its name here."""


class DriveSection(Section):
    """Controller, wiring and limits of one unit."""

    duty: Annotated[float, Quantity("ratio", 0.01, 1.0)] | None = Field(
        None, description="Largest share of the pack's voltage that the controller passes on")
    power_limit: Power | None = Field(
        None, description="Largest electrical power of one unit, at the pack terminals")
    motor_current_limit: Current | None = Field(
        None, description="Largest motor (phase) current of one unit")
    supply_current_limit: Current | None = Field(
        None, description="Largest current one unit draws from the pack")
    speed_limit: Annotated[float, Quantity("shaft speed", 10.0 * RPM, 3e5 * RPM)] | None = Field(
        None, description="Largest shaft speed the controller allows")
    controller_efficiency: Annotated[float, Quantity("ratio", 0.3, 1.0)] | None = Field(
        None, description="Output over input power of the controller")
    motor_lead_resistance: Resistance | None = Field(
        None, description="Leads between controller and motor")
    controller_lead_resistance: Resistance | None = Field(
        None, description="Leads between pack and controller, of this unit alone")
    synchronous_rectification: Annotated[bool, Flag()] = Field(
        False, description="Whether the motor's current may reverse into the pack at a duty below "
        "1; at full duty it may in any case")
    supply_current_rating: Current | None = Field(
        None, description="Current that this unit's wire and controller stand; unchecked if absent")

    def check_with(self, motor: ConstantsMotorSection | EfficiencyMotorSection
                   ) -> Iterator[Problem]:
        """Faults of the drive with its motor; paths count from the candidate."""
        if isinstance(motor, ConstantsMotorSection):
            return
        for key in self.given("duty", "motor_current_limit", "controller_efficiency",
                              "motor_lead_resistance", "synchronous_rectification"):
            yield Problem(path=("drive", key), problem='has no meaning with motor model '
                          '"efficiency", which covers motor and controller together',
                          accepted='leave it out, or use motor model "constants"')
        if not self.given("power_limit", "supply_current_limit"):
            yield Problem(path=("drive",), problem='a motor of model "efficiency" needs a limit: '
                          "it has no voltage of its own to hold it",
                          accepted="power_limit or supply_current_limit")
