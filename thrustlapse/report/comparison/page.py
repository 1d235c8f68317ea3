"""The page: one self-contained HTML file, figures inside, nothing fetched, only its own scripts."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from thrustlapse.report.comparison.for_a_paper import citation, methods_paragraph
from thrustlapse.report.comparison.tables import all_tables
from thrustlapse.report.comparison.verdict import verdict
from thrustlapse.report.findings_text import grouped
from thrustlapse.report.live.files import live_part
from thrustlapse.report.live.words import NOT_OFFERED
from thrustlapse.report.number_format import SOURCES, amount, area, listed, number, short_speed
from thrustlapse.report.page_text import page_text
from thrustlapse.report.safety_text import LIMITS
from thrustlapse.report.saved_figures import Saved
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.live_table import LiveTable

RESIDUALS = {"energy_residual": "energy", "electrical_residual": "electrical power",
             "force_residual": "wall forces", "continuity_residual": "mass flow",
             "pressure_residual": "total pressure"}


def page(comparison: Comparison, drawn: Saved, *, scenario_text: str,
         live: LiveTable | None = None) -> str:
    """The page's text.

    Parameters
    ----------
    comparison : Comparison
    drawn : list of (Words, str)
        Figures and their SVG text
    scenario_text : str
        Source of the scenario, shown folded; empty for none
    live : LiveTable, optional
        What the page can move by itself; without it the page has no script
    """
    return page_text(
        "page.html", drawn, title=comparison.title or "A comparison of propulsors",
        comparison=comparison, findings=grouped(comparison.findings), verdict=verdict(comparison),
        tables=all_tables(comparison),
        assumptions=assumptions(comparison), conditions=conditions(comparison),
        balance=balance(comparison), limits=LIMITS, paragraph=methods_paragraph(comparison),
        citation=citation(comparison), scenario_text=scenario_text,
        live=None if live is None else live_part(live), not_offered=NOT_OFFERED)


def conditions(comparison: Comparison) -> list[str]:
    """The day, the footing and the airframe, a line each."""
    x = comparison.airspeed
    lines = [f"Air: {amount('altitude', comparison.altitude)} above sea level, "
             f"{amount('temperature', comparison.temperature)}, "
             f"{amount('pressure', comparison.pressure)}, {amount('density', comparison.density)}.",
             f"Footing: {comparison.footing}"
             + (f", reference {comparison.reference}" if comparison.reference else "")
             + (f", {number(comparison.reference_power)} W" if comparison.reference_power else "")
             + ".",
             f"Airspeeds: {x.size} from {short_speed(float(x[0]))} to {short_speed(float(x[-1]))}."
             if x.size > 1 else f"Airspeed: {short_speed(float(x[0]))} only."]
    if comparison.drag_area is not None and comparison.airframe_mass is not None:
        told = ("" if comparison.aircraft is None
                else f", {SOURCES[comparison.aircraft.drag_source.source]}")
        lines.append(f"Airframe: {amount('airframe_mass', comparison.airframe_mass)} without "
                     f"propulsion and pack, parasite drag area {area(comparison.drag_area)}{told}.")
    return lines


def assumptions(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """What was assumed, each text once: of whom, and what."""
    told: dict[str, list[str]] = {}
    for name, result in comparison.candidates.items():
        for text in result.assumptions:
            told.setdefault(text, []).append(name)
    kept: dict[tuple[str, ...], list[str]] = {}
    for text, names in told.items():
        kept.setdefault(tuple(names), []).append(text)
    return [(listed(names), texts) for names, texts in
            sorted(kept.items(), key=lambda pair: -len(pair[0]))]


def balance(comparison: Comparison) -> str:
    """How well energy, forces and flow of all operating points balance."""
    worst = dict.fromkeys(RESIDUALS, 0.0)
    for result in comparison.candidates.values():
        for point in (result.curve, result.at_rest):
            for item in fields(point.ledger):
                if item.name in worst:
                    misses = np.abs(getattr(point.ledger, item.name))
                    known = misses[np.isfinite(misses)]
                    worst[item.name] = max(worst[item.name], float(np.max(known, initial=0.0)))
    parts = [f"{said} {worst[name]:.1e}" for name, said in RESIDUALS.items()]
    return ("The energy balance of every operating point is checked; largest relative errors: "
            f"{', '.join(parts)}.")
