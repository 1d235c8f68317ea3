"""What is asked of an aircraft beside its polar: where its drag comes from, and how it is flown."""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.aircraft.drag_basis import DragBasis


@dataclass(frozen=True, kw_only=True)
class Rolling:
    """A take-off run: friction [-], lift coefficient of the roll [-], share of the induced drag
    that is left near the ground [-]."""

    friction: float
    lift_coefficient: float
    induced_share: float


@dataclass(frozen=True, kw_only=True)
class AircraftUse:
    """What is known and asked of an aircraft.

    ``source_mass`` [kg] is the pack's, which does not grow with the number of units.
    ``cruise_speeds`` [m/s] and ``altitudes`` [m above mean sea level] at which performance is also
    worked out; ``cut_off_voltage`` of one cell under load at which flying stops [V];
    ``rolling`` None for aircraft that do not roll.
    """

    drag_basis: DragBasis
    source_mass: float
    cruise_speeds: tuple[float, ...] = ()
    altitudes: tuple[float, ...] = ()
    cut_off_voltage: float | None = None
    rolling: Rolling | None = None
