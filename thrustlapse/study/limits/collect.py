"""What is unsafe, impossible or worth knowing in a comparison: each with number, limit and remedy.

What is a margin of the machine stands in :mod:`.table`; the rest is about drag, flight and flags.

Three ranks: ``stop`` (do not run it like this), ``check`` (find out before you run it) and ``note``
(so that a number is read rightly). They are sorted in that order.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding
from thrustlapse.study.limits.aircraft import aircraft_findings
from thrustlapse.study.limits.flight import flight_findings
from thrustlapse.study.limits.flow import flag_findings
from thrustlapse.study.limits.limit import RANKS
from thrustlapse.study.limits.states import states_of
from thrustlapse.study.limits.table import LIMITS
from thrustlapse.study.scenario_like import ScenarioLike


def findings(comparison: Comparison, scenario: ScenarioLike) -> tuple[Finding, ...]:
    """All findings of a comparison, most serious first.

    Limits are held against every operating point of the curve, the point at rest and the one at
    top speed; shaft speed, pack current and sag along the flight too, where one is flown; stress,
    heat and power against the shut machine.
    """
    found: list[Finding] = []
    for name, result in comparison.candidates.items():
        candidate = scenario.candidates[name]
        states = states_of(comparison, result, candidate, pack=scenario.pack,
                           wiring=scenario.wiring,
                           pack_current_rating=scenario.pack_current_rating,
                           dimensions=scenario.dimensions.get(name), airframe=scenario.airframe)
        told = (limit.finding(states) for limit in LIMITS.values())
        found += [one for one in told if one is not None]
        found += flag_findings(result)
        found += _carried(result, candidate)
        found += _level(result)
    found += aircraft_findings(comparison)
    found += flight_findings(comparison)
    found += [Finding(rank="check", subject="the file", value=None, limit=None, unit="", text=doubt,
                      change="write the value with its unit, or see that it is meant")
              for doubt in scenario.doubts]
    return tuple(sorted(found, key=lambda finding: RANKS.index(finding.rank)))


def _carried(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    if isinstance(candidate.unit, OpenRotor) and result.output_trust is None and any(
            "carried" in told for told in result.assumptions):
        yield Finding(
            rank="check", subject=result.name, value=None, limit=None, unit="",
            text="its coefficients were measured at another size and carried here without any loss "
                 "for the smaller Reynolds number: its thrust is more likely too high than too low",
            change="measure a unit of this size, or state a band for the table")


def _level(result: CandidateResult) -> Iterator[Finding]:
    level = result.level
    if level is None:
        return
    if not np.isfinite(level.top_speed) and not np.isfinite(level.lowest_bound) \
            and level.launch_speed >= level.stall_speed:
        yield Finding(rank="stop", subject=result.name, value=None, limit=None, unit="",
                      change="more power, less drag, less mass, or a faster launch",
                      text=f"level flight is impossible: {level.reason}")
