"""Everything the readings say by themselves, before any model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.consistency import cautions, electrical_power_of, jet_power
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import BenchReadings
from thrustlapse.bench.repeats import RepeatScatter, repeat_scatter


@dataclass(frozen=True, kw_only=True)
class BenchSummary:
    """Readings with every spread filled, and what follows from them, arrays of shape (rows,).

    ``air`` of every row; ``jet_power`` at rest [W], NaN where thrust or nozzle was not read;
    ``jet_share`` of it in the electrical power [-]; ``scatter`` of repeated readings; ``told`` what
    was assumed; ``cautions`` what does not hold together.
    """

    readings: BenchReadings
    air: Air
    jet_power: Array
    jet_share: Array
    scatter: tuple[RepeatScatter, ...]
    told: tuple[str, ...]
    cautions: tuple[str, ...]


def summarise(readings: BenchReadings) -> BenchSummary:
    """Summary of readings."""
    filled = with_default_uncertainty(readings)
    air, told = air_of(readings)
    at_rest = np.where(readings.airspeed == 0.0, readings.thrust, np.nan)
    watts = jet_power(thrust=at_rest, density=air.density,
                      area=0.25 * np.pi * readings.nozzle_diameter**2)
    power = electrical_power_of(readings)
    drawn = np.where(power > 0.0, power, np.nan)
    return BenchSummary(readings=filled, air=air, jet_power=watts, jet_share=watts / drawn,
                        scatter=repeat_scatter(filled), told=(*filled.told, *told),
                        cautions=cautions(filled))
