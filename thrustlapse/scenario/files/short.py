"""The short file of a person's own machine: written from answers, or from the starter's.

Answers are texts as a file has them; None stands for "don't know". What the file cannot do
without then has the starter's value, marked, and ``check`` lists what is still the starter's.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from thrustlapse.scenario.faults import KeyPath, key_text, value_text

BLOWER, FAN = "blower", "axial fan"

USUAL_WING = 'aspect_ratio = "4 .. 9"'
"""Of small aircraft (judgement)."""

NOT_KNOWN = "# NOT KNOWN: the starter's value stands here"


@dataclass(frozen=True, kw_only=True)
class OwnMachine:
    """What is known of one machine, read at rest."""

    kind: str = BLOWER
    thrust: str | None = None
    electrical_power: str | None = None
    exit_diameter: str | None = None
    voltage: str | None = None
    supply: str | None = None


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What is known of machines, pack and aircraft."""

    machines: tuple[OwnMachine, ...]
    series: int | None = None
    cell_capacity: str | None = None
    mass: str | None = None
    wing_area: str | None = None
    span: str | None = None
    invented: bool = False


STARTER = Answers(
    machines=(OwnMachine(thrust="187 gf", electrical_power="236 W", exit_diameter="23.5 mm"),),
    series=5, cell_capacity="2.3 Ah", mass="830 g", wing_area="0.21 m^2", span="1.24 m",
    invented=True)
"""Invented."""

HEAD = """\
# Your machine by what a kitchen scale, a wattmeter and a ruler say. Then:
#
#   thrustlapse check FILE        every fault at once, and what was assumed for the rest
#   thrustlapse compare FILE      the answer, as a page with figures
#
# A quantity has its unit: "214 gf" (what a scale shows as grams), "2.1 N", "250 W", "24 mm". What
# is not known exactly may say so: "24 mm ± 0.5 mm". What you do not know, leave out: check says
# what is assumed. A file with every key there is: thrustlapse new --long FILE
"""

READINGS = """\
[candidates.{name}.readings]     # one unit at rest, scale and wattmeter read at the same moment
"""

MORE = """\
# More of the same: a second machine under a name of its own, a ducted fan by its label.
# [candidates.fan]
# kind = "axial fan"
# [candidates.fan.readings]
# thrust = "6.2 N"
# electrical_power = "310 W"
# exit_diameter = "50 mm"
# A propeller by its label and one reading; it needs the pack, or voltage = "..." in its readings.
# [candidates.propeller]
# kind = "propeller"
# diameter = "9 in"
# [candidates.propeller.table]
# source = "pitch"
# pitch = "6 in"
# [candidates.propeller.readings]
# thrust = "5.5 N"
# electrical_power = "90 W"
# shaft_speed = "6900 rpm"       # leave out where it is not known
"""


def short_starter_text() -> str:
    """The starter that a person without a terminal gets; every number invented."""
    return short_text(STARTER)


def short_text(answers: Answers) -> str:
    """A short commented scenario of what is known."""
    lines = [HEAD, 'title = "My machine"']
    if answers.invented:
        lines.append("invented = true                # take this line out when the numbers are "
                     "yours")
    names: list[str] = []
    for machine in answers.machines:
        stem = "fan" if machine.kind == FAN else machine.kind
        same = sum(name.split("-")[0] == stem for name in names)
        names.append(f"{stem}-{same + 1}" if same else stem)
        lines += ["", *_machine(names[-1], machine)]
    lines += ["", *_pack(answers), "", *_aircraft(answers)]
    if answers.invented:
        lines += ["", MORE.rstrip()]
    return "\n".join(lines) + "\n"


def _row(key: str, value: str | None, starter: str | None, words: str) -> str:
    told = starter if value is None else value
    assert told is not None
    row = f"{key} = {json.dumps(told, ensure_ascii=False)}"
    return f"{row:<30} " + (f"{NOT_KNOWN}; {words}" if value is None else f"# {words}")


def _machine(name: str, machine: OwnMachine) -> Iterator[str]:
    starter = STARTER.machines[0]
    yield f"[candidates.{name}]"
    yield f'{f"kind = {json.dumps(machine.kind)}":<30} # "blower", or "axial fan": a ducted fan'
    yield ""
    yield READINGS.format(name=name).rstrip()
    yield _row("thrust", machine.thrust, starter.thrust, "grams of a scale are gf")
    yield _row("electrical_power", machine.electrical_power, starter.electrical_power,
               "volts times amperes")
    yield _row("exit_diameter", machine.exit_diameter, starter.exit_diameter,
               "inside, where the jet leaves")
    volts, law = machine.voltage, machine.supply
    yield _known("voltage", volts, "22.1 V", "at its terminals at that moment")
    yield _known("supply", law, "full voltage",
                 'or "regulated cap": the controller held the watts')


def _known(key: str, value: str | None, example: str, words: str) -> str:
    """A key that may be left out: commented where it is not known."""
    row = ("# " if value is None else "") + f'{key} = "{example if value is None else value}"'
    return f"{row:<30} # {words}"


def _pack(answers: Answers) -> Iterator[str]:
    off = "# " if answers.series is None else ""
    row = f"series = {answers.series or STARTER.series}"
    yield f"{off}[pack]" + ("                         # left out: an ideal supply" if off else "")
    yield f"{off + row:<30} # cells in series: 6 of a 6S pack"
    if off:
        yield f'# cell_capacity = "{STARTER.cell_capacity}"'
    else:
        yield _row("cell_capacity", answers.cell_capacity, STARTER.cell_capacity,
                   "as printed on the pack")


def _aircraft(answers: Answers) -> Iterator[str]:
    known = answers.mass is not None and answers.wing_area is not None
    rows = (("mass", answers.mass, STARTER.mass, "without propulsion and pack"),
            ("wing_area", answers.wing_area, STARTER.wing_area, "span times mean chord"),
            ("span", answers.span, STARTER.span, "of the wing"))
    if not known:
        yield "# [airframe]                     # left out: thrust against airspeed, no top speed"
        for key, value, starter, words in rows:
            row = f'# {key} = "{value or starter}"'
            yield f"{row:<30} # {words}"
        return
    yield "[airframe]"
    for key, value, starter, words in rows:
        if value is None:
            yield f"{USUAL_WING:<30} # span not known: usual wings"
        else:
            yield _row(key, value, starter, words)


# What is still the starter's --------------------------------------------------------------------


def still_the_starters(text: str) -> list[str]:
    """Keys of a scenario text whose values are those of a starter, as ``key = value``.

    A file that has neither title nor note of the long starter, and less than half of its values,
    is another, which shares some by chance.
    """
    raw = tomllib.loads(text)
    written = dict(_leaves(raw))
    (_, brief), (head, whole) = _starters()
    left = {path for path, value in whole.items() if written.get(path) == value}
    if 2 * len(left) < len(whole) and not any(raw.get(key) == head[key] for key in head):
        left = set()
    left |= {path for path, value in brief.items() if written.get(path) == value}
    return [f"{key_text(path)} = {value_text(value)}" for path, value in written.items()
            if path in left]


@cache
def _starters() -> tuple[tuple[dict[str, Any], dict[KeyPath, Any]], ...]:
    """Title and note, and values, of the short starter and of the long."""
    long = resources.files("thrustlapse.scenario").joinpath("starter.toml").read_text("utf-8")
    raws = [tomllib.loads(text) for text in (short_starter_text(), long)]
    return tuple(({key: raw[key] for key in ("title", "note") if key in raw}, dict(_leaves(raw)))
                 for raw in raws)


def _leaves(part: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Any]]:
    """Values with a digit in them: words and titles are no numbers to change."""
    if isinstance(part, dict):
        for key, value in part.items():
            yield from _leaves(value, (*path, key))
    elif any(c.isdigit() for c in str(part)):
        yield path, part
