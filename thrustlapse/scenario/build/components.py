"""From the checked file to every part that depends on numbers which may vary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.rotor.stage_map import NoMap
from thrustlapse.scenario.build.aircraft import build_aircraft, friction_speed
from thrustlapse.scenario.build.candidates import build_candidate
from thrustlapse.scenario.faults import KeyPath
from thrustlapse.scenario.schema.propulsor import CandidateSection
from thrustlapse.scenario.schema.scenario import ScenarioSection


class NotBuilt(ValueError):
    """Parts that follow from no machine; ``reasons`` by the path of the table they belong to."""

    def __init__(self, reasons: Mapping[KeyPath, str]) -> None:
        super().__init__("; ".join(reasons.values()))
        self.reasons = reasons


def _as_read(section: ScenarioSection, candidate: CandidateSection, source: Supply) -> Supply:
    """What a candidate runs on: where the supply has the voltage of its readings, at that."""
    volts = getattr(getattr(candidate, "readings", None), "voltage", None)
    if volts is None or section.supply is None or not section.supply.as_read:
        return source
    return replace(source, voltage=volts)


def build_parts(section: ScenarioSection,
                overridden: Mapping[str, tuple[str, ...]] | None = None) -> dict[str, Any]:
    """Site, pack, airframe, footing and candidates of a section.

    ``overridden`` are sentences by candidate about fitted values the scenario gives otherwise.
    Any number of the section may be an array of shape (samples, 1); the parts then hold arrays.

    Raises
    ------
    NotBuilt
        Naming every candidate from whose dimensions no map follows.
    """
    site = section.site.site()
    feed = section.pack if section.pack is not None else section.supply
    assert feed is not None
    source = section.electrical_source()
    told: tuple[str, ...] = ()
    if section.pack is not None and not section.pack.given("lead_resistance"):
        told = ("pack leads, connector and switch without resistance",)
    if section.pack is not None and section.pack.cell_resistance is not None:
        told += ("resistance of the cells against their charge as a typical cell's",)
    candidates: dict[str, Candidate] = {}
    reasons: dict[KeyPath, str] = {}
    for key, candidate in section.candidates.items():
        try:
            candidates[key] = build_candidate(key, candidate, source_mass=feed.mass,
                                              source=_as_read(section, candidate, source),
                                              site=site, source_assumptions=(
                                                  *told, *(overridden or {}).get(key, ())),
                                              friction_speed=friction_speed(section.airframe))
            if section.supply is not None and section.supply.ideal:
                candidates[key] = replace(candidates[key], voltage_known=False)
        except NoMap as error:
            tables = ("readings", "map", "table")
            home = next(name for name in tables if getattr(candidate, name, None) is not None)
            reasons["candidates", key, home] = str(error)
    if reasons:
        raise NotBuilt(reasons)
    airframe, use = (None, None) if section.airframe is None else build_aircraft(
        section.airframe, site=site, source_mass=feed.mass)
    return {
        "site": site, "pack": None if section.pack is None else section.pack.pack(),
        "pack_current_rating": feed.current_rating, "airframe": airframe, "aircraft_use": use,
        "flight": None if section.flight is None else section.flight.plan(),
        "comparison": section.comparison.basis(), "candidates": candidates,
        "wiring": None if section.wiring is None else section.wiring.wiring()}
