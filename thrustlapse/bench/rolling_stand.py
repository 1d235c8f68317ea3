"""A rolling stand: thrust and friction from readings on either side of creeping motion.

A machine on a trolley pushes against a scale. While the trolley creeps forward, with the thrust,
friction holds it back and the scale shows too little; drawn back against the thrust, friction
holds it the other way and the scale shows too much:

    push reading = thrust - friction        pull reading = thrust + friction

The mean is the thrust and half the difference the friction, whatever the friction is, as long as it
is the same both ways.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values


@dataclass(frozen=True, kw_only=True)
class StandReduction:
    """Thrust and friction of a rolling stand with their standard deviations [N].

    NaN where nothing was read, and the deviation NaN where it cannot be told. ``one_sided`` marks
    rows read in one direction only, whose thrust leans on the friction of the other rows.
    """

    thrust: Array
    friction: Array
    thrust_deviation: Array
    one_sided: BoolArray


def push_pull(*, push: Values, pull: Values, push_deviation: Values,
              pull_deviation: Values) -> tuple[Array, Array, Array]:
    """Thrust, friction and the deviation of both [N] of pairs of readings.

    Mean and half-difference carry the same deviation, half the root of the summed squares.
    """
    thrust = 0.5 * (np.asarray(push, dtype=float) + pull)
    friction = 0.5 * (np.asarray(pull, dtype=float) - push)
    return thrust, friction, 0.5 * np.hypot(push_deviation, pull_deviation)


def reduce_stand(*, push: Array, pull: Array, push_deviation: Array,
                 pull_deviation: Array) -> StandReduction:
    """Thrust of every row that has a push reading, a pull reading or both, shape (rows,).

    A pair gives its own friction. A single reading is corrected by the mean friction of all pairs.
    Without any pair a single reading gives no thrust: friction could be anything.

    Notes
    -----
    Friction is never quite the same twice, and how far it wanders shows in the pairs: each gives
    a friction, and what their variance exceeds that of the scale by, x, is the friction's own
    (zero where it exceeds it by nothing, or with one pair). A pair's friction is a mean of two
    draws and its thrust carries half their difference, so x is added to the variance of a pair's
    thrust, and 2 x and the variance of the mean friction to that of a single reading's.
    """
    thrust, friction, deviation = push_pull(push=push, pull=pull, push_deviation=push_deviation,
                                            pull_deviation=pull_deviation)
    paired = np.isfinite(friction)
    single = np.isfinite(push) ^ np.isfinite(pull)
    pairs = int(paired.sum())
    if pairs == 0:
        nothing = np.full(thrust.shape, np.nan)
        return StandReduction(thrust=nothing, friction=nothing, thrust_deviation=nothing,
                              one_sided=single)
    scale = float(np.mean(deviation[paired] ** 2))
    wander = max(float(np.var(friction[paired], ddof=1)) - scale, 0.0) if pairs > 1 else 0.0
    usual, usual_variance = float(np.mean(friction[paired])), (scale + wander) / pairs
    forward = np.isfinite(push)
    own = np.where(forward, push_deviation, pull_deviation)
    return StandReduction(
        thrust=np.where(single, np.where(forward, push + usual, pull - usual), thrust),
        friction=np.where(single, usual, friction),
        thrust_deviation=np.sqrt(np.where(single, own**2 + usual_variance + 2.0 * wander,
                                          deviation**2 + wander)),
        one_sided=single)
