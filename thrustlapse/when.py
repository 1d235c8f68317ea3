"""When would it win: from a scenario to the best of every kind over a domain."""

from __future__ import annotations

from functools import cache
from importlib import resources

import numpy as np

from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.build.parts import build_parts
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.schema.propulsor import CandidateSection
from thrustlapse.study.sizing.kinds import VARIABLES, Kind, Template
from thrustlapse.study.sizing.merit import Rules


@cache
def _kind_sections() -> dict[str, CandidateSection]:
    text = resources.files("thrustlapse.scenario").joinpath("when_kinds.toml").read_text(
        encoding="utf-8")
    return read_text(text, name="when_kinds.toml").section.candidates


def kinds(scenario: Scenario) -> dict[str, Kind]:
    """Every kind of machine on the scenario's pack at its site, by name."""
    sections = _kind_sections()
    parts = build_parts(scenario.section.model_copy(update={"candidates": sections}))
    found = {}
    for name, section in sections.items():
        pod = section.installation.pod_diameter
        assert pod is not None
        candidate = parts["candidates"][name]
        found[name] = Kind(template=Template(kind=section.kind, candidate=candidate,
                                             pod_diameter=pod),
                           variables=VARIABLES[section.kind])
    return found


def rules(scenario: Scenario) -> Rules:
    """What every design is held to."""
    frame = scenario.airframe
    if frame is None:
        return Rules(pack_current_rating=scenario.pack_current_rating, wiring=scenario.wiring)
    source = scenario.section.pack or scenario.section.supply
    assert source is not None
    return Rules(airframe=frame, base_mass=float(np.asarray(frame.mass)) + source.mass,
                 pack_current_rating=scenario.pack_current_rating, wiring=scenario.wiring)
