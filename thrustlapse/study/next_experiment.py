"""Which experiment would settle the verdict: what each is expected to do, before it is made.

All is linear and normal about the posterior of the evidence. The margin of the verdict and what an
experiment would show are slopes against the machine's unknowns, which the evidence has narrowed,
and against everything else that is not known (drag, pack, rival), which a flight tells of too. An
experiment that would leave the deviation ``after`` of a margin known to ``before`` moves its mean
by a normal step of the deviation ``sqrt(before^2 - after^2)``; the chance that the mean then lies
far enough from zero is the chance that it settles (preposterior analysis: Raiffa and Schlaifer,
Applied Statistical Decision Theory, 1961).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.bench.readings import READ
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.bench_assumed import gain_unknowns
from thrustlapse.study.bench_fit import STEP, FitError, FittedMachine
from thrustlapse.study.bench_model import OBSERVED, show, taken
from thrustlapse.study.bench_unknowns import values_of
from thrustlapse.study.evidence import Disagreement
from thrustlapse.study.experiment_design import (
    AGAIN,
    Question,
    by_machine,
    by_others,
    possible_readings,
    with_machine,
)
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.verdict_question import Verdict, top_of, top_speed_question, verdict_question

SETTLED = 0.95
"""Chance of the right answer from which on a verdict counts as settled."""

DEVIATIONS = 1.6448536269514722
"""Deviations of a normal number that hold it on one side [-]."""

LITTLE = 0.05
"""Chance of settling it below which an experiment is not worth its name as a way to the verdict."""

STAND = ("Behind a screen and out of the rotor's plane; hold the pack's limits, and let nobody "
         "else near.")
SHUT = ("A shut machine runs faster and gets hot: four seconds at most, and only where its rotor's "
        "stress at that speed is known to be safe.")
FLIGHT = ("Fly where you may, within sight, clear of people and by the local rules; the estimate "
          "clears nothing to fly.")
DIVE = ("Flutter and a wing's strength end dives: never beyond the speed the airframe is known to "
        "bear, height to spare, a gentle pull-out. " + FLIGHT)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """An experiment on the bench: states it can be made in, what is read (() for all that was read
    so far), how long it takes [min], its caution; ``sharper`` divides the usual spread."""

    name: str
    states: tuple[str, ...]
    read: tuple[str, ...]
    minutes: float
    caution: str = STAND
    sharper: float = 1.0


BENCH = (
    Plan(name="repeat", states=(AGAIN,), read=(), minutes=10.0),
    Plan(name="second nozzle", states=("nozzle of",), read=(), minutes=30.0),
    Plan(name="shut inlet", states=("inlet blocked",), read=("suction", "electrical_power"),
         minutes=5.0, caution=SHUT),
    Plan(name="shut outlet", states=("outlet blocked",),
         read=("static_pressure", "electrical_power"), minutes=5.0, caution=SHUT),
    Plan(name="shaft speed by sound", states=(AGAIN,), read=("shaft_speed",), minutes=5.0),
    Plan(name="suction behind a plate", states=("a plate",), minutes=40.0,
         read=("suction", "electrical_power")),
    Plan(name="lower voltage", states=("% of the voltage",), read=(), minutes=15.0),
    Plan(name="a better scale", states=(AGAIN,), read=("thrust",), minutes=20.0, sharper=4.0))
"""What a person can do at home, with the time it takes (judgement, no source)."""

USUAL = ("thrust", "electrical_power")
"""What is read where nothing was read so far."""

SEEN, COAST, STEEP = 0.7, 0.08, 0.05
"""Deviation of a top speed seen in a level run [m/s], and of a drag from a run with the motor cut
and from a dive [-]: an airspeed sensor and what is left of the wind (judgement, no source)."""


@dataclass(frozen=True, kw_only=True)
class Experiment:
    """One experiment and what it is expected to do.

    ``deviation`` of the margin with it, in its unit; ``expected_chance_settled`` that the verdict
    is settled then; ``minutes`` it takes and its ``caution``.
    """

    name: str
    state: str
    read: str
    deviation: float
    expected_chance_settled: float
    minutes: float
    caution: str


@dataclass(frozen=True, kw_only=True)
class NextExperiments:
    """What to do next for a verdict.

    ``question`` in words, ``margin`` and its ``deviation`` in ``unit``, ``chance_now`` that the
    answer is yes. ``experiments`` the best first; ``all_together`` is the chance that all of them
    made once settle it. ``against`` are pieces of the evidence that the others contradict: what is
    said here rests on them as they are.
    """

    candidate: str
    question: str
    unit: str
    margin: float
    deviation: float
    chance_now: float
    experiments: tuple[Experiment, ...]
    all_together: float
    against: tuple[Disagreement, ...] = ()

    @property
    def settled(self) -> bool:
        """Whether the answer is sure enough as it is."""
        return max(self.chance_now, 1.0 - self.chance_now) >= SETTLED

    @property
    def out_of_reach(self) -> bool:
        """Whether none of the experiments, nor all of them, is likely to settle it."""
        return not self.settled and self.all_together < LITTLE


@dataclass(frozen=True, kw_only=True)
class _Shown:
    """What an experiment would show: slopes over its error, (readings, unknowns) each."""

    name: str
    state: str
    read: str
    by_machine: Array
    by_others: Array
    minutes: float
    caution: str


def next_experiments(scenario: ScenarioLike, name: str, fit: FittedMachine,
                     wanted: Verdict, *, flights: bool = True) -> NextExperiments:
    """Experiments with a candidate, the one that is likeliest to settle a verdict first.

    Parameters
    ----------
    fit : FittedMachine
        All evidence there is of it
    flights : bool
        Rank flights too

    Raises
    ------
    FitError
        Where the scenario has no such verdict.
    """
    question = verdict_question(scenario, name, fit, wanted)
    fit = with_gains(fit)
    flown = _flights(scenario, name, fit, wanted) if flights else ()
    asked = [question, *(one.question for one in flown)]
    others = by_others(scenario, name, fit, asked)
    own = [by_machine(scenario, fit, one) for one in asked]
    slope, (aside, bend) = own[0], others[0]
    left_open = float(np.sum(2.0 * bend**2)) + _of_law(scenario, name, fit, question=question,
                                                       wanted=wanted)
    if not np.all(np.isfinite([*slope, *aside, left_open])):
        raise FitError(f"{question.words}: the machine's map does not reach there")
    mean = question.value + float(np.sum(bend))
    shown = [*_on_the_bench(fit, aside.size),
             *(_Shown(name=one.name, state=one.state, read=one.read, minutes=one.minutes,
                      caution=one.caution, by_machine=slopes[None] / one.error,
                      by_others=beside[None] / one.error)
               for one, slopes, (beside, _) in zip(flown, own[1:], others[1:], strict=True))]
    known = [one for one in shown if np.all(np.isfinite(one.by_machine))
             and np.all(np.isfinite(one.by_others))]
    covariance = fit.scaled_covariance
    before = float(slope @ covariance @ slope + aside @ aside)

    def after(rows: Array, beside: Array) -> float:
        shared = rows @ covariance @ slope + beside @ aside
        whole = rows @ covariance @ rows.T + beside @ beside.T + np.eye(len(rows))
        gained = float(shared @ np.linalg.solve(whole, shared))
        return float(np.sqrt(max(before - gained, 0.0) + left_open))

    deviation = float(np.sqrt(before + left_open))
    made = [_experiment(one, mean, before=deviation, after=after(one.by_machine, one.by_others))
            for one in known]
    best: dict[str, Experiment] = {}
    for one in sorted(made, key=lambda each: (-each.expected_chance_settled, each.deviation,
                                              each.minutes)):
        best.setdefault(one.name, one)
    chosen = {(one.name, one.state) for one in best.values()}
    stacked = [one for one in known if (one.name, one.state) in chosen]
    everything = chance_settled(mean, before=deviation, after=after(
        np.concatenate([one.by_machine for one in stacked]),
        np.concatenate([one.by_others for one in stacked]))) if stacked else 0.0
    from scipy.special import ndtr  # start-up time

    return NextExperiments(
        candidate=name, question=question.words, unit=question.unit, margin=mean,
        deviation=deviation, chance_now=float(ndtr(mean / deviation)) if deviation else float(
            mean > 0.0), experiments=tuple(best.values()), all_together=everything)


def chance_settled(mean: float, *, before: float, after: float) -> float:
    """Chance that a margin of a ``mean`` known to a deviation ``before`` is settled once it is
    known to the deviation ``after``."""
    from scipy.special import ndtr  # start-up time

    moved = float(np.sqrt(max(before**2 - after**2, 0.0)))
    enough = DEVIATIONS * after
    if moved < 1e-9 * before or before == 0.0:
        return float(abs(mean) >= enough)
    return float(ndtr((mean - enough) / moved) + ndtr((-mean - enough) / moved))


def _experiment(one: _Shown, mean: float, before: float, after: float) -> Experiment:
    return Experiment(name=one.name, state=one.state, read=one.read, deviation=after,
                      expected_chance_settled=chance_settled(mean, before=before, after=after),
                      minutes=one.minutes, caution=one.caution)


def _of_law(scenario: ScenarioLike, name: str, fit: FittedMachine, *, question: Question,
            wanted: Verdict) -> float:
    """Variance by not knowing what held the watts, which no experiment here tells."""
    if fit.rival is None:
        return 0.0
    other = verdict_question(scenario, name, fit.rival, wanted)
    return fit.likely * (1.0 - fit.likely) * (other.value - question.value) ** 2


def with_gains(fit: FittedMachine) -> FittedMachine:
    """The fit with the gains of instruments that nothing was read with yet, as they are known
    beforehand."""
    possible, _ = possible_readings(fit)
    have = {one.gain for one in fit.unknowns}
    more = tuple(one for one in gain_unknowns(possible) if one.gain not in have)
    size, added = len(fit.unknowns), len(more)
    whole = np.eye(size + added)
    whole[:size, :size] = fit.scaled_covariance
    unknowns = (*fit.unknowns, *more)
    scaled = np.concatenate([fit.scaled, np.zeros(added)])
    value = values_of(unknowns, scaled[None])[0]
    wide = np.zeros((size + added, size + added))
    wide[:size, :size] = fit.covariance
    return replace(fit, unknowns=unknowns, scaled=scaled, values=value, covariance=wide,
                   scaled_covariance=whole)


def _on_the_bench(fit: FittedMachine, others: int) -> Iterator[_Shown]:
    """What could be read on the bench; of that the other inputs tell nothing."""
    possible, words = possible_readings(fit)
    size = fit.scaled.size
    sets = fit.scaled + np.concatenate([np.zeros((1, size)), STEP * np.eye(size)])
    shown = show(fit.given, possible, fit.unknowns, values_of(fit.unknowns, sets))
    values = np.stack([shown.values[name] for name in OBSERVED], axis=2)
    slopes = (values[1:] - values[0]) / STEP
    sensible, read = taken(possible), taken(fit.readings)
    so_far = tuple(name for place, name in enumerate(OBSERVED)
                   if name != "current" and read[:, place].any()) or USUAL
    for plan in BENCH:
        for row, state in enumerate(words):
            if not any(part in state for part in plan.states):
                continue
            places = [OBSERVED.index(name) for name in plan.read or so_far
                      if sensible[row, OBSERVED.index(name)]]
            if not places:
                continue
            error = np.array([READ[OBSERVED[place]].usual.at(values[0, row, place])
                              for place in places]) / plan.sharper
            yield _Shown(
                name=plan.name, state=state, minutes=plan.minutes, caution=plan.caution,
                read=" and ".join(OBSERVED[place].replace("_", " ") for place in places),
                by_machine=slopes[:, row, places].T / error[:, None],
                by_others=np.zeros((len(places), others)))


@dataclass(frozen=True, kw_only=True)
class _Flight:
    """A flight: what it shows, and how surely [in its unit]."""

    name: str
    state: str
    read: str
    question: Question
    error: float
    minutes: float
    caution: str = FLIGHT


def _flights(scenario: ScenarioLike, name: str, fit: FittedMachine,
             wanted: Verdict) -> Sequence[_Flight]:
    """Flights that would tell something; none without an airframe or a top speed."""
    if scenario.airframe is None:
        return ()
    fitted = with_machine(scenario, name, fit.candidate, fit.candidate)
    found = []
    for key in (name, *([wanted.rival] if wanted.rival else ())):
        try:
            question = top_speed_question(fitted, name, key)
        except FitError:
            continue
        found.append(_Flight(
            name="level run at full throttle" if key == name else f"level run of {key}",
            state="both ways in steady air", read="airspeed", question=question, error=SEEN,
            minutes=40.0))
    try:
        top, _ = top_of(fitted[name], name)
    except FitError:
        return found
    for word, share, error, minutes, caution in (
            ("coasting run", 0.8, COAST, 30.0, FLIGHT),
            ("dive and pull-out", 1.2, STEEP, 40.0, DIVE)):
        question = _drag_question(fitted, name, share * top)
        found.append(_Flight(name=word, state=f"motor cut, about {share * top:.0f} m/s",
                             read="airspeed and height", question=question,
                             error=error * question.value, minutes=minutes, caution=caution))
    return found


def _drag_question(fitted: Any, name: str, speed: float) -> Question:
    def drag(told: Any, one: Candidate, leader: Candidate) -> Array:
        return np.asarray(with_machine(told, name, one, leader)[name].drag(
            np.array([speed])).total[..., 0])

    return Question(words="drag", unit="N", scale=1.0, measure=drag,
                    value=float(fitted[name].drag(np.array([speed])).total[0]))
