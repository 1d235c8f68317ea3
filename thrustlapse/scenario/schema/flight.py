"""The flight's table: how it is launched, the legs it flies, and what may get hot on the way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from thrustlapse.aircraft import legs
from thrustlapse.aircraft.discharge import ThermalBody
from thrustlapse.aircraft.flight_plan import FlightPlan
from thrustlapse.glossary import read_as
from thrustlapse.scenario.fields import Quantity, Word
from thrustlapse.scenario.section import Problem, Section

Speed = Annotated[float, Quantity("speed", 1.0, 300.0)]
Height = Annotated[float, Quantity("length", 0.0, 11e3)]
Span = Annotated[float, Quantity("time", 0.1, 1e5)]

MOTOR_LIMIT, PACK_LIMIT = 373.15, 333.15
"""Temperatures at which a flight notes that motor and pack are hot [K]: 100 and 60 degC (common
practice, no source)."""

MOST_LEGS = 40


class _LegSection(Section):
    """What every leg may say."""

    longest: Span = Field(
        legs.LONGEST, description="Time after which the leg is broken off if it has not ended")


class AccelerateLegSection(_LegSection):
    """Level at full power until an airspeed."""

    kind: Literal["accelerate"]
    airspeed: Speed = Field(description="Airspeed at which the leg ends")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Accelerate(airspeed=self.airspeed, longest=self.longest)


class ClimbLegSection(_LegSection):
    """At full power to a height, at a constant airspeed."""

    kind: Literal["climb"]
    height: Height = Field(description="Height above the site to climb to")
    airspeed: Speed | None = Field(
        None, description="Airspeed held; that of the fastest climb unless given")
    hold: Annotated[str, Word(legs.HOLDS)] = Field(
        legs.HOLDS[0], description="Which airspeed is held")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Climb(height=self.height, airspeed=self.airspeed, hold=self.hold,
                          longest=self.longest)


class TurnLegSection(_LegSection):
    """A level turn at a constant load factor."""

    kind: Literal["turn"]
    load_factor: Annotated[float, Quantity("ratio", 1.01, 20.0)] = Field(
        description="Lift over weight, above 1")
    angle: Annotated[float, Quantity("angle", 1e-2, 200.0)] = Field(
        2.0 * math.pi, description="Angle turned through; a whole circle unless given")
    throttle: Annotated[str, Word(("full", "held"))] = Field(
        "full", description="Full power, or the power that holds the airspeed it begins at")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Turn(load_factor=self.load_factor, angle=self.angle, throttle=self.throttle,
                         longest=self.longest)


class DashLegSection(_LegSection):
    """Level at full power until nearly top speed."""

    kind: Literal["dash"]
    short_of_top: Annotated[float, Quantity("ratio", 1e-4, 0.2)] = Field(
        0.005, description="How far short of the top speed the leg ends")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Dash(short_of_top=self.short_of_top, longest=self.longest)


class CruiseLegSection(_LegSection):
    """Level at a constant airspeed by part power."""

    kind: Literal["cruise"]
    airspeed: Speed | None = Field(
        None, description="Airspeed held; the one it begins at unless given")
    time: Span | None = Field(None, description="How long")
    distance: Annotated[float, Quantity("length", 1.0, 1e6)] | None = Field(
        None, description="How far; with neither time nor distance, until the pack is empty")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Cruise(airspeed=self.airspeed, time=self.time, distance=self.distance,
                           longest=self.longest)


class _CutSection(_LegSection):
    """A leg with the motor cut."""

    extra_drag_area: Annotated[float, Quantity("area", 0.0, 10.0)] = Field(
        0.0, description="Drag area that standing or windmilling rotors add")


class CoastLegSection(_CutSection):
    """Level with the motor cut until an airspeed."""

    kind: Literal["coast"]
    airspeed: Speed = Field(description="Airspeed at which the leg ends")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Coast(airspeed=self.airspeed, extra_drag_area=self.extra_drag_area,
                          longest=self.longest)


class GlideLegSection(_CutSection):
    """Down with the motor cut, at a constant airspeed."""

    kind: Literal["glide"]
    airspeed: Speed | None = Field(
        None, description="Airspeed held; that of the best glide unless given")
    height: Height = Field(0.0, description="Height above the site to glide down to")
    hold: Annotated[str, Word(legs.HOLDS)] = Field(
        legs.HOLDS[0], description="Which airspeed is held")

    def leg(self) -> legs.Leg:
        """The leg."""
        return legs.Glide(airspeed=self.airspeed, height=self.height, hold=self.hold,
                          extra_drag_area=self.extra_drag_area, longest=self.longest)


LegSection = Annotated[
    AccelerateLegSection | ClimbLegSection | TurnLegSection | DashLegSection | CruiseLegSection
    | CoastLegSection | GlideLegSection, Field(discriminator="kind")]
"""Kinds of leg; a new one is one class and its name here."""


class HandLaunchSection(Section):
    """Thrown level."""

    kind: Literal["hand"]
    airspeed: Speed | None = Field(
        None, description="Airspeed it is thrown at; the airframe's launch_speed unless given")
    height: Height = Field(1.5, description="Height above the site it is thrown from")

    def launch(self) -> legs.Launch:
        """The launch."""
        return legs.HandLaunch(airspeed=self.airspeed, height=self.height)


class RailLaunchSection(Section):
    """From rest along a rail, motor at full power."""

    kind: Literal["rail"]
    length: Annotated[float, Quantity("length", 0.1, 500.0)] = Field(description="Length")
    angle: Annotated[float, Quantity("angle", 0.0, 1.4)] = Field(
        0.0, description="Angle above level")
    pull: Annotated[float, Quantity("force", 0.0, 1e5)] = Field(
        0.0, description="Constant pull of bungee, weight or winch on top of the thrust")
    height: Height = Field(0.0, description="Height of the rail's foot above the site")

    def launch(self) -> legs.Launch:
        """The launch."""
        return legs.RailLaunch(length=self.length, angle=self.angle, pull=self.pull,
                               height=self.height)


LaunchSection = Annotated[HandLaunchSection | RailLaunchSection, Field(discriminator="kind")]


class WarmSection(Section):
    """Something that warms through and cools to the air."""

    heat_capacity: Annotated[float, Quantity("heat capacity", 0.1, 1e6)] = Field(
        description="Heat that warms it by one kelvin: 450 J/K per kg of motor, 1000 J/K per kg "
        "of cells (from memory)")
    conductance: Annotated[float, Quantity("heat conductance", 0.0, 1e4)] = Field(
        description="Heat it gives to the air per kelvin above it; 0 where it is wrapped up")
    limit: Annotated[float, Quantity("temperature", 283.15, 573.15)] | None = Field(
        None, description="Temperature at which the flight notes that it is hot; 100 degC for a "
        "motor and 60 degC for a pack unless given")

    def body(self, limit: float) -> ThermalBody:
        """The lumped model."""
        return ThermalBody(heat_capacity=self.heat_capacity, conductance=self.conductance,
                           limit=limit if self.limit is None else self.limit)


class FlightSection(Section):
    """A flight that every candidate flies."""

    launch: LaunchSection = Field(
        HandLaunchSection(kind="hand"),
        description="How it gets into the air; by hand unless given")
    legs: tuple[LegSection, ...] = Field(
        min_length=1, max_length=MOST_LEGS, description="What is flown, in order")
    least_state_of_charge: Annotated[float, Quantity("ratio", 0.0, 0.95)] = Field(
        0.0, description="State of charge at which the pack counts as empty, beside the cut-off "
        "voltage of the airframe's table")
    passing_speed: Speed | None = Field(
        None, description="Airspeed of which to say whether it is passed; the highest crossover "
        "on the airframe unless given")
    motors: dict[str, WarmSection] = Field(
        {}, description="How one motor of a candidate warms, by the candidate's name")
    pack_heat: WarmSection | None = Field(None, description="How the pack warms")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        height = getattr(self.launch, "height", math.nan)
        for place, section in enumerate(self.legs):
            target = getattr(section, "height", None)
            if target is None or not np.isfinite(target):
                continue
            if isinstance(section, GlideLegSection) and np.isfinite(height) and target > height:
                yield Problem(path=("legs", place, "height"), problem="a glide that would go up: "
                              f"the leg before it ends at {height:g} m",
                              accepted=f"a height below {height:g} m above the site")
            height = target

    def plan(self) -> FlightPlan:
        """The plan."""
        told = [f"the {name} is called hot at {read_as(limit, 'degC'):.0f} °C (common practice)"
                for name, limit, section in (
                    *((f"motor of {key}", MOTOR_LIMIT, one) for key, one in self.motors.items()),
                    ("pack", PACK_LIMIT, self.pack_heat))
                if section is not None and section.limit is None]
        return FlightPlan(
            launch=self.launch.launch(), legs=tuple(one.leg() for one in self.legs),
            least_state_of_charge=self.least_state_of_charge, passing_speed=self.passing_speed,
            motors={name: one.body(MOTOR_LIMIT) for name, one in self.motors.items()},
            pack_heat=None if self.pack_heat is None else self.pack_heat.body(PACK_LIMIT),
            told=tuple(told))
