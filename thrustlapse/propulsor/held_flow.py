"""The balance of a ducted machine whose load may drive the shaft: torque at a held mass flow.

At a held flow coefficient a load that drives has no speed, or two, at which it meets a drive with
torque to spare. At a held mass flow it has one: a slower shaft has a larger flow coefficient, which
drives it harder. So the throat is the outer unknown, which gives the mass flow and the state at the
rotor's face, and the shaft speed is the inner one. Where the torque balances beyond an end of the
map, the end stands in, so that the outer residual is continuous; a root found there is none.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from thrustlapse.air.gas import GAS_CONSTANT
from thrustlapse.arrays import Array, BoolArray, IntArray, take
from thrustlapse.elementwise import bracketed_root
from thrustlapse.power.drive import Drive, balanced_speed, torque_available
from thrustlapse.propulsor.ducted_unit import Ducted, FreeStream
from thrustlapse.propulsor.inlet import inlet_state
from thrustlapse.rotor.batched_map import BatchedMap
from thrustlapse.rotor.map_shape import ShapedMap
from thrustlapse.rotor.stage_map import CoefficientMap, PointMap, StageMap, drives

THROATS = np.log(np.concatenate([np.geomspace(1e-6, 0.03, 10), np.linspace(0.06, 1.0, 30),
                                 np.geomspace(1.05, 30.0, 12)]))
"""Logarithms of the throat variables between which balances are looked for."""

LEAST_FLOW = 1e-3
"""Smallest flow coefficient looked at, over the largest the map knows."""

NozzleResidual = Callable[[IntArray, Array, Array, Array], Array]
"""``residual(index, flow, throat, shaft_speed)``: pressure at hand over that needed, logarithm."""


class Driven(NamedTuple):
    """Balances found: unknowns, whether inside the map, and how many there are."""

    flow: Array
    throat: Array
    shaft_speed: Array
    inside: BoolArray
    several: BoolArray


def may_drive(stage: StageMap) -> bool:
    """Whether the power of a map falls to zero anywhere inside it."""
    if isinstance(stage, PointMap | BatchedMap):  # shape-preserving: least at one of its points
        return bool(np.any(stage.power_points <= 0.0))
    low, high = stage.lowest_flow, np.asarray(stage.highest_flow)
    if isinstance(stage, CoefficientMap) and np.all(np.asarray(stage.work_slope) <= 0.0):
        return bool(np.any(stage.power(low) <= 0.0) or np.any(stage.power(high) <= 0.0))
    return bool(np.any(stage.driven if isinstance(stage, ShapedMap) and stage.driven is not None
                       else drives(stage)))


def driven_balance(residual: NozzleResidual, machine: Ducted, free: FreeStream, size: int,
                   index: IntArray) -> Driven:
    """Stable balance of the largest flow inside the map, for some elements of a chunk.

    Stable is where the nozzle residual falls with mass flow: more flow than the balance then meets
    too little pressure.
    """
    part, stream = take(machine, (size,), index), take(free, (size,), index)
    count = index.size

    def states(place: IntArray, ln_throat: Array) -> tuple[Array, Array, Array, BoolArray]:
        flow, omega, inside = _held(take(part, (count,), place), take(stream, (count,), place),
                                    np.exp(ln_throat))
        return residual(index[place], flow, np.exp(ln_throat), omega), flow, omega, inside

    everyone = np.tile(np.arange(count), THROATS.size)
    signs = states(everyone, np.repeat(THROATS, count))[0].reshape(THROATS.size, count) > 0.0
    falls = signs[:-1] & ~signs[1:]
    flow, throat, omega = (np.full(count, np.nan) for _ in range(3))
    inside, several = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    while (pick := np.flatnonzero(falls.any(axis=0))).size:
        last = falls.shape[0] - 1 - np.argmax(falls[::-1, pick], axis=0)
        falls[last, pick] = False
        chosen = pick

        def over(sub: IntArray, ln_throat: Array, chosen: IntArray = chosen) -> Array:
            return states(chosen[sub], ln_throat)[0]

        root, found = bracketed_root(over, THROATS[last], THROATS[last + 1])
        pick, root = pick[found], root[found]
        _, phi, speed, known = states(pick, root)
        several[pick[known & inside[pick]]] = True
        new = known & ~inside[pick]
        pick, root, phi, speed = pick[new], root[new], phi[new], speed[new]
        flow[pick], throat[pick], omega[pick], inside[pick] = phi, np.exp(root), speed, True
    return Driven(flow, throat, shaft_speed=omega, inside=inside, several=several)


def _held(machine: Ducted, free: FreeStream, throat: Array) -> tuple[Array, Array, BoolArray]:
    """Flow coefficient and shaft speed at a held mass flow; whether the torque balances there."""
    entry = inlet_state(machine.inlet, throat=throat, pressure=free.pressure,
                        total_pressure=free.total_pressure,
                        total_temperature=free.total_temperature, airspeed=free.airspeed)
    stage, shape = machine.rotor.stage, (throat.size,)
    diameter = np.asarray(machine.rotor.tip_diameter)
    density = np.broadcast_to(entry.face_pressure / (
        GAS_CONSTANT * np.asarray(free.total_temperature)), shape)
    volume = np.broadcast_to(entry.mass_flow / density * 2.0 / diameter**3, shape)
    load = np.broadcast_to(density * diameter**5 / 8.0, shape)
    most = np.broadcast_to(np.asarray(stage.highest_flow, dtype=float), shape)
    least = np.broadcast_to(np.maximum(stage.lowest_flow, LEAST_FLOW * most), shape)
    ends = np.log(volume / most), np.log(volume / least)

    def root(drive: Drive) -> Array:
        def excess(sub: IntArray, ln_speed: Array) -> Array:
            part: Any = machine if sub.size == throat.size else take(machine, shape, sub)
            own = drive if sub.size == throat.size else take(drive, shape, sub)
            omega = np.exp(ln_speed)
            given, _ = torque_available(own, part.supply, shaft_speed=omega)
            return np.asarray(given - part.rotor.stage.power(volume[sub] / omega) * load[sub]
                              * omega * omega)

        everywhere = np.arange(throat.size)
        slow, fast = excess(everywhere, ends[0]), excess(everywhere, ends[1])
        found = bracketed_root(excess, *ends)[0]
        speed = np.where(slow <= 0.0, ends[0], np.where(fast >= 0.0, ends[1], found))
        return np.where(np.isnan(slow + fast), np.nan, np.exp(speed))

    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        omega, _ = balanced_speed(machine.drive, machine.supply, root)
        flow = volume / omega
        inside = (flow < most * (1.0 - 1e-12)) & (flow > least * (1.0 + 1e-12))
    return flow, omega, inside
