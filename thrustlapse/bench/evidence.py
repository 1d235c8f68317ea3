"""One piece of evidence about a machine, and what of other sources is reduced to readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.bench.readings import MEASURED, BenchReadings

TABLE, LABEL, BENCH, SOUND, LOG = ("table of readings", "label", "bench file", "sound",
                                   "flight log")
KINDS = (TABLE, LABEL, BENCH, SOUND, LOG)
"""Kinds of evidence."""

LABELS: Mapping[str, float] = {"thrust": 0.15, "electrical_power": 0.10, "current": 0.10,
                               "shaft_speed": 0.10}
"""Relative deviations of what a label says where it states none (judgement, no source)."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One piece of evidence.

    ``name`` and ``digest`` (SHA-256, hexadecimal) of the file it comes from, ``date`` as the person
    gives it (ISO 8601), and ``readings``, what it says of the machine.
    """

    kind: str
    name: str
    digest: str
    date: str
    readings: BenchReadings

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"no kind of evidence is called {self.kind!r}: {', '.join(KINDS)}")


def of_a_label(readings: BenchReadings) -> BenchReadings:
    """The same with the spreads of a label wherever none is stated."""
    spread = dict(readings.spread)
    for name in MEASURED:
        if name in LABELS:
            value = getattr(readings, name)
            spread[name] = np.where(np.isnan(spread[name]), LABELS[name] * np.abs(value),
                                    spread[name])
    return replace(readings, spread=spread)


CHARGE = 0.03
"""Relative deviation of a pack's voltage under load from one evening to another (judgement)."""


def at_voltage(readings: BenchReadings, volts: float) -> BenchReadings:
    """The same with rows whose voltage nobody read at another reading's, about [V]."""
    if not np.isfinite(volts):
        return readings
    unread = np.isnan(readings.voltage) & ~readings.by_log
    spread = {**readings.spread,
              "voltage": np.where(unread, CHARGE * volts, readings.spread["voltage"])}
    return replace(readings, voltage=np.where(unread, volts, readings.voltage), spread=spread)
