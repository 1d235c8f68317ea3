"""The live part of a page: its table packed into text, its scripts, and what may run.

Everything stands in the page itself, so that it opens from a mail attachment with no network. The
page's policy names each script by its hash: nothing else runs, whatever a scenario's text says.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np
from markupsafe import Markup

from thrustlapse.aircraft.drag import RISE_FACTOR, Airframe, drag_area
from thrustlapse.arrays import Array, IntArray
from thrustlapse.propulsor.operating_point import flag_names
from thrustlapse.report.live.words import DRIVE_LABELS, FOLLOWS, NO_SCRIPT, VOLTAGE_LABEL, WORDS
from thrustlapse.report.looks import look_places
from thrustlapse.study.live_table import LiveBand, LiveCandidate, LiveTable

SCRIPTS = ("uplot.iife.min.js", "table.js", "words.js", "view.js", "handles.js", "page.js")
"""In the order in which they run. The first is uPlot, MIT licence, see uplot.LICENSE.txt."""

STYLES = ("uplot.min.css", "live.css")

UNKNOWN = -32768
"""How a packed array writes "no value"."""

GREATEST = 32000


@dataclass(frozen=True, kw_only=True)
class LivePart:
    """What a template needs of the live part of its page."""

    css: Markup
    data: Markup
    scripts: tuple[Markup, ...]
    policy: str
    follows: str = FOLLOWS
    no_script: str = NO_SCRIPT


def live_part(table: LiveTable) -> LivePart:
    """The live part of a page over a table."""
    scripts = tuple(source(name) for name in SCRIPTS)
    return LivePart(
        css=Markup("\n".join(source(name) for name in STYLES)),
        data=Markup(inline_json(payload(table))), scripts=tuple(map(Markup, scripts)),
        policy=" ".join(f"'sha256-{digest(text)}'" for text in scripts))


def source(name: str) -> str:
    """Text of a script or style of the live page."""
    return resources.files("thrustlapse.report").joinpath(f"live/{name}").read_text("utf-8")


def digest(text: str) -> str:
    """Hash of an inline script as a page's policy states it."""
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def inline_json(record: Any) -> str:
    """JSON that may stand within a script element: no text in it can end the element."""
    text = json.dumps(record, allow_nan=False, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def payload(table: LiveTable) -> dict[str, Any]:
    """The table as the browser reads it, in SI units."""
    sets, candidates = [""], []
    for one in table.candidates:
        candidates.append(_candidate(one, sets))
    show_looks(candidates, {one.name: one.kind for one in table.candidates})
    label, unit = DRIVE_LABELS.get(table.drive, VOLTAGE_LABEL)
    return {
        "words": WORDS,
        "drive": {"label": label, "unit": unit, "own": table.own_drive,
                  "values": _plain(table.drive_values)},
        "airspeed": _plain(table.airspeed), "start_airspeed": round(0.4 * table.airspeed[-1], 1),
        "density": table.density, "speed_of_sound": table.speed_of_sound,
        "airframe": airframe_record(table.airframe),
        "candidates": candidates, "flag_sets": sets}


def show_looks(candidates: list[dict[str, Any]], kinds: Mapping[str, str]) -> None:
    """Give every candidate's record its places among the script's colours and dashes."""
    for one, (ink, dash, _) in zip(candidates, look_places(kinds).values(), strict=True):
        one |= {"ink": ink, "dash": dash}


def airframe_record(airframe: Airframe | None) -> dict[str, float] | None:
    """What the browser's drag and level speeds need of an airframe, SI."""
    if airframe is None:
        return None
    names = ("mass", "wing_area", "induced_factor", "lift_of_least_drag", "greatest_lift",
             "launch_speed", "drag_rise_mach")
    return {name: float(np.asarray(getattr(airframe, name))) for name in names} | {
        "drag_area": float(drag_area(airframe)), "rise_factor": RISE_FACTOR}


def flag_places(bits: IntArray, sets: list[str]) -> IntArray:
    """Place of each element's flags, in words, among the known sets; new ones are added."""
    distinct, place = np.unique(bits, return_inverse=True)
    names = ["; ".join(flag_names(int(one))) for one in distinct]
    sets += [name for name in names if name not in sets]
    return np.array([sets.index(name) for name in names], dtype=np.int64)[place.ravel()]


def _candidate(one: LiveCandidate, sets: list[str]) -> dict[str, Any]:
    lone = one.exit_diameter.size == 1
    return {"name": one.name, "mass": one.mass,
            "diameter": [0.0] if lone else _plain(one.exit_diameter),
            "own_diameter": None if lone else one.own_diameter,
            "limits": [{"name": limit.name, "curve": limit.curve, "bound": limit.bound}
                       for limit in one.limits], "stops": [], "band": band_record(one.band),
            "thrust": packed(one.thrust), "current": packed(one.current),
            "motor_current": packed(one.motor_current), "flags": base64.b64encode(
                flag_places(one.flag_bits, sets).astype(np.uint8).tobytes()).decode("ascii")}


def band_record(band: LiveBand | None) -> dict[str, Any] | None:
    """A band as the browser reads it."""
    if band is None:
        return None
    return {"rest": band.rest, "low": _plain(band.low), "high": _plain(band.high)}


def packed(values: Array) -> dict[str, Any]:
    """An array as whole steps in base64: a 32,000th of its largest value is the step."""
    known = np.isfinite(values)
    most = float(np.max(np.abs(values), where=known, initial=0.0))
    step = most / GREATEST if most > 0.0 else 1.0
    whole = np.where(known, np.round(np.where(known, values, 0.0) / step), UNKNOWN)
    return {"step": step,
            "data": base64.b64encode(whole.astype("<i2").tobytes()).decode("ascii")}


def _plain(values: Array) -> list[float | None]:
    return [float(f"{value:.9g}") if np.isfinite(value) else None for value in values.tolist()]
