"""The numbers of a sizing study as ``when.json``, enough to rebuild every machine."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.report.sizing.words import DRAG_AREAS, read_aloud
from thrustlapse.study.sizing.domain import Best, WhenResult
from thrustlapse.study.sizing.kinds import MEANING
from thrustlapse.study.sizing.merit import RUNNING

FORMAT, FORMAT_VERSION = "thrustlapse sizing study", 1


def when_text(result: WhenResult) -> str:
    """The text of ``when.json``: axes, and by kind a row of airspeeds for each power; no value is
    null."""
    domain = result.domain
    body: dict[str, Any] = {
        "format": FORMAT, "format_version": FORMAT_VERSION, "title": result.title,
        "question": result.question, "invented": result.invented, "rules": list(result.rules),
        "axes": [{"name": "electrical power", "unit": "W", "values": domain.power.tolist()},
                 {"name": "airspeed", "unit": "m/s", "values": domain.airspeed.tolist()}],
        "leader": [[None if place < 0 else result.names[place] for place in row]
                   for row in result.leader.tolist()],
        "draws": result.draws, "drag_area_m2": result.drag_area,
        "kinds": {name: _kind(result, name, one) for name, one in result.best.items()},
        "read_aloud": read_aloud(result),
        "what_would_flip_it": [
            {"condition": one.words, "share_led": one.led,
             "greatest_ratio_in_flight": {name: _plain(value)
                                          for name, value in one.nearest.items()},
             "thrust_less_own_induced_drag_N": {name: _plain(value)
                                                for name, value in one.values.items()}}
            for one in result.flips],
        "top_speed": {
            "axes": [{"name": "electrical power", "unit": "W", "values": domain.power.tolist()},
                     {"name": "drag area", "unit": "m^2", "values": DRAG_AREAS.tolist()}],
            "above_highest_airspeed": "Infinity", "top_speed_m_s": {
                name: _speeds(result.top_speed(name, DRAG_AREAS)) for name in result.names}},
        "scenario_digest": result.scenario_digest, "version": result.version,
    }
    return json.dumps(body, indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def _speeds(values: Array) -> list[list[float | str | None]]:
    """Rows of numbers: a word where it is above all airspeeds looked at."""
    return [["Infinity" if value == math.inf else _plain(value) for value in row]
            for row in values.tolist()]


def _kind(result: WhenResult, name: str, one: Best) -> dict[str, Any]:
    rows, columns = result.domain.shape
    bounds = [list(one.on_bound[row * columns:(row + 1) * columns]) for row in range(rows)]
    return {
        "kind": one.kind, "evaluations": one.evaluations,
        "installed_thrust_N": _plain(one.installed_thrust),
        "thrust_less_own_induced_drag_N": _plain(one.value),
        "electrical_power_W": _plain(one.electrical_power),
        "drag_area_threshold_m2": _plain(result.threshold(name)),
        "chance_best": _plain(result.chance[name]), "converged": one.converged.tolist(),
        "two_runs_apart": _plain(one.apart),
        "on_bound": [[list(names) for names in row] for row in bounds],
        "running": {key: {"words": RUNNING[key][0], "unit": RUNNING[key][1],
                          "values": _plain(values)} for key, values in one.running.items()},
        "design": {key: {"words": MEANING[key][0], "unit": MEANING[key][1],
                         "values": _plain(values)} for key, values in one.design.items()},
    }


def _plain(values: Any) -> Any:
    if isinstance(values, np.ndarray):
        return _plain(values.tolist())
    if isinstance(values, list):
        return [_plain(value) for value in values]
    return values if math.isfinite(values) else None
