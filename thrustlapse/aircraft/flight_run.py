"""A flight while it is being flown: its state, and the integration of one phase after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, NoReturn, cast

import numpy as np

from thrustlapse.aircraft.drag import Airframe, level_drag
from thrustlapse.aircraft.flight_ledger import Piece
from thrustlapse.aircraft.flight_record import FlightEvent
from thrustlapse.aircraft.level_flight import TopSpeed, top_speed
from thrustlapse.aircraft.motion import (
    AIRSPEED,
    CHARGE,
    HEIGHT,
    MOTOR,
    PACK,
    Craft,
    Moment,
    Phase,
    moment,
    rates,
    stall_margin,
)
from thrustlapse.aircraft.top_speed import top_speeds
from thrustlapse.arrays import Array, IntArray
from thrustlapse.glossary import read_as

METHOD, TOLERANCE = "RK45", 1e-8
"""Default solver of ``solve_ivp`` and its relative tolerance."""

SCALES = np.array([10.0, 10.0, 1.0, 0.01, 10.0, 10.0, 0.1])
"""Sizes of the rows of a state; the absolute tolerance is the relative one times these."""

RELATIVE = np.array([1.0, 1.0, 1.0, SCALES[CHARGE], 1.0, 1.0, 1.0])
"""Shares of the relative tolerance: a state of charge is near one all along, and what a short leg
takes of it is not."""

NEAR_TOP = 0.95
"""Share of the top speed whose passing is noted [-]."""

DIVE_SINE = -0.3
"""Path of the dive with which a glide gathers its airspeed."""


JUST_BEYOND = 1.001
"""How much faster the machine is asked about where the solver came to a halt [-]."""


class BrokenOff(Exception):
    """A leg that ended before its end; ``pack`` where gliding on is still possible."""

    def __init__(self, reason: str, *, pack: bool = False, asked: bool = False) -> None:
        super().__init__(reason)
        self.reason, self.pack, self.asked = reason, pack, asked


@dataclass(frozen=True)
class Goal:
    """A function of (state, moment) whose zero ends a phase (or is only noted)."""

    name: str
    gap: Callable[[Array, Moment], float]
    direction: float = 1.0
    terminal: bool = True
    text: str = ""


class Run:
    """The flight while it is being flown: state, pieces, events."""

    def __init__(self, craft: Craft, method: str, tolerance: float) -> None:
        pack = craft.engine.pack
        ambient = float(np.asarray(craft.engine.site.air().temperature))
        self.craft, self.method, self.tolerance = craft, method, tolerance
        self.time, self.leg, self.evaluations = 0.0, 0, 0
        self.state = np.array([0.0, 0.0, 0.0, 1.0 if pack is None else pack.start, ambient,
                               ambient, 0.0])
        self.pieces: list[Piece] = []
        self.events: list[FlightEvent] = []

    @property
    def airspeed(self) -> float:
        return float(self.state[AIRSPEED])

    @property
    def altitude(self) -> float:
        return float(self.craft.engine.site.altitude + self.state[HEIGHT])

    def now(self, phase: Phase) -> Moment:
        return moment(self.craft, phase, self.state)

    def note(self, name: str, text: str, time: float | None = None) -> None:
        self.events.append(FlightEvent(time=self.time if time is None else time, leg=self.leg,
                                       name=name, text=text))

    def begin(self, phase: Phase) -> None:
        """A sample of the present state without going on."""
        state = self.state.copy()
        self.pieces.append(Piece(leg=self.leg, phase=phase, steps=np.array([self.time]),
                                 state=lambda t: np.repeat(state[:, None], np.size(t), axis=1)))

    def go(self, phase: Phase, goals: Sequence[Goal], *, longest: float) -> str:
        """Integrate a phase until one of the goals; returns its name.

        Raises
        ------
        BrokenOff
            When the pack is empty, the wing stalls, the ground is met, the machine leaves what is
            known of it, or the time is up.
        """
        from scipy.integrate import solve_ivp

        latest = Latest(self.craft, phase)
        watched = [*goals, *_standing(self.craft, phase)]
        first = latest(self.state)
        self._possible(phase, watched[len(goals):], first)

        def slope(_: float, state: Array) -> Array:
            return rates(self.craft, phase, state, latest(state))

        answer = solve_ivp(
            slope, (self.time, self.time + longest), self.state, method=self.method,
            rtol=self.tolerance * RELATIVE, atol=self.tolerance * SCALES, dense_output=True,
            events=[_event(goal, latest) for goal in watched])
        self.evaluations += int(answer.nfev)
        self.pieces.append(Piece(leg=self.leg, phase=phase, steps=np.asarray(answer.t),
                                 state=cast(Callable[[Array], Array], answer.sol)))
        self.time, self.state = float(answer.t[-1]), np.array(answer.y[:, -1])
        met = "time"
        for goal, times in zip(watched, answer.t_events, strict=True):
            if len(times):
                self.note(goal.name, goal.text, float(times[0]))
                if goal.terminal:
                    met = goal.name
        if answer.status < 0:
            # steps towards the end of a map or a pack curve shrink to nothing
            beyond = self.state.copy()
            beyond[AIRSPEED] *= JUST_BEYOND
            if phase.power != "cut" and not np.isfinite(
                    moment(self.craft, phase, beyond).running.net_thrust):
                self._broken("unknown")
            raise BrokenOff(f"the solver gave up: {answer.message}")
        if met != "time" and met not in {goal.name for goal in goals}:
            self._broken(met)
        return met

    def _possible(self, phase: Phase, standing: Sequence[Goal], first: Moment) -> None:
        """Whether a phase can begin at all."""
        if phase.power != "cut" and not np.isfinite(self.now(phase).running.net_thrust):
            self.begin(replace(phase, power="cut"))
            self._broken("unknown")
        for goal in standing:
            gap = goal.gap(self.state, first)
            if goal.terminal and goal.name != "ground" and gap * goal.direction > 1e-9:
                self.begin(phase)
                self.note(goal.name, goal.text)
                self._broken(goal.name)
        if not np.isfinite(first.sine):
            self.begin(replace(phase, power="cut", path="level"))
            self.no_path(first)

    def no_path(self, now: Moment) -> NoReturn:
        """Break off where no path, straight up or down, holds the airspeed."""
        thrust, air = float(now.running.installed_thrust), now.air
        drag = float(level_drag(self.craft.airframe, mass=0.0, density=air.density,
                                airspeed=self.airspeed, speed_of_sound=air.speed_of_sound).total)
        why = ("thrust exceeds drag and weight" if thrust > drag else
               "drag exceeds thrust and weight, even straight down")
        raise BrokenOff(f"no steady path at {self.airspeed:.1f} m/s: {why}")

    def _broken(self, met: str) -> NoReturn:
        pack = self.craft.engine.pack
        left = 100.0 * float(self.state[CHARGE])
        words = {
            "unknown": f"nothing is known of the machine at {self.airspeed:.1f} m/s there",
            "stall": f"stalls at {self.airspeed:.1f} m/s",
            "ground": "meets the ground",
            "cut-off": "pack empty: a cell sags to "
                       f"{0.0 if pack is None else pack.cut_off_voltage:.2f} V under load with "
                       f"{left:.0f} % left in it",
            "charge": f"pack empty: {left:.0f} % left, the least allowed",
            "hold": "the drive can no longer hold the airspeed on what the pack gives",
        }
        raise BrokenOff(words[met], pack=met in ("cut-off", "charge", "hold"))

    def top_speed(self, charge: float) -> TopSpeed:
        """Level speed here at full power, from the present airspeed, at a state of charge."""
        return top_speed(lambda speed: self._pull(speed, np.full(speed.shape, charge)),
                         self._begun, mass=self.craft.mass,
                         air=self.craft.engine.site.air(self.altitude))

    def top_speeds(self, charges: Array) -> Array:
        """The same at states of charge [m/s]; NaN where there is none."""
        def thrust(index: IntArray | None, speed: Array) -> Array:
            charge = charges if index is None else charges[index]
            return self._pull(speed, np.broadcast_to(charge[:, None], speed.shape))

        return top_speeds(thrust, self._begun, mass=self.craft.mass, cases=charges.size,
                          air=self.craft.engine.site.air(self.altitude)).speed

    @property
    def _begun(self) -> Airframe:
        return replace(self.craft.airframe, launch_speed=self.airspeed)

    def _pull(self, speed: Array, charge: Array) -> Array:
        """Thrust at full power here [N], NaN beyond what is known of the engine."""
        engine, altitude = self.craft.engine, self.altitude
        known = np.where(speed <= engine.known_to(charge), speed, np.nan)
        return engine.full(air=engine.site.air(altitude), airspeed=known, state_of_charge=charge,
                           altitude=np.full(speed.shape, altitude)).installed_thrust

    def to_airspeed(self, airspeed: float, longest: float, *, motor: bool = True) -> None:
        """Get to an airspeed, level where that is possible."""
        if abs(self.airspeed - airspeed) < 1e-9 * airspeed:
            return
        if self.airspeed > airspeed:
            phase = Phase(power="cut", path="level")
        elif motor:
            self.must_reach(airspeed)
            phase = Phase(power="full", path="level")
        else:
            phase = Phase(power="cut", path="straight", sine=DIVE_SINE)
        sign = np.sign(airspeed - self.airspeed)
        met = self.go(phase, [at_airspeed(airspeed, sign)], longest=longest)
        self.in_time(met, longest)
        self.state[AIRSPEED] = airspeed  # the event's root, to the last digit

    def must_reach(self, airspeed: float) -> TopSpeed:
        """Level speed here; breaks off where level flight does not get to an airspeed."""
        found = self.top_speed(float(self.state[CHARGE]))
        top = found.top_speed if np.isfinite(found.top_speed) else found.lowest_bound
        if not top >= airspeed:
            why = (f"level flight settles at {top:.1f} m/s" if np.isfinite(found.top_speed)
                   else found.reason)
            raise BrokenOff(f"cannot reach {airspeed:.1f} m/s: {why}")
        return found

    def in_time(self, met: str, longest: float) -> None:
        """Break off where a leg ran out of time."""
        if met == "time":
            raise BrokenOff(f"not at its end after {longest:.0f} s")


class Latest:
    """Moment at a state, kept until another state is asked for: rates and events ask in turn."""

    def __init__(self, craft: Craft, phase: Phase) -> None:
        self.craft, self.phase = craft, phase
        self._key: bytes = b""
        self._value: Moment | None = None

    def __call__(self, state: Array) -> Moment:
        key = state.tobytes()
        if self._value is None or key != self._key:
            self._key = key
            self._value = moment(self.craft, self.phase, state, beyond=True)
        return self._value


def _event(goal: Goal, latest: Latest) -> Any:
    def event(_: float, state: Array) -> float:
        return float(goal.gap(state, latest(state)))

    event.terminal = goal.terminal  # type: ignore[attr-defined]
    event.direction = goal.direction  # type: ignore[attr-defined]
    return event


def _standing(craft: Craft, phase: Phase) -> list[Goal]:
    """What ends or marks any phase; each gap grows through zero as it happens."""
    goals = []
    if phase.path in ("speed", "straight"):
        goals.append(Goal("ground", lambda y, _: -y[HEIGHT], text="ground met"))
    if phase.path != "rail":
        goals.append(Goal("stall", lambda y, m: -float(stall_margin(craft, y, m)),
                           text="stall"))
    pack, thermal = craft.engine.pack, craft.thermal
    if phase.power == "cut":
        return goals
    if phase.power == "full":
        goals.append(Goal("unknown", lambda y, _: -float(craft.engine.known_margin(
            airspeed=y[AIRSPEED], altitude=craft.engine.site.altitude + y[HEIGHT],
            state_of_charge=y[CHARGE])), text="end of what is known of the machine"))
    if pack is not None:
        goals.append(Goal("cut-off", lambda _, m: 1.0 - float(
            pack.cell_voltage(m.running.terminal_voltage)) / pack.cut_off_voltage,
            text="pack empty"))
        goals.append(Goal("charge", lambda y, _: pack.floor - y[CHARGE], text="pack empty"))
    if phase.setting is not None:
        setting = phase.setting
        goals.append(Goal("hold", lambda y, _: -float(craft.engine.hold_margin(
            setting, state_of_charge=y[CHARGE])), text="the drive can no longer hold"))
    for body, row, name in ((thermal.motor, MOTOR, "motor hot"), (thermal.pack, PACK, "pack hot")):
        if body is not None and body.limit is not None:
            goals.append(Goal(name, _above(row, body.limit), terminal=False,
                               text=f"{name}: {read_as(body.limit, 'degC'):.0f} °C passed"))
    return goals


def _above(row: int, limit: float) -> Callable[[Array, Moment], float]:
    return lambda y, _: float(y[row] - limit)


def at_airspeed(airspeed: float, direction: float) -> Goal:
    return Goal("airspeed", lambda y, _: direction * (y[AIRSPEED] - airspeed),
                 text=f"{airspeed:.1f} m/s reached")


def near_top(run: Run, top: float) -> list[Goal]:
    """Note on passing most of the top speed."""
    mark = NEAR_TOP * top
    if not run.airspeed < mark:
        return []
    return [Goal("near top", lambda y, _: y[AIRSPEED] - mark, terminal=False,
                  text=f"{100 * NEAR_TOP:.0f} % of the top speed, {mark:.1f} m/s")]
