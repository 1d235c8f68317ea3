"""Open propeller: blade geometry in, thrust and power coefficients out.

    geometry = BladeGeometry(diameter=0.254, blades=2, radius=..., chord=..., angle=...)
    table = propeller_table(geometry)          # a PropellerTable, as if it had been measured

The table is kept: the same blades in the same air cost nothing a second time.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from thrustlapse.air.atmosphere import SEA_LEVEL_PRESSURE, SEA_LEVEL_TEMPERATURE, Air
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.rotor.propeller.element import Element, ElementLoads, element_loads
from thrustlapse.rotor.propeller.geometry import BladeGeometry, problems
from thrustlapse.rotor.propeller.section import SECTIONS, Section
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import Band, NoMap

RADII = 20
"""Elements along a blade; against 160 they change CT and CP by at most 0.2 % of their peaks."""

SPEEDS = 6
"""Rows of a table whose shaft speeds are not given."""

ADVANCE_RATIOS = 60
"""Columns of a table whose advance ratios are not given."""

TIP_MACH_RANGE = (0.08, 0.8)
"""Tip Mach numbers at rest between which the rows of such a table lie [-]."""

SEA_LEVEL = Air(pressure=SEA_LEVEL_PRESSURE, temperature=SEA_LEVEL_TEMPERATURE)

LEFT_OUT = ("rms errors of measured propellers whose blade design was left out of the fit: loading "
            "over that at rest, and the logarithm of power above momentum theory")

BANDS: dict[str, Band] = {
    "clark y": Band(loading=True, head=0.065, power=0.18,
                    basis=f"{LEFT_OUT}; two of one Clark Y blade"),
    "thin moderate": Band(loading=True, head=0.085, power=0.25,
                    basis=f"{LEFT_OUT}; three of two blades"),
    "thin cambered": Band(loading=True, head=0.085, power=0.20,
                          basis=f"{LEFT_OUT}; five of unpublished section"),
}
"""Bands by section, from ``tests/rotor/left_out_propellers.py``: ``head`` is the deviation of the
loading, see :mod:`thrustlapse.rotor.propeller.loading`, ``power`` that of the power above momentum
theory."""

OWN_SECTION_BAND = Band(loading=True, head=0.085, power=0.25,
                        basis="judgement: as for a known section")
"""Band of a blade with a section of the user's own."""

GENERIC_BAND = Band(loading=True, head=0.17, power=0.30,
                    basis="thrust: rms error of ten measured propellers predicted from diameter, "
                          "pitch and blade count alone, over its peak; power: judgement")
"""Band of a blade of which only diameter and pitch are known."""


@dataclass(frozen=True, kw_only=True)
class BladeLoads:
    """Coefficients of a propeller, and what its elements do.

    ``thrust``, ``power``: CT and CP [-]; ``tip_mach``: Mach number of the helical tip speed [-];
    ``converged``: whether every element was solved; ``radius`` [m] and ``elements`` have one
    more axis, the last, along the blade.
    """

    thrust: Array
    power: Array
    tip_mach: Array
    converged: BoolArray
    radius: Array
    elements: ElementLoads


def blade_section(geometry: BladeGeometry) -> Section:
    """Section of a blade, looked up where it is given by name.

    Raises
    ------
    KeyError
        For a name that is not in the table; :func:`problems` says so first.
    """
    if isinstance(geometry.section, str):
        return SECTIONS[geometry.section]
    return geometry.section


def blade_loads(geometry: BladeGeometry, *, air: Air, shaft_speed: Values,
                advance_ratio: Values, radii: int = RADII) -> BladeLoads:
    """Solve a propeller at any number of operating points.

    Parameters
    ----------
    geometry : BladeGeometry
        Blades; see :func:`problems` first
    air : Air
        Undisturbed air; scalars or arrays
    shaft_speed : array_like
        Shaft speed [rad/s], above 0
    advance_ratio : array_like
        V / (n D) [-], not negative
    radii : int
        Elements along the blade

    Returns
    -------
    BladeLoads
        NaN, and not converged, where shaft speed or advance ratio is out of its range.

    Notes
    -----
    Valid for: tip Mach number up to 0.85; ``tip_mach`` tells. Radii are spaced as the cosine, dense
    at hub and tip where the loss factor bends, and summed by the midpoint rule.
    """
    omega = np.asarray(shaft_speed, dtype=float)[..., None]
    j = np.asarray(advance_ratio, dtype=float)[..., None]
    radius, width = _radii(geometry, radii)
    axial = j * omega * geometry.diameter / (2.0 * np.pi)
    density, sound = np.asarray(air.density)[..., None], np.asarray(air.speed_of_sound)[..., None]
    element = Element(axial_speed=axial, rotational_speed=omega * radius,
                      blade_angle=geometry.angle_at(radius), blades=geometry.blades,
                      chord=geometry.chord_at(radius), radius=radius,
                      tip_radius=geometry.tip_radius, hub_radius=geometry.hub_radius)
    loads = element_loads(element, section=blade_section(geometry), density=density,
                          viscosity=np.asarray(air.viscosity)[..., None], speed_of_sound=sound)
    turning = np.where(omega > 0.0, omega, np.nan)
    scale = (density * (turning / (2.0 * np.pi)) ** 2 * geometry.diameter**4)[..., 0]
    thrust = np.sum(loads.thrust * width, axis=-1) / scale
    power = 2.0 * np.pi * np.sum(loads.torque * width, axis=-1) / (scale * geometry.diameter)
    tip_mach = (np.hypot(axial, omega * geometry.tip_radius) / sound)[..., 0]
    return BladeLoads(thrust=thrust, power=power,
                      tip_mach=np.broadcast_to(tip_mach, thrust.shape),
                      converged=np.asarray(loads.converged.all(axis=-1)), radius=radius,
                      elements=loads)


def _radii(geometry: BladeGeometry, radii: int) -> tuple[Array, Array]:
    """Radii of the elements and their widths [m]."""
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, radii + 1))
    edge = geometry.hub_radius + (geometry.tip_radius - geometry.hub_radius) * share
    return 0.5 * (edge[1:] + edge[:-1]), np.diff(edge)


def default_shaft_speeds(geometry: BladeGeometry, *, air: Air = SEA_LEVEL) -> tuple[float, ...]:
    """Shaft speeds [rad/s] of a table, evenly spread in their logarithm over the tip Mach range."""
    tip_speed = np.geomspace(*TIP_MACH_RANGE, SPEEDS) * float(np.asarray(air.speed_of_sound))
    return tuple(float(speed) for speed in tip_speed / geometry.tip_radius)


def default_advance_ratios(geometry: BladeGeometry) -> tuple[float, ...]:
    """Advance ratios [-] from rest to well beyond zero thrust.

    The last is that of a wind along a line 10 degrees above the chord at three quarters of the
    radius: no section here keeps lifting there.
    """
    station = np.array([0.75 * geometry.tip_radius])
    steepest = np.minimum(geometry.angle_at(station)[0] + np.deg2rad(10.0), np.deg2rad(80.0))
    last = float(0.75 * np.pi * np.tan(np.maximum(steepest, np.deg2rad(12.0))))
    return tuple(float(value) for value in np.linspace(0.0, last, ADVANCE_RATIOS))


def propeller_table(geometry: BladeGeometry, *, air: Air = SEA_LEVEL,
                    shaft_speeds: tuple[float, ...] | Array | None = None,
                    advance_ratios: tuple[float, ...] | Array | None = None,
                    radii: int = RADII) -> PropellerTable:
    """CT and CP over shaft speed and advance ratio, from rest to windmilling.

    Parameters
    ----------
    geometry : BladeGeometry
        Blades
    air : Air
        One state; the table's Reynolds and Mach numbers belong to it [Pa], [K]
    shaft_speeds : sequence of float, optional
        Rows [rad/s], rising, above 0
    advance_ratios : sequence of float, optional
        Columns [-], rising, from 0
    radii : int
        Elements along the blade

    Returns
    -------
    PropellerTable
        With its band and its source; kept, and shared between equal calls.

    Raises
    ------
    ValueError
        With every problem of the geometry, or where the grid does not rise
    NoMap
        Where an operating point far beyond windmilling has no solution.
    """
    faults = problems(geometry)
    if faults:
        raise ValueError("; ".join(faults))
    speeds = default_shaft_speeds(geometry, air=air) if shaft_speeds is None else shaft_speeds
    ratios = default_advance_ratios(geometry) if advance_ratios is None else advance_ratios
    rows, columns = (tuple(float(value) for value in values) for values in (speeds, ratios))
    if not rows or rows[0] <= 0.0 or any(np.diff(rows) <= 0.0):
        raise ValueError("shaft speeds must be above 0 and rising")
    if len(columns) < 2 or columns[0] < 0.0 or any(np.diff(columns) <= 0.0):
        raise ValueError("two or more advance ratios are needed, not negative and rising")
    return _kept_table(geometry, float(np.asarray(air.pressure)),
                       temperature=float(np.asarray(air.temperature)), speeds=rows, ratios=columns,
                       radii=radii)


@lru_cache(maxsize=256)
def _kept_table(geometry: BladeGeometry, pressure: float, temperature: float,
                speeds: tuple[float, ...], ratios: tuple[float, ...],
                radii: int) -> PropellerTable:
    loads = blade_loads(geometry, air=Air(pressure=pressure, temperature=temperature),
                        shaft_speed=np.array(speeds)[:, None], advance_ratio=np.array(ratios),
                        radii=radii)
    if not loads.converged.all():
        row, column = (int(place[0]) for place in np.nonzero(~loads.converged))
        raise NoMap(f"no solution at {speeds[row]:g} rad/s and advance ratio "
                    f"{ratios[column]:g}: end the advance ratios nearer to zero thrust")
    arrays = {"advance_ratio": np.array(ratios), "shaft_speed": np.array(speeds),
              "thrust_points": loads.thrust, "power_points": loads.power}
    for array in arrays.values():
        array.setflags(write=False)
    return PropellerTable(band=table_band(geometry), source=describe(geometry), **arrays)


def table_band(geometry: BladeGeometry) -> Band:
    """How far a computed table may be trusted."""
    if geometry.generic:
        return GENERIC_BAND
    if isinstance(geometry.section, str):
        return BANDS[geometry.section]
    return OWN_SECTION_BAND


def describe(geometry: BladeGeometry) -> str:
    """Where a computed table comes from, in words."""
    section = geometry.section if isinstance(geometry.section, str) else "the user's own"
    blade = "generic planform" if geometry.generic else "blade table"
    text = f"blade elements: {blade}, section {section}"
    if geometry.pitch is not None:
        excess = float(np.rad2deg(geometry.pitch_excess))
        used = ("mean of both used" if geometry.angle_shift != 0.0 or excess == 0.0
                else "too far apart, so the blade table alone is used")
        text += f"; nominal pitch is {excess:+.1f} degrees from the angle table, {used}"
    return text
