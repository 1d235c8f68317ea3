"""Everything a person has found out about one machine, piece by piece, as one posterior.

The posterior is always the one joint fit of all pieces, in an order that does not depend on when
they came: adding, leaving out and putting back are exact, and nothing is counted twice. Which
piece may disagree with the rest follows from the same fit: without a piece, linear about it, the
residuals of its rows are (1 - H)^-1 times those with it, and that is their covariance too, where
H = J C J^T of its rows (deletion in least squares; Cook and Weisberg, Residuals and Influence in
Regression, 1982, section 2.2). What stands out is left out in earnest and predicted by the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from thrustlapse.aircraft.flight_log import LogReduction
from thrustlapse.arrays import Array, IntArray
from thrustlapse.bench.evidence import LOG, Piece
from thrustlapse.bench.readings import AS_FLOWN, BenchReadings, bench_readings
from thrustlapse.bench.together import together
from thrustlapse.propulsor.anchored import KnownBy
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.study.bench_fit import STEP, FitError, FittedMachine, fit_bench, unread
from thrustlapse.study.bench_model import OBSERVED, show
from thrustlapse.study.bench_unknowns import values_of
from thrustlapse.study.experiment_design import STATIC, TOP, Answer, bench_answer
from thrustlapse.study.scenario_like import ScenarioLike

DISAGREES = 0.01
"""Probability below which a piece is said to disagree with the rest."""

SCREENED = 0.05
"""Probability in closed form from which on a piece is not looked at again."""

EXPLAINS = 0.7
"""Share of a disagreement's chi-square that one cause has to take away to be named."""

CAUSES = {"thrust": "every thrust of it {less} by {percent:.0f} %: the scale, a lever, friction of "
                    "the stand, or a nozzle that is not the one told",
          "electrical_power": "all its watts {less} by {percent:.0f} %: the wattmeter, another "
                              "setting, or a pack that sags",
          "current": "all its currents {less} by {percent:.0f} %: the meter, or another setting",
          "shaft_speed": "its shaft speed {less} by {percent:.1f} %: a wrong blade count or alias, "
                         "or another load",
          "suction": "its suction {less} by {percent:.0f} %: a leak, or a worn wheel",
          "static_pressure": "its duct pressure {less} by {percent:.0f} %: a leak, or a worn wheel"}
"""What would explain a piece that disagrees: one quantity read wrong throughout."""

OF_A_LOG = ("its thrust {less} by {percent:.0f} %: wind along the way, an airspeed sensor that is "
            "off, drag that is not the airframe's, or a worn rotor")


@dataclass(frozen=True, kw_only=True)
class Disagreement:
    """A piece that does not go with the rest: how likely so much is by chance, and what would
    explain it; ``cause`` is "" where no single one does."""

    name: str
    kind: str
    probability: float
    cause: str


@dataclass(frozen=True, kw_only=True)
class Step:
    """The answer once a piece has been counted, and that of all the others ``without`` it;
    ``piece`` is None for the description alone, which nothing is without."""

    piece: Piece | None
    answer: Answer
    without: Answer | None


def read_at_rest(known: KnownBy) -> BenchReadings:
    """A ducted machine's own table of readings as a bench would have them; spreads not stated."""
    rows: list[dict[str, Any]] = [
        {"thrust": known.thrust, "electrical_power": known.electrical_power,
         "exit_area": known.exit_area, "shaft_speed": known.shaft_speed}]
    if known.second_thrust is not None:
        rows.append({"thrust": known.second_thrust, "exit_area": known.second_exit_area})
    if known.suction is not None:
        rows.append({"suction": known.suction})

    def column(name: str) -> list[float]:
        return [np.nan if row.get(name) is None else float(np.median(row[name])) for row in rows]

    return bench_readings(
        thrust=column("thrust"), electrical_power=column("electrical_power"),
        shaft_speed=column("shaft_speed"), suction=column("suction"),
        nozzle_diameter=np.sqrt(4.0 / np.pi * np.array(column("exit_area"))),
        voltage=np.nan if known.voltage is None else float(np.median(known.voltage)),
        inlet_blocked=["suction" in row for row in rows])


def read_in_flight(found: LogReduction, candidate: Candidate) -> BenchReadings:
    """What a flight log says of a machine, as thrust read in flight at one or two airspeeds.

    The log's thrust factor a and slope s are correlated; at the two airspeeds that lie one
    ``sd(a at its surest) / sd(s)`` to either side of where the factor is surest their factors are
    not, and say the same. Its drag factor is the airframe's and no part of the machine.

    Raises
    ------
    FitError
        A log without power, which says nothing of the machine.
    """
    if not np.isfinite(found.covariance[0, 0]):
        raise FitError("the log was flown without power: it says nothing of the machine")
    scale = max(1.0, found.scatter) ** 2
    if found.slope_told:
        spread = found.joint * scale
        middle = -spread[0, 2] / spread[2, 2]
        surest = spread[0, 0] - spread[0, 2]**2 / spread[2, 2]
        away = middle + np.sqrt(surest / spread[2, 2]) * np.array([-1.0, 1.0])
        factor = found.thrust_factor + found.slope * away
        deviation = np.full(2, np.sqrt(2.0 * surest))
    else:
        away, factor = np.zeros(1), np.array([found.thrust_factor])
        deviation = np.array([np.sqrt(found.covariance[0, 0] * scale)])
    airspeed = found.middle * (1.0 + away)
    thrust = np.asarray(candidate.count * operate(candidate, airspeed=airspeed).net_thrust)
    known = np.isfinite(thrust) & (airspeed >= 0.0)
    if not known.any():
        raise FitError("the machine cannot be predicted where the log was flown")
    air = candidate.site.air()
    return bench_readings(
        airspeed=airspeed[known], thrust=(factor * thrust)[known], units=float(candidate.count),
        by_log=True, air_temperature=float(np.asarray(air.temperature)),
        air_pressure=float(np.asarray(air.pressure)), setting=[AS_FLOWN] * int(known.sum()),
        spread={"thrust": (deviation * np.abs(thrust))[known], "airspeed": 0.0,
                "air_temperature": 0.0, "air_pressure": 0.0})


def in_order(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """The pieces in the order in which they are counted, whenever they came."""
    return tuple(sorted(pieces, key=lambda one: one.digest))


def machine_of(candidate: Candidate, pieces: Sequence[Piece]) -> FittedMachine:
    """The machine that all pieces together make of a candidate as it is described.

    Raises
    ------
    FitError
        Pieces that this kind of machine cannot have, or that nothing fits.
    """
    if not pieces:
        return unread(candidate)
    return fit_bench(candidate, together([one.readings for one in in_order(pieces)],
                                         source="all evidence"), fewest=1)


def disagreements(fit: FittedMachine, pieces: Sequence[Piece]) -> tuple[Disagreement, ...]:
    """Pieces that the others contradict, the worst first.

    All are screened in closed form; a piece that stands out is then left out and predicted.
    """
    ordered = in_order(pieces)
    if fit.robust:  # least squares alone has the closed form
        fit = fit_bench(fit.given, fit.readings, check_robust=False, fewest=1)
    owner = _owners(fit, ordered)
    found = []
    for place, piece in enumerate(ordered):
        rows = np.flatnonzero(owner == place)
        if rows.size in (0, owner.size) or _chance(_deleted(fit, rows), rows.size) >= SCREENED:
            continue
        rest = machine_of(fit.given, ordered[:place] + ordered[place + 1:])
        held = _held_against(fit, rest, rows)
        probability = _chance(held.chi_square, rows.size)
        if probability < DISAGREES:
            found.append(Disagreement(name=piece.name, kind=piece.kind, probability=probability,
                                      cause=_cause(piece, held)))
    return tuple(sorted(found, key=lambda one: one.probability))


def _chance(chi_square: float, count: int) -> float:
    """Probability of so much or more by chance."""
    from scipy.special import gammaincc  # start-up time

    return float(gammaincc(0.5 * count, 0.5 * chi_square))


def _owners(fit: FittedMachine, ordered: Sequence[Piece]) -> IntArray:
    """For every residual the place of its piece."""
    ends = np.cumsum([len(one.readings) for one in ordered])
    rows = np.array([one.row for one in fit.residuals], dtype=np.int64)
    return np.searchsorted(ends, rows, side="left")


def _deleted(fit: FittedMachine, rows: IntArray) -> float:
    """Chi-square of residuals against a fit without them, linear about the fit with them."""
    information = fit.jacobian.T @ fit.jacobian + np.eye(fit.jacobian.shape[1])
    slopes = fit.jacobian[rows]
    left = np.eye(rows.size) - slopes @ np.linalg.solve(information, slopes.T)
    return float(fit.whitened[rows] @ np.linalg.solve(left, fit.whitened[rows]))


@dataclass(frozen=True, kw_only=True)
class _Held:
    """Readings of a piece less what the rest predicts, the ``weight`` of that difference (the
    inverse of its covariance), and what is predicted of each quantity, a column each."""

    difference: Array
    weight: Array
    predicted: Array

    @property
    def chi_square(self) -> float:
        return float(self.difference @ self.weight @ self.difference)


def _held_against(fit: FittedMachine, rest: FittedMachine, rows: IntArray) -> _Held:
    """Some readings of a fit against a machine that knows nothing of them."""
    have = {one.key: place for place, one in enumerate(rest.unknowns)}
    known = np.array([have.get(one.key, -1) for one in fit.unknowns])
    there = np.flatnonzero(known >= 0)
    scaled, covariance = np.zeros(known.size), np.eye(known.size)
    scaled[there] = rest.scaled[known[there]]
    covariance[np.ix_(there, there)] = rest.scaled_covariance[np.ix_(known[there], known[there])]
    sets = scaled + np.concatenate([np.zeros((1, scaled.size)), STEP * np.eye(scaled.size)])
    shown = show(fit.given, fit.readings, fit.unknowns, values_of(fit.unknowns, sets))
    told = [fit.residuals[place] for place in rows]
    seen = np.stack([shown.values[one.quantity][:, one.row - 1] for one in told], axis=1)
    slopes = (seen[1:] - seen[0]) / STEP
    whole = slopes.T @ covariance @ slopes + np.diag([one.spread**2 for one in told])
    columns = np.array([[one.quantity == name for name in OBSERVED] for one in told])
    return _Held(difference=np.array([one.read for one in told]) - seen[0],
                 weight=np.linalg.inv(whole), predicted=columns * seen[0][:, None])


def _cause(piece: Piece, held: _Held) -> str:
    """The one quantity that, read wrong throughout, would explain most; or ""."""
    best, words = EXPLAINS * held.chi_square, ""
    for name, column in zip(OBSERVED, held.predicted.T, strict=True):
        scale = float(column @ held.weight @ column)
        if scale <= 0.0:
            continue
        along = float(column @ held.weight @ held.difference)
        if along**2 / scale >= best:
            text = OF_A_LOG if piece.kind == LOG and name == "thrust" else CAUSES[name]
            factor = along / scale
            best, words = along**2 / scale, text.format(
                less="too high" if factor > 0.0 else "too low", percent=100.0 * abs(factor))
    return words


def history(scenario: ScenarioLike, name: str, pieces: Sequence[Piece], *, asked: str = "",
            airspeed: float = 0.0) -> tuple[Step, ...]:
    """The answer after each piece, in the order of their dates; first by the description alone.

    The question is the top speed, or static thrust where there is none.

    Raises
    ------
    FitError
        Where a question was asked that has no answer.
    """
    candidate = scenario.candidates[name]
    dated = tuple(sorted(pieces, key=lambda one: (one.date, one.digest)))
    growing = [machine_of(candidate, dated[:count]) for count in range(len(dated) + 1)]
    fewer = [*(machine_of(candidate, dated[:place] + dated[place + 1:])
               for place in range(len(dated) - 1)), *growing[-2:-1]]
    wanted = asked or (STATIC if scenario.airframe is None else TOP)

    def told(question: str) -> list[Answer]:
        return [bench_answer(scenario, name, one, question, airspeed=airspeed)
                for one in (*growing, *fewer)]

    try:
        answers = told(wanted)
    except FitError:
        if asked:
            raise
        answers = told(STATIC)
    others: tuple[Answer | None, ...] = (None, *answers[len(growing):])
    return tuple(Step(piece=piece, answer=answer, without=without)
                 for piece, answer, without in zip((None, *dated), answers[:len(growing)], others,
                                                   strict=True))
