"""Where an axial stage stalls, where it stops pumping, and what is left of it with no flow.

Between the stall limit and no flow a fan runs in rotating stall, which no blade model describes.
The map is a straight line there, from the last flow the blade model vouches for to an estimate at
shutoff, and every point on it is flagged as stalled.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thrustlapse.air.gas import GAMMA, GAS_CONSTANT, mass_flow_function
from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.rotor.axial import losses as loss
from thrustlapse.rotor.axial.flow import Passage, Stage, tip_speed
from thrustlapse.rotor.stalled_plate import plate_normal_force

STALL_REASONS = ("none", "half of the annulus is overloaded in incidence",
                 "half of the annulus is overloaded in diffusion",
                 "flow reverses at the hub", "flow reverses at the tip",
                 "the head has its maximum")
"""What ends the unstalled branch, by the number in :attr:`Limits.reason`."""

BEYOND_IDLE = 1.12
"""How far the map goes into windmilling: flow over the flow of no head [-]."""

BEYOND_NO_LIFT = 1.3
"""Highest flow searched, over the flow at which the mean section does not deflect [-]."""

BELOW_CHOKE = 0.98
"""Highest flow searched, over that of a choked annulus [-]."""


class Limits(NamedTuple):
    """Flow coefficients of shape (batch...) [-]; NaN where the stage never works.

    ``stall`` ends the unstalled branch, for the number ``reason`` of :data:`STALL_REASONS`; the
    blade model holds from ``lowest`` to ``highest``; ``idle`` is the flow of no head, NaN where
    choking comes first. ``best`` is the unstalled flow of highest efficiency.
    """

    stall: Array
    reason: IntArray
    best: Array
    lowest: Array
    idle: Array
    highest: Array


class Shutoff(NamedTuple):
    """Estimates with no flow [-]; ``spread`` is the half-width of the head's two bounds."""

    head: Array
    power: Array
    spread: Array


def search_top(stage: Stage) -> Array:
    """Highest flow coefficient worth searching [-], (batch...): past idling or just unchoked."""
    u = tip_speed(stage)
    middle = stage.rotor.radius.shape[-1] // 2
    angle = stage.rotor.lattice.zero_lift_angle[..., middle:middle + 1]
    blade = stage.shaft_speed * stage.rotor.radius[..., middle:middle + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        undeflected = np.where(np.tan(angle) > 0.0, blade / np.tan(angle), np.nan)
    idle = BEYOND_NO_LIFT * undeflected * stage.area / (u * stage.diameter**2)
    sonic = np.sqrt(GAMMA * GAS_CONSTANT * stage.total_temperature)
    choke = mass_flow_function(mach=1.0) * sonic * stage.area / (u * stage.diameter**2)
    return np.asarray(np.minimum(idle, BELOW_CHOKE * choke)[..., 0, 0])


def find_limits(flow: Array, passage: Passage) -> Limits:
    """Limits of a stage from a passage on a rising grid of flows (batch..., flows)."""
    found = passage.found[..., 0]
    load = _typical_overload(passage)
    head = np.where(found, passage.head[..., 0], -np.inf)
    count = flow.shape[-1]
    place = np.arange(count)
    summit = np.argmax(np.where(load > 1.0, -np.inf, head), axis=-1)[..., None]
    any_good = np.any(found & (load <= 1.0), axis=-1)
    bad = (~found | (load > 1.0)) & (place < summit)
    last_bad = np.max(np.where(bad, place, -1), axis=-1)[..., None]
    lowest_place = np.minimum(last_bad + 1, count - 1)
    lowest = _at(flow, lowest_place)
    lowest = np.where(last_bad >= 0, _crossing(flow, load - 1.0, last_bad, lowest), lowest)
    high_bad = (~found & (place > summit))
    end = np.min(np.where(high_bad, place, count), axis=-1)[..., None] - 1
    falls = (passage.head[..., 0] <= 0.0) & found & (place > summit)
    first = np.min(np.where(falls, place, count), axis=-1)[..., None]
    idle = np.where(first <= end, _crossing(flow, passage.head[..., 0], first - 1, np.nan), np.nan)
    highest = np.fmin(_at(flow, end), BEYOND_IDLE * idle)
    stall = np.maximum(_vertex(flow, passage.head[..., 0], summit), lowest)
    reason = _reason(passage, summit, last_bad)
    good = any_good & np.isfinite(flow[..., -1])

    def flat(values: Array) -> Array:
        return np.where(good, values[..., 0], np.nan)

    return Limits(stall=flat(stall), best=flat(_best(flow, passage, stall, highest)),
                  lowest=flat(lowest), idle=flat(idle), highest=flat(highest),
                  reason=np.where(good, reason, 0))


def _best(flow: Array, passage: Passage, stall: Array, highest: Array) -> Array:
    head, work = passage.head[..., 0], passage.work[..., 0]
    pumps = (flow >= stall) & (flow <= highest) & (head > 0.0) & (work > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        efficiency = np.where(pumps & passage.found[..., 0], head / work, -1.0)
    return _vertex(flow, efficiency, np.argmax(efficiency, axis=-1)[..., None])


def _typical_overload(passage: Passage) -> Array:
    """Overload that half of the annulus exceeds [-]; below zero incidence it counts negative."""
    rotor = passage.rotor
    return np.asarray(np.median(np.where(rotor.incidence > 0.0, rotor.overload, -rotor.overload),
                                axis=-1))


def _reason(passage: Passage, summit: IntArray, last_bad: IntArray) -> IntArray:
    middle = passage.rotor.incidence.shape[-1] // 2
    turned = np.abs(passage.rotor.incidence[..., middle]) / loss.STALL_INCIDENCE
    spread = passage.rotor.diffusion_factor[..., middle] / loss.STALL_DIFFUSION_FACTOR
    overloaded = np.where(turned >= spread, 1, 2)
    reversed_end = np.where(passage.reversed_hub[..., 0], 3, 4)
    why = np.where(passage.found[..., 0], overloaded, reversed_end)
    at_limit = _at(why, np.maximum(last_bad, 0))
    return np.asarray(np.where(last_bad < 0, np.where(summit > 0, 5, 0),
                               np.where(summit > last_bad + 1, 5, at_limit))[..., 0])


def _at(values: Array, place: IntArray) -> Array:
    safe = np.minimum(np.maximum(place, 0), values.shape[-1] - 1)
    shape = np.broadcast_shapes(values.shape[:-1], safe.shape[:-1])
    return np.take_along_axis(np.broadcast_to(values, (*shape, values.shape[-1])),
                              np.broadcast_to(safe, (*shape, 1)), axis=-1)


def _crossing(flow: Array, values: Array, place: IntArray, otherwise: Array | float) -> Array:
    """Flow where values cross zero between two neighbours; the alternative where they do not."""
    a, b = _at(values, place), _at(values, place + 1)
    low, high = _at(flow, place), _at(flow, place + 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = a / (a - b)
        crossed = np.isfinite(share) & (a * b <= 0.0)
        return np.where(crossed, low + share * (high - low), otherwise)


def _vertex(flow: Array, values: Array, place: IntArray) -> Array:
    """Flow of the vertex of a parabola through a largest value and its even neighbours."""
    low, mid, high = _at(values, place - 1), _at(values, place), _at(values, place + 1)
    step = _at(flow, place + 1) - _at(flow, place)
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (low - high) / (low - 2.0 * mid + high)
    inner = (place > 0) & (place < flow.shape[-1] - 1) & (np.abs(shift) <= 1.0)
    return np.where(inner, _at(flow, place) + shift * step, _at(flow, place))


def shutoff(stage: Stage) -> Shutoff:
    """Head and power with no flow: blades beating round as stalled plates.

    Each ring is a plate across the stream of its own speed, with Hoerner's normal force. Its axial
    part over the annulus bounds the head, its tangential part the power. The other bound of the
    head is that of air turning with the hub and casing full of it, the mean of
    (r^2 - r_hub^2) omega^2 / 2 over the annulus. The lesser bound holds, and scales the power
    alike, because both say how fast the air goes round with the blades.

    Notes
    -----
    Good to a factor of about 1.5 either way (judgement); the plate's coefficient is from memory.
    Power is above zero for every rotor whose blades are not flat in its plane.
    """
    rotor, u = stage.rotor, tip_speed(stage)
    angle = 0.5 * np.pi - np.abs(rotor.stagger)
    force = 0.5 * rotor.solidity * plate_normal_force(angle=angle)
    speed = stage.shaft_speed * rotor.radius / u
    plate = np.mean(force * speed**2 * np.cos(angle), axis=-1)
    cost = np.mean(force * speed**3 * np.sin(angle), axis=-1) * (stage.annulus / stage.diameter**2
                                                                 )[..., 0]
    hub = (0.5 * stage.diameter - stage.rotor.height) * stage.shaft_speed / u
    vortex = np.mean(0.5 * (speed**2 - hub**2), axis=-1)
    head = np.minimum(plate, vortex)
    spread = np.abs(plate - vortex) / (plate + vortex)
    return Shutoff(head=head[..., 0], power=(cost * head / plate)[..., 0], spread=spread[..., 0])


def stalled(flow: Array, limits: Limits) -> BoolArray:
    """Which flows of shape (batch..., flows) lie below the stall limit."""
    return np.asarray(flow < np.asarray(limits.stall)[..., None])
