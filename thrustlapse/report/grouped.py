"""Findings that say the same of several subjects, told once with the number of each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from thrustlapse.study.comparison import Finding


@dataclass(frozen=True, kw_only=True)
class Told:
    """One entry of the list: ``parts`` are subject and text, ``rest`` holds for all of them."""

    rank: str
    parts: tuple[tuple[str, str], ...]
    rest: str
    change: str


def grouped(findings: Iterable[Finding]) -> tuple[Told, ...]:
    """Entries in the findings' order; none of their numbers is lost."""
    kept: dict[tuple[str, ...], list[Finding]] = {}
    for place, one in enumerate(findings):
        alone = "" if one.about else str(place)
        kept.setdefault((one.rank, one.about, one.source, one.change, alone), []).append(one)
    return tuple(Told(rank=rank, parts=tuple((one.subject, one.text) for one in found),
                      rest=_rest(about, source), change=change)
                 for (rank, about, source, change, _), found in kept.items())


def _rest(about: str, source: str) -> str:
    return f"{f': {about}' if about else ''}{f' ({source})' if source else ''}"
