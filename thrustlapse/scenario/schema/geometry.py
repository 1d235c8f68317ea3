"""Maps from dimensions: an impeller with its scroll, a fan's blades, a propeller's blades.

What the [rotor] table already holds (tip, eye and hub diameter) is taken from there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import product
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from thrustlapse.air.atmosphere import SEA_LEVEL_PRESSURE, SEA_LEVEL_TEMPERATURE, Air
from thrustlapse.arrays import Array, plain
from thrustlapse.rotor.axial import geometry as axial_geometry
from thrustlapse.rotor.axial import stage as axial
from thrustlapse.rotor.batched_map import BatchedMap, BatchedTable
from thrustlapse.rotor.centrifugal import geometry as centrifugal_geometry
from thrustlapse.rotor.centrifugal import stage as centrifugal
from thrustlapse.rotor.centrifugal.slip import SLIP_MODELS
from thrustlapse.rotor.propeller import geometry as propeller_geometry
from thrustlapse.rotor.propeller.blades import propeller_table
from thrustlapse.rotor.propeller.many_tables import many_tables
from thrustlapse.rotor.propeller.section import SECTIONS
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import Band, NoMap, PointMap, StageMap
from thrustlapse.rotor.wall_friction import FINISHES
from thrustlapse.scenario.fields import Count, Flag, Quantity, Series, Word
from thrustlapse.scenario.schema.map_scales import MapScales, TableFactors
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import RPM

Length = Annotated[float, Quantity("length", 0.0, 20.0)]
Part = Annotated[float, Quantity("length", 1e-5, 20.0)]
Area = Annotated[float, Quantity("area", 1e-8, 300.0)]
Angle = Annotated[float, Quantity("angle", -float(np.pi), float(np.pi))]
Angles = Annotated[tuple[float, ...], Series(Quantity("angle", -float(np.pi), float(np.pi)))]
Lengths = Annotated[tuple[float, ...], Series(Quantity("length", 1e-5, 20.0))]
Speed = Annotated[float, Quantity("shaft speed", 100.0 * RPM, 3e5 * RPM)]
Finish = Annotated[float, Quantity("length", 0.0, 0.01, tuple(FINISHES.items()))]
Share = Annotated[float, Quantity("ratio", 1e-3, 0.4)]


SEA_LEVEL = Air(pressure=SEA_LEVEL_PRESSURE, temperature=SEA_LEVEL_TEMPERATURE)

MOST_PITCH = 3.0
"""Largest pitch over diameter that is taken for meant [-]; propellers have 0.3 to 1.5."""


class _Rotor:
    """What a [rotor] table tells a geometry: tip, eye and hub diameter [m]."""

    def __init__(self, section: Any) -> None:
        self.tip = flat(section.tip_diameter)
        self.eye = self.tip if section.eye_diameter is None else flat(section.eye_diameter)
        self.hub = 0.0 if section.hub_diameter is None else flat(section.hub_diameter)


def flat(value: Any) -> Any:
    """A dimension as geometries take it: drawn ones, (samples, 1), without the airspeeds' axis."""
    return value[..., 0] if np.ndim(value) > 1 else plain(value)


def known(*values: Any) -> bool:
    """Whether every value was read without a fault."""
    return all(bool(np.all(np.isfinite(value))) for value in values)


def _said(message: str, keys: dict[str, tuple[str | int, ...]]) -> Problem:
    """A geometry's own complaint, at the key it is about."""
    fault, _, rest = message.partition("; accepted: ")
    if not rest:
        fault, _, rest = message.partition("; accepted: ".replace("; ", ", "))
    accepted, _, hint = rest.partition("; ")
    named = [word for word in keys if fault.startswith(word)]
    path = keys[max(named, key=len)] if named else ("map",)
    return Problem(path=path, problem=fault, accepted=accepted, hint=hint)


def _trust(band: Band) -> str:
    flow = f"{100 * band.flow:.2g} % in flow, " if band.flow else ""
    return (f"trusted to {flow}{100 * band.head:.2g} % in head, "
            f"{100 * band.power:.2g} % in power (one standard deviation; {band.basis})")


class ImpellerMapSection(MapScales):
    """An impeller and its scroll, by their dimensions."""

    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = ()
    source: Literal["geometry"]
    shaft_speed: Speed = Field(
        description="Shaft speed the map is computed at: its Reynolds and Mach numbers")
    blades: Annotated[int, Count(1, 200)] = Field(description="Number of full blades")
    outlet_width: Part = Field(description="Height of the blades at the rim")
    exit_angle: Angle = Field(
        description="Blade angle at the rim from the radial direction, backward lean positive")
    inlet_angle: Angle = Field(
        description="Blade angle at the mean diameter of the eye, from the direction the air comes "
        "from, against the rotation")
    blade_thickness: Part = Field(
        description="Of the blades, normal to them; at the eye, where exit_thickness is given")
    exit_thickness: Part | None = Field(
        None, description="Of the blades at the rim; as at the eye unless given")
    splitters: Annotated[int, Count(0, 80)] = Field(
        0, description="Number of shorter blades between the full ones")
    splitter_length: Annotated[float, Quantity("ratio", 0.05, 1.0)] = Field(
        0.5, description="Length of a splitter over that of a full blade")
    tip_clearance: Annotated[float, Quantity("length", -0.1, 0.1)] = Field(
        description="Gap between blades and casing; of a shrouded wheel, the gap of its eye seal")
    finish: Finish = Field(description="Of the wheel: a named finish, or a sand roughness")
    casing_finish: Finish | None = Field(
        None, description="Of diffuser and scroll; as the wheel's unless given")
    disc_gap: Part = Field(description="Axial gap between the back of the wheel and the casing")
    diffuser_diameter: Part = Field(
        description="Where the vaneless space ends and the scroll's tongue begins")
    diffuser_width: Part = Field(description="Width of the vaneless space where it begins")
    diffuser_end_width: Part | None = Field(
        None, description="Its width where it ends; parallel walls unless given")
    scroll_throat_area: Area = Field(description="Section of the scroll just before its cone")
    scroll_exit_area: Area = Field(description="End of the cone behind the scroll")
    exit_cone_angle: Angle = Field(
        float(np.deg2rad(8.0)), description="Full angle of that cone; 7 to 11 degrees are usual")
    axial_length: Part | None = Field(None, description="Of the wheel; estimated unless given")
    shrouded: Annotated[bool, Flag()] = Field(False, description="Whether a cover turns with it")
    slip_model: Annotated[str, Word(tuple(SLIP_MODELS))] = Field(
        "wiesner", description="Correlation for the slip at the rim")

    def geometry(self, rotor: Any) -> centrifugal_geometry.CentrifugalGeometry:
        """The machine's dimensions in SI."""
        wheel = _Rotor(rotor)
        return centrifugal_geometry.CentrifugalGeometry(
            eye_diameter=wheel.eye, hub_diameter=wheel.hub, outlet_diameter=wheel.tip,
            outlet_width=flat(self.outlet_width), blades=flat(self.blades * 1.0),
            exit_angle=flat(self.exit_angle), inlet_angle=flat(self.inlet_angle),
            blade_thickness=flat(self.blade_thickness), tip_clearance=flat(self.tip_clearance),
            roughness=flat(self.finish), disc_gap=flat(self.disc_gap),
            diffuser_diameter=flat(self.diffuser_diameter),
            diffuser_width=flat(self.diffuser_width), throat_area=flat(self.scroll_throat_area),
            exit_area=flat(self.scroll_exit_area), exit_cone_angle=flat(self.exit_cone_angle),
            casing_roughness=None if self.casing_finish is None else flat(self.casing_finish),
            axial_length=None if self.axial_length is None else flat(self.axial_length),
            exit_thickness=None if self.exit_thickness is None else flat(self.exit_thickness),
            splitters=flat(self.splitters * 1.0), splitter_length=flat(self.splitter_length),
            diffuser_end_width=(None if self.diffuser_end_width is None
                                else flat(self.diffuser_end_width)),
            shrouded=self.shrouded, slip_model=self.slip_model)

    def check_with(self, rotor: Any) -> Iterator[Problem]:
        """Faults of the dimensions together with the rotor's; paths count from the candidate."""
        wheel = _Rotor(rotor)
        own = [value for value in self.__dict__.values() if isinstance(value, float | np.ndarray)]
        if not known(*own, wheel.tip, wheel.eye, wheel.hub) or np.any(np.asarray(self.blades) < 1):
            return
        keys: dict[str, tuple[str | int, ...]] = {
            name.replace("_", " "): ("map", name) for name in type(self).model_fields}
        keys |= {"blade count": ("map", "blades"), "roughness": ("map", "finish"),
                 "casing roughness": ("map", "casing_finish"),
                 "throat area": ("map", "scroll_throat_area"),
                 "exit area": ("map", "scroll_exit_area"),
                 "eye diameter": ("rotor", "eye_diameter"),
                 "hub diameter": ("rotor", "hub_diameter"),
                 "outlet diameter": ("rotor", "tip_diameter")}
        found = [_said(message, keys)
                 for message in centrifugal_geometry.problems(self.geometry(rotor))]
        yield from found
        if not found and self.given("head_scale", "flow_scale", "power_scale"):
            with suppress(NoMap):  # the builder says so
                yield from self.check_scaled(self._map(self._stage(rotor, SEA_LEVEL)))

    def _stage(self, rotor: Any, air: Air) -> centrifugal.CentrifugalStage:
        return centrifugal.centrifugal_stage(
            self.geometry(rotor), shaft_speed=flat(self.shaft_speed),
            total_pressure=flat(air.pressure), total_temperature=flat(air.temperature))

    @staticmethod
    def _map(stage: centrifugal.CentrifugalStage) -> PointMap | BatchedMap:
        return stage.map if stage.highest_flow.ndim == 0 else stage.maps

    def finished(self, *, rotor: Any, air: Air) -> tuple[StageMap, tuple[str, ...]]:
        """The map on a rotor in an air, and what had to be assumed."""
        found = self.scaled(self._map(self._stage(rotor, air)))
        return found, (f"map computed from dimensions, {_trust(found.band)}",
                       *centrifugal_geometry.cautions(self.geometry(rotor)))


class VanesSection(Section):
    """Straightening vanes behind a fan's rotor."""

    count: Annotated[int, Count(1, 200)] = Field(description="Number of vanes")
    radius: Lengths = Field(description="Radii at which the vanes were measured, rising")
    chord: Lengths = Field(description="Chord there")
    inlet_angle: Angles = Field(
        description="Direction of the leading edge from the axial one, with the rotor's swirl")
    outlet_angle: Angles = Field(description="Direction of the trailing edge from the axial one")
    thickness_ratio: Share = Field(0.06, description="Thickness over chord")

    def vanes(self, tip_radius: float) -> axial_geometry.Vanes:
        """The vanes in SI."""
        stagger, camber = axial_geometry.stagger_and_camber(
            inlet_angle=np.array(self.inlet_angle), outlet_angle=np.array(self.outlet_angle))
        station, tables = _stations(self.radius, tip_radius, np.array(self.chord), stagger, camber)
        return axial_geometry.Vanes(
            count=flat(self.count * 1.0), station=station, chord=tables[0], stagger=tables[1],
            camber=tables[2], thickness_ratio=flat(self.thickness_ratio))


def _stations(radius: tuple[float, ...], tip_radius: Any,
              *tables: Array) -> tuple[Array, tuple[Array, ...]]:
    """Radius ratios of measured stations, and the tables there.

    Where the tip radius is drawn, stations stay at the ratios of its middle, and each wheel's
    tables are read at the radii those are on it.
    """
    middle = float(np.median(tip_radius))
    station = np.array(radius) / middle
    if np.ndim(tip_radius) == 0:
        return station, tables
    there = station * (tip_radius / middle)[:, None]
    return station, tuple(axial_geometry.read_at(station=station, table=table, ratio=there)
                          for table in tables)


class FanBladesMapSection(MapScales):
    """An axial fan's rotor, with vanes or without, by its dimensions."""

    source: Literal["geometry"]
    shaft_speed: Speed = Field(
        description="Shaft speed the map is computed at: its Reynolds and Mach numbers")
    blades: Annotated[int, Count(1, 100)] = Field(description="Number of blades")
    radius: Lengths = Field(description="Radii at which the blades were measured, rising")
    chord: Lengths = Field(description="Chord there")
    inlet_angle: Angles = Field(
        description="Direction of the leading edge from the axial one, against the rotation")
    outlet_angle: Angles = Field(description="Direction of the trailing edge from the axial one")
    thickness_ratio: Share = Field(0.08, description="Thickness over chord")
    tip_clearance: Annotated[float, Quantity("length", -0.1, 0.1)] = Field(
        description="Half of casing bore less rotor diameter")
    finish: Finish = Field(0.0, description="Of the blades: a named finish, or a sand roughness")
    vanes: VanesSection | None = Field(
        None, description="Vanes behind the rotor; without them the swirl stays in the jet")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for key in ("chord", "inlet_angle", "outlet_angle"):
            if len(getattr(self, key)) != len(self.radius) and np.all(
                    np.isfinite(getattr(self, key))):
                yield Problem(path=(key,), accepted="as many as there are radii",
                              problem=f"{len(getattr(self, key))} entries beside "
                              f"{len(self.radius)} radii")

    def geometry(self, rotor: Any) -> axial_geometry.AxialFanGeometry:
        """The machine's dimensions in SI."""
        wheel = _Rotor(rotor)
        stagger, camber = axial_geometry.stagger_and_camber(
            inlet_angle=np.array(self.inlet_angle), outlet_angle=np.array(self.outlet_angle))
        station, tables = _stations(self.radius, wheel.tip / 2.0, np.array(self.chord), stagger,
                                    camber)
        return axial_geometry.AxialFanGeometry(
            tip_diameter=wheel.tip, hub_diameter=wheel.hub, blade_count=flat(self.blades * 1.0),
            tip_clearance=flat(self.tip_clearance), station=station, chord=tables[0],
            stagger=tables[1], camber=tables[2], thickness_ratio=flat(self.thickness_ratio),
            roughness=flat(self.finish),
            vanes=None if self.vanes is None else self.vanes.vanes(wheel.tip / 2.0))

    def check_with(self, rotor: Any) -> Iterator[Problem]:
        """Faults of the dimensions together with the rotor's; paths count from the candidate."""
        wheel = _Rotor(rotor)
        lists = [*self.radius, *self.chord, *self.inlet_angle, *self.outlet_angle,
                 self.tip_clearance, self.finish, self.thickness_ratio, wheel.tip, wheel.hub]
        if self.vanes is not None:
            lists += [*self.vanes.radius, *self.vanes.chord, *self.vanes.inlet_angle,
                      *self.vanes.outlet_angle]
        if not known(*lists) or list(self.check()) or np.any(np.asarray(self.blades) < 1):
            return
        if np.any(max(self.radius) > 0.5 * wheel.tip * 1.001):
            yield Problem(path=("map", "radius"), hint="are these diameters?", problem="a radius "
                          f"lies beyond the blade tip at {500.0 * np.min(wheel.tip):.4g} "
                          "mm", accepted="radii up to half of tip_diameter")
            return
        places: dict[str, tuple[str | int, ...]] = {
            "tip diameter": ("rotor", "tip_diameter"), "hub diameter": ("rotor", "hub_diameter"),
            "tip clearance": ("map", "tip_clearance"), "roughness": ("map", "finish")}
        for name, base in (("rotor", ("map",)), ("vanes", ("map", "vanes"))):
            places |= {f"{name} stations": (*base, "radius"), f"{name} chord": (*base, "chord"),
                       f"{name} thickness ratio": (*base, "thickness_ratio"),
                       f"{name} stagger": (*base, "inlet_angle"),
                       f"{name} camber": (*base, "outlet_angle")}
        faulty = False
        for found in axial_geometry.geometry_problems(self.geometry(rotor)):
            faulty = True
            yield Problem(path=places.get(found.dimension, ("map",)), accepted=found.accepted,
                          problem=f"{found.dimension} is {found.value}", hint=found.advice)
        if not faulty and self.given("head_scale", "flow_scale", "power_scale"):
            with suppress(NoMap):  # the builder says so
                stage = self._stage(rotor, SEA_LEVEL)
                yield from self.check_scaled(stage.maps if stage.head.ndim > 1 else stage.map)

    def _stage(self, rotor: Any, air: Air) -> axial.AxialStage:
        return axial.axial_stage(self.geometry(rotor), shaft_speed=flat(self.shaft_speed),
                                 total_pressure=flat(air.pressure),
                                 total_temperature=flat(air.temperature),
                                 band=np.ndim(flat(rotor.tip_diameter)) == 0)

    def finished(self, *, rotor: Any, air: Air) -> tuple[StageMap, tuple[str, ...]]:
        """The map on a rotor in an air, and what had to be assumed."""
        stage = self._stage(rotor, air)
        if stage.head.ndim > 1:
            return self.scaled(stage.maps), (
                f"map computed from dimensions, {_trust(stage.band)}",)
        found = self.scaled(stage.map)
        return found, (f"map computed from dimensions, {_trust(found.band)}",
                       f"towards stall the map counts as sound until {stage.stall_reason}",
                       *axial.notes(stage))


class BladesTableSection(TableFactors):
    """A propeller's blades, by a table of radius, chord and angle."""

    source: Literal["geometry"]
    blades: Annotated[int, Count(1, 12)] = Field(2, description="Number of blades")
    radius: Lengths = Field(description="Radii at which the blades were measured, rising")
    chord: Lengths = Field(description="Chord there, along the section")
    angle: Angles = Field(description="Angle of the chord line from the plane of rotation")
    section: Annotated[str, Word(tuple(SECTIONS))] = Field(
        propeller_geometry.UNKNOWN_SECTION,
        description="Section of the blades; thin cambered when unknown")
    pitch: Annotated[float, Quantity("length", -20.0, 20.0)] | None = Field(
        None, description="Nominal pitch as sold, where it is known beside the table")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for key in ("chord", "angle"):
            if len(getattr(self, key)) != len(self.radius) and np.all(
                    np.isfinite(getattr(self, key))):
                yield Problem(path=(key,), accepted="as many as there are radii",
                              problem=f"{len(getattr(self, key))} entries beside "
                              f"{len(self.radius)} radii")

    def geometry(self, diameter: float) -> propeller_geometry.BladeGeometry:
        """The blades in SI."""
        return propeller_geometry.BladeGeometry(
            diameter=diameter, blades=self.blades, radius=self.radius, chord=self.chord,
            angle=self.angle, section=self.section, pitch=self.pitch)

    def check_table(self, *, diameter: float, exit_area_ratio: float) -> Iterator[Problem]:
        """Faults of the blades; paths count from the candidate."""
        values = [*self.radius, *self.chord, *self.angle, diameter]
        if known(*values) and not list(self.check()) and self.section:
            for one in _corners(diameter=diameter):
                yield from _blade_faults(self.geometry(one["diameter"]), exit_area_ratio)

    def finished(self, *, diameter: float,
                 air: Air) -> tuple[PropellerTable | BatchedTable, tuple[str, ...]]:
        """The table on a propeller of a diameter [m] in an air, and what had to be assumed."""
        if isinstance(diameter, np.ndarray):
            return _drawn(lambda one: self.geometry(one["diameter"]), air, diameter=diameter)
        return _computed(self.geometry(diameter), air)


class PitchTableSection(TableFactors):
    """A propeller of which only diameter and pitch are known, on a generic planform."""

    source: Literal["pitch"]
    pitch: Annotated[float, Quantity("length", 1e-3, 20.0)] = Field(
        description="Nominal pitch as sold")
    blades: Annotated[int, Count(1, 12)] = Field(2, description="Number of blades")
    widest_chord: Part | None = Field(
        None, description="Widest chord of a blade: one measurement that helps much")

    def geometry(self, diameter: float) -> propeller_geometry.BladeGeometry:
        """The blades in SI."""
        return self._blade(diameter=diameter, pitch=self.pitch, widest_chord=self.widest_chord)

    def _blade(self, *, diameter: float, pitch: float,
               widest_chord: float | None) -> propeller_geometry.BladeGeometry:
        return propeller_geometry.generic_blade(diameter=diameter, pitch=pitch, blades=self.blades,
                                                widest_chord=widest_chord)

    def check_table(self, *, diameter: float, exit_area_ratio: float) -> Iterator[Problem]:
        """Faults of the blades; paths count from the candidate."""
        if np.any(self.pitch > MOST_PITCH * diameter):
            yield Problem(path=("table", "pitch"), problem=f"{np.max(self.pitch / diameter):.3g} "
                          "times the "
                          "diameter", accepted=f"at most {MOST_PITCH:g} times the diameter",
                          hint='a plain number is in m: is the unit missing, as in "6 in"?')
            return
        chord = self.widest_chord
        if known(self.pitch, 0.0 if chord is None else chord, diameter) and self.blades > 0:
            told = set()
            for one in _corners(diameter=diameter, pitch=self.pitch, widest_chord=chord):
                for found in _blade_faults(self._blade(**one), exit_area_ratio):
                    if found.path not in told:
                        told.add(found.path)
                        yield found

    def finished(self, *, diameter: float,
                 air: Air) -> tuple[PropellerTable | BatchedTable, tuple[str, ...]]:
        """The table on a propeller of a diameter [m] in an air, and what had to be assumed."""
        values = {"diameter": diameter, "pitch": self.pitch, "widest_chord": self.widest_chord}
        if any(isinstance(value, np.ndarray) for value in values.values()):
            return _drawn(lambda one: self._blade(**one), air, **values)
        return _computed(self.geometry(diameter), air)


def _corners(**values: Any) -> Iterator[dict[str, Any]]:
    """Every combination of least and greatest of drawn dimensions; one where none is drawn."""
    ends = [(value,) if np.ndim(value) == 0 else (float(np.min(value)), float(np.max(value)))
            for value in values.values()]
    for corner in product(*ends):
        yield dict(zip(values, corner, strict=True))


def _drawn(blade: Callable[[dict[str, Any]], propeller_geometry.BladeGeometry], air: Air,
           **values: Any) -> tuple[BatchedTable, tuple[str, ...]]:
    """Tables of a batch of propellers; fixed dimensions stay as they are.

    Raises
    ------
    ValueError
        Where too many dimensions vary, see :func:`many_tables`.
    """
    still = {name: value for name, value in values.items() if np.ndim(value) == 0}
    moving = {name: np.ravel(value) for name, value in values.items() if np.ndim(value)}
    found = many_tables(lambda one: _computed(blade({**still, **one}), air)[0], moving)
    return found, ()


def _blade_faults(geometry: propeller_geometry.BladeGeometry,
                  exit_area_ratio: float) -> Iterator[Problem]:
    keys: dict[str, tuple[str | int, ...]] = {
        "radius": ("table", "radius"), "the last radius": ("table", "radius"),
        "chord": ("table", "chord"), "blade angle": ("table", "angle"), "pitch": ("table", "pitch"),
        "share of the circle": ("table", "chord"), "diameter": ("diameter",)}
    if exit_area_ratio > 0.0:
        yield Problem(path=("table", "source"), problem="blades alone do not make a ducted "
                      "propeller: its duct does part of the work",
                      accepted='coefficients of the whole unit, "points" or "runs"; or kind = '
                      '"axial fan" with its blades')
    for message in propeller_geometry.problems(geometry):
        yield _said(message, keys)


def _computed(geometry: propeller_geometry.BladeGeometry,
              air: Air) -> tuple[PropellerTable, tuple[str, ...]]:
    # of a drawn air, its middle: Reynolds and Mach numbers hardly change from day to day
    table = propeller_table(geometry, air=Air(pressure=float(np.median(air.pressure)),
                                              temperature=float(np.median(air.temperature))))
    band = table.band
    return table, (f"coefficients from {table.source}, trusted to {100 * band.head:.2g} % of "
                   f"the static thrust and {100 * band.power:.2g} % of the power above momentum "
                   f"theory ({band.basis})",)
