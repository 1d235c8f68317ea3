"""A fitted candidate as a file of its own, which a scenario includes."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.bench_fit import CONTRACTION, FALL_FORM, FLOW_FORM
from thrustlapse.propulsor.nozzle import widest_discharge
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import ScenarioError, printable
from thrustlapse.scenario.files.from_readings import with_defaults
from thrustlapse.scenario.files.lines import key_lines
from thrustlapse.scenario.files.read import expanded_tables, read_tables
from thrustlapse.scenario.files.validate import validated
from thrustlapse.scenario.schema.fit import FORM_NAMES
from thrustlapse.scenario.schema.readings import FULL_VOLTAGE, POWER_CAP
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import describe
from thrustlapse.scenario.units import KINDS

REPLACED = {"motor.torque_constant": ("motor.speed_constant",),
            "motor.no_load_current": ("motor.no_load_speed",)}
"""Keys that go when another takes over what they say."""


def bench_start(raw: Mapping[str, Any], name: str, *, volts: Array) -> dict[str, Any]:
    """Tables of a scenario for a bench fit of a candidate.

    One that is known by readings keeps of them what a fit starts from, thrust, watts and exit, and
    has the usual one of the ``volts`` of its bench [V], where it read any.
    """
    made = copy.deepcopy(dict(raw))
    read = made["candidates"][name].get("readings")
    if isinstance(read, dict) and "exit_diameter" in read:
        made["candidates"][name].pop("fit", None)
        for key in set(read) - START:
            del read[key]
        for key in ("thrust", "electrical_power"):  # their spread is the bench's now
            read[key] = re.split("[±,]|[.][.]", read[key])[0].strip() if isinstance(
                read[key], str) else read[key]
        if np.isfinite(volts).any():
            read["voltage"] = f"{np.nanmedian(volts):.5g} V"
    return made


START = {"thrust", "electrical_power", "exit_diameter", "voltage", "supply", "full_voltage",
         "unit_mass"}
"""Readings that a bench fit starts from; the bench says the others anew."""


def on_the_bench(scenario: Scenario, name: str, *, volts: Array) -> Scenario:
    """The scenario from which a bench fit of a candidate starts, see :func:`bench_start`."""
    if scenario.candidates[name].known_by is None:
        return scenario
    return read_tables(bench_start(expanded_tables(scenario.path), name, volts=volts), scenario)


def _say_what_held_the_watts(read: dict[str, Any], full: bool | None) -> None:
    """Full voltage or a cap, where the bench knows it and the file does not say."""
    if full is None or {"supply", "full_voltage"} & set(read):
        return
    if not full or "voltage" in read:
        read["supply"] = FULL_VOLTAGE if full else POWER_CAP
    else:
        read["full_voltage"] = 1.0  # of a voltage nobody gave


def fitted_text(raw: Mapping[str, Any] | Path, name: str, *, volts: Array,
                values: Mapping[str, float],
                covariance: Array, bench: str, held: Mapping[str, float] | None = None,
                velocity_coefficient: float = 1.0, full: bool | None = None,
                remarks: Sequence[str] = ()) -> str:
    """Text of a candidate's file with its fitted values and their covariance.

    Parameters
    ----------
    raw : mapping or path
        The scenario that describes the candidate, its tables or its file
    volts : array
        Voltages of the bench [V]
    name : str
        The candidate
    values : mapping
        Fitted values in SI by dotted key, in the order of ``covariance``
    bench : str
        What they were fitted to
    held : mapping, optional
        Assumed values in SI by dotted key that the fit rests on and that follow from fitted ones:
        written as anything from nothing to twice as much, so that the file means what was fitted
    velocity_coefficient : float
        The nozzle's, where it was not fitted
    full : bool, optional
        Whether full voltage held the watts of a machine known by readings, where that is known
    remarks : sequence of str
        Lines of comment for the head of the file

    Raises
    ------
    ScenarioError
        Where the fitted values do not make a candidate that a scenario may have.
    """
    whole = bench_start(expanded_tables(raw) if isinstance(raw, Path) else raw, name, volts=volts)
    with_defaults(whole)
    table: dict[str, Any] = copy.deepcopy(whole["candidates"][name])
    table.pop("fit", None)
    units = _units()
    if "readings" in table:
        _with_units(table, (), units)
        _say_what_held_the_watts(table["readings"], full)
    for dotted, value in values.items():
        if dotted in FORM_NAMES:
            continue
        if dotted == CONTRACTION:
            velocity = values.get("nozzle.velocity_coefficient", velocity_coefficient)
            dotted, value = "nozzle.discharge_coefficient", value * float(widest_discharge(
                velocity_coefficient=velocity))
        _put(table, dotted, _written(value, units[dotted]))
        for gone in REPLACED.get(dotted, ()):
            home, _, key = gone.rpartition(".")
            table[home].pop(key, None)
    for dotted, value in (held or {}).items():
        if dotted not in values:
            _put(table, dotted, f"0 .. {2.0 * value:.8g} {units[dotted]}")
    spread = np.sqrt(np.diag(covariance))
    rounded = (covariance + covariance.T) / 2.0
    table["fit"] = {"bench": bench, "unknowns": list(values),
                    "covariance": [[float(f"{entry:.8g}") for entry in row] for row in rounded],
                    **_forms(values)}
    text = tables_text(table, [*map(printable, remarks), *(
        f"{dotted}: {value:.5g} ± {deviation:.2g} {units.get(dotted, '')}".rstrip()
        for (dotted, value), deviation in zip(values.items(), spread, strict=True))])
    alone = {**whole, "candidates": {name: tomllib.loads(text)}}
    alone.pop("comparison", None)
    _, faults = validated(alone, file="the fitted candidate", lines=key_lines(text))
    if faults:
        raise ScenarioError(faults)
    return text


def _forms(values: Mapping[str, float]) -> dict[str, Any]:
    """What a fit found of the form of a map, as its table has it."""
    forms: dict[str, Any] = {}
    for dotted, value in values.items():
        form = dotted.split(".")[1]
        if dotted in (FLOW_FORM, FALL_FORM):
            forms[form] = float(f"{value:.8g}")
        elif dotted in FORM_NAMES:
            forms.setdefault(form, []).append(float(f"{value:.8g}"))
    return forms


def _units() -> dict[str, str]:
    """SI unit by dotted key of a candidate; empty for ratios."""
    found = {}
    for key in describe(ScenarioSection):
        if key.path[0] == "candidates" and key.kind:
            found[".".join(key.path[2:])] = KINDS[key.kind].unit
    return found


def _written(value: float, unit: str) -> Any:
    return f"{value:.8g} {unit}" if unit else float(f"{value:.8g}")


def _with_units(table: dict[str, Any], path: tuple[str, ...], units: Mapping[str, str]) -> None:
    """Give plain numbers of quantities, which defaults are, their units."""
    for key, value in table.items():
        dotted = ".".join((*path, key))
        if isinstance(value, dict):
            _with_units(value, (*path, key), units)
        elif isinstance(value, int | float) and not isinstance(value, bool) and units.get(dotted):
            table[key] = f"{value:.8g} {units[dotted]}"


def _put(table: dict[str, Any], dotted: str, value: Any) -> None:
    *homes, key = dotted.split(".")
    for home in homes:
        table = table.setdefault(home, {})
    table[key] = value


def tables_text(table: Mapping[str, Any], remarks: Sequence[str] = ()) -> str:
    """Text of a candidate's tables, behind lines of comment."""
    import tomlkit

    document = tomlkit.document()
    for line in remarks:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    for key, value in sorted(table.items(), key=lambda item: isinstance(item[1], dict)):
        document[key] = value
    return tomlkit.dumps(document)

