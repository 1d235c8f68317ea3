"""What a reading is usually worth where its spread is not stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.bench.readings import CONDITIONS, MEASURED, READ, BenchReadings


def with_default_uncertainty(readings: BenchReadings) -> BenchReadings:
    """Same readings with the usual spreads standing in for every spread that is not stated.

    ``told`` gains a sentence that names them. An airspeed of exactly 0 is a machine
    at rest and gets no spread.
    """
    spread, assumed = {}, []
    for name in (*MEASURED, *CONDITIONS):
        value, stated = np.asarray(getattr(readings, name)), readings.spread[name]
        usual = READ[name].usual
        open_ones = np.isfinite(value) & np.isnan(stated)
        filled = usual.at(value)
        if name == "airspeed":
            filled = np.where(value == 0.0, 0.0, filled)
        spread[name] = np.where(open_ones, filled, stated)
        if open_ones.any() and np.any(filled[open_ones] > 0.0):
            assumed.append(f"{name.replace('_', ' ')} ({usual.instrument})")
    told = (f"spread not stated, taken as usual (common practice, no source): {', '.join(assumed)}",
            ) if assumed else ()
    return replace(readings, spread=spread, told=(*readings.told, *told))
