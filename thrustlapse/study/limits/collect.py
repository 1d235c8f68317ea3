"""What is unsafe, impossible or worth knowing in a comparison: each with number, limit and remedy.

Three ranks: ``stop`` (do not run it like this), ``check`` (find out before you run it) and ``note``
(so that a number is read rightly). They are sorted in that order.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Protocol

import numpy as np

from thrustlapse.power.pack import Pack
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding
from thrustlapse.study.limits.aircraft import aircraft_findings
from thrustlapse.study.limits.currents import current_findings
from thrustlapse.study.limits.electrical import electrical_findings
from thrustlapse.study.limits.flight import flight_findings
from thrustlapse.study.limits.flow import flow_findings
from thrustlapse.study.limits.heat import heat_findings
from thrustlapse.study.limits.people import people_findings
from thrustlapse.study.limits.plausible import plausible_findings
from thrustlapse.study.limits.rotor import rotor_findings
from thrustlapse.study.limits.states import states_of

RANKS = ("stop", "check", "note")


class RatedScenario(Protocol):
    """What the limits need of a scenario beside the comparison."""

    @property
    def candidates(self) -> Mapping[str, Candidate]: ...
    @property
    def pack_current_rating(self) -> float | None: ...
    @property
    def wiring(self) -> Wiring | None: ...


def findings(comparison: Comparison, scenario: RatedScenario) -> tuple[Finding, ...]:
    """All findings of a comparison, most serious first.

    Limits are held against every operating point of the curve and the point at rest; shaft speed,
    pack current and sag along the flight too, where one is flown; stress, heat and power against
    the shut machine. A scenario built by hand may leave out ``pack`` and
    ``dimensions``; what needs them is then not told.
    """
    pack: Pack | None = getattr(scenario, "pack", None)
    dimensions: Mapping[str, Dimensions] = getattr(scenario, "dimensions", {})
    found: list[Finding] = []
    for name, result in comparison.candidates.items():
        candidate = scenario.candidates[name]
        states = states_of(comparison, result, candidate, pack)
        found += rotor_findings(result, candidate, states)
        found += current_findings(result, candidate, states, scenario.pack_current_rating)
        found += electrical_findings(states, candidate, scenario.wiring)
        found += heat_findings(result, candidate, states, pack)
        found += people_findings(comparison, result, candidate, states, dimensions.get(name))
        found += flow_findings(result, candidate)
        found += plausible_findings(result, candidate)
        found += _level(result)
    found += aircraft_findings(comparison)
    found += flight_findings(comparison)
    return tuple(sorted(found, key=lambda finding: RANKS.index(finding.rank)))


def _level(result: CandidateResult) -> Iterator[Finding]:
    level = result.level
    if level is None:
        return
    if level.launch_speed < level.stall_speed:
        yield Finding(rank="stop", subject=result.name, value=level.launch_speed,
                      limit=level.stall_speed, unit="m/s", least=True,
                      source="stall speed at its own mass and greatest lift coefficient",
                      change="launch faster, carry less, or give it more wing",
                      text=f"launched at {level.launch_speed:.1f} m/s but stalls below "
                           f"{level.stall_speed:.1f} m/s")
    if not np.isfinite(level.top_speed) and not np.isfinite(level.lowest_bound) \
            and level.launch_speed >= level.stall_speed:
        yield Finding(rank="stop", subject=result.name, value=None, limit=None, unit="",
                      change="more power, less drag, less mass, or a faster launch",
                      text=f"level flight is impossible: {level.reason}")
