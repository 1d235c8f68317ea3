"""The scenario reference: every table and key a scenario file may have, from the sections that read
the file. Nothing on these pages is written by hand, so nothing on them can be out of date.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from tests.tools.documentation.markdown import cell, code, heading, table
from thrustlapse.scenario.fields import Quantity, Series
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import DISCRIMINATORS, Section, rule_of
from thrustlapse.scenario.units import shown

PAGES = {
    "file": ("The file, its question and its footing", ("", "site", "comparison", "airspeed")),
    "supply": ("Pack, supply and wiring", ("pack", "supply", "wiring")),
    "airframe": ("The airframe and its drag", ("airframe",)),
    "candidates": ("Candidates: the machines", ("candidates",)),
    "flight": ("A flight", ("flight",)),
    "uncertainty": ("Draws", ("uncertainty",)),
    "search": ("A search over many designs", ("search",)),
    "when": ("Kinds sized anew: when would one win", ("when",)),
}
"""File name, title, and the first words of the tables that belong there."""


@dataclass(kw_only=True)
class Place:
    """A section class and everywhere it may stand."""

    section: type[Section]
    names: list[str] = field(default_factory=list)

    @property
    def first(self) -> str:
        """The first word of its first place; empty for the file itself."""
        return self.names[0].split(".")[0].strip("[]") if self.names[0] else ""


def places() -> list[Place]:
    """Every section once, in the order of the file."""
    found: dict[type[Section], Place] = {}
    for section, name in _walk(ScenarioSection, ()):
        place = found.setdefault(section, Place(section=section))
        if name not in place.names:
            place.names.append(name)
    return list(found.values())


def _walk(section: type[Section], steps: tuple[str, ...]) -> Iterator[tuple[type[Section], str]]:
    yield section, ".".join(steps)
    for name, info in section.model_fields.items():
        if rule_of(info) is None:
            for inner, more in _inner(info.annotation):
                yield from _walk(inner, (*steps, name, *more))


def _inner(annotation: Any) -> Iterator[tuple[type[Section], tuple[str, ...]]]:
    """Sections an annotation can hold, with what stands between: NAME in a table of tables."""
    if isinstance(annotation, type) and issubclass(annotation, Section):
        yield annotation, ()
        return
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is dict:
        yield from ((inner, ("NAME", *more)) for inner, more in _inner(args[1]))
    elif origin in (tuple, list):
        yield from ((inner, ("[]", *more)) for inner, more in _inner(args[0]))
    else:
        for arg in args:
            yield from _inner(arg)


def chosen_by(section: type[Section]) -> list[tuple[str, str]]:
    """The words that choose this section: ``source = "geometry"``."""
    return [(name, get_args(info.annotation)[0]) for name, info in section.model_fields.items()
            if name in DISCRIMINATORS and rule_of(info) is None and get_args(info.annotation)]


def pages() -> dict[str, str]:
    """Markdown of every page of the reference, by file name."""
    every = places()
    made = {name: _page(title, [one for one in every if one.first in first])
            for name, (title, first) in PAGES.items()}
    missing = [one.section for one in every
               if not any(one.first in first for _, first in PAGES.values())]
    assert not missing, f"no page of the scenario reference shows {missing}"
    made["index"] = _index()
    return made


def _index() -> str:
    tree = "\n".join(PAGES)
    return f"""{heading("Scenario reference")}
Every table and key a scenario file may have, made from the rules that read it.

A scenario is a TOML file. `thrustlapse new mine.toml` writes a commented one, `thrustlapse check
mine.toml` names every fault in it at once, and `thrustlapse schema` prints the same rules for an
editor that completes and checks.

A quantity is a number with its unit in quotes, `"24 mm"`; a plain number is in the SI unit that the
table gives. It may carry a spread: {code('"24 mm ± 0.2 mm"')}, where the number behind ± is one
standard deviation. A ratio is a plain number or a percentage.

In a heading, `NAME` stands for a name of your choice and `[[ ]]` for a table that may come more
than once. A table that is chosen by a word says which.

```{{toctree}}
:maxdepth: 2

{tree}
```
"""


def _page(title: str, kept: list[Place]) -> str:
    return "\n".join([heading(title), *(_section(one) for one in kept)])


def _toml(name: str) -> str:
    """A place as TOML heads it: ``[pack]``, ``[[flight.legs]]``, ``[candidates.NAME.map]``."""
    if name.endswith(".[]"):
        return f"[[{name.removesuffix('.[]').replace('.[]', '')}]]"
    return f"[{name.replace('.[]', '')}]"


def _section(one: Place) -> str:
    words = [f'{name} = "{word}"' for name, word in chosen_by(one.section)]
    head = _toml(one.names[0]) if one.names[0] else "Top of the file"
    lines = [heading(f"{code(head) if one.names[0] else head}"
                     + "".join(f" with {code(word)}" for word in words), 2)]
    lines.append((one.section.__doc__ or "").strip().split("\n\n")[0].replace("\n    ", " "))
    if len(one.names) > 1:
        lines.append(f"Also as {', '.join(code(_toml(name)) for name in one.names[1:])}.")
    for group in one.section.ONE_OF:
        lines.append(f"Exactly one of {_listed(group)}.")
    for group in one.section.AT_MOST_ONE:
        lines.append(f"At most one of {_listed(group)}.")
    keys = [_row(name, info, filled=name in one.section.FILLED)
            for name, info in one.section.model_fields.items() if rule_of(info) is not None]
    if keys:
        lines.append(table(("key", "kind", "unit", "range", "default", "meaning"), keys))
    tables = [f"- {code(name)}: {cell(info.description or _first_words(info))}"
              for name, info in one.section.model_fields.items()
              if rule_of(info) is None and name not in dict(chosen_by(one.section))]
    if tables:
        lines.append("Tables in it:\n\n" + "\n".join(tables))
    return "\n\n".join(lines) + "\n"


def _first_words(info: FieldInfo) -> str:
    """What the first table that may stand here says of itself."""
    words = [(inner.__doc__ or "").strip().split("\n")[0] for inner, _ in _inner(info.annotation)]
    return words[0] if len(words) == 1 else "one of several, by a word in it"


def _listed(keys: tuple[str, ...]) -> str:
    return " and ".join(code(key) for key in keys) if len(keys) == 2 else ", ".join(
        code(key) for key in keys)


def _row(name: str, info: FieldInfo, *, filled: bool = False) -> tuple[str, ...]:
    rule = rule_of(info)
    assert rule is not None
    number = rule.of if isinstance(rule, Series) else rule
    if isinstance(number, Quantity):
        kind = f"{number.kind}{', a list' if isinstance(rule, Series) else ''}"
        span = f"{shown(number.low, number.kind)} to {shown(number.high, number.kind)}"
        if number.words:
            span += ", or " + ", ".join(code(f'"{word}"') for word, _ in number.words)
        unit = number.unit or "none"
    else:
        kind, span, unit = type(rule).__name__.lower(), rule.accepted(), ""
    return (code(name), cell(kind), cell(unit), span if isinstance(number, Quantity)
            else cell(span), _default(info, number, filled=filled), cell(info.description or ""))


def _default(info: FieldInfo, number: Any, *, filled: bool) -> str:
    if filled:
        return "assumed, and listed by `check`"
    if info.is_required():
        return "**required**"
    value = info.get_default()
    if value is None or value in ("", ()):
        return "none"
    if isinstance(value, bool):
        return code(str(value).lower())
    if isinstance(number, Quantity) and isinstance(value, int | float):
        return cell(shown(float(value), number.kind))
    return code(f'"{value}"') if isinstance(value, str) else code(str(value))
