"""Laying out a scroll: how its section grows around an impeller, its throat, tongue and exit cone.

The angle runs from where the section would begin at nothing. At an angle ``theta`` the section
carries ``theta / 2 pi`` of the flow, by one of two schedules:

- free vortex: the air keeps its angular momentum, ``K = r cth``, across the section;
- constant speed: the mean speed over the section is the same all round.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.centrifugal.stage import CentrifugalStage
from thrustlapse.rotor.wall_friction import FINISHES

TURN = 2.0 * np.pi

TONGUE_CLEARANCE = 0.08
"""Gap between impeller and tongue over impeller radius [-].

0.05 to 0.09 for pumps, 0.10 to 0.15 for quiet fans; from memory.
"""

LEAST_TONGUE_ANGLE = float(np.deg2rad(20.0))
"""Angle by which every tongue is cut back [rad]: nearer to the start the wall would be a feather.

Common practice, no source.
"""

CONE_ANGLE = float(np.deg2rad(9.0))
"""Full angle of the exit cone [rad]; 7 to 11 degrees, from memory."""

SPEED_SHARE = 0.8
"""Constant mean speed over the swirl at the base of the scroll [-]; common practice, no source.

Yahya's Ex 12.5 uses 0.817.
"""

# Schedules -----------------------------------------------------------------------------------


def rectangular_free_vortex(*, angle: Values, volume_flow: Values, angular_momentum: Values,
                            width: Values, base_radius: Values) -> Array:
    """Outer radius of a scroll of constant width, free vortex [m].

    Parameters
    ----------
    angle : array_like
        From the start of the scroll [rad]
    volume_flow : array_like
        Through the whole scroll at its own density [m^3/s]
    angular_momentum : array_like
        r cth at its base [m^2/s]
    width, base_radius : array_like
        [m]

    References
    ----------
    Flow through a section is ``K b ln(r4 / r3)``; the layout of fan volutes (Yahya, Ex 12.5).
    """
    share = np.asarray(angle) / TURN * volume_flow
    return np.asarray(base_radius * np.exp(share / (np.asarray(angular_momentum) * width)))


def rectangular_constant_speed(*, angle: Values, volume_flow: Values, mean_speed: Values,
                               width: Values, base_radius: Values) -> Array:
    """Outer radius of a scroll of constant width, constant mean speed [m]."""
    share = np.asarray(angle) / TURN * volume_flow
    return np.asarray(base_radius + share / (np.asarray(mean_speed) * width))


def circular_free_vortex(*, angle: Values, volume_flow: Values, angular_momentum: Values,
                         base_radius: Values) -> Array:
    """Section radius of a round scroll that touches its base circle, free vortex [m].

    Notes
    -----
    Pfleiderer's ``theta = (2 pi K / Q) 2 pi [(r3 + a) - sqrt(r3 (r3 + 2 a))]``, the integral of
    K / r over the circle, solved for ``a``: with ``g = theta Q / (4 pi^2 K)``, it is
    ``g + sqrt(2 g r3)``.
    """
    g = np.asarray(angle) * volume_flow / (TURN**2 * np.asarray(angular_momentum))
    return np.asarray(g + np.sqrt(2.0 * g * np.asarray(base_radius)))


def circular_constant_speed(*, angle: Values, volume_flow: Values, mean_speed: Values) -> Array:
    """Section radius of a round scroll, constant mean speed [m]."""
    area = np.asarray(angle) / TURN * volume_flow / np.asarray(mean_speed)
    return np.asarray(np.sqrt(area / np.pi))


@dataclass(frozen=True, kw_only=True)
class ScrollDuty:
    """What a scroll must carry: one machine at its design flow.

    Parameters
    ----------
    volume_flow : float
        At the density in the scroll [m^3/s]
    angular_momentum : float
        r cth at the base [m^2/s]
    impeller_radius, base_radius : float
        Of the wheel, and where the scroll begins [m]
    width : float
        Of a rectangular scroll [m]
    """

    volume_flow: float
    angular_momentum: float
    impeller_radius: float
    base_radius: float
    width: float

    @property
    def swirl(self) -> float:
        """Tangential speed at the base [m/s]."""
        return self.angular_momentum / self.base_radius


Heights = Callable[[ScrollDuty, Array, float], Array]


def _tall_vortex(duty: ScrollDuty, angle: Array, speed: float) -> Array:  # noqa: ARG001
    return rectangular_free_vortex(angle=angle, volume_flow=duty.volume_flow, width=duty.width,
                                   angular_momentum=duty.angular_momentum,
                                   base_radius=duty.base_radius) - duty.base_radius


def _tall_constant(duty: ScrollDuty, angle: Array, speed: float) -> Array:
    return rectangular_constant_speed(angle=angle, volume_flow=duty.volume_flow, mean_speed=speed,
                                      width=duty.width,
                                      base_radius=duty.base_radius) - duty.base_radius


def _round_vortex(duty: ScrollDuty, angle: Array, speed: float) -> Array:  # noqa: ARG001
    return 2.0 * circular_free_vortex(angle=angle, volume_flow=duty.volume_flow,
                                      angular_momentum=duty.angular_momentum,
                                      base_radius=duty.base_radius)


def _round_constant(duty: ScrollDuty, angle: Array, speed: float) -> Array:
    return 2.0 * circular_constant_speed(angle=angle, volume_flow=duty.volume_flow,
                                         mean_speed=speed)


SCHEDULES: Mapping[tuple[str, str], Heights] = MappingProxyType({
    ("rectangular", "free vortex"): _tall_vortex,
    ("rectangular", "constant speed"): _tall_constant,
    ("circular", "free vortex"): _round_vortex,
    ("circular", "constant speed"): _round_constant,
})
"""Radial height of the section by its shape and schedule."""

# Layout --------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class ScrollDesign:
    """A scroll laid out. Angles in rad, lengths in m, areas in m^2.

    ``angle`` runs from the tongue once round; ``height`` is the section's radial extent above
    ``base_radius``, ``width`` its axial one. ``tongue_radius`` is where the wall begins, and
    ``opening`` the height of the throat between tongue and outer wall. In the plan the cone's
    walls part by ``cone_angle``; its width follows from ``exit_area``.
    """

    section: str
    schedule: str
    finish: str
    duty: ScrollDuty
    angle: Array
    height: Array
    width: Array
    area: Array
    tongue_angle: float
    tongue_radius: float
    opening: float
    throat_area: float
    exit_area: float
    cone_angle: float
    cone_length: float

    @property
    def outer_radius(self) -> Array:
        """Of the outer wall, at ``angle`` [m]."""
        return np.asarray(self.duty.base_radius + self.height)

    @property
    def exit_height(self) -> float:
        """Height of the cone's end in the plan [m]."""
        return float(self.opening + 2.0 * self.cone_length * np.tan(0.5 * self.cone_angle))

    @property
    def exit_width(self) -> float:
        """Width of the cone's end along the axis: a rectangle or an ellipse of its area [m]."""
        filled = 1.0 if self.section == "rectangular" else np.pi / 4.0
        return float(self.exit_area / (filled * self.exit_height))

    @property
    def tongue_clearance(self) -> float:
        """Gap between impeller and tongue over impeller radius [-]."""
        return self.tongue_radius / self.duty.impeller_radius - 1.0

    @property
    def roughness(self) -> float:
        """Equivalent sand roughness of the finish [m]."""
        return FINISHES[self.finish]


def scroll_duty(stage: CentrifugalStage, *, flow: float | None = None,
                width: float | None = None) -> ScrollDuty:
    """What the scroll of a single machine must carry.

    Parameters
    ----------
    flow : float, optional
        Design flow coefficient; the best efficiency's if not given [-]
    width : float, optional
        Of a rectangular scroll; that of the vaneless space if not given [m]

    Raises
    ------
    ValueError
        If the flow lies outside the map.
    """
    g, points = stage.geometry, stage.points
    phi = float(stage.best_flow) if flow is None else flow
    if not 0.0 < phi <= float(stage.highest_flow):
        raise ValueError(f"design flow {phi:.4g} is outside the map: above 0, up to "
                         f"{float(stage.highest_flow):.4g}")
    density = float(np.interp(phi, points.flow, points.scroll_density))
    swirl = float(np.interp(phi, points.flow, points.scroll_swirl))
    return ScrollDuty(volume_flow=float(stage.mass_flow(phi)) / density,
                      angular_momentum=0.5 * float(np.asarray(g.diffuser_diameter)) * swirl,
                      impeller_radius=0.5 * float(np.asarray(g.outlet_diameter)),
                      base_radius=0.5 * float(np.asarray(g.diffuser_diameter)),
                      width=float(np.asarray(g.diffuser_width)) if width is None else width)


def size_scroll(duty: ScrollDuty, *, section: str = "circular", schedule: str = "free vortex",
                finish: str = "resin print", tongue_clearance: float = TONGUE_CLEARANCE,
                speed_share: float = SPEED_SHARE, area_ratio: float = 1.5,
                cone_angle: float = CONE_ANGLE, stations: int = 73) -> ScrollDesign:
    """Lay out a scroll for a duty.

    Parameters
    ----------
    section, schedule : str
        A key of :data:`SCHEDULES`
    finish : str
        A key of :data:`thrustlapse.rotor.wall_friction.FINISHES`
    tongue_clearance : float
        Least gap between impeller and tongue over impeller radius [-]
    speed_share : float
        Mean speed over the swirl at the base, for the constant-speed schedule [-]
    area_ratio : float
        Exit over throat area [-]
    cone_angle : float
        Full angle of a round cone of that area ratio [rad]

    Raises
    ------
    ValueError
        For an unknown word, or a number out of its range.

    Notes
    -----
    The tongue stands where the wall has drawn away from the impeller by the clearance, and no
    nearer to the start than :data:`LEAST_TONGUE_ANGLE`. The throat of a rectangular scroll is the
    opening at the tongue, one turn on; that of a round one is the section after one turn.
    """
    _check(duty, section, schedule=schedule, finish=finish, tongue_clearance=tongue_clearance,
           speed_share=speed_share, area_ratio=area_ratio, cone_angle=cone_angle)
    speed = speed_share * duty.swirl
    heights = SCHEDULES[section, schedule]
    fine = np.linspace(0.0, TURN, 2881)
    wanted = max(duty.impeller_radius * (1.0 + tongue_clearance) - duty.base_radius, 0.0)
    tongue = max(float(np.interp(wanted, heights(duty, fine, speed), fine)), LEAST_TONGUE_ANGLE)
    angle = tongue + np.linspace(0.0, TURN, stations)
    height = heights(duty, angle, speed)
    opening = float(height[-1] - height[0])
    square = section == "rectangular"
    width = np.full_like(height, duty.width) if square else height
    area = height * width if square else np.pi / 4.0 * height**2
    once_round = float(heights(duty, np.asarray(TURN), speed))
    throat = opening * duty.width if square else np.pi / 4.0 * once_round**2
    narrow, wide = np.sqrt(4.0 / np.pi * throat * np.array([1.0, area_ratio]))
    return ScrollDesign(
        section=section, schedule=schedule, finish=finish, duty=duty, angle=angle, height=height,
        width=width, area=area, tongue_angle=tongue,
        tongue_radius=duty.base_radius + float(height[0]), opening=opening, throat_area=throat,
        exit_area=throat * area_ratio, cone_angle=cone_angle,
        cone_length=float((wide - narrow) / (2.0 * np.tan(0.5 * cone_angle))))


def outline(design: ScrollDesign) -> Array:
    """Closed outline of scroll and cone, seen along the axis, around the shaft [m].

    Returns
    -------
    array, shape (n, 2)
        From the tongue along the outer wall, once round, out along the cone's outer wall, across
        its end and back along its inner wall; the first point is not repeated. Rotation is
        counter-clockwise.

    Notes
    -----
    The cone leaves along the wall at the tongue, so that its inner wall clears the scroll's
    beginning, and opens to the outside.
    """
    radius, angle = design.outer_radius, design.angle
    spiral = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    end = angle[-1]
    outward, onward = np.array([np.cos(end), np.sin(end)]), np.array([-np.sin(end), np.cos(end)])
    slope = np.arctan2(radius[1] - radius[0], radius[0] * (angle[1] - angle[0]))
    along = np.cos(slope) * onward + np.sin(slope) * outward
    across = np.cos(slope) * outward - np.sin(slope) * onward
    grown = design.exit_height - design.opening
    outer_end = spiral[-1] + design.cone_length * along + grown * across
    inner_end = spiral[0] + design.cone_length * along
    return np.vstack([spiral, outer_end, inner_end])


def _check(duty: ScrollDuty, section: str, schedule: str, finish: str, tongue_clearance: float,
           speed_share: float, area_ratio: float, cone_angle: float) -> None:
    faults = []
    if (section, schedule) not in SCHEDULES:
        known = "; ".join(f"{a}, {b}" for a, b in SCHEDULES)
        faults.append(f"section {section!r} with schedule {schedule!r}; accepted: {known}")
    if finish not in FINISHES:
        faults.append(f"finish {finish!r}; accepted: {', '.join(FINISHES)}")
    for name, value, low, high in (
            ("volume flow", duty.volume_flow, 0.0, np.inf),
            ("angular momentum", duty.angular_momentum, 0.0, np.inf),
            ("width", duty.width, 0.0, np.inf), ("speed share", speed_share, 0.0, 2.0),
            ("cone angle", cone_angle, 0.0, np.pi / 3.0)):
        if not low < value <= high:
            faults.append(f"{name} is {value:.4g}; accepted: more than {low:g}"
                          + ("" if np.isinf(high) else f", up to {high:.4g}"))
    if not duty.base_radius >= duty.impeller_radius > 0.0:
        faults.append(f"base radius is {duty.base_radius:.4g} m; accepted: at least the impeller "
                      f"radius, {duty.impeller_radius:.4g} m")
    if not 0.0 <= tongue_clearance <= 0.5:
        faults.append(f"tongue clearance is {tongue_clearance:.4g} of the impeller radius; "
                      "accepted: 0 to 0.5")
    if not 1.0 <= area_ratio <= 6.0:
        faults.append(f"area ratio of the cone is {area_ratio:.4g}; accepted: 1 to 6")
    if faults:
        raise ValueError("; ".join(faults))
