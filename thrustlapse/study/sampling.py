"""What is drawn, and the scenario with the draws in it.

Inputs are the spreads a scenario states, the register's for what it does not state, the covariances
of its bench fits, and the bands of its maps and tables. What candidates share is one input: pack,
airframe, air, and the parts of one machine in two trims. What is wrong with it is then wrong for
all alike, which matters where candidates are compared. Bands of different machines are drawn apart
though one method made them: of eight measured blade designs, each left out of the fit, the errors
of two share 0.1 of their variance at most (``tests/rotor/test_left_out_propellers.py``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.distributions import Spread
from thrustlapse.propulsor.anchored import anchored
from thrustlapse.propulsor.basis import EQUAL_POWER
from thrustlapse.propulsor.bench_fit import (
    CONTRACTION,
    FALL_FORM,
    FLOW_FORM,
    HEAD_NODES,
    POWER_NODES,
    BenchFit,
)
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.map_uncertainty import beside_fit
from thrustlapse.propulsor.nozzle import widest_discharge
from thrustlapse.register import HEAD_SHAPE, POWER_SHAPE, REGISTER, SHAPES, Assumed
from thrustlapse.rotor.map_shape import CORRELATION, NODES, departed
from thrustlapse.rotor.map_uncertainty import stretched
from thrustlapse.study.bench_unknowns import LOGGED
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.uncertainty_results import Input

SCRAMBLES = 8
"""Independent scrambles of the draws; their scatter is the error of every number."""

SIDES = {"flow": "flow of the map", "head": "head of the map", "power": "power of the map"}
TABLE_SIDES = {"head": "thrust of the table", "power": "power of the table"}


@dataclass(frozen=True, kw_only=True)
class Drawable:
    """One input, and how it is put into a scenario.

    A key; a stretch of a candidate's map (``side``); or one unknown of a bench fit, whose value is
    a sum over the independent normal numbers of its ``group``, weighted by ``weights``, so that the
    unknowns of a fit keep their correlations. Where the spread is lognormal, so is the sum.
    ``also`` are other candidates that have the very same part: it is drawn once for all of them.
    ``entry`` is the register's; ``velocity_key`` and ``velocity`` as there.
    """

    spread: Spread
    candidate: str = ""
    side: str = ""
    group: str = ""
    weights: tuple[float, ...] = ()
    also: tuple[str, ...] = ()
    velocity_key: str = ""
    velocity: float = 1.0
    entry: str = ""

    @property
    def owners(self) -> tuple[str, ...]:
        """Candidates it belongs to; "" where all share it."""
        return (self.candidate, *self.also)

    @property
    def label(self) -> str:
        """What people read."""
        return f"{self.candidate}: {self.side}" if self.side else self.spread.key

    @property
    def table(self) -> str:
        """Part of the candidate it belongs to: a table, or "" for what the whole machine shares."""
        if self.side:
            return "table" if self.side in TABLE_SIDES.values() else "map"
        steps = self.spread.key.split(".")
        return "" if self.group or self.entry or len(steps) < 4 else steps[2]

    def key_of(self, owner: str) -> str:
        """The dotted key of an owner."""
        return (self.spread.key if owner == self.candidate else self.spread.key.replace(
            f"candidates.{self.candidate}.", f"candidates.{owner}.", 1))

    def input(self) -> Input:
        """As results keep it."""
        low, high = self.spread.quantile(np.array([0.05, 0.95])).tolist()
        return Input(key=self.label, subject=self.candidate, group=self.group,
                     text=self.spread.text, form=self.spread.form, nominal=self.spread.nominal,
                     low=low, high=high)


def drawables(scenario: ScenarioLike,
              fits: Mapping[str, BenchFit] | None = None) -> list[Drawable]:
    """Every input of a scenario, once: its spreads, what is assumed, its fits, its maps.

    What two candidates share (one machine, one table) is one input. ``fits`` stand in place of
    what the scenario says of a candidate's bench.
    """
    candidates = {name: replace(one, fit=(fits or {}).get(name, one.fit))
                  for name, one in scenario.candidates.items()}
    found = [_of_key(spread) for spread in scenario.spreads]
    for one in scenario.assumed:
        owner = candidates.get(one.candidate)
        if owner is None or (owner.fit is not None and _freed(one) & set(owner.fit.unknowns)):
            continue  # of a machine that is not asked about, or a fit's covariance holds it
        if one.entry in SHAPES:
            found += _departures(one.candidate, one.entry, one.spread)
            continue
        owned = _of_key(one.spread)
        found.append(replace(owned, entry=one.entry, velocity_key=one.velocity_key,
                             velocity=one.velocity))
    for name, candidate in candidates.items():
        found += _fitted(name, candidate)
        found += _of_map(name, candidate)
    return _once(found, scenario.same_part)


def _freed(one: Assumed) -> set[str]:
    """Names of an assumed value in a fit that freed it."""
    if one.entry in SHAPES:
        return set(HEAD_NODES if one.entry == HEAD_SHAPE else POWER_NODES)
    key = one.spread.key.removeprefix(f"candidates.{one.candidate}.")
    return {key, CONTRACTION} if one.velocity_key else {key}


def _of_key(spread: Spread) -> Drawable:
    return Drawable(spread=spread, candidate=_owner(spread.key))


def _once(inputs: Sequence[Drawable], same: Mapping[tuple[str, str], str]) -> list[Drawable]:
    """Inputs with those of one part put together under the first candidate that has it."""
    kept: dict[object, Drawable] = {}
    for one in inputs:
        mark: object = (one.label, one.group)
        if one.candidate:
            first = same.get((one.candidate, one.table), one.candidate)
            tail = one.key_of("").partition("..")[2] if not one.side else one.side
            group = one.group.partition(": ")[2]
            mark = (first, tail, one.entry, group, one.spread.text, one.spread.form,
                    one.spread.nominal, one.weights)
        if mark in kept:
            kept[mark] = replace(kept[mark], also=(*kept[mark].also, one.candidate))
        else:
            kept[mark] = one
    return list(kept.values())


def _of_map(name: str, candidate: Candidate) -> list[Drawable]:
    """Bands of a map or table."""
    unit = candidate.unit
    ducted = isinstance(unit, Ducted)
    band = beside_fit(candidate)  # a fit's covariance holds what is left of the rest
    found = []
    for side, said in (SIDES if ducted else TABLE_SIDES).items():
        relative = float(getattr(band, side))
        if relative > 0.0:
            found.append(Drawable(candidate=name, side=said, spread=Spread(
                key=side, nominal=1.0, form="lognormal",
                deviation=float(np.sqrt(np.log1p(relative**2))),
                text=f"1, {100.0 * relative:.3g} % uncertain, lognormal")))
    return found


def _departures(name: str, entry: str, known: Spread) -> list[Drawable]:
    """Departures of a map at its four flows, correlated as a smooth curve is."""
    root = np.linalg.cholesky(CORRELATION)
    return [Drawable(candidate=name, side=entry, group=f"{name}: {entry}", entry=entry,
                     weights=tuple((known.deviation * row).tolist()),
                     spread=Spread(key=f"{entry} {place}", nominal=0.0, form="normal",
                                   deviation=known.deviation, text=known.text))
            for place, row in enumerate(root)]


def _fitted(name: str, candidate: Candidate) -> list[Drawable]:
    """Unknowns of a candidate's bench fit, with the correlations of its covariance.

    The root of the covariance is taken through its eigenvectors: it may be singular where the
    bench could not tell two unknowns apart. What the fit counted by its logarithm is drawn by it,
    or a loss that the bench hardly tells would be drawn below zero; what has ends is drawn between
    them; the form of a map by its departures from the fitted one.
    """
    fit = candidate.fit
    if fit is None:
        return []
    values, vectors = np.linalg.eigh(fit.covariance / np.outer(fit.deviations, fit.deviations))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    unit = candidate.unit
    ends = ENDS if candidate.known_by is None else ENDS | ANY_LIP
    velocity = float(np.mean(unit.nozzle.velocity_coefficient)) if isinstance(
        unit, Ducted) else 1.0
    return [replace(_of_unknown(name, dotted, value=float(value), deviation=float(deviation),
                                bench=fit.bench, velocity=velocity, ends=ends),
                    group=f"{name}: bench fit", weights=tuple(row.tolist()))
            for dotted, value, deviation, row in zip(
                fit.unknowns, fit.values, fit.deviations, root, strict=True)]


ENDS = {key: REGISTER[entry].spread.ends for key, entry in (
    ("nozzle.velocity_coefficient", "nozzle velocity"), (CONTRACTION, "nozzle contraction"),
    ("inlet.lip", "rounded lip"), ("duct.heat_share", "heat share"),
    ("drive.controller_efficiency", "controller efficiency"))}
"""Ends of what a fit frees between the register's ends."""

ANY_LIP = {"inlet.lip": (0.0, 1.0)}
"""Ends of a lip of which nothing was known."""

POSITIVE = (*LOGGED, "inlet.loss_coefficient", "inlet.throat_area",
            "inlet.throat_diameter", "duct.roughness", "drive.motor_lead_resistance",
            "drive.controller_lead_resistance", "motor.no_load_current_slope",
            "rotor.tip_diameter", "readings.thrust", "readings.electrical_power")
"""Keys that are drawn by their logarithm."""


def _of_unknown(name: str, dotted: str, value: float, deviation: float, bench: str,
                velocity: float, ends: Mapping[str, tuple[float, float]]) -> Drawable:
    key, text = f"candidates.{name}.{dotted}", f"fitted: {bench}"
    low, high = ends.get(dotted, (np.nan, np.nan))
    if low < value < high:
        spread = Spread(key=key, nominal=value, form="uniform", deviation=deviation, low=low,
                        high=high, text=text)
    elif dotted in POSITIVE and value > 0.0:
        spread = Spread(key=key, nominal=value, form="lognormal", deviation=deviation / value,
                        text=text)
    else:
        spread = Spread(key=key, nominal=value, form="normal", deviation=deviation, text=text)
    for entry, nodes in ((HEAD_SHAPE, HEAD_NODES), (POWER_SHAPE, POWER_NODES)):
        if dotted in nodes:
            return Drawable(candidate=name, side=dotted, spread=replace(
                spread, key=f"{entry} {nodes.index(dotted)}", nominal=0.0))
    if dotted in (FLOW_FORM, FALL_FORM):
        return Drawable(candidate=name, side=dotted, spread=replace(spread, key=dotted,
                                                                    nominal=0.0))
    if dotted == CONTRACTION:
        home = f"candidates.{name}.nozzle."
        return Drawable(candidate=name, spread=replace(spread, key=f"{home}discharge_coefficient"),
                        velocity_key=f"{home}velocity_coefficient", velocity=velocity)
    return Drawable(candidate=name, spread=spread)


def _owner(key: str) -> str:
    parts = key.split(".")
    return parts[1] if parts[0] == "candidates" else ""


def touching(scenario: ScenarioLike, inputs: Sequence[Drawable], name: str) -> list[int]:
    """Places of the inputs on which a candidate's answers depend."""
    basis = scenario.comparison
    leader = basis.reference if basis.footing == EQUAL_POWER else None
    return [place for place, one in enumerate(inputs) if {"", name, leader} & set(one.owners)]


def shares(count: int, dimensions: int, *, seed: int, scrambles: int = SCRAMBLES) -> Array:
    """Draws of independent uniform numbers: scrambled Sobol sets, one after the other.

    Parameters
    ----------
    count : int
        Draws in all, ``scrambles`` times a power of two

    Returns
    -------
    array, (count, dimensions)

    References
    ----------
    Owen, J. Complexity 14 (1998): scrambled nets; independent scrambles give an honest error.
    """
    from scipy.stats import qmc

    sets = [qmc.Sobol(d=dimensions, scramble=True,
                      rng=np.random.default_rng([seed, place])).random(count // scrambles)
            for place in range(scrambles)]
    return np.concatenate(sets)


def with_draws(scenario: ScenarioLike, inputs: Sequence[Drawable], drawn: Array,
               only: Sequence[int] | None = None) -> ScenarioLike:
    """Scenario whose parts hold the draws, (draws, 1); ``only`` these inputs, the rest nominal."""
    values, departures = drawn_values(inputs, drawn, range(len(inputs)) if only is None else only)
    many = scenario.drawn(values)
    candidates = {name: departing(candidate, departures.get(name, {}))
                  for name, candidate in many.candidates.items()}
    return replace(many, candidates=candidates)


def drawn_values(inputs: Sequence[Drawable], drawn: Array, places: Sequence[int]) -> tuple[
        dict[str, Array | float], dict[str, dict[str, Array]]]:
    """Values (draws,) by key, and departures (draws, 1) of maps by candidate and side."""
    values: dict[str, Array | float] = {}
    stretches: dict[str, dict[str, Array]] = {}
    contractions: list[tuple[str, str, Array, float]] = []
    for place in places:
        one = inputs[place]
        value = _value(inputs, place, drawn)
        for owner in one.owners:
            if one.side:
                stretches.setdefault(owner, {})[one.spread.key] = value[:, None]
            elif one.velocity_key:
                contractions.append((one.key_of(owner), one.velocity_key.replace(
                    f".{one.candidate}.", f".{owner}.", 1), value, one.velocity))
            else:
                values[one.key_of(owner)] = value
    for key, velocity_key, value, velocity in contractions:
        values[key] = value * widest_discharge(
            velocity_coefficient=values.get(velocity_key, velocity))
    return values, stretches


def _value(inputs: Sequence[Drawable], place: int, drawn: Array) -> Array:
    one = inputs[place]
    if not one.group:
        return one.spread.quantile(drawn[:, place])
    standard = Spread(nominal=0.0, form="normal", deviation=1.0)
    members = [other for other, each in enumerate(inputs) if each.group == one.group]
    normal = np.stack([standard.quantile(drawn[:, other]) for other in members], axis=1)
    away = normal @ np.array(one.weights)
    return _moved(one.spread, away if one.entry else one.spread.deviation * away)


def _moved(spread: Spread, away: Array) -> Array:
    """Values so far from a nominal one, by the spread's form; between its ends where it has any."""
    if spread.form == "lognormal":
        return np.asarray(spread.nominal * np.exp(away))
    if spread.form != "uniform":
        return np.asarray(spread.nominal + away)
    from scipy.special import ndtr, ndtri  # start-up time

    width = spread.high - spread.low
    start = float(ndtri((spread.nominal - spread.low) / width))
    steepness = width * float(np.exp(-0.5 * start**2) / np.sqrt(2.0 * np.pi))
    return np.asarray(spread.low + width * ndtr(start + away / steepness))


def groups(inputs: Sequence[Drawable]) -> dict[str, list[int]]:
    """Places of the inputs that are judged together: correlated ones as one, the rest singly."""
    found: dict[str, list[int]] = {}
    for place, one in enumerate(inputs):
        found.setdefault(one.group or one.label, []).append(place)
    return found


def departing(candidate: Candidate, factors: dict[str, Array]) -> Candidate:
    """A candidate whose map departs from what it says, by side."""
    if not factors:
        return candidate
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return replace(candidate, unit=replace(unit, table=stretched(unit.table, **factors)))
    head_shape, power_shape = (
        tuple(factors.get(f"{entry} {place}", 0.0) for place in range(NODES.size))
        for entry in (HEAD_SHAPE, POWER_SHAPE))
    flow, head, power = (factors.get(side, 1.0) for side in SIDES)
    flow = flow * np.exp(factors.get(FLOW_FORM, 0.0))
    stage = departed(unit.rotor.stage, flow=flow, head=head, power=power,
                     fall=factors.get(FALL_FORM, 0.0), head_shape=head_shape,
                     power_shape=power_shape)
    unit = replace(unit, rotor=replace(unit.rotor, stage=stage))
    known = candidate.known_by
    if known is not None:  # every draw meets its own readings
        unit, known = anchored(unit, air=candidate.site.air(), known=known)
    return replace(candidate, unit=unit, known_by=known)
