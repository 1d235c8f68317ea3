"""Everyday units to SI: "24 mm", "75 krpm", "15 degC" or a plain number in the key's own unit.

A text is split here into number and unit by anchored expressions; only the unit, limited in form
and length, goes to the unit library, and only for its dimension and its scale. Its own reader of
whole quantities is not used: it takes ``21 +- 0.2 mm`` for 4.2 mm, ``cfm`` for a centi-femtometre,
1 Hz for 1 rad/s, and works on ``9**9**9`` for ever. No prefixes exist: ``units.txt`` lists every
unit there is.
"""

from __future__ import annotations

import difflib
import math
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from thrustlapse.scenario.faults import printable

if TYPE_CHECKING:
    from pint import Unit, UnitRegistry

RPM = math.tau / 60.0
"""One turn a minute [rad/s]."""

LONGEST_TEXT = 80
"""Characters of a quantity that are read at all."""


class QuantityFault(ValueError):
    """What is wrong with a quantity, what is accepted, and perhaps what was meant."""

    def __init__(self, problem: str, accepted: str, hint: str = "") -> None:
        problem, accepted, hint = printable(problem), printable(accepted), printable(hint)
        super().__init__(f"{problem}; accepted: {accepted}" + (f" ({hint})" if hint else ""))
        self.problem, self.accepted, self.hint = problem, accepted, hint


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of quantity.

    ``noun`` with its article, the SI ``unit`` of a plain number and of the result, ``also`` other
    SI units that mean the same, an ``example``, and ``shown``: the units for printing, small first.
    """

    noun: str
    unit: str
    example: str
    shown: tuple[str, ...] = ()
    also: tuple[str, ...] = ()


KINDS: dict[str, Kind] = {
    "length": Kind(noun="a length", unit="m", example="24 mm", shown=("um", "mm", "m", "km")),
    "area": Kind(noun="an area", unit="m^2", example="4.5 cm^2", shown=("mm^2", "cm^2", "m^2")),
    "mass": Kind(noun="a mass", unit="kg", example="210 g", shown=("g", "kg")),
    "angle": Kind(noun="an angle", unit="rad", example="37 deg", shown=("deg",)),
    "shaft speed": Kind(noun="a shaft speed", unit="rad/s", example="75 krpm",
                        shown=("rpm", "krpm")),
    "speed": Kind(noun="a speed", unit="m/s", example="60 km/h", shown=("m/s",)),
    "power": Kind(noun="a power", unit="W", example="400 W", shown=("W", "kW")),
    "voltage": Kind(noun="a voltage", unit="V", example="14.8 V", shown=("mV", "V")),
    "current": Kind(noun="a current", unit="A", example="30 A", shown=("mA", "A")),
    "resistance": Kind(noun="a resistance", unit="ohm", example="20 mohm",
                       shown=("uohm", "mohm", "ohm")),
    "charge": Kind(noun="a charge", unit="A s", example="5 Ah", shown=("mAh", "Ah")),
    "pressure": Kind(noun="a pressure", unit="Pa", example="2.5 kPa",
                     shown=("Pa", "hPa", "kPa")),
    "temperature": Kind(noun="a temperature", unit="K", example="15 degC", shown=("degC",)),
    "frequency": Kind(noun="a frequency", unit="Hz", example="12.4 kHz", shown=("Hz", "kHz")),
    "volume flow": Kind(noun="a volume flow", unit="m^3/s", example="12 L/s",
                        shown=("L/s", "m^3/s")),
    "time": Kind(noun="a time", unit="s", example="90 s", shown=("s", "min", "h")),
    "force": Kind(noun="a force", unit="N", example="30 N", shown=("N",)),
    "heat capacity": Kind(noun="a heat capacity", unit="J/K", example="25 J/K", shown=("J/K",)),
    "heat conductance": Kind(noun="a heat conductance", unit="W/K", example="0.4 W/K",
                             shown=("W/K",)),
    "ratio": Kind(noun="a plain ratio or percentage", unit="", example="80 %"),
    "torque constant": Kind(noun="a torque constant", unit="N m/A", example="2.3 mN m/A",
                            shown=("mN m/A", "N m/A"), also=("V s/rad",)),
    "speed constant": Kind(noun="a speed constant", unit="rad/s/V", example="4200 rpm/V",
                           shown=("rpm/V", "krpm/V")),
    "current over speed": Kind(noun="a current per shaft speed", unit="A s/rad",
                               example="20 mA/krpm", shown=("mA/krpm", "A/krpm")),
}
"""Kinds of quantity a scenario file has keys for."""

OTHER_NOUNS = {
    "a frequency": "Hz", "a torque or an energy": "N m",
    "a volume": "m^3", "a mass flow": "kg/s", "a torque constant": "V s/rad",
    "a density": "kg/m^3", "a length per current": "m/A", "an electric field": "V/m",
}
"""Dimensions people may write where they do not belong, so that the message can say what it is."""

DIMENSION_HINTS = {
    ("shaft speed", "a frequency"): "Hz counts cycles, not turns of a shaft: write rpm, krpm or "
                                    "rev/s",
    ("torque constant", "a speed constant"): "that is a speed constant: its key is speed_constant",
    ("speed constant", "a torque constant"): "that is a torque constant: its key is "
                                             "torque_constant",
    ("torque constant", "a torque or an energy"): "torque per current: write N m/A",
    ("torque constant", "a length per current"): "newton metre is written N m or Nm; nm is a "
                                                "nanometre",
    ("speed constant", "a voltage"): "Kv is no kilovolt: it counts turns a minute and volt, rpm/V",
    ("speed constant", "a shaft speed"): "per volt: rpm/V",
    ("charge", "a torque or an energy"): "capacity is counted in Ah or mAh here, not in Wh",
    ("charge", "a current"): "capacity is a current times a time: Ah or mAh",
    ("force", "a mass"): "a scale's grams are a force here: write gf, kgf, ozf or lbf",
    ("frequency", "a shaft speed"): "a tone is counted in cycles: Hz or kHz",
    ("mass", "a force"): "gf, kgf and lbf are forces: a mass is in g, kg, oz or lb",
    ("volume flow", "a mass flow"): "divide by the density at the inlet",
    ("volume flow", "a volume"): "per which time? L/s, m^3/h or cfm",
    ("power", "a torque or an energy"): "an energy is no power: W, kW or hp",
}
"""What was probably meant, by the kind wanted and the noun of what was given."""

UNIT_HINTS = {
    "c": "degC", "°": "deg", "f": "degF", "kv": "rpm/V", "kw": "kW", "mw": "W or mW", "mm": "mm",
    "kp": "kgf", "ma": "mA", "sqm": "m^2", "sqft": "ft^2", "ccm": "mL", "cc": "mL", "lpm": "L/min",
    "fpm": "ft/min", "kmph": "km/h", "revs": "rev", "rps": "rev/s", "us": "s", "metres": "m",
    "knots": "knot", "watts": "W", "volts": "V", "amps": "A", "grams": "g", "degrees": "deg",
    "ohms": "ohm", "mo": "mohm", "oc": "degC", "ftlb": "ft lbf", "pct": "%", "inches": "in",
}
"""Unit that was probably meant, by a casefolded slip that likeness alone would not find."""

_LOOKALIKES = str.maketrans({
    "²": "^2", "³": "^3", "⁻": "^-", "¹": "1", "·": "*", "×": "*", "⋅": "*",
    "\u2126": "ohm", "\u03a9": "ohm", "µ": "u", "μ": "u", "\u00a0": " ", "\u202f": " ",
    "\u2009": " ", "−": "-",
})
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3}(?![0-9]))?")
_FACTOR = re.compile(r"(%|(?:mm|cm|in)H2O|[A-Za-z]+)(?:(?:\^|\*\*)?(-?[1-4]))?")


def normalised(text: str) -> str:
    """The text with look-alike characters replaced by those of the grammar."""
    return text.translate(_LOOKALIKES).replace("°C", "degC").replace("°F", "degF").strip()


@contextmanager
def _without(package: str) -> Iterator[None]:
    """Let an import believe that a package is not there.

    The unit library loads dask for arrays of its own, where that is installed for clusters: a fifth
    of a second at every start, for nothing that a unit needs.
    """
    if package in sys.modules:
        yield
        return
    sys.modules[package] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[package]


@cache
def registry() -> UnitRegistry[Any]:
    """The unit library, knowing nothing but ``units.txt``."""
    with _without("dask"):
        from pint import UnitRegistry

    known: UnitRegistry[Any] = UnitRegistry(None)
    known.load_definitions(_definitions())
    return known


def _definitions() -> list[str]:
    text = resources.files("thrustlapse.scenario").joinpath("units.txt").read_text("utf-8")
    return text.splitlines()


@cache
def unit_names() -> frozenset[str]:
    """Every spelling of every unit in ``units.txt``, and the per cent sign."""
    names = {"%"}
    for line in _definitions():
        if "=" in line and not line.startswith("#"):
            parts = [part.strip() for part in line.split("=")]
            names.update([parts[0], *parts[2:]])
    return frozenset(names)


def to_si(value: object, kind: str) -> float:
    """A quantity in the SI unit of its kind.

    Parameters
    ----------
    value : str, int or float
        ``"24 mm"``, or a plain number in the kind's SI unit
    kind : str
        Key of :data:`KINDS`

    Raises
    ------
    QuantityFault
        For anything but a finite quantity of that kind.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise QuantityFault("not a quantity", accepted_form(kind))
    if not isinstance(value, str):
        return _finite(value, kind)
    number, unit = _split(value, kind)
    return in_si(number, unit, kind) if unit else number


def number_and_unit(text: str, kind: str) -> tuple[float, str]:
    """A quantity's number and its unit, empty where it has none; faults as :func:`to_si`."""
    return _split(text, kind)


def in_si(number: float, unit: str, kind: str) -> float:
    """A number of a unit in the SI unit of its kind; faults as :func:`to_si`."""
    scale, offset = _conversion(unit, kind)
    result = number * scale + offset
    if not math.isfinite(result):
        raise QuantityFault("not a finite number", accepted_form(kind))
    return 0.0 + result if KINDS[kind].unit != "K" else float(f"{result:.12g}")


def difference_in_si(number: float, unit: str, kind: str) -> float:
    """A difference of a unit in SI: 2 degC of spread are 2 K; faults as :func:`to_si`."""
    return number * _conversion(unit, kind)[0]


def accepted_form(kind: str) -> str:
    """How a quantity of a kind is written, in words."""
    wanted = KINDS[kind]
    if kind == "ratio":
        return 'a plain number or a percentage such as "80 %"'
    return f'{wanted.noun} such as "{wanted.example}", or a plain number in {wanted.unit}'


def shown(value: float, kind: str) -> str:
    """A value in SI as a person would write it, to six digits."""
    units = KINDS[kind].shown
    if not units:
        return f"{value:.6g}"
    best, figure = units[0], 0.0
    for unit in units:
        scale, offset = _conversion(unit, kind)
        in_unit = (value - offset) / scale
        if unit == units[0] or abs(in_unit) >= 1.0 - 1e-12:
            best, figure = unit, in_unit
    return f"{figure:.6g} {best}"


def display_unit(largest: float, kind: str) -> tuple[str, float, float]:
    """Unit in which people read values up to ``largest``, its size in SI, and its zero in SI."""
    units = KINDS[kind].shown
    if not units:
        return "", 1.0, 0.0
    unit = shown(largest, kind).split(" ", 1)[1]
    scale, offset = _conversion(unit, kind)
    return unit, scale, offset


def _finite(value: float, kind: str) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise QuantityFault("not a finite number", accepted_form(kind))
    return number


def _split(text: str, kind: str) -> tuple[float, str]:
    """Number and unit of a text."""
    accepted = accepted_form(kind)
    if len(text) > LONGEST_TEXT:
        raise QuantityFault(f"longer than {LONGEST_TEXT} characters", accepted)
    plain = normalised(text)
    found = _NUMBER.match(plain)
    if found is None:
        raise QuantityFault("does not begin with a number", accepted,
                            "write inf or nan nowhere: leave the key out"
                            if plain.casefold().lstrip("+-")[:3] in ("inf", "nan") else "")
    rest = plain[found.end():].strip()
    if rest[:1] == ",":
        raise QuantityFault("a comma in a number", accepted,
                            "a point marks the decimals, and nothing the thousands")
    if rest[:1].isdigit():
        raise QuantityFault("a gap inside a number", accepted, "write 1000, not 1 000")
    if rest[:1] in "±+-*/^." and rest:
        raise QuantityFault(f'"{rest[:20]}" after the number is no unit', accepted,
                            "one number and one unit, no spread and no arithmetic")
    return _finite(float(found.group()), kind), rest


@lru_cache(maxsize=1024)
def _conversion(unit: str, kind: str) -> tuple[float, float]:
    """Scale and offset from a unit to the SI unit of a kind."""
    wanted = KINDS[kind]
    known = registry()
    given = _parsed(unit, kind)
    for target_text in (wanted.unit, *wanted.also):
        target = known.Unit(target_text.replace(" ", "*"))
        if given.dimensionality == target.dimensionality:
            zero = float(known.Quantity(0.0, given).m_as(target))
            one = float(known.Quantity(1.0, given).m_as(target))
            # the offset is a difference of large numbers: keep the scale exact where there is none
            return (one if zero == 0.0 else float(f"{one - zero:.14g}")), zero
    noun = _noun(given)
    raise QuantityFault(f'"{unit}" is the unit of {noun}, not of {wanted.noun}',
                        accepted_form(kind), DIMENSION_HINTS.get((kind, noun), ""))


def _noun(given: Unit) -> str:
    """What kind of thing a unit measures."""
    known = registry()
    nouns = {kind.noun: kind.unit for kind in KINDS.values()} | OTHER_NOUNS
    for noun, unit in nouns.items():
        if given.dimensionality == known.Unit(unit.replace(" ", "*")).dimensionality:
            return noun
    return "something else"


def _parsed(text: str, kind: str) -> Unit:
    """Unit of a text: names, small whole powers, products, and a slash before each divisor."""
    accepted = accepted_form(kind)
    known = registry()
    compact = re.sub(r"\s*([*/])\s*", r"\1", re.sub(r"(?<=[A-Za-z])-(?=[A-Za-z])", "*", text))
    pieces = re.split(r"([*/]|\s+)", compact.replace("**", "^"))
    if len(pieces) > 11 or "(" in text:
        raise QuantityFault(f'unit "{text[:30]}" is not understood', accepted,
                            "units are joined by a space and a slash, without brackets: V s/rad")
    unit: Any = known.Unit("")
    divided = False
    for place in range(0, len(pieces), 2):
        joint = pieces[place - 1] if place else "*"
        if joint != "/" and divided:
            raise QuantityFault(f'unit "{text[:30]}" can be read in two ways', accepted,
                                "put a slash before each divisor, and products before it")
        divided = joint == "/"
        match = _FACTOR.fullmatch(pieces[place])
        if match is None or match.group(1) not in unit_names():
            raise QuantityFault(f'unknown unit "{pieces[place][:20]}"', accepted,
                                _near_unit(pieces[place], kind))
        name = "percent" if match.group(1) == "%" else match.group(1)
        power = int(match.group(2) or 1) * (-1 if divided else 1)
        if name in OFFSET_UNITS and len(pieces) + abs(power) > 2:
            raise QuantityFault("a temperature with an offset inside a compound unit", accepted)
        factor = known.Unit(name) ** power
        unit = factor if len(pieces) == 1 else unit * factor
    return unit  # type: ignore[no-any-return]


OFFSET_UNITS = frozenset({"degC", "celsius", "degree_celsius", "degF", "fahrenheit",
                          "degree_fahrenheit"})
"""Units whose zero is not zero: alone or not at all."""


def _near_unit(given: str, kind: str) -> str:
    """What the writer of an unknown unit probably meant."""
    slip = given[:20]
    if slip.casefold() in UNIT_HINTS:
        return f'did you mean "{UNIT_HINTS[slip.casefold()]}"?'
    same = sorted(name for name in unit_names() if name.casefold() == slip.casefold())
    near = same or difflib.get_close_matches(slip, sorted(unit_names()), n=2, cutoff=0.6)
    if near:
        return "did you mean " + " or ".join(f'"{name}"' for name in near[:3]) + "?"
    own = ", ".join(KINDS[kind].shown)
    return f"units of this kind are {own} and others" if own else ""
