"""Drag of an airframe from parts that can be measured with a ruler.

    drag area = S_wet x Cf(Re, laminar share) x form factor x interference      surfaces, bodies
    drag area = frontal area x drag coefficient                                  bluff parts, wires

summed part by part. The band of each part runs from the longest laminar run it may have with the
least form factor of the sources to a fully turbulent skin with the greatest. Below a Reynolds
number of :data:`LOW_REYNOLDS` separation bubbles make every friction rule uncertain, and the band
is widened by :data:`LOW_REYNOLDS_SPREAD`: against the measured drag of a 10 % symmetric section
(Selig et al., 1995) a plate laminar over 70 % with Hoerner's factor errs by -1 to +23 % there.

Error of the whole, against the one complete small aircraft whose measured polar was at hand (1.92 m
span, NASA tunnel data): CDmin 7 % too high with Hoerner's factors, 12 % with Torenbeek's, from
parts of which only wing area, span and chord were published. With the span efficiency estimated
too, and its own lift of least drag, the four points below the stall come out within 7 %; with a
parabola centred on zero lift they err by -17 to +33 %, which says what knowing CL0 is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft import form_factor
from thrustlapse.aircraft.drag import Airframe, induced_factor
from thrustlapse.aircraft.skin_friction import mixed
from thrustlapse.aircraft.span_efficiency import model_scale
from thrustlapse.arrays import Array, Values

LOW_REYNOLDS = 2.0e5
LOW_REYNOLDS_SPREAD = 0.25

BOX_FACTOR = 1.4
"""Drag of a body with sharp lengthwise corners over that of a round one [-]: 30 to 40 % more for
the flow that separates at the corners (Raymer, from memory)."""

FULLNESS = 0.85
"""Wetted area of a tapering body over that of the prism round it [-]; judgement, no source."""

BLUFF: dict[str, tuple[float, float, float]] = {
    "wire": (1.1, 1.0, 1.2),
    "round strut": (1.1, 1.0, 1.2),
    "streamlined strut": (0.1, 0.06, 0.3),
    "flat plate across": (1.17, 1.1, 1.28),
    "sphere": (0.47, 0.4, 0.5),
    "wheel": (0.3, 0.25, 0.5),
    "faired wheel": (0.15, 0.13, 0.2),
    "fitting": (1.2, 1.0, 1.4),
    "blunt engine or motor": (1.0, 0.8, 1.2),
    "blunt base": (0.13, 0.08, 0.25),
}
"""Drag coefficient on frontal area by word: likely, least, greatest [-]. After Hoerner and Raymer,
from memory; below the critical Reynolds number, where all small parts are. "blunt base" is a rear
end cut off behind a body, on the area of the cut."""


@dataclass(frozen=True, kw_only=True)
class Skin:
    """A finish: sand roughness [m], likely and longest laminar share of the length [-]."""

    roughness: float
    laminar_share: float
    most_laminar: float


SKINS: dict[str, Skin] = {
    "moulded, polished": Skin(roughness=1e-6, laminar_share=0.3, most_laminar=0.7),
    "painted or film": Skin(roughness=6e-6, laminar_share=0.15, most_laminar=0.6),
    "film over open ribs": Skin(roughness=6e-6, laminar_share=0.1, most_laminar=0.5),
    "bare foam": Skin(roughness=50e-6, laminar_share=0.1, most_laminar=0.4),
    "filament print": Skin(roughness=60e-6, laminar_share=0.05, most_laminar=0.3),
    "rough": Skin(roughness=150e-6, laminar_share=0.0, most_laminar=0.1),
}
"""Finishes by word; the first figure of smooth paint is Raymer's (6.3 um, from memory), the rest is
judgement, no source. A wing at a Reynolds number of 2e5 can stay laminar over most of its chord."""


@dataclass(frozen=True, kw_only=True)
class Surface:
    """Wing or tail surface.

    Parameters
    ----------
    name : str
    area : array_like
        Exposed planform area, both halves, without what the fuselage covers [m^2]
    chord : array_like
        Mean chord [m]
    thickness_ratio : array_like
        Thickness over chord [-], up to 0.25
    laminar_share : array_like
        Share of the chord with laminar flow [-]; 0 for a rough or ribbed skin
    most_laminar : array_like
        The longest that share may be, for the low end of the band [-]; ``laminar_share`` where
        None, as behind a trip
    roughness : array_like
        Sand roughness of the skin [m]
    thickest_at : array_like
        Chordwise place of greatest thickness [-]; only Raymer's factor asks for it
    interference : array_like
        Factor for what the neighbour disturbs [-]; 1.0 filleted to 1.1 for a sharp corner
    """

    name: str
    area: Values
    chord: Values
    thickness_ratio: Values
    laminar_share: Values = 0.1
    most_laminar: Values | None = None
    roughness: Values = 0.0
    thickest_at: Values = 0.3
    interference: Values = 1.05


@dataclass(frozen=True, kw_only=True)
class Body:
    """Fuselage, pod or boom: ``length``, ``width`` and ``height`` [m], ``shape`` round or box.

    ``wetted_area`` [m^2] may be given; else it is perimeter times length times
    :data:`FULLNESS`. ``pod`` takes the form factors of pods. ``count`` equal ones are one part. A
    blunt rear end is a :class:`Bluff` beside it. Skin as in :class:`Surface`.
    """

    name: str
    length: Values
    width: Values
    height: Values
    shape: str = "round"
    pod: bool = False
    wetted_area: Values | None = None
    count: Values = 1.0
    laminar_share: Values = 0.0
    most_laminar: Values | None = None
    roughness: Values = 0.0
    interference: Values = 1.05


@dataclass(frozen=True, kw_only=True)
class Bluff:
    """Part that drags by its frontal area [m^2]: wire, strut, wheel, fitting, blunt base.

    ``shape`` is a word of :data:`BLUFF`; a ``coefficient`` [-] of one's own goes before it.
    """

    name: str
    frontal_area: Values
    shape: str = "fitting"
    coefficient: Values | None = None


def wire(*, name: str, diameter: Values, length: Values) -> Bluff:
    """Wire or round strut across the flow: diameter and length in m."""
    return Bluff(name=name, frontal_area=np.asarray(diameter) * length, shape="wire")


def wheel(*, name: str, diameter: Values, width: Values, count: int = 1,
          faired: bool = False) -> Bluff:
    """Wheels: diameter and width of one in m."""
    return Bluff(name=name, frontal_area=np.asarray(diameter) * width * float(count),
                 shape="faired wheel" if faired else "wheel")


Part = Surface | Body | Bluff


@dataclass(frozen=True, kw_only=True)
class PartDrag:
    """One line of a build-up; areas in m^2, the rest without unit.

    ``low`` and ``high`` bound the drag area. ``wetted_area``, ``reynolds``, ``friction`` and
    ``form_factor`` are NaN for bluff parts, whose ``coefficient`` is on ``frontal_area``.
    """

    name: str
    kind: str
    wetted_area: Array
    reynolds: Array
    friction: Array
    form_factor: Array
    interference: Array
    frontal_area: Array
    coefficient: Array
    drag_area: Array
    low: Array
    high: Array


@dataclass(frozen=True, kw_only=True)
class BuildUp:
    """Parasite drag of an airframe by part at an airspeed [m/s], as drag areas [m^2]."""

    airspeed: Array
    parts: tuple[PartDrag, ...]

    @property
    def drag_area(self) -> Array:
        """Sum of all parts [m^2]."""
        return np.asarray(sum((part.drag_area for part in self.parts), np.zeros(())))

    @property
    def low(self) -> Array:
        """Sum of the lower bounds, as if all erred together [m^2]."""
        return np.asarray(sum((part.low for part in self.parts), np.zeros(())))

    @property
    def high(self) -> Array:
        """Sum of the upper bounds, as if all erred together [m^2]."""
        return np.asarray(sum((part.high for part in self.parts), np.zeros(())))


def surface_wetted_area(*, area: Values, thickness_ratio: Values) -> Array:
    """Wetted area of a wing or tail [m^2]: S (1.977 + 0.52 t/c), 2.003 S below 5 % (Raymer)."""
    t = np.asarray(thickness_ratio, dtype=float)
    return np.asarray(area * np.where(t > 0.05, 1.977 + 0.52 * t, 2.003))


def body_wetted_area(body: Body) -> Array:
    """Wetted area of one body [m^2]: as given, or perimeter times length times the fullness."""
    if body.wetted_area is not None:
        return np.asarray(body.wetted_area, dtype=float)
    width, height = np.asarray(body.width, dtype=float), np.asarray(body.height, dtype=float)
    if body.shape == "box":
        perimeter = 2.0 * (width + height)
    else:
        perimeter = np.pi * np.sqrt(0.5 * (width**2 + height**2))
    return np.asarray(FULLNESS * perimeter * body.length)


def fineness(body: Body) -> Array:
    """Length over the diameter of a circle of the same cross-section [-]."""
    section = np.asarray(body.width, dtype=float) * body.height
    if body.shape != "box":
        section = np.pi / 4.0 * section
    return np.asarray(body.length / np.sqrt(4.0 * section / np.pi))


def build_up(parts: Sequence[Part], *, air: Air, airspeed: Values, source: str = "Hoerner",
             turbulent: str = "Prandtl-Schlichting", allowance: float = 0.1) -> BuildUp:
    """Parasite drag of an airframe by part.

    Parameters
    ----------
    parts : sequence of Surface, Body or Bluff
    air : Air
        Still air
    airspeed : array_like
        Above zero [m/s]
    source : str
        Whose form factors: a name in ``form_factor.SOURCES``
    turbulent : str
        Turbulent friction by name, see ``skin_friction.TURBULENT``
    allowance : float
        Gaps, hinges, horns and leaks, as a share of all parts but wires and wheels [-]; handbooks
        say 0.05 to 0.1 for each of gaps and of protuberances. Its own line, with 0.5 to 2 times it
        as band.

    Raises
    ------
    KeyError
        For an unknown source, correlation or bluff shape.
    """
    speed = np.asarray(airspeed, dtype=float)
    per_length = np.asarray(air.density) * speed / air.viscosity
    lines = [_bluff(part, speed) if isinstance(part, Bluff)
             else _skin(part, per_length, source, turbulent) for part in parts]
    smooth = np.asarray(sum((line.drag_area for line in lines if line.kind != "bluff"),
                            np.zeros(speed.shape)))
    if allowance > 0.0:
        lines.append(_line(name="gaps, hinges and leaks", kind="allowance", drag_area=allowance
                           * smooth, low=0.5 * allowance * smooth, high=2.0 * allowance * smooth))
    return BuildUp(airspeed=speed, parts=tuple(lines))


def airframe(build: BuildUp, *, mass: Values, wing_area: Values, span: Values,
             greatest_lift: Values, launch_speed: Values, lift_of_least_drag: Values = 0.0,
             span_efficiency: Values | None = None, body_width: Values = 0.0) -> Airframe:
    """Airframe whose CDmin is a build-up's, and whose induced factor follows from its span [m].

    ``span_efficiency`` is estimated from CDmin and ``body_width`` [m] where it is not given; the
    other arguments are those of :class:`Airframe`.
    """
    area = np.asarray(wing_area, dtype=float)
    least = build.drag_area / area
    ratio = np.square(span) / area
    if span_efficiency is None:
        span_efficiency = model_scale(aspect_ratio=ratio, minimum_drag_coefficient=least,
                                      body_width_ratio=np.asarray(body_width) / span)
    return Airframe(mass=mass, wing_area=wing_area, minimum_drag_coefficient=least,
                    induced_factor=induced_factor(aspect_ratio=ratio,
                                                  span_efficiency=span_efficiency),
                    lift_of_least_drag=lift_of_least_drag, greatest_lift=greatest_lift,
                    launch_speed=launch_speed)


def _skin(part: Surface | Body, per_length: Array, source: str, turbulent: str) -> PartDrag:
    if isinstance(part, Surface):
        wetted = surface_wetted_area(area=part.area, thickness_ratio=part.thickness_ratio)
        length, kind = np.asarray(part.chord, dtype=float), "surface"
        factors = {name: rule(thickness_ratio=part.thickness_ratio, thickest_at=part.thickest_at)
                   for name, rule in form_factor.SURFACE.items()}
    else:
        wetted = np.asarray(part.count * body_wetted_area(part))
        length = np.asarray(part.length, dtype=float)
        kind = "pod" if part.pod else "body"
        corners = BOX_FACTOR if part.shape == "box" else 1.0
        table = form_factor.POD if part.pod else form_factor.BODY
        factors = {name: corners * rule(fineness=fineness(part)) for name, rule in table.items()}
    reynolds = per_length * length
    longest = part.laminar_share if part.most_laminar is None else part.most_laminar
    friction, smoothest, roughest = (
        mixed(reynolds=reynolds, laminar_share=share, turbulent=turbulent,
              relative_roughness=np.asarray(part.roughness) / length)
        for share in (part.laminar_share, longest, 0.0))
    least = np.minimum.reduce(list(factors.values()))
    most = np.maximum.reduce(list(factors.values()))
    spread = np.where(reynolds < LOW_REYNOLDS, LOW_REYNOLDS_SPREAD, 0.0)
    scale = wetted * np.asarray(part.interference)
    return _line(name=part.name, kind=kind, drag_area=scale * friction * factors[source],
                 low=scale * smoothest * least * (1.0 - spread),
                 high=scale * roughest * most * (1.0 + spread), wetted_area=wetted,
                 reynolds=reynolds, friction=friction, form_factor=factors[source],
                 interference=part.interference)


def _bluff(part: Bluff, speed: Array) -> PartDrag:
    own = part.coefficient
    likely, least, most = BLUFF[part.shape] if own is None else (np.asarray(own, dtype=float),) * 3
    area = np.asarray(part.frontal_area, dtype=float) + np.zeros(speed.shape)
    return _line(name=part.name, kind="bluff", frontal_area=area, coefficient=likely,
                 drag_area=area * likely, low=area * least, high=area * most)


def _line(*, name: str, kind: str, drag_area: Array, low: Array, high: Array,
          wetted_area: Values = np.nan, reynolds: Values = np.nan, friction: Values = np.nan,
          form_factor: Values = np.nan, interference: Values = 1.0, frontal_area: Values = np.nan,
          coefficient: Values = np.nan) -> PartDrag:
    shape = np.shape(drag_area)
    values = {"wetted_area": wetted_area, "reynolds": reynolds, "friction": friction,
              "form_factor": form_factor, "interference": interference,
              "frontal_area": frontal_area, "coefficient": coefficient, "drag_area": drag_area,
              "low": low, "high": high}
    return PartDrag(name=name, kind=kind, **{
        key: np.broadcast_to(np.asarray(value, dtype=float), shape)
        for key, value in values.items()})
