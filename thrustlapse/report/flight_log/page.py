"""The write-up of a flight log: a page, its figures, and every number as JSON."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from thrustlapse.report.figure_style import styled
from thrustlapse.report.flight_log.figure import (
    CAPTIONS,
    TITLES,
    describe_current,
    describe_energy,
    figure_current,
    figure_energy,
)
from thrustlapse.report.flight_log.words import factor_table, headline, sentences
from thrustlapse.report.number_format import amount
from thrustlapse.report.page_text import page_text
from thrustlapse.report.records import json_text
from thrustlapse.report.saved_figures import Drawn, Saved, save_figures
from thrustlapse.report.write_up import write_up
from thrustlapse.study.log_study import LogStudy


def write_log(study: LogStudy, folder: Path) -> Path:
    """Write the page, its figures and log.json into a folder; returns the page.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier report is then as it was.
    """
    return write_up(folder, draw=lambda figures: partial(save_figures, _drawn(study), figures),
                    page=lambda drawn: _page(study, drawn),
                    files={"log.json": lambda: json_text(log_record(study))})


def log_record(study: LogStudy) -> dict[str, Any]:
    """Every number of the study, keys with their SI unit; null where there is none."""
    found, log = study.reduction, study.log
    return {
        "candidate": study.name, "log": Path(log.source).name, "mass_kg": study.mass,
        "thrust_factor": found.thrust_factor, "drag_factor": found.drag_factor,
        "covariance": found.covariance,
        "slope": found.slope if found.slope_told else None,
        "slope_deviation": found.slope_deviation,
        "slope_about_m_s": found.middle, "lapse": _lapse(study), "wind": _wind(study),
        "level_run": None if found.level_run is None else {
            "airspeed_m_s": found.level_run.airspeed, "from_s": found.level_run.start,
            "to_s": found.level_run.end},
        "correlation": found.correlation, "condition": found.condition,
        "separable": bool(found.separable), "scatter": found.scatter, "note": found.note,
        "drag_area_m2": study.drag_area, "top_speed_m_s": study.top_speed,
        "explained_top_speed_m_s": study.explained_top_speed,
        "top_speed_deviation_m_s": study.top_speed_deviation,
        "headline": headline(study), "sentences": sentences(study),
        "time_s": found.time, "airspeed_m_s": log.airspeed,
        "height_m": log.height, "voltage_V": log.voltage,
        "current_A": log.current, "motor_on": found.motor_on,
        "predicted_thrust_N": found.predicted_thrust,
        "predicted_drag_N": found.predicted_drag,
        "predicted_current_A": found.predicted_current,
        "logged_energy_height_m": found.logged_height,
        "predicted_energy_height_m": found.predicted_height,
        "explained_energy_height_m": found.fitted_height,
        "residual_deviations": found.residual,
        "scenario_digest": study.scenario_digest, "version": study.version}


def _lapse(study: LogStudy) -> dict[str, float] | None:
    """Thrust left at the fast end over the slow, by the log over predicted."""
    found = study.reduction
    if not found.slope_told:
        return None
    ratio, deviation = found.lapse()
    return {"from_m_s": found.powered[0], "to_m_s": found.powered[1], "ratio": ratio,
            "deviation": deviation}


def _wind(study: LogStudy) -> dict[str, float] | None:
    """Where the air moves to, and the airspeed sensor's factor."""
    wind = study.reduction.wind
    if not wind.known:
        return None
    return {"east_m_s": wind.east, "north_m_s": wind.north, "deviation_m_s": wind.deviation,
            "airspeed_factor": wind.scale, "airspeed_factor_deviation": wind.scale_deviation}


def _drawn(study: LogStudy) -> list[Drawn]:
    made = (("energy", figure_energy, describe_energy),
            ("current", figure_current, describe_current))
    with styled():
        return [Drawn(name=name, title=TITLES[name], figure=figure(study), caption=CAPTIONS[name],
                      alt=describe(study)) for name, figure, describe in made]


def _page(study: LogStudy, drawn: Saved) -> str:
    return page_text(
        "log.html", drawn, title=f"Flight log of {study.name}" + (
            f": {study.title}" if study.title else ""), study=study,
        source=Path(study.log.source).name, headline=headline(study), sentences=sentences(study),
        table=factor_table(study), mass=amount("airframe_mass", study.mass))
