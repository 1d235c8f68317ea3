"""The tables of a candidate that is known by readings of it as a whole, at rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from pydantic import Field

from thrustlapse.scenario.fields import Flag, Quantity, Word
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import RPM

POWER_CAP, FULL_VOLTAGE = "regulated cap", "full voltage"

LEAST_APART = 0.049
"""Logarithm of the ratio of two exits from which on they tell different things."""

Power = Annotated[float, Quantity("power", 0.1, 1e7)]


class _ReadingsSection(Section):
    thrust: Annotated[float, Quantity("force", 1e-4, 1e5)] = Field(
        description="Thrust of one unit at rest")
    voltage: Annotated[float, Quantity("voltage", 0.1, 2000.0)] | None = Field(
        None, description="Voltage at the unit's terminals at that thrust")
    shaft_speed: Annotated[float, Quantity("shaft speed", 100.0 * RPM, 3e5 * RPM)] | None = Field(
        None, description="Shaft speed at that thrust")
    supply: Annotated[str, Word((POWER_CAP, FULL_VOLTAGE), advice=(
        "full throttle or a plain switch is full voltage; a governor or controller that holds the "
        "watts is a regulated cap"))] | None = Field(
        None, description="What held the watts: a regulated cap, or the full voltage, which sets "
        "how they go with airspeed; unless given, both are drawn for a ducted machine, and a "
        "propeller's are full voltage's")
    unit_mass: Annotated[float, Quantity("mass", 1e-4, 1e4)] | None = Field(
        None, description="Mass of one unit, in place of the candidate's own key")


class KnownReadingsSection(_ReadingsSection):
    """Readings of one ducted unit at rest, in place of rotor, map, motor, duct and inlet."""

    electrical_power: Power = Field(description="Electrical power of one unit at that thrust")
    exit_diameter: Annotated[float, Quantity("length", 1e-4, 20.0)] = Field(
        description="Diameter of the exit the jet left by; the nozzle flown may be another")
    shut_pressure: Annotated[float, Quantity("pressure", 1.0, 1e5)] | None = Field(
        None, description="Suction behind the shut inlet, at the same cap or voltage")
    second_exit_diameter: Annotated[float, Quantity("length", 1e-4, 20.0)] | None = Field(
        None, description="Diameter of another exit, read at the same cap or voltage")
    second_thrust: Annotated[float, Quantity("force", 1e-4, 1e5)] | None = Field(
        None, description="Thrust by that exit")
    full_voltage: Annotated[float, Quantity("ratio", 0.0, 1.0)] | None = Field(
        None, description="In place of supply: above a half the watts were full voltage's, else a "
        "regulated cap's; drawn where neither is given")
    typical_losses: Annotated[bool, Flag()] = Field(
        False, description="Whether lip, inlet and duct are typical ones, whose losses move with "
        "the drive's and the map's until the readings are met; true where the file leaves out "
        "both tables")

    AT_MOST_ONE = (("supply", "full_voltage"),)

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.supply == FULL_VOLTAGE and self.voltage is None:
            yield Problem(path=("supply",), problem="at full voltage, and the voltage is not given",
                          accepted="voltage beside it")
        pair = self.given("second_exit_diameter", "second_thrust")
        if len(pair) == 1:
            yield Problem(path=(pair[0],), problem="given without its partner",
                          accepted="second_exit_diameter and second_thrust together")
        elif self.second_exit_diameter is not None and np.any(np.abs(np.log(
                self.second_exit_diameter / self.exit_diameter)) < LEAST_APART):
            yield Problem(path=("second_exit_diameter",), problem="too near to the first exit to "
                          "tell anything", accepted="an exit that differs by 5 % or more")


class PropellerReadingsSection(_ReadingsSection):
    """A reading of one propeller at rest, beside its label or its blades."""

    electrical_power: Power | None = Field(
        None, description="Electrical power of one unit at that thrust")
    shaft_power: Power | None = Field(None, description="Shaft power at that thrust, where known")
    drive_efficiency: Annotated[float, Quantity("ratio", 0.2, 0.97)] | None = Field(
        None, description="Shaft power over electrical power, where only one of them was read")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if not self.given("electrical_power", "shaft_power"):
            yield Problem(path=(), problem="missing: electrical_power or shaft_power",
                          accepted="one of them, or both")
        both = self.electrical_power is not None and self.shaft_power is not None
        if both and self.given("drive_efficiency"):
            yield Problem(path=("drive_efficiency",), problem="given together with both powers",
                          accepted="left out: it follows from them")
        elif both and np.any(np.asarray(self.shaft_power) >= 0.97 * np.asarray(
                self.electrical_power)):
            yield Problem(path=("shaft_power",), problem="more of the electrical power than any "
                          "motor and controller pass on", accepted="less than electrical_power")
