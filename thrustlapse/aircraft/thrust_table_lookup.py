"""Reading a surface of thrust: the matched unknowns between its nodes, and how far they are known.

Only the matched unknowns are interpolated; thrust, current and heat are recomputed from them
(``propulsor/evaluate_matched.py``), so the energy balance closes. Each limit of the drive has a
table of its own; the least shaft speed tells which one holds. How the tables are made:
``thrust_surface.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.arrays import FIXED, Array, BoolArray, Values
from thrustlapse.power.drive import DriveLimit, allowed_power, delivery_margin
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.evaluate_matched import Running, Unknowns, recompute

ERROR_ALLOWED = 1e-3
"""Relative error of thrust and current above which it is said [-]."""

KNOWN_POINTS, KNOWN_ROUNDS = 65, 24
"""Airspeeds at which the end of what is known is looked for, and halvings of the cell it is in."""

ROUND = 1e-6
"""Share of its range by which what is known may be left in rounding [-]."""


@dataclass(frozen=True, kw_only=True)
class LimitTable:
    """Unknowns of a candidate with one limit of its drive alone, over airspeed.

    ``spline`` gives ln shaft speed, ln flow, ln throat and head at each altitude, voltage and
    resistance of the pack.
    Where the voltage is the limit, everything goes with airspeed over voltage, so ``scaled``
    airspeed is that at the highest voltage. Known from ``lowest`` to ``highest`` airspeed [m/s].
    Where it ends while it is the limit that holds (``ends_below``, ``ends_above``), nothing is
    known of the machine beyond; where another limit holds by then, its end does not matter.
    """

    limit: DriveLimit
    scaled: bool
    lowest: float
    highest: float
    ends_below: bool = True
    ends_above: bool = True
    spline: Any = field(repr=False, compare=False, metadata=FIXED)


@dataclass(frozen=True, kw_only=True)
class ThrustSurface:
    """Interpolated unknowns of a candidate on a pack; see :func:`build_surface`.

    ``thrust_error`` and ``current_error`` are the largest relative errors found between nodes.
    ``highest`` is the airspeed it was asked for [m/s].
    ``own_head`` where the head is not everywhere the map's own; ``sometimes_starved`` where the
    pack cannot always give what the power cap allows, ``sags`` where it may fail the machine.
    """

    candidate: Candidate
    pack: RunningPack
    tables: tuple[LimitTable, ...]
    altitudes: Array = field(metadata=FIXED)
    voltages: Array = field(metadata=FIXED)
    resistances: Array = field(metadata=FIXED)
    highest: float
    own_head: bool = False
    sometimes_starved: bool = False
    sags: bool = False
    thrust_error: float = float("nan")
    current_error: float = float("nan")

    @property
    def accurate(self) -> bool:
        """Whether both errors are below what is allowed."""
        return max(self.thrust_error, self.current_error) < ERROR_ALLOWED

    def known_to(self, state_of_charge: Values) -> Array:
        """Highest airspeed at which the machine is known at a state of charge [m/s].

        At the lowest and at the highest altitude: where its tables, its map or its pack end first.
        """
        charge = np.asarray(state_of_charge, dtype=float)
        supply = self.pack.supply(charge.ravel(), units=float(self.candidate.count))
        ends = self.altitudes[[0, -1]][:, None]

        def known(speed: Array) -> BoolArray:
            return np.asarray((blended(self, speed, ends, supply)[1] > -ROUND).all(axis=-2))

        grid = np.linspace(0.0, self.highest, KNOWN_POINTS)
        there = known(grid[:, None, None])
        # up to the first gap behind the first value: what lies beyond a gap is not reached
        begun = np.maximum.accumulate(there, axis=0)
        ended = np.argmax(np.concatenate([begun & ~there, np.ones((1, there.shape[1]), bool)]),
                          axis=0)
        last = np.where(there.any(axis=0), ended - 1, 0)
        low, high = grid[last], grid[np.minimum(last + 1, KNOWN_POINTS - 1)]
        for _ in range(KNOWN_ROUNDS):
            middle = 0.5 * (low + high)
            inside = known(middle[None, :])
            low, high = np.where(inside, middle, low), np.where(inside, high, middle)
        return np.asarray(low.reshape(charge.shape))


def full_power(surface: ThrustSurface, *, air: Air, airspeed: Values, altitude: Values,
               state_of_charge: Values, beyond: bool = False) -> Running:
    """What the candidate does at full power; NaN where the machine is not known.

    With ``beyond`` its curves are carried on smoothly past the end of what is known: for the trial
    steps of an integration that stops at that end, and for nothing else.
    """
    supply = surface.pack.supply(state_of_charge, units=float(surface.candidate.count))
    return at_supply(surface, air=air, airspeed=airspeed, altitude=altitude, supply=supply,
                    beyond=beyond)


def known_margin(surface: ThrustSurface, *, airspeed: Values, altitude: Values,
                 state_of_charge: Values) -> Array:
    """How far inside what is known of the machine a state lies [-]: continuous, negative outside.

    A share of the range of airspeeds or of the map's flow, whichever is less.
    """
    supply = surface.pack.supply(state_of_charge, units=float(surface.candidate.count))
    return blended(surface, airspeed, altitude, supply)[1]


def at_supply(surface: ThrustSurface, *, air: Air, airspeed: Values, altitude: Values,
              supply: Supply, beyond: bool = False) -> Running:
    """What the candidate does at full power on a supply; as :func:`full_power`."""
    unit = surface.candidate.unit
    there = replace(surface.candidate, unit=replace(unit, supply=supply))
    unknowns = interpolate(surface, airspeed=airspeed, altitude=altitude, supply=supply,
                           beyond=beyond)
    return recompute(there, air=air, airspeed=airspeed, unknowns=unknowns)


def interpolate(surface: ThrustSurface, *, airspeed: Values, altitude: Values,
                supply: Supply, beyond: bool = False) -> Unknowns:
    """Unknowns of the limit that gives the least shaft speed; NaN where they are not known."""
    values, margin = blended(surface, airspeed, altitude, supply)
    if not beyond:
        outside = ~(margin > -ROUND)
        values = np.where(outside[..., None], np.nan, values) if outside.any() else values
    with np.errstate(over="ignore"):  # a trial step far past the end may come to anything
        omega, flow, throat = (np.exp(values[..., place]) for place in range(3))
    return Unknowns(shaft_speed=omega, flow=flow, throat=throat,
                    head=values[..., 3] if surface.own_head else None)


def blended(surface: ThrustSurface, airspeed: Values, altitude: Values,
            supply: Supply) -> tuple[Array, Array]:
    """Interpolated values of the limit that holds, carried on past the ends, and the margin."""
    v, volts = np.asarray(airspeed, dtype=float), np.asarray(supply.voltage, dtype=float)
    electrical = np.multiply(
        _lagrange(surface.voltages, volts)[..., :, None],
        _lagrange(surface.resistances, np.asarray(supply.resistance, float))[..., None, :])
    weights = np.multiply(
        _lagrange(surface.altitudes, np.asarray(altitude, dtype=float))[..., :, None, None],
        electrical[..., None, :, :])[..., None]
    values: Array | None = None
    margin: Array = np.asarray((surface.highest - v) / surface.highest + 0.0 * volts)
    for table in surface.tables:
        place = v * (surface.voltages[-1] / volts) if table.scaled else v
        found = (table.spline(place) * weights).sum(axis=(-4, -3, -2))
        if table.ends_above:
            margin = np.minimum(margin, (table.highest - place) / table.highest)
        if table.ends_below:
            margin = np.minimum(margin, (place - table.lowest) / table.highest)
        if values is None:
            values = found
            continue
        # past an end at which another limit held, a table says nothing
        unused = np.zeros(place.shape, dtype=bool)
        if not table.ends_above:
            unused |= place > table.highest
        if not table.ends_below:
            unused |= place < table.lowest
        if surface.sometimes_starved and table.limit == DriveLimit.POWER:
            _, _, reachable = allowed_power(surface.candidate.unit.drive, supply)
            unused = unused | ~reachable
        lower = (found[..., 0] < values[..., 0]) & ~unused
        values = np.where(lower[..., None], found, values)
    assert values is not None
    unit = surface.candidate.unit
    if isinstance(unit, Ducted):
        with np.errstate(over="ignore"):
            stage, flow = unit.rotor.stage, np.exp(values[..., 1])
        margin = np.minimum(margin, 1.0 - flow / stage.highest_flow)
        if stage.lowest_flow > 0.0:
            margin = np.minimum(margin, (flow - stage.lowest_flow) / stage.highest_flow)
    if surface.sags:
        with np.errstate(over="ignore"):
            margin = np.minimum(margin, delivery_margin(unit.drive, supply,
                                                        shaft_speed=np.exp(values[..., 0])))
    return values, np.asarray(margin)


def _lagrange(nodes: Array, x: Array) -> Array:
    """Weights of the polynomial through nodes, at x; one more axis at the end."""
    gaps = x[..., None] - nodes
    same = np.eye(nodes.size, dtype=bool)
    over = np.where(same, 1.0, nodes[:, None] - nodes).prod(axis=-1)
    return np.asarray(np.where(same, 1.0, gaps[..., None, :]).prod(axis=-1) / over)
