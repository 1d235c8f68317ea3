"""What designs are worth when what is not known of them is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.register import REGISTER
from thrustlapse.study.sampling import departing, shares
from thrustlapse.study.sizing.kinds import Couplings, Kind
from thrustlapse.study.sizing.merit import Rules, pull_of

COUPLED = {"copper_merit": "motor copper merit", "iron_loss": "motor iron loss",
           "heat_shed": "motor heat shed", "rim_speed": "motor rim speed",
           "structure": "unit structure"}
"""Field of :class:`Couplings` -> entry of the register."""


def drawn_worth(kind: Kind, rules: Rules, places: Array, *, airspeed: Array, power: Array,
                draws: int, seed: int, stream: int) -> Array:
    """Worth [N] of designs (points, variables), (draws, points); NaN where a draw has no value.

    The couplings are the same in every kind with the same ``seed``; maps differ by ``stream``. Of a
    map the head (thrust of a propeller) is drawn normally and power by a lognormal factor, as in
    the draws of a comparison.
    """
    from scipy.special import ndtri  # start-up time

    shared = shares(draws, len(COUPLED), seed=seed)
    own = ndtri(shares(draws, 2, seed=seed + 1 + stream))
    count = places.shape[0]

    def rows(values: Array) -> Array:
        return np.repeat(values, count)

    couplings = Couplings(**{
        field: rows(REGISTER[entry].spread.quantile(shared[:, at]))
        for at, (field, entry) in enumerate(COUPLED.items())})
    made = replace(kind, couplings=couplings).sized(np.tile(places, (draws, 1)),
                                                    np.tile(power, draws))
    band = kind.grid.band
    factors = {"head": rows(1.0 + band.head * own[:, 0])[:, None],
               "power": rows(np.exp(np.log1p(band.power) * own[:, 1]))[:, None]}
    found = pull_of(replace(made, candidate=departing(made.candidate, factors)), rules,
                    airspeed=np.tile(airspeed, draws), power=np.tile(power, draws))
    return found.reshape(draws, count)
