"""What a reading is usually worth where its spread is not stated."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.bench.readings import CONDITIONS, MEASURED, BenchReadings


@dataclass(frozen=True, kw_only=True)
class UsualSpread:
    """Standard deviation of a usual instrument: a fixed part and a share of the reading, added as
    squares. ``instrument`` says which."""

    fixed: float
    share: float
    instrument: str


USUAL = {
    "voltage": UsualSpread(fixed=0.05, share=0.005, instrument="hand-held meter"),
    "current": UsualSpread(fixed=0.1, share=0.02, instrument="wattmeter or clamp"),
    "electrical_power": UsualSpread(fixed=1.0, share=0.02, instrument="wattmeter"),
    "shaft_speed": UsualSpread(fixed=1.0, share=0.005, instrument="tone or counted frames"),
    "thrust": UsualSpread(fixed=0.02, share=0.01, instrument="kitchen scale, 2 g, on a stand"),
    "static_pressure": UsualSpread(fixed=10.0, share=0.01, instrument="water column, 1 mm"),
    "suction": UsualSpread(fixed=10.0, share=0.01, instrument="water column, 1 mm"),
    "nozzle_diameter": UsualSpread(fixed=1e-4, share=0.0, instrument="calipers on a print"),
    "orifice_diameter": UsualSpread(fixed=5e-5, share=0.0, instrument="calipers on a drilled hole"),
    "airspeed": UsualSpread(fixed=0.5, share=0.0, instrument="model air data"),
    "air_temperature": UsualSpread(fixed=1.0, share=0.0, instrument="room thermometer"),
    "air_pressure": UsualSpread(fixed=200.0, share=0.0, instrument="telephone barometer"),
    "relative_humidity": UsualSpread(fixed=0.05, share=0.0, instrument="room hygrometer"),
    "duty": UsualSpread(fixed=0.005, share=0.0, instrument="controller's own figure"),
}
"""By quantity, in SI. Common practice, no source: what hobby instruments are good for when read
with care."""


def with_usual_spread(readings: BenchReadings) -> BenchReadings:
    """Same readings with :data:`USUAL` standing in for every spread that is not stated.

    ``told`` gains a sentence that names them. An airspeed of exactly 0 is a machine
    at rest and gets no spread.
    """
    spread, assumed = {}, []
    for name in (*MEASURED, *CONDITIONS):
        value, stated = np.asarray(getattr(readings, name)), readings.spread[name]
        usual = USUAL[name]
        open_ones = np.isfinite(value) & np.isnan(stated)
        filled = np.hypot(usual.fixed, usual.share * np.abs(value))
        if name == "airspeed":
            filled = np.where(value == 0.0, 0.0, filled)
        spread[name] = np.where(open_ones, filled, stated)
        if open_ones.any() and np.any(filled[open_ones] > 0.0):
            assumed.append(f"{name.replace('_', ' ')} ({usual.instrument})")
    told = (f"spread not stated, taken as usual (common practice, no source): {', '.join(assumed)}",
            ) if assumed else ()
    return replace(readings, spread=spread, told=(*readings.told, *told))
