"""Tables of a ducted rotor's map: points, coefficients, or readings with units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from thrustlapse.air.atmosphere import Air, sutherland_viscosity
from thrustlapse.air.gas import GAS_CONSTANT
from thrustlapse.arrays import Array
from thrustlapse.rotor.batched_map import BatchedMap, point_map
from thrustlapse.rotor.reynolds import (
    best_efficiency,
    carried_map,
    correction_accepted,
    machine_reynolds,
)
from thrustlapse.rotor.stage_map import (
    CONVENTIONS,
    Band,
    CoefficientMap,
    PointMap,
    StageMap,
    carry_compressible,
    carry_constant_head,
    coefficients_from_readings,
    efficiency,
    exceeds_unity,
    from_convention,
)
from thrustlapse.scenario.fields import Quantity, Series, Text, Word
from thrustlapse.scenario.schema.map_scales import MapScales
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import RPM, shown

Diameter = Annotated[float, Quantity("length", 1e-4, 20.0)]
Numbers = tuple[float, ...]
Spread = Annotated[float, Quantity("ratio", 0.0, 1.0)]
Flow = Annotated[Numbers, Series(Quantity("ratio", 0.0, 20.0))]
Head = Annotated[Numbers, Series(Quantity("ratio", -10.0, 20.0))]
Cost = Annotated[Numbers, Series(Quantity("ratio", 0.0, 100.0))]
Efficiencies = Annotated[Numbers, Series(Quantity("ratio", 1e-3, 1.0))]
Swirl = Annotated[Numbers, Series(Quantity("ratio", -2.0, 2.0))]
Term = Annotated[float, Quantity("ratio", -1e3, 1e3)]
Origin = Annotated[str, Text(500)]
Speeds = Series(Quantity("shaft speed", 10.0 * RPM, 3e5 * RPM), single=True)

LOSS_EXPONENT = 0.2
"""Power of size with which losses fall as machines grow [-]: of Reynolds number, at equal tip speed
(Pfleiderer and others, from memory). It widens the band of a carried map; it corrects nothing."""


class BandSection(Section):
    """How far the map may be trusted: relative standard deviations."""

    flow: Spread = Field(0.0, description="Of the flow coefficient")
    head: Spread = Field(0.0, description="Of the head coefficient")
    power: Spread = Field(0.0, description="Of the power coefficient")
    basis: Annotated[str, Text(300)] = Field("not stated", description="Where they come from")


class _MapSection(Section):
    band: BandSection = Field(BandSection(), description="How far the map may be trusted")
    origin: Origin = Field("", description="Where the numbers come from")
    measured_diameter: Diameter | None = Field(
        None, description="Tip diameter of the rotor the numbers were read on, where it is another")

    def stage(self) -> StageMap:
        """The map, without its band."""
        raise NotImplementedError

    def check_with(self, rotor: Any) -> Iterator[Problem]:  # noqa: ARG002 - the numbers suffice
        """Faults of the map together with its rotor; paths count from the candidate."""
        yield from ()

    def finished(self, *, rotor: Any, air: Air) -> tuple[StageMap, tuple[str, ...]]:  # noqa: ARG002
        """The map on a rotor in an air, and what had to be assumed."""
        stage: Any = self.stage()
        band, told = self.wide_band(stage, rotor.tip_diameter)
        return replace(stage, band=band), told

    def told_band(self) -> Band:
        """The band as the file gives it."""
        return Band(flow=self.band.flow, head=self.band.head, power=self.band.power,
                    basis=self.band.basis)

    def wide_band(self, stage: StageMap, tip_diameter: float) -> tuple[Band, tuple[str, ...]]:
        """The map's band, widened where the fan laws carry it to another size."""
        told = self.told_band()
        if self.measured_diameter is None:
            return told, ()
        # one band for all draws
        size = float(np.median(np.asarray(tip_diameter) / self.measured_diameter))
        if abs(size - 1.0) < 0.01:
            return told, ()
        flows = np.linspace(np.min(stage.lowest_flow), np.max(stage.highest_flow), 101)
        loss = 1.0 - float(np.nanmax(efficiency(stage, flows)))
        power = abs(np.expm1(-LOSS_EXPONENT * np.log(size))) * loss
        band = Band(flow=told.flow, head=float(np.hypot(told.head, 0.5 * power)),
                    power=float(np.hypot(told.power, power)),
                    basis=f"{told.basis}; widened for a size ratio of {size:.3g}")
        return band, (
            f"map carried by the fan laws from a tip diameter of "
            f"{shown(self.measured_diameter, 'length')} to {shown(tip_diameter, 'length')}, without"
            f" a Reynolds correction; its power band is widened to {100 * band.power:.2g} % "
            "(losses with the -0.2 power of size, from memory)",)


def same_length(flow: Numbers, others: dict[str, Numbers | None]) -> Iterator[Problem]:
    """Faults of the lists of a map: lengths, and flow that does not rise."""
    for key, values in others.items():
        if values is not None and len(values) != len(flow) and np.all(np.isfinite(values)):
            yield Problem(path=(key,), problem=f"{len(values)} entries beside {len(flow)} flows",
                          accepted="as many as there are flows")


def rising(key: str, values: Numbers) -> Iterator[Problem]:
    falls = np.flatnonzero(np.diff(np.array(values)) <= 0.0)
    if falls.size:
        at = int(falls[0])
        yield Problem(path=(key,), problem=f"the map folds back: entry {at + 2} "
                      f"({values[at + 1]:g}) does not exceed entry {at + 1} ({values[at]:g})",
                      accepted="values that rise from entry to entry")


def _check_efficiency(stage: StageMap, key: str) -> Iterator[Problem]:
    if np.any(exceeds_unity(stage)):
        flows = np.linspace(np.min(stage.lowest_flow), np.max(stage.highest_flow), 401)
        with np.errstate(invalid="ignore", divide="ignore"):
            gain, cost = stage.head(flows) * flows, stage.power(flows)
        worst = flows[int(np.nanargmax(gain - cost)) % flows.size]
        yield Problem(path=(key,), problem="the efficiency exceeds one: at a flow coefficient of "
                      f"{worst:.4g} (tip speed and diameter) the shaft gives less than the air "
                      "gains", accepted="a map whose power is at least head times flow everywhere",
                      hint="is the convention right, and is power shaft power?")


class PointsMapSection(_MapSection, MapScales):
    """Dimensionless points, measured or published."""

    ONE_OF = (("power", "efficiency"),)
    source: Literal["points"]
    convention: Annotated[str, Word(CONVENTIONS)] = Field(
        description="How the coefficients are defined")
    hub_ratio: Annotated[float, Quantity("ratio", 0.0, 0.95)] | None = Field(
        None, description="Hub over tip diameter, where the convention counts on the annulus")
    flow: Flow = Field(description="Flow coefficients, rising")
    head: Head = Field(description="Head or total-pressure coefficients")
    power: Cost | None = Field(None, description="Shaft-power coefficients")
    efficiency: Efficiencies | None = Field(
        None, description="Isentropic efficiencies, total to total, in place of power")
    swirl: Swirl | None = Field(
        None, description="Swirl left behind the stage, over tip speed; none unless given")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        lists = {"head": self.head, "power": self.power, "efficiency": self.efficiency,
                 "swirl": self.swirl}
        found = [*same_length(self.flow, lists), *rising("flow", self.flow)]
        if self.convention in ("annulus", "mean radius") and self.hub_ratio is None:
            found.append(Problem(path=("hub_ratio",), problem=f'missing: convention '
                                 f'"{self.convention}" counts on the annulus',
                                 accepted="hub over tip diameter"))
        if self.efficiency is not None and (min(self.flow) <= 0.0 or min(self.head) <= 0.0):
            found.append(Problem(path=("efficiency",), problem="says nothing about power where flow"
                                 " or head is zero or less", accepted="power in its place"))
        yield from found
        values = [*self.flow, *self.head, *(self.power or ()), *(self.efficiency or ())]
        if not found and self.convention and len(self.given("power", "efficiency")) == 1 \
                and np.all(np.isfinite(values)):
            yield from _check_efficiency(self.stage(), self.given("power", "efficiency")[0])

    def stage(self) -> PointMap | BatchedMap:
        flow, head, power = from_convention(
            convention=self.convention, flow=np.array(self.flow), head=np.array(self.head),
            power=np.array(self.power or self.flow),
            hub_ratio=0.0 if self.hub_ratio is None else self.hub_ratio)
        if self.efficiency is not None:
            power = flow * head / np.array(self.efficiency)
        return self.scaled(point_map(
            flow=flow, head=head, power=power, source=self.origin,
            swirl=None if self.swirl is None else np.array(self.swirl)))


class CoefficientsMapSection(_MapSection):
    """A handful of coefficients, on tip speed and tip diameter.

    head = head_shutoff + head_slope phi + head_curvature phi^2;
    power = phi (work_shutoff + work_slope phi) + shutoff_power
    """

    source: Literal["coefficients"]
    head_shutoff: Annotated[float, Quantity("ratio", 0.0, 20.0)] = Field(
        description="Head coefficient of the blocked machine")
    head_slope: Term = Field(0.0, description="Its growth with the flow coefficient")
    head_curvature: Term = Field(0.0, description="Its growth with the flow coefficient squared")
    work_shutoff: Annotated[float, Quantity("ratio", 0.0, 20.0)] = Field(
        description="Euler work over tip speed squared, at vanishing flow")
    work_slope: Term = Field(0.0, description="Its growth with the flow coefficient")
    shutoff_power: Annotated[float, Quantity("ratio", 0.0, 10.0)] = Field(
        description="Power coefficient of the blocked machine")
    highest_flow: Annotated[float, Quantity("ratio", 1e-4, 20.0)] = Field(
        description="Largest flow coefficient for which this holds")
    swirl_ratio: Annotated[float, Quantity("ratio", -2.0, 2.0)] = Field(
        0.0, description="Swirl left behind the stage, over tip speed")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        stage = self.stage()
        if np.all(np.isfinite((stage.head(1.0) + stage.power(1.0)) * self.highest_flow)):
            yield from _check_efficiency(stage, "work_shutoff")

    def stage(self) -> CoefficientMap:
        return CoefficientMap(
            head_shutoff=self.head_shutoff, head_slope=self.head_slope,
            head_curvature=self.head_curvature, work_shutoff=self.work_shutoff,
            work_slope=self.work_slope, shutoff_power=self.shutoff_power,
            highest_flow=self.highest_flow, swirl_ratio=self.swirl_ratio, source=self.origin)


class ReadingsMapSection(_MapSection, MapScales):
    """Readings with units, taken on this rotor or on another that the fan laws carry to it."""

    ONE_OF = (("shaft_power", "efficiency"),)
    source: Literal["readings"]
    measured_diameter: Diameter = Field(
        description="Tip diameter of the rotor the readings were taken on")
    shaft_speed: Annotated[Numbers, Speeds] = Field(
        description="Shaft speed of the readings: one for all, or one each")
    volume_flow: Annotated[Numbers, Series(Quantity("volume flow", 0.0, 1e4))] = Field(
        description="Volume flow at the inlet's total density, rising over shaft speed")
    pressure_rise: Annotated[Numbers, Series(Quantity("pressure", -1e5, 1e6))] = Field(
        description="Rise of total pressure from rotor face to outlet")
    shaft_power: Annotated[Numbers, Series(Quantity("power", 0.0, 1e8))] | None = Field(
        None, description="Shaft power")
    efficiency: Efficiencies | None = Field(
        None, description="Isentropic efficiencies, total to total, in place of shaft power")
    inlet_temperature: Annotated[float, Quantity("temperature", 203.15, 403.15)] = Field(
        description="Total temperature at the rotor face")
    inlet_pressure: Annotated[float, Quantity("pressure", 1e4, 3e5)] = Field(
        description="Total pressure at the rotor face")
    used_at: Annotated[float, Quantity("shaft speed", 1.0, 3e4)] | None = Field(
        None, description="Shaft speed of this rotor here; with it the losses are carried to its "
        "Reynolds number, and the two routes of the fan laws are compared")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        lists = {"pressure_rise": self.pressure_rise, "shaft_power": self.shaft_power,
                 "efficiency": self.efficiency}
        if len(self.shaft_speed) > 1:
            lists["shaft_speed"] = self.shaft_speed
        found = list(same_length(self.volume_flow, lists))
        if not found:
            found = list(rising("volume_flow", tuple(
                np.array(self.volume_flow) / np.array(self.shaft_speed))))
        if np.any(min(self.pressure_rise) <= -np.asarray(self.inlet_pressure)):
            found.append(Problem(path=("pressure_rise",), problem="falls by more than the inlet's "
                                 "pressure", accepted="a rise, or a fall less than inlet_pressure"))
        if self.efficiency is not None and (min(self.volume_flow) <= 0.0
                                            or min(self.pressure_rise) <= 0.0):
            found.append(Problem(path=("efficiency",), problem="says nothing about power where flow"
                                 " or pressure rise is zero or less",
                                 accepted="shaft_power in its place"))
        yield from found
        values = [*self.volume_flow, *self.pressure_rise, *(self.shaft_power or ()),
                  *(self.efficiency or ()), *self.shaft_speed, self.inlet_pressure,
                  self.inlet_temperature, self.measured_diameter]
        if not found and len(self.given("shaft_power", "efficiency")) == 1 \
                and all(np.all(np.isfinite(value)) for value in values):
            yield from _check_efficiency(self.stage(),
                                         self.given("shaft_power", "efficiency")[0])

    def stage(self) -> PointMap | BatchedMap:
        flow, head, power = self._coefficients()
        return self.scaled(point_map(flow=flow, head=head, power=power, source=self.origin))

    def _coefficients(self) -> tuple[Array, Array, Array]:
        """Flow, head and power coefficients of the readings, without the map's factors."""
        flow, head, power = coefficients_from_readings(
            volume_flow=np.array(self.volume_flow), pressure_rise=np.array(self.pressure_rise),
            shaft_power=np.array(self.shaft_power or self.volume_flow),
            shaft_speed=(np.asarray(self.shaft_speed[0]) if len(self.shaft_speed) == 1
                         else np.array(self.shaft_speed)), diameter=self.measured_diameter,
            density=self.inlet_pressure / (GAS_CONSTANT * self.inlet_temperature),
            inlet_pressure=self.inlet_pressure, inlet_temperature=self.inlet_temperature)
        if self.efficiency is not None:
            power = flow * head / np.array(self.efficiency)
        return flow, head, power

    def _steps(self, rotor: Any) -> tuple[float, float, float]:
        """Reynolds numbers of the readings and here, and the ratio of tip speeds [-]."""
        assert self.used_at is not None
        density = self.inlet_pressure / (GAS_CONSTANT * self.inlet_temperature)
        viscosity = sutherland_viscosity(temperature=self.inlet_temperature)
        speed = float(np.mean(self.shaft_speed))
        there, here = (float(machine_reynolds(shaft_speed=omega, diameter=diameter,
                                              density=density, viscosity=viscosity))
                       for omega, diameter in ((speed, self.measured_diameter),
                                               (self.used_at, rotor.tip_diameter)))
        ratio = self.used_at * rotor.tip_diameter / (speed * self.measured_diameter)
        return there, here, float(ratio)

    def check_with(self, rotor: Any) -> Iterator[Problem]:
        values = [rotor.tip_diameter, self.measured_diameter, *self.shaft_speed,
                  self.inlet_pressure, self.inlet_temperature]
        if self.used_at is None or not all(
                np.all(np.isfinite(value)) for value in (self.used_at, *values)):
            return
        if any(np.ndim(value) for value in (self.used_at, *values)):
            yield Problem(path=("map", "used_at"), problem="the step between Reynolds numbers is "
                          "worked out for one machine, and here sizes, speeds or inlet state vary",
                          accepted="fixed readings, tip_diameter and used_at",
                          hint="give the map a band instead, or leave used_at out")
            return
        there, here, _ = self._steps(rotor)
        if not correction_accepted(reynolds_from=there, reynolds_to=here):
            yield Problem(path=("map", "used_at"), problem="the Reynolds number on tip speed and "
                          f"diameter goes from {there:.2g} to {here:.2g}, too far for the "
                          "correction", accepted="a step of at most ten times, and no less than "
                          "1e5 at either end", hint="leave used_at out: the map is then carried by "
                          "the fan laws alone, with a wider band")

    def finished(self, *, rotor: Any, air: Air) -> tuple[StageMap, tuple[str, ...]]:
        if self.used_at is None:
            return super().finished(rotor=rotor, air=air)
        there, here, ratio = self._steps(rotor)
        points = self._coefficients()
        bare = point_map(flow=points[0], head=points[1], power=points[2], source=self.origin)
        assert isinstance(bare, PointMap)  # check_with refuses a batch here
        sized, _ = self.wide_band(bare, rotor.tip_diameter)
        # the law takes the mean of what size does; half of the whole is left as doubt
        given = self.told_band()
        told = replace(bare, band=replace(
            given, head=float(np.hypot(given.head, 0.5 * sized.head)),
            power=float(np.hypot(given.power, 0.5 * sized.power))))
        carried = carried_map(told, reynolds_from=there, reynolds_to=here)
        # carried in its points, so that its factors are what the file, or a fit of it, says
        stage = replace(self.scaled(point_map(
            flow=points[0], head=points[1] * float(carried.head_scale),
            power=points[2] * float(carried.power_scale), source=self.origin)), band=carried.band)
        flow, head = self._route_spread(ratio)
        band = replace(stage.band, flow=float(np.hypot(stage.band.flow, flow)),
                       head=float(np.hypot(stage.band.head, head)))
        change = float(best_efficiency(carried) / best_efficiency(told))
        return replace(stage, band=band), (
            f"map carried from {shown(self.measured_diameter, 'length')} to "
            f"{shown(rotor.tip_diameter, 'length')} by the fan laws, its efficiency times "
            f"{change:.3f} for a Reynolds number {here / there:.2g} times as large (law from "
            "memory); trusted to "
            f"{100 * band.flow:.1f} % in flow, {100 * band.head:.0f} % in head, "
            f"{100 * band.power:.0f} % in power (one standard deviation)",)

    def _route_spread(self, ratio: float) -> tuple[float, float]:
        """Half the difference of the two routes of the fan laws in flow and pressure, relative.

        Constant isentropic head, which a map is, against the ISO 5801 route, at the reading of most
        air power, over the change of tip speed.
        """
        place = int(np.argmax(np.array(self.volume_flow) * np.array(self.pressure_rise)))
        power = (self.shaft_power[place] if self.shaft_power is not None
                 else self.volume_flow[place] * self.pressure_rise[place]
                 / self.efficiency[place])  # type: ignore[index]
        reading = {"volume_flow": self.volume_flow[place],
                   "pressure_rise": self.pressure_rise[place], "shaft_power": power,
                   "inlet_pressure": self.inlet_pressure, "speed_ratio": ratio}
        head, iso = carry_constant_head(**reading), carry_compressible(**reading)
        return tuple(0.5 * abs(float(one / other) - 1.0)  # type: ignore[return-value]
                     for one, other in zip(head[:2], iso[:2], strict=True))


NumbersMap = PointsMapSection | CoefficientsMapSection | ReadingsMapSection
"""Sources of a ducted rotor's map that need no dimensions; a new one is one class and its name."""
