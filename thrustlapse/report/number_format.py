"""Numbers as people read them, in the units of the glossary, and lists as sentences have them."""

from __future__ import annotations

import math
from collections.abc import Iterable

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.glossary import display, quantity, unit_text

GRAM_FORCE = GRAVITY / 1000.0
"""One gram-force [N]."""

SMALL_THRUST = 50.0
"""Thrust up to which grams-force are given beside newtons [N]."""

NOTHING = "no value"

SOURCES = {"given": "as given", "parts": "built up from parts", "glide ratio": "from a glide ratio",
           "sink and speed": "from glides", "coasting run": "from a coasting run"}
"""Where an airframe's drag comes from, in words."""

MINUS = "\u2212"
"""The sign that print uses for negative numbers."""


def number(value: float, digits: int = 3) -> str:
    """A number to a count of significant digits, without an exponent: 0.0451, 2.15, 13.4, 1280."""
    if not math.isfinite(value):
        return NOTHING
    if value == 0.0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    places = digits - 1 - math.floor(math.log10(abs(rounded)))  # 9.996 has become 10.0
    return f"{rounded:.{max(places, 0)}f}".replace("-", MINUS)


def amount(name: str, value: float, digits: int = 3) -> str:
    """A quantity of the glossary in the unit people read: ``24.1 g/s``."""
    if not math.isfinite(value):
        return NOTHING
    word = quantity(name)
    unit = unit_text(word.display_unit)
    text = number(display(name, value), digits)
    return f"{text} {unit}" if unit else text


def speed(value: float) -> str:
    """Speed in m/s, km/h in brackets; from 100 m/s up without decimals."""
    if not math.isfinite(value):
        return NOTHING
    return f"{short_speed(value)} ({3.6 * value:.0f} km/h)"


def short_speed(value: float) -> str:
    """Speed in m/s alone."""
    return f"{number(value)} m/s" if math.isfinite(value) else NOTHING


def force(value: float) -> str:
    """Force in newtons, with grams-force in brackets where small."""
    if not math.isfinite(value):
        return NOTHING
    text = f"{number(value)} N"
    return f"{text} ({number(value / GRAM_FORCE)} gf)" if abs(value) < SMALL_THRUST else text


def newtons(value: float) -> str:
    """Force in newtons alone."""
    return f"{number(value)} N" if math.isfinite(value) else NOTHING


def area(value: float) -> str:
    """Drag area in cm²."""
    return amount("drag_area", value)


def diameter(value: float) -> str:
    """Diameter in mm."""
    return amount("diameter", value)


def percent(share: float) -> str:
    """A share in per cent, to two digits above ten."""
    return f"{100.0 * share:.0f} %" if abs(share) >= 0.0995 else f"{number(100.0 * share, 2)} %"


def times(ratio: float) -> str:
    """How many times as much: ``3.9 times``."""
    return f"{number(ratio, 2)} times"


def listed(items: Iterable[str]) -> str:
    """Items as a sentence lists them: ``a, b and c``."""
    known = list(items)
    return known[0] if len(known) == 1 else f"{', '.join(known[:-1])} and {known[-1]}"


def sentence(text: str) -> str:
    """Text with a capital and one full stop."""
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."
