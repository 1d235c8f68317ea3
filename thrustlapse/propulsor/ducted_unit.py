"""A ducted machine as parts, and the air it meets; what becomes of them is worked out elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from thrustlapse.arrays import Values
from thrustlapse.power.drive import Drive, Held, held_speeds
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.rotor.stage_map import StageMap


@dataclass(frozen=True, kw_only=True)
class Rotor:
    """Turning part of one unit: its map, tip diameter [m] and eye area [m^2].

    ``inducer_diameter`` [m] is that of the blade tips where the air meets them: the eye's of a
    centrifugal wheel, the tip's of an axial one; None where it is not known.
    """

    stage: StageMap
    tip_diameter: Values
    eye_area: Values
    inducer_diameter: Values | None = None


@dataclass(frozen=True, kw_only=True)
class Ducted:
    """One ducted unit, blower or axial fan alike, on its share of the supply."""

    inlet: Inlet
    rotor: Rotor
    duct: Duct
    nozzle: Nozzle
    drive: Drive
    supply: Supply

    @cached_property
    def held(self) -> Held | None:
        """What no load changes of its drive's speeds: a solver asks for them again and again."""
        return held_speeds(self.drive, self.supply)


@dataclass(frozen=True, kw_only=True)
class FreeStream:
    """Undisturbed air as the machine meets it: Pa, K, m/s."""

    pressure: Values
    temperature: Values
    total_pressure: Values
    total_temperature: Values
    airspeed: Values
