"""One machine laid open: its map, where its shaft power goes at every flow, and its scroll."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.axial.geometry import AxialFanGeometry
from thrustlapse.rotor.axial.stage import axial_stage
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry
from thrustlapse.rotor.centrifugal.scroll_sizing import (
    ScrollDesign,
    ScrollDuty,
    scroll_duty,
    size_scroll,
)
from thrustlapse.rotor.centrifugal.stage import CentrifugalStage, centrifugal_stage
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import Band, efficiency

BASE, USUAL_WIDTH = 1.05, 0.2
"""Where a scroll begins and its width, over the wheel's radius, where neither is known [-]; common
practice, no source."""

MAP_POINTS = 101
"""Flows at which a map that was not computed from dimensions is written out."""


@dataclass(frozen=True, kw_only=True)
class MachineStudy:
    """Map of one candidate's machine.

    For a ducted machine ``variable`` is the flow coefficient, ``output`` the head coefficient and
    ``cost`` the power coefficient; for a propeller they are advance ratio, CT and CP, at the
    shaft speed ``row_speed`` [rad/s] of each entry (NaN where a table knows none). ``shares`` are
    shares of the shaft power by name, and add up to 1; empty where only a map is known. ``stall``
    is the variable below which a ducted machine is on its stall side.
    """

    name: str
    kind: str
    variable: Array
    output: Array
    cost: Array
    efficiency: Array
    row_speed: Array | None
    shares: dict[str, Array]
    stall: float | None
    band: Band
    source: str
    scroll: ScrollDesign | None


def study_machine(candidate: Candidate, dimensions: Dimensions | None, *, air: Air,
                  section: str = "circular", schedule: str = "free vortex",
                  finish: str = "resin print") -> MachineStudy:
    """Lay a candidate's machine open.

    Parameters
    ----------
    candidate : Candidate
    dimensions : Dimensions or None
        Where its map was computed from dimensions: then losses are known, and of a centrifugal
        machine a scroll is laid out at its best flow
    air : Air
        In front of it
    section, schedule, finish : str
        Of the scroll, see :func:`thrustlapse.rotor.centrifugal.scroll_sizing.size_scroll`
    """
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return _propeller(candidate)
    pressure, temperature = float(np.asarray(air.pressure)), float(np.asarray(air.temperature))
    geometry = None if dimensions is None else dimensions.geometry
    if isinstance(geometry, CentrifugalGeometry):
        assert dimensions is not None
        assert dimensions.shaft_speed is not None
        stage = centrifugal_stage(geometry, shaft_speed=dimensions.shaft_speed,
                                  total_pressure=pressure, total_temperature=temperature)
        scroll = size_scroll(scroll_duty(stage), section=section, schedule=schedule,
                             finish=finish)
        return _centrifugal(candidate, stage, scroll)
    if isinstance(geometry, AxialFanGeometry):
        assert dimensions is not None
        assert dimensions.shaft_speed is not None
        return _axial(candidate, geometry, shaft_speed=dimensions.shaft_speed, pressure=pressure,
                      temperature=temperature)
    stage_map = unit.rotor.stage
    flow = np.linspace(float(np.asarray(stage_map.lowest_flow)),
                       float(np.asarray(stage_map.highest_flow)), MAP_POINTS)
    return MachineStudy(name=candidate.name, kind=candidate.kind, variable=flow,
                        output=stage_map.head(flow), cost=stage_map.power(flow),
                        efficiency=efficiency(stage_map, flow), row_speed=None, shares={},
                        stall=float(np.asarray(stage_map.stall_flow)), band=stage_map.band,
                        source=getattr(stage_map, "source", ""),
                        scroll=_scroll_of_work(candidate, section, schedule, finish))


def _scroll_of_work(candidate: Candidate, section: str, schedule: str,
                    finish: str) -> ScrollDesign | None:
    """A scroll for what a blower of a map alone does at rest; None for a fan or where it stalls.

    Flow and work of a matched point are enough: Euler's equation gives the angular momentum, with
    the little that the disc's friction takes counted as swirl.
    """
    point = operate(candidate, airspeed=0.0)
    if candidate.kind != "blower" or not bool(np.all(point.valid)):
        return None
    assert isinstance(candidate.unit, Ducted)
    tip = 0.5 * float(np.asarray(candidate.unit.rotor.tip_diameter))
    flow = float(point.mass_flow) / candidate.count
    work = float(point.shaft_power) / candidate.count / flow
    return size_scroll(ScrollDuty(
        volume_flow=flow / float(candidate.site.air().density), impeller_radius=tip,
        angular_momentum=work / float(point.shaft_speed), base_radius=BASE * tip,
        width=USUAL_WIDTH * tip), section=section, schedule=schedule, finish=finish)


def _centrifugal(candidate: Candidate, stage: CentrifugalStage,
                 scroll: ScrollDesign) -> MachineStudy:
    points = stage.points
    return MachineStudy(
        name=candidate.name, kind=candidate.kind, variable=points.flow, output=points.head,
        cost=points.power, efficiency=points.efficiency, row_speed=None,
        shares=stage.loss_shares(), stall=float(stage.stall_flow), band=stage.map.band,
        source=stage.map.source, scroll=scroll)


def _axial(candidate: Candidate, geometry: AxialFanGeometry, shaft_speed: float, pressure: float,
           temperature: float) -> MachineStudy:
    stage = axial_stage(geometry, shaft_speed=shaft_speed, total_pressure=pressure,
                        total_temperature=temperature)
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = {"head delivered": stage.head * stage.flow / stage.power}
        shares |= {name: np.asarray(term / stage.power) for name, term in stage.losses.items()}
    return MachineStudy(
        name=candidate.name, kind=candidate.kind, variable=stage.flow, output=stage.head,
        cost=stage.power, efficiency=stage.efficiency, row_speed=None, shares=shares,
        stall=float(stage.stall_flow), band=stage.band, source=stage.map.source, scroll=None)


def _propeller(candidate: Candidate) -> MachineStudy:
    assert not isinstance(candidate.unit, Ducted)
    table = candidate.unit.table
    assert isinstance(table, PropellerTable)
    rows, columns = table.thrust_points.shape
    advance = np.tile(table.advance_ratio, rows)
    thrust, power = table.thrust_points.ravel(), table.power_points.ravel()
    with np.errstate(invalid="ignore", divide="ignore"):
        good = np.where(power > 0.0, advance * thrust / power, np.nan)
    return MachineStudy(name=candidate.name, kind=candidate.kind, variable=advance, output=thrust,
                        cost=power, efficiency=good,
                        row_speed=np.repeat(table.shaft_speed, columns), shares={}, stall=None,
                        band=table.band, source=table.source, scroll=None)
