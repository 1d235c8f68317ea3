"""Headings of a table of readings: words, unit in brackets, spread of the whole column."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thrustlapse.scenario.faults import Fault, listed, near_word, printable, value_text
from thrustlapse.scenario.units import (
    KINDS,
    QuantityFault,
    difference_in_si,
    in_si,
    number_and_unit,
    shown,
)

MOST_COLUMNS = 64
"""Headings of a table."""

LONGEST_HEADING = 120
"""Characters of a heading."""

PLUS_MINUS = re.compile(r"\+/-|\+-|±")
"""Ways to write the mark before a spread."""

_HEADING = re.compile(r"(?P<lead>±)?\s*(?P<words>[^\[\]()±]*?)\s*"
                      r"(?:[\[(]\s*(?P<unit>[^\[\]()±]*?)\s*[\])])?\s*(?:±\s*(?P<spread>.*))?")
_SPREAD_WORDS = re.compile(r"(.*\S)\s+(?:spread|uncertainty|standard deviation)")


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column that a kind of file may have.

    ``name`` is the key of its values, ``heading`` the words over it, ``also`` other words for it,
    ``kind`` a key of :data:`~thrustlapse.scenario.units.KINDS`, "words", or "yes or no"; ``low``
    and ``high`` the range in SI, both ends included. ``slips`` are words people write instead
    that do not say enough: they are refused with the right heading as a hint.
    """

    name: str
    heading: str
    kind: str
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    also: tuple[str, ...] = ()
    slips: tuple[str, ...] = ()
    meaning: str = ""

    @property
    def is_quantity(self) -> bool:
        """Whether the column holds quantities."""
        return self.kind not in ("words", "yes or no")

    @property
    def needs_unit(self) -> bool:
        """Whether a plain number says too little."""
        return self.is_quantity and KINDS[self.kind].unit != ""

    def accepted(self) -> str:
        """What a cell may hold, in words."""
        span = f" from {shown(self.low, self.kind)} to {shown(self.high, self.kind)}"
        return KINDS[self.kind].noun + (span if math.isfinite(self.high - self.low) else "")

    def example_heading(self) -> str:
        """The heading with a unit."""
        return f"{self.heading} [{self.unit}]" if self.unit else self.heading


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A stated standard deviation: an amount in SI, or a share of the reading."""

    amount: float = math.nan
    share: float = math.nan
    unit: str = ""

    def of(self, value: float) -> float:
        """Standard deviation of a reading, in its SI unit."""
        return self.amount if math.isnan(self.share) else self.share * abs(value)


@dataclass(frozen=True, kw_only=True)
class Heading:
    """One heading of a file; ``column`` is None where nothing known stands there."""

    text: str
    line: int
    column: Column | None
    unit: str = ""
    spread: Spread | None = None
    is_spread: bool = False
    faulty: Fault | None = None

    @property
    def label(self) -> str:
        """The heading as messages repeat it."""
        return value_text(self.text)[1:-1]


def read_spread(text: str, column: Column, unit: str) -> Spread:
    """Spread of a text such as "3", "3 gf" or "2 %"; ``unit`` is that of the reading, or empty.

    Raises
    ------
    QuantityFault
        For anything that is no spread of this column.
    """
    accepted = (f"one standard deviation, at least 0: an amount such as "
                f'"{KINDS[column.kind].example}", or "2 %" of the reading')
    if column.kind != "ratio" and (text.endswith("%") or unit == "%"):
        number, own = number_and_unit(text, "ratio")
        if own not in ("", "%"):
            raise QuantityFault("an amount in a column of per cent", accepted)
        share = number / 100.0
        if not 0.0 <= share <= 1.0:
            raise QuantityFault("a spread beyond 0 to 100 %", accepted)
        return Spread(share=share)
    try:
        number, own = number_and_unit(text, column.kind)
        own = own or unit
        amount = difference_in_si(number, own, column.kind) if own else number
    except QuantityFault as fault:
        raise QuantityFault(f"the spread: {fault.problem}", accepted, fault.hint) from None
    if amount < 0.0 or not math.isfinite(amount):
        raise QuantityFault("the spread is negative or no number", accepted)
    if not own and column.needs_unit:
        raise QuantityFault("the spread has no unit", accepted,
                            f'write "{column.example_heading()}"')
    return Spread(amount=amount, unit=own)


def headings(cells: Sequence[str], columns: Sequence[Column], *, file: str,
             line: int) -> list[Heading]:
    """Headings of a file, each with its fault if it has one."""
    known = {_plain(word): column for column in columns
             for word in (column.heading, column.name, *column.also)}
    slips = {_plain(word): column for column in columns for word in column.slips}
    found: list[Heading] = []
    for cell in cells:
        one = _heading(cell, known, slips, file=file, line=line)
        if one.column is not None and any(
                other.column is one.column and other.is_spread == one.is_spread
                for other in found):
            # a second column of the same quantity is not read, whatever else is wrong with it
            one = Heading(text=one.text, line=line, column=None, faulty=one.faulty or _fault(
                file, line, cell=cell, problem="there twice", accepted="every column once"))
        found.append(one)
    readings = {id(one.column) for one in found if one.column is not None and not one.is_spread}
    return [one if not one.is_spread or one.faulty or id(one.column) in readings else
            Heading(text=one.text, line=line, column=None, faulty=_fault(
                file, line, cell=one.text, problem="a spread without its readings",
                accepted=f'a column "{one.column.heading if one.column else ""}" beside it'))
            for one in found]


def heading_faults(found: Sequence[Heading]) -> list[Fault]:
    """Faults of all headings; the known ones are listed once."""
    faults = [one.faulty for one in found if one.faulty is not None]
    seen: set[str] = set()
    short = []
    for fault in faults:
        again = len(fault.accepted) > LONGEST_HEADING and fault.accepted in seen
        short.append(replace(fault, accepted="one of the headings listed above") if again
                     else fault)
        seen.add(fault.accepted)
    return short


def _heading(cell: str, known: dict[str, Column], slips: dict[str, Column], *, file: str,
             line: int) -> Heading:
    if not cell:
        return Heading(text="", line=line, column=None)
    short = PLUS_MINUS.sub("±", cell[:LONGEST_HEADING])
    match = _HEADING.fullmatch(short)
    if match is None or len(cell) > LONGEST_HEADING:
        return Heading(text=cell, line=line, column=None, faulty=_fault(
            file, line, cell, problem="not understood",
            accepted='words, the unit in brackets, and perhaps the spread: "thrust [gf] ± 3"'))
    words, is_spread = _plain(match["words"]), match["lead"] is not None
    told = _SPREAD_WORDS.fullmatch(words)
    if told is not None and words not in known:
        words, is_spread = told.group(1), True
    column = known.get(words)
    if column is None:
        return Heading(text=cell, line=line, column=None,
                       faulty=_unknown(file, line, cell=cell, words=words, known=known, slips=slips,
                                       unit=match["unit"] or ""))
    unit, spread, faulty = match["unit"] or "", None, None
    try:
        if not column.is_quantity and (unit or is_spread or match["spread"] is not None):
            raise QuantityFault("a unit or a spread over words", "words alone")
        if unit and not (is_spread and unit == "%"):
            in_si(1.0, unit, column.kind)
        if match["spread"] is not None:
            if is_spread:
                raise QuantityFault("a spread of a spread", "one ± in a heading")
            spread = read_spread(match["spread"].strip(), column, unit)
    except QuantityFault as fault:
        plain = f", or a plain number in {KINDS[column.kind].unit}" if column.is_quantity else ""
        faulty = _fault(file, line, cell=cell, problem=fault.problem,
                        accepted=fault.accepted.replace( plain, "", 1) if plain else fault.accepted,
                        hint=fault.hint)
        unit, spread = "", None
    return Heading(text=cell, line=line, column=column, unit=unit, spread=spread,
                   is_spread=is_spread, faulty=faulty)


def _unknown(file: str, line: int, cell: str, words: str, known: dict[str, Column],
             slips: dict[str, Column], *, unit: str) -> Fault:
    if words in slips:
        hint = f'write "{_with_unit(slips[words], unit, words)}"'
    else:
        near = near_word(words, known)
        hint = f'did you mean "{_with_unit(known[near], unit)}"?' if near else ""
    names = list(dict.fromkeys(column.heading for column in known.values()))
    return _fault(file, line, cell=cell, problem="no such column", accepted=listed(names),
                  hint=hint)


def _with_unit(column: Column, *units: str) -> str:
    """The column's heading with the first of the units that the writer has used and that fits."""
    for unit in units:
        try:
            in_si(1.0, unit, column.kind)
        except (QuantityFault, KeyError):
            continue
        return f"{column.heading} [{unit}]"
    return column.example_heading()


def _fault(file: str, line: int, cell: str, problem: str, accepted: str = "",
           hint: str = "") -> Fault:
    return Fault(file=file, line=line, key=f'column "{printable(value_text(cell)[1:-1])}"',
                 value="", problem=problem, accepted=accepted, hint=hint)


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace("_", " ").replace("-", " ").split())
