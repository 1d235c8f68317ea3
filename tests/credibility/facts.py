"""Which records count: one outside fact met by one part of the code counts once.

Columns derived from one another stand in one line of a table and count as that line; a number that
an earlier record of the part has already is a repeat; a shared formula counts once however many
lines it prints. The rest of the records are kept, and hold the tests, but raise no number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from tests.credibility.records import KINDS, Check, Group, Pair


@dataclass(frozen=True, kw_only=True)
class Told:
    """A record with its group, its kind, and whether it counts."""

    group: Group
    check: Check
    kind: str
    counts: bool


def told(groups: Iterable[Group]) -> Iterator[Told]:
    """Every record, in order, with its kind and whether it counts."""
    facts: set[tuple[str, str]] = set()
    numbers: set[tuple[str, ...]] = set()
    for group in groups:
        for check in group.checks:
            kind = group.kind_of(check)
            fact = (group.name, "" if kind == "shared" else check.fact or check.what)
            number = (group.part, check.unit, f"{check.ours:.9g}", f"{check.theirs:.9g}")
            yield Told(group=group, check=check, kind=kind,
                       counts=fact not in facts and number not in numbers)
            facts.add(fact)
            numbers.add(number)


@dataclass(frozen=True, kw_only=True)
class Count:
    """Facts of a kind: how many, and how many are met by every record of theirs that counts."""

    kind: str
    facts: int
    hold: int
    records: int

    @property
    def words(self) -> str:
        return KINDS[self.kind]


def by_kind(every: Iterable[Told]) -> list[Count]:
    """Facts of each kind, what says most first."""
    kept = list(every)
    return [Count(kind=kind, facts=sum(one.counts for one in kept if one.kind == kind),
                  hold=sum(one.counts and one.check.passed for one in kept if one.kind == kind),
                  records=sum(one.kind == kind for one in kept)) for kind in KINDS]


@dataclass(frozen=True, kw_only=True)
class Family:
    """Measured things of one family, one quantity: every series of them."""

    name: str
    quantity: str
    pairs: tuple[Pair, ...]

    @property
    def points(self) -> int:
        return sum(pair.measured.size for pair in self.pairs)

    @property
    def rms(self) -> float:
        """Mean of the series' rms errors over the largest measured value [-]."""
        return sum(pair.rms for pair in self.pairs) / len(self.pairs)

    @property
    def bias(self) -> float:
        """Mean of the series' mean errors over the largest measured value [-]."""
        return sum(float(pair.apart.mean()) for pair in self.pairs) / len(self.pairs)

    @property
    def worst(self) -> Pair:
        return max(self.pairs, key=lambda pair: pair.rms)


def families(groups: Iterable[Group]) -> list[Family]:
    """Predictions of measured things, by family and quantity, in order of their first."""
    found: dict[tuple[str, str], list[Pair]] = {}
    for group in groups:
        if group.kind == "measured":
            for pair in group.pairs:
                found.setdefault((pair.family, pair.quantity), []).append(pair)
    return [Family(name=name, quantity=quantity, pairs=tuple(pairs))
            for (name, quantity), pairs in found.items()]
