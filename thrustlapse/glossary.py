"""One word per quantity, everywhere: its symbol, its SI unit, how people read it, what it means.

Result files, tables and figures take names, keys and units from here, so that a quantity has the
same name in the code, in ``results.json`` and on a page. A record's field is always in the SI unit
given here; :func:`key` adds that unit to the name for a file (``net_thrust`` -> ``net_thrust_N``),
:func:`display` converts to the unit people read.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A word of the glossary.

    ``unit`` is the SI unit, empty for pure numbers, words and records; people read
    ``value * factor + offset`` in ``display_unit``. Of a quantity at an operating point ``shown``
    says where beside ``results.json``, see :data:`PLACES`. One that a search may be asked for says
    which way is ``better``, "more" or "less", whether it is ``of`` each "airspeed" or the "design",
    and whether it needs an ``airframe``.
    """

    name: str
    symbol: str
    unit: str
    display_unit: str
    factor: float
    offset: float
    meaning: str
    shown: frozenset[str] = frozenset()
    better: str = ""
    of: str = "airspeed"
    airframe: bool = False

    @property
    def words(self) -> str:
        """The name as people read it."""
        return self.name.replace("_", " ")

    @property
    def key(self) -> str:
        """The name as files carry it, with its unit: letters, digits and ``_`` only."""
        suffix = self.unit.replace("^", "").replace("/", "_").replace(" ", "_")
        return f"{self.name}_{suffix}" if suffix else self.name


ZERO_CELSIUS = 273.15

READ_AS: dict[str, tuple[str, float, float]] = {
    "rpm": ("rad/s", 60.0 / (2.0 * math.pi), 0.0),
    "krpm": ("rad/s", 60.0 / (2.0 * math.pi) / 1000.0, 0.0),
    "degC": ("K", 1.0, -ZERO_CELSIUS),
    "g/s": ("kg/s", 1000.0, 0.0),
    "g": ("kg", 1000.0, 0.0),
    "mm": ("m", 1000.0, 0.0),
    "cm^2": ("m^2", 1e4, 0.0),
    "kPa": ("Pa", 1e-3, 0.0),
    "hPa": ("Pa", 1e-2, 0.0),
    "mN m": ("N m", 1000.0, 0.0),
    "%": ("", 100.0, 0.0),
    "deg": ("rad", 180.0 / math.pi, 0.0),
    "min": ("s", 1.0 / 60.0, 0.0),
    "km": ("m", 1e-3, 0.0),
}
"""Units people read, and how the SI value becomes one."""


PLACES = ("csv", "point", "rest", "top", "figure")
"""Columns of ``curves.csv``, rows of the table of one point, of the candidates side by side at rest
and at top speed, panels of the figure of efficiencies."""


def _word(row: dict[str, str]) -> Quantity:
    """A word given with the unit people read: its SI unit follows from :data:`READ_AS`."""
    unit = row["unit"]
    si, factor, offset = READ_AS.get(unit, (unit, 1.0, 0.0))
    return Quantity(name=row["name"], symbol=row["symbol"], unit=si, display_unit=unit,
                    factor=factor, offset=offset, meaning=row["meaning"],
                    shown=frozenset(row["shown"].split()), better=row["better"],
                    of=row["of"] or "airspeed", airframe=row["airframe"] == "yes")


with Path(__file__).with_suffix(".csv").open(encoding="utf-8", newline="") as _rows:
    QUANTITIES: dict[str, Quantity] = {row["name"]: _word(row) for row in csv.DictReader(_rows)}
"""Every word of ``glossary.csv``, by name."""

UNIT_TEXT = {"m/s": "m/s", "degC": "°C", "deg": "°", "cm^2": "cm²", "m^2": "m²", "kg/m^3": "kg/m³",
             "mN m": "mN·m", "N m": "N·m", "N/m^2": "N/m²", "N/cm^2": "N/cm²"}
"""Units as print shows them, where that differs."""


def shown(place: str) -> tuple[str, ...]:
    """Names of the quantities shown in one of :data:`PLACES`, in the order of this file."""
    return tuple(name for name, word in QUANTITIES.items() if place in word.shown)


def quantity(name: str) -> Quantity:
    """The word for a field.

    Raises
    ------
    KeyError
        For a name the glossary does not have: add it there, not elsewhere.
    """
    try:
        return QUANTITIES[name]
    except KeyError:
        raise KeyError(f"{name!r} is not in thrustlapse/glossary.py") from None


def key(name: str) -> str:
    """Name with its SI unit, as files carry it: ``mass_flow`` -> ``mass_flow_kg_s``."""
    return quantity(name).key


def display(name: str, value: float) -> float:
    """A value in the unit people read."""
    return read_as(value, quantity(name).display_unit)


def read_as(value: float, unit: str) -> float:
    """An SI value in a unit people read, see :data:`READ_AS`."""
    _, factor, offset = READ_AS.get(unit, (unit, 1.0, 0.0))
    return value * factor + offset


def unit_text(unit: str) -> str:
    """A unit as print shows it: ``cm^2`` -> ``cm²``."""
    return UNIT_TEXT.get(unit, unit)
