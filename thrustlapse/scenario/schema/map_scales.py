"""Factors on a map or table given otherwise: how readings move a published or computed one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, TypeVar

import numpy as np
from pydantic import Field

from thrustlapse.rotor.batched_map import BatchedMap
from thrustlapse.rotor.stage_map import PointMap, exceeds_unity
from thrustlapse.scenario.fields import Quantity
from thrustlapse.scenario.section import Problem, Section

Scale = Annotated[float, Quantity("ratio", 0.2, 5.0)]
AnyMap = TypeVar("AnyMap", PointMap, BatchedMap, PointMap | BatchedMap)


class TableFactors(Section):
    """A propeller's table that readings may have moved."""

    thrust_factor: Scale = Field(
        1.0, description="Factor on the thrust at rest, as readings found it; of a table with a "
        "band of loading, what it adds at rest is added at every advance ratio")
    power_factor: Scale = Field(
        1.0, description="Factor on the power, as readings found it; of a table with a band of "
        "loading, on the power above momentum theory")


class MapScales(Section):
    """A table whose map may be stretched in flow, head and power."""

    flow_scale: Scale = Field(
        1.0, description="Factor on the map's flow coefficients, as a bench found it")
    head_scale: Scale = Field(
        1.0, description="Factor on the map's head coefficients, as a bench found it")
    power_scale: Scale = Field(
        1.0, description="Factor on the map's power coefficients, as a bench found it")

    def scaled(self, stage: AnyMap) -> AnyMap:
        """The map with its factors."""
        return replace(stage, flow_scale=np.asarray(stage.flow_scale) * self.flow_scale,
                       head_scale=np.asarray(stage.head_scale) * self.head_scale,
                       power_scale=np.asarray(stage.power_scale) * self.power_scale)

    def check_scaled(self, stage: PointMap | BatchedMap) -> Iterator[Problem]:
        """A computed map that its factors make better than loss-free; paths from the candidate."""
        told = self.given("head_scale", "flow_scale", "power_scale")
        if told and np.any(exceeds_unity(self.scaled(stage))):
            yield Problem(path=("map", told[0]), problem="with these factors the efficiency "
                          "exceeds one", accepted="factors that leave power at least head times "
                          "flow everywhere on the map")
