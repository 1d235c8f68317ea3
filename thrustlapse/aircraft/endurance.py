"""How long and how far: level flight on the real pack until it is empty, and on fuel.

At each airspeed the shaft speed that gives thrust = drag is found once: in level flight at a
constant airspeed it does not change while the pack runs down. Only the electrical side does, and
that is explicit. The flight ends where a cell sags to its cut-off, the state of charge reaches its
floor, or the drive can no longer hold the shaft speed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.drag import Airframe, level_drag, stall_speed
from thrustlapse.arrays import Array, BoolArray, IntArray, Values
from thrustlapse.power.drive import (
    Drive,
    DriveLimit,
    allowed_power,
    controller_input,
    electrical_state,
    torque_available,
)
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate, operate

CHARGE_POINTS = 161
"""States of charge from the start to the floor at which the electrical side is computed."""

SLOWEST_SHARE, SHARE_POINTS, BLOCK = 0.1, 28, 9
"""Least shaft speed looked at, over that of full power, the number of them, and how many cells are
looked at together."""

ROUNDS, PIECES = 3, 16
"""Divisions of the cell that holds the shaft speed sought; a straight line does the rest."""

FREE_VOLTAGE = 1e6
"""Voltage of a supply that limits nothing [V]: the shaft speed is then the only limit."""

ENDINGS = ("cell voltage at its cut-off", "state of charge at its floor",
           "the drive can no longer hold this speed", "thrust is short of drag at full power",
           "below the stall", "not known at part power")
"""Why a level flight ends, or cannot be flown."""

FIRST_POINTS, SEARCH_POINTS, SEARCH_ROUNDS = 25, 9, 1
"""Airspeeds of the first look for the best, in each later round, and later rounds; a parabola
through the three best does the rest, as both maxima are smooth and flat."""


@dataclass(frozen=True, kw_only=True)
class Endurance:
    """Level flight at airspeeds [m/s] from the pack's state of charge to its end.

    ``thrust`` needed [N]; ``shaft_speed`` [rad/s] that gives it; ``power``, ``current`` and
    ``terminal_voltage`` at the start [W, A, V], ``last_`` at the end; ``state_of_charge`` left at
    the end [-]; ``time`` [s] and ``distance`` [m]; ``energy`` drawn from the pack, its own heat
    included [J]. ``ending`` says why it ends, or why it cannot be flown (then NaN).
    """

    airspeed: Array
    thrust: Array
    shaft_speed: Array
    power: Array
    current: Array
    terminal_voltage: Array
    last_power: Array
    last_voltage: Array
    state_of_charge: Array
    time: Array
    distance: Array
    energy: Array
    ending_code: IntArray

    @property
    def ending(self) -> tuple[str, ...]:
        """Ending of each element in words."""
        return tuple(ENDINGS[code] for code in np.ravel(self.ending_code).tolist())


def held_speed(candidate: Candidate, shaft_speed: Values) -> Candidate:
    """Same candidate, its shafts held at a speed [rad/s] by a supply that limits nothing.

    Thrust, torque and the heat of a :class:`ConstantsMotor` are what any controller holding that
    speed gets; the electrical side belongs to the supply and is computed separately.
    """
    unit = candidate.unit
    drive = replace(unit.drive, duty=1.0, power_limit=1e12, motor_current_limit=np.inf,
                    supply_current_limit=np.inf, speed_limit=shaft_speed,
                    controller_lead_resistance=0.0)
    supply = Supply(voltage=FREE_VOLTAGE, resistance=0.0, units=unit.supply.units)
    return replace(candidate, unit=replace(unit, drive=drive, supply=supply))


def on_pack(candidate: Candidate, supply: Supply) -> Candidate:
    """Same candidate on another supply."""
    return replace(candidate, unit=replace(candidate.unit, supply=supply))


def shaft_speed_for_thrust(candidate: Candidate, *, air: Air, airspeed: Values, thrust: Values,
                           fastest: Values) -> tuple[Array, Array]:
    """Shaft speed [rad/s] at which the installed thrust is a given one, and the torque [N m] there.

    Parameters
    ----------
    airspeed, thrust, fastest : array_like
        Airspeed [m/s], installed thrust of all units [N], and the shaft speed up to which to look
        [rad/s]

    Returns
    -------
    shaft_speed, torque
        NaN where the thrust is out of reach, or lies where the machine is not known.
    """
    v, wanted, top, density, temperature = np.broadcast_arrays(
        np.asarray(airspeed, dtype=float), thrust, fastest, air.pressure, air.temperature)
    shape = v.shape
    v, wanted, top = v.ravel(), wanted.ravel(), np.log(top.ravel())
    here = Air(pressure=density.ravel(), temperature=temperature.ravel())

    def excess(index: IntArray, ln_speed: Array) -> Array:
        point = operate(held_speed(candidate, np.exp(ln_speed)), airspeed=v[index],
                        air=Air(pressure=np.asarray(here.pressure)[index],
                                temperature=np.asarray(here.temperature)[index]))
        return np.asarray(point.installed_thrust - wanted[index])

    def sampled(grid: Array, index: IntArray) -> Array:
        return excess(np.tile(index, grid.shape[0]), grid.ravel()).reshape(grid.shape)

    low, high, at_low, at_high = np.full((4, v.size), np.nan)
    found = np.zeros(v.size, dtype=bool)
    shares = np.log(np.geomspace(SLOWEST_SHARE, 1.0, SHARE_POINTS))[:, None]
    above = sampled(top[None] + shares[-1:], np.arange(v.size))
    # from the top down, in blocks: most find their cell in the first, and slow machines cost most
    for last in range(SHARE_POINTS - 1, 0, -BLOCK):
        open_ = np.flatnonzero(~found)
        if open_.size == 0:
            break
        grid = top[open_] + shares[max(last - BLOCK, 0):last + 1]
        values = np.concatenate([sampled(grid[:-1], open_), above[:, open_]])
        *cell, rises = highest_rise(grid, values)
        low[open_], high[open_], at_low[open_], at_high[open_] = cell
        found[open_] = rises
        above[:, open_] = values[:1]
    share, everywhere = np.linspace(0.0, 1.0, PIECES + 1)[:, None], np.arange(v.size)
    for _ in range(ROUNDS):
        grid = low + share * (high - low)
        values = np.concatenate([at_low[None], sampled(grid[1:-1], everywhere), at_high[None]])
        low, high, at_low, at_high, _ = highest_rise(grid, values)
    ln_speed = np.where(found, low - at_low * (high - low) / np.where(
        found, at_high - at_low, 1.0), np.nan)
    omega = np.exp(ln_speed)
    known = np.where(found, omega, 1.0)
    torque = operate(held_speed(candidate, known), airspeed=v, air=here).torque
    return omega.reshape(shape), np.where(found, torque, np.nan).reshape(shape)


def highest_rise(grid: Array, values: Array) -> tuple[Array, Array, Array, Array, BoolArray]:
    """Ends of the highest cell, along the first axis, in which values rise through zero.

    The ends, the values there, and whether there is such a cell.
    """
    up = (values[:-1] < 0.0) & (values[1:] >= 0.0)
    cell = (grid.shape[0] - 2 - np.argmax(up[::-1], axis=0))[None]
    low, high, at_low, at_high = (np.take_along_axis(part, place, axis=0)[0]
                                  for part, place in ((grid, cell), (grid, cell + 1),
                                                      (values, cell), (values, cell + 1)))
    return low, high, at_low, at_high, np.asarray(up.any(axis=0))


def level_endurance(candidate: Candidate, airframe: Airframe, pack: RunningPack, *, mass: float,
                    air: Air, airspeed: Values) -> Endurance:
    """Endurance and range of level flight at airspeeds [m/s], elementwise.

    Parameters
    ----------
    candidate : Candidate
        All its units; its own supply is replaced by the pack
    mass : float
        Total mass [kg]
    air : Air
        Still air where it flies
    """
    v = np.atleast_1d(np.asarray(airspeed, dtype=float))
    shape = v.shape
    v = v.ravel()
    needed = level_drag(airframe, mass=mass, density=air.density, airspeed=v,
                        speed_of_sound=air.speed_of_sound).total
    units = float(candidate.count)
    full = operate(on_pack(candidate, pack.supply(pack.start, units=units)), airspeed=v, air=air)
    able = full.installed_thrust >= needed
    stalled = v < stall_speed(airframe, mass=mass, density=air.density) * (1.0 - 1e-9)
    asked = np.flatnonzero(able & ~stalled & np.isfinite(full.shaft_speed))
    omega, torque = np.full((2, v.size), np.nan)
    pressure, temperature = (np.broadcast_to(value, v.shape)[asked]
                             for value in (air.pressure, air.temperature))
    omega[asked], torque[asked] = shaft_speed_for_thrust(
        candidate, air=Air(pressure=pressure, temperature=temperature), airspeed=v[asked],
        thrust=needed[asked], fastest=full.shaft_speed[asked])
    why = np.where(stalled, 4, np.where(able, 5, 3))
    known = np.isfinite(omega) & able & ~stalled
    run = _run_down(candidate.unit.drive, pack, units=units, shaft_speed=omega, torque=torque)
    ending = np.where(known, run.ending, why)
    values = {name: np.where(known, value, np.nan).reshape(shape) for name, value in (
        ("shaft_speed", omega), ("power", run.power[0]), ("current", run.current[0]),
        ("terminal_voltage", run.voltage[0]), ("last_power", run.last_power),
        ("last_voltage", run.last_voltage), ("state_of_charge", run.left), ("time", run.time),
        ("distance", run.time * v), ("energy", pack.energy(pack.start) - pack.energy(run.left)))}
    return Endurance(airspeed=v.reshape(shape), thrust=needed.reshape(shape),
                     ending_code=ending.reshape(shape), **values)


@dataclass(frozen=True, kw_only=True)
class _RunDown:
    """Electrical side while the pack runs down; states of charge on the first axis."""

    power: Array
    current: Array
    voltage: Array
    left: Array
    time: Array
    last_power: Array
    last_voltage: Array
    ending: IntArray


STANDING = 1e-3
"""Shaft speed as good as none [rad/s], in place of none: a torque by power has no value at rest."""


def hold_margin(drive: Drive, supply: Supply, *, shaft_speed: Values, torque: Values) -> Array:
    """Torque the drive could still give over the torque taken, less one [-]; negative: it cannot.
    """
    most, _ = torque_available(drive, supply, shaft_speed=np.maximum(shaft_speed, STANDING))
    margin = most / np.asarray(torque) - 1.0
    if not isinstance(drive.motor, ConstantsMotor):
        return np.asarray(margin)
    power, _, reachable = allowed_power(drive, supply)
    fed = controller_input(drive, supply, terminal_power=power)
    return np.asarray(np.where(np.isfinite(fed) | ~reachable | np.isinf(power), margin, -1.0))


def _run_down(drive: Drive, pack: RunningPack, *, units: float, shaft_speed: Array,
              torque: Array) -> _RunDown:
    charge = np.linspace(pack.start, pack.floor, CHARGE_POINTS)[:, None]
    supply = pack.supply(charge, units=units)
    with np.errstate(invalid="ignore", divide="ignore"):
        limit: IntArray = np.full(shaft_speed.shape, int(DriveLimit.SPEED), dtype=np.int64)
        state = electrical_state(drive, supply, shaft_speed=shaft_speed, torque=torque,
                                 limit=limit)
        current, voltage = units * state.supply_current, state.terminal_voltage
        margins = np.stack([pack.cell_voltage(voltage) / pack.cut_off_voltage - 1.0,
                            hold_margin(drive, supply, shaft_speed=shaft_speed, torque=torque)])
        margins = np.where(np.isfinite(margins), margins, -1.0)
        last, which = _first_below(margins)
        ending = np.where(last >= CHARGE_POINTS - 1.0, 1, np.where(which == 0, 0, 2))
        step = (pack.start - pack.floor) / (CHARGE_POINTS - 1)
        slowness = pack.capacity / current
        time = _integral_to(slowness, last) * step
        left = pack.start - step * last
    return _RunDown(power=units * state.terminal_power, current=current, voltage=voltage,
                    left=left, time=time, last_power=_read(units * state.terminal_power, last),
                    last_voltage=_read(voltage, last), ending=ending)


def _first_below(margins: Array) -> tuple[Array, IntArray]:
    """Place along the second axis, in steps, where the first margin falls below zero, and which.

    The last place where none does.
    """
    points = margins.shape[1]
    low = margins < 0.0
    place = np.where(low.any(axis=1), np.argmax(low, axis=1), points - 1)
    before = np.maximum(place - 1, 0)
    at = np.take_along_axis(margins, place[:, None], axis=1)[:, 0]
    earlier = np.take_along_axis(margins, before[:, None], axis=1)[:, 0]
    back = np.where(low.any(axis=1) & (place > 0) & (earlier > at),
                    at / np.where(earlier > at, at - earlier, 1.0), 0.0)
    exact = np.where(low.any(axis=1), place - back, points - 1.0)
    which = np.argmin(exact, axis=0)
    return np.min(exact, axis=0), which


def _read(values: Array, place: Array) -> Array:
    """Values along the first axis at fractional places."""
    low = np.clip(np.floor(place).astype(np.intp), 0, values.shape[0] - 2)
    share = place - low
    below = np.take_along_axis(values, low[None], axis=0)[0]
    above = np.take_along_axis(values, low[None] + 1, axis=0)[0]
    return np.asarray(np.where(share == 0.0, below, below + share * (above - below)))


def _integral_to(values: Array, place: Array) -> Array:
    """Integral along the first axis, unit steps, up to fractional places (trapezes)."""
    pieces = 0.5 * (values[1:] + values[:-1])
    whole = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(pieces, axis=0)])
    low = np.clip(np.floor(place).astype(np.intp), 0, values.shape[0] - 2)
    share = place - low
    start = np.take_along_axis(whole, low[None], axis=0)[0]
    first = np.take_along_axis(values, low[None], axis=0)[0]
    end = _read(values, place)
    return np.asarray(start + np.where(share == 0.0, 0.0, share * 0.5 * (first + end)))


@dataclass(frozen=True, kw_only=True)
class BestEndurance:
    """Level flight of longest time, and of longest distance; single elements each."""

    longest: Endurance
    farthest: Endurance


def best_of(fly: Callable[[Array], Endurance], *, slowest: float,
            highest: float) -> BestEndurance:
    """Longest and farthest of flights at airspeeds between two [m/s]."""
    grid = np.linspace(slowest, highest, FIRST_POINTS)
    first = fly(grid)
    grids, tables = [grid, grid], [first.time, first.distance]
    for points in (*(SEARCH_POINTS,) * SEARCH_ROUNDS, 1):
        grids = [_closer(each, values, points) for each, values in zip(grids, tables, strict=True)]
        # both are flown in one call: many short calls cost more than a few long ones
        flown = fly(np.concatenate(grids))
        count = grids[0].size
        tables = [flown.time[:count], flown.distance[count:]]
    best = [int(np.argmax(np.where(np.isfinite(values), values, -np.inf))) for values in tables]
    return BestEndurance(longest=part_of(flown, best[0]), farthest=part_of(flown, count + best[1]))


def part_of(flown: Endurance, place: int) -> Endurance:
    """One element of many flights."""
    return Endurance(**{item.name: getattr(flown, item.name)[place:place + 1]
                        for item in fields(Endurance)})


def _closer(grid: Array, values: Array, points: int) -> Array:
    """Airspeeds round the best of a grid; for one point, the best and the vertex beside it.

    Always of the same number: where nothing is known, or no vertex, a speed stands there twice.
    """
    if not np.isfinite(values).any():
        return np.full(max(points, 2), grid[0])
    place = int(np.nanargmax(values))
    if points > 1:
        return np.linspace(grid[max(place - 1, 0)], grid[min(place + 1, grid.size - 1)], points)
    vertex = grid[place]
    if 0 < place < grid.size - 1:
        before, here, after = values[place - 1:place + 2]
        bend = before - 2.0 * here + after
        if bend < 0.0:
            vertex = vertex + 0.5 * (grid[1] - grid[0]) * (before - after) / bend
    return np.array([grid[place], vertex])


# On fuel -------------------------------------------------------------------------------------
