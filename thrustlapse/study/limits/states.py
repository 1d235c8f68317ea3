"""What limits are held against: all points of a candidate, shut too, and its flight where flown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.power.pack import Pack, open_circuit_voltage
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.blocked import Blocked, operate_blocked
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.study.comparison import CandidateResult, Comparison

SHUT = np.array([True, False])
"""Inlet shut, then outlet shut: the order of the last axis of :attr:`States.shut`."""


@dataclass(frozen=True, kw_only=True)
class States:
    """Everything that a candidate, or each of many cases of it, goes through.

    ``points`` are operating points of shape (element,) or (case, element): the curve, rest, top
    speed. ``rest`` is the one at rest, ``flown`` holds shaft speed, current and sag along a flight.
    ``within`` says which elements of the first of ``points`` count, where not all do.
    ``airframe``, ``total_mass`` [kg] and ``top_speed`` [m/s] where there is an airframe.
    """

    candidate: Candidate
    air: Air
    points: tuple[OperatingPoint, ...]
    rest: OperatingPoint
    pack_current_rating: Values | None = None
    wiring: Wiring | None = None
    pack: Pack | None = None
    dimensions: Dimensions | None = None
    airframe: Airframe | None = None
    total_mass: Values = float("nan")
    top_speed: Values = float("nan")
    flown: Mapping[str, Array] = field(default_factory=dict)
    within: BoolArray | None = None

    def each(self, name: str) -> Array:
        """A quantity of every operating point, and of the flight, end to end, (case, element)."""
        return self.of(lambda point: np.asarray(getattr(point, name)), name)

    def of(self, quantity: Callable[[OperatingPoint], Array], flown: str = "") -> Array:
        """Something worked out of every operating point, end to end, (case, element)."""
        parts = [np.atleast_1d(quantity(point)) for point in self.points]
        if self.within is not None:
            parts[0] = np.where(self.within, parts[0], np.nan)
        if flown in self.flown:
            parts.append(self.flown[flown])
        if len(parts) == 1:
            return parts[0]
        cases = np.broadcast_shapes(*(part.shape[:-1] for part in parts))
        return np.concatenate([np.broadcast_to(part, (*cases, part.shape[-1]))
                               for part in parts], axis=-1)

    @cached_property
    def shut(self) -> Blocked | None:
        """The machine with its inlet and with its outlet shut, (case, 2); None for open rotors."""
        unit = self.candidate.unit
        if not isinstance(unit, Ducted):
            return None
        return operate_blocked(unit, pressure=self.air.pressure, temperature=self.air.temperature,
                               inlet=SHUT)

    def rating(self, key: str) -> Values | None:
        """A rating of the table ``[wiring]``; None where it is not given."""
        return None if self.wiring is None else self.wiring.ratings.get(key)


def states_of(comparison: Comparison, result: CandidateResult, candidate: Candidate, *,
              pack: Pack | None = None, pack_current_rating: float | None = None,
              wiring: Wiring | None = None, dimensions: Dimensions | None = None,
              airframe: Airframe | None = None) -> States:
    """States of one candidate of a comparison; ``pack`` is what its flight was flown on."""
    points = [result.curve, result.at_rest]
    if result.at_top is not None:
        points.append(result.at_top)
    flight = None if comparison.flights is None else comparison.flights.flights.get(result.name)
    flown: dict[str, Array] = {}
    if flight is not None and pack is not None:
        track = flight.track
        resting = open_circuit_voltage(replace(pack, state_of_charge=track.state_of_charge))
        flown = {"shaft_speed": track.shaft_speed, "current": track.current,
                 "sag": track.terminal_voltage / resting}
    mass = (float("nan") if comparison.airframe_mass is None
            else comparison.airframe_mass + result.installed_mass)
    return States(
        candidate=candidate, air=candidate.site.air(), points=tuple(points), rest=result.at_rest,
        pack_current_rating=pack_current_rating, wiring=wiring, pack=pack, dimensions=dimensions,
        airframe=airframe, total_mass=mass, flown=flown,
        top_speed=float("nan") if result.level is None else result.level.top_speed)
