"""A ducted unit at its operating points: matched, booked, and flagged."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, SPECIFIC_HEAT, total_pressure
from thrustlapse.arrays import (
    Array,
    BoolArray,
    IntArray,
    Values,
    batch_shape,
    in_shape,
    numeric_leaves,
    some,
    take,
)
from thrustlapse.elementwise import CHUNK
from thrustlapse.power.drive import (
    DriveLimit,
    ElectricalState,
    allowed_power,
    electrical_state,
    overcharging,
)
from thrustlapse.power.motor import EfficiencyMotor
from thrustlapse.propulsor.balance_table import LEAST_POINTS, NODES, BalanceTable
from thrustlapse.propulsor.bounds import gated
from thrustlapse.propulsor.ducted_match import (
    Match,
    StationStates,
    balance_table,
    eye_mach,
    known_speed,
    station_states,
)
from thrustlapse.propulsor.ducted_match import match as balance
from thrustlapse.propulsor.ducted_unit import Ducted, FreeStream
from thrustlapse.propulsor.energy_ledger import ducted_ledger
from thrustlapse.propulsor.ideal import ducted_thrust
from thrustlapse.propulsor.inlet import additive_drag, spills
from thrustlapse.propulsor.nozzle import Jet, jet
from thrustlapse.propulsor.operating_point import (
    INVALID,
    TIP_MACH_LIMIT,
    Flag,
    Ledger,
    OperatingPoint,
)
from thrustlapse.propulsor.relative_mach import face_mach

CONTINUITY = 1e-8
"""Largest ln(nozzle flow / rotor flow) of a balance that counts as found."""

ROUND_OFF = 1e-14
"""What round-off of the nozzle's pressure ratio may make of it, times that ratio less 1."""


KNOWN = int(Flag.CANNOT_TURN | Flag.AIR_UNKNOWN)
EXPLAINED = int(Flag.NOT_CONVERGED | Flag.PACK_CANNOT_DELIVER | Flag.OUTSIDE_MAP | Flag.UNSTABLE)
NO_BALANCE = int(Flag.OUTSIDE_MAP | Flag.NOT_CONVERGED)
PACK, UNKNOWN_AIR = int(Flag.PACK_CANNOT_DELIVER), int(Flag.AIR_UNKNOWN)
"""Bits of a deeper cause, of what it explains, and of what hides a pack that cannot deliver."""


def free_stream(air: Air, airspeed: Values) -> FreeStream:
    """Undisturbed air as a machine at an airspeed [m/s] meets it."""
    v, t0 = np.asarray(airspeed, dtype=float), np.asarray(air.temperature, dtype=float)
    mach = v / np.sqrt(GAMMA * GAS_CONSTANT * t0)
    return FreeStream(pressure=np.asarray(air.pressure, dtype=float), temperature=t0,
                      total_pressure=total_pressure(pressure=air.pressure, mach=mach),
                      total_temperature=np.asarray(t0 + v * v / (2.0 * SPECIFIC_HEAT)),
                      airspeed=v)


def operate_ducted(machine: Ducted, *, air: Air, airspeed: Values) -> OperatingPoint:
    """Match a ducted unit at any number of operating points.

    Parameters
    ----------
    machine : Ducted
        Its numeric fields broadcast against ``air`` and ``airspeed``
    air : Air
        Still air at the operating points
    airspeed : array_like
        Airspeed, at least 0 [m/s]

    Returns
    -------
    OperatingPoint
        In the broadcast shape. ``installed_thrust`` is that of all units without external drag;
        a candidate takes its own drag off.
    """
    free = free_stream(air, airspeed)
    shape = batch_shape(machine, free)
    size = int(np.prod(shape, dtype=int))
    machine, free = take(machine, shape, slice(None)), take(free, shape, slice(None))
    table = _table(machine, air, free, size)
    arrays: dict[str, Any] = {}
    ledger: dict[str, Array] = {}
    for start in range(0, max(size, 1), CHUNK):
        piece = slice(start, min(start + CHUNK, size))
        count = piece.stop - piece.start
        if count <= 0:
            break
        point = _chunk(take(machine, (size,), piece), take(free, (size,), piece), count, table)
        for record, store in ((point, arrays), (point.ledger, ledger)):
            for item in fields(record):
                value = getattr(record, item.name)
                if isinstance(value, np.ndarray):
                    if item.name not in store:
                        store[item.name] = np.empty(size, dtype=value.dtype)
                    store[item.name][piece] = value
    if size == 0:
        return _empty(shape)
    return OperatingPoint(
        ledger=Ledger(**{name: value.reshape(shape) for name, value in ledger.items()}),
        **{name: value.reshape(shape) for name, value in arrays.items()})


@dataclass(frozen=True, kw_only=True)
class _Outcome:
    """Everything known of a chunk before it is written down."""

    solved: Match
    states: StationStates
    jet_state: Jet
    electrical: ElectricalState


def _table(machine: Ducted, air: Air, free: FreeStream, size: int) -> BalanceTable | None:
    """Where to start from with one machine in one air at very many airspeeds."""
    if size < LEAST_POINTS * NODES or any(
            leaf.ndim for part in (machine, air) for leaf in numeric_leaves(part)):
        return None
    lowest, highest = np.min(free.airspeed), np.max(free.airspeed)
    if not lowest < highest:
        return None
    nodes = free_stream(air, np.linspace(lowest, highest, NODES))
    return balance_table(machine, nodes)


def _chunk(machine: Ducted, free: FreeStream, size: int,
           table: BalanceTable | None) -> OperatingPoint:
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        solved = balance(machine, free, size, table)
        states = station_states(machine, free, flow=solved.flow, throat=solved.throat,
                                head=solved.head if solved.eye_choked.any() else None,
                                shaft_speed=known_speed(solved))
        jet_state = jet(machine.nozzle, total_pressure=states.axial_pressure,
                        total_temperature=states.axial_temperature, pressure=free.pressure)
        if solved.no_through_flow.any():
            jet_state = _without_flow(jet_state, solved.no_through_flow, free)
        electrical = electrical_state(machine.drive, machine.supply,
                                      shaft_speed=states.shaft_speed, torque=states.torque,
                                      limit=states.limit)
        outcome = _Outcome(solved=solved, states=states, jet_state=jet_state, electrical=electrical)
        return _record(machine, free, outcome, size)


def _without_flow(jet_state: Jet, still: BoolArray, free: FreeStream) -> Jet:
    """A jet that does not flow, in air as it stands, where the balance has no through-flow."""
    outside = {"mass_flow": 0.0, "speed": 0.0, "pressure": free.pressure,
               "temperature": free.temperature, "ideal_temperature": free.temperature}
    changed = {name: np.where(still, value, getattr(jet_state, name))
               for name, value in outside.items()}
    return Jet(effective_area=np.where(still, 0.0, jet_state.effective_area),
               choked=jet_state.choked & ~still, **changed)


def _record(machine: Ducted, free: FreeStream, outcome: _Outcome, size: int) -> OperatingPoint:
    states, jet_state, electrical = outcome.states, outcome.jet_state, outcome.electrical
    v0, p0 = np.asarray(free.airspeed), np.asarray(free.pressure)
    sound = np.sqrt(GAMMA * GAS_CONSTANT * np.asarray(free.total_temperature))
    rim = states.tip_speed / sound
    eye = eye_mach(machine, free, mass_flow=states.mass_flow,
                   face_pressure=states.inlet.face_pressure)
    bits = _flags(machine, free, outcome)
    fast = (face_mach(machine, rim_mach=rim, eye_mach=eye) > TIP_MACH_LIMIT) & (
        (bits & int(INVALID)) == 0)
    bits = bits | np.where(fast, int(Flag.TIP_MACH_HIGH), 0)
    ledger = ducted_ledger(machine, free, states=states, jet_state=jet_state, electrical=electrical)
    excess = (jet_state.pressure - p0) * jet_state.effective_area
    gross = jet_state.mass_flow * jet_state.speed + excess
    drag = jet_state.mass_flow * v0
    power = states.torque * states.shaft_speed
    density = p0 / (GAS_CONSTANT * np.asarray(free.temperature))
    units = np.asarray(machine.supply.units)
    still = outcome.solved.no_through_flow
    behind = np.where(still, states.stage_pressure, states.nozzle_pressure)
    values = {
        "airspeed": v0, "net_thrust": gross - drag, "gross_thrust": gross, "ram_drag": drag,
        "ideal_thrust": ducted_thrust(power=np.maximum(power, 0.0), area=jet_state.effective_area,
                                      density=density, airspeed=v0),
        "mass_flow": jet_state.mass_flow, "jet_speed": jet_state.speed,
        "jet_area": jet_state.effective_area, "shaft_speed": states.shaft_speed,
        "shaft_power": power, "torque": states.torque, "tip_mach": rim,
        "flow_coefficient": states.flow, "head_coefficient": states.head,
        "power_coefficient": states.power, "throat_mach": states.inlet.mach,
        "eye_mach": eye,
        "duct_mach": np.where(still, 0.0, states.duct_mach),
        "face_pressure": states.inlet.face_pressure, "stage_pressure": states.stage_pressure,
        "nozzle_pressure": behind, "pressure_ratio": behind / p0,
        "exit_temperature": np.where(jet_state.mass_flow > 0.0, states.nozzle_temperature, np.nan),
        "motor_current": electrical.motor_current, "motor_voltage": electrical.motor_voltage,
        "duty": electrical.duty, "terminal_voltage": electrical.terminal_voltage,
        "additive_drag": additive_drag(machine.inlet, state=states.inlet, pressure=p0,
                                       total_temperature=free.total_temperature, airspeed=v0),
        "installed_thrust": units * (gross - drag), "external_drag": np.zeros(()),
        "electrical_power": units * electrical.terminal_power,
        "current": units * electrical.supply_current,
    }
    void = (bits & int(INVALID)) != 0
    out = {name: in_shape(value, (size,)) for name, value in values.items()}
    if void.any():
        out = {name: value if name == "airspeed" else np.where(void, np.nan, value)
               for name, value in out.items()}
        ledger = Ledger(**{item.name: np.where(void, np.nan, getattr(ledger, item.name))
                           for item in fields(ledger)})
    limit = np.where(void, int(DriveLimit.NONE), states.limit)
    return gated(OperatingPoint(ledger=ledger, flag_bits=bits,
                                drive_limit_code=in_shape(limit, (size,)), **out))


def _flags(machine: Ducted, free: FreeStream, outcome: _Outcome) -> IntArray:
    solved, states, jet_state = outcome.solved, outcome.states, outcome.jet_state
    stage, size = machine.rotor.stage, solved.flow.size
    flowing = ~solved.no_through_flow
    # a balance the solver believes in but the nozzle does not is none
    miss = np.abs(np.log(jet_state.mass_flow / states.mass_flow))
    excess = np.maximum(states.axial_pressure / free.pressure - 1.0, 0.0)
    unequal = flowing & (miss > CONTINUITY) & (miss * excess > ROUND_OFF)
    causes = {
        Flag.THROAT_CHOKED: flowing & (solved.throat >= 1.0),
        Flag.EYE_CHOKED: solved.eye_choked,
        Flag.DUCT_CHOKED: flowing & solved.converged & np.isnan(states.duct_mach),
        Flag.NOZZLE_CHOKED: jet_state.choked,
        Flag.STALL_SIDE: flowing & (solved.flow < np.asarray(stage.stall_flow) * (1.0 - 1e-9)),
        Flag.TWO_MATCHES: solved.two_matches,
        Flag.WINDMILLING: flowing & (states.head < 0.0),
        Flag.FREEWHEELING: states.limit == DriveLimit.FREEWHEELING,
        Flag.REGENERATING: states.limit == DriveLimit.REGENERATING,
        Flag.OVERCHARGING: overcharging(machine.supply, outcome.electrical),
        Flag.UNSTABLE: solved.unstable,
        Flag.NO_THROUGH_FLOW: solved.no_through_flow,
        Flag.INLET_SPILLS: flowing & spills(machine.inlet, state=states.inlet,
                                            airspeed=free.airspeed),
        # a load that drives the shaft without any flow is a continuation below the map's lowest
        Flag.OUTSIDE_MAP: solved.outside | (solved.no_through_flow
                                            & np.isposinf(states.shaft_speed)),
        Flag.PACK_CANNOT_DELIVER: ~outcome.electrical.deliverable | _starved(machine, states.limit),
        Flag.CANNOT_TURN: np.isnan(states.shaft_speed),
        Flag.AIR_UNKNOWN: ~np.isfinite(np.asarray(free.pressure) + free.temperature
                                       + free.airspeed),
        Flag.NOT_CONVERGED: ~solved.converged | (unequal & ~solved.outside),
    }
    bits: IntArray = np.zeros(size, dtype=np.int64)
    for flag, raised in causes.items():
        if some(raised):
            bits = bits | np.where(raised, int(flag), 0)
    # a deeper cause makes its consequences not worth telling
    bits = np.where((bits & KNOWN) != 0, bits & ~EXPLAINED, bits)
    bits = np.where((bits & UNKNOWN_AIR) != 0, UNKNOWN_AIR, bits)
    if not some(bits & PACK):
        return bits
    return np.where(((bits & NO_BALANCE) != 0) & ~_starved(machine, states.limit), bits & ~PACK,
                    bits)


def _starved(machine: Ducted, limit: IntArray) -> BoolArray:
    """Where only the pack holds down a drive that has no voltage of its own to give way."""
    if not isinstance(machine.drive.motor, EfficiencyMotor):
        return np.zeros(np.shape(limit), dtype=bool)
    _, _, reachable = allowed_power(machine.drive, machine.supply)
    return np.asarray(~reachable & ((limit == DriveLimit.POWER)
                                    | (limit == DriveLimit.SUPPLY_CURRENT)))


def _empty(shape: tuple[int, ...]) -> OperatingPoint:
    hollow = np.empty(shape)
    whole = np.empty(shape, dtype=np.int64)
    ledger = Ledger(**{item.name: hollow for item in fields(Ledger)})
    kinds: dict[str, Any] = {"drive_limit_code": whole, "flag_bits": whole, "ledger": ledger}
    return OperatingPoint(**{item.name: kinds.get(item.name, hollow)
                             for item in fields(OperatingPoint)})
