"""The kinds of machine, their free variables, and a batch of designs as one candidate.

A design is a row of places within the ranges of its kind's free variables, 0 to 1 each. Everything
else of it follows by the rules of :mod:`.wheels`, :mod:`.motor_size` and :mod:`.unit_size`, or is
that of the kind's template: how its inlet, duct and casing lose, the same for small and large.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.power.drive import Drive
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.propulsor.candidate import Candidate, Installation
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.rotor.strength import MATERIALS, OVERSPEED, limit_tip_speed
from thrustlapse.study.sizing import motor_size
from thrustlapse.study.sizing.map_grid import (
    MapGrid,
    Variable,
    blower_grid,
    fan_grid,
    propeller_grid,
    propeller_tables,
    stage_maps,
)
from thrustlapse.study.sizing.unit_size import POD_OVER_MOTOR, unit_mass
from thrustlapse.study.sizing.wheels import WHEEL_HUB, eye_ratio

LOADED = 0.8
"""Shaft speed a map is computed at, over the unloaded one [-] (judgement; it sets the map's
Reynolds and Mach number and nothing else)."""

WITHIN = 1.0 - 1e-6
"""How far below the rotor's speed limit the drive is set [-]: equal would be beyond by
round-off."""

MOTOR = MappingProxyType({
    "unloaded_tip_speed": Variable(low=75.0, high=400.0, nodes=7, ratio=True),
    "power_over_motor_mass": Variable(low=300.0, high=20_000.0, nodes=0, ratio=True)})
"""Winding and size of the motor: tip speed it would give unloaded on this supply [m/s], electrical
power over its mass [W/kg]."""

VARIABLES: Mapping[str, Mapping[str, Variable]] = MappingProxyType({
    "blower": MappingProxyType({
        "diameter": Variable(low=0.02, high=0.2, nodes=4, ratio=True), **MOTOR,
        "width": Variable(low=0.025, high=0.10, nodes=8, ratio=True),
        "exit_angle": Variable(low=float(np.deg2rad(10.0)), high=float(np.deg2rad(60.0)), nodes=4),
        "exit_over_eye": Variable(low=0.1, high=1.5, nodes=0, ratio=True),
        "throat_over_eye": Variable(low=0.4, high=1.5, nodes=0, ratio=True)}),
    "axial fan": MappingProxyType({
        "diameter": Variable(low=0.025, high=0.25, nodes=4, ratio=True), **MOTOR,
        "unloaded_tip_speed": Variable(low=75.0, high=325.0, nodes=4, ratio=True),
        "hub_ratio": Variable(low=0.35, high=0.65, nodes=3),
        "flow_angle": Variable(low=0.3, high=0.8, nodes=4),
        "swirl": Variable(low=0.1, high=0.26, nodes=3),
        "exit_over_eye": Variable(low=0.3, high=1.3, nodes=0, ratio=True),
        "throat_over_eye": Variable(low=0.4, high=1.5, nodes=0, ratio=True)}),
    "propeller": MappingProxyType({
        "diameter": Variable(low=0.04, high=0.8, nodes=5, ratio=True), **MOTOR,
        "unloaded_tip_speed": Variable(low=40.0, high=400.0, nodes=0, ratio=True),
        "pitch_ratio": Variable(low=0.35, high=2.4, nodes=9, ratio=True),
        "chord_ratio": Variable(low=0.05, high=0.14, nodes=3)}),
})
"""Kind -> free variable -> range (SI, judgement); nodes are those of its maps, 0 where none."""

MEANING = MappingProxyType({
    "diameter": ("rotor diameter", "m"), "unloaded_tip_speed": ("unloaded tip speed", "m/s"),
    "power_over_motor_mass": ("power over motor mass", "W/kg"),
    "width": ("rim width over diameter", ""), "exit_angle": ("blade angle at the rim", "rad"),
    "exit_over_eye": ("exit over eye area", ""), "throat_over_eye": ("inlet throat over eye", ""),
    "hub_ratio": ("hub over tip diameter", ""), "flow_angle": ("design axial over tip speed", ""),
    "swirl": ("design swirl over tip speed", ""), "pitch_ratio": ("pitch over diameter", ""),
    "chord_ratio": ("widest chord over diameter", "")})
"""Free variable -> words, SI unit."""


ENDS = MappingProxyType({
    ("blower", "width", True): "a wider wheel is a mixed-flow rotor, half a fan",
    ("blower", "diameter", True): "larger ones are of no use to the aircraft asked about",
    ("blower", "exit_angle", True): "flatter blades are hardly built",
    ("blower", "exit_over_eye", False): "a smaller exit is far from all known machines",
    ("axial fan", "swirl", False): "less pressure rise is a propeller in a ring",
    ("axial fan", "flow_angle", False): "less through-flow is a propeller in a ring",
    ("axial fan", "hub_ratio", False): "a smaller hub holds no blade roots, vanes and motor",
    ("axial fan", "hub_ratio", True): "the passage is too narrow for the models",
    ("axial fan", "unloaded_tip_speed", True): "near the limit of strength and of tip Mach number",
    ("axial fan", "throat_over_eye", True): "a wider inlet is all lip",
    ("propeller", "diameter", True): "larger ones hit the ground",
    ("propeller", "pitch_ratio", True): "the blade model is not held against steeper ones",
    ("propeller", "chord_ratio", True): "the blade model is not held against wider ones",
    ("propeller", "chord_ratio", False): "slimmer blades are not stiff enough",
})
"""Why a range ends there, where the best designs press against it (judgement): kind, variable,
whether the upper end."""


@dataclass(frozen=True, kw_only=True)
class Couplings:
    """What no one knows of freely sized machines; the register's medians unless drawn."""

    copper_merit: Values = motor_size.COPPER_MERIT
    iron_loss: Values = motor_size.IRON_LOSS
    heat_shed: Values = motor_size.HEAT_SHED
    rim_speed: Values = motor_size.RIM_SPEED
    structure: Values = 1.0


@dataclass(frozen=True, kw_only=True)
class Template:
    """What designs of a kind share: a candidate of one size, and the width of its pod [m]."""

    kind: str
    candidate: Candidate
    pod_diameter: float

    @property
    def diameter(self) -> float:
        """Rotor diameter [m]."""
        unit = self.candidate.unit
        return float(np.asarray(unit.rotor.tip_diameter if isinstance(unit, Ducted)
                                else unit.diameter))


@dataclass(frozen=True, kw_only=True)
class Outlines:
    """What follows of designs without their maps, all (n,): ``width`` across what the unit brings
    [m]; ``motor_speed`` unloaded and ``motor_speed_limit`` [rad/s]; ``hub_room`` motor diameter
    over the room for it [-], 0 where there is plenty."""

    width: Array
    hub_room: Array
    motor_speed: Array
    motor_speed_limit: Array


@dataclass(frozen=True, kw_only=True)
class Sized:
    """A batch of designs: a candidate whose arrays are columns (n, 1), and what was coupled to it.

    ``unit_mass`` of one unit and ``motor_mass`` [kg]; ``width`` across what the unit brings [m];
    ``heat_limit`` [W], ``motor_speed_limit`` [rad/s], ``motor_speed`` unloaded [rad/s];
    ``hub_room`` motor diameter over the room for it [-], 0 where there is plenty. All (n, 1).
    """

    candidate: Candidate
    unit_mass: Array
    motor_mass: Array
    width: Array
    heat_limit: Array
    motor_speed_limit: Array
    motor_speed: Array
    hub_room: Array


@lru_cache(maxsize=12)
def _grid(name: str, variables: tuple[tuple[str, Variable], ...], pressure: float,
          temperature: float) -> MapGrid:
    shapes = {("tip_speed" if key == "unloaded_tip_speed" else key):
              (replace(one, low=LOADED * one.low, high=LOADED * one.high)
               if key == "unloaded_tip_speed" else one)
              for key, one in variables if one.nodes}
    make = {"blower": blower_grid, "axial fan": fan_grid, "propeller": propeller_grid}
    return make[name](shapes, air=Air(pressure=pressure, temperature=temperature))


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of machine at a place: its template and its free variables.

    ``current_limit`` [A] is what every design's controller is set to draw at most: the pack's
    rating. ``efficiency_gain`` [-] raises the best efficiency of every map, by less power at every
    flow; without ``motor_weighs`` the motor's mass is not carried.
    """

    template: Template
    variables: Mapping[str, Variable]
    buried: bool = False
    current_limit: float = float("inf")
    couplings: Couplings = field(default_factory=Couplings)
    efficiency_gain: float = 0.0
    motor_weighs: bool = True

    @property
    def name(self) -> str:
        """Its word."""
        return self.template.kind

    @property
    def air(self) -> Air:
        """Still air at the site."""
        return self.template.candidate.site.air()

    @property
    def grid(self) -> MapGrid:
        """Maps over its shapes, made once for all kinds of these ranges in this air."""
        air = self.air
        return _grid(self.name, tuple(self.variables.items()), float(np.asarray(air.pressure)),
                     float(np.asarray(air.temperature)))

    def values(self, places: Array) -> dict[str, Array]:
        """Free variables in SI of designs by their places, (n, variables)."""
        return {name: one.value(places[:, at])
                for at, (name, one) in enumerate(self.variables.items())}

    def places(self, values: Mapping[str, Array]) -> Array:
        """Places of designs within the ranges by their free variables, (n, variables)."""
        return np.stack([np.minimum(np.maximum(one.share(values[name]), 0.0), 1.0)
                         for name, one in self.variables.items()], axis=1)

    def outlines(self, places: Array, power: Array) -> Outlines:
        """What follows of designs without their maps."""
        return _Parts(self, self.values(places), power).outlines()

    def sized(self, places: Array, power: Array) -> Sized:
        """Designs by their places (n, variables), each for an electrical power (n,) [W]."""
        free = self.values(places)
        return self.built(free, power)

    def built(self, free: Mapping[str, Array], power: Array) -> Sized:
        """Designs by their free variables in SI, each for an electrical power (n,) [W]."""
        made = _Parts(self, free, power)
        return made.ducted() if isinstance(self.template.candidate.unit, Ducted) else made.open()


def _column(values: Array) -> Array:
    return np.asarray(values)[:, None]


class _Parts:
    """Parts of a batch of designs, each worked out once."""

    def __init__(self, kind: Kind, free: Mapping[str, Array], power: Array) -> None:
        self.kind, self.free, self.couplings = kind, free, kind.couplings
        self.template = kind.template
        self.base = kind.template.candidate
        self.diameter = free["diameter"]
        self.motor_mass = power / free["power_over_motor_mass"]
        self.unloaded = 2.0 * free["unloaded_tip_speed"] / self.diameter
        self.mass = unit_mass(kind.name, diameter=self.diameter,
                              motor_mass=self.motor_mass if kind.motor_weighs else 0.0,
                              power=power, structure=self.couplings.structure)
        self.motor_width = motor_size.motor_diameter(mass=self.motor_mass)

    @property
    def tip_speed(self) -> Array:
        return np.asarray(LOADED * self.free["unloaded_tip_speed"])

    @property
    def blower(self) -> bool:
        return self.kind.name == "blower"

    @property
    def hub(self) -> Array:
        """Hub diameter of a ducted rotor [m]."""
        return np.asarray((WHEEL_HUB if self.blower else self.free["hub_ratio"]) * self.diameter)

    @property
    def pod(self) -> Array:
        """Width of the pod [m]; a propeller's is as wide as its motor wants."""
        if isinstance(self.base.unit, Ducted):
            return np.asarray(self.template.pod_diameter * self.diameter / self.template.diameter)
        return np.asarray(POD_OVER_MOTOR * self.motor_width)

    def outlines(self) -> Outlines:
        """Width, room and motor speeds."""
        ducted = isinstance(self.base.unit, Ducted)
        return Outlines(
            width=self.pod if ducted else self.diameter,
            hub_room=(self.motor_width / self.hub if ducted and not self.blower
                      else np.zeros_like(self.diameter)),
            motor_speed=self.unloaded, motor_speed_limit=motor_size.speed_limit(
                mass=self.motor_mass, rim=self.couplings.rim_speed))

    def drive(self, speed_limit: Values) -> Drive:
        """The template's drive with a motor of this size and winding."""
        voltage = float(np.asarray(self.base.unit.supply.voltage))
        kt = voltage / self.unloaded
        constant = motor_size.motor_constant(mass=self.motor_mass, greatest_speed=self.unloaded,
                                             merit=self.couplings.copper_merit)
        slow, fast = (motor_size.no_load_torque(
            mass=self.motor_mass, greatest_speed=self.unloaded, shaft_speed=speed,
            iron_loss=self.couplings.iron_loss) for speed in (0.0, self.unloaded))
        motor = ConstantsMotor(
            torque_constant=_column(kt),
            resistance=_column(motor_size.winding_resistance(torque_constant=kt,
                                                             motor_constant=constant)),
            no_load_current=_column(slow / kt),
            no_load_current_slope=_column((fast - slow) / (kt * self.unloaded)))
        return replace(self.base.unit.drive, motor=motor, speed_limit=speed_limit,
                       supply_current_limit=self.kind.current_limit)

    def installation(self, *, pod: Array, stream: Array, frontal: Array) -> Installation:
        """Outer drag: pod and base with the square of a pod's width, scrubbing with the stream
        [m^2].

        Buried, the body carries the unit: no pod and no base of its own.
        """
        old = self.base.installation
        size = np.zeros_like(pod) if self.kind.buried else np.square(
            pod / self.template.pod_diameter)
        unit = self.base.unit
        there = (unit.nozzle.exit_area if isinstance(unit, Ducted)
                 else 0.25 * np.pi * np.square(unit.diameter))
        return replace(old, pod_drag_area=_column(old.pod_drag_area * size),
                       base_area=_column(old.base_area * size),
                       scrubbed_area=_column(old.scrubbed_area * stream / there),
                       frontal_area=_column(frontal))

    def sized(self, unit: Ducted | OpenRotor, installation: Installation) -> Sized:
        """All of it as one candidate."""
        source, lines = self.base.installed_mass, self.outlines()
        return Sized(
            candidate=replace(self.base, unit=unit, installation=installation, count=1,
                              installed_mass=_column(source + self.mass)),
            unit_mass=_column(self.mass), motor_mass=_column(self.motor_mass),
            width=_column(lines.width), hub_room=_column(lines.hub_room),
            heat_limit=_column(motor_size.heat_limit(mass=self.motor_mass,
                                                     shed=self.couplings.heat_shed)),
            motor_speed_limit=_column(lines.motor_speed_limit),
            motor_speed=_column(lines.motor_speed))

    def ducted(self) -> Sized:
        """Blowers or axial fans."""
        free, d = self.free, self.diameter
        unit, ratings = self.base.unit, self.base.ratings
        assert isinstance(unit, Ducted)
        face = (eye_ratio(free["width"]) if self.blower else 1.0) * d
        eye = 0.25 * np.pi * (face**2 - self.hub**2)
        # a scroll's end, or the annulus behind a fan
        way = 1.2 * np.pi * free["width"] * d**2 if self.blower else eye
        exit_area = free["exit_over_eye"] * eye
        shapes = {name: free[name] for name in self.kind.grid.variables if name in free}
        stage = stage_maps(self.kind.grid, {**shapes, "tip_speed": self.tip_speed},
                           gain=self.kind.efficiency_gain)
        limit: Values = np.inf
        if ratings.rotor_material is not None:
            tip = limit_tip_speed(MATERIALS[ratings.rotor_material],
                                  bore_ratio=ratings.rotor_bore_ratio, form=ratings.rotor_form)
            limit = _column(WITHIN * float(tip) / OVERSPEED * 2.0 / d)
        inlet = replace(unit.inlet, throat_area=_column(free["throat_over_eye"] * eye))
        if self.kind.buried:
            inlet = replace(inlet, ram_recovery=BURIED_RECOVERY * unit.inlet.ram_recovery,
                            loss_coefficient=unit.inlet.loss_coefficient + BURIED_LOSS)
        size = d / self.template.diameter
        made = Ducted(
            inlet=inlet, rotor=Rotor(stage=stage, tip_diameter=_column(d), eye_area=_column(eye),
                                     inducer_diameter=_column(face)),
            duct=replace(unit.duct, area=_column(np.maximum(way, exit_area)),
                         length=_column(unit.duct.length * size), hydraulic_diameter=_column(
                             np.sqrt(4.0 / np.pi * np.maximum(way, exit_area)))),
            nozzle=replace(unit.nozzle, exit_area=_column(exit_area)), drive=self.drive(limit),
            supply=unit.supply)
        return self.sized(made, self.installation(pod=self.pod, stream=exit_area,
                                                  frontal=0.25 * np.pi * self.pod**2))

    def open(self) -> Sized:
        """Propellers."""
        unit = self.base.unit
        assert isinstance(unit, OpenRotor)
        table = propeller_tables(
            self.kind.grid, {name: self.free[name] for name in self.kind.grid.variables},
            speed_of_sound=float(np.asarray(self.kind.air.speed_of_sound)))
        disc = 0.25 * np.pi * self.diameter**2
        made = replace(unit, table=table, diameter=_column(self.diameter),
                       drive=self.drive(np.inf))
        return self.sized(made, self.installation(pod=self.pod, stream=disc, frontal=disc))


BURIED_RECOVERY, BURIED_LOSS = 0.9, 0.2
"""Ram recovery of a unit buried in the body over that of a pod's, and loss of the longer way in, on
the throat's dynamic pressure [-] (judgement: the body's own boundary layer is swallowed)."""
