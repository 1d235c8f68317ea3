"""Bench readings as a table of text for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.arrays import Array
from thrustlapse.bench.readings import READ, BenchReadings
from thrustlapse.bench.repeats import RepeatScatter
from thrustlapse.bench.summary import BenchSummary

SHORT = {"nozzle_diameter": "nozzle", "orifice_diameter": "orifice", "static_pressure": "static",
         "airspeed": "air", "voltage": "", "current": "", "electrical_power": "", "shaft_speed": ""}
"""Headings beside the unit, where that is not the column's own name."""

APART = ("air_temperature", "air_pressure", "relative_humidity", "duty")
"""Quantities told otherwise: as the air's density, as the drive's setting."""


def check_lines(summary: BenchSummary) -> list[str]:
    """Each reading as understood, with its spread, what follows from it, and what was assumed."""
    readings = summary.readings
    columns: list[tuple[str, list[str]]] = [
        ("line", [str(line) for line in readings.row]),
        ("setting", list(readings.setting)), ("state", _states(readings))]
    for name, one in READ.items():
        value = np.asarray(getattr(readings, name), dtype=float)
        if name not in APART and np.isfinite(value).any() and not (
                name == "airspeed" and not value.any()):
            heading = f"{SHORT.get(name, name.replace('_', ' '))} {one.unit}".strip()
            columns.append((heading, _figures(one.factor * value,
                                              one.factor * readings.spread[name])))
    columns += [("gf", _cells(1000.0 * readings.thrust / GRAVITY, "{:.0f}".format)),
                ("jet W", _cells(summary.jet_power, "{:.0f}".format)),
                ("of electrical", _cells(100.0 * summary.jet_share, "{:.0f} %".format)),
                ("kg/m³", _cells(summary.air.density, "{:.3f}".format))]
    return [f"{readings.source}: good. {len(readings)} readings.", "", *laid_out(columns), "",
            *(f"  {sentence}" for sentence in summary.told), *_repeats(summary.scatter),
            *(f"caution: {sentence}" for sentence in summary.cautions)]


def _repeats(scatter: Sequence[RepeatScatter]) -> list[str]:
    """What the repeated readings say of the spreads."""
    lines = []
    for one in scatter:
        words = one.quantity.replace("_", " ")
        count = f"{one.freedom} difference{'s' if one.freedom > 1 else ''}"
        if one.too_large:
            lines.append(f"caution: repeats of {words} scatter {one.ratio:.1f} times their spread "
                         f"({count}, chance {one.chance:.1g}): state a larger spread, or find what "
                         "moved between them")
        else:
            lines.append(f"  repeats of {words}: scatter {one.ratio:.1f} times the spread "
                         f"({count}), as it may")
    return lines


def _states(readings: BenchReadings) -> list[str]:
    """Which openings were shut."""
    return [" and ".join(word for word, shut in (("inlet", a), ("outlet", b)) if shut) + " shut"
            if a or b else "open"
            for a, b in zip(readings.inlet_blocked, readings.outlet_blocked, strict=True)]


def _figures(value: Array, spread: Array) -> list[str]:
    """Readings with their spread, to the spread's second digit."""
    return ["" if np.isnan(one) else with_spread(float(one), float(deviation))
            for one, deviation in zip(value, spread, strict=True)]


def with_spread(value: float, deviation: float) -> str:
    """A value and its standard deviation, rounded to the deviation's second digit."""
    if not np.isfinite(deviation) or deviation <= 0.0:
        return f"{value:.4g}"
    digits = min(max(1 - int(np.floor(np.log10(deviation))), 0), 6)
    return f"{value:.{digits}f} ± {deviation:.{digits}f}"


def _cells(value: Array, shown: Callable[[float], str]) -> list[str]:
    return ["" if np.isnan(one) else shown(float(one)) for one in np.atleast_1d(value)]


def laid_out(columns: Sequence[tuple[str, list[str]]]) -> list[str]:
    """Columns under their headings, those without any cell left out."""
    kept = [(heading, cells) for heading, cells in columns if any(cells)]
    widths = [max(len(heading), *(len(cell) for cell in cells)) for heading, cells in kept]
    rows = [[heading for heading, _ in kept],
            *zip(*(cells for _, cells in kept), strict=True)]
    return ["  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
            .rstrip() for row in rows]
