"""Every candidate flies the same legs on the same airframe and the same pack."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from thrustlapse.aircraft.discharge import RunningPack, Thermal
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.endurance import on_pack
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.flight_record import Flight
from thrustlapse.aircraft.legs import Climb, Dash, Glide, Launch, Leg
from thrustlapse.aircraft.level_flight import TopSpeed, top_speed
from thrustlapse.aircraft.sizing import Passing, passing
from thrustlapse.aircraft.thrust_source import PackEngine, engine_of
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.propulsor.candidate import Candidate, operate

NEAR_TOP = 0.05
"""How far short of the top speed the run from launch is timed to [-]."""

SPEED_RESERVE = 1.15
"""Highest airspeed of a surface over the highest that is expected [-]."""


@dataclass(frozen=True, kw_only=True)
class Raced:
    """One candidate's flight, and what a comparison asks of it.

    ``level`` is the level speed from launch height on the pack as launched. ``near_top_time``,
    ``near_top_distance`` and ``near_top_energy`` [s, m, J] are from launch, level at full power,
    to 95 % of the top speed; NaN where it has none, ``near_top_reason`` saying why. ``passing``
    is None where no airspeed to pass was asked for, and where it stands for thrust at launch:
    the pack as launched, at launch height. ``thrust_error`` and ``current_error`` are those of
    its surface, relative.
    """

    flight: Flight
    level: TopSpeed
    near_top_time: float
    near_top_distance: float
    near_top_energy: float
    near_top_reason: str
    passing: Passing | None
    thrust_error: float
    current_error: float


def fly_all(candidates: Mapping[str, Candidate], airframe: Airframe, launch: Launch,
            legs: Sequence[Leg], *, pack: RunningPack, thermal: Thermal | None = None,
            passing_speed: float | None = None, shared_mass: float = 0.0,
            held: Callable[[Candidate], Candidate] | None = None) -> dict[str, Raced]:
    """Fly the same legs with every candidate.

    Parameters
    ----------
    candidates : mapping
        By name; scalars only
    airframe : Airframe
        Scalars only; each flies it at its own mass
    pack : RunningPack
        The same for all
    passing_speed : float, optional
        Airspeed of which to say whether it is passed, and what would let it [m/s]
    shared_mass : float
        Part of the installed mass that does not grow with the number of units [kg]: the pack
    held : callable, optional
        Puts a candidate with another number of units on the footing again
    """
    return {name: _race(candidate, airframe, launch=launch, legs=legs, pack=pack, thermal=thermal,
                        passing_speed=passing_speed, shared_mass=shared_mass,
                        held=held) for name, candidate in candidates.items()}


def engine_for(candidate: Candidate, airframe: Airframe, launch: Launch, legs: Sequence[Leg],
               pack: RunningPack) -> tuple[PackEngine, TopSpeed]:
    """Engine whose surface reaches as far as the legs may, and the level speed from launch."""
    site = candidate.site
    air = site.air(site.altitude + launch.height)
    mass = float(total_mass(candidate, airframe))
    there = on_pack(candidate, pack.supply(pack.start, units=float(candidate.count)))
    level = top_speed(lambda speed: operate(there, airspeed=speed, air=air).installed_thrust,
                      airframe, mass=mass, air=air)
    asked = [float(speed) for speed in (getattr(leg, "airspeed", None) for leg in (launch, *legs))
             if speed is not None]
    expected = [level.stall_speed, level.launch_speed, level.top_speed, level.lowest_bound, *asked]
    fastest = SPEED_RESERVE * float(np.nanmax(expected))
    heights = [launch.height, *(leg.height for leg in legs if isinstance(leg, Climb | Glide))]
    engine = engine_of(candidate, pack, highest_airspeed=fastest,
                       altitudes=(float(site.altitude + min(heights)),
                                  float(site.altitude + max(heights))))
    return engine, level


def _race(candidate: Candidate, airframe: Airframe, launch: Launch, legs: Sequence[Leg],
          pack: RunningPack, thermal: Thermal | None, passing_speed: float | None,
          shared_mass: float, held: Callable[[Candidate], Candidate] | None) -> Raced:
    engine, level = engine_for(candidate, airframe, launch=launch, legs=legs, pack=pack)
    mass = float(total_mass(candidate, airframe))
    flight = fly(engine, airframe, launch, legs, mass=mass, thermal=thermal)
    run = fly(engine, airframe, launch, (Dash(short_of_top=NEAR_TOP),), mass=mass)
    done = run.completed
    nothing = float("nan")
    air = candidate.site.air(candidate.site.altitude + launch.height)
    there = on_pack(candidate, pack.supply(pack.start, units=float(candidate.count)))
    return Raced(
        flight=flight, level=level, near_top_time=float(run.time[-1]) if done else nothing,
        near_top_distance=float(run.distance[-1]) if done else nothing,
        near_top_energy=run.energy_used if done else nothing, near_top_reason=run.reason,
        passing=None if passing_speed is None else passing(
            there, airframe, air=air, airspeed=passing_speed, shared_mass=shared_mass,
            held=held),
        thrust_error=engine.surface.thrust_error, current_error=engine.surface.current_error)
