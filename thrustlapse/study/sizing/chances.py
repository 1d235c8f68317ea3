"""How surely each kind's best design leads, when what is not known is drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.study.chunk_folder import Arrays
from thrustlapse.study.sizing.domain import Best, Domain
from thrustlapse.study.sizing.drawn_kinds import drawn_worth
from thrustlapse.study.sizing.kinds import Kind
from thrustlapse.study.sizing.map_grid import MapGrid
from thrustlapse.study.sizing.merit import Rules
from thrustlapse.study.sizing.work import Task, Work

BLOCK = 48
"""Points drawn together."""


@dataclass(frozen=True, kw_only=True)
class _Block:
    """Some points of a domain, with each kind's best designs there, (points, variables), and where
    it has one, (points,)."""

    kinds: Mapping[str, Kind]
    grids: Mapping[str, MapGrid]
    rules: Rules
    places: Mapping[str, Array]
    known: Mapping[str, Array]
    airspeed: Array
    power: Array
    draws: int
    seed: int


def _led(block: _Block) -> Arrays:
    """Share of common draws in which each kind leads, (points,)."""
    values = []
    for stream, (name, kind) in enumerate(block.kinds.items()):
        kind.keep([block.grids[name]])
        drawn = drawn_worth(kind, block.rules, block.places[name], airspeed=block.airspeed,
                            power=block.power, draws=block.draws, seed=block.seed, stream=stream)
        values.append(np.where(np.isfinite(drawn) & block.known[name], drawn, -np.inf))
    every = np.stack(values)
    first, pulls = np.argmax(every, axis=0), every.max(axis=0) > 0.0
    return {name: np.mean((first == place) & pulls, axis=0)
            for place, name in enumerate(block.kinds)}


def chances(kinds: Mapping[str, Kind], rules: Rules, domain: Domain, best: Mapping[str, Best], *,
            draws: int, work: Work, seed: int = 1) -> dict[str, Array]:
    """Share of common draws in which each kind's best design leads, (powers, airspeeds).

    Drawn are the couplings of free sizing (one value for all kinds: they share a motor family) and
    each kind's map by its band. The designs stay as they are, so a
    draw that would break a limit of theirs is counted as if it held.
    """
    airspeed, power = domain.points
    every = np.arange(power.size)
    grids = {name: kind.grid for name, kind in kinds.items()}

    def task(part: slice) -> Task:
        points = every[part]
        block = _Block(
            kinds=kinds, grids=grids, rules=rules, draws=draws, seed=seed, power=power[points],
            airspeed=airspeed[points],
            places={name: one.places[points] for name, one in best.items()},
            known={name: np.isfinite(one.value).ravel()[points] for name, one in best.items()})
        return Task(call=partial(_led, block), name="how sure", points=points, size=points.size,
                    form=dict.fromkeys(kinds, ((points.size,), np.float64)))

    done = work.done(task(slice(begin, begin + BLOCK)) for begin in range(0, every.size, BLOCK))
    return {name: np.concatenate([one.found[name] for one in done]).reshape(domain.shape)
            for name in kinds}
