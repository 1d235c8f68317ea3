"""The numbers of a sizing study as ``when.json``, enough to rebuild every machine."""

from __future__ import annotations

from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.report.records import json_text
from thrustlapse.report.sizing.words import DRAG_AREAS, read_aloud
from thrustlapse.study.sizing.domain import Best, WhenResult
from thrustlapse.study.sizing.kinds import MEANING
from thrustlapse.study.sizing.merit import RUNNING

FORMAT, FORMAT_VERSION = "thrustlapse sizing study", 1


def when_text(result: WhenResult) -> str:
    """The text of ``when.json``: axes, and by kind a row of airspeeds for each power; no value is
    null."""
    domain = result.domain
    return json_text({
        "format": FORMAT, "format_version": FORMAT_VERSION, "title": result.title,
        "question": result.question, "invented": result.invented, "rules": result.rules,
        "axes": [{"name": "electrical power", "unit": "W", "values": domain.power},
                 {"name": "airspeed", "unit": "m/s", "values": domain.airspeed}],
        "leader": [[None if place < 0 else result.names[place] for place in row]
                   for row in result.leader],
        "draws": result.draws, "drag_area_m2": result.drag_area,
        "kinds": {name: _kind(result, name, one) for name, one in result.best.items()},
        "read_aloud": read_aloud(result),
        "what_would_flip_it": [
            {"condition": one.words, "share_led": dict(one.led),
             "greatest_ratio_in_flight": dict(one.nearest),
             "thrust_less_own_induced_drag_N": dict(one.values)}
            for one in result.flips],
        "top_speed": {
            "axes": [{"name": "electrical power", "unit": "W", "values": domain.power.tolist()},
                     {"name": "drag area", "unit": "m^2", "values": DRAG_AREAS.tolist()}],
            "above_highest_airspeed": "Infinity", "top_speed_m_s": {
                name: _speeds(result.top_speed(name, DRAG_AREAS)) for name in result.names}},
        "scenario_digest": result.scenario_digest, "version": result.version,
    })


def _speeds(values: Array) -> list[list[float | str]]:
    """Rows of numbers: a word where it is above all airspeeds looked at."""
    return [["Infinity" if value == np.inf else value for value in row]
            for row in values.tolist()]


def _kind(result: WhenResult, name: str, one: Best) -> dict[str, Any]:
    rows, columns = result.domain.shape
    bounds = [list(one.on_bound[row * columns:(row + 1) * columns]) for row in range(rows)]
    return {
        "kind": one.kind, "evaluations": one.evaluations,
        "installed_thrust_N": one.installed_thrust,
        "thrust_less_own_induced_drag_N": one.value,
        "electrical_power_W": one.electrical_power,
        "drag_area_threshold_m2": result.threshold(name),
        "chance_best": result.chance[name], "converged": one.converged,
        "two_runs_apart": one.apart,
        "on_bound": [[list(names) for names in row] for row in bounds],
        "running": {key: {"words": RUNNING[key][0], "unit": RUNNING[key][1],
                          "values": values} for key, values in one.running.items()},
        "design": {key: {"words": MEANING[key][0], "unit": MEANING[key][1],
                         "values": values} for key, values in one.design.items()},
    }
