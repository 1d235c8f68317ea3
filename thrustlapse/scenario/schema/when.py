"""The table [when]: over which airspeeds and powers every kind of machine is sized anew."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from thrustlapse.scenario.fields import Count, Flag, Quantity, Series
from thrustlapse.scenario.section import Problem, Section

Power = Annotated[float, Quantity("power", 1.0, 1e6)]


class WhenSection(Section):
    """The domain of the sizing study, and what all its designs are held to."""

    lowest_power: Power = Field(100.0, description="Lowest electrical power")
    highest_power: Power = Field(3000.0, description="Highest electrical power")
    power_points: Annotated[int, Count(1, 64)] = Field(
        16, description="Number of powers, evenly spaced by ratio")
    lowest_airspeed: Annotated[float, Quantity("speed", 0.0, 250.0)] = Field(
        0.0, description="Lowest airspeed")
    highest_airspeed: Annotated[float, Quantity("speed", 1.0, 250.0)] = Field(
        150.0, description="Highest airspeed")
    airspeed_points: Annotated[int, Count(2, 200)] = Field(
        24, description="Number of airspeeds, evenly spaced")
    frontal_limit: Annotated[float, Quantity("length", 5e-3, 5.0)] | None = Field(
        None, description="Greatest width of a unit; none unless given")
    tip_mach_limit: Annotated[float, Quantity("ratio", 0.3, 0.95)] = Field(
        0.85, description="Greatest relative Mach number at a rotor's tip or inducer")
    buried: Annotated[bool, Flag()] = Field(
        False, description="True where ducted units lie in the body: no pod drag, poorer inlet")
    frontal_limits: Annotated[tuple[float, ...], Series(
        Quantity("length", 5e-3, 5.0), single=True, least=1)] = Field(
        (0.04, 0.06, 0.08), description="Greatest widths of a unit that are tried one at a time")
    altitudes: Annotated[tuple[float, ...], Series(
        Quantity("length", -400.0, 15e3), single=True, least=1)] = Field(
        (), description="Altitudes that are tried one at a time")
    masses: Annotated[tuple[float, ...], Series(
        Quantity("mass", 0.01, 1e4), single=True, least=1)] = Field(
        (), description="Masses of the aircraft without its units, of the same shape, that are "
        "tried one at a time")
    draws: Annotated[int, Count(64, 4096)] = Field(
        64, description="Draws from which the chance of being best is counted, a power of two")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for low, high in (("lowest_power", "highest_power"),
                          ("lowest_airspeed", "highest_airspeed")):
            if getattr(self, low) >= getattr(self, high):
                yield Problem(path=(low,), problem=f"not below {high}: the range is empty",
                              accepted=f"less than {high}")
        if self.draws & (self.draws - 1):
            yield Problem(path=("draws",), problem=f"{self.draws} draws would not fill the space "
                          "evenly", accepted="a power of two from 64 to 4096")
