"""Numbers that are better than such machines have been seen to be."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.states import largest

SMALL, SMALL_BEST = 0.10, 0.65
"""Tip diameter [m] below which, and isentropic efficiency [-] above which, a map is doubted.
Suction units give 0.24 to 0.53 overall (catalogue), small fans 0.55 to 0.75 (from memory)."""


def plausible_findings(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    """Numbers that are better than such machines have been seen to be."""
    unit = candidate.unit
    if isinstance(unit, Ducted):
        size = float(np.max(np.asarray(unit.rotor.tip_diameter)))
        points = (result.curve, result.at_rest)
        best = largest(*(point.head_coefficient * point.flow_coefficient
                          / point.power_coefficient for point in points))
        if size < SMALL and best > SMALL_BEST:
            yield Finding(
                rank="check", subject=result.name, value=best, limit=SMALL_BEST, unit="",
                text=f"the map gives this {1e3 * size:.0f} mm rotor up to {100 * best:.0f} % "
                     "isentropic efficiency; small blowers and fans have been found at 25 to 65 %, "
                     "so its thrust is more likely too high than too low",
                change="measure one point of flow, pressure and watts, and give that instead")
    elif result.output_trust == 0.0 and any("carried" in told for told in result.assumptions):
        yield Finding(
            rank="check", subject=result.name, value=None, limit=None, unit="",
            text="its coefficients were measured at another size and carried here without any loss "
                 "for the smaller Reynolds number: its thrust is more likely too high than too low",
            change="measure a unit of this size, or state a band for the table")
