"""What repeated readings say of their own spread."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import IntArray
from thrustlapse.bench.readings import MEASURED, BenchReadings

SAME_VOLTAGE = 0.01
"""Share within which two supply voltages count as one [-]."""

DOUBTFUL = 0.01
"""Chance below which a scatter is told to be larger than stated [-]."""


@dataclass(frozen=True, kw_only=True)
class RepeatScatter:
    """Scatter of one quantity over all groups of repeats.

    ``ratio`` of the scatter found to the spread stated; ``freedom`` how many independent
    differences it rests on; ``chance`` of a scatter this large or larger if the spread is true.
    """

    quantity: str
    ratio: float
    freedom: int
    chance: float

    @property
    def too_large(self) -> bool:
        """Whether the stated spread is too small to believe."""
        return self.chance < DOUBTFUL


def repeat_groups(readings: BenchReadings) -> tuple[IntArray, ...]:
    """Places of rows taken under the same conditions, two or more to a group.

    Same setting, duty, nozzle, orifice, shut openings and airspeed, and supply voltages within 1 %
    of the group's first.
    """
    groups: dict[tuple[object, ...], list[list[int]]] = {}
    for place in range(len(readings)):
        key = (readings.setting[place], bool(readings.inlet_blocked[place]),
               bool(readings.outlet_blocked[place]), *(_told(value[place]) for value in (
                   readings.nozzle_diameter, readings.orifice_diameter, readings.airspeed,
                   readings.duty)))
        volts = readings.voltage[place]
        for group in groups.setdefault(key, []):
            first = readings.voltage[group[0]]
            if (np.isnan(first) and np.isnan(volts)) or abs(volts - first) <= SAME_VOLTAGE * first:
                group.append(place)
                break
        else:
            groups[key].append([place])
    return tuple(np.array(group, dtype=np.int64) for found in groups.values() for group in found
                 if len(group) > 1)


def _told(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def repeat_scatter(readings: BenchReadings) -> tuple[RepeatScatter, ...]:
    """Scatter of every quantity that was read repeatedly and whose spread is stated.

    Weighted squares about each group's weighted mean, summed over the groups, follow a chi-squared
    law if the spreads are true. Small differences of voltage within a group count as scatter.
    """
    return tuple(_scatters(readings))


def _scatters(readings: BenchReadings) -> Iterator[RepeatScatter]:
    from scipy.stats import chi2

    groups = repeat_groups(readings)
    for name in (one for one in MEASURED if one != "voltage"):
        value, spread = np.asarray(getattr(readings, name)), readings.spread[name]
        total, freedom = 0.0, 0
        for group in groups:
            kept = group[np.isfinite(value[group]) & (spread[group] > 0.0)]
            if kept.size > 1:
                weight = spread[kept] ** -2.0
                mean = np.sum(weight * value[kept]) / np.sum(weight)
                total += float(np.sum(weight * (value[kept] - mean) ** 2))
                freedom += kept.size - 1
        if freedom:
            yield RepeatScatter(quantity=name, ratio=math.sqrt(total / freedom), freedom=freedom,
                                chance=float(chi2.sf(total, freedom)))
