"""The airframe's table: what it weighs, its wing, its drag, how it gets into the air."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from thrustlapse.aircraft.runway import FRICTION
from thrustlapse.scenario.fields import Quantity, Series
from thrustlapse.scenario.schema.drag import (
    CoastSection,
    DragSection,
    GlideRatioSection,
    SinkSection,
)
from thrustlapse.scenario.section import Problem, Section

RUNWAYS = tuple((word, FRICTION[word]) for word in ("paved", "short grass", "long grass"))


class RunwaySection(Section):
    """For an aircraft that rolls on wheels until it flies."""

    surface: Annotated[float, Quantity("ratio", 0.0, 0.5, RUNWAYS)] = Field(
        description="What it rolls on, or the coefficient of rolling friction")
    wing_height: Annotated[float, Quantity("length", 1e-3, 10.0)] | None = Field(
        None, description="Height of the wing over the runway, for the induced drag it saves there")
    lift_coefficient: Annotated[float, Quantity("ratio", -1.0, 3.0)] | None = Field(
        None, description="Lift coefficient at the attitude of the roll")


class AirframeSection(Section):
    """The aircraft without its propulsion."""

    ONE_OF = (("minimum_drag_coefficient", "drag_area", "drag"),)
    FILLED = ("minimum_drag_coefficient", "greatest_lift_coefficient", "launch_speed")
    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (
        ("span", "aspect_ratio", "induced_factor"), ("span_efficiency", "induced_factor"))
    mass: Annotated[float, Quantity("mass", 1e-3, 1e5)] = Field(
        description="Mass without propulsion and pack")
    wing_area: Annotated[float, Quantity("area", 1e-4, 1e3)] = Field(description="Reference area")
    span: Annotated[float, Quantity("length", 1e-2, 100.0)] | None = Field(
        None, description="Wing span")
    aspect_ratio: Annotated[float, Quantity("ratio", 0.3, 60.0)] | None = Field(
        None, description="Span squared over wing area")
    span_efficiency: Annotated[float, Quantity("ratio", 0.2, 1.1)] | None = Field(
        None, description="e in the induced factor 1 / (pi e AR); small aircraft 0.6 to 0.9; "
        "estimated from aspect ratio and drag unless given")
    induced_factor: Annotated[float, Quantity("ratio", 1e-3, 2.0)] | None = Field(
        None, description="k in CD = CDmin + k (CL - CL0)^2, in place of span and efficiency")
    minimum_drag_coefficient: Annotated[float, Quantity("ratio", 1e-3, 2.0)] | None = Field(
        None, description="CDmin on the wing area; complete small aircraft 0.018 to 0.045")
    drag_area: Annotated[float, Quantity("area", 1e-6, 100.0)] | None = Field(
        None, description="Parasite drag area, CDmin times wing area")
    drag: DragSection | None = Field(
        None, description="Where the drag comes from, in place of those two numbers")
    lift_coefficient_of_least_drag: Annotated[float, Quantity("ratio", -1.0, 1.5)] = Field(
        0.0, description="CL0: lift coefficient at CDmin; 0 for the centred parabola")
    greatest_lift_coefficient: Annotated[float, Quantity("ratio", 0.1, 5.0)] = Field(
        description="CLmax, which gives the stall speed")
    launch_speed: Annotated[float, Quantity("speed", 0.0, 1000.0)] = Field(
        description="Airspeed at which it leaves hand, rail or runway")
    drag_rise_mach: Annotated[float, Quantity("ratio", 0.3, 1.0)] = Field(
        0.7, description="Flight Mach number at which the compressibility rise of drag sets in")
    cruise_speeds: Annotated[tuple[float, ...], Series(Quantity("speed", 1.0, 300.0), single=True,
                                                       least=1)] = Field(
        (), description="Airspeeds at which endurance and range are also worked out")
    altitudes: Annotated[tuple[float, ...], Series(Quantity("length", -400.0, 15e3), single=True,
                                                   least=1)] = Field(
        (), description="Heights above mean sea level at which top speed and climb are also worked "
        "out; unless given, the site and 500, 1000 and 2000 m above it")
    cut_off_voltage: Annotated[float, Quantity("voltage", 0.5, 4.2)] | None = Field(
        None, description="Voltage of one cell under load at which flying stops; 3.2 V unless "
        "given")
    runway: RunwaySection | None = Field(
        None, description="For an aircraft that rolls on wheels until it flies")

    @property
    def ratio(self) -> float | None:
        """Aspect ratio, where it is known [-]."""
        if self.span is not None:
            return self.span**2 / self.wing_area
        return self.aspect_ratio

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        told = self.given("span", "aspect_ratio", "induced_factor")
        if self.given("span_efficiency") and not told:
            yield Problem(path=("span_efficiency",), problem="of no use without a span",
                          accepted="span or aspect_ratio beside it")
        elif not told and not self._fitted():
            yield Problem(path=(), problem="the lift-dependent drag is not given",
                          accepted="span or aspect_ratio, best with span_efficiency; or "
                          "induced_factor")
        if isinstance(self.drag, SinkSection) and not self._held() \
                and np.unique([speed for speed, _ in self.drag.readings]).size < 2 \
                and np.all(np.isfinite(self.drag.readings)):
            yield Problem(path=("drag", "readings"), problem="one airspeed cannot tell CDmin from "
                          "the induced factor", accepted="glides at two airspeeds or more, or "
                          "span_efficiency beside the span, or induced_factor")
        if self.runway is not None and self.runway.given("wing_height") and self.span is None:
            yield Problem(path=("runway", "wing_height"), problem="of no use without the span",
                          accepted="span in [airframe], or no wing_height")

    def _held(self) -> bool:
        return bool(self.given("induced_factor", "span_efficiency"))

    def _fitted(self) -> bool:
        """Whether the way of finding drag finds the induced factor too."""
        return isinstance(self.drag, SinkSection | CoastSection) or (
            isinstance(self.drag, GlideRatioSection) and self.drag.best)
