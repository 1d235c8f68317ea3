"""Currents of pack, motor and lead against their ratings, and how far the pack sags."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.states import States, largest, smallest

SAG_LIMIT = 0.8
"""Terminal over open-circuit voltage below which cells are usually overloaded (common practice)."""

GIVEN = "rating as given"


def current_findings(result: CandidateResult, candidate: Candidate, states: States,
                     pack_rating: float | None) -> Iterator[Finding]:
    """Currents above a rating; the pack's sag."""
    amps = largest(states.current)
    checks = [("pack", amps, pack_rating, "more cells in parallel, or a lower power limit"),
              ("motor", largest(states.motor_current), candidate.ratings.motor_current,
               "a lower motor-current limit or a larger motor"),
              ("wire or controller of one unit", amps / candidate.count,
               candidate.ratings.supply_current, "thicker wire, or a lower supply-current limit")]
    for part, value, limit, change in checks:
        if limit is not None and np.isfinite(value) and value > limit:
            yield Finding(rank="stop", subject=result.name, value=float(value), limit=limit,
                          unit="A", change=change, source=GIVEN,
                          text=f"{part} current reaches {value:.1f} A against a rating of "
                               f"{limit:.1f} A")
    sag = smallest(states.sag)
    if np.isfinite(sag) and sag < SAG_LIMIT:
        yield Finding(rank="check", subject=result.name, value=float(sag), limit=SAG_LIMIT,
                      unit="", least=True, source="common practice: 80 %",
                      change="cells of lower resistance, or more of them in parallel",
                      text=f"the pack sags to {100 * sag:.0f} % of its resting voltage")
