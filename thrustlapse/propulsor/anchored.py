"""A ducted unit that meets readings of thrust and electrical power at rest.

With jet area A at rest, T = mdot V and mdot = rho A V: thrust and exit fix jet speed, flow and air
power T V / 2, and the watts the efficiency of the whole. That is met here with the package's own
forward model. Where the whole is better or worse than what is typical of its parts, no reading at
rest tells which part: the odds of the drive's and of the stage's efficiency move by one factor,
and typical losses of the way fall by it in a machine that is better. They do not grow in a poorer
one: a bend loses what a bend loses, while a motor or a rotor may be poor without end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, BoolArray, Values, batch_shape, in_shape, take
from thrustlapse.power.motor import ConstantsMotor, constant_efficiency_motor
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.map_shape import NODES, ShapedMap, departed
from thrustlapse.rotor.stage_map import NoMap, StageMap
from thrustlapse.rotor.typical import TYPICAL_BASIS

MOST_STEPS = 60
"""Steps of the root; thrust goes nearly as shaft power to 2/3, so that a few suffice."""

STEP, LEAST_SLOPE, MOST_ODDS = 2.5, 0.02, 8.0
"""First step over the miss, both of logarithms [-]; least growth of thrust that a step reckons;
logarithm of the odds beyond which no part is that good (judgement)."""

DRIVES, BEST_STAGE = (0.3, 0.94), 0.90
"""Efficiencies that small motors and controllers together lie between, and that no stage of a
typical map passes [-] (judgement)."""

MET = 1e-10
"""Relative distance from the reading at which it counts as met."""

ROUNDS, BENT, BENT_ENOUGH = 40, 1e-6, 1e-3
"""Rounds in which further readings bend the map; relative miss at which they stop, and at which
the readings count as met."""

MOST_BENT = 1.5
"""Logarithm by which the form of head and efficiency may be bent in all; beyond it readings
contradict."""

MOST_HEAD = float(np.log(2.0))
"""Logarithm by which a shaft speed may move the level of the head (judgement: heads of one kind
differ by less; a speed that is off by the blades or the pole pairs moves it more)."""

GREATEST_HEAD = 1.0
"""Head over the square of the tip speed that no rotor passes without swirl before it, also at no
flow [-] (Euler)."""

TO_SPARE = 2.0
"""Voltage there is over the voltage needed where a cap holds the watts [-]: it then holds them at
every airspeed."""


def jet_power(*, thrust: Values, exit_area: Values, density: Values) -> Array:
    """Least power of a jet at rest [W] of a thrust [N] from an exit area [m^2] at a density."""
    speed = np.sqrt(np.asarray(thrust) / (np.asarray(density) * np.asarray(exit_area)))
    return np.asarray(0.5 * np.asarray(thrust) * speed)


@dataclass(frozen=True, kw_only=True)
class KnownBy:
    """Readings of one unit at rest.

    Parameters
    ----------
    thrust, electrical_power : array_like
        Thrust [N] and electrical power [W]
    drive : array_like
        Typical efficiency of motor and controller, from which their odds are counted [-]
    exit_area : array_like
        Exit the jet left by [m^2]
    voltage : array_like, optional
        Voltage at that thrust [V], where ``full`` may be true
    full : array of bool
        Whether the power was that of full voltage, and goes with the load, not a regulated cap's
    shaft_speed : array_like, optional
        Shaft speed at that thrust [rad/s]: sets the level of the head
    suction : array_like, optional
        Pressure below the ambient behind a shut inlet [Pa], at the same cap or voltage
    second_exit_area, second_thrust : array_like, optional
        Another exit [m^2] and the thrust by it [N], at the same cap or voltage
    typical_losses : bool
        Whether lip, inlet and duct are typical ones too, whose losses move with the rest
    odds, efficiency : array_like
        What meeting them made of a unit: logarithm of the factor on the odds, 0 where it does not
        meet them; efficiency of motor and controller, NaN there [-]
    power : array_like
        Logarithm of the factor on its map's power
    """

    thrust: Values
    electrical_power: Values
    drive: Values
    exit_area: Values
    voltage: Values | None = None
    full: Values = False
    shaft_speed: Values | None = None
    suction: Values | None = None
    second_exit_area: Values | None = None
    second_thrust: Values | None = None
    typical_losses: bool = False
    odds: Values = 0.0
    efficiency: Values = np.nan
    power: Values = 0.0


@dataclass(frozen=True, kw_only=True)
class _Bend:
    """What the readings beyond thrust and power make of the map; zero and one leave it."""

    head: Values = 1.0
    shut: Values = 0.0
    tilt: Values = 0.0
    middle: Values = 0.5

    def of(self, unit: Ducted) -> Ducted:
        """The unit with head and power times ``head``, head at no flow times exp ``shut``, power
        tilted about ``middle``, a share of the highest flow, by ``tilt`` over the whole flow."""
        shape = [np.asarray(self.tilt) * (place - np.asarray(self.middle)) for place in NODES]
        stage = departed(unit.rotor.stage, head=self.head, power=self.head,
                         head_shape=(self.shut, 0.0, 0.0, 0.0), power_shape=tuple(shape))
        return replace(unit, rotor=replace(unit.rotor, stage=stage))


def anchored(unit: Ducted, *, air: Air, known: KnownBy,
             start: Values = 0.0) -> tuple[Ducted, KnownBy]:
    """Scale drive and map of a unit until it meets its readings at rest.

    Parameters
    ----------
    unit : Ducted
        Its motor and power cap are replaced; it keeps its nozzle, which may be another than the
        reading's
    air : Air
        Still air of the reading
    known : KnownBy
        Fields broadcast against the unit's
    start : array_like
        Logarithm of the factor on the odds near which it may lie: it only saves time

    Returns
    -------
    tuple
        The unit, and the readings with the drive's efficiency that it took; NaN, and so no valid
        point, for every draw that no machine meets.

    Raises
    ------
    NoMap
        Where none meets them.
    """
    low, high = DRIVES
    if not np.any((np.asarray(known.drive) > low) & (np.asarray(known.drive) < high)):
        raise NoMap(f"motor and controller together pass on {low:g} to {high:g} of their power; "
                    f"{np.asarray(known.drive)} is outside")
    own = unit.nozzle
    # the drive's efficiency holds leads and controller: they are not charged again
    unit = replace(_with_exit(as_typical(unit, known), known.exit_area), drive=replace(
        unit.drive, controller_efficiency=1.0, motor_lead_resistance=0.0,
        controller_lead_resistance=0.0))
    bend = _Bend()
    made, found, met = _at_rest(unit, air, known, start)
    if any(one is not None for one in (known.shaft_speed, known.suction, known.second_thrust)):
        for _ in range(ROUNDS):
            bend, miss = _bent(bend, made, air=air, known=found)
            made, found, met = _at_rest(bend.of(unit), air, known)
            if np.all(~np.isfinite(miss) | (miss < BENT)):
                break
        _, miss = _bent(bend, made, air=air, known=found)
        met = met & (miss < BENT_ENOUGH)
        if not np.any(met):
            raise NoMap("no machine of this kind meets all its readings: shaft speed, suction and "
                        "second exit do not fit to thrust and power (a speed may be off by the "
                        "number of blades or pole pairs); leave out the least sure")
    if not np.any(met):
        jet = 100.0 * np.mean(jet_power(thrust=known.thrust, exit_area=known.exit_area,
                                        density=air.density) / known.electrical_power)
        raise NoMap(f"no machine of this kind meets the readings: their jet holds {jet:.2g} % of "
                    "the watts, and rotor, motor and controller would lose less, or more, than "
                    "any do")
    found = replace(found, efficiency=np.where(met, found.efficiency, np.nan))
    return replace(_driven(made, air, found), nozzle=own), found


def as_typical(unit: Ducted, known: KnownBy) -> Ducted:
    """A unit before it was scaled to its readings: typical losses, and its map's own power."""
    return _scaled(unit, known, -1.0)


def _scaled(unit: Ducted, known: KnownBy, sign: float = 1.0) -> Ducted:
    """The unit with its map's power and typical losses as its readings have them; back by -1."""
    power = sign * np.asarray(known.power)
    own = unit.rotor.stage
    stage = departed(own, power=np.exp(power),
                     best=BEST_STAGE if own.band.basis == TYPICAL_BASIS else None)
    made = replace(unit, rotor=replace(unit.rotor, stage=stage))
    if not known.typical_losses:
        return made
    inlet, duct, times = unit.inlet, unit.duct, np.exp(-sign * np.maximum(known.odds, 0.0))
    sharp = np.asarray(inlet.lip_sharpness)
    return replace(
        made, duct=replace(duct, loss_coefficient=duct.loss_coefficient * times),
        inlet=replace(inlet, loss_coefficient=inlet.loss_coefficient * times,
                      lip_sharpness=sharp * times / (1.0 - sharp + sharp * times)))


def _with_exit(unit: Ducted, area: Values) -> Ducted:
    return replace(unit, nozzle=replace(unit.nozzle, exit_area=area))


def _at_rest(unit: Ducted, air: Air, known: KnownBy,
             start: Values = 0.0) -> tuple[Ducted, KnownBy, BoolArray]:
    """Unit under its power cap that has the thrust, what that made of it, where that is met."""
    watts, (low, high) = np.asarray(known.electrical_power, dtype=float), DRIVES
    unit = replace(unit, drive=replace(unit.drive, power_limit=watts))
    first = operate_ducted(_with_drive(unit, known.drive), air=air, airspeed=0.0)
    loss = _own_loss(unit.rotor.stage, first.flow_coefficient)
    with np.errstate(divide="ignore", invalid="ignore"):
        miss = np.log(first.net_thrust / np.asarray(known.thrust))
    shape = np.broadcast_shapes(miss.shape, batch_shape(known))
    miss = np.broadcast_to(miss, shape).flatten()
    loss = in_shape(loss, shape)

    def found(one: KnownBy, loss: Array, odds: Array) -> KnownBy:
        usual = np.log((np.asarray(one.drive) - low) / (high - np.asarray(one.drive)))
        return replace(one, odds=odds, power=-loss * odds,
                       efficiency=low + (high - low) / (1.0 + np.exp(-usual - odds)))

    def scaled(unit: Ducted, one: KnownBy) -> Ducted:
        return _with_drive(_scaled(unit, one), one.efficiency)

    odds, slope = np.zeros(miss.size), np.full(miss.size, 1.0 / STEP)
    going = np.flatnonzero(np.isfinite(miss) & (np.abs(miss) >= MET))
    near = np.broadcast_to(start, shape).reshape(-1)
    for count in range(MOST_STEPS):
        if going.size == 0:
            break
        step = np.fmin(np.fmax(miss[going] / slope[going], -1.0), 1.0)
        if count == 0:
            step = np.where(near[going] == 0.0, step, -near[going])
        odds[going] -= step
        some = found(take(known, shape, going), loss.reshape(-1)[going], odds[going])
        with np.errstate(divide="ignore", invalid="ignore"):
            now = np.log(operate_ducted(scaled(take(unit, shape, going), some), air=air,
                                        airspeed=0.0).net_thrust / np.asarray(some.thrust))
        slope[going] = np.fmax((miss[going] - now) / step, LEAST_SLOPE)
        miss[going] = now
        going = going[np.isfinite(now) & (np.abs(now) >= MET)]
    met = ((np.abs(miss) < MET) & (odds < MOST_ODDS)).reshape(shape)
    there = found(known, loss, np.where(met, odds.reshape(shape), 0.0))
    there = replace(there, power=np.where(met, there.power, 0.0),
                    efficiency=np.where(met, there.efficiency, np.nan))
    return scaled(unit, there), there, np.asarray(met)


def _own_loss(stage: StageMap, flow: Array) -> Array:
    """Loss over power of the map beneath its factors, by which a factor on power counts [-]."""
    assert isinstance(stage, ShapedMap)  # as typical
    useful, whole = stage.own(flow / np.asarray(stage.flow_factor))
    return np.asarray((whole - useful) / whole)


def _with_drive(unit: Ducted, efficiency: Values) -> Ducted:
    return replace(unit, drive=replace(
        unit.drive, motor=constant_efficiency_motor(efficiency=efficiency)))


def _bent(bend: _Bend, made: Ducted, air: Air, known: KnownBy) -> tuple[_Bend, Array]:
    """The next bend of the map, and the largest relative miss of the one that ``made`` has."""
    rest = operate_ducted(made, air=air, airspeed=0.0)
    misses = []
    if known.shaft_speed is not None:  # speed goes with the root of the head
        ratio = rest.shaft_speed / np.asarray(known.shaft_speed)
        bend = replace(bend, head=bend.head * ratio**2)
        misses.append(np.abs(np.log(ratio)))
    whole = _driven(made, air, known)
    if known.suction is not None:
        shut = operate_blocked(whole, pressure=air.pressure, temperature=air.temperature,
                               inlet=np.array(True))
        ratio = np.log(shut.suction / np.asarray(known.suction))
        bend = replace(bend, shut=bend.shut - ratio)
        misses.append(np.abs(ratio))
    if known.second_thrust is not None:
        assert known.second_exit_area is not None
        highest = made.rotor.stage.highest_flow
        other = operate_ducted(_with_exit(whole, known.second_exit_area), air=air, airspeed=0.0)
        with np.errstate(divide="ignore"):  # no thrust at all is as far off as can be
            ratio = np.log(other.net_thrust / np.asarray(known.second_thrust))
        middle = rest.flow_coefficient / highest
        # thrust goes with the air power to 2/3, and that with the tilt
        bend = replace(bend, middle=middle, tilt=bend.tilt + 1.5 * ratio / (
            other.flow_coefficient / highest - middle))
        misses.append(np.abs(ratio))
    worst = np.max(np.stack(np.broadcast_arrays(*misses)), axis=0)
    possible = ((np.abs(bend.tilt) + np.abs(bend.shut) < MOST_BENT)
                & (np.abs(np.log(bend.head)) < MOST_HEAD)
                & (made.rotor.stage.head(0.0) < GREATEST_HEAD))
    return bend, np.where(possible, worst, np.nan)


def _driven(unit: Ducted, air: Air, known: KnownBy) -> Ducted:
    """The unit with a drive of its efficiency: at full voltage where that held the watts, else
    with voltage to spare, so that the cap holds them.

    Without a voltage the efficiency is one at every load.
    """
    capped = _with_drive(unit, known.efficiency)
    if known.voltage is None:
        return capped
    motor = full_voltage_motor(
        efficiency=known.efficiency, electrical_power=known.electrical_power,
        voltage=np.asarray(known.voltage) / np.where(known.full, 1.0, TO_SPARE),
        shaft_speed=operate_ducted(capped, air=air, airspeed=0.0).shaft_speed)
    stalled = np.square(unit.supply.voltage) / motor.resistance  # no motor takes more
    return replace(unit, drive=replace(
        unit.drive, motor=motor,
        power_limit=np.where(known.full, stalled, known.electrical_power)))


def full_voltage_motor(*, efficiency: Values, electrical_power: Values, voltage: Values,
                       shaft_speed: Values) -> ConstantsMotor:
    """Motor that at a voltage [V] takes a power [W] at a speed [rad/s] with an efficiency [-].

    eta = (1 - R I / V) (1 - I0 / I): windings and idling lose the same share there, which is
    where a motor is best (judgement that it was chosen so).
    """
    root, current = np.sqrt(np.asarray(efficiency)), np.asarray(electrical_power) / voltage
    return ConstantsMotor(torque_constant=np.asarray(voltage) * root / np.asarray(shaft_speed),
                          resistance=voltage / current * (1.0 - root),
                          no_load_current=current * (1.0 - root), no_load_current_slope=0.0)
