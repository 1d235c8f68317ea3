"""The write-up of a flight log: a page, its figures, and every number as JSON."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.report.comparison.figures import Drawn, save_figures
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
from thrustlapse.report.page_text import page_text
from thrustlapse.report.staging import staged, write_file
from thrustlapse.report.words import amount
from thrustlapse.study.log_study import LogStudy


def write_log(study: LogStudy, folder: Path) -> Path:
    """Write the page, its figures and log.json into a folder; returns the page.

    Raises
    ------
    ReportError
        If the folder cannot be written; an earlier report is then as it was.
    """
    with staged(folder) as new:
        figures = new / "figures"
        figures.mkdir()
        drawn = save_figures(_drawn(study), figures)
        write_file(new / "log.json", json.dumps(log_record(study), indent=1, allow_nan=False))
        write_file(new / "index.html", _page(study, drawn))
    return folder / "index.html"


def log_record(study: LogStudy) -> dict[str, Any]:
    """Every number of the study, keys with their SI unit; null where there is none."""
    found, log = study.reduction, study.log
    return {
        "candidate": study.name, "log": Path(log.source).name, "mass_kg": study.mass,
        "thrust_factor": found.thrust_factor, "drag_factor": found.drag_factor,
        "covariance": [[_plain(one) for one in row] for row in found.covariance],
        "slope": found.slope if found.slope_told else None,
        "slope_deviation": _plain(found.slope_deviation),
        "slope_about_m_s": _plain(found.middle), "lapse": _lapse(study), "wind": _wind(study),
        "level_run": None if found.level_run is None else {
            "airspeed_m_s": found.level_run.airspeed, "from_s": found.level_run.start,
            "to_s": found.level_run.end},
        "correlation": _plain(found.correlation), "condition": _plain(found.condition),
        "separable": bool(found.separable), "scatter": found.scatter, "note": found.note,
        "drag_area_m2": study.drag_area, "top_speed_m_s": _plain(study.top_speed),
        "explained_top_speed_m_s": _plain(study.explained_top_speed),
        "top_speed_deviation_m_s": _plain(study.top_speed_deviation),
        "headline": headline(study), "sentences": sentences(study),
        "time_s": _list(found.time), "airspeed_m_s": _list(log.airspeed),
        "height_m": _list(log.height), "voltage_V": _list(log.voltage),
        "current_A": _list(log.current), "motor_on": found.motor_on.tolist(),
        "predicted_thrust_N": _list(found.predicted_thrust),
        "predicted_drag_N": _list(found.predicted_drag),
        "predicted_current_A": _list(found.predicted_current),
        "logged_energy_height_m": _list(found.logged_height),
        "predicted_energy_height_m": _list(found.predicted_height),
        "explained_energy_height_m": _list(found.fitted_height),
        "residual_deviations": _list(found.residual),
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


def _plain(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _list(values: Array) -> list[float | None]:
    return [_plain(float(one)) for one in np.ravel(values)]


def _drawn(study: LogStudy) -> list[Drawn]:
    made = (("energy", figure_energy, describe_energy),
            ("current", figure_current, describe_current))
    with styled():
        return [Drawn(name=name, title=TITLES[name], figure=figure(study), caption=CAPTIONS[name],
                      alt=describe(study)) for name, figure, describe in made]


def _page(study: LogStudy, drawn: list[tuple[Drawn, str]]) -> str:
    return page_text(
        "log.html", drawn, title=f"Flight log of {study.name}" + (
            f": {study.title}" if study.title else ""), study=study,
        source=Path(study.log.source).name, headline=headline(study), sentences=sentences(study),
        table=factor_table(study), mass=amount("airframe_mass", study.mass))
