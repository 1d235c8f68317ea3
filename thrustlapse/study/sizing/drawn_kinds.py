"""What designs are worth when what is not known of them is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.register import REGISTER
from thrustlapse.rotor.batched_map import BatchedMap, BatchedTable
from thrustlapse.study.sizing.kinds import Couplings, Kind
from thrustlapse.study.sizing.merit import Rules, worth_of

COUPLED = {"copper_merit": "motor copper merit", "iron_loss": "motor iron loss",
           "heat_shed": "motor heat shed", "rim_speed": "motor rim speed",
           "structure": "unit structure"}
"""Field of :class:`Couplings` -> entry of the register."""


def drawn_worth(kind: Kind, rules: Rules, places: Array, *, airspeed: Array, power: Array,
                draws: int, seed: int, stream: int) -> Array:
    """Worth [N] of designs (points, variables), (draws, points); NaN where a draw has no value.

    The couplings are the same in every kind with the same ``seed``; maps differ by ``stream``. Of a
    map the head (thrust of a propeller) is drawn normally, power by a lognormal factor: work that a
    map lacks, no draw makes up.
    """
    from scipy.stats import norm, qmc  # start-up time

    shared = qmc.Sobol(len(COUPLED), seed=seed).random(draws)
    own = norm.ppf(0.5 / draws + (1.0 - 1.0 / draws) * qmc.Sobol(
        2, seed=seed + 1 + stream).random(draws))
    count = places.shape[0]

    def rows(values: Array) -> Array:
        return np.repeat(values, count)

    couplings = Couplings(**{
        field: rows(REGISTER[entry].spread.quantile(shared[:, at]))
        for at, (field, entry) in enumerate(COUPLED.items())})
    made = replace(kind, couplings=couplings).sized(np.tile(places, (draws, 1)),
                                                    np.tile(power, draws))
    band = kind.grid.band
    head, cost = 1.0 + band.head * own[:, 0], np.exp(np.log1p(band.power) * own[:, 1])
    found = worth_of(replace(made, candidate=_off(made.candidate, rows(head), rows(cost))), rules,
                     airspeed=np.tile(airspeed, draws), power=np.tile(power, draws),
                     at_rest=False)
    return found.value.reshape(draws, count)


def _off(candidate: Candidate, output: Array, cost: Array) -> Candidate:
    """A batch whose maps are off by factors on head or thrust, and on power over ideal power."""
    unit, out, dear = candidate.unit, output[:, None], cost[:, None]
    if isinstance(unit, Ducted):
        assert isinstance(unit.rotor.stage, BatchedMap)
        stage = replace(unit.rotor.stage, head_scale=out, power_scale=np.maximum(out, 1.0) * dear)
        return replace(candidate, unit=replace(unit, rotor=replace(unit.rotor, stage=stage)))
    assert isinstance(unit.table, BatchedTable)
    return replace(candidate, unit=replace(
        unit, table=replace(unit.table, loading=out - 1.0, excess=dear)))
