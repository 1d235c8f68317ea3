"""What a comparison knows of the aircraft: its drag by part, and the performance of each candidate.

Frozen records in SI. NaN where there is no such number; the reasons stand beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.arrays import Array


@dataclass(frozen=True, kw_only=True)
class PartShare:
    """One part's parasite drag, with the bounds of its drag area [m^2].

    ``friction`` on ``wetted_area`` [m^2] at ``reynolds``, times ``form_factor`` and
    ``interference``; or ``coefficient`` on ``frontal_area`` [m^2]. NaN for the other kind.
    """

    name: str
    kind: str
    drag_area: float
    drag_area_low: float
    drag_area_high: float
    wetted_area: float
    reynolds: float
    friction: float
    form_factor: float
    interference: float
    frontal_area: float
    coefficient: float


@dataclass(frozen=True, kw_only=True)
class DragSource:
    """The airframe's polar and what it rests on.

    ``parts`` only of a build-up, worked out at ``reference_speed`` [m/s]; the whole at the fastest
    candidate's top speed is ``drag_area_at_top`` [m^2]. The bounds are the build-up's band, or one
    standard deviation to each side.
    """

    source: str
    drag_area: float
    drag_area_low: float
    drag_area_high: float
    drag_area_at_top: float
    minimum_drag_coefficient: float
    drag_deviation: float
    induced_factor: float
    induced_deviation: float
    lift_of_least_drag: float
    span_efficiency: float
    reference_speed: float
    scatter: float
    separable: bool
    parts: tuple[PartShare, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Cruise:
    """Level flight at an airspeed [m/s] until the pack counts as empty.

    Electrical power at the start [W], endurance [s], distance [m] and the state of charge left at
    the end [-]; ``ending`` says why it ends, or why it cannot be flown.
    """

    airspeed: float
    electrical_power: float
    endurance: float
    distance: float
    state_of_charge: float
    ending: str


@dataclass(frozen=True, kw_only=True)
class Performance:
    """Level and climbing flight of the aircraft with one candidate, at its own mass.

    ``slowest_top_speed`` and ``fastest_top_speed`` are the level top speeds with the most and the
    least drag area that the airframe may have; NaN where no bounds are known.

    Speeds in m/s, rates in m/s, angles in rad, altitudes in m above mean sea level. ``climb_rate``
    over ``airspeed`` at full power at the site; ``altitudes`` with the level top speed and best
    rate of climb there. ``pack_ceiling`` is where the pack's charge is gone on the way up, if
    thrust did not fade with it. ``units_needed`` to fly level from the launch, None where no number
    up to ``most_units`` does. ``longest`` and ``farthest`` are None without a pack.
    """

    total_mass: float
    slowest_top_speed: float
    fastest_top_speed: float
    airspeed: Array
    climb_rate: Array
    best_climb_rate: float
    best_climb_speed: float
    steepest_angle: float
    steepest_climb_speed: float
    climb_reason: str
    absolute_ceiling: float
    service_ceiling: float
    service_rate: float
    ceiling_reason: str
    pack_ceiling: float
    altitudes: Array
    top_speed_there: Array
    climb_rate_there: Array
    best_glide_ratio: float
    best_glide_speed: float
    least_sink: float
    least_sink_speed: float
    least_thrust: float
    least_thrust_speed: float
    least_power: float
    least_power_speed: float
    launch_speed_needed: float
    units_needed: int | None
    most_units: int
    take_off_run: float
    lift_off_speed: float
    longest: Cruise | None
    farthest: Cruise | None
    cruises: tuple[Cruise, ...]


@dataclass(frozen=True, kw_only=True)
class AircraftStudy:
    """The aircraft of a comparison: where its drag comes from, and each candidate's performance."""

    drag_source: DragSource
    rolls: bool
    cut_off_voltage: float
    performances: dict[str, Performance]
