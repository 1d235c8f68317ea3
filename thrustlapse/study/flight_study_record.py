"""What a comparison knows of the flight: one record per candidate, thinned for figures and files.

Frozen records in SI. NaN where there is no such number; the reasons stand beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.aircraft.sizing import Passing
from thrustlapse.arrays import Array


@dataclass(frozen=True, kw_only=True)
class Track:
    """A flight at its samples; every array of one length.

    ``leg`` is the place of the leg, 0 for the launch. ``thrust`` is net of all units [N],
    ``external_drag`` the candidate's own drag, ``drag`` the airframe's. ``books`` are the energies
    of :class:`~thrustlapse.aircraft.flight_record.FlightBooks` by name since the start [J].
    Temperatures [K] are NaN where nothing is said of how it warms.
    """

    time: Array
    leg: Array
    distance: Array
    height: Array
    airspeed: Array
    thrust: Array
    external_drag: Array
    drag: Array
    electrical_power: Array
    current: Array
    terminal_voltage: Array
    shaft_speed: Array
    state_of_charge: Array
    motor_temperature: Array
    pack_temperature: Array
    books: dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class FlownLeg:
    """One leg as flown, or why it was not: times [s], distance [m], energy from the pack [J].

    ``height`` and ``airspeed`` are those at its end [m above the site, m/s].
    """

    name: str
    completed: bool
    reason: str
    start: float
    end: float
    distance: float
    energy: float
    height: float
    airspeed: float


@dataclass(frozen=True, kw_only=True)
class FlownEvent:
    """Something that happened in a flight, and where: time [s], m above the site, m/s, charge [-].
    """

    time: float
    leg: int
    name: str
    text: str
    height: float
    airspeed: float
    state_of_charge: float


@dataclass(frozen=True, kw_only=True)
class Flown:
    """The flight of one candidate.

    ``near_top_time``, ``near_top_distance``, ``near_top_energy`` [s, m, J] from launch, level at
    full power, to 95 % of the top speed there; ``near_top_reason`` why not. ``books_miss`` is the
    largest relative error of the energy balance; ``thrust_error`` and ``current_error`` are the
    largest relative errors of the interpolated machine against the matched one.
    """

    mass: float
    completed: bool
    reason: str
    time: float
    distance: float
    energy: float
    state_of_charge: float
    top_speed: float
    near_top_time: float
    near_top_distance: float
    near_top_energy: float
    near_top_reason: str
    passing: Passing | None
    books_miss: float
    thrust_error: float
    current_error: float
    legs: tuple[FlownLeg, ...]
    events: tuple[FlownEvent, ...]
    track: Track


@dataclass(frozen=True, kw_only=True)
class FlightStudy:
    """Every candidate's flight over the same legs.

    ``not_flown`` says why of candidates without a flight. ``passing_speed`` [m/s] is what is to be
    passed, None where nothing is. ``conditions`` are sentences on how it was flown.
    """

    flights: dict[str, Flown]
    not_flown: dict[str, str]
    passing_speed: float | None
    conditions: tuple[str, ...]
