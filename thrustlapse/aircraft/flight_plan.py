"""What a flight is asked to be: launch, legs, when the pack counts as empty, what may get hot."""

from __future__ import annotations

from dataclasses import dataclass, field

from thrustlapse.aircraft.discharge import ThermalBody
from thrustlapse.aircraft.legs import Launch, Leg


@dataclass(frozen=True, kw_only=True)
class FlightPlan:
    """One launch and its legs, the same for every candidate.

    ``passing_speed`` [m/s] is the airspeed of which to say whether it is passed; the highest
    crossover on the airframe where None. ``motors`` are lumped thermal models of one motor by
    candidate, ``pack_heat`` that of the pack; what is left out does not warm.
    """

    launch: Launch
    legs: tuple[Leg, ...]
    least_state_of_charge: float = 0.0
    passing_speed: float | None = None
    motors: dict[str, ThermalBody] = field(default_factory=dict)
    pack_heat: ThermalBody | None = None
    told: tuple[str, ...] = ()
