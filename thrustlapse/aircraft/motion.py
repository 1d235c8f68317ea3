"""Point-mass motion in the vertical plane: what moves, and how fast everything changes.

Thrust acts along the path. Each phase of a flight has a way of giving power and a path; lift is
whatever the path needs, and drag follows from it. All functions are elementwise in the state.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY, Air, Site
from thrustlapse.aircraft.climb import path_sine
from thrustlapse.aircraft.discharge import Thermal
from thrustlapse.aircraft.drag import Airframe, Drag, level_drag, stall_speed
from thrustlapse.aircraft.thrust_source import Engine, Setting
from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.evaluate_matched import Running

DISTANCE, HEIGHT, AIRSPEED, CHARGE, MOTOR, PACK, HEADING = range(7)
"""Rows of a state: m, m above the site, m/s, state of charge, K, K, rad."""

DENSITY_STEP = 0.5
"""Half the height over which the change of density is taken [m]."""


@dataclass(frozen=True, kw_only=True)
class Craft:
    """What flies: engine, airframe, total mass [kg], lumped thermal model."""

    engine: Engine
    airframe: Airframe
    mass: float
    thermal: Thermal


@dataclass(frozen=True, kw_only=True)
class Phase:
    """A stretch of flight under one rule.

    ``power``: ``full``, ``held`` (at ``setting``) or ``cut``. ``path``: ``level`` (airspeed
    free), ``steady`` (level, airspeed held), ``speed`` (airspeed held by the path's angle, true
    or, where ``equivalent``, equivalent), ``straight`` (angle held), ``rail`` (angle held by a
    rail, with a ``pull`` [N]). ``sine`` of the angle where it is held; ``load_factor`` of a level
    turn.
    """

    power: str
    path: str
    load_factor: float = 1.0
    setting: Setting | None = None
    equivalent: bool = False
    sine: float = 0.0
    pull: float = 0.0
    extra_drag_area: float = 0.0


class Moment(NamedTuple):
    """Everything at a state: air, machine, drag [N], sine of the path angle, load factor [-],
    acceleration along the path [m/s^2]."""

    air: Air
    running: Running
    drag: Drag
    sine: Array
    load_factor: Array
    acceleration: Array


def moment(craft: Craft, phase: Phase, state: Array, *, beyond: bool = False) -> Moment:
    """Forces and powers at a state (or many: one more axis).

    ``beyond`` carries the machine on past what is known of it, for an integrator's trial steps.
    """
    airspeed = state[AIRSPEED]
    altitude = craft.engine.site.altitude + state[HEIGHT]
    air = craft.engine.site.air(altitude)
    running = _running(craft, phase, air=air, altitude=altitude, state=state, beyond=beyond)
    thrust = running.installed_thrust
    zero = np.zeros(np.shape(airspeed))
    with np.errstate(invalid="ignore", divide="ignore"):
        if phase.path == "rail":
            drag = _on_rail(craft, air, airspeed)
            load, sine = zero, zero + phase.sine
            pushed = thrust + phase.pull
        else:
            inertia: Values = 0.0
            pushed = thrust
            if phase.path == "speed":
                inertia = _inertia(craft.engine.site, altitude, air, airspeed) \
                    if phase.equivalent else 0.0
                sine = path_sine(craft.airframe, thrust=thrust, mass=craft.mass,
                                 density=air.density, airspeed=airspeed,
                                 speed_of_sound=air.speed_of_sound, inertia=inertia)
                load = np.sqrt(1.0 - sine * sine)
            elif phase.path == "straight":
                sine = zero + phase.sine
                load = np.sqrt(1.0 - sine * sine)
            else:
                sine, load = zero, zero + phase.load_factor
            drag = level_drag(craft.airframe, mass=craft.mass * load, density=air.density,
                              airspeed=airspeed, speed_of_sound=air.speed_of_sound)
        if phase.path == "steady":
            acceleration = zero
        elif phase.path == "speed":
            acceleration = np.asarray(inertia * GRAVITY * sine)
        else:
            acceleration = (pushed - drag.total) / craft.mass - GRAVITY * sine
    return Moment(air, running, drag=drag, sine=np.asarray(sine), load_factor=np.asarray(load),
                  acceleration=np.asarray(acceleration))


def rates(craft: Craft, phase: Phase, state: Array, now: Moment) -> Array:
    """Rate of change of every row of a state [per s]."""
    airspeed, running = state[AIRSPEED], now.running
    cosine = np.sqrt(1.0 - now.sine * now.sine)
    pack, thermal = craft.engine.pack, craft.thermal
    zero = np.zeros(np.shape(airspeed))
    drain, motor, cells, turning = zero, zero, zero, zero
    if pack is not None and phase.power != "cut":
        drain = -running.current / pack.capacity
    ambient = np.asarray(now.air.temperature)
    if thermal.motor is not None:
        body = thermal.motor
        motor = (running.winding_and_idle_heat - body.conductance * (state[MOTOR] - ambient)
                 ) / body.heat_capacity
    if thermal.pack is not None and pack is not None:
        body = thermal.pack
        cells = (running.pack_heat * (1.0 - pack.lead_share(state[CHARGE]))
                 - body.conductance * (state[PACK] - ambient)) / body.heat_capacity
    if phase.load_factor > 1.0:
        turning = GRAVITY * np.sqrt(phase.load_factor**2 - 1.0) / airspeed
    return np.stack([airspeed * cosine, airspeed * now.sine, now.acceleration, drain, motor,
                     cells, turning])


def stall_margin(craft: Craft, state: Array, now: Moment) -> Array:
    """Airspeed over the stall speed at the load factor of the moment, less one [-]."""
    slowest = stall_speed(craft.airframe, mass=craft.mass * now.load_factor,
                          density=now.air.density)
    return np.asarray(state[AIRSPEED] / slowest - 1.0)


def _running(craft: Craft, phase: Phase, air: Air, altitude: Array, state: Array,
             beyond: bool) -> Running:
    engine, airspeed = craft.engine, state[AIRSPEED]
    if phase.power == "full":
        return engine.full(air=air, airspeed=airspeed, altitude=altitude,
                           state_of_charge=state[CHARGE], beyond=beyond)
    if phase.power == "held":
        assert phase.setting is not None
        return engine.held(phase.setting, air=air, airspeed=airspeed,
                           state_of_charge=state[CHARGE])
    return engine.cut(air=air, airspeed=airspeed, extra_drag_area=phase.extra_drag_area)


def _on_rail(craft: Craft, air: Air, airspeed: Array) -> Drag:
    """Drag with the wing at its lift of least drag."""
    force = 0.5 * air.density * np.square(airspeed) * craft.airframe.wing_area
    least = np.asarray(force * craft.airframe.minimum_drag_coefficient)
    zero = np.zeros(np.shape(least))
    return Drag(parasite=least, induced=zero, compressibility=zero, lift_coefficient=zero
                + craft.airframe.lift_of_least_drag)


def _inertia(site: Site, altitude: Array, air: Air, airspeed: Array) -> Array:
    """V/g dV/dh at constant equivalent airspeed [-]: V goes with the root of 1/density."""
    above, below = site.air(altitude + DENSITY_STEP), site.air(altitude - DENSITY_STEP)
    slope = (above.density - below.density) / (2.0 * DENSITY_STEP)
    return np.asarray(-0.5 * np.square(airspeed) / GRAVITY * slope / air.density)
