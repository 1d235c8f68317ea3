"""Seven questions on a terminal, from which ``thrustlapse new`` writes a short file."""

from __future__ import annotations

import re
import sys

import click

from thrustlapse.commands.console import say
from thrustlapse.scenario.files.short import BLOWER, FAN, Answers, OwnMachine
from thrustlapse.scenario.schema.readings import FULL_VOLTAGE, POWER_CAP

UNKNOWN = ("", "?", "don't know", "dont know", "not known", "unknown")
"""Answers that mean "don't know", besides Enter alone."""

KINDS = {"blower": BLOWER, "1": BLOWER, "fan": FAN, "2": FAN, "axial fan": FAN, "ducted fan": FAN}
LAWS = {"full": FULL_VOLTAGE, FULL_VOLTAGE: FULL_VOLTAGE, "cap": POWER_CAP, POWER_CAP: POWER_CAP,
        "held": POWER_CAP}

CHARGES = {"ah": "Ah", "mah": "mAh"}
LABEL = re.compile(
    r"(?P<series>[0-9]{1,4}) *(?:s *(?:[1-9][0-9]? *p)?|cells?)?"
    r"(?:[ ,]+(?P<charge>[0-9]+(?:[.,][0-9]+)?) *(?P<unit>m?ah))?"
    r"(?:[ ,]+(?:li-?po|li-?ion|li-?hv|life|[0-9.]+ *v|[0-9]+ *c))*")
"""What a pack's label says of it, in small letters."""

MOST_CELLS = 1000


def on_a_terminal() -> bool:
    """Whether a person can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def ask() -> Answers:
    """What is known, asked one by one; Enter is "don't know" everywhere."""
    say('What you do not know: Enter, or "don\'t know". Quantities with their unit, such as '
        '"214 gf" or "24 mm".')
    machines = []
    while True:
        machines.append(_machine())
        if not click.confirm("Another machine?", default=False):
            break
    say("6. The pack")
    series, charge = _pack()
    say("7. The aircraft")
    mass = _quantity("   mass without propulsion and pack, such as 700 g", "mass")
    area = None if mass is None else _quantity("   wing area, such as 20 dm^2", "area")
    span = None if area is None else _quantity("   span, such as 1.2 m", "length")
    return Answers(machines=tuple(machines), series=series, cell_capacity=charge, mass=mass,
                   wing_area=area, span=span)


def _machine() -> OwnMachine:
    kind = _word("1. What is it: blower, or fan (ducted)", KINDS)
    thrust = _quantity("2. Its thrust at rest on the scale, such as 214 gf", "force")
    watts = _quantity("3. The watts at that moment, such as 250 W", "power")
    bore = _quantity("4. The exit's diameter, such as 24 mm", "length")
    volts = _quantity("5. The volts at that moment, such as 22 V", "voltage")
    law = None if volts is None else _word(
        "   Were they all the pack gave (full), or did the controller hold the watts (cap)", LAWS)
    return OwnMachine(kind=kind or BLOWER, thrust=thrust, electrical_power=watts,
                      exit_diameter=bore, voltage=volts, supply=law)


def _answer(question: str) -> str | None:
    given = str(click.prompt(question, default="", show_default=False)).strip()
    return None if given.casefold() in UNKNOWN else given


def _word(question: str, words: dict[str, str]) -> str | None:
    while (given := _answer(question)) is not None:
        if given.casefold() in words:
            return words[given.casefold()]
        say(f'   one of {", ".join(words)}, or Enter')
    return None


def _pack() -> tuple[int | None, str | None]:
    """Cells in series, and the charge with its unit: one by one, or both in one answer.

    Strings in parallel count as one of all their charge, which is what a label gives.
    """
    while (given := _answer("   cells in series, or all that its label says (6S 2200 mAh)")
           ) is not None:
        found = LABEL.fullmatch(given.casefold())
        if found is None or not 0 < int(found["series"]) <= MOST_CELLS or (
                found["charge"] is not None and not float(found["charge"].replace(",", "."))):
            say('   a whole number, or as on the label, such as "6S 2200 mAh", or Enter')
        elif found["charge"] is None:
            return int(found["series"]), _quantity("   charge, such as 2200 mAh", "charge")
        else:
            charge = found["charge"].replace(",", ".")
            return int(found["series"]), f"{charge} {CHARGES[found['unit']]}"
    return None, None


def _quantity(question: str, kind: str) -> str | None:
    """A quantity with its unit, as the file will have it."""
    from thrustlapse.scenario.spread_text import has_spread, read_spread
    from thrustlapse.scenario.units import KINDS as UNITS
    from thrustlapse.scenario.units import QuantityFault, number_and_unit, to_si

    while (given := _answer(question)) is not None:
        try:
            if has_spread(given):
                value = read_spread(given, kind).nominal
            elif not number_and_unit(given, kind)[1]:
                say(f'   with its unit, such as "{UNITS[kind].example}"')
                continue
            else:
                value = to_si(given, kind)
        except QuantityFault as fault:
            say(f"   {fault}")
            continue
        if value > 0.0:
            return given
        say("   more than nothing, or Enter")
    return None
