"""Flying through legs: the trajectory, its events, and what ends it.

    m dV/dt = T - D - m g sin(angle)

with thrust, current and heat recomputed from the engine at every evaluation. Each leg is one or
more phases (``motion.py``), each integrated with events by SciPy's ``solve_ivp``. A leg that cannot
be flown is said so, and the flight up to there is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.aircraft.discharge import Thermal
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_ledger import Sampled, books, sample
from thrustlapse.aircraft.flight_legs import FLOWN
from thrustlapse.aircraft.flight_record import Flight, LegResult
from thrustlapse.aircraft.flight_run import METHOD, TOLERANCE, BrokenOff, Run
from thrustlapse.aircraft.legs import WORDS, Glide, Launch, Leg
from thrustlapse.aircraft.motion import (
    AIRSPEED,
    CHARGE,
    DISTANCE,
    HEADING,
    HEIGHT,
    MOTOR,
    PACK,
    Craft,
)
from thrustlapse.aircraft.thrust_source import Engine
from thrustlapse.arrays import Array


def fly(engine: Engine, airframe: Airframe, launch: Launch, legs: Sequence[Leg], *, mass: float,
        thermal: Thermal | None = None, method: str = METHOD,
        tolerance: float = TOLERANCE) -> Flight:
    """Fly a launch and legs.

    Parameters
    ----------
    engine : Engine
        ``engine.engine_of(candidate, pack, ...)``
    airframe : Airframe
        Scalars only
    launch : HandLaunch or RailLaunch
    legs : sequence
        Legs of ``legs.py``, in order
    mass : float
        Total mass [kg]
    thermal : Thermal, optional
        Lumped thermal model of motor and pack
    method, tolerance : str, float
        Solver of ``scipy.integrate.solve_ivp`` and its relative tolerance

    Returns
    -------
    Flight
        Never raises for a leg that cannot be flown: it says why, and keeps what was flown. After
        an empty pack the next glide among the legs, if there is one, is still flown.
    """
    craft = Craft(engine=engine, airframe=airframe, mass=mass, thermal=thermal or Thermal())
    run = Run(craft, method, tolerance)
    results: list[LegResult] = []
    stopped, gliding_only = "", False
    for place, leg in enumerate((launch, *legs)):
        run.leg = place
        if (stopped and not gliding_only) or (gliding_only and not isinstance(leg, Glide)):
            results.append(_not_begun(leg, stopped))
            continue
        begin, first = run.state.copy(), len(run.pieces)
        start, completed, reason = run.time, True, "flown to its end"
        try:
            FLOWN[type(leg)](run, leg)
        except BrokenOff as stop:
            completed, reason = stop.asked, stop.reason
            stopped, gliding_only = stop.reason, stop.pack
        results.append(_leg_result(run, leg, begin=begin, start=start, first=first,
                                   completed=completed, reason=reason))
    return _record(run, results)


def _not_begun(leg: Launch | Leg, stopped: str) -> LegResult:
    nothing = float("nan")
    return LegResult(name=WORDS[type(leg)], completed=False, reason=f"not begun: {stopped}",
                     start=nothing, end=nothing, distance=nothing, energy=nothing, first=-1,
                     last=-1)


def _leg_result(run: Run, leg: Launch | Leg, begin: Array, start: float, first: int,
                completed: bool, reason: str) -> LegResult:
    """Leg as flown; ``first`` and ``last`` are still pieces here, and samples in the record."""
    pack = run.craft.engine.pack
    energy = 0.0 if pack is None else float(pack.energy(begin[CHARGE])
                                            - pack.energy(run.state[CHARGE]))
    last = len(run.pieces) - 1
    return LegResult(name=WORDS[type(leg)], completed=completed, reason=reason, start=start,
                     end=run.time, distance=float(run.state[DISTANCE] - begin[DISTANCE]),
                     energy=energy, first=first if last >= first else -1, last=last
                     if last >= first else -1)


def _record(run: Run, results: Sequence[LegResult]) -> Flight:
    craft = run.craft
    sampled = [sample(craft, piece) for piece in run.pieces]
    ends = np.cumsum([piece.time.size for piece in sampled])
    starts = ends - [piece.time.size for piece in sampled]
    legs = tuple(one if one.first < 0 else replace(
        one, first=int(starts[one.first]), last=int(ends[one.last]) - 1) for one in results)
    state = np.concatenate([piece.state for piece in sampled], axis=1)

    def joined(read: Callable[[Sampled], Any]) -> Array:
        return np.concatenate([np.broadcast_to(read(piece), piece.time.shape)
                               for piece in sampled])

    none = np.full(state.shape[1], np.nan)
    thermal = craft.thermal
    failed = next((one for one in legs if not one.completed), None)
    return Flight(
        candidate=craft.engine.name, mass=craft.mass, time=joined(lambda one: one.time),
        distance=state[DISTANCE], height=state[HEIGHT], airspeed=state[AIRSPEED],
        path_angle=joined(lambda one: np.arcsin(one.moment.sine)), heading=state[HEADING],
        load_factor=joined(lambda one: one.moment.load_factor),
        thrust=joined(lambda one: one.moment.running.net_thrust),
        external_drag=joined(lambda one: one.moment.running.external_drag),
        drag=joined(lambda one: one.moment.drag.total),
        power=joined(lambda one: one.moment.running.electrical_power),
        current=joined(lambda one: one.moment.running.current),
        terminal_voltage=joined(lambda one: _terminal(craft, one)),
        shaft_speed=joined(lambda one: one.moment.running.shaft_speed),
        state_of_charge=state[CHARGE],
        motor_temperature=none if thermal.motor is None else state[MOTOR],
        pack_temperature=none if thermal.pack is None else state[PACK],
        drive_limit_code=joined(
            lambda one: one.moment.running.drive_limit_code).astype(np.int64),
        leg=joined(lambda one: np.full(one.time.size, float(one.leg))).astype(np.int64),
        books=books(craft, sampled), legs=legs,
        events=tuple(sorted(run.events, key=lambda event: event.time)),
        completed=failed is None,
        reason="all legs flown" if failed is None else f"{failed.name}: {failed.reason}",
        evaluations=run.evaluations)


def _terminal(craft: Craft, one: Sampled) -> Array:
    """Voltage at the pack's terminals, at rest too [V]; NaN without a pack."""
    pack = craft.engine.pack
    if pack is None:
        return np.full(one.time.shape, np.nan)
    return np.asarray(pack.voltage(one.state[CHARGE])
                      - one.moment.running.current * pack.resistance(one.state[CHARGE]))
