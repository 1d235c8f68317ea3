"""Quantities with a spread: "24 mm ± 0.2 mm", "0.30 .. 0.45", "400 W, 12 % uncertain".

    24 mm ± 0.2 mm              normal, 0.2 mm is one standard deviation
    24 ± 0.2 mm, (24 ± 0.2) mm  the same; +- and +/- stand for ±
    14.8 V ± 2 %                2 % of the value
    24 mm ± 0.2 mm, uniform     anywhere within 0.2 mm; triangular: with a peak in the middle
    400 W, 12 % uncertain       one standard deviation is 12 % of the value
    400 W, 12 % uncertain, lognormal     times or over about 1.12; never below zero
    0.30 .. 0.45                anywhere between; the middle is used where nothing is drawn
    0.36, 0.30 .. 0.45          triangular, with its peak at 0.36, which is used where nothing is
                                drawn; a word after it chooses another form

Everywhere the number behind ± is one standard deviation, unless the form is uniform or triangular,
where it is half of the width. One anchored expression takes a text apart; the numbers and units go
through :func:`thrustlapse.scenario.units.to_si` like any other.
"""

from __future__ import annotations

import math
import re

from thrustlapse.distributions import FORMS, REACH, Spread
from thrustlapse.scenario.units import KINDS, QuantityFault, normalised, to_si

LONGEST_TEXT = 120
"""Characters of a quantity with a spread that are read at all."""

ACCEPTED = ('"24 mm ± 0.2 mm" (one standard deviation), "0.30 .. 0.45", "0.36, 0.30 .. 0.45" or '
            '"400 W, 12 % uncertain", with a form behind a comma if it is another: '
            + ", ".join(FORMS))

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_UNIT = r"[^±,()]*?"
_FORM = rf"(?:\s*,\s*(?P<form>{'|'.join(FORMS)}))?\s*$"
_PLUS_MINUS = re.compile(
    rf"^\(?\s*(?P<value>{_NUMBER})\s*(?P<unit>{_UNIT})\s*±\s*(?P<spread>{_NUMBER})\s*"
    rf"(?P<spread_unit>{_UNIT})\s*(?:\)\s*(?P<common>{_UNIT}))?\s*" + _FORM)
_RANGE = re.compile(
    rf"^(?:(?P<value>{_NUMBER})\s*(?P<unit>[^±,()]*?)\s*,\s*)?(?P<low>[+-]?[0-9]*\.?[0-9]+"
    rf"(?:[eE][+-]?[0-9]{{1,3}})?)\s*(?P<low_unit>[^±,().0-9]*?)\s*\.\.\s*(?P<high>{_NUMBER})\s*"
    rf"(?P<high_unit>{_UNIT})\s*" + _FORM)
_UNCERTAIN = re.compile(
    rf"^(?P<value>{_NUMBER})\s*(?P<unit>{_UNIT})\s*,\s*(?P<share>{_NUMBER})\s*%\s*uncertain"
    + _FORM)
_SIGNS = re.compile(r"±|\+/-|\+-|\.\.|uncertain")


class Uncertain(float):
    """A nominal value that carries its spread along; in every sum it is a plain number."""

    spread: Spread

    def __new__(cls, value: float, spread: Spread) -> Uncertain:
        made = super().__new__(cls, value)
        made.spread = spread
        return made

    def __getnewargs__(self) -> tuple[float, Spread]:  # type: ignore[override]
        return float(self), self.spread


def has_spread(text: object) -> bool:
    """Whether a raw value is meant to have a spread."""
    return isinstance(text, str) and _SIGNS.search(text) is not None


def read_spread(text: str, kind: str) -> Spread:
    """Spread of a quantity of a kind.

    Raises
    ------
    QuantityFault
        For a text that is no such quantity, a spread of no or of negative width, or one that turns
        the sign of a lognormal quantity.
    """
    if len(text) > LONGEST_TEXT:
        raise QuantityFault(f"longer than {LONGEST_TEXT} characters", ACCEPTED)
    plain = normalised(text).replace("+/-", "±").replace("+-", "±")
    for pattern, read in ((_PLUS_MINUS, _plus_minus), (_RANGE, _range), (_UNCERTAIN, _share)):
        found = pattern.match(plain)
        if found is not None:
            return read({key: (value or "").strip() for key, value in found.groupdict().items()},
                        kind, text)
    raise QuantityFault("not understood as a quantity with a spread", ACCEPTED)


def _value(number: str, unit: str, kind: str) -> float:
    return to_si(f"{number} {unit}".strip(), kind)


def _plus_minus(part: dict[str, str], kind: str, text: str) -> Spread:
    unit, own = part["unit"] or part["common"], part["spread_unit"] or part["common"]
    relative = own == "%" and kind != "ratio"
    if not unit and own and not relative:
        if own == "%":
            raise QuantityFault(f'"± {part["spread"]} %" of a bare ratio can be read in two ways',
                                ACCEPTED, 'points: "80 % ± 3 %", or 0.80 ± 0.03; a share of it: '
                                '"0.80, 3 % uncertain"')
        unit = own
    if unit and not own:
        raise QuantityFault("the spread has no unit", ACCEPTED,
                            f'write "{part["value"]} {unit} ± {part["spread"]} {unit}"')
    nominal = _value(part["value"], unit, kind)
    number = float(part["spread"])
    width = abs(nominal) * number / 100.0 if relative else _difference(part["spread"], own, kind)
    return _made(nominal, width, part["form"] or "normal", text)


def _share(part: dict[str, str], kind: str, text: str) -> Spread:
    nominal = _value(part["value"], part["unit"], kind)
    if KINDS[kind].unit == "K":
        raise QuantityFault("a share of a temperature means nothing: its zero is no zero", ACCEPTED,
                            f'write "{part["value"]} {part["unit"]} ± 2 {part["unit"]}"')
    return _made(nominal, abs(nominal) * float(part["share"]) / 100.0, part["form"] or "normal",
                 text)


def _range(part: dict[str, str], kind: str, text: str) -> Spread:
    unit = part["high_unit"]
    low = _value(part["low"], part["low_unit"] or unit, kind)
    high = _value(part["high"], unit, kind)
    if not low < high:
        raise QuantityFault("the range ends where it begins, or before", ACCEPTED,
                            "the smaller value first")
    form = part["form"] or ("triangular" if part["value"] else "uniform")
    nominal = 0.5 * (low + high)
    if part["value"]:
        nominal = _value(part["value"], part["unit"] or unit, kind)
        if not low <= nominal <= high:
            raise QuantityFault("the value lies outside its own range", ACCEPTED)
    if form == "uniform" and part["value"]:
        raise QuantityFault("a uniform range has no likeliest value", ACCEPTED,
                            "leave the first value out, or the word uniform")
    if form in ("normal", "lognormal"):
        raise QuantityFault(f"a range has ends, a {form} spread has none", ACCEPTED,
                            "write the middle and ± one standard deviation")
    return Spread(nominal=nominal, form=form, low=low, high=high, text=text.strip())


def _difference(number: str, unit: str, kind: str) -> float:
    """A width in SI: of temperatures the difference, without the offset of the unit's zero."""
    width = _value(number, unit, kind)
    return width - _value("0", unit, kind) if KINDS[kind].unit == "K" and unit else width


def _made(nominal: float, width: float, form: str, text: str) -> Spread:
    if not width > 0.0 or not math.isfinite(width):
        raise QuantityFault("a spread of no width" if width == 0.0 else "a negative spread",
                            ACCEPTED, "leave it out where the value is known")
    told = text.strip()
    if form == "normal":
        return Spread(nominal=nominal, form=form, deviation=width, text=told)
    if form == "lognormal":
        if nominal <= 0.0:
            raise QuantityFault("a lognormal spread needs a value above zero", ACCEPTED)
        deviation = math.sqrt(math.log1p((width / nominal) ** 2))
        return Spread(nominal=nominal, form=form, deviation=deviation, text=told)
    return Spread(nominal=nominal, form=form, low=nominal - width, high=nominal + width, text=told)


def reach_fault(spread: Spread, low: float, high: float, shown: str) -> tuple[str, str] | None:
    """Problem and fix of a spread that reaches beyond a key's range; None where it does not."""
    least, most = spread.ends
    slack = 1e-12 * max(abs(least), abs(most))
    if least >= low - slack and most <= high + slack:
        return None
    room = min(spread.nominal - low, high - spread.nominal)
    if spread.form == "normal":
        fix = (f"a standard deviation of at most {room / REACH:.3g} in SI (draws reach {REACH:g} "
               "of them to either side); a range with ends, as LOW .. HIGH; or the form lognormal, "
               "which never reaches zero")
    elif spread.form == "lognormal":
        fix = "a smaller spread, or a range with ends"
    else:
        fix = "a range inside what the key accepts"
    return f"the spread reaches {shown}, which cannot be", fix
