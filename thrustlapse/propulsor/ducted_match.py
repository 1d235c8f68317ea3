"""The balance of a ducted machine: which flow the rotor delivers and the nozzle passes.

Unknowns per operating point: the flow coefficient ``phi`` and the inlet's throat variable. Given
both, every station is explicit: the throat gives the rotor-face state, ``phi`` and the drive
envelope give the shaft speed, the map gives the head, and the nozzle states the pressure it needs.
Two residuals remain, throat flow against rotor flow and pressure at hand against pressure needed.
The second changes sign exactly where ln(mdot_nozzle / mdot_rotor) does, and unlike that it is
defined where the nozzle passes nothing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thrustlapse.air.gas import (
    EXPONENT,
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    isentropic,
    mach_from_mass_flow_function,
    mass_flow_function,
)
from thrustlapse.arrays import Array, BoolArray, IntArray, some, take
from thrustlapse.elementwise import Pair, Slopes, bracketed_root, guessed_root, probe, solve_pair
from thrustlapse.power.drive import (
    Drive,
    balanced_speed,
    limit_at,
    motor_heat,
    torque_available,
    unlabelled_speed,
)
from thrustlapse.power.drive import shaft_speed as drive_speed
from thrustlapse.propulsor.balance_table import BalanceTable, tabulated
from thrustlapse.propulsor.duct import duct_loss
from thrustlapse.propulsor.ducted_unit import Ducted, FreeStream
from thrustlapse.propulsor.held_flow import driven_balance, may_drive
from thrustlapse.propulsor.inlet import InletState, inlet_state
from thrustlapse.propulsor.nozzle import axial_total_state, required_pressure
from thrustlapse.rotor.stage_map import rises_steeply

SONIC_FLOW_FUNCTION = float(mass_flow_function(mach=1.0))

LEAST_SHARE, GREATEST_SHARE = 1e-6, 3.0
"""Flow coefficients the solver may try, over the largest the map knows."""

LEAST_THROAT, LIKELY_THROAT, GREATEST_THROAT = 1e-9, 0.3, 1e3
"""Throat variables the solver may try."""

NEARLY = 1e-2
"""Nozzle residual [-] up to which a balance at the end of the map counts as possible: three steps
on the throat leave far less than this."""

MOST_LOSS = 1e4
"""Total pressure behind the stage over what the nozzle needs, up to which a balance is looked for
behind a choked eye [-]."""

LEAST_POWER = 1e-9
"""Power coefficient up to which a balance is looked for at held mass flow: where the load all but
vanishes the shaft runs away, and a bracket closes on that jump as if it were a balance."""

BESIDE = 1e-5
"""Distance in ln phi to both sides at which the slope of the residual is taken."""

START_SHARES = (0.7, 1.0, 0.97, 0.9)
"""Guesses of the flow coefficient to start quick steps from, over the largest the map knows: the
first for all, each of the others for what those before it left."""


class Station(NamedTuple):
    """Air behind a part that loses or gains: total pressure [Pa] and total temperature [K]."""

    name: str
    pressure: Array
    temperature: Array


class StationStates(NamedTuple):
    """Every station of the machine for one guess of the unknowns.

    ``behind`` are the stations from the stage to the nozzle, ``nozzle_pressure`` and
    ``nozzle_temperature`` those of the last.
    """

    inlet: InletState
    shaft_speed: Array
    limit: IntArray
    torque: Array
    tip_speed: Array
    flow: Array
    head: Array
    power: Array
    mass_flow: Array
    stage_pressure: Array
    stage_temperature: Array
    heat: Array
    behind: tuple[Station, ...]
    nozzle_pressure: Array
    nozzle_temperature: Array
    duct_mach: Array
    swirl_speed: Array
    axial_pressure: Array
    axial_temperature: Array
    needed_pressure: Array


class Behind(NamedTuple):
    """From the stage to the nozzle; the fields are those of :class:`StationStates`."""

    behind: tuple[Station, ...]
    nozzle_pressure: Array
    nozzle_temperature: Array
    duct_mach: Array
    swirl_speed: Array
    axial_pressure: Array
    axial_temperature: Array
    needed_pressure: Array


class Match(NamedTuple):
    """Solution of the balance: unknowns, and what happened to each element.

    ``shaft_speed`` is NaN where the drive gives it at the flow coefficient, as it does for every
    load that does not drive the shaft. ``unstable``: the only balance inside the map is one from
    which the flow runs away.
    """

    flow: Array
    throat: Array
    head: Array
    converged: BoolArray
    outside: BoolArray
    no_through_flow: BoolArray
    eye_choked: BoolArray
    two_matches: BoolArray
    unstable: BoolArray
    shaft_speed: Array


def station_states(machine: Ducted, free: FreeStream, *, flow: Array, throat: Array,
                   head: Array | None = None, shaft_speed: Array | None = None,
                   limits: bool = True) -> StationStates:
    """Walk through the machine from the free stream to the nozzle.

    Without flow through it there are divisions by zero: the caller says what to do about them.

    Parameters
    ----------
    flow, throat : array
        Flow coefficient and throat variable [-]
    head : array, optional
        Head coefficient where it is not the map's own, as behind a choked eye
    shaft_speed : array, optional
        Shaft speed [rad/s] where it is known; NaN where the drive gives it
    limits : bool
        Whether to say which limit of the drive holds
    """
    entry = inlet_state(machine.inlet, throat=throat, pressure=free.pressure,
                        total_pressure=free.total_pressure,
                        total_temperature=free.total_temperature, airspeed=free.airspeed)
    stage, diameter, tt = machine.rotor.stage, machine.rotor.tip_diameter, free.total_temperature
    density = entry.face_pressure / (GAS_CONSTANT * tt)
    psi = stage.head(flow) if head is None else np.where(np.isnan(head), stage.head(flow), head)
    cost = stage.power(flow)
    disc = diameter * diameter  # products: a power of an array takes as long as all of the rest
    load = cost * density * (0.125 * disc * disc * diameter)
    omega, limit = (drive_speed if limits else unlabelled_speed)(
        machine.drive, machine.supply, torque_coefficient=load, held=machine.held)
    if shaft_speed is not None:
        known = np.isfinite(shaft_speed)
        omega = np.where(known, shaft_speed, omega)
        limit = np.where(known, limit_at(machine.drive, machine.supply, shaft_speed=omega), limit)
    tip = omega * (0.5 * diameter)
    square = tip * tip
    mdot = flow * density * tip * disc
    pt3 = entry.face_pressure * isentropic(
        temperature_ratio=1.0 + psi * square / (SPECIFIC_HEAT * tt))
    tt3 = tt + cost * square / (flow * SPECIFIC_HEAT)
    torque = load * omega * omega
    heat = np.zeros(())
    if some(machine.duct.heat_share):
        heat = machine.duct.heat_share * motor_heat(machine.drive, shaft_speed=omega,
                                                    torque=torque)
    rest = behind_stage(machine, free, mass_flow=mdot, pressure=pt3, temperature=tt3,
                        heat=np.asarray(heat), swirl_speed=stage.swirl(flow) * tip)
    return StationStates(inlet=entry, shaft_speed=omega, limit=limit, torque=torque, tip_speed=tip,
                         flow=np.asarray(flow), head=psi, power=cost, mass_flow=mdot,
                         stage_pressure=pt3, stage_temperature=tt3,
                         heat=np.asarray(heat), **rest._asdict())


def behind_stage(machine: Ducted, free: FreeStream, *, mass_flow: Array, pressure: Array,
                 temperature: Array, heat: Array, swirl_speed: Array) -> Behind:
    """Walk from the stage to the nozzle, whose entry the axial motion alone reaches.

    Each part is one station; its entropy, and so its line of the ledger, follows from the station
    before it.

    Parameters
    ----------
    mass_flow : array
        [kg/s]
    pressure, temperature : array
        Total state behind the stage [Pa, K]
    heat : array
        From the motor into the air behind the stage [W]
    swirl_speed : array
        [m/s]
    """
    heated = temperature
    if heat.ndim or some(heat):
        heated = temperature + heat / (mass_flow * SPECIFIC_HEAT)
    left, duct_mach = duct_loss(machine.duct, mass_flow=mass_flow, total_pressure=pressure,
                                total_temperature=heated)
    stations = (Station("heating", pressure, heated), Station("duct", left, heated))
    last = stations[-1]
    axial_pressure, axial_temperature = last.pressure, last.temperature
    if some(swirl_speed):
        axial_pressure, axial_temperature = axial_total_state(
            total_pressure=last.pressure, total_temperature=last.temperature,
            swirl_speed=swirl_speed)
    needed = required_pressure(machine.nozzle, mass_flow=mass_flow,
                               total_temperature=axial_temperature, pressure=free.pressure)
    return Behind(stations, last.pressure, last.temperature, duct_mach, swirl_speed,
                  axial_pressure, axial_temperature, needed)


class _Residuals:
    """The two residuals for some elements of a chunk, in any order and as often as they are asked
    for; their parts are gathered once per selection."""

    def __init__(self, machine: Ducted, free: FreeStream, size: int) -> None:
        self.machine, self.free, self.size = machine, free, size
        self._index: IntArray | None = None
        self._parts = (machine, free)

    def parts(self, index: IntArray) -> tuple[Ducted, FreeStream]:
        if index is not self._index:
            self._index = index
            whole = index.size == self.size and np.array_equal(index, np.arange(self.size))
            self._parts = (self.machine, self.free) if whole else (
                take(self.machine, (self.size,), index), take(self.free, (self.size,), index))
        return self._parts

    def pair(self, index: IntArray, ln_flow: Array, ln_throat: Array,
             speed: Array | None = None) -> tuple[Array, Array]:
        machine, free = self.parts(index)
        with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
            states = station_states(machine, free, flow=np.exp(ln_flow), throat=np.exp(ln_throat),
                                    shaft_speed=speed, limits=False)
            inlet = np.log(states.inlet.mass_flow / states.mass_flow)
            nozzle = np.log(states.axial_pressure / states.needed_pressure)
        # more flow than the duct or an unloaded shaft can make sense of: too much for the nozzle;
        # a throat so fast that its losses leave no pressure: too much for the rotor
        if not np.isfinite(inlet + nozzle).all():
            empty = states.inlet.face_pressure <= 0.0
            inlet = np.where(empty, 1.0, np.where(np.isfinite(inlet), inlet, -1.0))
            nozzle = np.where(np.isfinite(nozzle), nozzle, -1.0)
        return inlet, nozzle

    def at_speed(self, index: IntArray, flow: Array, throat: Array, speed: Array) -> Array:
        """Nozzle residual at a shaft speed [rad/s] that the drive need not have."""
        return self.pair(index, np.log(flow), np.log(throat), speed)[1]

    def throat(self, index: IntArray, ln_flow: Array) -> Array:
        """Throat variable that feeds the rotor at a flow coefficient."""
        def inlet(sub: IntArray, ln_throat: Array) -> Array:
            return self.pair(index[sub], ln_flow[sub], ln_throat)[0]

        low = np.full(index.size, np.log(LEAST_THROAT))
        high = low + np.log(GREATEST_THROAT / LEAST_THROAT)
        return guessed_root(inlet, low, high, np.full(index.size, np.log(LIKELY_THROAT)))[0]

    def approximate(self, index: IntArray, ln_flow: Array, ln_throat: Array) -> Array:
        """Nozzle residual with the throat balanced to about :data:`NEARLY`, from a guess of it."""
        for _ in range(3):
            inlet, nozzle = self.pair(index, ln_flow, ln_throat)
            ln_throat = ln_throat - np.clip(inlet, -1.0, 1.0)
        return nozzle

    def rising(self, index: IntArray, ln_flow: Array, ln_throat: Array) -> BoolArray:
        """Whether the nozzle residual, with the throat balanced, rises with flow at a balance."""
        inlet, nozzle = self.pair(index, ln_flow, ln_throat)
        inlet_flow, nozzle_flow = self.pair(index, ln_flow + BESIDE, ln_throat)
        inlet_throat, nozzle_throat = self.pair(index, ln_flow, ln_throat + BESIDE)
        with np.errstate(invalid="ignore", divide="ignore"):
            drawn = (inlet_flow - inlet) / (inlet_throat - inlet)
            return np.asarray(nozzle_flow - nozzle > (nozzle_throat - nozzle) * drawn)

    def nozzle(self, index: IntArray, ln_flow: Array) -> Array:
        """Nozzle residual with the throat balanced: one unknown left."""
        index = np.array(index)
        return self.pair(index, ln_flow, self.throat(index, ln_flow))[1]


def match(machine: Ducted, free: FreeStream, size: int,
          table: BalanceTable | None = None) -> Match:
    """Balance a chunk of operating points, flattened to one axis of ``size`` elements.

    ``table`` is where to start from, of the same machine in the same air.
    """
    residuals = _Residuals(machine, free, size)
    stage = machine.rotor.stage
    highest = np.broadcast_to(np.log(stage.highest_flow), (size,))
    least, most = highest + np.log(LEAST_SHARE), highest + np.log(GREATEST_SHARE)
    blocked = np.zeros(size, dtype=bool)
    ln_flow, ln_throat, converged = _quick(residuals, highest, least=least, most=most,
                                          table=table)
    if not converged.all():
        ln_flow, ln_throat, converged, blocked = _bracket(
            residuals, ln_flow, ln_throat, converged, least, most)
    searched = _multiple_roots_possible(residuals, ln_flow, ln_throat, converged, least, highest)
    ln_flow, ln_throat, twice, stable = _larger_balance(
        residuals, ln_flow, ln_throat, highest, np.flatnonzero(searched), blocked)
    blocked = blocked & ~twice
    flow, throat = np.exp(ln_flow), np.exp(ln_throat)
    found = converged & ~blocked
    outside = found & ((flow > stage.highest_flow * (1.0 + 1e-9))
                       | (flow < stage.lowest_flow * (1.0 - 1e-9)))
    unstable = found & ~outside & ~stable
    speed = np.full(size, np.nan)
    if may_drive(stage):
        with np.errstate(invalid="ignore"):
            driving = ~(found & ~outside & ~unstable & (stage.power(flow) > LEAST_POWER))
        index = np.flatnonzero(driving)
        if index.size:
            driven = driven_balance(residuals.at_speed, machine, free, size, index)
            place = index[driven.inside]
            flow[place], throat[place], speed[place] = (
                value[driven.inside] for value in (driven.flow, driven.throat, driven.shaft_speed))
            converged[place], outside[place], blocked[place], unstable[place] = (
                True, False, False, False)
            twice[place] = driven.several[driven.inside]
            # a flow from the drive alone, where a load that drives has no such speed, is no balance
            none = index[~driven.inside]
            outside[none] |= ~blocked[none]
            converged[none] = True
        found = converged & ~blocked
    outside = outside | unstable
    head = np.full(size, np.nan)
    choked = found & _eye_chokes(machine, free, throat)
    if choked.any():
        flow, throat, head, ok = _choked_eye(machine, free, choked, flow, throat, head, speed)
        unstable = unstable & ~choked
        converged = converged & (ok | ~choked)
        outside = np.where(choked, (flow > stage.highest_flow) | (flow < stage.lowest_flow),
                           outside)
    return Match(flow=np.where(blocked, 0.0, flow), throat=np.where(blocked, 0.0, throat),
                 head=head, converged=converged, outside=outside, no_through_flow=blocked,
                 eye_choked=choked, two_matches=twice, unstable=unstable, shaft_speed=speed)


def balance_table(machine: Ducted, free: FreeStream) -> BalanceTable:
    """Balances of one machine in one air at evenly spaced airspeeds, to start others from."""
    airspeed = np.asarray(free.airspeed)
    residuals = _Residuals(machine, free, airspeed.size)
    highest = np.full(airspeed.size, np.log(machine.rotor.stage.highest_flow))
    ln_flow, ln_throat, found = _quick(residuals, highest, least=highest + np.log(LEAST_SHARE),
                                       most=highest + np.log(GREATEST_SHARE))
    every = np.arange(airspeed.size)
    slopes = probe(residuals.pair, every, ln_flow, ln_throat,
                   here=residuals.pair(every, ln_flow, ln_throat))
    return tabulated(airspeed, (ln_flow, ln_throat), slopes, found)


def _quick(residuals: _Residuals, highest: Array, *, least: Array, most: Array,
           table: BalanceTable | None = None) -> tuple[Array, Array, BoolArray]:
    """Both unknowns by quick steps, and where they balance: from the table where it knows any,
    then from one flow coefficient after the other."""
    size = highest.size
    ln_flow, ln_throat, found = np.zeros(size), np.zeros(size), np.zeros(size, dtype=bool)
    throats = np.log(LEAST_THROAT), np.log(GREATEST_THROAT)

    def steps(index: IntArray, start: Pair, slopes: Slopes | None = None) -> None:
        machine, free = residuals.parts(index)
        low, high = (np.full(index.size, end) for end in throats)
        ln_flow[index], ln_throat[index], found[index] = solve_pair(
            _Residuals(machine, free, index.size).pair, start, slopes=slopes,
            lower=(least[index], low), upper=(most[index], high))

    if table is not None:
        start, slopes, known = table.start(np.asarray(residuals.free.airspeed))
        index = np.flatnonzero(known)
        first, second, *rest = (each[index] for each in (*start, *slopes))
        steps(index, (first, second), (rest[0], rest[1], rest[2], rest[3]))
    for share in START_SHARES:
        left = np.flatnonzero(~found)
        if left.size:
            guess = highest[left] + np.log(share)
            steps(left, (guess, _first_throat(*residuals.parts(left), np.exp(guess))))
    return ln_flow, ln_throat, found


def known_speed(solved: Match) -> Array | None:
    """Shaft speeds of a match that the drive does not give at the flow coefficient, if any."""
    return solved.shaft_speed if np.isfinite(solved.shaft_speed).any() else None


def _first_throat(machine: Ducted, free: FreeStream, flow: Array) -> Array:
    """Throat variable of the first guess: the rotor's flow at free-stream total density."""
    total = np.asarray(free.total_pressure) / (GAS_CONSTANT * np.asarray(free.total_temperature))
    diameter = machine.rotor.tip_diameter
    cube = diameter * diameter * diameter
    load = machine.rotor.stage.power(flow) * total * (0.125 * cube * diameter * diameter)
    omega, _ = unlabelled_speed(machine.drive, machine.supply, torque_coefficient=load,
                                held=machine.held)
    speed = flow * omega * (0.5 * cube / machine.inlet.throat_area)
    mach = speed / np.sqrt(GAMMA * GAS_CONSTANT * np.asarray(free.total_temperature))
    with np.errstate(invalid="ignore", divide="ignore"):
        guess = np.log(np.where(np.isfinite(mach), np.clip(mach, 1e-6, 0.9), 0.3))
    return np.broadcast_to(guess, np.shape(flow)).copy()


def _bracket(residuals: _Residuals, ln_flow: Array, ln_throat: Array, converged: BoolArray,
             least: Array, most: Array) -> tuple[Array, Array, BoolArray, BoolArray]:
    """Guaranteed fallback for the elements the quick steps left, and the reason where none is."""
    left = np.flatnonzero(~converged)
    low, high = least[left], most[left]
    at_low, at_high = residuals.nozzle(left, low), residuals.nozzle(left, high)
    blocked = np.zeros(converged.shape, dtype=bool)
    blocked[left] = at_low <= 0.0
    beyond = (at_low > 0.0) & (at_high > 0.0)
    ln_flow, converged = ln_flow.copy(), converged.copy()
    ln_throat = ln_throat.copy()
    if beyond.any():  # balanced outside the map, where nothing is known but what the eye passes
        outer = left[beyond]
        ln_flow[outer], converged[outer] = high[beyond], True
        ln_throat[outer] = residuals.throat(outer, high[beyond])
    converged[left[blocked[left]]] = True
    within = (at_low > 0.0) & (at_high <= 0.0)
    if within.any():
        inner = left[within]
        root, ok = bracketed_root(lambda sub, u: residuals.nozzle(inner[sub], u), low[within],
                                  high[within])
        ln_flow[inner], converged[inner] = root, ok
        ln_throat[inner[ok]] = residuals.throat(inner[ok], root[ok])
    return ln_flow, ln_throat, converged, blocked


def _multiple_roots_possible(residuals: _Residuals, ln_flow: Array, ln_throat: Array,
                       converged: BoolArray, least: Array, highest: Array) -> BoolArray:
    """Where a balance inside the map, beside the one found, cannot be ruled out.

    The head may rise steeply with flow. In a base flow, or with a map that starts without head, the
    pressure behind a rotor without flow may lie below the ambient. Or the one found lies beyond the
    map, where its straight continuation may have made it up, and the nozzle passes less at its end.
    """
    machine, free = residuals.machine, residuals.free
    stage = machine.rotor.stage
    steep = converged & rises_steeply(stage)
    if np.array_equal(steep, converged):
        return converged
    # behind a choked throat more flow is no more mass flow: any rise of the head may then be steep
    rising = converged & ~steep & (ln_throat > 0.0)
    if rising.any():
        index = np.flatnonzero(rising)
        rising[index] = residuals.rising(index, ln_flow[index], ln_throat[index])
    searched = converged & (ln_flow > highest + 1e-9)
    if searched.any():
        index = np.flatnonzero(searched)
        searched[index] = residuals.approximate(index, highest[index], ln_throat[index] + (
            highest[index] - ln_flow[index])) <= NEARLY
    flow = np.exp(least)
    if np.any(np.asarray(machine.inlet.ram_recovery) < 0.0) or np.any(stage.head(flow) <= 0.0):
        with np.errstate(invalid="ignore"):
            least = np.full(flow.shape, LEAST_THROAT)
            states = station_states(machine, free, flow=flow, throat=least)
            searched = searched | (converged & (states.axial_pressure <= free.pressure))
    return searched | rising | steep


def _larger_balance(residuals: _Residuals, ln_flow: Array, ln_throat: Array, highest: Array,
                    index: IntArray, blocked: BoolArray
                    ) -> tuple[Array, Array, BoolArray, BoolArray]:
    """Look along the map for further balances of some elements; keep the largest stable one.

    A balance is stable where the residual falls with flow. The last value says where the one kept
    is, or need not be looked at.
    """
    twice = np.zeros(ln_flow.shape, dtype=bool)
    stable = np.ones(ln_flow.shape, dtype=bool)
    if index.size == 0:
        return ln_flow, ln_throat, twice, stable
    stage = residuals.machine.rotor.stage
    lowest = np.log(np.maximum(stage.lowest_flow, np.exp(highest) * 1e-3))
    grid = lowest + np.linspace(0.0, 1.0, 25)[:, None] * (highest - lowest)
    wanted = grid[:, index]
    signs = residuals.nozzle(np.tile(index, len(grid)), wanted.ravel()).reshape(wanted.shape) > 0.0
    falls = signs[:-1] & ~signs[1:]
    some = falls.any(axis=0)
    twice[index] = some & (np.count_nonzero(signs[1:] != signs[:-1], axis=0) > 1)
    last = falls.shape[0] - 1 - np.argmax(falls[::-1], axis=0)
    lower, upper, here = grid[last, index], grid[last + 1, index], ln_flow[index]
    ahead = residuals.nozzle(index, here + BESIDE)
    falling = (ahead < residuals.nozzle(index, here - BESIDE)) & ~blocked[index]
    inside = (here <= highest[index]) & (here >= lowest[index])
    # a falling root in a cell where the signs at the ends hide it counts; a rising one never
    kept = inside & falling & (~some | (here >= lower))
    stable[index] = kept | some | ~inside
    missed = some & ~kept
    if missed.any():
        pick = index[missed]
        root, ok = bracketed_root(lambda sub, u: residuals.nozzle(pick[sub], u),
                                  lower[missed], upper[missed])
        ln_flow, ln_throat = ln_flow.copy(), ln_throat.copy()
        ln_flow[pick[ok]] = root[ok]
        ln_throat[pick[ok]] = residuals.throat(pick[ok], root[ok])
    return ln_flow, ln_throat, twice, stable


def _eye_chokes(machine: Ducted, free: FreeStream, throat: Array) -> BoolArray:
    """Whether the flow through the throat is more than a sonic eye passes at its own pressure."""
    tt = np.asarray(free.total_temperature)
    entry = inlet_state(machine.inlet, throat=throat, pressure=free.pressure,
                        total_pressure=free.total_pressure, total_temperature=tt,
                        airspeed=free.airspeed)
    most = SONIC_FLOW_FUNCTION * machine.rotor.eye_area * entry.face_pressure
    return np.asarray(entry.mass_flow * np.sqrt(GAS_CONSTANT / GAMMA * tt) > most)


def _choked_eye(machine: Ducted, free: FreeStream, choked: BoolArray, flow: Array, throat: Array,
                head: Array, speed: Array) -> tuple[Array, Array, Array, BoolArray]:
    """Operating points on the vertical branch: flow pinned by the sonic eye, head what is left.

    The inlet alone then fixes the rotor-face state; the shaft speed follows from torque balance at
    the pinned flow; the head is what the duct and nozzle need for that flow, below the map's own.
    """
    size = choked.size
    index = np.flatnonzero(choked)
    part, stream = take(machine, (size,), index), take(free, (size,), index)
    tt = np.asarray(stream.total_temperature)
    sound = np.sqrt(GAMMA * GAS_CONSTANT * tt)

    def face_miss(sub: IntArray, ln_throat: Array) -> Array:
        m, f = take(part, (index.size,), sub), take(stream, (index.size,), sub)
        entry = inlet_state(m.inlet, throat=np.exp(ln_throat), pressure=f.pressure,
                            total_pressure=f.total_pressure,
                            total_temperature=f.total_temperature, airspeed=f.airspeed)
        share = entry.mass_flow * np.sqrt(GAS_CONSTANT / GAMMA * np.asarray(f.total_temperature))
        with np.errstate(invalid="ignore", divide="ignore"):
            miss = np.log(share / (m.rotor.eye_area * entry.face_pressure * SONIC_FLOW_FUNCTION))
        return np.where(entry.face_pressure > 0.0, miss, 1.0)

    low = np.full(index.size, np.log(LEAST_THROAT))
    ln_throat, ok = bracketed_root(face_miss, low, -low)
    entry = inlet_state(part.inlet, throat=np.exp(ln_throat), pressure=stream.pressure,
                        total_pressure=stream.total_pressure, total_temperature=tt,
                        airspeed=stream.airspeed)
    density = entry.face_pressure / (GAS_CONSTANT * tt)
    diameter = np.broadcast_to(part.rotor.tip_diameter, index.shape)
    pinned = (SONIC_FLOW_FUNCTION * part.rotor.eye_area * sound * 2.0 / diameter**3)
    pinned = np.broadcast_to(pinned, index.shape)

    def root(drive: Drive) -> Array:
        def torque_miss(sub: IntArray, ln_speed: Array) -> Array:
            m, omega = take(part, (index.size,), sub), np.exp(ln_speed)
            torque, _ = torque_available(take(drive, (index.size,), sub), m.supply,
                                         shaft_speed=omega)
            load = m.rotor.stage.power(pinned[sub] / omega) * density[sub] * diameter[sub]**5 / 8.0
            return np.asarray(torque - load * omega * omega)

        highest = np.broadcast_to(np.asarray(part.rotor.stage.highest_flow), index.shape)
        slowest = np.log(pinned / highest)
        return np.exp(bracketed_root(torque_miss, slowest + np.log(1.0 / GREATEST_SHARE),
                                     slowest - np.log(1e-3))[0])

    omega, _ = balanced_speed(part.drive, part.supply, root)
    ok_speed = np.isfinite(omega)
    phi = pinned / omega
    states = station_states(part, stream, flow=phi, throat=np.exp(ln_throat), shaft_speed=omega)
    speed[index] = np.where(states.torque > 0.0, np.nan, omega)
    values = [np.broadcast_to(each, index.shape) for each in (
        states.mass_flow, states.stage_temperature, states.heat, states.swirl_speed)]

    def nozzle_miss(sub: IntArray, ln_pressure: Array) -> Array:
        flow, temperature, heat, swirl = (each[sub] for each in values)
        rest = behind_stage(take(part, (index.size,), sub), take(stream, (index.size,), sub),
                            mass_flow=flow, pressure=np.exp(ln_pressure), temperature=temperature,
                            heat=heat, swirl_speed=swirl)
        with np.errstate(invalid="ignore", divide="ignore"):
            miss = np.log(rest.axial_pressure / rest.needed_pressure)
        return np.where(np.isnan(miss), -1.0, miss)  # a choked duct: too little pressure before it

    least = np.log(states.needed_pressure) - BESIDE
    pt3 = np.exp(bracketed_root(nozzle_miss, least, least + np.log(MOST_LOSS))[0])
    tip = states.tip_speed
    psi = SPECIFIC_HEAT * tt / tip**2 * np.expm1(np.log(pt3 / entry.face_pressure) / EXPONENT)
    flow, throat, head = flow.copy(), throat.copy(), head.copy()
    flow[index], throat[index], head[index] = phi, np.exp(ln_throat), psi
    good = np.ones(size, dtype=bool)
    good[index] = ok & ok_speed & np.isfinite(psi)
    return flow, throat, head, good


def eye_mach(machine: Ducted, free: FreeStream, *, mass_flow: Array, face_pressure: Array) -> Array:
    """Mach number in the rotor's eye [-]; 1 where it is choked to rounding."""
    wanted = mass_flow * np.sqrt(GAS_CONSTANT / GAMMA * np.asarray(free.total_temperature)) / (
        machine.rotor.eye_area * face_pressure)
    share = np.where(np.abs(wanted / SONIC_FLOW_FUNCTION - 1.0) < 1e-9, SONIC_FLOW_FUNCTION, wanted)
    return mach_from_mass_flow_function(flow_function=share)

