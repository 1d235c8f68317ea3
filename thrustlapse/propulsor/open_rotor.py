"""An open rotor, or a ducted propeller known by its coefficients, at its operating points.

The unknown is the shaft speed; the advance ratio is explicit in it. The residual, torque the drive
can give less torque the rotor takes, falls with shaft speed under every drive limit, at rest too,
as long as the rotor takes torque. A rotor that the air drives may balance twice: the faster balance
is the stable one.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, BoolArray, IntArray, Values, batch_shape, take
from thrustlapse.elementwise import bracketed_root
from thrustlapse.power.drive import (
    Drive,
    DriveLimit,
    ElectricalState,
    allowed_power,
    balanced_speed,
    electrical_state,
    overcharging,
    torque_available,
)
from thrustlapse.power.motor import EfficiencyMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.bounds import TABLE_ACCURACY, gated
from thrustlapse.propulsor.energy_ledger import electrical_ledger
from thrustlapse.propulsor.ideal import (
    disc_induced_speed_from_thrust,
    disc_thrust,
    ducted_thrust,
    jet_speed_from_thrust,
)
from thrustlapse.propulsor.operating_point import (
    INVALID,
    TIP_MACH_LIMIT,
    Flag,
    Ledger,
    OperatingPoint,
)
from thrustlapse.rotor.batched_map import BatchedTable
from thrustlapse.rotor.propeller.table import PropellerTable

SLOWEST, FASTEST = 1e-2, 1e5
"""Shaft speeds between which a balance is looked for [rad/s]."""

SHARES = np.linspace(0.0, 1.0, 257) ** 2
"""Places between them, in ln shaft speed, where the air may drive the rotor."""


@dataclass(frozen=True, kw_only=True)
class OpenRotor:
    """One propeller on its share of the supply.

    Parameters
    ----------
    table : PropellerTable or BatchedTable
        Thrust and power coefficients of the whole unit
    diameter : array_like
        Tip diameter [m]
    exit_area_ratio : array_like
        0 for an open propeller; for a ducted propeller known by its coefficients, duct exit area
        over disc area [-], which sets its momentum-theory bound and jet
    drive, supply
        As for a ducted machine
    """

    table: PropellerTable | BatchedTable
    diameter: Values
    exit_area_ratio: Values = 0.0
    drive: Drive
    supply: Supply


def operate_open_rotor(machine: OpenRotor, *, air: Air, airspeed: Values) -> OperatingPoint:
    """Match a propeller at any number of operating points; arguments and result as for a duct."""
    shape = batch_shape(machine, air, np.asarray(airspeed, dtype=float))
    size = int(np.prod(shape, dtype=int))
    whole = slice(0, size)
    part = take(machine, shape, whole)
    here = take(Air(pressure=np.asarray(air.pressure, dtype=float),
                    temperature=np.asarray(air.temperature, dtype=float)), shape, whole)
    speed = np.broadcast_to(np.asarray(airspeed, dtype=float), shape).reshape(size)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        omega, limit, converged = _match(part, here, speed, size)
        point = gated(_record(part, here, airspeed=speed, omega=omega, limit=limit,
                              converged=converged),
                      table_accuracy=_accuracy(part))
    flat = {item.name: getattr(point, item.name) for item in fields(point)}
    ledger = flat.pop("ledger")
    return OperatingPoint(
        ledger=Ledger(**{item.name: getattr(ledger, item.name).reshape(shape)
                         for item in fields(ledger)}),
        **{name: value.reshape(shape) for name, value in flat.items()})


def _accuracy(machine: OpenRotor) -> float:
    """Share of shaft power by which the table may fall short of momentum theory [-]."""
    band = machine.table.band
    stated = 2.0 * float(np.hypot(1.5 * band.head, band.power))
    return stated if stated > 0.0 else TABLE_ACCURACY


def _advance_ratio(machine: OpenRotor, airspeed: Array, shaft_speed: Array) -> Array:
    return np.asarray(2.0 * np.pi * airspeed / (shaft_speed * machine.diameter))


def rotor_torque(machine: OpenRotor, *, density: Values, airspeed: Array,
                 shaft_speed: Array) -> Array:
    """Torque the rotor takes [N m] at an airspeed [m/s] and a shaft speed [rad/s]."""
    turns = shaft_speed / (2.0 * np.pi)
    cost = machine.table.power(advance_ratio=_advance_ratio(machine, airspeed, shaft_speed),
                               shaft_speed=shaft_speed)
    return np.asarray(cost * density * turns**2 * np.asarray(machine.diameter) ** 5
                      / (2.0 * np.pi))


def _match(machine: OpenRotor, air: Air, airspeed: Array,
           size: int) -> tuple[Array, IntArray, BoolArray]:
    """Shaft speed [rad/s], active limit, and whether a balance was found."""
    density = np.broadcast_to(air.density, (size,))

    def root(drive: Drive) -> Array:
        def excess(index: IntArray, ln_speed: Array) -> Array:
            part = machine if index.size == size else take(machine, (size,), index)
            own = drive if index.size == size else take(drive, (size,), index)
            omega = np.exp(ln_speed)
            given, _ = torque_available(own, part.supply, shaft_speed=omega)
            taken = rotor_torque(part, density=density[index], airspeed=airspeed[index],
                                 shaft_speed=omega)
            return np.asarray(given - taken)

        # a rotor far beyond its table drives ever harder on the straight continuation: start inside
        edge = _slowest(machine, airspeed)
        low = np.log(np.maximum(edge / 2.0, SLOWEST))
        found = np.exp(bracketed_root(excess, low, np.full(size, np.log(FASTEST)))[0])
        with np.errstate(invalid="ignore"):
            takes = (found >= edge * (1.0 - 1e-9)) & (rotor_torque(
                machine, density=density, airspeed=airspeed, shaft_speed=found) > 0.0)
        left = np.flatnonzero(~takes & np.isfinite(low + density))
        if left.size:
            start = np.log(np.maximum(edge[left], SLOWEST))
            grid = start + SHARES[:, None] * (np.log(FASTEST) - start)
            signs = excess(np.tile(left, SHARES.size), grid.ravel()).reshape(grid.shape) > 0.0
            falls = signs[:-1] & ~signs[1:]
            last = falls.shape[0] - 1 - np.argmax(falls[::-1], axis=0)
            some = falls.any(axis=0)
            pick, place, column = left[some], last[some], np.flatnonzero(some)
            found[left] = np.where(signs[0], np.nan, found[left])
            found[pick] = np.exp(bracketed_root(lambda sub, x: excess(pick[sub], x),
                                                grid[place, column], grid[place + 1, column])[0])
        # a drive that nothing holds below the fastest looked at is left to its speed cap
        endless = excess(np.arange(size), np.full(size, np.log(FASTEST))) > 0.0
        return np.where(endless, np.inf, found)

    omega, limit = balanced_speed(machine.drive, machine.supply, root)
    return omega, np.broadcast_to(limit, (size,)), np.isfinite(omega)


def _slowest(machine: OpenRotor, airspeed: Array) -> Array:
    """Shaft speed at the largest advance ratio that the table knows [rad/s]."""
    return np.asarray(2.0 * np.pi * airspeed / (machine.table.highest_advance_ratio
                                                * np.asarray(machine.diameter)))


def _record(machine: OpenRotor, air: Air, airspeed: Array, omega: Array, limit: IntArray,
            converged: BoolArray) -> OperatingPoint:
    size = airspeed.size
    density = np.broadcast_to(air.density, (size,))
    diameter = np.broadcast_to(machine.diameter, (size,)).astype(float)
    disc = np.pi / 4.0 * diameter**2
    turns = omega / (2.0 * np.pi)
    advance = _advance_ratio(machine, airspeed, omega)
    ct = machine.table.thrust(advance_ratio=advance, shaft_speed=omega)
    torque = rotor_torque(machine, density=density, airspeed=airspeed, shaft_speed=omega)
    thrust = ct * density * turns**2 * diameter**4
    power = torque * omega
    electrical = electrical_state(machine.drive, machine.supply, shaft_speed=omega, torque=torque,
                                  limit=limit)
    ratio = np.broadcast_to(np.asarray(machine.exit_area_ratio, dtype=float), (size,))
    shrouded = ratio > 0.0
    area = np.where(shrouded, ratio * disc, disc)
    induced = disc_induced_speed_from_thrust(thrust=thrust, area=disc, density=density,
                                             airspeed=airspeed)
    # a ducted jet fills the exit: T = rho A Ve (Ve - V)
    filled = jet_speed_from_thrust(thrust=thrust, area=area, density=density, airspeed=airspeed)
    jet_speed = np.where(shrouded, filled, airspeed + 2.0 * induced)
    mass_flow = density * area * np.where(shrouded, filled, airspeed + induced)
    positive = np.maximum(power, 0.0)
    bound = np.where(shrouded,
                     ducted_thrust(power=positive, area=area, density=density, airspeed=airspeed),
                     disc_thrust(power=positive, area=area, density=density, airspeed=airspeed))
    tip_mach = np.hypot(0.5 * omega * diameter, airspeed) / air.speed_of_sound
    bits = _flags(machine, air, airspeed=airspeed, advance=advance, omega=omega, limit=limit,
                  converged=converged, thrust=thrust, electrical=electrical, tip_mach=tip_mach)
    units = np.asarray(machine.supply.units)
    void = (bits & int(INVALID)) != 0
    jet_power = thrust * np.where(shrouded, 0.5 * (jet_speed - airspeed), induced)
    none = np.full(size, np.nan)
    values: dict[str, Any] = {
        "net_thrust": thrust, "gross_thrust": mass_flow * jet_speed,
        "ram_drag": mass_flow * airspeed, "ideal_thrust": bound, "mass_flow": mass_flow,
        "jet_speed": jet_speed, "jet_area": mass_flow / (density * jet_speed),
        "shaft_speed": omega, "shaft_power": power, "torque": torque, "tip_mach": tip_mach,
        "flow_coefficient": advance, "head_coefficient": ct,
        "power_coefficient": torque * 2.0 * np.pi / (density * turns**2 * diameter**5),
        "throat_mach": none, "eye_mach": none, "duct_mach": none, "face_pressure": none,
        "stage_pressure": none, "nozzle_pressure": none, "pressure_ratio": none,
        "exit_temperature": none, "motor_current": electrical.motor_current,
        "motor_voltage": electrical.motor_voltage, "duty": electrical.duty,
        "terminal_voltage": electrical.terminal_voltage, "additive_drag": np.zeros(size),
        "installed_thrust": units * thrust, "external_drag": np.zeros(size),
        "electrical_power": units * electrical.terminal_power,
        "current": units * electrical.supply_current,
    }
    out = {name: np.where(void, np.nan, value) for name, value in values.items()}
    ledger = {name: np.where(void, np.nan, value) for name, value in _books(
        power, thrust, airspeed=airspeed, jet_power=jet_power, electrical=electrical).items()}
    return OperatingPoint(airspeed=airspeed, ledger=Ledger(**ledger), flag_bits=bits,
                          drive_limit_code=np.where(void, int(DriveLimit.NONE), limit), **out)


def _books(power: Array, thrust: Array, airspeed: Array, jet_power: Array,
           electrical: ElectricalState) -> dict[str, Array]:
    """P = T V + T w + rest; the rest (profile drag, swirl, uneven loading) is the rotor's loss.

    A rotor that brakes harder than momentum theory knows leaves a broken-up wake, no jet: there
    all that is lost is the rotor's.
    """
    jet_power = np.where(np.isfinite(jet_power), jet_power, 0.0)
    zero = np.zeros(power.shape)
    ledger = dict.fromkeys((item.name for item in fields(Ledger)), zero)
    ledger |= {"shaft_power": power, "thrust_power": thrust * airspeed, "jet_power": jet_power,
               "rotor_loss": power - thrust * airspeed - jet_power}
    return ledger | electrical_ledger(electrical, power)


def _flags(machine: OpenRotor, air: Air, airspeed: Array, advance: Array, omega: Array,
           limit: IntArray, converged: BoolArray, thrust: Array, electrical: ElectricalState,
           tip_mach: Array) -> IntArray:
    unknown_air = ~np.isfinite(np.asarray(air.pressure) + air.temperature + airspeed)
    starved = np.zeros(airspeed.shape, dtype=bool)
    if isinstance(machine.drive.motor, EfficiencyMotor):
        _, _, reachable = allowed_power(machine.drive, machine.supply)
        starved = ~reachable & ((limit == DriveLimit.POWER) | (limit == DriveLimit.SUPPLY_CURRENT))
    standstill, _ = torque_available(machine.drive, machine.supply,
                                     shaft_speed=np.full(airspeed.shape, SLOWEST))
    stuck = ~converged & ~unknown_air & (standstill <= 0.0) & (airspeed <= 0.0)
    beyond = converged & (advance > machine.table.highest_advance_ratio * (1.0 + 1e-9))
    # in a wind, without a balance on the table: slower than its end, or standing
    beyond = beyond | (~converged & ~unknown_air & (airspeed > 0.0))
    converged = converged | beyond
    causes = {
        Flag.REGENERATING: converged & (limit == DriveLimit.REGENERATING),
        Flag.OVERCHARGING: converged & overcharging(machine.supply, electrical),
        Flag.WINDMILLING: converged & (thrust < 0.0),
        Flag.FREEWHEELING: converged & (limit == DriveLimit.FREEWHEELING),
        Flag.SPEED_OUTSIDE_TABLE: converged & machine.table.outside_speed(omega),
        Flag.TIP_MACH_HIGH: converged & (tip_mach > TIP_MACH_LIMIT),
        Flag.OUTSIDE_MAP: beyond,
        Flag.PACK_CANNOT_DELIVER: converged & ~beyond & (~electrical.deliverable | starved),
        Flag.CANNOT_TURN: stuck, Flag.AIR_UNKNOWN: unknown_air,
        Flag.NOT_CONVERGED: ~converged & ~unknown_air & ~stuck,
    }
    bits: IntArray = np.zeros(airspeed.shape, dtype=np.int64)
    for flag, raised in causes.items():
        bits = bits | np.where(raised, int(flag), 0)
    return bits
