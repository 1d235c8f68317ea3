"""Where limits are held: the curve over airspeed, the point at rest, and the flight as flown."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.power.pack import Pack, open_circuit_voltage
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.comparison import CandidateResult, Comparison


@dataclass(frozen=True, kw_only=True)
class States:
    """Everything one candidate goes through, end to end: SI, one-dimensional, finite or NaN.

    ``current`` is of all units at the pack, ``sag`` terminal over resting voltage, at the charge of
    the moment. ``flown`` is True where the last of shaft speed, current and sag come from a flight,
    which keeps no motor current and no temperature of the air.
    """

    name: str
    shaft_speed: Array
    current: Array
    motor_current: Array
    sag: Array
    exit_temperature: Array
    flown: bool


def states_of(comparison: Comparison, result: CandidateResult, candidate: Candidate,
              pack: Pack | None) -> States:
    """States of one candidate of a comparison; ``pack`` is what its flight was flown on."""
    points = (result.curve, result.at_rest)
    flight = None if comparison.flights is None else comparison.flights.flights.get(result.name)

    def joined(name: str, *more: Array) -> Array:
        return np.concatenate([*(np.ravel(getattr(point, name)) for point in points), *more])

    volts = candidate.unit.supply.voltage
    speeds: tuple[Array, ...] = ()
    currents: tuple[Array, ...] = ()
    sags: tuple[Array, ...] = ()
    if flight is not None and pack is not None:
        track = flight.track
        resting = open_circuit_voltage(replace(pack, state_of_charge=track.state_of_charge))
        speeds, currents = (track.shaft_speed,), (track.current,)
        sags = (track.terminal_voltage / resting,)
    return States(
        name=result.name, shaft_speed=joined("shaft_speed", *speeds),
        current=joined("current", *currents), motor_current=joined("motor_current"),
        sag=np.concatenate([*(np.ravel(point.terminal_voltage / volts) for point in points),
                            *sags]),
        exit_temperature=joined("exit_temperature"), flown=bool(sags))


def largest(*arrays: Array) -> float:
    """Largest finite element; NaN where there is none."""
    values = np.concatenate([np.ravel(array) for array in arrays])
    values = values[np.isfinite(values)]
    return float(values.max()) if values.size else float("nan")


def smallest(*arrays: Array) -> float:
    """Smallest finite element; NaN where there is none."""
    return -largest(*(-array for array in arrays))
