"""A search written up: page, figures, every number of its summary, and its best designs as CSV."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.glossary import key, quantity
from thrustlapse.report.atomic_write import ReportError, whole_file
from thrustlapse.report.csv_cells import csv_text
from thrustlapse.report.records import json_text
from thrustlapse.report.safety_text import LIMITS
from thrustlapse.report.search.words import all_tables, conditions, headline, sentences
from thrustlapse.report.write_up import write_up
from thrustlapse.study.search.bits import FIRST_LIMIT
from thrustlapse.study.search.store import Store, spec_record
from thrustlapse.study.search.summary import SearchResult

if TYPE_CHECKING:
    from thrustlapse.report.saved_figures import Saved

FORMAT, FORMAT_VERSION = "thrustlapse search summary", 1
TEN_DIGITS = "{:.10g}".format
LARGEST_EXPORT = 250_000_000
"""Bytes of one variable above which no netCDF file is written: it would have to fit in memory."""


def write_search(result: SearchResult, folder: Path | str, *, scenario_text: str = "") -> Path:
    """Write page, figures, ``search.json``, ``best.csv`` and ``front.csv``, all of it or none.

    Raises
    ------
    ReportError
        If the folder cannot be written.
    """
    def draw(figures: Path) -> Callable[[], Saved]:
        from thrustlapse.report.search.figures import save_search

        return partial(save_search, result, figures)

    return write_up(
        folder, draw=draw,
        page=lambda drawn: search_page(result, drawn, scenario_text=scenario_text),
        files={"search.json": lambda: search_text(result), "best.csv": lambda: best_csv(result),
               **({"front.csv": lambda: front_csv(result)} if result.spec.front else {})})


def search_page(result: SearchResult, drawn: Saved, *, scenario_text: str) -> str:
    """The page's text."""
    from thrustlapse.report.page_text import page_text

    tables = all_tables(result)
    return page_text(
        "search.html", drawn, title=f"{result.title or 'A search'}: search", result=result,
        headline=headline(result), sentences=sentences(result), conditions=conditions(result),
        tables=tables, best=[table for name, table in tables.items() if name.startswith("best-")],
        fronts=[table for name, table in tables.items() if name.startswith("front-")],
        limits=LIMITS, scenario_text=scenario_text)


def search_text(result: SearchResult) -> str:
    """The text of ``search.json``."""
    spec = result.spec
    body: dict[str, Any] = {
        "format": FORMAT, "format_version": FORMAT_VERSION, "title": result.title,
        "question": result.question, "note": result.note, "invented": result.invented,
        "footing": result.footing, "search": spec_record(spec),
        "operating_points": result.points, "candidates": {},
        "scenario_digest": result.scenario_digest, "version": result.version,
    }
    units = {axis.name: axis.unit for axis in spec.axes}
    for name, one in result.found.items():
        body["candidates"][name] = {
            "kind": one.kind, "designs": one.designs, "counted": one.counted, "left": one.left,
            "causes": one.causes, "design_number": one.row,
            key(spec.best): one.best, "deviation": one.deviation,
            "settings": {axis: {"unit": units[axis], "values": values}
                         for axis, values in one.settings.items()},
            "answers": {key(answer): values for answer, values in one.answers.items()},
            "front": None if one.front is None else {
                "design_number": one.front.row,
                "settings": {axis: {"unit": units[axis], "values": values}
                             for axis, values in one.front.settings.items()},
                "answers": {key(answer): values
                            for answer, values in one.front.answers.items()}},
        }
    won = result.winners
    if won is not None:
        body["winners"] = {
            "kinds": won.kinds, "winner": won.winner, "lead": won.lead,
            "too_close_to_call": won.tie,
            "chance_of_being_best": {kind: won.chance[place]
                                     for place, kind in enumerate(won.kinds)},
            "stretches": [[{"kind": part.kind, "from_m_s": part.start, "to_m_s": part.stop}
                           for part in row] for row in won.stretches]}
    return json_text(body)


def best_csv(result: SearchResult) -> str:
    """The best design of every candidate in every cell at every airspeed, SI, as CSV."""
    spec = result.spec
    axes = spec.axes
    others = [answer for answer in spec.answers if answer != spec.best]
    by_speed, won = ANSWERS[spec.best].at_airspeed, result.winners
    heads = ["candidate", "kind", *([key("airspeed")] if by_speed else []),
             *axis_heads(spec, with_unit=True).values(), key(spec.best), "deviation",
             *(["chance_kind_is_best"] if won is not None else []),
             *(key(answer) for answer in others), "design_number"]
    rows = []
    for name, one in result.found.items():
        for cell, column in np.argwhere(np.isfinite(one.best)):
            place = (int(cell), int(column))
            rows.append([name, one.kind, *([spec.airspeed[column]] if by_speed else []),
                         *(one.settings[axis.name][place] if axis.name in one.settings else ""
                           for axis in axes), one.best[place], one.deviation[place],
                         *([won.chance[(won.kinds.index(one.kind), *place)]] if won is not None
                           else []), *(one.answers[answer][place] for answer in others),
                         one.row[place]])
    return csv_text(heads, rows, number=TEN_DIGITS)


def front_csv(result: SearchResult) -> str:
    """The fronts, SI, as CSV."""
    spec = result.spec
    answers = list(spec.answers)
    rows = []
    for name, one in result.found.items():
        if one.front is None:
            continue
        rows += [[name, *(one.front.settings[axis.name][place] if axis.name in one.front.settings
                          else "" for axis in spec.axes),
                  *(one.front.answers[answer][place] for answer in answers),
                  one.front.row[place]] for place in range(one.front.row.size)]
    return csv_text(["candidate", *axis_heads(spec, with_unit=True).values(),
                     *map(key, answers), "design_number"], rows, number=TEN_DIGITS)


TAKEN = ("airspeed", "sample", "causes", "limits", "candidate", "kind", "deviation",
         "chance_kind_is_best", "design_number")


def axis_heads(spec: SearchSpec, *, with_unit: bool = False) -> dict[str, str]:
    """Names of axes as files carry them: letters, digits and ``_``, none twice, none an answer's.

    A name that people gave may be any text; one that would be taken for an answer or for another
    axis gets a word behind it.
    """
    taken = {*TAKEN, *spec.answers, *(key(answer) for answer in spec.answers), key("airspeed")}
    heads: dict[str, str] = {}
    for number, axis in enumerate(spec.axes, start=1):
        plain = re.sub(r"[^A-Za-z0-9]+", "_", axis.name).strip("_") or "axis"
        plain = f"axis_{plain}" if plain[0].isdigit() else plain
        suffix = axis.unit.replace("^", "").replace("/", "_").replace(" ", "_")
        unit = f"_{suffix}" if with_unit and suffix else ""
        choices = (plain + unit, f"{plain}_axis{unit}", f"{plain}_axis_{number}{unit}")
        heads[axis.name] = next(choice for choice in choices if choice not in taken)
        taken.add(heads[axis.name])
    return heads


def write_netcdf(store: Store, folder: Path) -> list[Path]:
    """All numbers of a search as netCDF-3, one file per candidate, the axes as dimensions.

    Raises
    ------
    ReportError
        If a variable would be too large to hold, or the folder cannot be written.
    """
    from scipy.io import netcdf_file

    written = []
    for name in store.spec.candidates:
        designs, speeds = store.spec.designs(name), store.spec.airspeed
        if 8 * designs.count * speeds.size > LARGEST_EXPORT:
            raise ReportError(f"{name}: {designs.count:,} designs at {speeds.size} airspeeds are "
                              "too many for a netCDF file of one piece; read the chunks instead")
        path = folder / f"{name}.nc"
        parts = [store.read(chunk) for chunk in store.chunks if chunk.candidate == name]
        with whole_file(path) as part, netcdf_file(part, "w", version=2) as file:
            _fill(file, store, name, parts)
        written.append(path)
    return written


def _fill(file: Any, store: Store, name: str, parts: list[Any]) -> None:
    designs, speeds = store.spec.designs(name), store.spec.airspeed
    dimensions = []
    heads = axis_heads(store.spec)
    for axis in designs.grid:
        label = heads[axis.name]
        file.createDimension(label, axis.values.size)
        variable = file.createVariable(label, "d", (label,))
        variable[:], variable.units = axis.values, axis.unit
        dimensions.append(label)
    file.createDimension("sample", designs.samples)
    dimensions.append("sample")
    if designs.drawn:
        drawn = designs.values(np.arange(designs.samples))
        for axis in designs.drawn:
            variable = file.createVariable(heads[axis.name], "d", ("sample",))
            variable[:], variable.units = drawn[axis.name], axis.unit
    file.createDimension("airspeed", speeds.size)
    variable = file.createVariable("airspeed", "d", ("airspeed",))
    variable[:], variable.units = speeds, "m/s"
    for answer in store.spec.answers:
        whole = np.concatenate([part.answers[answer] for part in parts])
        tall = (*dimensions, "airspeed") if ANSWERS[answer].at_airspeed else tuple(dimensions)
        variable = file.createVariable(answer, "d", tall)
        variable[:] = whole.reshape(*designs.shape, *([-1] if whole.ndim == 2 else []))
        variable.units = quantity(answer).unit
    causes = np.concatenate([part.causes for part in parts])
    # a netCDF-3 file holds no integers of 64 bits
    for label, bits, about in (
            ("causes", causes & ((1 << FIRST_LIMIT) - 1), "bits of causes, named in manifest.json"),
            ("limits", causes >> FIRST_LIMIT, "bits of limits that say stop, named in "
             f"manifest.json, divided by 2^{FIRST_LIMIT}")):
        variable = file.createVariable(label, "i", (*dimensions, "airspeed"))
        variable[:] = bits.astype(np.int32).reshape(*designs.shape, -1)
        variable.long_name = about
