"""Findings that say the same of several subjects, told once with the number of each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from thrustlapse.report.number_format import sentence
from thrustlapse.study.comparison import Finding


@dataclass(frozen=True, kw_only=True)
class FindingText:
    """One entry of the list: ``parts`` are subject and text; the others hold for all of them."""

    rank: str
    parts: tuple[tuple[str, str], ...]
    about: str
    source: str
    change: str

    @property
    def rest(self) -> str:
        """What follows the parts in the same sentence."""
        return (f"{f': {self.about}' if self.about else ''}"
                f"{f' ({self.source})' if self.source else ''}")

    @property
    def details(self) -> str:
        """The same as sentences of their own."""
        return " ".join(sentence(text) for text in (
            self.about, self.source and f"source: {self.source}",
            self.change and f"what to change: {self.change}") if text)


def grouped(findings: Iterable[Finding]) -> tuple[FindingText, ...]:
    """Entries in the findings' order; none of their numbers is lost."""
    kept: dict[tuple[str, ...], list[Finding]] = {}
    for place, one in enumerate(findings):
        alone = "" if one.about else str(place)
        kept.setdefault((one.rank, one.about, one.source, one.change, alone), []).append(one)
    return tuple(FindingText(rank=rank, parts=tuple((one.subject, one.text) for one in found),
                      about=about, source=source, change=change)
                 for (rank, about, source, change, _), found in kept.items())
