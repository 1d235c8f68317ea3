"""Several sets of readings of one machine as one set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import CONDITIONS, MEASURED, BenchReadings


def together(parts: Sequence[BenchReadings], *, source: str = "") -> BenchReadings:
    """One record of all rows, in the order of the parts, counted from 1.

    Every part keeps its own air: a row without a reading of it takes its own part's. Rows whose
    drive setting has the same word share it, in whichever part they are.

    Raises
    ------
    ValueError
        Where there is no part.
    """
    if not parts:
        raise ValueError("no readings to put together")
    aired = [_aired(one) for one in parts]
    joined = {item.name: np.concatenate([getattr(one, item.name) for one in aired])
              for item in fields(BenchReadings)
              if isinstance(getattr(aired[0], item.name), np.ndarray)}
    joined["row"] = np.arange(1, len(joined["row"]) + 1)
    return BenchReadings(
        **joined, source=source,
        spread={name: np.concatenate([one.spread[name] for one in aired])
                for name in (*CONDITIONS, *MEASURED)},
        note=tuple(word for one in aired for word in one.note),
        setting=tuple(word for one in aired for word in one.setting),
        told=tuple(dict.fromkeys(text for one in parts for text in one.told)))


def _aired(readings: BenchReadings) -> BenchReadings:
    """The same with dry air of the same density in every row."""
    air, _ = air_of(readings)
    nothing = np.full(len(readings), np.nan)
    return replace(readings, air_pressure=np.asarray(air.pressure),
                   air_temperature=np.asarray(air.temperature), relative_humidity=nothing)
