"""Tables of a propeller's thrust and power coefficients: one curve, or runs at several speeds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array
from thrustlapse.propulsor.ideal import ideal_power_coefficient
from thrustlapse.rotor.propeller.table import PropellerTable, table_from_runs
from thrustlapse.rotor.stage_map import Band
from thrustlapse.scenario.fields import Quantity, Series
from thrustlapse.scenario.schema.map import BandSection, Diameter, Numbers, Origin, rising
from thrustlapse.scenario.schema.map_scales import TableFactors
from thrustlapse.scenario.section import Problem, Section
from thrustlapse.scenario.units import RPM, shown

Advance = Annotated[Numbers, Series(Quantity("ratio", 0.0, 10.0))]
ThrustCoefficients = Annotated[Numbers, Series(Quantity("ratio", -5.0, 5.0))]
PowerCoefficients = Annotated[Numbers, Series(Quantity("ratio", -5.0, 20.0))]


class _CurvesSection(Section):
    advance_ratio: Advance = Field(description="J = V / (n D), rising")
    thrust_coefficient: ThrustCoefficients = Field(description="CT = T / (rho n^2 D^4)")
    power_coefficient: PowerCoefficients = Field(description="CP = P / (rho n^3 D^5)")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        for key in ("thrust_coefficient", "power_coefficient"):
            values = getattr(self, key)
            if len(values) != len(self.advance_ratio) and np.all(np.isfinite(values)):
                yield Problem(path=(key,), problem=f"{len(values)} entries beside "
                              f"{len(self.advance_ratio)} advance ratios",
                              accepted="as many as there are advance ratios")
        yield from rising("advance_ratio", self.advance_ratio)

    def curves(self) -> tuple[Array, Array, Array]:
        """Advance ratio, CT and CP [-]."""
        return (np.array(self.advance_ratio), np.array(self.thrust_coefficient),
                np.array(self.power_coefficient))


def _check_bound(curves: _CurvesSection, exit_area_ratio: float,
                 path: tuple[str | int, ...]) -> Iterator[Problem]:
    sizes = {len(curves.advance_ratio), len(curves.thrust_coefficient),
             len(curves.power_coefficient)}
    if len(sizes) > 1:
        return
    j, ct, cp = curves.curves()
    least = ideal_power_coefficient(advance_ratio=j, thrust_coefficient=ct,
                                    exit_area_ratio=exit_area_ratio)
    broken = np.flatnonzero(cp < least * 0.995)
    if broken.size:
        at = int(broken[0])
        yield Problem(path=(*path, "power_coefficient"), problem="less power than momentum theory "
                      f"allows: entry {at + 1} is {cp[at]:g}, the bound {least[at]:.4g}: the "
                      "efficiency would exceed one", accepted="CP at or above that bound",
                      hint="is n in revolutions per second, and CP not CQ?")


class PointsTableSection(_CurvesSection, TableFactors):
    """One curve of thrust and power coefficient."""

    source: Literal["points"]
    shaft_speed: Annotated[float, Quantity("shaft speed", 10.0 * RPM, 3e5 * RPM)] | None = Field(
        None, description="Shaft speed of the measurement, for the record")
    measured_diameter: Diameter | None = Field(
        None, description="Diameter of the propeller measured, where it is another")
    band: BandSection = Field(BandSection(), description="How far the table may be trusted")
    origin: Origin = Field("", description="Where the numbers come from")

    def check_table(self, *, diameter: float,  # noqa: ARG002 - coefficients know no size
                    exit_area_ratio: float) -> Iterator[Problem]:
        """Faults against momentum theory; paths count from the candidate."""
        yield from _check_bound(self, exit_area_ratio, ("table",))

    def finished(self, *, diameter: float,
                 air: Air) -> tuple[PropellerTable, tuple[str, ...]]:  # noqa: ARG002
        """The table on a propeller of a diameter [m], and what had to be assumed."""
        return _finished(self, self.table(), diameter)

    def table(self) -> PropellerTable:
        """The table, without its band."""
        advance, thrust, power = self.curves()
        speed = np.array([np.nan if self.shaft_speed is None else self.shaft_speed])
        return PropellerTable(advance_ratio=advance, shaft_speed=speed,
                              thrust_points=thrust[None, :], power_points=power[None, :],
                              source=self.origin)


class RunSection(_CurvesSection):
    """A run at one shaft speed."""

    shaft_speed: Annotated[float, Quantity("shaft speed", 10.0 * RPM, 3e5 * RPM)] = Field(
        description="Shaft speed of the run")


class RunsTableSection(TableFactors):
    """Runs at several shaft speeds, each with advance ratios of its own."""

    source: Literal["runs"]
    runs: tuple[RunSection, ...] = Field(min_length=1, description="The runs")
    measured_diameter: Diameter | None = Field(
        None, description="Diameter of the propeller measured, where it is another")
    band: BandSection = Field(BandSection(), description="How far the table may be trusted")
    origin: Origin = Field("", description="Where the numbers come from")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        speeds = [run.shaft_speed for run in self.runs]
        if len(set(speeds)) < len(speeds) and np.all(np.isfinite(speeds)):
            yield Problem(path=("runs",), problem="two runs at the same shaft speed",
                          accepted="one run for each shaft speed: average them")
            return
        parts = [np.array(speeds), *(part for run in self.runs for part in run.curves())]
        if any(list(run.check()) for run in self.runs) or not all(
                bool(np.all(np.isfinite(part))) for part in parts):
            return
        try:
            self.table()
        except ValueError as error:
            yield Problem(path=("runs",), problem=str(error),
                          accepted="runs that overlap in advance ratio")

    def check_table(self, *, diameter: float,  # noqa: ARG002 - coefficients know no size
                    exit_area_ratio: float) -> Iterator[Problem]:
        """Faults against momentum theory; paths count from the candidate."""
        for index, run in enumerate(self.runs):
            yield from _check_bound(run, exit_area_ratio, ("table", "runs", index))

    def finished(self, *, diameter: float,
                 air: Air) -> tuple[PropellerTable, tuple[str, ...]]:  # noqa: ARG002
        """The table on a propeller of a diameter [m], and what had to be assumed."""
        return _finished(self, self.table(), diameter)

    def table(self) -> PropellerTable:
        """The table, without its band."""
        return table_from_runs({run.shaft_speed: run.curves() for run in self.runs},
                               source=self.origin)


def _finished(section: PointsTableSection | RunsTableSection, table: PropellerTable,
              diameter: float) -> tuple[PropellerTable, tuple[str, ...]]:
    band = Band(flow=section.band.flow, head=section.band.head, power=section.band.power,
                basis=section.band.basis)
    size = section.measured_diameter
    if size is None or np.all(np.abs(diameter / size - 1.0) < 0.01):
        return replace(table, band=band), ()
    # rows belong to the Reynolds number of the measurement, which goes with n D^2; where sizes are
    # drawn, their middle stands for all: rows lie far apart against any spread of a diameter
    speeds = table.shaft_speed * float(np.median(size / diameter)) ** 2
    return replace(table, band=band, shaft_speed=speeds), (
        f"coefficients carried from a diameter of {shown(size, 'length')} to "
        f"{shown(diameter, 'length')} at equal advance ratio"
        + (", and at equal Reynolds number: shaft speeds with the inverse square of the diameter"
           if table.shaft_speed.size > 1 else ", without a Reynolds correction: small blades lose "
           "efficiency that this does not know of"),)


NumbersTable = PointsTableSection | RunsTableSection
"""Sources of a propeller's table that need no dimensions; a new one is one class and its name."""
