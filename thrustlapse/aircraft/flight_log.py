"""A flight log laid over the prediction: the drag and the thrust that best explain it.

The log says airspeed, height, volts and amps against time. From volts and amps the package
predicts the thrust: the candidate on a supply of that voltage, capped at that power. The energy
height then has to grow as

    m d(V^2/2 + g h)/dt = a T V - b D_parasite V - D_rest V

with a thrust factor ``a`` and a parasite-drag factor ``b``. Summed over time this is linear in
both, needs no differentiation of noisy readings, and every reading of airspeed and height enters
with its own error. Readings with next to no power are taken as flown with the motor cut.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe, level_drag
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

WORST_CONDITION = 30.0
"""Condition number of the scaled Jacobian above which the two factors are called inseparable."""


@dataclass(frozen=True, kw_only=True)
class FlightLog:
    """Readings in SI; ``height`` above the site. Deviations are one standard deviation.

    Airspeed is true airspeed [m/s], ``voltage`` and ``current`` at the pack's terminals. A load
    factor [-] may be given for turns; 1 where it is not. ``source`` names the file it comes from,
    ``told`` what was assumed when it was read.
    """

    time: Array
    airspeed: Array
    height: Array
    voltage: Array
    current: Array
    load_factor: Array | None = None
    airspeed_deviation: Values = 0.5
    height_deviation: Values = 1.0
    source: str = ""
    told: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LogReduction:
    """What best explains a log, and how well.

    ``thrust_factor`` and ``drag_factor`` multiply the predicted net thrust and the airframe's
    parasite drag, with ``covariance`` in that order. ``separable`` tells whether the log holds
    them apart: power on and off, or fast and slow. ``predicted_height`` is energy height [m] with
    both factors at one, ``fitted_height`` with the fitted ones, ``logged_height`` as read.
    ``residual`` is in deviations; ``scatter`` near 1 where they are honest. ``known`` marks the
    readings at which the machine could be predicted: elsewhere the heights predicted and fitted
    and the residual are NaN, and the prediction goes on from the log; ``motor_on`` those with
    power.
    ``predicted_current`` [A] is what the machine would draw at the logged voltage at full power.
    """

    thrust_factor: float
    drag_factor: float
    covariance: Array
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
    the energy height meanwhile is an unknown too.

    Raises
    ------
    ValueError
        With fewer than five readings, times that do not rise, or too few readings at which the
        machine is known.

    Notes
    -----
    The noise of a reading enters its energy height (counted) and, through the sums, all later
    ones (not counted: it averages out; 3 % of noise in airspeed biases drag by 0.3 %).
    """
    time = np.asarray(log.time, dtype=float)
    if time.size < LEAST_READINGS:
        raise ValueError("a log needs five readings or more")
    if np.any(np.diff(time) <= 0.0):
        raise ValueError("the times of a log must rise")
    forces = _forces(log, candidate, airframe, mass)
    known = np.isfinite(forces.thrust)
    if not known[forces.on].any() and forces.on.any():
        raise ValueError("the machine is known at none of the log's readings with power")
    speed = np.asarray(log.airspeed, dtype=float)
    push, parasite, rest = (_summed(time, force * speed / (mass * GRAVITY)) for force in (
        np.where(known, forces.thrust, 0.0), forces.parasite,
        forces.rest + forces.external))
    height = speed**2 / (2.0 * GRAVITY) + log.height
    deviation = np.hypot(speed / GRAVITY * log.airspeed_deviation, log.height_deviation)
    columns = [np.ones_like(time), push, -parasite]
    fixed_thrust = not np.any(push != 0.0)
    if fixed_thrust:
        columns = [columns[0], columns[2]]
    switched = _switched(time, np.where(known, forces.thrust, 0.0) * speed / (mass * GRAVITY),
                         forces.on)
    after = _after_gaps(known)
    free = len(columns) + after.shape[1]
    if np.count_nonzero(known) < free + 2:
        raise ValueError(f"the machine is known at {np.count_nonzero(known)} of the log's "
                         f"{time.size} readings only: too few")
    matrix = np.concatenate([np.stack(columns, axis=1), after, switched], axis=1)
    weight = np.where(known, 1.0 / deviation, 0.0)
    # what is known of the moments before the log is read: anywhere within their intervals
    prior = np.eye(matrix.shape[1])[free:] / EVENLY_SPREAD
    rows = np.concatenate([matrix * weight[:, None], prior])
    found, *_ = np.linalg.lstsq(rows, np.concatenate([(height + rest) * weight,
                                                      np.zeros(len(prior))]))
    fitted = np.where(known, matrix @ found - rest, np.nan)
    residual = (height - fitted) / deviation
    covariance = _inverse(rows.T @ rows)[:len(columns), :len(columns)]
    factors = np.array([1.0, found[1]]) if fixed_thrust else found[1:3]
    spread = np.zeros((2, 2))
    if fixed_thrust:
        spread[1, 1], spread[0, 0] = covariance[1, 1], np.inf
        condition = np.inf
    else:
        spread = np.asarray(covariance[1:, 1:], dtype=float)
        two = np.linalg.cholesky(np.linalg.inv(spread)).T * factors
        condition = float(np.linalg.cond(two))
    separable = condition < WORST_CONDITION
    return LogReduction(
        thrust_factor=float(factors[0]), drag_factor=float(factors[1]), covariance=spread,
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
    load = np.ones_like(speed) if log.load_factor is None else np.asarray(log.load_factor)
    drag = level_drag(airframe, mass=mass * load, density=air.density, airspeed=speed,
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
