"""From the pieces of an integrated flight to its record: samples, and the energy ledger.

Between samples every power is summed by a Gauss-Legendre rule on the solver's own interpolant; all
nodes of a piece are one elementwise call.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.flight_record import SPENT, FlightBooks
from thrustlapse.aircraft.motion import (
    AIRSPEED,
    CHARGE,
    HEIGHT,
    Craft,
    Moment,
    Phase,
    moment,
)
from thrustlapse.arrays import Array

NODES, WEIGHTS = np.polynomial.legendre.leggauss(5)
LEAST_SAMPLES, PER_STEP = 9, 2
"""Samples of a piece at least, and of each step of the solver."""

SUMMED = ("electrical_energy", "launcher_work", *SPENT[:-2])
"""Books that are sums over the trajectory; the first is what an engine without a pack pays."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One phase as integrated: leg, phase, the solver's times, and its interpolant state(time)."""

    leg: int
    phase: Phase
    steps: Array
    state: Callable[[Array], Array]


@dataclass(frozen=True, kw_only=True)
class Sampled:
    """A piece at its samples: times, states (rows as in ``motion``), moments, sums so far [J]."""

    leg: int
    time: Array
    state: Array
    moment: Moment
    sums: Array


def sample(craft: Craft, piece: Piece) -> Sampled:
    """Samples of a piece, and the energy summed from its first."""
    steps = piece.steps
    if steps.size > 1:
        each = max(PER_STEP, -(-(LEAST_SAMPLES - 1) // (steps.size - 1)))
        share = np.arange(each) / each
        time = np.append((steps[:-1, None] + share * np.diff(steps)[:, None]).ravel(), steps[-1])
    else:
        time = steps
    state = piece.state(time)
    sums = np.zeros((len(SUMMED), time.size))
    if time.size > 1:
        middle, reach = 0.5 * (time[1:] + time[:-1]), 0.5 * np.diff(time)
        inner = middle[:, None] + reach[:, None] * NODES
        at = piece.state(inner.ravel())
        powers = _powers(piece.phase, at, moment(craft, piece.phase, at))
        parts = np.sum(powers.reshape(len(SUMMED), *inner.shape) * WEIGHTS, axis=-1) * reach
        sums[:, 1:] = np.cumsum(parts, axis=-1)
    return Sampled(leg=piece.leg, time=time, state=state,
                   moment=moment(craft, piece.phase, state), sums=sums)


def books(craft: Craft, pieces: Sequence[Sampled]) -> FlightBooks:
    """Energy ledger of a whole flight at all its samples."""
    start, total = np.zeros((len(SUMMED), 1)), []
    for piece in pieces:
        total.append(start + piece.sums)
        start = total[-1][:, -1:]
    sums = dict(zip(SUMMED, np.concatenate(total, axis=1), strict=True))
    state = np.concatenate([piece.state for piece in pieces], axis=1)
    speed, height, charge = state[AIRSPEED], state[HEIGHT], state[CHARGE]
    kinetic = 0.5 * craft.mass * (speed**2 - speed[0] ** 2)
    potential = craft.mass * GRAVITY * (height - height[0])
    pack = craft.engine.pack
    electrical = sums.pop("electrical_energy")
    paid = electrical if pack is None else pack.energy(charge[0]) - pack.energy(charge)
    values = {**sums, "pack_energy": paid, "kinetic": kinetic, "potential": potential}
    spent = sum((values[name] for name in SPENT), np.zeros(speed.shape))
    residual = values["pack_energy"] + values["launcher_work"] - spent
    assert {item.name for item in fields(FlightBooks)} == {*values, "residual"}
    return FlightBooks(residual=np.asarray(residual), **values)


def _powers(phase: Phase, state: Array, now: Moment) -> Array:
    """Powers [W] of :data:`SUMMED`, one row each."""
    speed, run = state[AIRSPEED], now.running
    zero = np.zeros(speed.shape)
    rows = {
        "electrical_energy": run.electrical_power, "launcher_work": phase.pull * speed,
        "pack_heat": run.pack_heat, "lead_heat": run.lead_heat,
        "controller_heat": run.controller_heat,
        "motor_heat": run.motor_heat, "machine_heat": run.machine_loss,
        "jet_energy": run.jet_power, "swirl_energy": run.swirl_power,
        "stored_energy": run.stored_power, "parasite_work": now.drag.parasite * speed,
        "induced_work": now.drag.induced * speed,
        "compressibility_work": now.drag.compressibility * speed,
        "external_work": run.external_drag * speed,
    }
    return np.stack([zero + rows[name] for name in SUMMED])
