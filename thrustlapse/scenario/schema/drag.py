"""Where the airframe's drag comes from: the table [airframe.drag], whose ``source`` says how.

The parts of a build-up are also what a candidate's own external drag may be made of.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, ClassVar, Literal

import numpy as np
from pydantic import Field

from thrustlapse.aircraft.build_up import BLUFF, SKINS, Bluff, Body, Part, Surface, wheel, wire
from thrustlapse.aircraft.drag_basis import DEFAULT_AIRSPEED_SHARE, DEFAULT_GLIDE_DEVIATION, Recipe
from thrustlapse.aircraft.form_factor import SOURCES as FORM_FACTORS
from thrustlapse.aircraft.skin_friction import TURBULENT
from thrustlapse.scenario.build.defaults_log import DefaultsLog
from thrustlapse.scenario.fields import Count, Flag, Pairs, Quantity, Text, Word
from thrustlapse.scenario.section import Problem, Section

PartLength = Annotated[float, Quantity("length", 1e-3, 100.0)]
Small = Annotated[float, Quantity("length", 1e-5, 10.0)]
PartArea = Annotated[float, Quantity("area", 1e-7, 1e3)]
Share = Annotated[float, Quantity("ratio", 0.0, 1.0)]
Interference = Annotated[float, Quantity("ratio", 1.0, 2.0)]

SURFACE_INTERFERENCE = 1.05
"""Joint of wing or tail with a body, corners filled a little (judgement; handbooks give 1.0 to 1.1
and more for low wings without fillets, from memory)."""

BODY_INTERFERENCE, POD_INTERFERENCE = 1.0, 1.3
"""A fuselage; a pod within one diameter of another surface (Raymer, from memory)."""

ALLOWANCE = 0.10
"""Gaps, hinges, horns and leaks as a share of the skin's drag (work manuals: 5 to 20 % in all)."""

SKIN = "painted or film"
"""Finish that stands in where none is given."""


class _NamedSection(Section):
    name: Annotated[str, Text(40)] = Field("", description="What the maker calls it")

    @property
    def called(self) -> str:
        """Its name, or its kind."""
        return self.name or str(getattr(self, "kind", "part"))


class _SkinSection(_NamedSection):
    """What is common to parts that drag by their skin."""

    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (("laminar_share", "trip_at"),)
    count: Annotated[int, Count(1, 100)] = Field(1, description="Number of equal ones")
    finish: Annotated[str, Word(tuple(SKINS))] | None = Field(
        None, description="What the skin is like: its roughness, and how far it may stay laminar")
    laminar_share: Share | None = Field(
        None, description="Share of the length with laminar flow, where it is known")
    trip_at: Share | None = Field(
        None, description="Share of the length at which a trip or a step makes the flow turbulent")
    interference: Interference | None = Field(
        None, description="Factor for what its neighbours disturb: 1.0 filleted, 1.1 sharp corner, "
        "1.3 a pod close to a wing")

    USUAL: ClassVar[float] = 1.0

    def skin(self) -> dict[str, float]:
        """Laminar shares [-], roughness [m] and interference [-]."""
        skin = SKINS[self.finish or SKIN]
        known = self.trip_at if self.laminar_share is None else self.laminar_share
        likely, most = (skin.laminar_share, skin.most_laminar) if known is None else (known, known)
        return {"laminar_share": likely, "most_laminar": most, "roughness": skin.roughness,
                "interference": self.USUAL if self.interference is None else self.interference}

    @property
    def bare(self) -> bool:
        """Whether nothing is said of the skin."""
        return self.finish is None and self.laminar_share is None and self.trip_at is None


class _SurfaceSection(_SkinSection):
    USUAL: ClassVar[float] = SURFACE_INTERFERENCE
    ONE_OF = (("area", "span"), ("thickness", "thickness_ratio"))
    area: PartArea | None = Field(
        None, description="Planform area of one that the air wets, without what a body covers")
    span: PartLength | None = Field(
        None, description="Span or height of one that the air wets, without what a body covers")
    chord: PartLength = Field(description="Mean chord: area over span")
    thickness: Small | None = Field(None, description="Greatest thickness")
    thickness_ratio: Annotated[float, Quantity("ratio", 0.005, 0.25)] | None = Field(
        None, description="Greatest thickness over chord")
    thickest_at: Annotated[float, Quantity("ratio", 0.1, 0.7)] = Field(
        0.3, description="Where it is thickest, as a share of the chord; only Raymer's form "
        "factor asks")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.thickness is not None and self.thickness > 0.25 * self.chord:
            yield Problem(path=("thickness",), problem="more than a quarter of the chord: form "
                          "factors end there", accepted="a thinner section; or a part of kind "
                          '"strut" or "lump"')

    def part(self) -> Surface:
        """The surface; equal ones as one."""
        each = self.area if self.span is None else self.span * self.chord
        ratio = self.thickness_ratio
        if ratio is None:
            assert self.thickness is not None
            ratio = self.thickness / self.chord
        assert each is not None
        return Surface(name=self.called, area=self.count * each, chord=self.chord,
                       thickness_ratio=ratio, thickest_at=self.thickest_at,
                       **self.skin())


class WingPartSection(_SurfaceSection):
    """A wing."""

    kind: Literal["wing"]


class TailPartSection(_SurfaceSection):
    """A tailplane, a fin, half of a vee."""

    kind: Literal["tail"]


class _BodySection(_SkinSection):
    ONE_OF = (("diameter", "width"),)
    AT_MOST_ONE = (*_SkinSection.AT_MOST_ONE, ("diameter", "height"), ("diameter", "section"))
    length: PartLength = Field(description="Length")
    diameter: Small | None = Field(None, description="Greatest diameter of a round one")
    width: Small | None = Field(None, description="Greatest width")
    height: Small | None = Field(None, description="Greatest height, with width")
    section: Annotated[str, Word(("round", "box"))] = Field(
        "round", description="Round or oval, or a box with sharp lengthwise corners")
    wetted_area: PartArea | None = Field(
        None, description="Skin the air wets; 85 % of perimeter times length unless given")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if len(self.given("width", "height")) == 1 and not self.given("diameter"):
            yield Problem(path=(self.given("width", "height")[0],), problem="given alone",
                          accepted="width and height together, or diameter")
        across = max(size for size in (self.diameter, self.width, self.height, 0.0)
                     if size is not None)
        if across > self.length:
            yield Problem(path=("length",), problem="shorter than it is wide: no form factor holds",
                          accepted='a longer body, or a part of kind "lump"')

    def _body(self, *, pod: bool) -> Body:
        wide = self.width if self.diameter is None else self.diameter
        high = self.height if self.diameter is None else self.diameter
        assert wide is not None
        assert high is not None
        return Body(name=self.called, length=self.length, width=wide, height=high,
                    shape=self.section, pod=pod, wetted_area=self.wetted_area,
                    count=float(self.count), **self.skin())


class FuselagePartSection(_BodySection):
    """A fuselage or a tail boom."""

    USUAL: ClassVar[float] = BODY_INTERFERENCE
    kind: Literal["fuselage"]

    def part(self) -> Body:
        """The body."""
        return self._body(pod=False)


class PodPartSection(_BodySection):
    """A pod, nacelle or tank, closed or with air through it."""

    USUAL: ClassVar[float] = POD_INTERFERENCE
    kind: Literal["pod"]

    def part(self) -> Body:
        """The pod."""
        return self._body(pod=True)


class _PlainSection(_NamedSection):
    count: Annotated[int, Count(1, 1000)] = Field(1, description="Number of equal ones")


class WirePartSection(_PlainSection):
    """A wire, cable or aerial across the flow."""

    kind: Literal["wire"]
    diameter: Small = Field(description="Diameter")
    length: PartLength = Field(description="Length of one")

    def part(self) -> Bluff:
        """The wires."""
        return wire(name=self.called, diameter=self.diameter, length=self.count * self.length)


class StrutPartSection(_PlainSection):
    """A leg or strut across the flow."""

    kind: Literal["strut"]
    thickness: Small = Field(description="Thickness seen from ahead")
    length: PartLength = Field(description="Length of one")
    shape: Annotated[str, Word(("round", "streamlined", "flat"))] = Field(
        "round", description="Section: a rod, a streamlined one, or a flat strip across the flow")

    def part(self) -> Bluff:
        """The struts."""
        word = {"flat": "flat plate across"}.get(self.shape, f"{self.shape} strut")
        return Bluff(name=self.called, frontal_area=self.count * self.thickness * self.length,
                     shape=word)


class WheelPartSection(_PlainSection):
    """A wheel."""

    kind: Literal["wheel"]
    diameter: Small = Field(description="Diameter")
    width: Small = Field(description="Width")
    faired: Annotated[bool, Flag()] = Field(False, description="True inside a fairing")

    def part(self) -> Bluff:
        """The wheels."""
        return wheel(name=self.called, diameter=self.diameter, width=self.width,
                     count=self.count, faired=self.faired)


LUMPS = ("fitting", "blunt engine or motor", "flat plate across", "sphere", "blunt base")


class LumpPartSection(_PlainSection):
    """Anything else that stands in the wind, by what is seen of it from ahead."""

    kind: Literal["lump"]
    ONE_OF = (("frontal_area", "width"),)
    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (("frontal_area", "height"),
                                                          ("shape", "drag_coefficient"))
    frontal_area: PartArea | None = Field(None, description="Area seen from ahead")
    width: Small | None = Field(None, description="Width seen from ahead")
    height: Small | None = Field(None, description="Height seen from ahead, with width")
    shape: Annotated[str, Word(LUMPS)] = Field(
        "fitting", description="What it is like; blunt base: a rear end cut off behind a body")
    drag_coefficient: Annotated[float, Quantity("ratio", 0.01, 3.0)] | None = Field(
        None, description="Its own drag coefficient on that area, in place of a shape")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if len(self.given("width", "height")) == 1 and not self.given("frontal_area"):
            yield Problem(path=(self.given("width", "height")[0],), problem="given alone",
                          accepted="width and height together, or frontal_area")

    def part(self) -> Bluff:
        """The lump."""
        area = self.frontal_area
        if area is None:
            assert self.width is not None
            assert self.height is not None
            area = self.width * self.height
        return Bluff(name=self.called, frontal_area=self.count * area, shape=self.shape,
                     coefficient=self.drag_coefficient)


PartSection = Annotated[
    WingPartSection | TailPartSection | FuselagePartSection | PodPartSection | WirePartSection
    | StrutPartSection | WheelPartSection | LumpPartSection, Field(discriminator="kind")]
"""Kinds of part; a new one is one class and its name here."""

assert set(LUMPS) <= set(BLUFF)


def parts_of(sections: tuple[PartSection, ...], defaults: DefaultsLog) -> tuple[Part, ...]:
    """The parts, named apart; what had to be assumed of them is noted."""
    seen: dict[str, int] = {}
    named = []
    for section in sections:
        part = section.part()
        seen[part.name] = seen.get(part.name, 0) + 1
        again = seen[part.name]
        named.append(part if again == 1 else replace(part, name=f"{part.name} {again}"))
    bare: list[str] = []
    usual: dict[float, list[str]] = {}
    for section, part in zip(sections, named, strict=True):
        if isinstance(section, _SkinSection):
            bare += [part.name] if section.bare else []
            if section.interference is None:
                usual.setdefault(section.USUAL, []).append(part.name)
    if bare:
        defaults.sentences.append(f'finish "{SKIN}" of {", ".join(bare)} (judgement)')
    defaults.sentences += [f"interference factor {factor:g} of {', '.join(names)} (judgement)"
                           for factor, names in usual.items()]
    return tuple(named)


class GivenDragSection(Section):
    """The polar's least drag as a number."""

    ONE_OF = (("minimum_drag_coefficient", "drag_area"),)
    source: Literal["given"]
    minimum_drag_coefficient: Annotated[float, Quantity("ratio", 1e-3, 2.0)] | None = Field(
        None, description="CDmin on the wing area; complete small aircraft 0.018 to 0.045")
    drag_area: Annotated[float, Quantity("area", 1e-6, 100.0)] | None = Field(
        None, description="Parasite drag area, CDmin times wing area")


class PartsDragSection(Section):
    """Built up from parts measured with a ruler."""

    source: Literal["parts"]
    parts: tuple[PartSection, ...] = Field(min_length=1, description="The parts")
    form_factors: Annotated[str, Word(FORM_FACTORS)] = Field(
        "Hoerner", description="Whose form factors; the band of every part spans all three")
    friction: Annotated[str, Word(tuple(TURBULENT))] = Field(
        "Prandtl-Schlichting", description="Law of turbulent friction")
    allowance: Annotated[float, Quantity("ratio", 0.0, 1.0)] | None = Field(
        None, description="Gaps, hinges, horns and leaks as a share of the skin's drag")
    reference_speed: Annotated[float, Quantity("speed", 1.0, 300.0)] | None = Field(
        None, description="Airspeed at which friction is worked out; it falls slowly with speed")

    def recipe(self, defaults: DefaultsLog) -> Recipe:
        """What the build-up is made of."""
        return Recipe(parts=parts_of(self.parts, defaults), form_factors=self.form_factors,
                      friction=self.friction, allowance=defaults.default(
                          self.allowance, ALLOWANCE, f"{100 * ALLOWANCE:g} % of the skin's drag "
                          "for gaps, hinges and leaks (work manuals give 5 to 20 %)"))


class _FlownSection(Section):
    """What is common to flights without thrust."""

    mass: Annotated[float, Quantity("mass", 1e-3, 1e5)] = Field(
        description="Whole mass flown, with pack and propulsion")
    altitude: Annotated[float, Quantity("length", -400.0, 15e3)] | None = Field(
        None, description="Height above mean sea level it was flown at; the site's unless given")
    machine_drag_area: Annotated[float, Quantity("area", 0.0, 10.0)] = Field(
        0.0, description="Drag area of pods and stopped or windmilling rotors that flew along, "
        "taken off the answer")


class GlideRatioSection(_FlownSection):
    """One glide ratio at one airspeed."""

    source: Literal["glide ratio"]
    glide_ratio: Annotated[float, Quantity("ratio", 1.0, 80.0)] = Field(
        description="Distance over height lost, in still air")
    airspeed: Annotated[float, Quantity("speed", 1.0, 300.0)] = Field(
        description="Airspeed of that glide")
    best: Annotated[bool, Flag()] = Field(
        False, description="True for the best glide the aircraft has: CDmin and the induced factor "
        "then both follow from it")
    glide_ratio_deviation: Annotated[float, Quantity("ratio", 1e-4, 1.0)] = Field(
        DEFAULT_GLIDE_DEVIATION, description="Standard deviation of the ratio, as a share of it")
    airspeed_deviation: Annotated[float, Quantity("speed", 1e-3, 50.0)] | None = Field(
        None, description=f"Its standard deviation; {100 * DEFAULT_AIRSPEED_SHARE:g} % of the "
        "airspeed unless given")


class SinkSection(_FlownSection):
    """Steady glides: pairs of airspeed and sink."""

    source: Literal["sink and speed"]
    readings: Annotated[tuple[tuple[float, float], ...], Pairs(
        Quantity("speed", 1.0, 300.0), Quantity("speed", 0.01, 100.0), least=1)] = Field(
            description="Pairs of airspeed along the path and rate of height lost in still air")
    airspeed_deviation: Annotated[float, Quantity("speed", 1e-3, 50.0)] = Field(
        0.5, description="Standard deviation of an airspeed")
    sink_deviation: Annotated[float, Quantity("speed", 1e-3, 10.0)] = Field(
        0.1, description="Standard deviation of a sink")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for place, (speed, sink) in enumerate(self.readings):
            if sink >= speed:
                yield Problem(path=("readings",), problem=f"entry {place + 1} sinks faster than it "
                              "flies", accepted="airspeed along the path, then sink, below it",
                              hint="are the two columns exchanged?")


class CoastSection(_FlownSection):
    """A level run with the motor cut: airspeed against time."""

    source: Literal["coasting run"]
    readings: Annotated[tuple[tuple[float, float], ...], Pairs(
        Quantity("time", 0.0, 1e5), Quantity("speed", 1.0, 300.0), least=4)] = Field(
            description="Pairs of time and airspeed while it slows down in level flight")
    airspeed_deviation: Annotated[float, Quantity("speed", 1e-3, 50.0)] = Field(
        0.5, description="Standard deviation of an airspeed")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        times = np.array(self.readings)[:, 0]
        if np.any(np.diff(times) <= 0.0):
            yield Problem(path=("readings",), problem="time does not rise from entry to entry",
                          accepted="pairs of time and airspeed in the order they were read")
        elif not self.readings[-1][1] < self.readings[0][1] and np.all(np.isfinite(times)):
            yield Problem(path=("readings",), problem="the airspeed does not fall",
                          accepted="a run with the motor cut, in level flight")


DragSection = Annotated[
    GivenDragSection | PartsDragSection | GlideRatioSection | SinkSection | CoastSection,
    Field(discriminator="source")]
"""Where drag may come from; a new way is one class and its name here."""
