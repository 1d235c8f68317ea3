"""What each piece of evidence of a candidate changed, as a page of the served scenario."""

from __future__ import annotations

from thrustlapse import __version__
from thrustlapse.learning import learned, machine, machine_history
from thrustlapse.report.evidence.page import Origin, history_page
from thrustlapse.scenario.build.model import Scenario


def evidence_page(scenario: Scenario, name: str) -> str:
    """The page's text: the band with each piece, and without it.

    Raises
    ------
    EvidenceError, ScenarioError
        Where there is no such candidate, or its evidence cannot be read.
    """
    told = machine(scenario, name)
    return history_page(name, machine_history(told), learned(told).against, origin=Origin(
        title=scenario.title, invented=scenario.invented, digest=scenario.digest,
        version=__version__))
