"""From bench readings to a fitted machine: weighted least squares through the matched model.

Unknowns are counted in standard deviations of their priors, and every prior is a residual row of
its own: three readings then give a wide but sane answer, and thirty a narrow one. The spread of
conditions that were read (voltage, nozzle) is passed on to what they make the machine show, so that
the quantities of one row share it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import AS_FLOWN, BenchReadings, bench_readings
from thrustlapse.propulsor.anchored import as_typical
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.register import HEAD_SHAPE, POWER_SHAPE, REGISTER
from thrustlapse.rotor.map_shape import ShapedMap
from thrustlapse.rotor.stage_map import StageMap, exceeds_unity
from thrustlapse.study.bench_assumed import (
    assumed_unknowns,
    flow_unknowns,
    gain_unknowns,
    reading_unknowns,
    shape_unknowns,
    stated_unknowns,
)
from thrustlapse.study.bench_model import INPUTS, OBSERVED, show, taken, with_values
from thrustlapse.study.bench_unknowns import Unknown, setting_unknown, unknowns_of, values_of

STEP = 1e-4
"""Step of the finite differences, in standard deviations of the priors."""

STARTS = 24
"""Points drawn from the priors at which the fit is tried; the best of them are followed."""

FOLLOWED = 2

LINE = np.linspace(-2.6, 2.6, 14)
"""Deviations of its prior at which every unknown of the machine is tried beside a minimum: where
another limit of the drive would hold a reading's watts, the cost has a dip behind a rise."""

NEAR, APART = 10.0, 0.5
"""Squared deviations above a minimum up to which such a dip is followed, and as many more as the
minimum has above one for each reading; deviations of a prior from which on two minima are two."""

HOPS = 3
"""Times at most that a lower minimum is looked around."""

ALIKE = 2.0
"""Posterior deviations from which on a minimum that is not ruled out is mentioned."""

ROUNDS = 40
"""Steps at most; a fit takes five to ten."""

DAMPINGS = (0.0, 1e-3, 1e-2, 0.05, 0.2, 0.6, 2.0, 10.0, 50.0, 300.0)
"""Marquardt dampings that are tried at every step [-]."""

LONGEST = 2.0
"""Longest step, in deviations of a prior: beyond it lie machines that have no balance."""

GAIN = 1e-7
"""Gain of a step, over one plus the sum of squares, below which it is the last."""

HOPELESS, LITTLE = 20.0, 0.03
"""Squared deviations for each reading above which a fit is none, and the gain that is then no
longer worth a step: its last digits say nothing."""

BEST, TOO_GOOD, TRIED = 0.95, 0.01, 12
"""Efficiency of a stage that no machine has; how far above it a map may be, in shares of its mean
power; flows where that holds. Where nothing was read, a map would else give more than it takes."""

FEWEST = 2
"""Readings without which a bench is not worth fitting."""

HUBER = 1.5
"""Deviations beyond which a reading counts by its distance and no longer by the square."""

WORST = 300.0
"""Deviations that stand in for a reading the model cannot show at all."""

OUTLIER = 3.5
"""Standard deviations beyond which a reading is named."""

ENOUGH = 2.0
"""Readings for each unknown that they tell, from which on one that lies far off is the odd one."""

UNLIKELY = 0.01
"""Probability of chi-square below which readings and model are said to contradict each other."""

RULED_OUT = 0.02
"""Probability below which what held the watts is ruled out."""

ODD_SHARE = 0.25
"""Share of the readings that may lie far off; where more do, the description is wrong, not they."""


class FitError(ValueError):
    """Readings that cannot be fitted to this candidate; the message says why and what would do."""


@dataclass(frozen=True, kw_only=True)
class Residual:
    """One reading against the fit: SI values, its deviations, and its line in the file."""

    row: int
    quantity: str
    read: float
    fitted: float
    spread: float

    @property
    def deviations(self) -> float:
        """Reading less fit, over the spread."""
        return (self.read - self.fitted) / self.spread


@dataclass(frozen=True, kw_only=True)
class FittedMachine:
    """A fitted machine.

    ``values`` and ``covariance`` of all ``unknowns`` in SI, bench settings among them; ``scaled``,
    ``scaled_covariance`` in deviations of the priors; ``singular`` and ``combinations`` of the
    readings' own Jacobian in that scale, weakest first: below 1 the prior says more than they do.
    ``chi_square`` on ``freedom`` counts, ``probability`` of as much or more. ``robust`` is True
    where outliers count less in the answer; ``robust_shift`` is how far each unknown moves, in
    posterior deviations, in the fit that does not answer. ``whitened`` are readings less fit in the
    order of ``residuals``, made independent within a row, ``jacobian`` their slopes against the
    scaled unknowns. ``messages`` are sentences to read before anything is believed. ``candidate``
    carries the fitted values.

    Of a machine known by readings whose watts were held by an unknown law, it is the likelier one's
    fit; ``likely`` is its probability, and ``rival`` the fit of the other where that is not ruled
    out (:data:`RULED_OUT`).
    """

    candidate: Candidate
    given: Candidate
    readings: BenchReadings
    unknowns: tuple[Unknown, ...]
    values: Array
    covariance: Array
    scaled: Array
    scaled_covariance: Array
    singular: Array
    combinations: tuple[str, ...]
    residuals: tuple[Residual, ...]
    chi_square: float
    freedom: int
    probability: float
    widened: float
    robust: bool
    robust_shift: Array
    whitened: Array
    jacobian: Array
    largest_flow: float
    messages: tuple[str, ...]
    likely: float = 1.0
    rival: FittedMachine | None = None

    @property
    def kept(self) -> tuple[int, ...]:
        """Places of the unknowns that belong to the machine."""
        return tuple(place for place, one in enumerate(self.unknowns) if one.kept)

    @property
    def velocity_coefficient(self) -> float:
        """Velocity coefficient of the fitted nozzle [-]; 1 for a rotor without one."""
        unit = self.candidate.unit
        if not isinstance(unit, Ducted):
            return 1.0
        return float(np.asarray(unit.nozzle.velocity_coefficient))

    @property
    def of_bench(self) -> Array:
        """Covariance of the scaled unknowns with all that is assumed held: the readings alone.

        What is assumed are the register's entries; their rows and columns are zero.
        """
        own = _own(self.unknowns)
        held = np.zeros_like(self.scaled_covariance)
        held[np.ix_(own, own)] = np.linalg.inv(np.linalg.inv(self.scaled_covariance)[np.ix_(
            own, own)])
        return held

    @property
    def correlation(self) -> Array:
        """Correlation of the unknowns [-]."""
        spread = np.sqrt(np.diag(self.scaled_covariance))
        return np.asarray(self.scaled_covariance / np.outer(spread, spread))


def _own(unknowns: tuple[Unknown, ...]) -> BoolArray:
    """Which unknowns are the machine's and the bench's own, and no entry of the register."""
    return np.array([bool(one.reading) or (one.prior is None and not one.group)
                     for one in unknowns], dtype=bool)


class _Problem:
    """Whitened residuals and their Jacobian, of any number of trials at once.

    A trial is a set of scaled unknowns for one of the ``benches``, which share the plan of the
    first: its settings, its air, what is shut and what is read. Trials of all benches are shown in
    one call, which costs little more than one alone.
    """

    def __init__(self, candidate: Candidate, benches: Sequence[BenchReadings],
                 unknowns: tuple[Unknown, ...]) -> None:
        self.candidate, self.unknowns, self.benches = candidate, unknowns, benches
        self.readings = benches[0]
        self.mask = taken(benches[0])
        self.read = np.stack([_columns(one, OBSERVED) for one in benches])
        self.spread = np.stack([np.stack([one.spread[name] for name in OBSERVED], axis=1)
                                for one in benches])
        self.odds = np.zeros(len(benches))
        self.told = {name: np.stack([getattr(one, name) for one in benches]) for name in INPUTS}
        self.told_spread = {name: np.stack([one.spread[name] for one in benches])
                            for name in INPUTS}
        self.low, self.high = (np.array(ends) for ends in zip(*(one.reach for one in unknowns),
                                                              strict=True))
        self.own = np.flatnonzero(_own(unknowns))
        self.count = int(np.count_nonzero(self.mask))
        self.root, self.marginal = self._weights(np.zeros((len(benches), len(unknowns))))

    def shown(self, scaled: Array, bench: IntArray, shifted: dict[str, Array] | None = None,
              off: dict[str, float] | None = None) -> tuple[Array, StageMap | None]:
        """Readings, (trials, rows, quantities), and the map of every trial."""
        told = {name: value[bench] for name, value in self.told.items()} | (shifted or {})
        found = show(self.candidate, self.readings, self.unknowns,
                     values_of(self.unknowns, scaled), shifted=told, off=off,
                     start=self.odds[bench, None])
        if self.candidate.known_by is not None:
            self.odds[bench] = found.odds[:, 0]
        return np.stack([found.values[name] for name in OBSERVED], axis=2), found.stage

    def _weights(self, scaled: Array) -> tuple[Array, Array]:
        """Lower roots of each row's covariance, what was not read left out; and deviations.

        No smooth bend of a typical map follows a machine's every turn, such as its stall: so each
        row's map may be off by as much as measured lines are from such a bend.
        """
        spread = np.where(self.mask, self.spread, 1.0)
        quantities = np.arange(spread.shape[2])
        cover = np.zeros((*spread.shape, spread.shape[2]))
        cover[:, :, quantities, quantities] = spread**2
        every = np.arange(len(scaled))
        base, _ = self.shown(scaled, every)

        def count_in(change: Array, known: BoolArray) -> None:
            change = np.where(self.mask & known[..., None] & np.isfinite(change), change, 0.0)
            np.add(cover, change[..., :, None] * change[..., None, :], out=cover)

        for name in INPUTS:
            value, width = self.told[name], self.told_spread[name]
            known = np.isfinite(value) & np.isfinite(width) & (width > 0.0)
            if known.any():
                moved = np.where(known, value + 0.1 * width, value)
                count_in(10.0 * (self.shown(scaled, every, {name: moved})[0] - base), known)
        if self.candidate.known_by is not None:
            readings = self.readings
            shut = (readings.inlet_blocked | readings.outlet_blocked)[:, None]
            wide = REGISTER["stalled fan"].spread.deviation
            for side, entry in (("head", HEAD_SHAPE), ("power", POWER_SHAPE)):
                usual = REGISTER[entry].spread.deviation
                change = self.shown(scaled, every, off={side: float(np.exp(0.1 * usual))})[0] - base
                stalled = shut & (self.candidate.kind == "axial fan")
                count_in(10.0 * change * np.where(stalled, wide / usual, 1.0),
                         np.ones(base.shape[:2], dtype=bool))
        return (np.asarray(np.linalg.cholesky(cover)),
                np.asarray(np.sqrt(np.einsum("brii->bri", cover))))

    def reweigh(self, scaled: Array) -> None:
        """Pass the spread of conditions on as it is at a point of each bench."""
        self.root, self.marginal = self._weights(scaled)

    def residuals(self, scaled: Array, bench: IntArray) -> Array:
        """Whitened readings less model, the priors, what no map can be: (trials, residuals)."""
        shown, stage = self.shown(scaled, bench)
        miss = np.where(self.mask, self.read[bench] - shown, 0.0)
        lost = ~np.isfinite(miss)
        white = np.linalg.solve(self.root[bench], np.where(lost, 0.0, miss)[..., None])[..., 0]
        white = np.where(lost, WORST, white)
        return np.concatenate([white[:, self.mask], -scaled, np.broadcast_to(
            self._too_good(stage), (len(scaled), TRIED))], axis=1)

    def _too_good(self, stage: StageMap | None) -> Array:
        """How far a map gives more than the best machine would, at flows of the map."""
        unit = self.candidate.unit
        if not isinstance(unit, Ducted) or stage is None:
            return np.zeros(TRIED)  # momentum theory bounds every point of an open rotor
        given = unit.rotor.stage
        share = np.linspace(0.05, 1.0, TRIED)
        flow = share * np.asarray(stage.highest_flow)
        usual = float(np.mean(np.abs(given.power(share * float(np.asarray(given.highest_flow))))))
        excess = stage.head(flow) * flow - BEST * np.asarray(stage.power(flow))
        excess = np.where(np.isnan(excess), WORST * TOO_GOOD * usual, excess)
        return np.asarray(np.maximum(excess, 0.0) / (TOO_GOOD * usual))

    def linear(self, scaled: Array, bench: IntArray) -> tuple[Array, Array]:
        """Residuals and their columns by finite differences, all in one batch."""
        trials, size = scaled.shape
        sign = np.where(scaled + STEP <= self.high, STEP, -STEP)
        moved = scaled[:, None, :] + np.concatenate(
            [np.zeros((trials, 1, size)), sign[:, :, None] * np.eye(size)], axis=1)
        found = self.residuals(moved.reshape(-1, size), np.repeat(bench, size + 1)).reshape(
            trials, size + 1, -1)
        slopes = (found[:, 1:] - found[:, :1]) / sign[:, :, None]
        return found[:, 0], np.asarray(np.swapaxes(slopes, 1, 2))

    def cost(self, residuals: Array, robust: bool) -> Array:
        """Sum of squares; ``robust``: of readings far off only by their distance (Huber)."""
        square = residuals**2
        if robust:  # on readings alone: a prior is no reading that could be wrong
            part = square[..., :self.count]
            far = 2.0 * HUBER * np.sqrt(part) - HUBER**2
            square[..., :self.count] = np.where(part > HUBER**2, far, part)
        return np.asarray(square.sum(axis=-1))

    def weight(self, residuals: Array) -> Array:
        """Weights of Huber's estimate, 1 for the priors."""
        out = np.ones_like(residuals)
        part = np.abs(residuals[..., :self.count])
        out[..., :self.count] = np.where(part > HUBER, HUBER / np.maximum(part, HUBER), 1.0)
        return out

    def solve(self, start: Array, bench: IntArray, *, robust: bool = False) -> tuple[Array, Array]:
        """Scaled unknowns at a minimum from each start, and twice the cost there.

        Damped Gauss-Newton: of a ladder of dampings the best step is taken, all starts at once.
        """
        scaled = np.clip(start, self.low, self.high)
        cost = self.cost(self.residuals(scaled, bench), robust)
        going = np.arange(len(scaled))
        for _ in range(ROUNDS):
            here, whose = scaled[going], bench[going]
            found, columns = self.linear(here, whose)
            weights = self.weight(found)[..., None] if robust else 1.0
            slope = np.einsum("kri,kr->ki", columns * weights, found)
            stuck = ((here <= self.low) & (slope > 0.0)) | ((here >= self.high) & (slope < 0.0))
            square = np.swapaxes(columns, 1, 2) @ (columns * weights)
            square = np.where(stuck[:, :, None] | stuck[:, None, :], 0.0, square)
            diagonal = np.einsum("kii->ki", square) + stuck
            size = scaled.shape[1]
            damped = square[:, None] + (np.array(DAMPINGS)[:, None, None]
                                        * np.eye(size) * diagonal[:, None, None, :])
            damped = damped + np.eye(size) * stuck[:, None, None, :]
            step = np.linalg.solve(damped, np.broadcast_to(
                np.where(stuck, 0.0, -slope)[:, None, :, None], (*damped.shape[:3], 1)))[..., 0]
            step = step * np.minimum(1.0, LONGEST / np.max(np.abs(step), axis=2, initial=LONGEST,
                                                           keepdims=True))
            trial = np.clip(here[:, None, :] + step, self.low, self.high)
            costs = self.cost(self.residuals(trial.reshape(-1, size), np.repeat(
                whose, len(DAMPINGS))), robust).reshape(len(going), -1)
            best = np.argmin(costs, axis=1)
            chosen = costs[np.arange(len(going)), best]
            better = chosen < cost[going]
            scaled[going] = np.where(better[:, None], trial[np.arange(len(going)), best], here)
            gained = np.where(better, cost[going] - chosen, 0.0)
            cost[going] = np.where(better, chosen, cost[going])
            least = np.where(cost[going] > HOPELESS * self.count, LITTLE, GAIN)
            going = going[gained > least * (1.0 + cost[going])]
            if going.size == 0:
                break
        return scaled, cost

    def dips(self, scaled: Array, cost: Array, bench: IntArray) -> tuple[BoolArray, Array]:
        """Which minima have another dip along one of their own unknowns, and the lowest of each."""
        every, own = np.arange(len(scaled)), np.arange(self.own.size)
        line = np.sort(np.concatenate([np.broadcast_to(LINE, (every.size, own.size, LINE.size)),
                                       scaled[:, self.own, None]], axis=2), axis=2)
        line = np.clip(line, self.low[self.own, None], self.high[self.own, None])
        tried = np.tile(scaled[:, None, None, :], (*line.shape[1:], 1))
        tried[:, own, :, self.own] = np.swapaxes(line, 0, 1)
        tried = tried.reshape(-1, scaled.shape[1])
        costs = self.cost(self.residuals(tried, np.repeat(bench, line[0].size)), False).reshape(
            line.shape)
        beside = np.pad(costs, ((0, 0), (0, 0), (1, 1)), constant_values=np.inf)
        worth = cost + NEAR + np.maximum(cost - self.count, 0.0)
        dip = ((costs < beside[..., :-2]) & (costs <= beside[..., 2:])
               & (line != scaled[:, self.own, None]) & (costs < worth[:, None, None]))
        depth = np.where(dip, costs, np.inf).reshape(every.size, -1)
        lowest = np.argmin(depth, axis=1, keepdims=True)
        return (dip.any(axis=(1, 2)),
                tried.reshape(every.size, -1, scaled.shape[1])[every, lowest[:, 0]])


def _columns(readings: BenchReadings, names: tuple[str, ...]) -> Array:
    return np.stack([getattr(readings, name) for name in names], axis=1)


def fit_bench(candidate: Candidate, readings: BenchReadings, *,
              chosen: tuple[str, ...] | None = None, check_robust: bool = True,
              starts: int = STARTS, fewest: int = FEWEST) -> FittedMachine:
    """Fit a candidate to readings of it.

    Parameters
    ----------
    candidate : Candidate
        As the scenario describes it
    readings : BenchReadings
    chosen : tuple of str, optional
        Keys of the unknowns to fit; all that a bench can tell where not given
    check_robust : bool
        Fit a second time with outliers counting less
    starts : int
        Points drawn from the priors to start from, beside the scenario's own
    fewest : int
        Readings that a fit needs: one alone only moves what is assumed

    Raises
    ------
    FitError
        Too few readings, readings that this kind of machine cannot have, an unknown that does not
        exist, or readings so far off that units or machine must be wrong.

    Notes
    -----
    Of a machine known by readings the bench alone counts; its own table says where the fit starts.
    """
    return fit_benches(candidate, (readings,), chosen=chosen, check_robust=check_robust,
                       starts=starts, fewest=fewest)[0]


def fit_benches(candidate: Candidate, benches: Sequence[BenchReadings], *,
                chosen: tuple[str, ...] | None = None, check_robust: bool = True,
                starts: int = STARTS, fewest: int = FEWEST) -> tuple[FittedMachine, ...]:
    """Fit a candidate to several benches of one plan, each for itself, in one go.

    They share what is shut, the settings, the air and what is read; see :func:`fit_bench`.
    """
    given = _bare(candidate)
    known = given.known_by
    for one in benches:
        if np.count_nonzero(taken(one)) < fewest:
            raise FitError(f"too few readings: {np.count_nonzero(taken(one))} that a model can be "
                           f"held against; at least {fewest} are needed, such as thrust and "
                           "electrical power with the nozzle as it came")
    if known is None or all(one.entry != "drive law" for one in candidate.assumed):
        return _fitted(given, benches, chosen=chosen, check_robust=check_robust, starts=starts)
    laws = [_fitted(replace(given, known_by=replace(known, full=full)), benches, chosen=chosen,
                    check_robust=check_robust, starts=starts) for full in (False, True)]
    return tuple(_likelier(*pair) for pair in zip(*laws, strict=True))


def unread(candidate: Candidate) -> FittedMachine:
    """The machine as it is described, as a fit to no reading: every prior is left as it is."""
    given, nothing = _bare(candidate), np.zeros(0)
    readings = bench_readings(thrust=nothing)
    unknowns = _of_machine(given, readings)
    size = len(unknowns)
    scaled = np.zeros(size)
    values, slopes = _values(unknowns, scaled)
    return FittedMachine(
        candidate=fitted_candidate(given, unknowns, values), given=given,
        readings=readings, unknowns=unknowns, values=values,
        covariance=slopes @ slopes.T, scaled=scaled, scaled_covariance=np.eye(size),
        singular=np.zeros(size), combinations=("",) * size, residuals=(), chi_square=0.0,
        freedom=0, probability=1.0, widened=1.0, robust=False, robust_shift=np.zeros(size),
        whitened=nothing, jacobian=np.zeros((0, size)), largest_flow=0.0, messages=())


def _values(unknowns: tuple[Unknown, ...], scaled: Array) -> tuple[Array, Array]:
    """Values in SI at scaled unknowns, and their slopes against them."""
    step = STEP * np.eye(len(unknowns))
    moved = values_of(unknowns, scaled + step) - values_of(unknowns, scaled - step)
    return values_of(unknowns, scaled[None])[0], moved.T / (2.0 * STEP)


def _likelier(*fits: FittedMachine) -> FittedMachine:
    """The likelier of two fits of one bench, by their evidence (Laplace's approximation)."""
    evidence = np.array([0.5 * (np.linalg.slogdet(one.scaled_covariance)[1] - one.chi_square)
                         for one in fits])
    better = int(np.argmax(evidence))
    share = float(1.0 / (1.0 + np.exp(-abs(evidence[1] - evidence[0]))))
    law = ("a regulated cap held the watts", "the watts were full voltage's")[better]
    open_still = share < 1.0 - RULED_OUT
    return replace(
        fits[better], likely=share, rival=fits[1 - better] if open_still else None,
        messages=(*fits[better].messages, f"{law}, with a probability of {100.0 * share:.0f} %" + (
            ": both are counted; say which by supply in the table of readings" if open_still
            else "")))


def _fitted(given: Candidate, benches: Sequence[BenchReadings], *,
            chosen: tuple[str, ...] | None, check_robust: bool,
            starts: int) -> tuple[FittedMachine, ...]:
    checked = [_checked(given, one, chosen) for one in benches]
    unknowns = checked[0][0]
    problem = _Problem(given, [filled for _, filled in checked], unknowns)
    random = np.random.default_rng(20)
    size = len(unknowns)
    tries = np.concatenate([np.zeros((1, size)), np.clip(
        random.standard_normal((starts, size)), problem.low, problem.high)])
    every = np.arange(len(benches))
    costs = np.sum(problem.residuals(np.tile(tries, (every.size, 1)), np.repeat(
        every, len(tries)))**2, axis=1).reshape(every.size, -1)
    followed = np.argsort(costs, axis=1)[:, :FOLLOWED]
    found, cost = problem.solve(tries[followed].reshape(-1, size),
                                np.repeat(every, followed.shape[1]))
    scaled, least, others, above = _lowest(problem, found.reshape(every.size, -1, size),
                                           cost.reshape(every.size, -1))
    # where no reading is met, conditions' spreads seen through the fit say nothing of the readings
    met = least <= HOPELESS * problem.count
    problem.reweigh(np.where(met[:, None], scaled, 0.0))
    scaled, cost = problem.solve(scaled, every)
    robust = problem.solve(scaled, every, robust=True)[0] if check_robust else scaled
    answered, weights, hangs = _answered(problem, scaled, robust, every)
    residuals, columns = problem.linear(answered, every)
    return tuple(_told(problem, given, place, scaled=answered[place], whitened=residuals[place],
                       jacobian=columns[place], weights=weights[place], hangs=bool(hangs[place]),
                       other=(robust if not hangs[place] else scaled)[place], far=others[place],
                       above=float(above[place]))
                 for place in range(len(benches)))


def _lowest(problem: _Problem, found: Array,
            cost: Array) -> tuple[Array, Array, Array, Array]:
    """The lowest minimum of each bench, its cost, another that is not ruled out, or NaN, and how
    far that one's cost lies above.

    ``found`` (benches, minima, unknowns) and ``cost`` (benches, minima) are those known so far.
    What lies behind a rise along one unknown of the lowest is looked at too.
    """
    every = going = np.arange(len(found))
    for _ in range(HOPS):
        best = np.argmin(cost, axis=1)[going]
        dip, start = problem.dips(found[going, best], cost[going, best], going)
        if not dip.any():
            break
        least, going = cost[going, best][dip], going[dip]
        ends, at = np.zeros(found[:, 0].shape), np.full(len(found), np.inf)
        ends[going], at[going] = problem.solve(start[dip], going)
        found = np.concatenate([found, ends[:, None]], axis=1)
        cost = np.concatenate([cost, at[:, None]], axis=1)
        going = going[at[going] < least]
        if not going.size:
            break
    best = np.argmin(cost, axis=1)
    scaled, lowest = found[every, best], cost[every, best]
    away = np.abs(found - scaled[:, None])[..., problem.own].max(axis=2, initial=0.0)
    rival = np.where(away > APART, cost - lowest[:, None], np.inf)
    above = np.min(rival, axis=1)
    likely = above < -2.0 * np.log(RULED_OUT)
    other = found[every, np.argmin(rival, axis=1)]
    return scaled, lowest, np.where(likely[:, None], other, np.nan), above


def _bare(candidate: Candidate) -> Candidate:
    """The candidate without the form that its readings or an earlier fit gave its map, and by no
    more readings than thrust and watts."""
    unit, known = candidate.unit, candidate.known_by
    if not isinstance(unit, Ducted) or not isinstance(unit.rotor.stage, ShapedMap):
        return candidate
    own = unit.rotor.stage.stage
    if known is not None:
        unit = as_typical(unit, known)
        known = replace(known, odds=0.0, power=0.0, shaft_speed=None, suction=None,
                        second_exit_area=None, second_thrust=None)
    return replace(candidate, known_by=known,
                   unit=replace(unit, rotor=replace(unit.rotor, stage=own)))


def _answered(problem: _Problem, scaled: Array, robust: Array,
              every: IntArray) -> tuple[Array, Array, BoolArray]:
    """What answers, weights of its residuals, and whether that is the robust fit.

    It is where a reading, or a few, lie far off the robust fit and there are at least
    :data:`ENOUGH` readings for every unknown that they tell.
    """
    residuals, columns = problem.linear(robust, every)
    singular = np.linalg.svd(columns[:, :problem.count], compute_uv=False)
    told = np.sum(singular**2 / (1.0 + singular**2), axis=1)
    far = np.mean(np.abs(residuals[:, :problem.count]) > OUTLIER, axis=1)
    hangs = (far > 0.0) & (far <= ODD_SHARE) & (problem.count >= ENOUGH * told)
    weights = np.where(hangs[:, None], problem.weight(residuals), 1.0)
    return np.where(hangs[:, None], robust, scaled), weights, np.asarray(hangs)


def _checked(candidate: Candidate, readings: BenchReadings,
             chosen: tuple[str, ...] | None) -> tuple[tuple[Unknown, ...], BenchReadings]:
    if not isinstance(candidate.unit, Ducted):
        _open_rotor_read(candidate.name, readings)
    own = _of_machine(candidate, readings)
    keys = [one.key for one in own]
    wrong = [key for key in chosen or () if key not in keys]
    if wrong:
        raise FitError(f"no unknown of this candidate: {', '.join(wrong)}; there are "
                       f"{', '.join(keys)}")
    filled = with_default_uncertainty(readings)
    mask = taken(filled)
    per_row = np.count_nonzero(mask, axis=1)
    settings = tuple(dict.fromkeys(
        word for word, count in zip(filled.setting, per_row, strict=True) if count))
    told_duty = np.isfinite(filled.duty)
    known = candidate.known_by
    own_setting = None if known is None else _own_setting(filled, settings, float(np.asarray(
        known.electrical_power)))
    extra = []
    for word in settings:
        if word in (own_setting, AS_FLOWN):
            continue
        one = setting_unknown(candidate.unit, word, full=known is not None and bool(known.full))
        rows = np.array([setting == word for setting in filled.setting])
        if one.key.endswith(".duty") and (told_duty[rows].all()
                                          or len({*settings} - {AS_FLOWN}) == 1):
            continue  # full voltage, or the duty was read
        extra.append(one)
    return (*(one for one in own if chosen is None or one.key in chosen), *extra,
            *gain_unknowns(readings)), filled


def _of_machine(candidate: Candidate, readings: BenchReadings) -> tuple[Unknown, ...]:
    """All unknowns of the machine itself."""
    assumed = (*assumed_unknowns(candidate), *stated_unknowns(candidate))
    taken_over = {one.key for one in assumed}
    return (*(one for one in unknowns_of(candidate) if one.key not in taken_over), *assumed,
            *flow_unknowns(candidate, readings),
            *(shape_unknowns(candidate) if isinstance(candidate.unit, Ducted) else ()),
            *reading_unknowns(candidate))


def _open_rotor_read(name: str, readings: BenchReadings) -> None:
    """Refuse readings that only a ducted machine has."""
    of_ducts = ("nozzle_diameter", "orifice_diameter", "static_pressure", "suction")
    wrong = [one.replace("_", " ") for one in of_ducts if np.isfinite(
        getattr(readings, one)).any()]
    if wrong or np.any(readings.inlet_blocked | readings.outlet_blocked):
        raise FitError(f"{name} is an open rotor, and the readings hold "
                       f"{', '.join(wrong) or 'a blocked inlet or outlet'}: are they another "
                       "machine's?")


def _own_setting(readings: BenchReadings, settings: tuple[str, ...], power: float) -> str:
    """The setting at which a machine is known by its readings: of the watts [W] nearest to them."""
    rows = {word: np.array([setting == word for setting in readings.setting]) for word in settings}
    watts = {word: float(np.nanmedian(readings.electrical_power[there]))
             for word, there in rows.items() if np.isfinite(readings.electrical_power[there]).any()}
    return min(watts, key=lambda word: abs(np.log(watts[word] / power))) if watts else settings[0]


def _told(problem: _Problem, candidate: Candidate, place: int, scaled: Array, whitened: Array,
          jacobian: Array, weights: Array, hangs: bool, other: Array,
          far: Array, above: float) -> FittedMachine:
    from scipy.special import gammaincc

    unknowns, count = problem.unknowns, problem.count
    chi_square = float(np.sum(whitened**2))
    probability = float(gammaincc(0.5 * count, 0.5 * chi_square))
    # readings that scatter more than stated: their spread was too small, and so is the answer's
    near = np.abs(whitened[:count]) <= OUTLIER if hangs else np.ones(count, dtype=bool)
    left = float(np.sum(whitened[:count][near]**2) + np.sum(whitened[count:]**2))
    counted = int(np.count_nonzero(near))
    unlikely = float(gammaincc(0.5 * counted, 0.5 * left)) < 0.05
    widened = max(1.0, float(np.sqrt(left / counted))) if unlikely else 1.0
    weights = np.where(np.arange(weights.size) < count, weights / widened**2, 1.0)
    covariance: Array = np.asarray(np.linalg.inv(jacobian.T @ (weights[:, None] * jacobian)),
                                   dtype=float)
    values, slopes = _values(unknowns, scaled)
    told = {name: value[place] for name, value in problem.told.items()}
    shown = show(candidate, problem.readings, unknowns, values[None], shifted=told)
    fitted = np.stack([shown.values[name][0] for name in OBSERVED], axis=1)
    read, marginal = problem.read[place], problem.marginal[place]
    residuals = tuple(
        Residual(row=int(problem.readings.row[row]), quantity=OBSERVED[column],
                 read=float(read[row, column]), fitted=float(fitted[row, column]),
                 spread=float(marginal[row, column]))
        for row, column in np.argwhere(problem.mask))
    strength, words = _told_apart(unknowns, jacobian[:count])
    fit = FittedMachine(
        candidate=fitted_candidate(candidate, unknowns, values), given=candidate,
        readings=problem.benches[place], unknowns=unknowns, values=values,
        covariance=slopes @ covariance @ slopes.T, scaled=scaled,
        scaled_covariance=covariance, singular=strength, combinations=words,
        residuals=residuals, chi_square=chi_square, freedom=count, probability=probability,
        widened=widened, robust=hangs,
        robust_shift=(other - scaled) / np.sqrt(np.diag(covariance)),
        whitened=whitened[:count], jacobian=jacobian[:count],
        largest_flow=float(np.nanmax(shown.flow)), messages=())
    return replace(fit, messages=(*_messages(fit, problem), *_another(fit, far, above)))


def _told_apart(unknowns: tuple[Unknown, ...],
                jacobian: Array) -> tuple[Array, tuple[str, ...]]:
    """How strongly readings tell each combination of the unknowns, weakest first, and which."""
    _, singular, vectors = np.linalg.svd(jacobian, full_matrices=True)
    strength = np.zeros(len(unknowns))
    strength[:singular.size] = singular
    order = np.argsort(strength)
    return strength[order], tuple(combination(unknowns, vectors[place]) for place in order)


def combination(unknowns: tuple[Unknown, ...], vector: Array) -> str:
    """A direction among the unknowns in words: what would have to move together."""
    vector = vector * np.sign(vector[int(np.argmax(np.abs(vector)))])
    main = [place for place in np.argsort(-np.abs(vector)) if abs(vector[place]) > 0.3]
    return " with ".join(f"{'more' if vector[place] > 0.0 else 'less'} {unknowns[place].words}"
                         for place in main)


def fitted_candidate(candidate: Candidate, unknowns: tuple[Unknown, ...],
                     values: Array) -> Candidate:
    """The candidate with fitted values; drive settings of the bench stay on the bench.

    ``values`` (unknowns,) for one machine, or (sets, unknowns) for many with fields (sets, 1).
    """
    kept = [place for place, one in enumerate(unknowns) if one.kept]
    sets = np.atleast_2d(values)[:, kept]
    made = with_values(candidate, tuple(unknowns[place] for place in kept), sets)
    return replace(made, unit=_single(made.unit)) if np.ndim(values) == 1 else made


def _single(part: Any) -> Any:
    """Fields of shape (1, 1) as plain numbers."""
    if isinstance(part, np.ndarray) and part.shape == (1, 1):
        return float(part[0, 0])
    if is_dataclass(part) and not isinstance(part, type):
        return replace(part, **{item.name: _single(getattr(part, item.name))
                                for item in fields(part)
                                if item.init and item.metadata.get("per_element", True)})
    return part


def _outlier(one: Residual) -> str:
    """What to say of a reading that lies far off."""
    words = one.quantity.replace("_", " ")
    if not np.isfinite(one.fitted):
        return (f"line {one.row}: the machine cannot be run like that by the model, so its {words} "
                "says nothing")
    ratio = one.read / one.fitted if one.fitted else np.inf
    hint = "" if 0.5 < ratio < 2.0 else f"; it is {ratio:.3g} times what fits: is its unit right?"
    return (f"line {one.row}: {words} lies {one.deviations:+.1f} deviations off what fits the "
            f"rest{hint}")


def _messages(fit: FittedMachine, problem: _Problem) -> list[str]:
    found = list(fit.readings.told)
    for one, scaled, low, high in zip(fit.unknowns, fit.scaled, problem.low, problem.high,
                                      strict=True):
        for end, side, meaning in ((low, "lowest", one.at_low), (high, "highest", one.at_high)):
            if abs(scaled - end) < 1e-3:
                found.append(f"{one.words} sits on the {side} value that is allowed: {meaning}")
    far = [one for one in fit.residuals if not abs(one.deviations) <= OUTLIER]
    found += [_outlier(one) for one in sorted(far, key=lambda r: -abs(r.deviations))[:8]]
    if fit.probability < UNLIKELY:
        found.append(
            f"the readings do not fit together, or not the model (chi-square {fit.chi_square:.0f}, "
            f"about {fit.freedom} expected): all deviations are widened {fit.widened:.2g} times")
    moved = int(np.argmax(np.abs(fit.robust_shift)))
    if fit.robust:
        found.append("the answer comes from the fit in which such readings count less, since "
                     "enough others hold together")
    elif abs(fit.robust_shift[moved]) > 1.0:
        found.append(f"with outliers counting less, {fit.unknowns[moved].words} moves by "
                     f"{abs(fit.robust_shift[moved]):.1f} of its deviations: the answer hangs on "
                     "the readings named above")
    words = [one.words for one, left in zip(fit.unknowns, np.diag(fit.scaled_covariance),
                                            strict=True)
             if left > 0.64 and one.prior is None and not one.group]
    if words:
        found.append(f"{', '.join(words)} could not be measured from these readings; a typical "
                     f"value is used")
    return [*found, *(_of_its_map(fit, fit.candidate.unit)
                      if isinstance(fit.candidate.unit, Ducted) else ())]


def _another(fit: FittedMachine, scaled: Array, above: float) -> tuple[str, ...]:
    """What to say of another minimum that is not ruled out: how much less likely it is, and which
    unknown it has elsewhere."""
    kept = list(fit.kept)
    away = (scaled - fit.scaled)[kept] / np.sqrt(np.diag(fit.scaled_covariance)[kept])
    if not np.isfinite(scaled).all() or not np.any(np.abs(away) > ALIKE):
        return ()
    most = int(np.argmax(np.abs(away)))
    way, words = "more" if away[most] > 0.0 else "less", fit.unknowns[kept[most]].words
    less = np.exp(0.5 * above)
    return (f"another machine fits these readings too, {less:.2g} times less likely, "
            f"with {abs(away[most]):.1f} deviations {way} {words}: what is stated here is of "
            "the likelier alone",)


def _of_its_map(fit: FittedMachine, unit: Ducted) -> list[str]:
    """What to say of a fitted map."""
    found = []
    reach = float(np.asarray(unit.rotor.stage.highest_flow))
    if fit.given.known_by is not None:
        found.append("the map is a typical one, bent until it meets these readings: for machines "
                     "of other shapes the stated width is too narrow more often than it says, "
                     "most of very good ones; do not rely on a narrow one")
    if fit.largest_flow > reach:
        found.append(f"the readings reach a flow coefficient of {fit.largest_flow:.4g}, beyond the "
                     f"map's end at {reach:.4g}: let the map reach farther")
    if bool(np.any(exceeds_unity(unit.rotor.stage))):
        found.append("the fitted map gives the air more power than its shaft takes somewhere: "
                     "readings and description contradict each other, and no candidate is written")
    return found
