"""The verdict in plain words, composed only from a comparison's numbers."""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.study.comparison import Comparison


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A headline, and the sentences that bear it out, most important first."""

    headline: str
    sentences: tuple[str, ...]


def verdict(comparison: Comparison) -> Verdict:
    """The verdict of a comparison."""
    rest = {name: result.at_rest.installed_thrust.item()
            for name, result in comparison.candidates.items()}
    best = max(rest, key=lambda name: rest[name])
    return Verdict(headline=f"At rest {best} pulls hardest: {rest[best]:.2f} N.", sentences=())
