"""A candidate at full power over airspeed, altitude, pack voltage and pack resistance, fast enough
for a trajectory.

Only the matched unknowns are interpolated; thrust, current and heat are recomputed from them
(``propulsor/evaluate_matched.py``), so the energy balance closes. The drive's limits make
kinks: each limit is tabulated as if it were alone, which is smooth, and the least shaft speed tells
which one holds. Cubic splines in airspeed, polynomials in altitude, voltage and resistance. The
error against the match itself is measured between the nodes, and the grid refined until it is
small.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.thrust_table_lookup import ERROR_ALLOWED as ERROR_ALLOWED
from thrustlapse.aircraft.thrust_table_lookup import (
    LimitTable,
    ThrustSurface,
    at_supply,
    blended,
    interpolate,
)
from thrustlapse.arrays import Array, BoolArray
from thrustlapse.power.drive import DriveLimit, allowed_power, controller_input, delivery_margin
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.ducted import free_stream
from thrustlapse.propulsor.ducted_match import known_speed, match, station_states
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import operate_open_rotor

ERROR_SOUGHT = 1e-4
"""Relative error of thrust and current at which refining stops [-]."""

SMALL_SHARE = 0.1
"""Thrusts and currents below this share of the greatest are measured against that share."""

AIRSPEED_POINTS = (33, 65, 129, 257)
ALTITUDE_POINTS, VOLTAGE_POINTS, RESISTANCE_POINTS = 3, 5, 4

Nodes = tuple[Array, Array, Array]
"""Altitudes [m], voltages [V] and resistances [ohm] of the pack."""

LEAST_DEPTH = 100.0
"""Least range of altitude of a surface [m]."""

FREE_VOLTAGE, FREE_POWER = 1e6, 1e12
"""A supply and a power cap that limit nothing [V, W]."""

EDGE_ROUNDS = 8
"""Halvings of the cell in which a table ends."""

UNKNOWN = ("the machine is known at too few airspeeds for a flight: look at its map, its drive and "
           "the pack")

SAG_MARGIN = 0.2
"""Share by which a pack must be able to give more on all nodes not to be asked between them."""

DROP_MARGIN = 0.02
"""Relative distance in shaft speed beyond which a limit that never holds is left out."""


def build_surface(candidate: Candidate, pack: RunningPack, *, highest_airspeed: float,
                  altitudes: tuple[float, float]) -> ThrustSurface:
    """Surface of a candidate from rest to an airspeed [m/s], between two altitudes [m].

    Parameters
    ----------
    candidate : Candidate
        Scalars only; its supply is replaced by the pack
    altitudes : tuple of float
        Lowest and highest above mean sea level

    Raises
    ------
    ValueError
        If the machine is known at too few airspeeds to interpolate.
    """
    low, high = altitudes
    spare = max(LEAST_DEPTH - (high - low), 0.0) / 2.0
    heights = _nodes(low - spare, high + spare, ALTITUDE_POINTS)
    charges = np.linspace(pack.floor, pack.start, 101)
    volts, ohms = pack.voltage(charges), pack.resistance(charges)
    # a cell at rest below its cut-off is never flown on
    lowest = min(max(float(volts.min()), pack.series * pack.cut_off_voltage), float(volts.max()))
    flown = ohms[volts >= lowest]
    nodes = (heights, _nodes(lowest, float(volts.max()), VOLTAGE_POINTS),
             _nodes(float(flown.min()), float(flown.max()), RESISTANCE_POINTS))
    best: ThrustSurface | None = None
    for points in AIRSPEED_POINTS:
        surface = _measured(_tabulate(candidate, pack, highest=highest_airspeed, points=points,
                                      nodes=nodes),
                            points)
        if best is None or _worst(surface) < _worst(best):
            best = surface
        if _worst(best) < ERROR_SOUGHT:
            break
    assert best is not None
    return best


def _worst(surface: ThrustSurface) -> float:
    return max(surface.thrust_error, surface.current_error)


def alone(candidate: Candidate, supply: Supply, limit: DriveLimit) -> Candidate:
    """The candidate on a supply, with a single limit of its drive in force.

    A power or current cap is turned into the power that it lets through to the controller.
    """
    unit = candidate.unit
    drive = unit.drive
    free = replace(drive, power_limit=np.inf, motor_current_limit=np.inf,
                   supply_current_limit=np.inf, speed_limit=np.inf)
    if limit == DriveLimit.FULL_VOLTAGE:
        return replace(candidate, unit=replace(unit, drive=free, supply=supply))
    free = replace(free, power_limit=FREE_POWER, controller_lead_resistance=0.0, duty=1.0)
    if limit == DriveLimit.POWER:
        power, _, _ = allowed_power(drive, supply)
        fed = controller_input(drive, supply, terminal_power=power)
        free = replace(free, power_limit=fed)
    elif limit == DriveLimit.MOTOR_CURRENT:
        free = replace(free, motor_current_limit=drive.motor_current_limit)
    else:
        free = replace(free, speed_limit=drive.speed_limit)
    rich = Supply(voltage=FREE_VOLTAGE, resistance=0.0, units=supply.units)
    return replace(candidate, unit=replace(unit, drive=free, supply=rich))


def possible_limits(candidate: Candidate) -> tuple[DriveLimit, ...]:
    """Limits that the candidate's drive has at all."""
    drive = candidate.unit.drive
    found = [DriveLimit.FULL_VOLTAGE] if isinstance(drive.motor, ConstantsMotor) else []
    if np.isfinite(drive.power_limit) or np.isfinite(drive.supply_current_limit):
        found.append(DriveLimit.POWER)
    if np.isfinite(drive.motor_current_limit):
        found.append(DriveLimit.MOTOR_CURRENT)
    if np.isfinite(drive.speed_limit):
        found.append(DriveLimit.SPEED)
    return tuple(found)


def _tabulate(candidate: Candidate, pack: RunningPack, highest: float, points: int,
              nodes: Nodes) -> ThrustSurface:
    tables, heads, failed = [], [], None
    for limit in possible_limits(candidate):
        try:
            table, head = _table(candidate, limit, highest=highest, points=points, nodes=nodes)
        except ValueError as error:
            if limit == possible_limits(candidate)[0]:
                raise
            failed = error  # another limit holds wherever this one alone has no answer
            continue
        tables.append(table)
        heads.append(head)
    heights, voltages, resistances = nodes
    supply = Supply(voltage=voltages[:, None], resistance=resistances, units=float(candidate.count))
    _, _, reachable = allowed_power(candidate.unit.drive, supply)
    assert failed is None or tables
    surface = ThrustSurface(candidate=candidate, pack=pack, tables=tuple(tables), highest=highest,
                            altitudes=heights, voltages=voltages, resistances=resistances,
                            own_head=any(heads),
                            sometimes_starved=not bool(np.all(reachable)))
    return _with_sag(_without_idle_tables(_with_ends(surface), points), points)


def _with_sag(surface: ThrustSurface, points: int) -> ThrustSurface:
    """Whether the pack comes near to failing the machine anywhere on the nodes."""
    v, h, u, r = _mesh(surface, points, between=False)
    supply = Supply(voltage=u, resistance=r, units=float(surface.candidate.count))
    omega = interpolate(surface, airspeed=v, altitude=h, supply=supply, beyond=True).shaft_speed
    spare = delivery_margin(surface.candidate.unit.drive, supply, shaft_speed=omega)
    return replace(surface, sags=bool(np.any(spare < SAG_MARGIN)))


def _with_ends(surface: ThrustSurface) -> ThrustSurface:
    """Which tables end while they hold. The first always does: no other stands in for it."""
    h, u, r = (axis.ravel() for axis in np.meshgrid(surface.altitudes, surface.voltages,
                                                    surface.resistances))
    supply = Supply(voltage=u, resistance=r, units=float(surface.candidate.count))
    tables = list(surface.tables)

    def holds(place: int, end: float) -> bool:
        """Whether no other table gives less shaft speed there."""
        table = surface.tables[place]
        v = end * u / surface.voltages[-1] if table.scaled else np.full(u.shape, end)
        speeds = [blended(replace(surface, tables=(one,)), v, h, supply)[0][..., 0]
                  for one in surface.tables]
        return bool(np.any(speeds[place] <= np.minimum.reduce(speeds) + 1e-9))

    for place in range(1, len(tables)):
        one = tables[place]
        tables[place] = replace(one, ends_below=one.lowest > 0.0 and holds(place, one.lowest),
                                ends_above=holds(place, one.highest))
    tables[0] = replace(tables[0], ends_below=tables[0].lowest > 0.0)
    return replace(surface, tables=tuple(tables))


def _table(candidate: Candidate, limit: DriveLimit, highest: float, points: int,
           nodes: Nodes) -> tuple[LimitTable, bool]:
    """Table of one limit, and whether its head departs from the map's own."""
    from scipy.interpolate import make_interp_spline

    scaled = limit == DriveLimit.FULL_VOLTAGE
    heights, voltages, resistances = nodes

    def solved(airspeeds: Array) -> tuple[Array, BoolArray]:
        v, h, u, r = (axis.ravel() for axis in np.meshgrid(airspeeds, *nodes, indexing="ij"))
        speed = v * u / voltages[-1] if scaled else v
        supply = Supply(voltage=u, resistance=r, units=float(candidate.count))
        values, known = _unknowns(alone(candidate, supply, limit), candidate.site.air(h), speed)
        return values, np.asarray(known.reshape(airspeeds.size, -1).all(axis=1))

    # at a low voltage an airspeed lies farther along a table that goes with their ratio
    end = highest * voltages[-1] / voltages[0] if scaled else highest
    grid = np.linspace(0.0, end, points)
    values, whole = solved(grid)
    if not whole.all():
        low, top = _known_range(grid, whole)
        step = grid[1] - grid[0]
        if top < end:
            top = _edge(lambda v: bool(solved(np.array([v]))[1][0]), top, top + step)
        if low > 0.0:
            low = _edge(lambda v: bool(solved(np.array([v]))[1][0]), low, low - step)
        grid = np.linspace(low, top, points)
        values, whole = solved(grid)
        if not whole.all():
            raise ValueError(UNKNOWN)
    body = values.reshape(points, heights.size, voltages.size, resistances.size, -1)
    return LimitTable(limit=limit, scaled=scaled, lowest=float(grid[0]), highest=float(grid[-1]),
                      spline=make_interp_spline(grid, body, k=3)), bool(
                          np.any(_differs(candidate, values)))


def _edge(known: Callable[[float], bool], inside: float, outside: float) -> float:
    """Where what is known ends between two airspeeds [m/s], on the known side."""
    for _ in range(EDGE_ROUNDS):
        middle = 0.5 * (inside + outside)
        inside, outside = (middle, outside) if known(middle) else (inside, middle)
    return float(inside)


def _without_idle_tables(surface: ThrustSurface, points: int) -> ThrustSurface:
    """Leave out limits that never come near to being the one that holds."""
    if len(surface.tables) < 2:
        return surface
    v, h, u, r = _mesh(surface, points, between=False)
    supply = Supply(voltage=u, resistance=r, units=float(surface.candidate.count))
    omega = interpolate(surface, airspeed=v, altitude=h, supply=supply).shaft_speed
    kept = []
    for table in surface.tables:
        one = replace(surface, tables=(table,))
        mine = interpolate(one, airspeed=v, altitude=h, supply=supply, beyond=True).shaft_speed
        if np.any(mine < omega * (1.0 + DROP_MARGIN)):
            kept.append(table)
    kept = kept or list(surface.tables)  # known nowhere on the mesh: nothing says which is idle
    # what is left is the only one there, or the first: its ends are those of what is known
    first = replace(kept[0], ends_above=True, ends_below=kept[0].lowest > 0.0)
    return replace(surface, tables=(first, *kept[1:]))


def _mesh(surface: ThrustSurface, points: int, *,
          between: bool = True) -> tuple[Array, Array, Array, Array]:
    """Airspeeds, altitudes, voltages and resistances half-way between the nodes, or at them."""
    axes = [np.linspace(surface.tables[0].lowest, surface.tables[0].highest, points),
            surface.altitudes, surface.voltages, surface.resistances]
    if between:
        axes = [0.5 * (axis[1:] + axis[:-1]) if axis.size > 1 else axis for axis in axes]
    share, h, u, r = (axis.ravel() for axis in np.meshgrid(*axes, indexing="ij"))
    if surface.tables[0].scaled:
        share = share * np.minimum(u / surface.voltages[-1],
                                   surface.highest / surface.tables[0].highest)
    return share, h, u, r


def _unknowns(machine: Candidate, air: Air, airspeed: Array) -> tuple[Array, BoolArray]:
    """ln shaft speed, ln flow, ln throat and head in the last axis, and where they are known."""
    unit = machine.unit
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        if not isinstance(unit, Ducted):
            point = operate_open_rotor(unit, air=air, airspeed=airspeed)
            speed = np.log(point.shaft_speed)
            none = np.zeros_like(speed)
            return np.stack([speed, none, none, none], axis=-1), np.isfinite(speed)
        free = free_stream(air, airspeed)
        solved = match(unit, free, airspeed.size)
        states = station_states(unit, free, flow=solved.flow, throat=solved.throat,
                                head=solved.head if solved.eye_choked.any() else None,
                                shaft_speed=known_speed(solved))
        speed = np.log(states.shaft_speed)
        values = np.stack([speed, np.log(solved.flow), np.log(solved.throat), states.head],
                          axis=-1)
    known = solved.converged & ~solved.no_through_flow & np.isfinite(values).all(axis=-1)
    return values, known


def _differs(candidate: Candidate, values: Array) -> BoolArray:
    """Where the head is not the map's own, as behind a choked eye."""
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return np.zeros(values.shape[:-1], dtype=bool)
    with np.errstate(invalid="ignore"):
        own = unit.rotor.stage.head(np.exp(values[..., 1]))
        return np.asarray(np.abs(own - values[..., 3]) > 1e-9 * np.abs(own))


def _known_range(grid: Array, known: BoolArray) -> tuple[float, float]:
    """Ends of the longest run of known airspeeds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    starts, ends = edges[::2], edges[1::2]
    if starts.size == 0 or (ends - starts).max() < 6:
        raise ValueError(UNKNOWN)
    longest = int(np.argmax(ends - starts))
    return float(grid[starts[longest]]), float(grid[ends[longest] - 1])


def _measured(surface: ThrustSurface, points: int) -> ThrustSurface:
    """Surface with its errors against the match, half-way between all nodes."""
    v, h, u, r = _mesh(surface, points)
    candidate = surface.candidate
    air = candidate.site.air(h)
    supply = Supply(voltage=u, resistance=r, units=float(candidate.count))
    found = at_supply(surface, air=air, airspeed=v, altitude=h, supply=supply)
    true = operate(replace(candidate, unit=replace(candidate.unit, supply=supply)), airspeed=v,
                   air=air)
    errors = []
    for mine, theirs in ((found.net_thrust, candidate.count * true.net_thrust),
                         (found.current, true.current)):
        both = np.isfinite(mine) & np.isfinite(theirs)
        if not both.any():
            raise ValueError(UNKNOWN)
        size = np.maximum(np.abs(theirs), SMALL_SHARE * np.max(np.abs(theirs[both])))
        errors.append(float(np.max(np.abs(mine - theirs)[both] / size[both])))
    return replace(surface, thrust_error=errors[0], current_error=errors[1])


def _nodes(low: float, high: float, points: int) -> Array:
    """Chebyshev nodes with both ends; a single node where there is no range."""
    if not high > low:
        return np.array([low])
    return np.asarray(0.5 * (low + high) - 0.5 * (high - low)
                      * np.cos(np.pi * np.arange(points) / (points - 1)))
