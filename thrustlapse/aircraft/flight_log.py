"""A flight log laid over the prediction: the drag and the thrust that best explain it.

The log says airspeed, height, volts and amps against time. From volts and amps the package
predicts the thrust: the candidate on a supply of that voltage, capped at that power. The energy
height then has to grow as

    m d(V^2/2 + g h)/dt = a T V - b D_parasite V - D_rest V

with a thrust factor ``a`` and a parasite-drag factor ``b``. Summed over time this is linear in
both, needs no differentiation of noisy readings, and every reading of airspeed and height enters
with its own error. Readings with next to no power are taken as flown with the motor cut.

The thrust factor may change with airspeed, a + s (V / Vm - 1), Vm the mean airspeed under power:
``s`` is what the log says of the lapse. It is an unknown wherever the log can tell it, by what was
flown and not by what comes out, so that its interval is honest; elsewhere it is none.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe, level_drag
from thrustlapse.aircraft.glide import WORST_CONDITION
from thrustlapse.aircraft.log_wind import Wind, steady_wind
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.unpowered import unpowered_drag

LEAST_READINGS = 5
"""Readings without which two factors and a start are not worth looking for."""

OFF_SHARE = 0.03
"""Power below this share of the log's greatest counts as the motor being cut [-]."""

EVENLY_SPREAD = 12.0**-0.5
"""Standard deviation of a moment that may lie anywhere within an interval, over its length [-]."""

SINGULAR = 1e-12
"""Eigenvalue of the scaled normal equations, over the largest, below which readings say nothing
[-]: the least that rounding leaves."""

SLOPE_TOLD = 0.15
"""Standard deviation of what the slope does to the factor between the slow and the fast tenth of
the readings with power, below which the log is said to tell it [-]. By judgement."""

RUN_TIME, RUN_CLIMB, RUN_ACCELERATION = 5.0, 0.3, 0.15
"""A steady level run: how long at least [s], how much it may climb [m/s] and gain [m/s^2] on the
mean over it. By judgement."""

FULL_POWER = 0.9
"""Share of the predicted current at full power, and of the log's own greatest power, from which a
reading counts as full power [-]."""


@dataclass(frozen=True, kw_only=True)
class FlightLog:
    """Readings in SI; ``height`` above the site. Deviations are one standard deviation.

    Airspeed is true airspeed [m/s], ``voltage`` and ``current`` at the pack's terminals. A load
    factor [-] may be given for turns, or the ``bank`` [rad], of which it is 1 / cos in a turn that
    keeps its height; 1 where neither is. ``ground_speed`` [m/s], ``track`` and ``heading`` [rad,
    clockwise from north] tell the wind. ``source`` names the file it comes from, ``told`` what was
    assumed when it was read.
    """

    time: Array
    airspeed: Array
    height: Array
    voltage: Array
    current: Array
    load_factor: Array | None = None
    bank: Array | None = None
    ground_speed: Array | None = None
    track: Array | None = None
    heading: Array | None = None
    airspeed_deviation: Values = 0.5
    height_deviation: Values = 1.0
    source: str = ""
    told: tuple[str, ...] = ()

    @property
    def load(self) -> Array:
        """Lift over weight [-]."""
        if self.load_factor is not None:
            return np.asarray(self.load_factor, dtype=float)
        if self.bank is not None:
            return np.asarray(1.0 / np.cos(self.bank))
        return np.ones_like(np.asarray(self.airspeed, dtype=float))


@dataclass(frozen=True, kw_only=True)
class LevelRun:
    """A steady level run at full power: ``airspeed`` [m/s], from ``start`` to ``end`` [s]."""

    airspeed: float
    start: float
    end: float


@dataclass(frozen=True, kw_only=True)
class LogReduction:
    """What best explains a log, and how well.

    ``thrust_factor`` and ``drag_factor`` multiply the predicted net thrust and the airframe's
    parasite drag, with ``covariance`` in that order. The thrust factor holds at ``middle``, the
    mean airspeed under power [m/s], and changes by ``slope`` times V / middle - 1, known where
    ``slope_told``, else 0; ``joint`` is the covariance of all three. ``powered`` are the airspeeds
    of the slow and the fast tenth of the readings with power [m/s]. ``wind`` is what the log says
    of it, ``level_run`` the longest steady level run at full power, or None. ``separable`` tells
    whether the log holds the factors apart: power on and off, or fast and slow.
    ``predicted_height`` is energy height [m] with both factors at one, ``fitted_height`` with the
    fitted ones, ``logged_height`` as read.
    ``residual`` is in deviations; ``scatter`` near 1 where they are honest. ``known`` marks the
    readings at which the machine could be predicted: elsewhere the heights predicted and fitted
    and the residual are NaN, and the prediction goes on from the log; ``motor_on`` those with
    power.
    ``predicted_current`` [A] is what the machine would draw at the logged voltage at full power.
    """

    thrust_factor: float
    drag_factor: float
    covariance: Array
    slope: float
    slope_told: bool
    joint: Array
    middle: float
    powered: tuple[float, float]
    wind: Wind
    level_run: LevelRun | None
    correlation: float
    condition: float
    separable: bool
    scatter: float
    residual: Array
    time: Array
    logged_height: Array
    predicted_height: Array
    fitted_height: Array
    predicted_thrust: Array
    predicted_drag: Array
    predicted_current: Array
    motor_on: BoolArray
    known: BoolArray
    note: str

    @property
    def deviations(self) -> Array:
        """Standard deviations of the thrust and the drag factor, from the stated readings' own."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def widened(self) -> Array:
        """Covariance, widened where the readings scatter more than stated (Birge's factor)."""
        return np.asarray(self.covariance * max(1.0, self.scatter) ** 2)

    @property
    def slope_deviation(self) -> float:
        """Standard deviation of the slope, widened as :attr:`widened`; NaN where it is not told."""
        return float(np.sqrt(self.joint[2, 2]) * max(1.0, self.scatter)) if self.slope_told else (
            float("nan"))

    def lapse(self) -> tuple[float, float]:
        """Thrust of the fast end over that of the slow, by the log over predicted, with its
        standard deviation (first order)."""
        at = np.array(self.powered) / self.middle - 1.0
        slow, fast = self.thrust_factor + self.slope * at
        ratio = fast / slow
        by = np.array([(1.0 - ratio) / slow, 0.0, (at[1] - ratio * at[0]) / slow])
        spread = np.sqrt(by @ self.joint @ by) * max(1.0, self.scatter)
        return float(ratio), float(spread)

    def airframe(self, airframe: Airframe) -> Airframe:
        """Same airframe with its parasite drag scaled to the log."""
        return replace(airframe, minimum_drag_coefficient=self.drag_factor
                       * np.asarray(airframe.minimum_drag_coefficient))


def reduce_log(log: FlightLog, candidate: Candidate, airframe: Airframe, *,
               mass: float) -> LogReduction:
    """Thrust and drag factors that best explain a log.

    Weighted linear least squares on the energy height at every reading, with the energy height at
    the start as a third unknown, and the moment of each switching on or off within its interval
    as a further one. Readings at which the machine is not known are left out, and what it did to
    the energy height meanwhile is an unknown too. Where ground speeds and directions tell the
    airspeed sensor's factor, the airspeeds are corrected by it, and what is left unsure of it is
    added to the covariance.

    Raises
    ------
    ValueError
        With fewer than five readings, times that do not rise, or too few readings at which the
        machine is known.

    Notes
    -----
    The noise of an airspeed enters its own energy height and, through the sums, all later ones;
    both are counted in the covariance, to first order, though not in the weights. What is left is
    of second order: 3 % of noise in airspeed biases drag by 0.3 %.
    """
    time = np.asarray(log.time, dtype=float)
    if time.size < LEAST_READINGS:
        raise ValueError("a log needs five readings or more")
    if np.any(np.diff(time) <= 0.0):
        raise ValueError("the times of a log must rise")
    wind = steady_wind(airspeed=np.asarray(log.airspeed, dtype=float), track=log.track,
                       airspeed_deviation=log.airspeed_deviation, heading=log.heading,
                       ground_speed=log.ground_speed,
                       climb_rate=_climb_rate(time, np.asarray(log.height, dtype=float)))
    if not wind.known:
        return _reduced(log, candidate, airframe=airframe, mass=mass, wind=wind)
    found = _reduced(_scaled(log, wind.scale), candidate, airframe=airframe, mass=mass, wind=wind)
    step = wind.scale_deviation
    high, low = (_reduced(_scaled(log, wind.scale + sign * step), candidate, airframe=airframe,
                          mass=mass, wind=wind)
                 for sign in (1.0, -1.0))
    moved = np.array([high.thrust_factor - low.thrust_factor, high.drag_factor - low.drag_factor,
                      high.slope - low.slope]) / 2.0
    # both covariances are widened by the scatter when they are read
    more = np.outer(moved, moved) / max(1.0, found.scatter) ** 2
    return replace(found, joint=found.joint + more, covariance=found.covariance + more[:2, :2])


def _climb_rate(time: Array, height: Array) -> Array:
    """Slope of the height over the readings of five seconds about each [m/s]."""
    first = np.searchsorted(time, time - 0.5 * RUN_TIME)
    after = np.searchsorted(time, time + 0.5 * RUN_TIME, side="right")

    def over(values: Array) -> Array:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray((total[after] - total[first]) / (after - first))

    about, high = time - np.mean(time), height - np.mean(height)
    spread = over(about**2) - over(about) ** 2
    lean = over(about * high) - over(about) * over(high)
    return np.asarray(np.where(after - first > 2, lean / np.where(spread > 0.0, spread, 1.0), 0.0))


def _scaled(log: FlightLog, scale: float) -> FlightLog:
    return replace(log, airspeed=scale * np.asarray(log.airspeed, dtype=float))


def _reduced(log: FlightLog, candidate: Candidate, airframe: Airframe, mass: float,
             wind: Wind) -> LogReduction:
    """Reduction of a log whose airspeeds are taken as they stand."""
    time = np.asarray(log.time, dtype=float)
    forces = _forces(log, candidate, airframe, mass)
    known = np.isfinite(forces.thrust)
    if not known[forces.on].any() and forces.on.any():
        raise ValueError("the machine is known at none of the log's readings with power")
    speed = np.asarray(log.airspeed, dtype=float)
    powered = forces.on & known & (speed > 0.0)
    middle = float(np.mean(speed[powered])) if powered.any() else float("nan")
    ends = np.percentile(speed[powered], (10.0, 90.0)) if powered.any() else np.full(2, np.nan)

    def summed(force: Array) -> Array:
        return _summed(time, force * speed / (mass * GRAVITY))

    thrust = np.where(known, forces.thrust, 0.0)
    push, parasite, rest = (summed(one) for one in (
        thrust, forces.parasite, forces.rest + forces.external))
    height = speed**2 / (2.0 * GRAVITY) + log.height
    deviation = np.hypot(speed / GRAVITY * log.airspeed_deviation, log.height_deviation)
    fixed_thrust = not np.any(push != 0.0)
    columns = [np.ones_like(time), -parasite]
    if not fixed_thrust:
        columns += [push, summed(thrust * (speed / middle - 1.0))]
    switched = _switched(time, thrust * speed / (mass * GRAVITY), forces.on)
    after = _after_gaps(known)
    weight = np.where(known, 1.0 / deviation, 0.0)
    by_speed = _by_speed(log, forces, airframe=airframe, candidate=candidate, mass=mass,
                         powered=powered)

    def solved(factors: int) -> tuple[Array, Array, Array, int]:
        """Factors, their covariance, the fitted height, and how many unknowns were free."""
        free = 1 + factors + after.shape[1]
        if np.count_nonzero(known) < free + 2:
            raise ValueError(f"the machine is known at {np.count_nonzero(known)} of the log's "
                             f"{time.size} readings only: too few")
        matrix = np.concatenate([np.stack(columns[:1 + factors], axis=1), after, switched], axis=1)
        # what is known of the moments before the log is read: anywhere within their intervals
        prior = np.eye(matrix.shape[1])[free:] / EVENLY_SPREAD
        rows = np.concatenate([matrix * weight[:, None], prior])
        found, *_ = np.linalg.lstsq(rows, np.concatenate([(height + rest) * weight,
                                                          np.zeros(len(prior))]))
        inverse = _inverse(rows.T @ rows)[1:1 + factors]
        by_reading = inverse @ (matrix * weight[:, None] ** 2).T
        drag_factor, factor = found[1], 1.0 if fixed_thrust else found[2]
        gain = (factor * by_speed[0] - drag_factor * by_speed[1] - by_speed[2]) * _widths(time)
        later = np.cumsum(by_reading[:, ::-1], axis=1)[:, ::-1] - 0.5 * by_reading
        own, every = (by_reading * speed / GRAVITY * log.airspeed_deviation,
                      (by_reading * speed / GRAVITY - later * gain) * log.airspeed_deviation)
        # the normal equations count an airspeed's error at its own reading, as if there alone
        covariance = inverse[:, 1:1 + factors] + every @ every.T - own @ own.T
        return (found[1:1 + factors], covariance, np.where(known, matrix @ found - rest, np.nan),
                free)

    found, covariance, fitted, free = solved(1 if fixed_thrust else 2)
    slope, told = 0.0, False
    joint = np.zeros((3, 3))
    if fixed_thrust:
        factors, joint[1, 1], joint[0, 0] = np.array([1.0, found[0]]), covariance[0, 0], np.inf
        condition = np.inf
    else:
        order = [1, 0]
        if np.count_nonzero(known) >= free + 3 and np.ptp(ends) > 0.0:
            three = solved(3)
            reach = float(np.ptp(ends)) / middle * np.sqrt(three[1][2, 2])
            told = bool(reach < SLOPE_TOLD and _condition(
                three[1][:2, :2], three[0][:2]) < WORST_CONDITION)
            if told:
                (found, covariance, fitted, free), order = three, [1, 0, 2]
                slope = float(found[2])
        factors = found[order[:2]]
        joint[:len(order), :len(order)] = covariance[np.ix_(order, order)]
        condition = _condition(joint[:2, :2], factors)
    spread = joint[:2, :2]
    residual = (height - fitted) / deviation
    separable = condition < WORST_CONDITION
    return LogReduction(
        thrust_factor=float(factors[0]), drag_factor=float(factors[1]), covariance=spread,
        slope=slope, slope_told=told, joint=joint, middle=middle,
        powered=(float(ends[0]), float(ends[1])), wind=wind,
        level_run=_level_run(time, speed, np.asarray(log.height, dtype=float), np.asarray(
            (log.current >= FULL_POWER * forces.current) & forces.on & (
                log.voltage * log.current >= FULL_POWER * np.max(log.voltage * log.current)))),
        correlation=float("nan") if fixed_thrust else float(
            spread[0, 1] / np.sqrt(spread[0, 0] * spread[1, 1])),
        condition=float(condition), separable=separable,
        scatter=float(np.sqrt(np.nansum(residual**2) / (np.count_nonzero(known) - free))),
        residual=residual, time=time, logged_height=height,
        predicted_height=_from_the_log(push - parasite - rest, height, known, after),
        fitted_height=fitted,
        predicted_thrust=forces.thrust, predicted_drag=forces.parasite + forces.rest,
        predicted_current=forces.current, motor_on=forces.on, known=known,
        note=_note(separable, fixed_thrust, known))


def _widths(time: Array) -> Array:
    """What each reading counts in a sum by trapezes [s]."""
    step = np.diff(time)
    return np.asarray(0.5 * (np.append(step, 0.0) + np.append(0.0, step)))


def _by_speed(log: FlightLog, forces: _Forces, airframe: Airframe, candidate: Candidate,
              mass: float, powered: BoolArray) -> Array:
    """How the powers of thrust, parasite drag and the rest change with airspeed, over the weight
    [-], shape (3, n): what an error of an airspeed does to the sums after it.

    The slope of the thrust is that of a straight line through the thrusts along the log.
    """
    speed = np.asarray(log.airspeed, dtype=float)
    air = candidate.site.air(candidate.site.altitude + np.asarray(log.height, dtype=float))
    step = 1e-4 * speed + 1e-6
    more = level_drag(airframe, mass=mass * log.load, density=air.density, airspeed=speed + step,
                      speed_of_sound=air.speed_of_sound)
    thrust = np.where(powered, forces.thrust, 0.0)
    lean = 0.0
    if np.ptp(speed[powered]) > 0.0 if powered.any() else False:
        lean = float(np.polyfit(speed[powered], forces.thrust[powered], 1)[0])
    return np.stack([thrust + speed * lean * powered,
                     forces.parasite + speed * (more.parasite - forces.parasite) / step,
                     forces.rest + 3.0 * forces.external + speed * (
                         more.induced + more.compressibility - forces.rest) / step]) / (
                             mass * GRAVITY)


def _condition(covariance: Array, factors: Array) -> float:
    """Condition number of the Jacobian scaled by the factors."""
    return float(np.linalg.cond(np.linalg.cholesky(np.linalg.inv(covariance)).T * factors))


def _slopes(since: Array, values: Array) -> Array:
    """Slope of the straight line through the first 1, 2, 3 ... of some readings, least squares."""
    count, over = np.arange(1.0, since.size + 1.0), values - values[0]
    time, value = np.cumsum(since), np.cumsum(over)
    return np.asarray((count * np.cumsum(since * over) - time * value)
                      / (count * np.cumsum(since**2) - time**2))


def _level_run(time: Array, speed: Array, height: Array, full: BoolArray) -> LevelRun | None:
    """The longest stretch at full power that neither climbs nor gains speed, on its mean."""
    best: LevelRun | None = None
    edges = np.flatnonzero(np.diff(np.concatenate([[0], full.astype(int), [0]])))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        for start in range(first, after - 3):
            part = slice(start, after)
            since = time[part] - time[start]
            with np.errstate(invalid="ignore"):  # one reading has no slope
                level = ((np.abs(_slopes(since, height[part])) <= RUN_CLIMB)
                         & (np.abs(_slopes(since, speed[part])) <= RUN_ACCELERATION))
            ends = 3 + np.flatnonzero((level & (since >= RUN_TIME))[3:])
            if ends.size and (best is None or since[ends[-1]] >= 1e-9 + best.end - best.start):
                end = start + int(ends[-1])
                best = LevelRun(airspeed=float(np.mean(speed[start:end + 1])),
                                start=float(time[start]), end=float(time[end]))
    return best


@dataclass(frozen=True, kw_only=True)
class _Forces:
    """Predicted forces along the log [N], and current at full power [A]."""

    thrust: Array
    external: Array
    parasite: Array
    rest: Array
    current: Array
    on: BoolArray


def _forces(log: FlightLog, candidate: Candidate, airframe: Airframe, mass: float) -> _Forces:
    speed = np.asarray(log.airspeed, dtype=float)
    air = candidate.site.air(candidate.site.altitude + np.asarray(log.height, dtype=float))
    drag = level_drag(airframe, mass=mass * log.load, density=air.density, airspeed=speed,
                      speed_of_sound=air.speed_of_sound)
    power = np.asarray(log.voltage, dtype=float) * log.current
    on = np.asarray(power > OFF_SHARE * np.max(power))
    unit = candidate.unit
    supply = Supply(voltage=np.asarray(log.voltage, dtype=float), resistance=0.0,
                    units=float(candidate.count))
    full = operate(replace(candidate, unit=replace(unit, supply=supply)), airspeed=speed, air=air)
    capped = replace(unit.drive, supply_current_limit=np.inf,
                     power_limit=np.where(on, power, np.max(power)) / candidate.count)
    run = operate(replace(candidate, unit=replace(unit, supply=supply, drive=capped)),
                  airspeed=speed, air=air)
    place = candidate.installation
    still = 0.5 * air.density * speed**2 * candidate.count * (
        place.pod_drag_area + np.asarray(place.base_area) * place.base_drag_coefficient)
    with np.errstate(invalid="ignore"):
        still = still + unpowered_drag(candidate, air=air, airspeed=speed)
    known = np.isfinite(run.net_thrust)
    return _Forces(
        thrust=np.where(on, candidate.count * run.net_thrust, 0.0),
        external=np.where(on & known, run.external_drag, still), parasite=drag.parasite,
        rest=drag.induced + drag.compressibility, current=full.current, on=on)


def _switched(time: Array, rate: Array, on: BoolArray) -> Array:
    """What each switching on or off may have added, one column per switching [m].

    The power changes somewhere between two readings; the trapezes put it in the middle. Each
    column is the energy height of the whole interval, from its end on.
    """
    last = np.flatnonzero(on[1:] != on[:-1])
    whole = np.maximum(rate[last], rate[last + 1]) * np.diff(time)[last]
    return np.asarray(np.where(np.arange(time.size)[:, None] > last, whole, 0.0))


def _after_gaps(known: BoolArray) -> Array:
    """Ones from the end of each gap in what is known on, one column per gap.

    A gap at the start or the end tells nothing and has none.
    """
    first = np.flatnonzero(known[1:] & ~known[:-1]) + 1
    first = first[first > np.argmax(known)]
    return np.asarray(np.arange(known.size)[:, None] >= first, dtype=float)


def _from_the_log(change: Array, height: Array, known: BoolArray, after: Array) -> Array:
    """Heights of a running change, taken up from the log at the start and after each gap."""
    start = int(np.argmax(known))
    found = height[start] + change - change[start]
    for column in after.T:
        end = int(np.argmax(column))
        before = int(np.flatnonzero(known[:end])[-1])
        found = found + column * (height[end] - height[before] - found[end] + found[before])
    return np.asarray(np.where(known, found, np.nan))


def _summed(time: Array, rate: Array) -> Array:
    """Running integral by trapezes, zero at the start."""
    return np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(time))])


def _inverse(normal: Array) -> Array:
    """Inverse of normal equations, singular ones too.

    A combination of unknowns of which the readings say nothing gets the variance that rounding
    leaves it, large and finite: the condition number then tells.
    """
    size = np.sqrt(np.diag(normal))
    values, vectors = np.linalg.eigh(normal / np.outer(size, size))
    known = np.maximum(values, SINGULAR * values[-1])
    return np.asarray((vectors / known) @ vectors.T / np.outer(size, size))


def _note(separable: bool, fixed_thrust: bool, known: BoolArray) -> str:
    if fixed_thrust:
        return "flown without power throughout: the log says nothing of the thrust"
    said = ("the log tells thrust and drag apart" if separable else
            "the log cannot tell more thrust from less drag: add a stretch with the motor cut, or "
            "one at another airspeed")
    if not known.all():
        said += (f"; {int((~known).sum())} readings lie where the machine is not known and are "
                 "left out")
    return said
