"""The table of a candidate that is known by readings of it as a whole, at rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from pydantic import Field

from thrustlapse.propulsor.anchored import jet_power
from thrustlapse.scenario.fields import Quantity, Word
from thrustlapse.scenario.section import Problem, Section

DENSITY = 1.225
"""Air that the balance of the readings is judged in [kg/m^3]."""


POWER_CAP, FULL_VOLTAGE = "power cap", "full voltage"


class KnownReadingsSection(Section):
    """Readings of one unit at rest, in place of rotor, map, motor, duct and inlet."""

    thrust: Annotated[float, Quantity("force", 1e-4, 1e5)] = Field(
        description="Thrust of one unit at rest")
    electrical_power: Annotated[float, Quantity("power", 0.1, 1e7)] = Field(
        description="Electrical power of one unit at that thrust")
    exit_diameter: Annotated[float, Quantity("length", 1e-4, 20.0)] = Field(
        description="Diameter of the exit the jet leaves by")

    voltage: Annotated[float, Quantity("voltage", 0.1, 2000.0)] | None = Field(
        None, description="Voltage at the unit's terminals at that thrust")
    drive: Annotated[str, Word((POWER_CAP, FULL_VOLTAGE))] | None = Field(
        None, description="What held the watts: a regulated cap, which is assumed unless given, or "
        "the full voltage, which sets how they go with airspeed")
    unit_mass: Annotated[float, Quantity("mass", 1e-4, 1e4)] | None = Field(
        None, description="Mass of one unit, in place of the candidate's own key")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.drive == FULL_VOLTAGE and self.voltage is None:
            yield Problem(path=("drive",), problem="at full voltage, and the voltage is not given",
                          accepted="voltage beside it")
        jet = jet_power(thrust=self.thrust, density=DENSITY,
                        exit_area=np.pi / 4.0 * np.square(self.exit_diameter))
        if np.any(jet > np.asarray(self.electrical_power)):
            yield Problem(
                path=("thrust",), problem="beyond its own energy balance: such a jet alone carries "
                f"{float(np.max(jet)):.4g} W, more than the electrical power",
                accepted="thrust with its unit, the watts of the same moment, the exit's diameter",
                hint="a kitchen scale reads grams: write the unit, as in thrust = \"214 gf\"")
