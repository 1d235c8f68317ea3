"""How each kind of leg is flown: one function per kind, in :data:`FLOWN`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.aircraft.climb import (
    best_lift_coefficient,
    glide,
    greatest,
    lift_speed,
    path_sine,
)
from thrustlapse.aircraft.drag import level_drag, stall_speed
from thrustlapse.aircraft.flight_run import BrokenOff, Goal, Run, at_airspeed, near_top
from thrustlapse.aircraft.legs import (
    Accelerate,
    Climb,
    Coast,
    Cruise,
    Dash,
    Glide,
    HandLaunch,
    RailLaunch,
    Turn,
)
from thrustlapse.aircraft.motion import (
    AIRSPEED,
    CHARGE,
    DISTANCE,
    HEADING,
    HEIGHT,
    Phase,
)
from thrustlapse.aircraft.thrust_source import Setting
from thrustlapse.arrays import Array

LEAST_RATE = 0.05
"""Rate of climb below which a climb is given up [m/s]."""

GLIDE_MARGIN = 1.05
"""Least airspeed of a glide over the stall speed [-]; common practice."""

DRAWN = np.array([0.0, 0.01, 0.03, 0.07, 0.15, 0.3, 0.5, 0.75, 1.0])
"""Shares of what is left in the pack at which top speeds are found before a dash."""


def _hand_launch(run: Run, leg: HandLaunch) -> None:
    craft = run.craft
    thrown = leg.airspeed if leg.airspeed is not None else float(
        np.asarray(craft.airframe.launch_speed))
    run.state[AIRSPEED], run.state[HEIGHT] = thrown, leg.height
    run.begin(Phase(power="cut", path="level"))
    slowest = float(stall_speed(craft.airframe, mass=craft.mass,
                                density=craft.engine.site.air(run.altitude).density))
    if thrown < slowest:
        raise BrokenOff(f"launched at {thrown:.1f} m/s, below the stall at {slowest:.1f} m/s: it "
                         "cannot hold height from the hand")
    run.note("launched", f"launched at {thrown:.1f} m/s")


def _rail_launch(run: Run, leg: RailLaunch) -> None:
    run.state[HEIGHT] = leg.height
    sine, cosine = float(np.sin(leg.angle)), float(np.cos(leg.angle))
    phase = Phase(power="full", path="rail", sine=sine, pull=leg.pull)
    if not float(run.now(phase).acceleration) > 0.0:
        run.begin(Phase(power="cut", path="level"))
        raise BrokenOff("thrust and pull do not move it up the rail")
    end = Goal("rail end", lambda y, _: y[DISTANCE] * cosine
                + (y[HEIGHT] - leg.height) * sine - leg.length, text="leaves the rail")
    run.in_time(run.go(phase, [end], longest=600.0), 600.0)
    craft = run.craft
    slowest = float(stall_speed(craft.airframe, mass=craft.mass,
                                density=craft.engine.site.air(run.altitude).density))
    if run.airspeed < slowest:
        raise BrokenOff(f"leaves the rail at {run.airspeed:.1f} m/s, below the stall at "
                         f"{slowest:.1f} m/s")
    run.note("launched", f"leaves the rail at {run.airspeed:.1f} m/s")


def _accelerate(run: Run, leg: Accelerate) -> None:
    if run.airspeed >= leg.airspeed:
        run.note("airspeed", f"already faster than {leg.airspeed:.1f} m/s")
        return
    found = run.must_reach(leg.airspeed)
    phase = Phase(power="full", path="level")
    goals = [at_airspeed(leg.airspeed, 1.0), *near_top(run, found.top_speed)]
    run.in_time(run.go(phase, goals, longest=leg.longest), leg.longest)


def _coast(run: Run, leg: Coast) -> None:
    if run.airspeed <= leg.airspeed:
        run.note("airspeed", f"already slower than {leg.airspeed:.1f} m/s")
        return
    phase = Phase(power="cut", path="level", extra_drag_area=leg.extra_drag_area)
    met = run.go(phase, [at_airspeed(leg.airspeed, -1.0)], longest=leg.longest)
    run.in_time(met, leg.longest)


def _dash(run: Run, leg: Dash) -> None:
    pack = run.craft.engine.pack
    charge = float(run.state[CHARGE])
    left = 0.0 if pack is None else charge - pack.floor
    found = run.top_speed(charge)
    if not np.isfinite(found.top_speed):
        raise BrokenOff(f"no top speed: {found.reason}")
    charges = charge - DRAWN * left
    tops = (run.top_speeds(charges) if left > 0.0
            else np.full(DRAWN.size, found.top_speed))
    # the present one is known whatever the search near the end of a map makes of it
    tops[0] = tops[0] if np.isfinite(tops[0]) else found.top_speed
    known = np.isfinite(tops)
    run.note("top speed", f"top speed here {found.top_speed:.2f} m/s")

    # against voltage the top speed runs smoothly, whatever the shape of the pack's curve
    volts = -DRAWN if pack is None else pack.voltage(charges)

    def top(state: Array) -> float:
        here = 0.0 if pack is None else float(pack.voltage(state[CHARGE]))
        return float(np.interp(here, volts[known][::-1], tops[known][::-1]))

    rising = run.airspeed < found.top_speed
    sign, share = (1.0, 1.0 - leg.short_of_top) if rising else (-1.0, 1.0 + leg.short_of_top)
    if sign * (run.airspeed - share * found.top_speed) >= 0.0:
        run.note("at top speed", "already at top speed")
        return
    goal = Goal("at top speed", lambda y, _: sign * (y[AIRSPEED] - share * top(y)),
                 text=f"within {100 * leg.short_of_top:.1f} % of top speed")
    goals = [goal, *near_top(run, found.top_speed)]
    run.in_time(run.go(Phase(power="full", path="level"), goals, longest=leg.longest),
                leg.longest)


def _climb(run: Run, leg: Climb) -> None:
    if run.state[HEIGHT] >= leg.height:
        run.note("height", f"already above {leg.height:.0f} m")
        return
    speed = leg.airspeed if leg.airspeed is not None else _fastest_climb(run)
    run.to_airspeed(speed, leg.longest)
    phase = Phase(power="full", path="speed", equivalent=leg.hold == "equivalent airspeed")
    now = run.now(phase)
    if np.isnan(now.sine) and np.isfinite(now.running.installed_thrust):
        run.no_path(now)
    rate = run.airspeed * float(now.sine)
    if not rate > LEAST_RATE:
        raise BrokenOff(f"cannot climb at {speed:.1f} m/s: {rate:.2f} m/s at full power")
    goals = [
        Goal("height", lambda y, _: y[HEIGHT] - leg.height,
              text=f"{leg.height:.0f} m above the site reached"),
        Goal("climb ends", lambda y, m: LEAST_RATE - y[AIRSPEED] * float(m.sine),
              text="climbs no more")]
    met = run.go(phase, goals, longest=leg.longest)
    run.in_time(met, leg.longest)
    if met == "climb ends":
        raise BrokenOff(f"climbs no more at {run.state[HEIGHT]:.0f} m above the site")


def _fastest_climb(run: Run) -> float:
    craft, air = run.craft, run.craft.engine.site.air(run.altitude)
    charge = float(run.state[CHARGE])
    slowest = GLIDE_MARGIN * float(stall_speed(craft.airframe, mass=craft.mass,
                                               density=air.density))

    def rate(speed: Array) -> Array:
        shape = speed.shape
        thrust = craft.engine.full(air=air, airspeed=speed,
                                   altitude=np.full(shape, run.altitude),
                                   state_of_charge=np.full(shape, charge)).installed_thrust
        return speed * path_sine(craft.airframe, thrust=thrust, mass=craft.mass,
                                 density=air.density, airspeed=speed,
                                 speed_of_sound=air.speed_of_sound)

    end = min(float(craft.engine.known_to(charge)), 20.0 * slowest)
    if not end > slowest:
        raise BrokenOff("nothing is known of the machine at any airspeed above the stall")
    found = float(greatest(rate, np.asarray(slowest), np.asarray(end)))
    if not np.isfinite(found):
        raise BrokenOff("no steady climb at any airspeed: thrust exceeds drag and weight")
    return found


def _turn(run: Run, leg: Turn) -> None:
    if not leg.load_factor > 1.0:
        raise BrokenOff(f"a level turn needs a load factor above 1, not {leg.load_factor:g}")
    phase = Phase(power="full", path="level", load_factor=leg.load_factor)
    if leg.throttle == "held":
        phase = replace(phase, power="held", path="steady", setting=part_power(
            run, leg.load_factor, f"a turn of load factor {leg.load_factor:g}"))
    start = float(run.state[HEADING])
    goal = Goal("turned", lambda y, _: y[HEADING] - start - leg.angle,
                 text=f"turned through {np.degrees(leg.angle):.0f} degrees")
    run.in_time(run.go(phase, [goal], longest=leg.longest), leg.longest)


def part_power(run: Run, load_factor: float, what: str) -> Setting:
    """Part power for level flight at the present airspeed."""
    craft, air = run.craft, run.craft.engine.site.air(run.altitude)
    drag = float(level_drag(craft.airframe, mass=craft.mass * load_factor, density=air.density,
                            airspeed=run.airspeed, speed_of_sound=air.speed_of_sound).total)
    found = craft.engine.setting(air=air, airspeed=run.airspeed, altitude=run.altitude,
                                 thrust=drag, state_of_charge=float(run.state[CHARGE]))
    if found is None:
        raise BrokenOff(f"cannot hold {run.airspeed:.1f} m/s in {what}: no power up to full, as "
                        f"far as its map is known, gives the {drag:.2f} N of drag")
    return found


def _cruise(run: Run, leg: Cruise) -> None:
    if leg.airspeed is not None:
        run.to_airspeed(leg.airspeed, leg.longest)
    phase = Phase(power="held", path="steady", setting=part_power(run, 1.0, "level flight"))
    goals, start = [], float(run.state[DISTANCE])
    if leg.distance is not None:
        wanted = leg.distance
        goals.append(Goal("distance", lambda y, _: y[DISTANCE] - start - wanted,
                           text=f"{wanted:.0f} m flown"))
    until_empty = leg.time is None and leg.distance is None
    longest = leg.longest if leg.time is None else min(leg.time, leg.longest)
    try:
        met = run.go(phase, goals, longest=longest)
    except BrokenOff as stop:
        if until_empty and stop.pack:
            raise BrokenOff(stop.reason, pack=True, asked=True) from None
        raise
    if met == "time" and (leg.time is None or leg.time > leg.longest):
        run.in_time(met, longest)


def _glide(run: Run, leg: Glide) -> None:
    phase = Phase(power="cut", path="speed", equivalent=leg.hold == "equivalent airspeed",
                  extra_drag_area=leg.extra_drag_area)
    speed = leg.airspeed if leg.airspeed is not None else _best_glide(run, phase)
    if run.state[HEIGHT] <= leg.height:
        raise BrokenOff(f"already at {run.state[HEIGHT]:.1f} m, not above {leg.height:.1f} m")
    run.to_airspeed(speed, leg.longest, motor=False)
    goals = [] if leg.height <= 0.0 else [
        Goal("height", lambda y, _: leg.height - y[HEIGHT],
              text=f"down to {leg.height:.0f} m")]
    try:
        met = run.go(phase, goals, longest=leg.longest)
    except BrokenOff as stop:
        if leg.height <= 0.0 and run.events[-1].name == "ground":
            return
        raise stop
    run.in_time(met, leg.longest)


def _best_glide(run: Run, phase: Phase) -> float:
    craft, air = run.craft, run.craft.engine.site.air(run.altitude)
    still = craft.engine.cut(air=air, airspeed=1.0, extra_drag_area=phase.extra_drag_area)
    extra = float(still.external_drag / (0.5 * air.density))
    burdened = replace(craft.airframe, minimum_drag_coefficient=np.asarray(
        craft.airframe.minimum_drag_coefficient) + extra / np.asarray(craft.airframe.wing_area))
    lift = best_lift_coefficient(burdened, exponent=1.0)
    speed = float(glide(burdened, mass=craft.mass, density=air.density,
                        lift_coefficient=lift).airspeed)
    slowest = float(lift_speed(craft.airframe, mass=craft.mass, density=air.density,
                               lift_coefficient=craft.airframe.greatest_lift))
    return max(speed, GLIDE_MARGIN * slowest)


FLOWN: dict[type, Callable[[Run, Any], None]] = {
    HandLaunch: _hand_launch, RailLaunch: _rail_launch, Accelerate: _accelerate, Coast: _coast,
    Climb: _climb, Turn: _turn, Dash: _dash, Cruise: _cruise, Glide: _glide}
