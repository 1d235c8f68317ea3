"""What the fit says of the answer asked for, and which further reading would sharpen it most.

Everything is linear about the fit: the answer's slopes against the unknowns carry their covariance
to the answer's deviation, and a reading not yet taken shrinks that covariance by what its own
slopes would add.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import AS_FLOWN, READ, BenchReadings, bench_readings
from thrustlapse.propulsor.bench_fit import BenchFit
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.bench_fit import STEP, FitError, FittedMachine, fitted_candidate
from thrustlapse.study.bench_model import OBSERVED, show, taken, with_values
from thrustlapse.study.bench_unknowns import values_of
from thrustlapse.study.crossover import THRUST, overtakings, search_grid
from thrustlapse.study.evaluate import Cases, cases_of
from thrustlapse.study.sampling import drawables, with_draws
from thrustlapse.study.scenario_like import ScenarioLike

ALL = "all instruments used so far"
AGAIN = "nozzle as it is, once more"

HELD = {0.95: 1.959963984540054, 0.68: 0.994457883209753}
"""Shares that intervals are to hold, and their halves over the deviation of a normal error [-]."""

STATIC, AT_SPEED, TOP, CROSSOVER = "static thrust", "thrust at", "top speed", "crossover with"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer and how sure it is, in ``unit``.

    ``deviation`` counts all that is not known: what the readings leave open, what is assumed, the
    map's form and the instruments' gains, and what the readings cannot tell of (``beside``: drag,
    pack, airframe, day). 1.96 of it to either side of the value hold 95 %, and it alone 68 %;
    where what stands beside errs farther to one side, as a drag known to a factor does, no one
    number does both: with this one they hold 94 to 95 and up to 73 %. ``of_bench`` is of the
    readings' own scatter, with all that is assumed taken as true; ``before`` the deviation without
    any reading. ``slopes`` against the scaled unknowns of the fit.
    """

    words: str
    value: float
    unit: str
    deviation: float
    of_bench: float
    before: float
    beside: Beside
    slopes: Array


@dataclass(frozen=True, kw_only=True)
class Beside:
    """First three cumulants of an answer's error by what no reading tells of, in its unit: mean,
    ``variance`` and ``third``. Sums of independent errors have the sums of their cumulants."""

    mean: float
    variance: float
    third: float

    def mixed(self, step: float, share: float) -> Beside:
        """With an answer that is a ``step`` away with a probability ``share``."""
        both = share * (1.0 - share)
        return Beside(mean=self.mean + share * step, variance=self.variance + both * step**2,
                      third=self.third + both * (1.0 - 2.0 * share) * step**3)

    def deviation(self, variance: float) -> float:
        """With a normal error beside it: midway between half of what holds 95 % about the value,
        over 1.96, and half of what holds 68 %.

        First term of Edgeworth's expansion (from memory: any text on asymptotic statistics).
        """
        from scipy.optimize import brentq  # start-up time
        from scipy.special import ndtr

        width = float(np.sqrt(self.variance + variance))
        if width == 0.0:
            return 0.0
        shift, skewness = self.mean / width, self.third / width**3

        def below(ends: Array) -> Array:
            density = np.exp(-0.5 * ends**2) / np.sqrt(2.0 * np.pi)
            return np.asarray(ndtr(ends) - skewness / 6.0 * (ends**2 - 1.0) * density)

        def missed(half: float, held: float) -> float:
            return float(np.subtract(*below(np.array([half, -half]) - shift))) - held

        return width * sum(float(brentq(missed, 0.2, 8.0, args=(held,))) / times
                           for held, times in HELD.items()) / len(HELD)


@dataclass(frozen=True, kw_only=True)
class NextReading:
    """A reading not yet taken and the answer's deviation with it."""

    state: str
    instruments: str
    deviation: float
    shrink: float


def bench_answer(scenario: ScenarioLike, name: str, fit: FittedMachine, asked: str, *,
                 airspeed: float = 0.0, rival: str = "") -> Answer:
    """The answer asked for, with the fitted machine in the scenario's place of it.

    Parameters
    ----------
    asked : str
        :data:`STATIC`, :data:`AT_SPEED` (with ``airspeed`` [m/s]), :data:`TOP` or
        :data:`CROSSOVER` (with ``rival``)

    Raises
    ------
    FitError
        Where the scenario has no such answer.
    """
    question = _question(scenario, name, fit=fit, asked=asked, airspeed=airspeed, rival=rival)
    slopes = by_machine(scenario, fit, question)
    beside = _beside(scenario, name, fit, question)
    if fit.rival is not None:
        other = bench_answer(scenario, name, fit.rival, asked, airspeed=airspeed, rival=rival)
        beside = beside.mixed(other.value - question.value, share=1.0 - fit.likely)
    if not np.all(np.isfinite([*slopes, beside.variance])):
        raise FitError(f"{question.words}: the machine's map does not reach there")
    return Answer(words=question.words, value=question.value, unit=question.unit, slopes=slopes,
                  deviation=beside.deviation(_variance(slopes, fit.scaled_covariance)),
                  of_bench=float(np.sqrt(_variance(slopes, fit.of_bench))), beside=beside,
                  before=beside.deviation(float(np.sum(slopes**2))))


def by_machine(scenario: ScenarioLike, fit: FittedMachine, question: Question) -> Array:
    """Slopes of an answer against the scaled unknowns of a fit."""
    many = fitted_candidate(fit.given, fit.unknowns, nearby(fit))
    found = np.broadcast_to(question.measure(scenario, many, fit.candidate),
                            (1 + len(fit.unknowns),))
    return np.asarray(question.scale * (found[1:] - found[0]) / STEP)


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked: its value, and ``measure`` of many scenarios with many machines in place of
    one, and what stands for it where the others are held to its power; times ``scale`` it is how
    far the answer moves."""

    words: str
    unit: str
    value: float
    scale: float
    measure: Callable[[Any, Candidate, Candidate], Array]


def with_machine(told: Any, name: str, machine: Candidate,
                 leader: Candidate) -> dict[str, Cases]:
    """Every candidate's cases with a machine in place of one, and what stands for it where the
    others are held to its power."""
    cases = cases_of(told)
    footing = replace(cases[name].footing, candidates={**told.candidates, name: leader})
    held = {key: replace(one, footing=footing) for key, one in cases.items()}
    return {**held, name: replace(held[name], candidate=machine)}


def _question(scenario: ScenarioLike, name: str, fit: FittedMachine, asked: str,
              airspeed: float, rival: str) -> Question:
    fitted = with_machine(scenario, name, fit.candidate, fit.candidate)

    def thrust(cases: Cases, speed: float) -> Array:
        return cases.fly(np.array([speed])).installed_thrust[..., 0]

    if asked in (STATIC, AT_SPEED):
        speed = airspeed if asked == AT_SPEED else 0.0
        return Question(
            words=STATIC if asked == STATIC else f"installed thrust at {speed:g} m/s", unit="N",
            value=float(thrust(fitted[name], speed)), scale=1.0,
            measure=lambda told, one, leader: thrust(
                with_machine(told, name, one, leader)[name], speed))
    if asked == TOP:
        if scenario.airframe is None:
            raise FitError("top speed: the scenario has no [airframe]")
        level = fitted[name].top_speed()
        top = level.top_speed
        if not np.isfinite(top):
            raise FitError(f"top speed: there is none, {level.reason}")

        def spare(cases: Cases, speed: float = top) -> Array:
            return cases.spare(cases.fly(np.array([speed])))[..., 0]

        steepness = slope_at(lambda v: float(spare(fitted[name], v)), top)
        return Question(
            words=TOP, unit="m/s", value=float(top), scale=-1.0 / steepness,
            measure=lambda told, one, leader: spare(with_machine(told, name, one, leader)[name]))
    if asked == CROSSOVER:
        crossing, scale = _crossing(fitted, name, rival, last=float(scenario.airspeeds[-1]))

        def lead(told: Any, one: Candidate, leader: Candidate) -> Array:
            cases = with_machine(told, name, one, leader)
            return np.asarray(thrust(cases[name], crossing) - thrust(cases[rival], crossing))

        return Question(words=f"crossover with {rival} in installed thrust", unit="m/s",
                         value=crossing, scale=scale, measure=lead)
    raise FitError(f"no answer is called {asked!r}: {STATIC}, {AT_SPEED} SPEED, {TOP}, "
                   f"{CROSSOVER} NAME")


def slope_at(measure: Callable[[float], float], speed: float) -> float:
    """Slope of a measure over airspeed, at a speed [m/s]."""
    step = max(0.02, 1e-3 * speed)
    return (measure(speed + step) - measure(speed - step)) / (2.0 * step)


THREE_POINTS = np.array([0.0, np.sqrt(3.0), -np.sqrt(3.0)])
"""Deviations at which every input is tried: a parabola through them has the mean and the variance
of Gauss and Hermite's rule."""


def _beside(scenario: ScenarioLike, name: str, fit: FittedMachine,
            question: Question) -> Beside:
    """Error of the answer by the inputs that the fit did not free."""
    slope, bend = by_others(scenario, name, fit, (question,))[0]
    # of a z + b z^2: mean b, variance a^2 + 2 b^2, third cumulant 6 a^2 b + 8 b^3
    return Beside(mean=float(np.sum(bend)), variance=float(np.sum(slope**2 + 2.0 * bend**2)),
                  third=float(np.sum(6.0 * slope**2 * bend + 8.0 * bend**3)))


def by_others(scenario: ScenarioLike, name: str, fit: FittedMachine,
              questions: Sequence[Question]) -> list[tuple[Array, Array]]:
    """Slopes and bends of each answer against the inputs that the fit did not free, each input a
    normal number; the same inputs in the same order for all."""
    known = BenchFit(bench="", unknowns=tuple(one.key for one in fit.unknowns if one.kept),
                     values=fit.values[list(fit.kept)],
                     covariance=fit.covariance[np.ix_(fit.kept, fit.kept)])
    law = f"candidates.{name}.readings.full_voltage"  # the fit's own, or its rival's
    inputs = [one for one in drawables(scenario, {name: known})
              if one.group != f"{name}: bench fit" and one.spread.key != law]
    size = len(inputs)
    if size == 0:
        return [(np.zeros(0), np.zeros(0))] * len(questions)
    from scipy.special import ndtr  # start-up time

    shares = ndtr(np.concatenate([step * np.eye(size) for step in THREE_POINTS]))
    many = with_draws(scenario, inputs, shares)
    one = many.candidates[name]
    kept = tuple(fit.unknowns[place] for place in fit.kept)
    if one.known_by is not None and fit.given.known_by is not None:
        one = replace(one, known_by=replace(one.known_by, full=fit.given.known_by.full))
    fitted = with_values(one, kept, fit.values[None, list(fit.kept)])
    found = []
    for one_of in questions:
        moved = np.broadcast_to(one_of.measure(many, fitted, fitted), (shares.shape[0],))
        middle, high, low = one_of.scale * moved.reshape(THREE_POINTS.size, size)
        found.append(((high - low) / (2.0 * THREE_POINTS[1]), (high + low - 2.0 * middle) / 6.0))
    return found


def _crossing(cases: Mapping[str, Cases], name: str, rival: str, *,
              last: float) -> tuple[float, float]:
    """The first airspeed at which two pull alike [m/s], and how far it moves for a newton."""
    if rival not in cases or rival == name:
        raise FitError(f"crossover with {rival!r}: the scenario has "
                       f"{', '.join(key for key in cases if key != name)}")
    pair = (cases[name], cases[rival])

    def lead(v: float) -> float:
        pulls = [one.fly(np.array([v])).installed_thrust[0] for one in pair]
        return float(pulls[0] - pulls[1])

    speeds, _ = overtakings(pair, THRUST, search_grid(lowest=0.0, highest=last))
    if speeds.size == 0:
        raise FitError(f"crossover with {rival}: neither overtakes the other up to {last:g} m/s")
    return float(speeds[0]), -1.0 / slope_at(lead, float(speeds[0]))


def _variance(slopes: Array, covariance: Array) -> float:
    return max(float(slopes @ covariance @ slopes), 0.0)


def nearby(fit: FittedMachine) -> Array:
    """Values of the unknowns at the fit, and with each moved by a small step: (1 + unknowns,)."""
    scaled = fit.scaled + np.concatenate([np.zeros((1, fit.scaled.size)),
                                          STEP * np.eye(fit.scaled.size)])
    return values_of(fit.unknowns, scaled)


def next_readings(fit: FittedMachine, wanted: Answer) -> tuple[NextReading, ...]:
    """Readings still possible, the one that sharpens the answer most first."""
    possible, words = possible_readings(fit)
    shown = show(fit.given, possible, fit.unknowns, nearby(fit))
    values = np.stack([shown.values[name] for name in OBSERVED], axis=2)
    slopes = (values[1:] - values[0]) / STEP
    usual = np.stack([READ[name].usual.at(values[0, :, place])
                      for place, name in enumerate(OBSERVED)], axis=1)
    read = taken(fit.readings)
    watts, amps = OBSERVED.index("electrical_power"), OBSERVED.index("current")
    used = {watts if place == amps else place  # at a known voltage they say the same
            for place in range(len(OBSERVED)) if read[:, place].any()}
    sensible = taken(possible)
    found = []
    for row, state in enumerate(words):
        single = [(place,) for place in range(len(OBSERVED)) if sensible[row, place]]
        together = tuple(place for place in sorted(used) if sensible[row, place])
        for places in [*single, *([together] if len(together) > 1 else [])]:
            rows = slopes[:, row, list(places)].T / usual[row, list(places), None]
            if not np.all(np.isfinite(rows)):
                continue
            covariance = fit.scaled_covariance
            gain = covariance @ rows.T
            inner = np.eye(len(places)) + rows @ gain
            after = wanted.beside.deviation(_variance(
                wanted.slopes, covariance - gain @ np.linalg.solve(inner, gain.T)))
            names = [OBSERVED[place].replace("_", " ") for place in places]
            found.append(NextReading(state=state, instruments=" and ".join(names) if len(names) == 1
                                     else ALL, deviation=after,
                                     shrink=1.0 - after / wanted.deviation))
    found.sort(key=lambda one: one.deviation)
    # a single instrument is told once, where it does most; all together for every state
    first = {one.instruments: one for one in reversed(found)}
    return tuple(one for one in found if one.instruments == ALL or first[one.instruments] is one)


def possible_readings(fit: FittedMachine) -> tuple[BenchReadings, list[str]]:
    """States a person could still set up, on the drive setting used most."""
    unit = fit.given.unit
    # of settings used alike the first in the file
    setting = max(dict.fromkeys(fit.readings.setting), key=fit.readings.setting.count,
                  default=AS_FLOWN)
    there = np.array([word == setting for word in fit.readings.setting], dtype=bool)
    duties = fit.readings.duty[there & np.isfinite(fit.readings.duty)]
    volts = fit.readings.voltage
    # where none was read, what was run is run again on its own pack, which sags
    again = float(np.nanmedian(volts)) if np.isfinite(volts).any() else np.nan
    usual = again if np.isfinite(again) else float(np.asarray(unit.supply.voltage))
    own = np.nan
    rows: list[tuple[str, dict[str, float | bool]]] = [(AGAIN, {})]
    if isinstance(unit, Ducted):
        own = float(np.sqrt(4.0 / np.pi * np.asarray(unit.nozzle.exit_area)))
        rows += _of_duct(unit, own)
    rows += [(f"{100 * share:.0f} % of the voltage", {"voltage": share * usual})
             for share in (0.85, 0.6)]
    columns: dict[str, Any] = {
        name: [row.get(name, default) for _, row in rows] for name, default in (
            ("nozzle_diameter", own), ("outlet_blocked", False), ("inlet_blocked", False),
            ("voltage", again), ("orifice_diameter", np.nan),
            ("duty", float(np.median(duties)) if duties.size else np.nan))}
    count = len(rows)
    air = air_of(fit.readings)[0] if len(fit.readings) else fit.given.site.air()
    columns["air_temperature"] = float(np.mean(np.asarray(air.temperature)))
    columns["air_pressure"] = float(np.mean(np.asarray(air.pressure)))
    columns |= {name: np.ones(count) for name in OBSERVED if name != "current"}
    readings = bench_readings(setting=[setting] * count, **columns)
    return readings, [state for state, _ in rows]


def _of_duct(unit: Ducted, own: float) -> list[tuple[str, dict[str, float | bool]]]:
    """States of a machine with a nozzle of a diameter [m]."""
    widest, throat = (float(np.sqrt(4.0 / np.pi * np.asarray(area)))
                      for area in (unit.duct.area, unit.inlet.throat_area))
    return [*((f"nozzle of {1e3 * share * own:.3g} mm", {"nozzle_diameter": share * own})
              for share in (0.7, 0.8, 0.9, 1.1, 1.2, 1.35) if share * own <= widest),
            ("outlet blocked", {"outlet_blocked": True}),
            ("inlet blocked", {"inlet_blocked": True}),
            *((f"a plate with a hole of {1e3 * share * throat:.3g} mm before the inlet",
               {"orifice_diameter": share * throat}) for share in (0.5, 0.75))]
