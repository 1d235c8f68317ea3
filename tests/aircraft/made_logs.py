"""Flight logs of known factors, slope and wind, from a point-mass integrator of its own.

The predicted thrust of the machine comes from the package, since it is what the factors multiply;
drag polar, motion, turns, wind and noise are written out here: classical Runge and Kutta over
``m dV/dt = a T - D - m g sin(climb)``, turns at a given bank at constant height, positions carried
off by the wind. A log has full power fast and slow, glides, and circles if asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.aircraft.flyers import AIRFRAME, SITE, fan
from thrustlapse.aircraft.flight_log import FlightLog
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.unpowered import unpowered_drag

VOLTAGE, STEP, EVERY = 22.0, 0.05, 5
"""Terminals of a stiff supply [V], step of the integration [s], steps from reading to reading."""

MACHINE = fan()
MASS = float(AIRFRAME.mass + MACHINE.installed_mass)
GRAVITY = 9.80665
DENSITY = float(SITE.air(SITE.altitude).density)

_GRID = np.linspace(9.0, 45.0, 145)
_POINT = operate(replace(MACHINE, unit=replace(MACHINE.unit, supply=Supply(
    voltage=VOLTAGE, resistance=0.0, units=1.0))), airspeed=_GRID)
_FULL = np.asarray(_POINT.net_thrust)
_OWN = np.asarray(_POINT.external_drag)
_AMPS = np.asarray(_POINT.current)


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What a made log was flown with; ``slope`` about ``middle`` [m/s], wind where the air moves to
    [m/s], ``scale`` what the sensor's reading has to be multiplied by."""

    thrust: float
    slope: float
    drag: float
    east: float = 0.0
    north: float = 0.0
    scale: float = 1.0
    middle: float = 24.0

_PLACE = MACHINE.installation
_STOPPED = (0.5 * DENSITY * _GRID**2 * MACHINE.count * (
    _PLACE.pod_drag_area + _PLACE.base_area * _PLACE.base_drag_coefficient)
    + unpowered_drag(MACHINE, air=SITE.air(SITE.altitude), airspeed=_GRID))
"""Drag of the pod with the motor cut, and of the stopped machine, over the grid [N]."""

FULL_PLAN = ((8.0, True, 0.0, 0.0), (6.0, False, 0.0, 0.0), (14.0, True, 0.1, 0.0),
             (8.0, False, -0.12, 0.0), (16.0, True, 0.0, 0.7), (7.0, False, -0.05, 0.0),
             (12.0, True, 0.0, 0.0), (10.0, False, -0.1, 0.0))
"""Time [s], power, climb angle [rad], bank [rad] of each leg: accelerations, a steep slow climb,
circles, glides."""

STRAIGHT = ((8.0, True, 0.0, 0.0), (5.0, False, 0.0, 0.0)) * 4
"""Straight ahead at one height, power on and off."""


def made_log(truth: Truth, *, seed: int, plan: tuple[tuple[float, bool, float, float], ...],
             noise: tuple[float, float] = (0.4, 1.0), ground: bool = True,
             bank: bool = True) -> FlightLog:
    """A log of the legs of a plan, with noise of airspeed [m/s] and height [m]."""
    random = np.random.default_rng(seed)
    reference = float(AIRFRAME.wing_area)

    def rate(speed: float, on: bool, climb: float, roll: float) -> float:
        load = math.cos(climb) / math.cos(roll)
        pressure = 0.5 * DENSITY * speed**2
        lift = load * MASS * GRAVITY / (pressure * reference)
        drag = pressure * reference * (truth.drag * AIRFRAME.minimum_drag_coefficient
                                       + AIRFRAME.induced_factor * (
                                           lift - AIRFRAME.lift_of_least_drag) ** 2)
        if on:
            factor = truth.thrust + truth.slope * (speed / truth.middle - 1.0)
            push = factor * float(np.interp(speed, _GRID, _FULL)) - float(
                np.interp(speed, _GRID, _OWN))
        else:
            push = -float(np.interp(speed, _GRID, _STOPPED))
        return (push - drag) / MASS - GRAVITY * math.sin(climb)

    speed, height, heading, rows, count = 16.0, 60.0, random.uniform(0.0, math.tau), [], 0
    start, clock = 60.0, 0.0
    for length, on, climb, roll in plan:
        # switches fall anywhere between two readings, as a pilot's do
        for _ in range(round(length / STEP) + int(random.integers(EVERY))):
            if count % EVERY == 0:
                rows.append((clock, speed, height - start, on, climb, roll, heading))
            first = rate(speed, on, climb, roll)
            second = rate(speed + 0.5 * STEP * first, on, climb, roll)
            third = rate(speed + 0.5 * STEP * second, on, climb, roll)
            last = rate(speed + STEP * third, on, climb, roll)
            gain = STEP * (first + 2.0 * second + 2.0 * third + last) / 6.0
            height += STEP * (speed + 0.5 * gain) * math.sin(climb)
            heading += STEP * GRAVITY * math.tan(roll) / (speed + 0.5 * gain)
            speed, count, clock = speed + gain, count + 1, clock + STEP
    time, true, high, power, climbing, rolled, nose = np.array(rows, dtype=float).T
    over = np.stack([true * np.cos(climbing) * np.sin(nose) + truth.east,
                     true * np.cos(climbing) * np.cos(nose) + truth.north])
    amps = np.where(power > 0.5, np.interp(true, _GRID, _AMPS), 0.0)
    return FlightLog(
        time=time, height=high + random.normal(0.0, noise[1], time.size),
        airspeed=true / truth.scale + random.normal(0.0, noise[0], time.size),
        voltage=np.full(time.size, VOLTAGE), current=amps,
        airspeed_deviation=noise[0], height_deviation=noise[1],
        load_factor=None if bank else np.ones(time.size), bank=rolled if bank else None,
        ground_speed=np.hypot(*over) + random.normal(0.0, 0.3, time.size) if ground else None,
        track=np.arctan2(*over) + random.normal(0.0, 0.02, time.size) if ground else None)


def drawn_truth(seed: int) -> Truth:
    """Factors as predictions miss, winds as model flyers meet."""
    random = np.random.default_rng([91, seed])
    wind, towards = abs(random.normal(0.0, 3.0)), random.uniform(0.0, math.tau)
    return Truth(thrust=random.normal(1.0, 0.1), slope=random.normal(0.0, 0.15),
                 drag=math.exp(random.normal(0.0, 0.15)), east=wind * math.sin(towards),
                 north=wind * math.cos(towards), scale=random.normal(1.0, 0.04))
