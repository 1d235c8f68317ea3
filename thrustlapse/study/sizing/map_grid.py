"""Maps of any design of a family, smoothly between those computed on a grid of its shapes.

A mean-line map costs a millisecond and more, a search asks for millions. So maps are computed at
the Chebyshev points of every shape variable, and a design's map is the polynomial through them,
Reynolds and Mach number included: diameter and tip speed are among the variables.

Of ducted rotors the polynomials join points that correspond: shutoff, stall where the blades tell
it, and the end of the map, which is free delivery or choking, whichever comes first, and flows
evenly between these. Read are stall and end, the head and the logarithm of the power lost, so that
no map gains more than its shaft gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.axial.stage import axial_stage
from thrustlapse.rotor.batched_map import BatchedMap, BatchedTable, row_curves
from thrustlapse.rotor.centrifugal.stage import centrifugal_stage
from thrustlapse.rotor.propeller.blades import propeller_table
from thrustlapse.rotor.propeller.geometry import generic_blade
from thrustlapse.rotor.stage_map import Band, NoMap
from thrustlapse.study.sizing.wheels import fan, wheel

POINTS = 28
"""Points along a map; shape-preserving curves join them."""

BELOW_STALL = 6
"""Points of a map up to stall, where that is known: its kink then lies at one point of all maps."""

MACH_ROWS = (0.1, 0.35, 0.6, 0.85)
"""Tip Mach numbers at rest of the rows of a propeller's table [-]."""


@dataclass(frozen=True, kw_only=True)
class Variable:
    """A variable of the grid: its range, how many nodes, and whether its logarithm counts."""

    low: float
    high: float
    nodes: int
    ratio: bool = False

    def share(self, value: Array) -> Array:
        """Place within the range [-], 0 to 1."""
        ends = (self.low, self.high)
        if self.ratio:
            value, ends = np.log(value), (np.log(self.low), np.log(self.high))
        return np.asarray((value - ends[0]) / (ends[1] - ends[0]))

    def value(self, share: Array) -> Array:
        """Value at a place within the range."""
        if self.ratio:
            return np.asarray(self.low * (self.high / self.low) ** np.asarray(share))
        return np.asarray(self.low + np.asarray(share) * (self.high - self.low))

    @property
    def places(self) -> Array:
        """Places of the nodes [-]: Chebyshev points stretched to both ends."""
        points = np.cos(np.pi * (np.arange(self.nodes) + 0.5) / self.nodes)
        return np.asarray(0.5 - 0.5 * points / points[0])

    def weights(self, value: Array) -> Array:
        """Share of each node's map in that of each value, (n, nodes): Lagrange's polynomials."""
        at, places = self.share(value)[:, None], self.places
        columns = []
        for place in range(self.nodes):
            others = np.delete(places, place)
            columns.append(np.prod((at - others) / (places[place] - others), axis=1))
        return np.stack(columns, axis=1)


@dataclass(frozen=True, kw_only=True)
class MapGrid:
    """Maps at every combination of nodes; ``tables`` are (nodes, numbers of a map), ``band`` that
    of the node in the middle."""

    variables: Mapping[str, Variable]
    tables: Mapping[str, Array]
    band: Band

    def read(self, values: Mapping[str, Array]) -> dict[str, Array]:
        """Tables of designs by their variables, each of shape (n,)."""
        whole = np.ones((next(iter(values.values())).size, 1))
        for name, variable in self.variables.items():
            along = variable.weights(values[name])
            whole = (whole[:, :, None] * along[:, None, :]).reshape(whole.shape[0], -1)
        return {name: whole @ table for name, table in self.tables.items()}


def nodes(variables: Mapping[str, Variable]) -> dict[str, Array]:
    """Values at every combination of nodes, in the order :meth:`MapGrid.read` counts them."""
    grids = np.meshgrid(*(one.value(one.places) for one in variables.values()), indexing="ij")
    return dict(zip(variables, (grid.ravel() for grid in grids), strict=True))


def blower_grid(variables: Mapping[str, Variable], *, air: Air) -> MapGrid:
    """Grid over ``diameter`` [m], ``tip_speed`` [m/s], ``width`` [-] and ``exit_angle`` [rad]."""
    at = nodes(variables)
    stage = centrifugal_stage(
        wheel(diameter=at["diameter"], width=at["width"], exit_angle=at["exit_angle"]),
        shaft_speed=2.0 * at["tip_speed"] / at["diameter"], total_pressure=float(air.pressure),
        total_temperature=float(air.temperature))
    points = stage.points
    return _grid(variables, {"flow": points.flow, "head": points.head, "power": points.power},
                 band=stage.band_at((at["diameter"].size // 2,)))


def fan_grid(variables: Mapping[str, Variable], *, air: Air) -> MapGrid:
    """Grid over ``diameter``, ``tip_speed``, ``hub_ratio``, ``flow_angle`` and ``swirl``."""
    at = nodes(variables)
    stage = axial_stage(
        fan(diameter=at["diameter"], hub_ratio=at["hub_ratio"], flow_angle=at["flow_angle"],
            swirl=at["swirl"]),
        shaft_speed=2.0 * at["tip_speed"] / at["diameter"], total_pressure=float(air.pressure),
        total_temperature=float(air.temperature), radii=6, band=False)
    flow = np.broadcast_to(stage.flow, stage.head.shape)
    return _grid(variables, {"flow": flow, "head": stage.head, "power": stage.power,
                             "swirl": stage.swirl}, stall=np.asarray(stage.stall_flow),
                 band=stage.band)


def _grid(variables: Mapping[str, Variable], tables: Mapping[str, Array], *, band: Band,
          stall: Array | None = None) -> MapGrid:
    """Grid of maps on :data:`POINTS` corresponding flows each; ``loss`` is a logarithm."""
    for name, table in tables.items():
        bad = int(np.count_nonzero(~np.isfinite(table).all(axis=-1)))
        if bad:
            raise NoMap(f"no {name} at {bad} of {table.shape[0]} nodes of the free designs: narrow "
                        "the ranges of the free variables")
    flow, rows = tables["flow"], np.arange(tables["flow"].shape[0])[:, None]
    # below stall a weak fan's head may pass zero twice
    sound = flow >= (0.0 if stall is None else stall[:, None])
    ends = {"end": _end(flow, np.where(sound, tables["head"], np.inf))}
    if stall is not None:
        ends["stall"] = stall[:, None]
    wanted = _flows(ends)
    found = {name: row_curves(flow, table)(rows, wanted)
             for name, table in tables.items() if name != "flow"}
    loss = found.pop("power") - found["head"] * wanted
    return MapGrid(variables=variables, band=band,
                   tables={**ends, **found, "loss": np.log(loss)})


def _end(flow: Array, head: Array) -> Array:
    """Flow at which a head is gone, or the last flow where it never is, (maps, 1)."""
    gone = head <= 0.0
    after = np.where(gone.any(axis=1), np.argmax(gone, axis=1), flow.shape[1] - 1)[:, None]
    last, first, high, low = (np.take_along_axis(values, at, axis=1) for values in (flow, head)
                              for at in (after - 1, after))
    share = np.where(low < 0.0, high / (high - low), 1.0)
    return np.asarray(last + share * (first - last))


def _flows(read: Mapping[str, Array]) -> Array:
    """Flows of the points of maps by their ends, and stall where it is known, (maps, points)."""
    end = read["end"]
    if "stall" not in read:
        return np.asarray(np.linspace(0.0, 1.0, POINTS) * end)
    stall, above = read["stall"], np.linspace(0.0, 1.0, POINTS - BELOW_STALL + 1)[1:]
    return np.concatenate([np.linspace(0.0, 1.0, BELOW_STALL) * stall,
                           stall + above * (end - stall)], axis=1)


def propeller_grid(variables: Mapping[str, Variable], *, air: Air) -> MapGrid:
    """Grid over ``diameter`` [m], ``pitch_ratio`` and ``chord_ratio`` [-]: CT and CP over J."""
    at = nodes(variables)
    sound = float(np.asarray(air.speed_of_sound))
    tables = []
    for diameter, pitch, chord in zip(at["diameter"].tolist(), at["pitch_ratio"].tolist(),
                                      at["chord_ratio"].tolist(), strict=True):
        speeds = tuple(2.0 * mach * sound / diameter for mach in MACH_ROWS)
        last = 0.75 * np.pi * np.tan(np.arctan(1.03 * pitch / (0.75 * np.pi)) + np.deg2rad(8.0))
        tables.append(propeller_table(
            generic_blade(diameter=diameter, pitch=pitch * diameter,
                          widest_chord=chord * diameter),
            air=air, shaft_speeds=speeds, advance_ratios=tuple(
                np.linspace(0.0, float(last), POINTS).tolist()), radii=16))
    return MapGrid(variables=variables, band=tables[len(tables) // 2].band, tables={
        "advance_ratio": np.stack([one.advance_ratio for one in tables]),
        "thrust": np.stack([one.thrust_points.ravel() for one in tables]),
        "power": np.stack([one.power_points.ravel() for one in tables])})


def stage_maps(grid: MapGrid, values: Mapping[str, Array], *, gain: float = 0.0) -> BatchedMap:
    """Maps of ducted designs, a row each; ``gain`` [-] is added to the best efficiency of each, by
    less power at every flow."""
    read = grid.read(values)
    flow, head = _flows(read), read["head"]
    power = head * flow + np.exp(read["loss"])
    scale: Values = 1.0
    if gain:
        best = np.max(head * flow / power, axis=1, keepdims=True, where=power > 0.0, initial=0.0)
        scale = best / (best + gain)
    stall = read.get("stall")
    return BatchedMap(
        flow=flow, head_points=head, power_points=power, swirl_points=read.get("swirl"),
        stall=None if stall is None else stall[:, 0], band=grid.band,
        row=np.arange(flow.shape[0])[:, None], power_scale=scale,
        source="mean-line models, free designs")


def propeller_tables(grid: MapGrid, values: Mapping[str, Array], *,
                     speed_of_sound: float) -> BatchedTable:
    """Tables of propellers, a row each."""
    read = grid.read(values)
    count, rows = read["advance_ratio"].shape[0], len(MACH_ROWS)
    knots = np.repeat(read["advance_ratio"], rows, axis=0)
    speeds = 2.0 * np.array(MACH_ROWS) * speed_of_sound / values["diameter"][:, None]
    return BatchedTable(
        shaft_speed=speeds, last_advance_ratio=read["advance_ratio"][:, -1],
        thrust_curves=row_curves(knots, read["thrust"].reshape(count * rows, POINTS)),
        power_curves=row_curves(knots, read["power"].reshape(count * rows, POINTS)),
        band=grid.band, row=np.arange(count)[:, None], source="blade elements, free designs")
