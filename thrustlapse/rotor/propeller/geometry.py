"""Blades of an open propeller: what calipers and a protractor find, or diameter and pitch alone.

:func:`problems` names bad geometry before anything is computed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from thrustlapse.arrays import Array
from thrustlapse.rotor.propeller.section import SECTIONS, Section

UNKNOWN_SECTION = "thin cambered"
"""Word for the section of a blade nobody knows."""

REFERENCE_STATION = 0.75
"""Share of the tip radius at which the trade states pitch and blade angle [-]."""

PITCH_WEIGHT = 0.75
"""Weight of the nominal pitch against a measured angle table [-].

Both say where the chord line stands and neither is sure. Left out by blade design, eight designs
are predicted best with 0.6 to 1 (rms error of CT 6.5 % of its peak, of CP 9.6 % with this value),
worse the less the nominal pitch counts.
"""

PITCH_AGREEMENT = np.deg2rad(3.5)
"""Largest difference between both at which the nominal pitch still counts [rad].

Farther apart, the blade was reset in its hub (or the table is of another blade), and the angle
table stands alone. Our own choice; the largest difference on a fixed-pitch blade was 2.9 degrees.
"""

GENERIC_STATIONS = (0.15, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 1.00)
"""Radius over tip radius of the generic planform [-]."""

GENERIC_CHORD = (0.140, 0.150, 0.182, 0.194, 0.196, 0.184, 0.162, 0.132, 0.098, 0.072, 0.035)
"""Chord over tip radius of the generic planform [-]: mean of five measured moulded blades.

The widest chord of the five lies between 0.16 and 0.226 of the tip radius.
"""

GENERIC_PITCH_RATIO = (0.45, 0.76, 1.00, 1.04, 1.04, 1.03, 1.01, 1.00, 0.96, 0.90, 0.85)
"""Local pitch of the chord line over nominal pitch [-]: mean of the same five blades.

Standard deviation 0.09 at three quarters of the radius.
"""

Numbers = npt.ArrayLike


def _numbers(values: Numbers) -> tuple[float, ...]:
    return tuple(float(value) for value in np.atleast_1d(np.asarray(values, dtype=float)))


@dataclass(frozen=True, kw_only=True)
class BladeGeometry:
    """One propeller of equal blades; hashable, so that its map can be kept.

    Parameters
    ----------
    diameter : float
        Tip to tip [m]
    blades : int
        Number of blades [-]
    radius : sequence of float
        Radii of the stations [m], rising; the blade begins at the first and the last is the tip
    chord : sequence of float
        Chord there [m], along the section
    angle : sequence of float
        Angle of the chord line, nose to tail, from the plane of rotation [rad]. One taken on the
        flat underside reads too low: by 2 degrees on a Clark Y, whose nose lies 3.5 % of the chord
        above the flat (from memory)
    section : str or Section
        Word in :data:`thrustlapse.rotor.propeller.section.SECTIONS`, or a section of your own
    pitch : float, optional
        Nominal pitch as sold [m], where it is known beside the table; see :data:`PITCH_WEIGHT`
    """

    diameter: float
    blades: int
    radius: Numbers
    chord: Numbers
    angle: Numbers
    section: str | Section = UNKNOWN_SECTION
    pitch: float | None = None
    generic: bool = field(default=False)

    def __post_init__(self) -> None:
        for name in ("radius", "chord", "angle"):
            object.__setattr__(self, name, _numbers(getattr(self, name)))

    @property
    def tip_radius(self) -> float:
        """Half of the diameter [m]."""
        return 0.5 * self.diameter

    @property
    def hub_radius(self) -> float:
        """Radius at which the blade begins [m]."""
        return float(np.asarray(self.radius)[0])

    def chord_at(self, radius: Array) -> Array:
        """Chord [m] at radii [m], shape-preserving; the last station's holds out to the tip."""
        return _curve(self.radius, self.chord, radius)

    def angle_at(self, radius: Array) -> Array:
        """Angle of the chord line [rad] at radii [m], moved to agree with the nominal pitch."""
        return _curve(self.radius, self.angle, radius) + self.angle_shift

    @property
    def nominal_angle(self) -> float:
        """Angle that the nominal pitch means at three quarters of the tip radius [rad]."""
        if self.pitch is None:
            return float("nan")
        return float(np.arctan2(self.pitch, 2.0 * np.pi * REFERENCE_STATION * self.tip_radius))

    @property
    def pitch_excess(self) -> float:
        """Nominal angle less the table's at three quarters of the tip radius [rad]."""
        where = np.array([REFERENCE_STATION * self.tip_radius])
        return self.nominal_angle - float(_curve(self.radius, self.angle, where)[0])

    @property
    def angle_shift(self) -> float:
        """What the nominal pitch adds to every angle of the table [rad]; 0 where it is not used."""
        excess = self.pitch_excess
        return PITCH_WEIGHT * excess if abs(excess) <= PITCH_AGREEMENT else 0.0


def _curve(stations: Numbers, values: Numbers, radius: Array) -> Array:
    from scipy.interpolate import PchipInterpolator

    x, y = np.asarray(stations, dtype=float), np.asarray(values, dtype=float)
    if x.size == 2:
        return np.asarray(np.interp(radius, x, y))
    return np.asarray(PchipInterpolator(x, y)(np.clip(radius, x[0], x[-1])))


def generic_blade(*, diameter: float, pitch: float, blades: int = 2,
                  section: str | Section = UNKNOWN_SECTION,
                  widest_chord: float | None = None) -> BladeGeometry:
    """Blade of which only diameter and pitch are known.

    Parameters
    ----------
    diameter, pitch : float
        Tip-to-tip diameter and nominal pitch [m]
    blades : int
        Number of blades [-]
    section : str or Section
        As in :class:`BladeGeometry`
    widest_chord : float, optional
        Widest chord, if it can be measured [m]; it scales the planform and takes away most of the
        spread between blades of one diameter and pitch

    Notes
    -----
    Planform and pitch are the means of five measured moulded blades (4.2 to 19 inch), not those of
    any one of them: on average the nominal pitch is the pitch of the chord line over the middle
    of the blade, and falls away at the root and the tip.
    """
    tip = 0.5 * diameter
    station = np.array(GENERIC_STATIONS)
    chord = np.array(GENERIC_CHORD) * tip
    if widest_chord is not None:
        chord = chord * (widest_chord / chord.max())
    angle = np.arctan2(pitch * np.array(GENERIC_PITCH_RATIO), 2.0 * np.pi * station * tip)
    return BladeGeometry(diameter=diameter, blades=blades, radius=station * tip, chord=chord,
                         angle=angle, section=section, generic=True)


# What cannot be meant ------------------------------------------------------------------------

LOWEST_ANGLE, HIGHEST_ANGLE = np.deg2rad(-5.0), np.deg2rad(80.0)
"""Blade angles that can be meant [rad]; tips are sometimes turned a little below 0."""

HIGHEST_SOLIDITY = 1.0
"""Share of a circle that chords may cover before blades overlap [-]."""

MOST_BLADES = 12
"""Largest number of blades [-]: beyond it the blades work as a cascade, not as single wings."""

MOST_UNTWIST = 5.0
"""Rise of the mean angle from the inner to the outer stations that may be meant [degrees]."""

LEAST_REACH = 0.9
"""The last station must reach this share of the tip radius [-]."""


@dataclass(frozen=True, kw_only=True)
class _Check:
    """A number per station, the test it must pass, and what to say where it does not."""

    what: str
    shown: Callable[[BladeGeometry], Array]
    low: float
    high: float
    unit: str
    remedy: str


def _overlap(geometry: BladeGeometry) -> Array:
    radius, chord = np.asarray(geometry.radius), np.asarray(geometry.chord)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(geometry.blades * chord / (2.0 * np.pi * radius))


STATION_CHECKS: tuple[_Check, ...] = (
    _Check(what="radius", shown=lambda g: np.asarray(g.radius) * 1e3, low=1e-3, high=np.inf,
           unit=" mm", remedy="begin the table where the blade begins, outside the hub"),
    _Check(what="chord", shown=lambda g: np.asarray(g.chord) * 1e3, low=1e-3, high=np.inf,
           unit=" mm", remedy="measure it again, in the unit stated"),
    _Check(what="blade angle", shown=lambda g: np.rad2deg(np.asarray(g.angle)),
           low=float(np.rad2deg(LOWEST_ANGLE)), high=float(np.rad2deg(HIGHEST_ANGLE)),
           unit=" degrees", remedy="give it from the plane of rotation, not from the shaft"),
    _Check(what="share of the circle that the chords cover", shown=_overlap, low=0.0,
           high=HIGHEST_SOLIDITY, unit="",
           remedy="the blades overlap: check chord, blade count and the first radii"),
)


def problems(geometry: BladeGeometry) -> list[str]:
    """One message for each thing that cannot be meant: value, what is accepted, what to do."""
    found = []
    if not (np.isfinite(geometry.diameter) and geometry.diameter > 0.0):
        found.append(f"diameter is {geometry.diameter * 1e3:g} mm; accepted: more than 0; "
                     "give the distance from tip to tip")
    if not 1 <= geometry.blades <= MOST_BLADES:
        found.append(f"blade count is {geometry.blades}; accepted: 1 to {MOST_BLADES}; "
                     "count the blades")
    if geometry.pitch is not None and not np.isfinite(geometry.pitch):
        found.append(f"pitch is {geometry.pitch * 1e3:g} mm; accepted: any finite length; "
                     "leave it out if it is not known")
    if isinstance(geometry.section, str) and geometry.section not in SECTIONS:
        found.append(f"section is {geometry.section!r}; accepted: {', '.join(SECTIONS)}; "
                     f"an unknown blade is {UNKNOWN_SECTION!r}")
    return found + _table_problems(geometry)


def _table_problems(geometry: BladeGeometry) -> list[str]:
    radius = np.asarray(geometry.radius)
    sizes = {name: np.size(getattr(geometry, name)) for name in ("radius", "chord", "angle")}
    if len(set(sizes.values())) > 1 or radius.size < 2:
        counts = ", ".join(f"{count} of {name}" for name, count in sizes.items())
        return [f"the blade table has {counts}; accepted: two or more of each, equally many; "
                "give every station a radius, a chord and an angle"]
    found = []
    with np.errstate(invalid="ignore"):
        for check in STATION_CHECKS:
            values = check.shown(geometry)
            bad = ~((values >= check.low) & (values <= check.high))
            if bad.any():
                found.append(_message(check, radius, values, bad))
        fall = np.flatnonzero(~(np.diff(radius) > 0.0))
        if fall.size:
            found.append(f"radius goes from {radius[fall[0]] * 1e3:g} to "
                         f"{radius[fall[0] + 1] * 1e3:g} mm; accepted: rising from hub to tip; "
                         "sort the stations")
        inner, outer = np.array_split(np.rad2deg(np.asarray(geometry.angle)), 2)
        if outer.mean() - inner.mean() > MOST_UNTWIST:
            found.append(f"blade angle rises from {inner.mean():.3g} degrees on the inner to "
                         f"{outer.mean():.3g} on the outer stations; accepted: falling towards "
                         "the tip; give it from the plane of rotation, not from the shaft")
        if not LEAST_REACH * geometry.tip_radius <= radius[-1] <= geometry.tip_radius * (
                1.0 + 1e-6):
            found.append(f"the last radius is {radius[-1] * 1e3:g} mm; accepted: "
                         f"{LEAST_REACH:g} to 1 of the tip radius, "
                         f"{geometry.tip_radius * 1e3:g} mm; radius or diameter is in another "
                         "unit, or the outer stations are missing")
    return found


def _message(check: _Check, radius: Array, values: Array, bad: npt.NDArray[np.bool_]) -> str:
    first = int(np.argmax(bad))
    more = f" (and {int(bad.sum()) - 1} more)" if bad.sum() > 1 else ""
    limits = (f"{check.low:g} to {check.high:g}" if np.isfinite(check.high)
              else "more than 0")
    return (f"{check.what} is {values[first]:.4g}{check.unit} at station {first + 1}, radius "
            f"{radius[first] * 1e3:.4g} mm{more}; accepted: {limits}; {check.remedy}")
