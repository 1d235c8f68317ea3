"""Every candidate flies the same legs on the same airframe and pack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import partial

import numpy as np

from thrustlapse.aircraft.discharge import CUT_OFF_VOLTAGE, RunningPack, Thermal
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_plan import FlightPlan
from thrustlapse.aircraft.flight_record import Flight, FlightBooks
from thrustlapse.aircraft.fly_candidates import Raced, fly_all
from thrustlapse.aircraft.operating_needs import AircraftUse
from thrustlapse.arrays import Array, IntArray
from thrustlapse.power.pack import Pack
from thrustlapse.propulsor.basis import EQUAL_POWER, Basis
from thrustlapse.propulsor.candidate import Candidate, with_power_limit
from thrustlapse.study.comparison import ON_AIRFRAME, Crossover
from thrustlapse.study.flight_study_record import FlightStudy, Flown, FlownEvent, FlownLeg, Track

MOST_SAMPLES = 400
"""Samples of a flight that are kept, about."""


def study_flights(plan: FlightPlan, candidates: Mapping[str, Candidate], airframe: Airframe, *,
                  pack: Pack, use: AircraftUse | None, basis: Basis,
                  crossovers: Sequence[Crossover]) -> FlightStudy:
    """Fly a plan with every candidate.

    Each candidate is capped at the power of the comparison's footing where that is one number;
    where it follows a reference candidate, every candidate flies as its own drive allows, which
    ``conditions`` says.
    """
    cut_off = CUT_OFF_VOLTAGE
    if use is not None and use.cut_off_voltage is not None:
        cut_off = use.cut_off_voltage
    running = RunningPack(pack=pack, cut_off_voltage=cut_off,
                          least_state_of_charge=plan.least_state_of_charge)
    passing_speed = _passing_speed(plan, crossovers)
    held = partial(_on, basis)
    flights: dict[str, Flown] = {}
    not_flown: dict[str, str] = {}
    for name, candidate in candidates.items():
        thermal = Thermal(motor=plan.motors.get(name), pack=plan.pack_heat)
        try:
            raced = fly_all({name: held(candidate)}, airframe, plan.launch, plan.legs,
                            pack=running, thermal=thermal, passing_speed=passing_speed,
                            shared_mass=0.0 if use is None else use.source_mass,
                            held=held)[name]
        except ValueError as reason:  # no surface: nothing is known of the machine
            not_flown[name] = str(reason)
            continue
        flights[name] = _flown(raced)
    return FlightStudy(flights=flights, not_flown=not_flown, passing_speed=passing_speed,
                       conditions=(*_conditions(basis, cut_off, plan), *plan.told))


def _on(basis: Basis, candidate: Candidate) -> Candidate:
    if basis.footing == EQUAL_POWER and basis.electrical_power is not None:
        return with_power_limit(candidate, basis.electrical_power)
    return candidate


def _conditions(basis: Basis, cut_off: float, plan: FlightPlan) -> list[str]:
    held = "each candidate at the most its own drive allows"
    if basis.footing == EQUAL_POWER:
        held = (f"each candidate at {float(basis.electrical_power):g} W at most"
                if basis.electrical_power is not None
                else f"{held}, not at the power of {basis.reference}, which changes with airspeed")
    return [f"flown with {held}",
            f"the pack counts as empty when a cell sags to {cut_off:g} V under load"
            + (f" or {100 * plan.least_state_of_charge:g} % is left"
               if plan.least_state_of_charge > 0.0 else "")]


def _passing_speed(plan: FlightPlan, crossovers: Sequence[Crossover]) -> float | None:
    if plan.passing_speed is not None:
        return plan.passing_speed
    reached = [one.airspeed for one in crossovers
               if one.kind == ON_AIRFRAME and (one.drag_area_threshold or 0.0) > 0.0]
    return max(reached, default=None)


def _flown(raced: Raced) -> Flown:
    flight = raced.flight
    books = flight.books
    return Flown(
        mass=flight.mass, completed=flight.completed, reason=flight.reason,
        time=float(flight.time[-1]), distance=float(flight.distance[-1]),
        energy=flight.energy_used, state_of_charge=float(flight.state_of_charge[-1]),
        top_speed=raced.level.top_speed, near_top_time=raced.near_top_time,
        near_top_distance=raced.near_top_distance, near_top_energy=raced.near_top_energy,
        near_top_reason=raced.near_top_reason, passing=raced.passing,
        books_miss=books.relative_residual, thrust_error=raced.thrust_error,
        current_error=raced.current_error, legs=_legs(flight), events=_events(flight),
        track=_track(flight))


def _legs(flight: Flight) -> tuple[FlownLeg, ...]:
    nothing = float("nan")
    return tuple(FlownLeg(
        name=leg.name, completed=leg.completed, reason=leg.reason, start=leg.start, end=leg.end,
        distance=leg.distance, energy=leg.energy,
        height=float(flight.height[leg.last]) if leg.last >= 0 else nothing,
        airspeed=float(flight.airspeed[leg.last]) if leg.last >= 0 else nothing)
        for leg in flight.legs)


def _events(flight: Flight) -> tuple[FlownEvent, ...]:
    def at(values: Array, time: float) -> float:
        return float(np.interp(time, flight.time, values))

    return tuple(FlownEvent(
        time=event.time, leg=event.leg, name=event.name, text=event.text,
        height=at(flight.height, event.time), airspeed=at(flight.airspeed, event.time),
        state_of_charge=at(flight.state_of_charge, event.time)) for event in flight.events)


def _track(flight: Flight) -> Track:
    kept = kept_samples(flight.leg)
    return Track(
        time=flight.time[kept], leg=flight.leg[kept].astype(float),
        distance=flight.distance[kept], height=flight.height[kept],
        airspeed=flight.airspeed[kept], thrust=flight.thrust[kept],
        external_drag=flight.external_drag[kept], drag=flight.drag[kept],
        electrical_power=flight.power[kept], current=flight.current[kept],
        terminal_voltage=flight.terminal_voltage[kept], shaft_speed=flight.shaft_speed[kept],
        state_of_charge=flight.state_of_charge[kept],
        motor_temperature=flight.motor_temperature[kept],
        pack_temperature=flight.pack_temperature[kept],
        books={item.name: getattr(flight.books, item.name)[kept]
               for item in fields(FlightBooks)})


def kept_samples(leg: IntArray) -> IntArray:
    """Places of the samples that are kept: every so many, and both ends of every leg."""
    every = max(1, -(-leg.size // MOST_SAMPLES))
    keep = np.arange(leg.size) % every == 0
    keep[-1] = True
    change = np.flatnonzero(np.diff(leg))
    keep[change] = keep[change + 1] = True
    return np.flatnonzero(keep)
