"""What a caliper and a protractor say about an axial fan, and what is wrong with it.

All angles are measured from the axial direction [rad]: an axial plate has stagger 0, and a blade
set at an angle to the plane of rotation has a quarter turn less that angle.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import FIXED, Array, BoolArray, Values

HIGHEST_SOLIDITY = 3.0
"""Chord over spacing above which blades are a duct, not a cascade [-]; common practice, no source.
Cascade correlations are published for 0.4 to 2; the lattice theory used here has no limit."""

LEAST_PASSAGE = 1.5
"""Least width between neighbouring blades, in blade thicknesses [-]; common practice, no source."""

HIGHEST_STAGGER = np.radians(85.0)
HIGHEST_CAMBER = np.radians(70.0)
"""Angles [rad] beyond which the parabolic mean line is no blade; common practice, no source."""

UNCOVERED_SPAN = 0.15
"""Share of the span by which the table of stations may fall short of hub and tip [-]."""


@dataclass(frozen=True, kw_only=True)
class Vanes:
    """Straightening vanes behind the rotor.

    Parameters
    ----------
    count : array_like
        Number of vanes [-]
    station : array, (k,)
        Radius over rotor tip radius, rising [-]
    chord : array, (..., k)
        [m]
    stagger, camber : array, (..., k)
        Chord line from the axial direction, and turning of the mean line [rad]. The vane's inlet
        points with the rotor's swirl: inlet angle = stagger + camber / 2.
    thickness_ratio : array_like
        Thickness over chord [-]
    """

    count: Values
    station: Array = field(metadata=FIXED)
    chord: Array = field(metadata=FIXED)
    stagger: Array = field(metadata=FIXED)
    camber: Array = field(metadata=FIXED)
    thickness_ratio: Values = 0.06


@dataclass(frozen=True, kw_only=True)
class AxialFanGeometry:
    """Rotor, and vanes or none, of an axial or ducted fan.

    Parameters
    ----------
    tip_diameter, hub_diameter : array_like
        Of the rotor [m]
    blade_count : array_like
        [-]
    tip_clearance : array_like
        Gap between blade tip and casing [m]
    station : array, (k,)
        Radius over tip radius at which the blade was measured, rising [-]
    chord : array, (..., k)
        [m]
    stagger : array, (..., k)
        Angle of the chord line from the axial direction [rad]; a quarter turn less the blade angle
    camber : array, (..., k)
        Turning of the mean line from leading to trailing edge [rad]; see
        :func:`camber_from_rise`, :func:`stagger_and_camber`
    thickness_ratio : array_like
        Thickness over chord [-]
    roughness : array_like
        Equivalent sand roughness of the blades [m]
    blockage : array_like
        Share of the annulus that the boundary layers of hub and casing take [-]; 0.02 is practice
        for a single stage, from memory
    vanes : Vanes or None
        None leaves the swirl in the stream

    Notes
    -----
    Scalar fields may be arrays of a batch; then a table may have one row per element of it.
    """

    tip_diameter: Values
    hub_diameter: Values
    blade_count: Values
    tip_clearance: Values
    station: Array = field(metadata=FIXED)
    chord: Array = field(metadata=FIXED)
    stagger: Array = field(metadata=FIXED)
    camber: Array = field(metadata=FIXED)
    thickness_ratio: Values = 0.08
    roughness: Values = 0.0
    blockage: Values = 0.02
    vanes: Vanes | None = None


def stagger_and_camber(*, inlet_angle: Values, outlet_angle: Values) -> tuple[Array, Array]:
    """Stagger and camber of a blade from the directions of its two edges [rad]."""
    first, last = np.asarray(inlet_angle, dtype=float), np.asarray(outlet_angle, dtype=float)
    return 0.5 * (first + last), first - last


def read_at(*, station: Array, table: Values, ratio: Array) -> Array:
    """Table linear between stations and continued straight beyond, at radius ratios (..., r)."""
    values, x = np.asarray(table, dtype=float), np.asarray(station, dtype=float)
    low = np.minimum(np.maximum(np.searchsorted(x, ratio) - 1, 0), x.size - 2)
    share = (ratio - x[low]) / (x[low + 1] - x[low])
    if values.ndim == 1:
        return np.asarray(values[low] + share * (values[low + 1] - values[low]))
    batch = np.broadcast_shapes(values.shape[:-1], low.shape[:-1])
    values = np.broadcast_to(values, (*batch, x.size))
    low = np.broadcast_to(low, (*batch, low.shape[-1]))
    below = np.take_along_axis(values, low, axis=-1)
    above = np.take_along_axis(values, low + 1, axis=-1)
    return np.asarray(below + share * (above - below))


# What is wrong with it -------------------------------------------------------------------------


class GeometryProblem(NamedTuple):
    """A dimension that cannot be, what is accepted, and what to do about it."""

    dimension: str
    value: str
    accepted: str
    advice: str
    where: BoolArray

    def __str__(self) -> str:
        return f"{self.dimension} is {self.value}; accepted: {self.accepted}. {self.advice}"


def problems(geometry: AxialFanGeometry) -> list[str]:
    """One message for each dimension that cannot be meant: value, what is accepted, what to do.

    Empty for a good geometry. Of a batch, a message shows the first bad value.
    """
    return [str(problem) for problem in geometry_problems(geometry)]


def geometry_problems(geometry: AxialFanGeometry) -> list[GeometryProblem]:
    """The same with its parts apart; ``where`` says which elements of a batch share a problem."""
    found = _size_problems(geometry)
    found += _table_problems("rotor", geometry, station=geometry.station, chord=geometry.chord,
                             stagger=geometry.stagger, camber=geometry.camber,
                             count=geometry.blade_count, thickness=geometry.thickness_ratio)
    if geometry.vanes is not None:
        vanes = geometry.vanes
        found += _table_problems("vanes", geometry, station=vanes.station, chord=vanes.chord,
                                 stagger=vanes.stagger, camber=vanes.camber, count=vanes.count,
                                 thickness=vanes.thickness_ratio)
    return found


def acceptable(geometry: AxialFanGeometry) -> BoolArray:
    """Which elements of a batch of geometries have no problem."""
    good = np.ones((), dtype=bool)
    for problem in geometry_problems(geometry):
        good = good & ~problem.where
    return np.asarray(good)


def _problem(dimension: str, bad: Values | BoolArray, value: Values, accepted: str, advice: str,
             unit: str) -> list[GeometryProblem]:
    where, values = np.broadcast_arrays(np.asarray(bad, dtype=bool), np.asarray(value, dtype=float))
    if not where.any():
        return []
    first = float(values[where].flat[0])
    return [GeometryProblem(dimension, f"{first:.4g} {unit}".strip(), accepted=accepted,
                            advice=advice, where=where)]


def _size_problems(geometry: AxialFanGeometry) -> list[GeometryProblem]:
    tip, hub = np.asarray(geometry.tip_diameter), np.asarray(geometry.hub_diameter)
    gap = np.asarray(geometry.tip_clearance)
    return [
        *_problem("tip diameter", ~(tip > 0.0), value=tip, accepted="above 0 m",
                  advice="Measure across the blade tips.", unit="m"),
        *_problem("hub diameter", ~(hub > 0.0), value=hub, accepted="above 0 m",
                  advice="Measure the hub at the blade roots.", unit="m"),
        *_problem("hub diameter", hub >= tip, value=hub, accepted="less than the tip diameter",
                  advice="Check that the two diameters are not exchanged.", unit="m"),
        *_problem("tip clearance", ~(gap >= 0.0), value=gap, accepted="0 m or more",
                  advice="It is half of casing bore less rotor diameter.", unit="m"),
        *_problem("tip clearance", gap > 0.5 * (tip - hub), value=gap,
                  accepted="less than the blade height", advice="Check its unit.", unit="m"),
        *_problem("blockage",
                  ~((np.asarray(geometry.blockage) >= 0.0) & (np.asarray(geometry.blockage) < 0.5)),
                  value=geometry.blockage, accepted="0 to 0.5", advice="0.02 is usual.", unit=""),
        *_problem("roughness", ~(np.asarray(geometry.roughness) >= 0.0), value=geometry.roughness,
                  accepted="0 m or more", advice="It is a height, not a gloss.", unit="m"),
    ]


def _table_problems(row: str, geometry: AxialFanGeometry, station: Array, chord: Array,
                    stagger: Array, camber: Array, count: Values,
                    thickness: Values) -> list[GeometryProblem]:
    x, c = np.asarray(station, dtype=float), np.asarray(chord, dtype=float)
    if x.ndim != 1 or x.size < 2 or not np.all(np.diff(x) > 0.0):
        return _problem(f"{row} stations", True, value=x.size,
                        accepted="two or more, rising from hub to tip",
                        advice="Give radius over tip radius.", unit="entries")
    for name, table in (("chord", c), ("stagger", stagger), ("camber", camber)):
        entries = np.shape(table)[-1] if np.ndim(table) else 1
        if entries != x.size:
            return _problem(f"{row} {name}", True, value=entries,
                            accepted=f"{x.size} entries, one per station",
                            advice="Give one value per station.", unit="entries")
    with np.errstate(divide="ignore", invalid="ignore"):
        hub = np.asarray(geometry.hub_diameter) / np.asarray(geometry.tip_diameter)
        radius = 0.5 * x * np.asarray(geometry.tip_diameter)[..., None]
        spacing = 2.0 * np.pi * radius / np.asarray(count, dtype=float)[..., None]
        solidity = np.max(c / spacing, axis=-1)
        thick = c * np.asarray(thickness)[..., None]
        passage = np.min(spacing * np.cos(stagger) / thick, axis=-1)
        slack = UNCOVERED_SPAN * (1.0 - hub)
        innermost = hub + slack
    steep = np.max(np.abs(stagger), axis=-1)
    bend = np.max(np.abs(camber), axis=-1)
    return [
        *_problem(f"{row} stations", (hub < 1.0) & ((x[0] > innermost) | (x[-1] < 1.0 - slack)),
                  value=x[0], accepted="from hub to tip within 15 % of the span",
                  advice="Measure nearer to hub and tip.", unit="(first)"),
        *_problem(f"{row} count", ~(np.asarray(count) >= 1.0), value=count, accepted="1 or more",
                  advice="Count the blades.", unit=""),
        *_problem(f"{row} chord", ~np.all(c > 0.0, axis=-1), value=np.min(c, axis=-1),
                  accepted="above 0 m", advice="Measure from leading to trailing edge.", unit="m"),
        *_problem(f"{row} solidity", solidity > HIGHEST_SOLIDITY, value=solidity,
                  accepted=f"chord up to {HIGHEST_SOLIDITY:g} spacings at every radius",
                  advice="Check count and chord; blades as long as this overlap into a duct.",
                  unit=""),
        *_problem(f"{row} passage", ~(passage >= LEAST_PASSAGE), value=passage,
                  accepted=f"at least {LEAST_PASSAGE:g} blade thicknesses between blades",
                  advice="The blades overlap: check count, stagger and thickness at the hub.",
                  unit="thicknesses"),
        *_problem(f"{row} stagger", ~(steep <= HIGHEST_STAGGER), value=np.degrees(steep),
                  accepted=f"within {np.degrees(HIGHEST_STAGGER):.0f} deg of axial",
                  advice="Stagger is measured from the axis; take 90 deg less the blade angle.",
                  unit="deg"),
        *_problem(f"{row} camber", ~(bend <= HIGHEST_CAMBER), value=np.degrees(bend),
                  accepted=f"within {np.degrees(HIGHEST_CAMBER):.0f} deg",
                  advice="Camber is the turning between the two edges.", unit="deg"),
        *_problem(f"{row} thickness ratio",
                  ~((np.asarray(thickness) > 0.0) & (np.asarray(thickness) < 0.4)), value=thickness,
                  accepted="0 to 0.4", advice="Give thickness over chord.", unit=""),
    ]
