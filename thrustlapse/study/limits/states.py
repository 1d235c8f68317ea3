"""Where limits are held: the curve over airspeed, the point at rest, and the flight as flown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.study.comparison import CandidateResult, Comparison


@dataclass(frozen=True, kw_only=True)
class States:
    """Everything one candidate goes through, end to end: SI, one-dimensional, finite or NaN.

    ``current`` and ``power`` are of all units at the pack, ``sag`` terminal over resting voltage.
    ``flown`` is True where the last of them come from a flight.
    """

    name: str
    shaft_speed: Array
    current: Array
    motor_current: Array
    power: Array
    sag: Array
    exit_temperature: Array
    flown: bool


def states_of(comparison: Comparison, result: CandidateResult, candidate: Candidate) -> States:
    """States of one candidate of a comparison."""
    points = (result.curve, result.at_rest)
    flight = None if comparison.flights is None else comparison.flights.flights.get(result.name)

    def joined(name: str, *more: Array) -> Array:
        return np.concatenate([*(np.ravel(getattr(point, name)) for point in points), *more])

    volts = candidate.unit.supply.voltage
    track = None if flight is None else flight.track
    return States(
        name=result.name,
        shaft_speed=joined("shaft_speed", *([] if track is None else [track.shaft_speed])),
        current=joined("current", *([] if track is None else [track.current])),
        motor_current=joined("motor_current"),
        power=joined("electrical_power", *([] if track is None else [track.electrical_power])),
        sag=np.concatenate([*(np.ravel(point.terminal_voltage / volts) for point in points),
                            *([] if track is None else [track.terminal_voltage
                                                        / float(np.max(volts))])]),
        exit_temperature=joined("exit_temperature"), flown=flight is not None)


def largest(*arrays: Array) -> float:
    """Largest finite element; NaN where there is none."""
    values = np.concatenate([np.ravel(array) for array in arrays])
    values = values[np.isfinite(values)]
    return float(values.max()) if values.size else float("nan")


def smallest(*arrays: Array) -> float:
    """Smallest finite element; NaN where there is none."""
    return -largest(*(-array for array in arrays))
