"""How a true map departs from the one at hand: within its band as a whole, and in its form.

What is wrong with a map is mostly wrong all along it: factors on flow, head and power. A map known
by a few coefficients has the right scale and, nearly, the right form; what is wrong with its form
is smooth in flow: factors on head and on power, given at four flows (shut, a third, two thirds and
all of the largest flow) with a cubic in their logarithms between. Their departures are correlated
over a third of the range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import FIXED, Array, BoolArray, Values
from thrustlapse.rotor.stage_map import STEEP, Band, StageMap, drives, steepest_rise

NODES = np.array([0.0, 1.0, 2.0, 3.0]) / 3.0
"""Flows over the largest flow at which departures are given [-]."""

CORRELATION_LENGTH = 1.0 / 3.0
"""Flow over the largest flow within which departures go together [-]; judgement."""

CORRELATION = np.exp(-0.5 * np.square((NODES[:, None] - NODES) / CORRELATION_LENGTH))
"""Correlation of the departures at the nodes: a squared exponential."""

AS_IT_IS = (0.0, 0.0, 0.0, 0.0)
"""No departure at any node."""

_POLYNOMIAL = np.linalg.inv(np.vander(NODES, increasing=True))


@dataclass(frozen=True, kw_only=True)
class Cubic:
    """``exp(c0 + c1 x + c2 x^2 + c3 x^3)`` on 0 <= x <= 1, constant beyond."""

    c0: Values = 0.0
    c1: Values = 0.0
    c2: Values = 0.0
    c3: Values = 0.0

    def __call__(self, x: Array) -> Array:
        at = np.clip(x, 0.0, 1.0)
        return np.asarray(np.exp(self.c0 + at * (self.c1 + at * (self.c2 + at * self.c3))))


def cubic(*departures: Values) -> Cubic:
    """Factor with these departures [-] (of the logarithm) at the four nodes."""
    coefficients = [sum(weight * np.asarray(one) for weight, one in zip(row, departures,
                                                                        strict=True))
                    for row in _POLYNOMIAL]
    return Cubic(**{f"c{place}": value for place, value in enumerate(coefficients)})


@dataclass(frozen=True, kw_only=True)
class ShapedMap:
    """A map that departs from what it says: stretched as a whole, and smoothly in its form.

    With x = phi / flow_factor and h, p the factors on head and power there, the head is
    ``h (psi(x) + fall psi(0) s^2)``, s = x over the largest flow: no factor moves the flow at which
    there is no head, ``fall`` does. The power is the isentropic one of the new map over ``best``,
    the efficiency no such map passes, plus the old loss beyond it times

        exp((ln p - ln h - ln flow_factor) / (1 - eta / best))

    which to first order is the factor p on power, and keeps the efficiency below ``best`` whatever
    is drawn: the efficiency moves by its odds. Where the map gives no efficiency (a rotor driven by
    the air) the factor is plain. ``steep``: whether the head rises steeply with flow; ``driven``:
    whether its power falls to zero; both worked out once.
    """

    stage: Any
    flow_factor: Values = 1.0
    head_factor: Cubic = Cubic()
    power_factor: Cubic = Cubic()
    fall: Values = 0.0
    best: float = field(default=1.0, metadata=FIXED)
    steep: BoolArray | None = None
    driven: BoolArray | None = None

    @property
    def band(self) -> Band:
        return self.stage.band  # type: ignore[no-any-return]

    @property
    def lowest_flow(self) -> Array:
        return np.asarray(self.stage.lowest_flow * np.asarray(self.flow_factor))

    @property
    def highest_flow(self) -> Array:
        return np.asarray(self.stage.highest_flow * np.asarray(self.flow_factor))

    @property
    def stall_flow(self) -> Array:
        return np.asarray(self.stage.stall_flow * np.asarray(self.flow_factor))

    def head(self, flow: Values) -> Array:
        """Head coefficient [-]."""
        x = flow / np.asarray(self.flow_factor)
        return np.asarray((self.stage.head(x) + self._more_head(x)) * self.head_factor(
            x / self.stage.highest_flow))

    def _more_head(self, x: Array) -> Values:
        """Head that ``fall`` adds, before the factor on it."""
        if not np.any(self.fall):
            return 0.0
        return np.asarray(self.fall * self.stage.head(0.0) * np.square(x / self.stage.highest_flow))

    def own(self, x: Array) -> tuple[Array, Array]:
        """Isentropic power over ``best``, and power, before any factor: what ``fall`` adds to the
        head it adds to the power, and the loss stays."""
        useful, more = self.stage.head(x) * x, self._more_head(x) * x
        return (np.asarray((useful + more) / self.best),
                np.asarray(self.stage.power(x) + more / self.best))

    def power(self, flow: Values) -> Array:
        """Power coefficient [-]."""
        x = flow / np.asarray(self.flow_factor)
        share = x / self.stage.highest_flow
        useful, whole = self.own(x)
        gain = self.head_factor(share) * self.flow_factor
        cost = self.power_factor(share)
        loss = whole - useful
        known = (whole > 0.0) & (loss > 0.0)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            odds = _odds(np.log(cost / gain) * np.where(known, whole / loss, 0.0))
        return np.asarray(np.where(known, gain * (useful + loss * odds), cost * whole))

    def swirl(self, flow: Values) -> Array:
        """Swirl over tip speed [-]."""
        return np.asarray(self.stage.swirl(flow / np.asarray(self.flow_factor)))


def departed(stage: StageMap | ShapedMap, *, flow: Values = 1.0, head: Values = 1.0,
             power: Values = 1.0, fall: Values = 0.0, best: float | None = None,
             head_shape: Sequence[Values] = AS_IT_IS, power_shape: Sequence[Values] = AS_IT_IS,
             last: bool = True) -> ShapedMap:
    """Map with factors on its flow, head and power, and departures [-] at the four nodes.

    A form that the map has already stays, and departures add to it; ``fall`` and ``best`` as of
    :class:`ShapedMap`. ``steep`` and ``driven`` are worked out at the ``last`` departure.
    """
    base = stage if isinstance(stage, ShapedMap) else ShapedMap(stage=stage)
    heads, powers = (cubic(*(np.log(factor) + np.asarray(one) for one in shape))
                     for factor, shape in ((head, head_shape), (power, power_shape)))
    made = replace(base, flow_factor=base.flow_factor * np.asarray(flow),
                   head_factor=_sum(base.head_factor, heads),
                   power_factor=_sum(base.power_factor, powers),
                   fall=base.fall + np.asarray(fall), best=base.best if best is None else best,
                   steep=None, driven=None)
    if not last:
        return made
    return replace(made, steep=steepest_rise(made) >= STEEP, driven=drives(made))


def _odds(change: Array) -> Array:
    """``exp`` up to a change of 1, and its tangent there beyond."""
    return np.asarray(np.where(change < 1.0, np.exp(change), np.e * change))


def _sum(one: Cubic, other: Cubic) -> Cubic:
    return Cubic(**{f"c{place}": getattr(one, f"c{place}") + getattr(other, f"c{place}")
                    for place in range(NODES.size)})
