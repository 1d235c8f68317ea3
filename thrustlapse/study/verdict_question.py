"""The verdict as a number with a sign: who is faster, is a speed reached, which nozzle is better.

Each is a margin: above zero the answer is yes. What moves it is read about the fit as for any
other answer of a bench.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.bench_fit import FitError, FittedMachine
from thrustlapse.study.evaluate import Cases
from thrustlapse.study.experiment_design import Question, slope_at, with_machine
from thrustlapse.study.scenario_like import ScenarioLike

FASTEST = 250.0
"""Speed up to which drag and thrust mean anything here [m/s]."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What is to be settled of a candidate: one of the three.

    ``rival`` names the other of "which is faster", or, on no airframe, "which pulls more" at an
    ``airspeed`` [m/s]; ``reach`` [m/s] is a speed to be reached in level flight; ``nozzle`` [m] an
    exit that is held against the one as described, at an ``airspeed``.
    """

    rival: str = ""
    reach: float | None = None
    nozzle: float | None = None
    airspeed: float = 0.0


def verdict_question(scenario: ScenarioLike, name: str, fit: FittedMachine,
                     wanted: Verdict) -> Question:
    """The margin of a verdict.

    Raises
    ------
    FitError
        Where the scenario has no such answer.
    """
    fitted = with_machine(scenario, name, fit.candidate, fit.candidate)
    if wanted.nozzle is not None:
        return _nozzle(scenario, fitted[name], wanted)
    if wanted.reach is not None:
        if scenario.airframe is None:
            raise FitError("a speed to reach: the scenario has no [airframe]")
        if wanted.reach > FASTEST:
            raise FitError(f"a speed to reach of {wanted.reach:g} m/s: accepted up to "
                           f"{FASTEST:g} m/s, well below the speed of sound")
        return _reached(fitted, name, wanted.reach)
    if wanted.rival not in fitted or wanted.rival == name:
        raise FitError(f"no rival is called {wanted.rival!r}: the scenario has "
                       f"{', '.join(key for key in fitted if key != name) or 'no other candidate'}")
    if scenario.airframe is None:
        return _pulls_more(fitted, name, wanted)
    return _faster(fitted, name, wanted.rival)


def _thrust(cases: Cases, speed: float) -> Array:
    return np.asarray(cases.fly(np.array([speed])).installed_thrust[..., 0])


def _spare(cases: Cases, speed: float) -> Array:
    return np.asarray(cases.spare(cases.fly(np.array([speed])))[..., 0])


def top_of(cases: Cases, whose: str) -> tuple[float, float]:
    """Top speed [m/s] of a single case, and how far it moves for a newton of spare thrust.

    Raises
    ------
    FitError
        Where it has none.
    """
    level = cases.top_speed()
    if not np.isfinite(level.top_speed):
        raise FitError(f"top speed of {whose}: there is none, {level.reason}")
    return level.top_speed, -1.0 / slope_at(lambda v: float(_spare(cases, v)), level.top_speed)


def top_speed_question(fitted: dict[str, Cases], name: str, key: str) -> Question:
    """Top speed of one candidate, as the machine called ``name`` and all else move it.

    Raises
    ------
    FitError
        Where it has none.
    """
    top, per_newton = top_of(fitted[key], key)
    return Question(words=f"top speed of {key}", unit="m/s", value=top, scale=per_newton,
                    measure=lambda told, one, leader: _spare(
                        with_machine(told, name, one, leader)[key], top))


def _faster(fitted: dict[str, Cases], name: str, rival: str) -> Question:
    (own, per_newton), (other, per_other) = (top_of(fitted[key], key) for key in (name, rival))

    def lead(told: Any, one: Candidate, leader: Candidate) -> Array:
        cases = with_machine(told, name, one, leader)
        return np.asarray(per_newton * _spare(cases[name], own)
                          - per_other * _spare(cases[rival], other))

    return Question(words=f"{name} is faster than {rival} in level flight", unit="m/s",
                    value=own - other, scale=1.0, measure=lead)


def _pulls_more(fitted: dict[str, Cases], name: str, wanted: Verdict) -> Question:
    def lead(told: Any, one: Candidate, leader: Candidate) -> Array:
        cases = with_machine(told, name, one, leader)
        return _thrust(cases[name], wanted.airspeed) - _thrust(cases[wanted.rival],
                                                               wanted.airspeed)

    where = "at rest" if wanted.airspeed == 0.0 else f"at {wanted.airspeed:g} m/s"
    value = _thrust(fitted[name], wanted.airspeed) - _thrust(fitted[wanted.rival],
                                                             wanted.airspeed)
    return Question(words=f"{name} pulls more than {wanted.rival} {where}", unit="N",
                    value=float(value), scale=1.0, measure=lead)


def _reached(fitted: dict[str, Cases], name: str, speed: float) -> Question:
    value = float(_spare(fitted[name], speed))
    if not np.isfinite(value):
        raise FitError(f"{speed:g} m/s: there is no level flight or no thrust of {name} there")
    return Question(words=f"{name} has thrust to spare at {speed:g} m/s in level flight", unit="N",
                    value=value, scale=1.0, measure=lambda told, one, leader: _spare(
                        with_machine(told, name, one, leader)[name], speed))


def _nozzle(scenario: ScenarioLike, own: Cases, wanted: Verdict) -> Question:
    diameter, name, unit = wanted.nozzle, own.candidate.name, own.candidate.unit
    assert diameter is not None
    if not isinstance(unit, Ducted):
        raise FitError(f"{name} has no nozzle")
    area = 0.25 * np.pi * diameter**2
    if area > float(np.max(unit.duct.area)):
        raise FitError(f"a nozzle of {1e3 * diameter:.4g} mm is wider than the duct before it")

    def gain(told: Any, one: Candidate, leader: Candidate) -> Array:
        cases = with_machine(told, name, one, leader)[name]
        assert isinstance(one.unit, Ducted)
        nozzle = replace(one.unit.nozzle, exit_area=area)
        other = replace(cases, candidate=replace(one, unit=replace(one.unit, nozzle=nozzle)))
        return _thrust(other, wanted.airspeed) - _thrust(cases, wanted.airspeed)

    where = "at rest" if wanted.airspeed == 0.0 else f"at {wanted.airspeed:g} m/s"
    value = float(gain(scenario, own.candidate, own.candidate))
    if not np.isfinite(value):
        raise FitError(f"the map of {name} does not reach {where} by one of the nozzles")
    return Question(words=f"a nozzle of {1e3 * diameter:.4g} mm pulls more than the one described "
                    f"{where}", unit="N", value=value, scale=1.0, measure=gain)
