"""The table of a candidate that is known by readings of it as a whole, at rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import numpy as np
from pydantic import Field

from thrustlapse.propulsor.anchored import jet_power
from thrustlapse.scenario.fields import Quantity
from thrustlapse.scenario.section import Problem, Section

DENSITY = 1.225
"""Air that the balance of the readings is judged in [kg/m^3]."""


class KnownReadingsSection(Section):
    """Readings of one unit at rest, in place of rotor, map, motor, duct and inlet."""

    thrust: Annotated[float, Quantity("force", 1e-4, 1e5)] = Field(
        description="Thrust of one unit at rest")
    electrical_power: Annotated[float, Quantity("power", 0.1, 1e7)] = Field(
        description="Electrical power of one unit at that thrust, taken as a regulated cap")
    exit_diameter: Annotated[float, Quantity("length", 1e-4, 20.0)] = Field(
        description="Diameter of the exit the jet leaves by")

    unit_mass: Annotated[float, Quantity("mass", 1e-4, 1e4)] | None = Field(
        None, description="Mass of one unit, in place of the candidate's own key")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        jet = jet_power(thrust=self.thrust, density=DENSITY,
                        exit_area=np.pi / 4.0 * np.square(self.exit_diameter))
        if np.any(jet > np.asarray(self.electrical_power)):
            yield Problem(
                path=("thrust",), problem="beyond its own energy balance: such a jet alone carries "
                f"{float(np.max(jet)):.4g} W, more than the electrical power",
                accepted="thrust with its unit, the watts of the same moment, the exit's diameter",
                hint="a kitchen scale reads grams: write the unit, as in thrust = \"214 gf\"")
