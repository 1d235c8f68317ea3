"""A map or table stretched within its own band: what a draw of its uncertainty looks like.

The whole curve is stretched along flow, head (thrust for a propeller) and power, one factor each:
what is wrong with a map is mostly wrong all along it. Wiggles from point to point are not drawn.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.batched_map import BatchedMap, BatchedTable
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import CoefficientMap, PointMap


def stretched(part: Any, *, flow: Values = 1.0, head: Values = 1.0, power: Values = 1.0) -> Any:
    """Same map with its flow, head and power coefficients multiplied by factors [-].

    A propeller's table takes ``head`` on its thrust coefficient; its advance ratio stays. Where its
    band is one of ``loading``, ``head`` less 1 times the thrust coefficient at rest is added at
    every advance ratio, and ``power`` multiplies what its power is above momentum theory.

    Raises
    ------
    TypeError
        For a map this does not know.
    """
    f, h, p = np.asarray(flow), np.asarray(head), np.asarray(power)
    if isinstance(part, PointMap | BatchedMap):
        return replace(part, flow_scale=part.flow_scale * f, head_scale=part.head_scale * h,
                       power_scale=part.power_scale * p)
    if isinstance(part, PropellerTable | BatchedTable):
        if not part.band.loading:
            return replace(part, thrust_scale=part.thrust_scale * h,
                           power_scale=part.power_scale * p)
        return replace(part, loading=part.loading + h - 1.0, excess=part.excess * p)
    if isinstance(part, CoefficientMap):
        return _coefficients(part, f, h, p)
    raise TypeError(f"{type(part).__name__} cannot be stretched")


def _coefficients(part: CoefficientMap, f: Array, h: Array, p: Array) -> CoefficientMap:
    return replace(part, head_shutoff=part.head_shutoff * h, head_slope=part.head_slope * h / f,
                   head_curvature=part.head_curvature * h / f**2,
                   work_shutoff=part.work_shutoff * p / f,
                   work_slope=part.work_slope * p / f**2, shutoff_power=part.shutoff_power * p,
                   highest_flow=part.highest_flow * f)
