"""The table of what stands between the pack and the controllers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from thrustlapse.power.wiring import CHASSIS, Wiring
from thrustlapse.scenario.fields import Count, Quantity
from thrustlapse.scenario.section import Problem, Section

Rated = Annotated[float, Quantity("current", 1e-2, 1e5)]


class WiringSection(Section):
    """Wire, connector, switch and fuse of the pack; what is absent is not checked."""

    gauge: Annotated[int, Count(min(CHASSIS), max(CHASSIS))] | None = Field(
        None, description="American wire gauge of the pack's wire, an even number")
    length: Annotated[float, Quantity("length", 1e-2, 100.0)] | None = Field(
        None, description="Length of that wire, there and back together")
    connector_rating: Rated | None = Field(
        None, description="Continuous current rating of the connector")
    switch_rating: Rated | None = Field(
        None, description="Direct current the switch is rated for and can break")
    switch_voltage: Annotated[float, Quantity("voltage", 1.0, 2000.0)] | None = Field(
        None, description="Voltage up to which the switch breaks direct current; not that for "
        "alternating current")
    fuse_rating: Rated | None = Field(None, description="Current of the fuse at the pack")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.gauge and self.gauge not in CHASSIS:
            yield Problem(path=("gauge",), problem="no current is known for that gauge",
                          accepted=", ".join(str(gauge) for gauge in CHASSIS))
        if self.given("length") and not self.given("gauge"):
            yield Problem(path=("length",), problem="given without a gauge",
                          accepted="length together with gauge")

    def wiring(self) -> Wiring:
        """The wiring; every other key of this table is a rating."""
        keys = set(type(self).model_fields) - {"gauge", "length"}
        return Wiring(gauge=self.gauge, length=self.length,
                      ratings={key: getattr(self, key) for key in sorted(keys)
                               if getattr(self, key) is not None})
