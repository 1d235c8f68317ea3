"""What a caliper measures on a centrifugal machine, and what it may not have measured.

:func:`problems` names every dimension that cannot be meant, before anything is computed;
:func:`cautions` names what lies outside the tests behind the correlations.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values, batch_shape
from thrustlapse.rotor.centrifugal.disc_friction import GAP_RANGE
from thrustlapse.rotor.centrifugal.euler import annulus_area
from thrustlapse.rotor.centrifugal.slip import SLIP_MODELS, STANITZ_ANGLE_LIMIT

MOST_BLOCKED = 0.6
"""Largest share of a rim that blade thickness may cover [-]; beyond it blades touch at the root."""


@dataclass(frozen=True, kw_only=True)
class CentrifugalGeometry:
    """Impeller, vaneless space, scroll and exit cone. Every number may be an array.

    Parameters
    ----------
    eye_diameter, hub_diameter : array_like
        Outer and inner diameter of the eye, where the blades begin [m]
    outlet_diameter, outlet_width : array_like
        Impeller diameter and blade height at the exit [m]
    blades : array_like
        Number of full blades [-]
    exit_angle : array_like
        Blade angle at the exit from radial, backward lean positive [rad]
    inlet_angle : array_like
        Blade angle at the root-mean-square diameter of the eye, from the meridional direction,
        against the rotation [rad]
    blade_thickness : array_like
        Of the blades, normal to them; at the eye, where ``exit_thickness`` is given [m]
    tip_clearance : array_like
        Gap between blades and casing; of a shrouded impeller, the gap of its eye seal [m]
    roughness : array_like
        Equivalent sand roughness of the walls [m]; see
        :data:`thrustlapse.rotor.wall_friction.FINISHES`
    disc_gap : array_like
        Axial gap between the back of the disc and the casing [m]
    diffuser_diameter, diffuser_width : array_like
        Outer diameter of the vaneless space, and its width where it begins [m]
    throat_area, exit_area : array_like
        Scroll throat, and exit plane of the cone behind it [m^2]
    exit_cone_angle : array_like
        Full angle of the exit cone [rad]
    casing_roughness : array_like or None
        Of vaneless space and scroll, where it differs from the impeller's [m]
    axial_length : array_like or None
        Of the impeller; where not known, a share of its radial extent [m]
    exit_thickness : array_like or None
        Of the blades at the rim, where it differs from the eye's [m]
    splitters, splitter_length : array_like
        Number of shorter blades between the full ones, and their length over that of a full one,
        measured along the blade from the rim [-]
    diffuser_end_width : array_like or None
        Width of the vaneless space at its outer diameter, where it is not parallel [m]
    shrouded : bool
        Whether a cover turns with the blades
    slip_model : str
        Key of :data:`thrustlapse.rotor.centrifugal.slip.SLIP_MODELS`
    """

    eye_diameter: Values
    hub_diameter: Values
    outlet_diameter: Values
    outlet_width: Values
    blades: Values
    exit_angle: Values
    inlet_angle: Values
    blade_thickness: Values
    tip_clearance: Values
    roughness: Values
    disc_gap: Values
    diffuser_diameter: Values
    diffuser_width: Values
    throat_area: Values
    exit_area: Values
    exit_cone_angle: Values
    casing_roughness: Values | None = None
    axial_length: Values | None = None
    exit_thickness: Values | None = None
    splitters: Values = 0.0
    splitter_length: Values = 0.5
    diffuser_end_width: Values | None = None
    shrouded: bool = False
    slip_model: str = "wiesner"

    @property
    def mean_inlet_diameter(self) -> Array:
        """Diameter that halves the area of the eye [m]."""
        return np.sqrt(0.5 * (np.square(self.eye_diameter) + np.square(self.hub_diameter)))

    @property
    def radius_ratio(self) -> Array:
        """Mean inlet over outlet radius [-]."""
        return np.asarray(self.mean_inlet_diameter / self.outlet_diameter)

    @property
    def inlet_blockage(self) -> Array:
        """Share of the eye that blade thickness covers, at its mean diameter [-]."""
        covered = np.asarray(self.blades) * self.blade_thickness / np.cos(self.inlet_angle)
        return np.asarray(covered / (np.pi * self.mean_inlet_diameter))

    @property
    def outlet_blockage(self) -> Array:
        """Share of the rim that the thickness of blades and splitters covers [-]."""
        every = np.asarray(self.blades) + self.splitters
        covered = every * self.rim_thickness / np.cos(self.exit_angle)
        return np.asarray(covered / (np.pi * np.asarray(self.outlet_diameter)))

    @property
    def eye_area(self) -> Array:
        """Area of the eye between the blades, normal to the axis [m^2]."""
        ring = annulus_area(outer_diameter=self.eye_diameter, inner_diameter=self.hub_diameter)
        return np.asarray(ring * (1.0 - self.inlet_blockage))

    @property
    def outlet_area(self) -> Array:
        """Area of the rim between the blades [m^2]."""
        rim = np.pi * np.asarray(self.outlet_diameter) * self.outlet_width
        return np.asarray(rim * (1.0 - self.outlet_blockage))

    @property
    def rim_thickness(self) -> Array:
        """Thickness of the blades at the rim [m]."""
        at_rim = self.blade_thickness if self.exit_thickness is None else self.exit_thickness
        return np.asarray(at_rim)

    @property
    def effective_blades(self) -> Array:
        """Full blades that slip, load and rub as full blades and splitters together [-].

        A splitter counts by its length over a full blade's: Aungier, from memory.
        """
        return np.asarray(np.asarray(self.blades)
                          + np.asarray(self.splitters) * self.splitter_length)

    @property
    def space_end_width(self) -> Array:
        """Width of the vaneless space where it ends [m]."""
        end = self.diffuser_width if self.diffuser_end_width is None else self.diffuser_end_width
        return np.asarray(end)

    @property
    def wall_roughness(self) -> Array:
        """Sand roughness of vaneless space and scroll [m]."""
        casing = self.roughness if self.casing_roughness is None else self.casing_roughness
        return np.asarray(casing)

    @property
    def length(self) -> Array:
        """Axial length of the impeller [m].

        Where it is not known, 0.35 of outlet less mean inlet diameter: common practice, no source.
        """
        if self.axial_length is not None:
            return np.asarray(self.axial_length)
        return np.asarray(0.35 * (self.outlet_diameter - self.mean_inlet_diameter))


@dataclass(frozen=True, kw_only=True)
class _Check:
    """A dimension, the test it must pass, and what to say where it does not."""

    what: str
    sound: Callable[[CentrifugalGeometry], BoolArray]
    shown: Callable[[CentrifugalGeometry], Values]
    unit: str
    accepted: str
    remedy: str


def _length(name: str, scale: Callable[[CentrifugalGeometry], Values], *, accepted: str,
            remedy: str, sound: Callable[[CentrifugalGeometry], BoolArray]) -> _Check:
    return _Check(what=name, sound=sound, shown=lambda g: np.asarray(scale(g)) * 1e3, unit="mm",
                  accepted=accepted, remedy=remedy)


def _angle(name: str, key: str, low: float, high: float, remedy: str) -> _Check:
    return _Check(what=name, unit="degrees", remedy=remedy,
                  sound=lambda g: _between(np.rad2deg(getattr(g, key)), low, high),
                  shown=lambda g: np.rad2deg(getattr(g, key)),
                  accepted=f"{low:g} to {high:g}")


def _between(value: Values, low: float, high: float) -> BoolArray:
    x = np.asarray(value)
    return np.asarray((x >= low) & (x <= high))


def _positive(name: str, key: str) -> _Check:
    return _length(name, lambda g: getattr(g, key), accepted="more than 0",
                   remedy="measure it again, in the unit stated",
                   sound=lambda g: np.asarray(np.asarray(getattr(g, key)) > 0.0))


def _area(name: str, key: str, *, accepted: str, remedy: str,
          sound: Callable[[CentrifugalGeometry], BoolArray]) -> _Check:
    return _Check(what=name, sound=sound, shown=lambda g: np.asarray(getattr(g, key)) * 1e6,
                  unit="mm^2", accepted=accepted, remedy=remedy)


CHECKS: tuple[_Check, ...] = (
    _positive("eye diameter", "eye_diameter"),
    _positive("outlet diameter", "outlet_diameter"),
    _positive("outlet width", "outlet_width"),
    _positive("blade thickness", "blade_thickness"),
    _positive("disc gap", "disc_gap"),
    _positive("diffuser width", "diffuser_width"),
    _length("hub diameter", lambda g: g.hub_diameter,
            accepted="0 up to less than the eye diameter",
            remedy="eye and hub may be swapped, or the hub measured behind the eye",
            sound=lambda g: np.asarray((np.asarray(g.hub_diameter) >= 0.0)
                                       & (np.asarray(g.hub_diameter) < g.eye_diameter))),
    _length("eye diameter", lambda g: g.eye_diameter, accepted="less than the outlet diameter",
            remedy="measure the eye where the blades begin, the outlet where they end",
            sound=lambda g: np.asarray(np.asarray(g.eye_diameter) < g.outlet_diameter)),
    _length("outlet width", lambda g: g.outlet_width, accepted="less than the outlet diameter",
            remedy="give the height of the blade at the rim, not the height of the wheel",
            sound=lambda g: np.asarray(np.asarray(g.outlet_width) < g.outlet_diameter)),
    _Check(what="blade count", unit="", accepted="3 to 80", remedy="count the full blades",
           sound=lambda g: _between(g.blades, 3.0, 80.0), shown=lambda g: g.blades),
    _Check(what="splitters", unit="", accepted="0 to 80", remedy="count the shorter blades",
           sound=lambda g: _between(g.splitters, 0.0, 80.0), shown=lambda g: g.splitters),
    _Check(what="splitter length", unit="", accepted="more than 0, up to 1",
           remedy="give it over the length of a full blade",
           sound=lambda g: np.asarray((np.asarray(g.splitter_length) > 0.0)
                                      & (np.asarray(g.splitter_length) <= 1.0)),
           shown=lambda g: g.splitter_length),
    _length("exit thickness", lambda g: g.rim_thickness, accepted="more than 0",
            remedy="leave it out where blades are as thick as at the eye",
            sound=lambda g: np.asarray(g.rim_thickness > 0.0)),
    _length("diffuser end width", lambda g: g.space_end_width, accepted="more than 0",
            remedy="leave it out where the walls are parallel",
            sound=lambda g: np.asarray(g.space_end_width > 0.0)),
    _angle("exit angle from radial", "exit_angle", low=-60.0, high=80.0,
           remedy="give it from the radial direction (90 less the angle from the tangent), "
                  "backward lean positive"),
    _angle("inlet angle from the meridional direction", "inlet_angle", low=5.0, high=82.0,
           remedy="give it from the axial direction of an inducer or the radial one of a flat "
                  "wheel, at the mean diameter of the eye"),
    _Check(what="share of the eye covered by blade thickness", unit="",
           accepted=f"0 to {MOST_BLOCKED:g}",
           remedy="the blades overlap: use fewer or thinner blades, or a smaller inlet angle",
           sound=lambda g: _between(g.inlet_blockage, 0.0, MOST_BLOCKED),
           shown=lambda g: g.inlet_blockage),
    _Check(what="share of the rim covered by blade thickness", unit="",
           accepted=f"0 to {MOST_BLOCKED:g}",
           remedy="the blades overlap: use fewer or thinner blades, or less lean",
           sound=lambda g: _between(g.outlet_blockage, 0.0, MOST_BLOCKED),
           shown=lambda g: g.outlet_blockage),
    _length("tip clearance", lambda g: g.tip_clearance,
            accepted="0 up to less than the outlet width",
            remedy="a negative gap would rub; give the gap when running",
            sound=lambda g: np.asarray((np.asarray(g.tip_clearance) >= 0.0)
                                       & (np.asarray(g.tip_clearance) < g.outlet_width))),
    _length("roughness", lambda g: g.roughness,
            accepted="0 up to a twentieth of the outlet width",
            remedy="give the sand roughness, or a named finish",
            sound=lambda g: np.asarray(
                (np.asarray(g.roughness) >= 0.0)
                & (np.asarray(g.roughness) <= np.asarray(g.outlet_width) / 20.0))),
    _length("casing roughness", lambda g: g.wall_roughness,
            accepted="0 up to a twentieth of the diffuser width",
            remedy="give the sand roughness, or a named finish",
            sound=lambda g: np.asarray(
                (g.wall_roughness >= 0.0)
                & (g.wall_roughness <= np.asarray(g.diffuser_width) / 20.0))),
    _length("diffuser diameter", lambda g: g.diffuser_diameter,
            accepted="at least the outlet diameter",
            remedy="give the diameter at which the scroll's tongue begins",
            sound=lambda g: np.asarray(np.asarray(g.diffuser_diameter) >= g.outlet_diameter)),
    _area("throat area", "throat_area", accepted="more than 0",
          remedy="give the scroll's section just before the exit cone",
          sound=lambda g: np.asarray(np.asarray(g.throat_area) > 0.0)),
    _area("exit area", "exit_area", accepted="at least the throat area",
          remedy="a narrowing behind the scroll is a nozzle: give it there",
          sound=lambda g: np.asarray(np.asarray(g.exit_area) >= g.throat_area)),
    _angle("exit cone angle", "exit_cone_angle", low=0.0, high=180.0,
           remedy="give the full angle between opposite walls"),
    _length("axial length", lambda g: g.length, accepted="more than 0",
            remedy="leave it out to have it estimated",
            sound=lambda g: np.asarray(g.length > 0.0)),
    _Check(what="exit cone angle", unit="degrees", accepted="more than 0 where the cone widens",
           remedy="give an angle, or make the exit area equal to the throat area",
           sound=lambda g: np.asarray((np.asarray(g.exit_area) <= g.throat_area)
                                      | (np.asarray(g.exit_cone_angle) > 0.0)),
           shown=lambda g: np.rad2deg(g.exit_cone_angle)),
)
"""What every dimension must satisfy. A NaN fails its test."""


def is_sound(geometry: CentrifugalGeometry) -> BoolArray:
    """Whether each element of a batch of geometries passes every check."""
    shape = batch_shape(geometry)
    with np.errstate(invalid="ignore", divide="ignore"):
        passed = np.full(shape, geometry.slip_model in SLIP_MODELS)
        for check in CHECKS:
            passed = passed & check.sound(geometry)
    return np.asarray(passed)


def problems(geometry: CentrifugalGeometry) -> list[str]:
    """One message for each dimension that cannot be meant: value, what is accepted, what to do.

    In a batch, a message shows the first bad value and says how many elements share the fault.
    """
    messages = []
    if geometry.slip_model not in SLIP_MODELS:
        messages.append(f"slip model is {geometry.slip_model!r}; accepted: "
                        f"{', '.join(SLIP_MODELS)}")
    with np.errstate(invalid="ignore", divide="ignore"):
        for check in CHECKS:
            bad = ~np.atleast_1d(check.sound(geometry))
            if bad.any():
                messages.append(_message(check, geometry, bad))
    return messages


def cautions(geometry: CentrifugalGeometry) -> list[str]:
    """What lies outside the tests behind the correlations; the map is computed all the same."""
    notes = []
    gap = np.asarray(geometry.disc_gap) / (0.5 * np.asarray(geometry.outlet_diameter))
    if not _between(gap, *GAP_RANGE).all():
        notes.append(f"disc gap over radius {_first(gap):.4g} is outside the {GAP_RANGE[0]:g} to "
                     f"{GAP_RANGE[1]:g} that Daily and Nece tested")
    if geometry.slip_model == "stanitz" and np.any(
            np.abs(geometry.exit_angle) > STANITZ_ANGLE_LIMIT):
        angle = _first(np.rad2deg(geometry.exit_angle))
        notes.append(f"exit angle {angle:.4g} degrees is outside the 45 of Stanitz's slip")
    relative = np.asarray(geometry.tip_clearance) / geometry.outlet_width
    if not geometry.shrouded and np.any(relative > 0.2):
        notes.append(f"tip clearance is {_first(relative):.3g} of the outlet width; the clearance "
                     "loss is known below about 0.2")
    if np.any(geometry.radius_ratio > 0.8):
        notes.append(f"mean inlet over outlet radius {_first(geometry.radius_ratio):.3g}: blades "
                     "shorter than any slip correlation was tested on (0.8)")
    return notes


def _first(value: Values) -> float:
    return float(np.atleast_1d(value).flat[0])


def _message(check: _Check, geometry: CentrifugalGeometry, bad: BoolArray) -> str:
    shown = np.broadcast_to(np.asarray(check.shown(geometry), float), bad.shape)
    value = f"{shown[bad].flat[0]:.4g} {check.unit}".rstrip()
    several = f" (in {int(bad.sum())} of {bad.size} elements)" if bad.size > 1 else ""
    return f"{check.what} is {value}{several}; accepted: {check.accepted}; {check.remedy}"
