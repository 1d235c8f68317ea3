"""From bench readings to a fitted machine: weighted least squares through the matched model.

Unknowns are counted in standard deviations of their priors, and every prior is a residual row of
its own: three readings then give a wide but sane answer, and thirty a narrow one. The spread of
conditions that were read (voltage, nozzle) is passed on to what they make the machine show, so that
the quantities of one row share it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.bench.readings import BenchReadings
from thrustlapse.bench.usual_spread import with_usual_spread
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.stage_map import exceeds_unity
from thrustlapse.study.bench_model import INPUTS, OBSERVED, show, taken, with_values
from thrustlapse.study.bench_unknowns import Unknown, setting_unknown, unknowns_of

STEP = 1e-4
"""Step of the finite differences, in standard deviations of the priors."""

STARTS = 24
"""Points drawn from the priors at which the fit is tried; the best of them are followed."""

FOLLOWED = 2

WORST = 30.0
"""Deviations that stand in for a reading the model cannot show at all."""

OUTLIER = 3.5
"""Standard deviations beyond which a reading is named."""

UNLIKELY = 0.01
"""Probability of chi-square below which readings and model are said to contradict each other."""


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
    ``chi_square`` on ``freedom`` counts, ``probability`` of as much or more. ``robust_shift`` is
    how far each unknown moves, in posterior deviations, when outliers count less. ``messages`` are
    sentences to read before anything is believed. ``candidate`` carries the fitted values.
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
    robust_shift: Array
    largest_flow: float
    messages: tuple[str, ...]

    @property
    def kept(self) -> tuple[int, ...]:
        """Places of the unknowns that belong to the machine."""
        return tuple(place for place, one in enumerate(self.unknowns) if one.kept)

    @property
    def correlation(self) -> Array:
        """Correlation of the unknowns [-]."""
        spread = np.sqrt(np.diag(self.scaled_covariance))
        return np.asarray(self.scaled_covariance / np.outer(spread, spread))


class _Problem:
    """Whitened residuals and their Jacobian."""

    def __init__(self, candidate: Candidate, readings: BenchReadings,
                 unknowns: tuple[Unknown, ...]) -> None:
        self.candidate, self.readings, self.unknowns = candidate, readings, unknowns
        self.mask = taken(readings)
        self.read = np.stack([getattr(readings, name) for name in OBSERVED], axis=1)
        self.spread = np.stack([readings.spread[name] for name in OBSERVED], axis=1)
        self.low = np.array([one.to_scaled(one.low) for one in unknowns])
        self.high = np.array([one.to_scaled(one.high) for one in unknowns])
        self.root = self._weights(np.zeros(len(unknowns)))

    def values(self, scaled: Array) -> Array:
        """Values in SI of scaled unknowns, (sets, unknowns)."""
        return np.stack([one.to_value(scaled[..., place])
                         for place, one in enumerate(self.unknowns)], axis=-1)

    def shown(self, scaled: Array, shifted: dict[str, Array] | None = None) -> Array:
        """(sets, rows, quantities)."""
        found = show(self.candidate, self.readings, self.unknowns, self.values(scaled),
                     shifted=shifted)
        return np.stack([found.values[name] for name in OBSERVED], axis=2)

    def _weights(self, scaled: Array) -> Array:
        """Lower roots of each row's covariance, what was not read left out."""
        spread = np.where(self.mask, self.spread, 1.0)
        cover = np.zeros((*spread.shape, spread.shape[1]))
        cover[:, range(spread.shape[1]), range(spread.shape[1])] = spread**2
        base = self.shown(scaled[None])[0]
        for name in INPUTS:
            value, width = getattr(self.readings, name), self.readings.spread[name]
            known = np.isfinite(value) & np.isfinite(width) & (width > 0.0)
            if known.any():
                moved = np.where(known, value + 0.1 * width, value)
                change = 10.0 * (self.shown(scaled[None], {name: moved})[0] - base)
                change = np.where(self.mask & known[:, None] & np.isfinite(change), change, 0.0)
                cover += change[:, :, None] * change[:, None, :]
        self.marginal = np.sqrt(np.einsum("rii->ri", cover))
        return np.asarray(np.linalg.cholesky(cover))

    def reweigh(self, scaled: Array) -> None:
        """Pass the spread of conditions on as it is at a point."""
        self.root = self._weights(scaled)

    def residuals(self, scaled: Array) -> Array:
        """Whitened readings less model, then the priors: (sets, rows of residuals)."""
        miss = np.where(self.mask, self.read - self.shown(scaled), 0.0)
        lost = ~np.isfinite(miss)
        white = np.linalg.solve(self.root, np.where(lost, 0.0, miss)[..., None])[..., 0]
        white = np.where(lost, WORST, white)
        return np.concatenate([white[:, self.mask], -scaled], axis=1)

    def jacobian(self, scaled: Array) -> Array:
        """Columns by finite differences, all in one batch."""
        sign = np.where(scaled + STEP <= self.high, 1.0, -1.0)
        sets = scaled + np.concatenate([np.zeros((1, scaled.size)), np.diag(sign * STEP)])
        found = self.residuals(sets)
        return np.asarray(((found[1:] - found[0]) / (sign * STEP)[:, None]).T)

    def solve(self, start: Array, *, robust: bool = False) -> tuple[Array, float]:
        """Scaled unknowns at a minimum, and half the sum of squares there."""
        from scipy.optimize import least_squares

        count = int(np.count_nonzero(self.mask))

        def huber(square: Array) -> Array:
            # on readings alone: a prior is no reading that could be wrong
            out = np.stack([square, np.ones_like(square), np.zeros_like(square)])
            part = square[:count]
            far = part > 2.25
            out[0, :count] = np.where(far, 3.0 * np.sqrt(part) - 2.25, part)
            out[1, :count] = np.where(far, 1.5 / np.sqrt(np.where(far, part, 1.0)), 1.0)
            out[2, :count] = np.where(far, -0.75 * np.where(far, part, 1.0)**-1.5, 0.0)
            return out

        found = least_squares(
            lambda x: self.residuals(x[None])[0], np.clip(start, self.low, self.high),
            jac=self.jacobian, bounds=(self.low, self.high), xtol=1e-6, ftol=1e-8, gtol=1e-8,
            max_nfev=12 if robust else 30, loss=huber if robust else "linear")
        return found.x, float(found.cost)


def fit_bench(candidate: Candidate, readings: BenchReadings, *,
              chosen: tuple[str, ...] | None = None, check_robust: bool = True,
              starts: int = STARTS) -> FittedMachine:
    """Fit a candidate to readings of it.

    Parameters
    ----------
    candidate : Candidate
        As the scenario describes it: a ducted machine
    readings : BenchReadings
    chosen : tuple of str, optional
        Keys of the unknowns to fit; all that a bench can tell where not given
    check_robust : bool
        Fit a second time with outliers counting less
    starts : int
        Points drawn from the priors to start from, beside the scenario's own

    Raises
    ------
    FitError
        Too few readings, a machine that is no ducted one, an unknown that does not exist, or
        readings so far off that units or machine must be wrong.
    """
    unknowns, filled = _checked(candidate, readings, chosen)
    problem = _Problem(candidate, filled, unknowns)
    random = np.random.default_rng(20)
    tries = np.concatenate([np.zeros((1, len(unknowns))), np.clip(
        random.standard_normal((starts, len(unknowns))), problem.low, problem.high)])
    costs = np.sum(problem.residuals(tries)**2, axis=1)
    best = [problem.solve(tries[place]) for place in np.argsort(costs)[:FOLLOWED]]
    scaled, _ = min(best, key=lambda found: found[1])
    problem.reweigh(scaled)
    scaled, cost = problem.solve(scaled)
    robust = problem.solve(scaled, robust=True)[0] if check_robust else scaled
    return _told(problem, candidate, scaled, 2.0 * cost, robust)


def _checked(candidate: Candidate, readings: BenchReadings,
             chosen: tuple[str, ...] | None) -> tuple[tuple[Unknown, ...], BenchReadings]:
    if not isinstance(candidate.unit, Ducted):
        raise FitError(f"{candidate.name} is an open rotor; a bench fit is for a blower or an axial"
                       " fan with a nozzle")
    own = unknowns_of(candidate)
    keys = [one.key for one in own]
    wrong = [key for key in chosen or () if key not in keys]
    if wrong:
        raise FitError(f"no unknown of this candidate: {', '.join(wrong)}; there are "
                       f"{', '.join(keys)}")
    filled = with_usual_spread(readings)
    mask = taken(filled)
    per_row = np.count_nonzero(mask, axis=1)
    if np.count_nonzero(mask) < 2 or np.count_nonzero(per_row) == 0:
        raise FitError(f"too few readings: {np.count_nonzero(mask)} that a model can be held "
                       "against; at least two are needed, such as thrust and electrical power "
                       "with the nozzle as it came")
    settings = tuple(dict.fromkeys(
        word for word, count in zip(filled.setting, per_row, strict=True) if count))
    told_duty = np.isfinite(filled.duty)
    extra = []
    for word in settings:
        one = setting_unknown(candidate.unit, word)
        rows = np.array([setting == word for setting in filled.setting])
        if one.key.endswith(".duty") and (told_duty[rows].all() or len(settings) == 1):
            continue  # full voltage, or the duty was read
        extra.append(one)
    return (*(one for one in own if chosen is None or one.key in chosen), *extra), filled


def _told(problem: _Problem, candidate: Candidate, scaled: Array, chi_square: float,
          robust: Array) -> FittedMachine:
    from scipy.special import gammaincc

    unknowns = problem.unknowns
    jacobian = problem.jacobian(scaled)
    covariance: Array = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=float)
    count = int(np.count_nonzero(problem.mask))
    probability = float(gammaincc(0.5 * count, 0.5 * chi_square))
    # readings that scatter more than stated: their spread was too small, and so is the answer's
    widened = max(1.0, float(np.sqrt(chi_square / count))) if probability < 0.05 else 1.0
    covariance = covariance * widened**2
    values = problem.values(scaled[None])[0]
    slopes = np.array([one.slope(value) for one, value in zip(unknowns, values, strict=True)])
    shown = show(candidate, problem.readings, unknowns, values[None])
    fitted = np.stack([shown.values[name][0] for name in OBSERVED], axis=1)
    residuals = tuple(
        Residual(row=int(problem.readings.row[row]), quantity=OBSERVED[column],
                 read=float(problem.read[row, column]), fitted=float(fitted[row, column]),
                 spread=float(problem.marginal[row, column]))
        for row, column in np.argwhere(problem.mask))
    _, singular, vectors = np.linalg.svd(jacobian[:count], full_matrices=True)
    weights = np.zeros(len(unknowns))
    weights[:singular.size] = singular
    order = np.argsort(weights)
    fit = FittedMachine(
        candidate=fitted_candidate(candidate, unknowns, values), given=candidate,
        readings=problem.readings, unknowns=unknowns, values=values,
        covariance=covariance * np.outer(slopes, slopes), scaled=scaled,
        scaled_covariance=covariance, singular=weights[order],
        combinations=tuple(combination(unknowns, vectors[place]) for place in order),
        residuals=residuals, chi_square=chi_square, freedom=count, probability=probability,
        widened=widened, robust_shift=(robust - scaled) / np.sqrt(np.diag(covariance)),
        largest_flow=float(np.nanmax(shown.flow)), messages=())
    return replace(fit, messages=tuple(_messages(fit, problem)))


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
    assert isinstance(candidate.unit, Ducted)
    unit = with_values(candidate.unit, tuple(unknowns[place] for place in kept), sets)
    if np.ndim(values) == 1:
        unit = _single(unit)
    return replace(candidate, unit=unit)


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
            f"the readings contradict each other or the model: chi-square {fit.chi_square:.0f} on "
            f"{fit.freedom}, which chance makes in {100 * fit.probability:.1g} % of benches; "
            f"all deviations are widened {fit.widened:.2g} times")
    moved = int(np.argmax(np.abs(fit.robust_shift)))
    if abs(fit.robust_shift[moved]) > 1.0:
        found.append(f"with outliers counting less, {fit.unknowns[moved].words} moves by "
                     f"{abs(fit.robust_shift[moved]):.1f} of its deviations: the answer hangs on "
                     "the readings named above")
    prior = np.sqrt(np.diag(fit.scaled_covariance)) > 0.8
    if prior.any():
        words = [one.words for one, weak in zip(fit.unknowns, prior, strict=True) if weak]
        found.append(f"these readings say little of {', '.join(words)}: what is told of them is "
                     "what is typical")
    unit = fit.candidate.unit
    assert isinstance(unit, Ducted)
    reach = float(np.asarray(unit.rotor.stage.highest_flow))
    if fit.largest_flow > reach:
        found.append(f"the readings reach a flow coefficient of {fit.largest_flow:.4g}, beyond the "
                     f"map's end at {reach:.4g}: let the map reach farther")
    if bool(np.any(exceeds_unity(unit.rotor.stage))):
        found.append("the fitted map gives the air more power than its shaft takes somewhere: "
                     "readings and description contradict each other, and no candidate is written")
    return found


def at_bound(fit: FittedMachine) -> BoolArray:
    """Which unknowns sit on a bound."""
    low = np.array([one.to_scaled(one.low) for one in fit.unknowns])
    high = np.array([one.to_scaled(one.high) for one in fit.unknowns])
    return np.asarray((fit.scaled - low < 1e-3) | (high - fit.scaled < 1e-3))
