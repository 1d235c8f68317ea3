"""A freely sized design as a scenario file that gives the same machine again."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

import numpy as np
import tomlkit

from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.ideal import ideal_power_coefficient
from thrustlapse.propulsor.open_rotor import OpenRotor
from thrustlapse.rotor.batched_map import BatchedMap, BatchedTable
from thrustlapse.scenario.files.from_readings import with_defaults

LEFT_OUT = ("candidates", "search", "when", "flight", "uncertainty", "comparison")
"""Tables of the scenario that are about other machines, or about how to compute."""


def sized_text(tables: Mapping[str, Any], *, name: str, template: Mapping[str, Any],
               candidate: Candidate, unit_mass: float, power: float, title: str) -> str:
    """The scenario's site, pack and airframe with one design in place of its candidates.

    Parameters
    ----------
    tables : mapping
        The scenario's own file, with its includes put in
    name : str
        For the candidate
    template : mapping
        Table of the kind: what all its designs share
    candidate : Candidate
        One design, with fields of shape (1, 1)
    unit_mass, power : float
        [kg], [W]
    """
    whole = deepcopy(dict(tables))
    with_defaults(whole)  # what its candidates' readings let the file leave out
    document = {key: value for key, value in whole.items() if key not in LEFT_OUT}
    if "supply" in document:  # the design is wound for its voltage, which is thereby given
        document["supply"].pop("ideal", None)
    document["title"] = title
    unit = candidate.unit
    own = (_ducted(unit) if isinstance(unit, Ducted) else _open(unit))
    outside = candidate.installation
    table: dict[str, Any] = {**_plain(template), **own, "unit_mass": _unit(unit_mass, "kg")}
    if isinstance(unit, Ducted):  # what the free design leaves as it is in the kind's own
        table["rotor"] = {**_plain(template["rotor"]), **own["rotor"]}
        for part in ("inlet", "duct", "nozzle"):
            table[part] = {**{key: value for key, value in _plain(template[part]).items()
                              if not key.endswith(("diameter", "area", "length"))}, **own[part]}
    table["motor"] = _motor(unit.drive.motor)
    table["drive"] = {"power_limit": _unit(power, "W")}
    for key, limit, symbol in (
            ("speed_limit", _one(unit.drive.speed_limit), "rad/s"),
            ("supply_current_limit", _one(unit.drive.supply_current_limit), "A")):
        if np.isfinite(limit):
            table["drive"][key] = _unit(limit, symbol)
    table["installation"] = {
        "pod_drag_area": _unit(_one(outside.pod_drag_area), "m^2"),
        "base_area": _unit(_one(outside.base_area), "m^2"),
        "scrubbed_area": _unit(_one(outside.scrubbed_area), "m^2"),
        "frontal_area": _unit(_one(outside.frontal_area), "m^2")}
    document["candidates"] = {name: table}
    return tomlkit.dumps(document)


def _plain(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: dict(value) if isinstance(value, Mapping) else value
            for key, value in table.items()}


def _one(value: Any) -> float:
    return float(np.asarray(value).reshape(-1)[0])


def _unit(value: float, unit: str) -> str:
    return f"{value!r} {unit}"


def _motor(motor: Any) -> dict[str, Any]:
    assert isinstance(motor, ConstantsMotor)
    return {"model": "constants", "torque_constant": _unit(_one(motor.torque_constant), "N*m/A"),
            "resistance": _unit(_one(motor.resistance), "ohm"),
            "no_load_current": _unit(_one(motor.no_load_current), "A"), "no_load_speed": "0 rad/s",
            "no_load_current_slope": _unit(_one(motor.no_load_current_slope), "A*s/rad")}


def _ducted(unit: Ducted) -> dict[str, Any]:
    stage = unit.rotor.stage
    assert isinstance(stage, BatchedMap)
    row = int(np.asarray(stage.row).reshape(-1)[0])
    # a file's map ends where the air begins to drive the rotor: there a best design never is
    driven = stage.power_points[row] < 0.0
    known = int(np.argmax(driven)) if driven.any() else driven.size
    chart: dict[str, Any] = {
        "source": "points", "convention": "tip speed and diameter",
        "flow": stage.flow[row, :known].tolist(), "head": stage.head_points[row, :known].tolist(),
        "power": stage.power_points[row, :known].tolist(), "origin": stage.source}
    if stage.swirl_points is not None:
        chart["swirl"] = stage.swirl_points[row, :known].tolist()
    return {
        "map": chart,
        "inlet": {"throat_area": _unit(_one(unit.inlet.throat_area), "m^2"),
                  "ram_recovery": _one(unit.inlet.ram_recovery),
                  "loss_coefficient": _one(unit.inlet.loss_coefficient)},
        "rotor": _wheel(unit),
        "duct": {"area": _unit(_one(unit.duct.area), "m^2"),
                 "hydraulic_diameter": _unit(_one(unit.duct.hydraulic_diameter), "m"),
                 "length": _unit(_one(unit.duct.length), "m")},
        "nozzle": {"exit_area": _unit(_one(unit.nozzle.exit_area), "m^2")}}


def _wheel(unit: Ducted) -> dict[str, Any]:
    tip, eye = _one(unit.rotor.tip_diameter), _one(unit.rotor.eye_area)
    face = _one(unit.rotor.inducer_diameter)
    hub = float(np.sqrt(face**2 - 4.0 * eye / np.pi))
    found = {"tip_diameter": _unit(tip, "m"), "hub_diameter": _unit(hub, "m")}
    return found if face == tip else {**found, "eye_diameter": _unit(face, "m")}


def _open(unit: OpenRotor) -> dict[str, Any]:
    table = unit.table
    assert isinstance(table, BatchedTable)
    row = int(np.asarray(table.row).reshape(-1)[0])
    speeds = np.asarray(table.shaft_speed)[row]
    at = row * speeds.size + np.arange(speeds.size)[:, None]
    knots = table.thrust_curves.knots[at[:, 0]]
    thrust, power = table.thrust_curves(at, knots), table.power_curves(at, knots)
    # between computed tables a braking rotor may be given more than the air has: left out
    broken = (power < ideal_power_coefficient(
        advance_ratio=knots, thrust_coefficient=thrust, exit_area_ratio=0.0)).any(axis=0)
    end = int(np.argmax(broken)) if broken.any() else broken.size
    runs = [{"shaft_speed": _unit(float(speed), "rad/s"),
             "advance_ratio": knots[place, :end].tolist(),
             "thrust_coefficient": thrust[place, :end].tolist(),
             "power_coefficient": power[place, :end].tolist()}
            for place, speed in enumerate(speeds)]
    return {"diameter": _unit(_one(unit.diameter), "m"),
            "table": {"source": "runs", "runs": runs, "origin": table.source}}
