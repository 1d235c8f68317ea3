"""Bench readings as a table of text for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.arrays import Array
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import BenchReadings
from thrustlapse.bench.usual_spread import with_usual_spread

_COLUMNS = (
    ("nozzle_diameter", "nozzle mm", 1e3), ("orifice_diameter", "orifice mm", 1e3),
    ("suction", "suction kPa", 1e-3), ("voltage", "V", 1.0), ("current", "A", 1.0),
    ("electrical_power", "W", 1.0), ("shaft_speed", "krpm", 60.0 / (2000.0 * np.pi)),
    ("thrust", "thrust N", 1.0), ("static_pressure", "static kPa", 1e-3),
    ("airspeed", "air m/s", 1.0),
)
"""Quantity, heading, and factor from SI; shown where any row has one."""


def check_lines(readings: BenchReadings) -> list[str]:
    """Each reading as understood, with its spread, the density of its air, and what was assumed."""
    filled = with_usual_spread(readings)
    air, told_air = air_of(readings)
    columns: list[tuple[str, list[str]]] = [
        ("line", [str(line) for line in readings.row]),
        ("setting", list(readings.setting)), ("state", _states(readings))]
    for name, heading, factor in _COLUMNS:
        value = np.asarray(getattr(readings, name), dtype=float)
        if np.isfinite(value).any() and not (name == "airspeed" and not value.any()):
            columns.append((heading, _figures(factor * value, factor * filled.spread[name])))
    columns.append(("gf", _cells(1000.0 * readings.thrust / GRAVITY, "{:.0f}".format)))
    columns.append(("kg/m³", _cells(air.density, "{:.3f}".format)))
    lines = [f"{readings.source}: good. {len(readings)} readings."]
    lines += ["", *laid_out(columns), ""]
    return lines + [f"  {sentence}" for sentence in (*filled.told, *told_air)]


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
