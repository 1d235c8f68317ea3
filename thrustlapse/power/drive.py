"""The drive envelope: shaft speed and active limit from a torque law and the electrical side.

Several limits hold at once: full voltage, a power cap, current caps, a speed cap. For each limit
the torque available falls with shaft speed while the load rises, so the shaft speed is the least
of the speeds each limit alone would give.

One law holds for a shaft that the air drives too. Caps lower the current, never below zero. At full
voltage the motor's straight line goes on: from (V - I0 R)/kt to V/kt it draws less than its
no-load current, beyond V/kt the current reverses into the pack. At a duty below 1 it reverses so
only with synchronous rectification; without, no current flows until the back voltage meets the
bus. A drive cut is duty 0; shorted windings are duty 0 with synchronous rectification.

Electrical side of one of ``n`` equal units on a pack of open-circuit voltage ``V`` and resistance
``Rp``, at duty ``d`` and controller efficiency ``e`` (which acts as extra supply current):

    motor voltage = d V - I [Rm + R_motor_leads + (d^2 / e) (R_controller_leads + n Rp)]

with e in place of 1/e where the current is reversed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import reduce
from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray, Values, some
from thrustlapse.elementwise import QUADRATIC_STOP
from thrustlapse.power.motor import (
    ConstantsMotor,
    EfficiencyMotor,
    greatest_input,
    input_power,
    motor_current,
    no_load_current,
    shaft_power,
)
from thrustlapse.power.pack import Supply, terminal_current

CAP_MET = 1e-6
"""Relative excess over a cap that is round-off of the speed at which two limits meet."""


class DriveLimit(IntEnum):
    """Which limit of the drive gives the shaft speed."""

    NONE = 0
    FULL_VOLTAGE = 1
    POWER = 2
    MOTOR_CURRENT = 3
    SUPPLY_CURRENT = 4
    SPEED = 5
    FREEWHEELING = 6
    MOTOR_RATING = 7
    REGENERATING = 8

    @property
    def words(self) -> str:
        """Name as tables and results print it."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True, kw_only=True)
class Drive:
    """Motor, controller and wiring of one unit, with its limits.

    Parameters
    ----------
    motor : ConstantsMotor or EfficiencyMotor
    duty : array_like
        Largest share of the supply voltage the controller passes on [-], at most 1; 0 is a drive
        cut off
    power_limit : array_like
        Largest electrical power of one unit, at the pack terminals [W]
    motor_current_limit : array_like
        Largest motor (phase) current [A]; needs a :class:`ConstantsMotor`
    supply_current_limit : array_like
        Largest current one unit draws from the pack [A]
    speed_limit : array_like
        Largest shaft speed [rad/s]
    motor_lead_resistance, controller_lead_resistance : array_like
        Leads between controller and motor, and between pack and controller [ohm]
    controller_efficiency : array_like
        Output over input power of the controller [-], in reverse too
    synchronous_rectification : bool
        Whether the current may reverse at a duty below 1 before the back voltage meets the bus
    """

    motor: ConstantsMotor | EfficiencyMotor
    duty: Values = 1.0
    power_limit: Values = np.inf
    motor_current_limit: Values = np.inf
    supply_current_limit: Values = np.inf
    speed_limit: Values = np.inf
    motor_lead_resistance: Values = 0.0
    controller_lead_resistance: Values = 0.0
    controller_efficiency: Values = 1.0
    synchronous_rectification: bool = False


@dataclass(frozen=True, kw_only=True)
class ElectricalState:
    """Electrical side of one unit: volts, amps and where its watts go.

    ``terminal_power`` is at the pack terminals; ``pack_heat`` is this unit's share of the heat
    inside the pack and comes on top. ``unsplit_heat`` is the loss of motor and controller
    together where only their joint efficiency is known. ``deliverable``: a current brings the
    power, and within the caps. At full voltage a pack that sags below half its voltage may draw
    beyond one; a lower duty would draw less and drive harder.
    """

    motor_current: Array
    motor_voltage: Array
    duty: Array
    supply_current: Array
    terminal_voltage: Array
    terminal_power: Array
    pack_heat: Array
    lead_heat: Array
    controller_heat: Array
    winding_heat: Array
    no_load_heat: Array
    unsplit_heat: Array
    deliverable: BoolArray


def cut(drive: Drive) -> Drive:
    """The drive with its power cut: no current until the back voltage meets the bus."""
    return replace(drive, duty=0.0, synchronous_rectification=False, power_limit=np.inf,
                   motor_current_limit=np.inf, supply_current_limit=np.inf, speed_limit=np.inf)


def overcharging(supply: Supply, state: ElectricalState) -> BoolArray:
    """Where current from the motor lifts the bus above the voltage of the full pack."""
    with np.errstate(invalid="ignore"):
        return np.asarray((state.supply_current < 0.0)
                          & (state.terminal_voltage > np.asarray(supply.full_voltage)))


def _is_cut(drive: Drive) -> bool:
    return np.ndim(drive.duty) == 0 and float(drive.duty) == 0.0


def _absent(limit: Values) -> bool:
    return np.ndim(limit) == 0 and float(limit) == np.inf


def circuit_resistance(drive: Drive, supply: Supply) -> Array:
    """Resistance the motor's back voltage sees at full duty, pack included [ohm]."""
    assert isinstance(drive.motor, ConstantsMotor)
    upstream = drive.controller_lead_resistance + np.asarray(supply.units) * supply.resistance
    return np.asarray(drive.motor.resistance + np.asarray(drive.motor_lead_resistance)
                      + np.square(drive.duty) / drive.controller_efficiency * upstream)


def _reverse_current(drive: Drive, supply: Supply, *, back: Array) -> Array:
    """Current [A], at most 0, that a back voltage [V] drives into the supply."""
    assert isinstance(drive.motor, ConstantsMotor)
    duty = np.asarray(drive.duty) if drive.synchronous_rectification else np.ones(())
    upstream = drive.controller_lead_resistance + np.asarray(supply.units) * supply.resistance
    resistance = (drive.motor.resistance + np.asarray(drive.motor_lead_resistance)
                  + np.square(duty) * drive.controller_efficiency * upstream)
    return np.asarray(np.minimum(duty * supply.voltage - back, 0.0) / resistance)


def allowed_power(drive: Drive, supply: Supply) -> tuple[Array, IntArray, BoolArray]:
    """Electrical power at the pack terminals that the caps allow one unit [W].

    Returns
    -------
    power, limit, reachable
        The least of power cap, supply-current cap and the power at which pack and controller's
        leads pass most on, at half the voltage; which cap it is; and False where the pack is what
        holds it down.
    """
    voltage = np.asarray(supply.voltage)
    shared = np.asarray(supply.units) * supply.resistance
    whole = shared + drive.controller_lead_resistance
    with np.errstate(divide="ignore", invalid="ignore"):
        matched = 0.5 * voltage / whole
        most = np.where(whole > 0.0, matched * (voltage - matched * shared), np.inf)
    cap = np.asarray(drive.power_limit, dtype=float)
    power, limit = cap, np.full(np.shape(cap), DriveLimit.POWER, dtype=np.int64)
    if not _absent(drive.supply_current_limit):
        amps = np.asarray(drive.supply_current_limit)
        with np.errstate(invalid="ignore"):
            by_current = np.where(amps * shared < 0.5 * voltage, amps * (voltage - amps * shared),
                                  np.inf)
        limit = np.where(by_current < power, DriveLimit.SUPPLY_CURRENT, DriveLimit.POWER)
        power = np.minimum(power, by_current)
    # a cap that is not known (NaN) stays unknown: it is not the pack that holds it down
    return np.minimum(power, most), limit, np.asarray(~(power > most))


def delivery_margin(drive: Drive, supply: Supply, *, shaft_speed: Values) -> Array:
    """How far pack and leads are from failing what holds a driven shaft [-]; negative: they fail.

    Of a motor known by its efficiency, the most they pass on over its cap, less one, where the cap
    holds it. At full voltage the least cap over what is drawn, less one, where pack and leads take
    more than half the voltage; elsewhere one, for then a cap would hold.
    """
    omega = np.asarray(shaft_speed, dtype=float)
    _, limit = torque_available(drive, supply, shaft_speed=omega)
    voltage = np.asarray(supply.voltage)
    shared = np.asarray(supply.units) * supply.resistance
    amps = np.asarray(drive.supply_current_limit, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        if isinstance(drive.motor, EfficiencyMotor):
            most, _, _ = allowed_power(replace(drive, power_limit=np.inf,
                                               supply_current_limit=np.inf), supply)
            asked = np.fmin(drive.power_limit, np.where(
                amps * shared < 0.5 * voltage, amps * (voltage - amps * shared), np.inf))
            held = (omega < drive.speed_limit) & (limit != DriveLimit.MOTOR_RATING)
            return np.where(held, most / asked - 1.0, 1.0)
        drawn = drive.duty * (drive.duty * voltage - drive.motor.torque_constant * omega) / (
            circuit_resistance(drive, supply) * drive.controller_efficiency)
        sags = (limit == DriveLimit.FULL_VOLTAGE) & (
            drawn * (shared + drive.controller_lead_resistance) > 0.5 * voltage)
        spare = np.minimum(amps / drawn, drive.power_limit / (drawn * (voltage - drawn * shared)))
        return np.where(sags, spare - 1.0, 1.0)


def controller_input(drive: Drive, supply: Supply, *, terminal_power: Values) -> Array:
    """Power that reaches one controller [W] when it draws a power at the pack terminals [W]."""
    shared = np.asarray(supply.units) * supply.resistance
    amps = terminal_current(voltage=supply.voltage, resistance=shared, power=terminal_power)
    return np.asarray(terminal_power - amps * amps * drive.controller_lead_resistance)


class Held(NamedTuple):
    """What no load changes of the speeds at which a drive with a :class:`ConstantsMotor` is held.

    At full voltage load w^2 + ``linear`` w = ``stall``, at the motor's rated current load w^2 +
    ``slope`` w = ``rated``. ``caps`` are which cap on the power it is, the power it feeds the motor
    with [W], and where that can be reached. What does not apply is None.
    """

    linear: Array
    stall: Array
    slope: Array
    rated: Array | None
    caps: tuple[IntArray, Array, BoolArray] | None


def held_speeds(drive: Drive, supply: Supply) -> Held | None:
    """Worked out once, for any number of loads; None of a motor known by its efficiency."""
    if isinstance(drive.motor, EfficiencyMotor):
        return None
    motor = drive.motor
    kt = np.asarray(motor.torque_constant)
    drag, slope = kt * motor.no_load_current, np.asarray(kt * motor.no_load_current_slope)
    circuit = circuit_resistance(drive, supply)
    rated = caps = None
    if not _absent(drive.motor_current_limit):
        rated = np.asarray(kt * drive.motor_current_limit - drag)
    if not (_absent(drive.power_limit) and _absent(drive.supply_current_limit)):
        power, which, reachable = allowed_power(drive, supply)
        fed = drive.controller_efficiency * controller_input(drive, supply, terminal_power=power)
        caps = which, np.asarray(fed), reachable
    return Held(linear=np.asarray(kt * kt / circuit + slope), slope=slope, rated=rated, caps=caps,
                stall=np.asarray(kt * drive.duty * supply.voltage / circuit - drag))


def shaft_speed(drive: Drive, supply: Supply, *, torque_coefficient: Values,
                held: Held | None = None) -> tuple[Array, IntArray]:
    """Shaft speed against a load torque proportional to the square of shaft speed.

    Parameters
    ----------
    torque_coefficient : array_like
        Load torque over shaft speed squared [N m s^2/rad^2]. A negative one, of a load that
        drives, is a guess for a solver only: the straight line of full voltage, carried on. Such a
        balance is found at a held mass flow, with :func:`torque_available`
    held : Held, optional
        As :func:`held_speeds` gives it, where it is known already

    Returns
    -------
    shaft_speed, limit
        Shaft speed [rad/s], NaN where the drive cannot turn the load, infinite where nothing
        holds it; and the active :class:`DriveLimit` as an integer.
    """
    load = np.asarray(torque_coefficient, dtype=float)
    (speed, which), *others = _speeds(drive, supply, load=load, held=held)
    limit: IntArray = np.full(np.shape(speed), int(which), dtype=np.int64)
    for other, which in others:
        speed, limit = _least(speed, limit, other, which)
    return speed, limit


def unlabelled_speed(drive: Drive, supply: Supply, *, torque_coefficient: Values,
                     held: Held | None = None) -> tuple[Array, IntArray]:
    """:func:`shaft_speed` for who does not ask which limit holds: that one is said to be none."""
    load = np.asarray(torque_coefficient, dtype=float)
    speeds = [speed for speed, _ in _speeds(drive, supply, load, held)]
    return reduce(np.minimum, speeds), np.zeros((), dtype=np.int64)


def _speeds(drive: Drive, supply: Supply, load: Array,
            held: Held | None) -> list[tuple[Array, IntArray | DriveLimit]]:
    """Shaft speed each limit alone would give, and which it is; the first is a single one."""
    speeds: list[tuple[Array, IntArray | DriveLimit]] = []
    efficiency = isinstance(drive.motor, EfficiencyMotor)
    if efficiency or not _absent(drive.speed_limit):
        speeds.append((np.asarray(drive.speed_limit, dtype=float), DriveLimit.SPEED))
    if efficiency:
        return [*speeds, _efficiency_speed(drive, supply, load)]
    known = held_speeds(drive, supply) if held is None else held
    assert known is not None
    with np.errstate(invalid="ignore", divide="ignore"):
        speeds.append((_quadratic_speed(load=load, linear=known.linear, constant=known.stall),
                       DriveLimit.FULL_VOLTAGE))
        if known.rated is not None:
            speeds.append((_quadratic_speed(load=load, linear=known.slope, constant=known.rated),
                           DriveLimit.MOTOR_CURRENT))
        if known.caps is not None:
            which, fed, reachable = known.caps
            by_power = _power_limited_speed(drive, motor_power=fed, load=load)
            speeds.append((by_power if reachable.all() else np.where(reachable, by_power, np.inf),
                           which))
    return speeds


def _efficiency_speed(drive: Drive, supply: Supply,
                      load: Array) -> tuple[Array, IntArray | DriveLimit]:
    """Shaft speed at which a motor known by its efficiency meets a load, and what limits it."""
    assert isinstance(drive.motor, EfficiencyMotor)
    if _is_cut(drive):  # nothing turns a load that takes torque
        return np.where(load > 0.0, np.nan, np.inf), DriveLimit.FREEWHEELING
    power, which, fed = _fed(drive, supply)
    shaft = shaft_power(drive.motor, input_power=fed)
    with np.errstate(divide="ignore", invalid="ignore"):
        speeds = np.where((load > 0.0) & ~np.isposinf(power), np.cbrt(shaft / load), np.inf)
    return np.where(np.isnan(load), np.nan, speeds), which


def _fed(drive: Drive, supply: Supply) -> tuple[Array, IntArray, Array]:
    """Power at the terminals and at an efficiency motor [W] that the caps allow; which holds."""
    assert isinstance(drive.motor, EfficiencyMotor)
    power, which, _ = allowed_power(drive, supply)
    fed = controller_input(drive, supply, terminal_power=power)
    rated = fed > greatest_input(drive.motor)
    return power, np.where(rated, DriveLimit.MOTOR_RATING, which), fed


def torque_available(drive: Drive, supply: Supply, *,
                     shaft_speed: Values) -> tuple[Array, IntArray]:
    """Largest shaft torque within every limit but the speed cap; falls with shaft speed.

    Parameters
    ----------
    shaft_speed : array_like
        Shaft speed, above zero [rad/s]

    Returns
    -------
    torque, limit
        Torque at the shaft [N m], below zero where the motor only drags or brakes; and the
        limit that holds it down: ``FREEWHEELING`` without current, ``REGENERATING`` where it
        flows back.
    """
    omega = np.asarray(shaft_speed, dtype=float)
    if isinstance(drive.motor, EfficiencyMotor):
        if _is_cut(drive):  # nothing is known of its drag
            still = np.zeros(np.broadcast_shapes(omega.shape, np.shape(supply.voltage)))
            return still, np.full(still.shape, DriveLimit.FREEWHEELING, dtype=np.int64)
        _, which, fed = _fed(drive, supply)
        with np.errstate(divide="ignore"):
            torque = shaft_power_over(omega, drive.motor, fed)
        return torque, np.broadcast_to(which, torque.shape)
    motor = drive.motor
    kt, resistance = np.asarray(motor.torque_constant), circuit_resistance(drive, supply)
    idle = no_load_current(motor, shaft_speed=omega)
    back = kt * omega
    amps = np.maximum(drive.duty * np.asarray(supply.voltage) - back, 0.0) / resistance
    limit: IntArray = np.full(np.shape(amps), DriveLimit.FULL_VOLTAGE, dtype=np.int64)
    if not _absent(drive.motor_current_limit):
        amps, limit = _least(amps, limit, np.asarray(drive.motor_current_limit),
                             DriveLimit.MOTOR_CURRENT)
    if not (_absent(drive.power_limit) and _absent(drive.supply_current_limit)):
        power, which, reachable = allowed_power(drive, supply)
        fed = drive.controller_efficiency * controller_input(drive, supply, terminal_power=power)
        series = motor.resistance + np.asarray(drive.motor_lead_resistance)
        by_power = 2.0 * fed / (back + np.sqrt(back * back + 4.0 * series * fed))
        amps, limit = _least(amps, limit, np.where(reachable, by_power, np.inf), which)
    reverse = _reverse_current(drive, supply, back=back)
    limit = np.where(amps <= 0.0, np.where(reverse < 0.0, DriveLimit.REGENERATING,
                                           DriveLimit.FREEWHEELING), limit)
    return np.asarray(kt * (amps + reverse - idle)), limit


def limit_at(drive: Drive, supply: Supply, *, shaft_speed: Values) -> IntArray:
    """Limit that holds at a shaft speed [rad/s] at which the load is balanced."""
    speed, cap = np.asarray(shaft_speed), np.asarray(drive.speed_limit, dtype=float)
    _, limit = torque_available(drive, supply, shaft_speed=speed)
    if not np.any(speed >= cap):
        return limit
    _, loose = torque_available(cut(drive), supply, shaft_speed=speed)
    return np.where(speed > cap, loose, np.where(speed == cap, DriveLimit.SPEED, limit))


def balanced_speed(drive: Drive, supply: Supply,
                   root: Callable[[Drive], Array]) -> tuple[Array, IntArray]:
    """Shaft speed [rad/s] and limit where a load balances the drive, its speed cap included.

    ``root(drive)`` gives the shaft speed at which the load takes what :func:`torque_available`
    gives of a drive. A speed cap holds from below; overrun by the air, it is the drive cut.
    """
    speed = root(drive)
    cap = np.asarray(drive.speed_limit, dtype=float)
    beyond = speed > cap
    if np.any(beyond):
        free = root(cut(drive))
        speed = np.where(beyond, np.where(free > cap, free, cap), speed)
    return speed, limit_at(drive, supply, shaft_speed=speed)


def shaft_power_over(shaft_speed: Array, motor: EfficiencyMotor, fed: Array) -> Array:
    """Shaft torque [N m] of an efficiency motor fed with a power [W] at a shaft speed [rad/s]."""
    return np.asarray(shaft_power(motor, input_power=fed) / shaft_speed)


def motor_heat(drive: Drive, *, shaft_speed: Values, torque: Values) -> Array:
    """Heat of motor and, for a joint efficiency, controller [W]: what the air can carry away."""
    omega, load = np.asarray(shaft_speed), np.asarray(torque)
    if isinstance(drive.motor, EfficiencyMotor):
        power = omega * load
        return np.asarray(input_power(drive.motor, shaft_power=np.maximum(power, 0.0)) - power)
    current = motor_current(drive.motor, torque=load, shaft_speed=omega)
    idle = no_load_current(drive.motor, shaft_speed=omega)
    return np.asarray(current * current * drive.motor.resistance
                      + drive.motor.torque_constant * omega * idle)


def electrical_state(drive: Drive, supply: Supply, *, shaft_speed: Values, torque: Values,
                     limit: IntArray) -> ElectricalState:
    """Electrical side of one unit that gives a shaft torque [N m] at a shaft speed [rad/s]."""
    omega, shaft_torque = np.asarray(shaft_speed), np.asarray(torque)
    shared = np.asarray(supply.units) * supply.resistance
    upstream = shared + drive.controller_lead_resistance
    voltage = np.asarray(supply.voltage)
    power = omega * shaft_torque
    zero = np.zeros(np.broadcast_shapes(power.shape, np.shape(upstream), np.shape(voltage)))
    if isinstance(drive.motor, EfficiencyMotor):
        entry = input_power(drive.motor, shaft_power=np.maximum(power, 0.0))
        amps = terminal_current(voltage=voltage, resistance=upstream, power=entry)
        split = {"motor_current": zero + np.nan, "motor_voltage": zero + np.nan,
                 "duty": zero + np.nan, "controller_heat": zero, "winding_heat": zero,
                 "no_load_heat": zero, "unsplit_heat": zero + entry - power}
        motor_leads = zero
    else:
        motor = drive.motor
        free = np.asarray(limit) == DriveLimit.FREEWHEELING
        current = np.where(free, 0.0, motor_current(motor, torque=shaft_torque,
                                                    shaft_speed=omega))
        back = motor.torque_constant * omega
        motor_leads = current**2 * drive.motor_lead_resistance
        winding = current**2 * motor.resistance
        fed = back * current + winding + motor_leads
        entry = np.where(fed < 0.0, fed * drive.controller_efficiency,
                         fed / np.asarray(drive.controller_efficiency))
        at_full_duty = np.asarray(limit) == DriveLimit.FULL_VOLTAGE
        amps = np.where(at_full_duty,
                        drive.duty * current / np.asarray(drive.controller_efficiency),
                        terminal_current(voltage=voltage, resistance=upstream, power=entry))
        motor_volts = back + current * (motor.resistance + np.asarray(drive.motor_lead_resistance))
        split = {"motor_current": zero + current, "motor_voltage": zero + motor_volts,
                 "duty": zero + np.where(free, 0.0, motor_volts / (voltage - amps * upstream)),
                 "controller_heat": zero + entry - fed, "winding_heat": zero + winding,
                 "no_load_heat": zero + back * no_load_current(motor, shaft_speed=omega),
                 "unsplit_heat": zero}
    terminal = voltage - amps * shared
    with np.errstate(invalid="ignore"):
        met = np.asarray(amps <= drive.supply_current_limit * (1.0 + CAP_MET)) & np.asarray(
            terminal * amps <= drive.power_limit * (1.0 + CAP_MET))
    return ElectricalState(
        supply_current=zero + amps, terminal_voltage=zero + terminal,
        terminal_power=zero + terminal * amps, pack_heat=zero + shared * amps * amps,
        lead_heat=zero + motor_leads + drive.controller_lead_resistance * amps * amps,
        deliverable=np.isfinite(zero + amps) & met, **split)


def _least(speed: Array, limit: IntArray, other: Array,
           which: IntArray | DriveLimit) -> tuple[Array, IntArray]:
    lower = (other < speed) | np.isnan(other)
    chosen = int(which) if isinstance(which, DriveLimit) else which
    return np.where(lower, other, speed), np.where(lower, chosen, limit)


def _quadratic_speed(*, load: Array, linear: Values, constant: Values) -> Array:
    """Speed at which load w^2 + linear w = constant, finite as the load vanishes.

    A load that drives too hard for a root leaves the limit without hold: infinite.
    """
    under = np.square(linear) + load * np.asarray(4.0 * constant)
    root = np.asarray(2.0 * constant) / (linear + np.sqrt(under))
    if some(under < 0.0):
        root = np.where((under < 0.0) & (load < 0.0), np.inf, root)
    stalled = np.asarray(constant < 0.0)
    return np.where(stalled, np.nan, root) if some(stalled) else root


def _power_limited_speed(drive: Drive, *, motor_power: Array, load: Array) -> Array:
    """Speed at which the motor and its leads take a power [W] against a load.

    The power wanted is a polynomial in speed with no negative coefficient: rising and convex, so
    Newton's steps fall to the root from anywhere above it, and one step from below leads above.
    The start takes off the losses that the loss-free speed would have. NaN where the power does not
    even carry the no-load current through the windings: then there is no such speed.
    """
    motor = drive.motor
    assert isinstance(motor, ConstantsMotor)
    kt = motor.torque_constant
    idle, slope, series = (np.asarray(value) for value in (
        motor.no_load_current, motor.no_load_current_slope / kt,
        motor.resistance + drive.motor_lead_resistance))
    driven = load <= 0.0
    # the unknown is the back voltage; current = (bend back + slope) back + idle
    bend = (np.where(driven, np.nan, load) if some(driven) else load) / (kt * kt * kt)
    back = np.cbrt(motor_power / bend)
    amps = (bend * back + slope) * back + idle
    share = motor_power / (amps * (series * amps + back))
    back = back * ((1.0 + 2.0 * share) / (2.0 + share))  # about the cube root of what is left
    for count in range(60):
        rising = bend * back
        amps = (rising + slope) * back + idle
        drop = series * amps
        volts = drop + back
        step = (amps * volts - motor_power) / ((rising + rising + slope) * (drop + volts) + amps)
        back = back - step
        # from a start that is a hundredth off, two steps never are enough
        if count > 1 and not some(np.abs(step) > QUADRATIC_STOP * np.abs(back)):
            break
    speed = back / kt
    enough = np.asarray(motor_power > np.square(idle) * series)
    if not enough.all():
        speed = np.where(enough, speed, np.nan)
    return np.where(driven, np.inf, speed) if some(driven) else speed
