"""One candidate in any number of cases, flown once; every study asks the same evaluation.

A comparison is one case, draws are k of them, the designs of a search n, a bench's advice the
variations of one machine. Operating points on the footing, all-up mass, drag, top speed and the
states that limits are held against have one meaning here, whoever asks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe, Drag, level_drag, stall_speed
from thrustlapse.aircraft.level_flight import LevelFlight, TopSpeed, level_flight, top_speed
from thrustlapse.aircraft.top_speed import TopSpeeds, top_speeds
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.arrays import Array, BoolArray, IntArray, Values, take
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.operating_point import OperatingPoint, select
from thrustlapse.study.footing import Footing
from thrustlapse.study.limits.states import States
from thrustlapse.study.scenario_like import ScenarioLike


class Asked(Enum):
    """What is wanted of the top speed of an evaluation."""

    TOP_SPEED = "of every case"
    TOP_OF_CURVE = "of every case, between the airspeeds flown"
    LEVEL_FLIGHT = "of a single case, with every other balance"


@dataclass(frozen=True, kw_only=True)
class Cases:
    """One candidate in ``count`` cases on a footing, on an airframe where there is one.

    Fields of the parts are numbers, or of shape (cases, 1). ``carried`` is what the airframe
    carries [kg], where that is not the candidate's installed mass.
    """

    candidate: Candidate
    footing: Footing
    count: int = 1
    airframe: Airframe | None = None
    carried: Values | None = None
    pack_current_rating: Values | None = None
    wiring: Wiring | None = None

    @cached_property
    def air(self) -> Air:
        """Still air at the site."""
        return self.candidate.site.air()

    @property
    def frame(self) -> Airframe:
        """The airframe; only who has one may ask."""
        assert self.airframe is not None
        return self.airframe

    @cached_property
    def mass(self) -> Array:
        """All-up mass [kg]."""
        return total_mass(self.candidate if self.carried is None else
                          replace(self.candidate, installed_mass=self.carried), self.frame)

    def of_each(self, value: Any) -> Any:
        """One value a case, (cases,)."""
        return np.array(np.broadcast_to(value, (self.count, 1))[:, 0])

    def fly(self, airspeed: Array, altitude: Array | None = None) -> OperatingPoint:
        """Operating points of all cases at airspeeds [m/s], (n,) or (cases, n)."""
        return self.footing.fly(self.candidate, airspeed, altitude)

    def fly_some(self, index: IntArray, airspeed: Array) -> OperatingPoint:
        """Operating points of some cases at an airspeed each, (index, 1) [m/s]."""
        tall = (self.count, 1)
        point = self.footing.of_some(tall, index).fly(take(self.candidate, tall, index),
                                                      airspeed[:, 0])
        column: OperatingPoint = select(point, (slice(None), None))
        return column

    def thrust(self, index: IntArray | None, airspeed: Array) -> Array:
        """Installed thrust [N] of all cases, or of some, as a top speed asks for it."""
        point = self.fly(airspeed) if index is None else self.fly_some(index, airspeed)
        return point.installed_thrust

    def measure(self, point: OperatingPoint) -> Array:
        """What the footing compares."""
        return self.footing.measure(self.candidate, point)

    def drag(self, airspeed: Array) -> Drag:
        """Drag in level flight [N]; not finite at rest, where there is none."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return level_drag(self.frame, mass=self.mass, density=self.air.density,
                              airspeed=airspeed, speed_of_sound=self.air.speed_of_sound)

    def left(self, point: OperatingPoint) -> Array:
        """Installed thrust less induced drag [N]."""
        with np.errstate(invalid="ignore"):
            return np.asarray(point.installed_thrust - self.drag(point.airspeed).induced)

    def spare(self, point: OperatingPoint) -> Array:
        """Installed thrust less drag [N]; NaN at rest, where there is no level flight."""
        drag = self.drag(point.airspeed).total
        return np.asarray(point.installed_thrust - np.where(np.isfinite(drag), drag, np.nan))

    @property
    def stall(self) -> Array:
        """Stall speed [m/s]."""
        return np.asarray(stall_speed(self.frame, mass=self.mass, density=self.air.density))

    def top_speed(self) -> TopSpeed:
        """Top speed of a single case, and why where there is none."""
        return top_speed(lambda v: self.thrust(None, v), self.frame, mass=float(self.mass),
                         air=self.air)


@dataclass(frozen=True, kw_only=True)
class Evaluation:
    """Cases flown at rest and, after it, over the airspeeds, (case, 1 + airspeed).

    ``top`` and ``at_top`` where a top speed was asked for, ``level`` where that of a single case
    was; ``at_top`` is None where no case has one or it was read from the curve. ``void`` are cases
    that describe no machine, (case,): they count as unknown.
    """

    cases: Cases
    flown: OperatingPoint
    top: TopSpeeds | None = None
    level: LevelFlight | None = None
    at_top: OperatingPoint | None = None
    void: BoolArray | None = None

    @cached_property
    def rest(self) -> OperatingPoint:
        """At rest, (case, 1)."""
        found: OperatingPoint = select(self.flown, (..., slice(0, 1)))
        return found

    @cached_property
    def curve(self) -> OperatingPoint:
        """Over the airspeeds, (case, airspeed)."""
        found: OperatingPoint = select(self.flown, (..., slice(1, None)))
        return found

    @property
    def top_speed(self) -> Array:
        """Top speed of each case [m/s], NaN where there is none."""
        return np.full(self.cases.count, np.nan) if self.top is None else self.top.speed

    @cached_property
    def states(self) -> States:
        """What limits are held against."""
        cases = self.cases
        return States(
            candidate=cases.candidate, air=cases.air, rest=self.rest,
            points=(self.flown,) if self.at_top is None else (self.flown, self.at_top),
            pack_current_rating=cases.pack_current_rating, wiring=cases.wiring,
            airframe=cases.airframe,
            total_mass=float("nan") if cases.airframe is None else cases.mass,
            top_speed=self.top_speed[:, None])


def evaluate(cases: Cases, airspeed: Array, asked: Asked | None = None, *,
             void: Callable[[Cases, OperatingPoint], BoolArray] | None = None) -> Evaluation:
    """Fly all cases once, at rest and at airspeeds (n,) [m/s], and find what else is asked.

    ``void`` says of the points flown which cases describe no machine.
    """
    flown = cases.fly(np.concatenate([[0.0], airspeed]))
    done = Evaluation(cases=cases, flown=flown,
                      void=None if void is None else void(cases, flown))
    if asked is Asked.LEVEL_FLIGHT:
        level = level_flight(cases.fly, cases.frame, mass=float(cases.mass), air=cases.air)
        known = np.isfinite(level.top_speed)
        return replace(done, level=level,
                       at_top=cases.fly(np.array([level.top_speed])) if known else None)
    if asked is Asked.TOP_SPEED:
        top = top_speeds(cases.thrust, cases.frame, mass=cases.mass, air=cases.air,
                         cases=cases.count)
        at = np.where(np.isfinite(top.speed), top.speed, 0.0)[:, None]
        return replace(done, top=top, at_top=cases.fly_some(np.arange(cases.count), at))
    if asked is Asked.TOP_OF_CURVE:
        return replace(done, top=_top_of_curve(done, np.concatenate([[0.0], airspeed])))
    return done


def _top_of_curve(done: Evaluation, airspeed: Array) -> TopSpeeds:
    cases = done.cases
    void = np.zeros(cases.count, dtype=bool) if done.void is None else done.void

    def thrust(index: IntArray | None, speed: Array) -> Array:
        none = void if index is None else void[index]
        return np.where(none[:, None], np.nan, cases.thrust(index, speed))

    curve = np.broadcast_to(done.flown.installed_thrust, (cases.count, airspeed.size))
    return top_speeds(thrust, cases.frame, mass=cases.mass, air=cases.air, cases=cases.count,
                      flown=(airspeed, np.where(void[:, None], np.nan, curve)))


def cases_of(scenario: ScenarioLike, *, count: int = 1) -> dict[str, Cases]:
    """Every candidate of a scenario on its footing, in as many cases as are drawn of it."""
    footing = Footing(basis=scenario.comparison, candidates=scenario.candidates)
    return {name: Cases(candidate=candidate, footing=footing, count=count,
                        airframe=scenario.airframe, wiring=scenario.wiring,
                        pack_current_rating=scenario.pack_current_rating)
            for name, candidate in scenario.candidates.items()}
