"""What one more reading of a machine known by readings would buy, from the draws already made.

In every draw the machine shows what a person would read of it. The thrust at an airspeed is
regressed on that, read with the instrument's usual error, by a parabola: what is left of its
scatter is what would stay open.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.register import REGISTER
from thrustlapse.study.sampling import Drawable
from thrustlapse.study.uncertainty_results import MoreReading

SECOND = 0.85
"""Second exit over the first, in diameter: next to as narrow as still blows well."""

NOT_READ = ("full_voltage", "drive_efficiency")
"""Keys of a table of readings that are drawn and are no readings."""

FEWEST = 64
"""Draws with a value from which on a regression is told of."""


def more_readings(name: str, candidate: Candidate, inputs: Sequence[Drawable], *, thrust: Array,
                  airspeed: float, seed: int) -> tuple[MoreReading, ...]:
    """Readings that are still open of a candidate, the one that tells most first.

    Parameters
    ----------
    candidate : Candidate
        With the draws in it, (draws, 1)
    thrust : array
        Installed thrust at an airspeed [N], (draws,); NaN where a draw has none
    airspeed : float
        That airspeed [m/s]
    seed : int
        Of the instruments' errors

    Returns
    -------
    tuple
        Empty for a machine that is not known by readings, or that a bench was fitted to
    """
    start = f"candidates.{name}.readings."
    keys = {one.spread.key.removeprefix(start) for one in inputs
            if one.spread.key.startswith(start) and name in one.owners}
    if "thrust" not in keys or candidate.fit is not None:
        return ()
    random = np.random.default_rng(seed)
    found = []
    for words, value, error in _shown(candidate, keys):
        read = np.broadcast_to(value, (thrust.size, 1))[:, 0] * np.exp(
            error * random.standard_normal(thrust.size))
        known = np.isfinite(thrust) & np.isfinite(read)
        if np.count_nonzero(known) < FEWEST or np.ptp(read[known]) == 0.0:
            continue
        answer, reading = thrust[known], read[known]
        centred = (reading - reading.mean()) / reading.std()
        columns = np.vander(centred, 3)[:, (2, 1) if np.unique(reading).size == 2 else (2, 1, 0)]
        left = answer - columns @ np.linalg.lstsq(columns, answer, rcond=None)[0]
        scale = abs(float(answer.mean()))
        found.append(MoreReading(
            candidate=name, count=len(keys - {*NOT_READ}), reading=words, airspeed=airspeed,
            deviation=float(answer.std()) / scale,
            left=float(np.sqrt(np.sum(left**2) / (left.size - columns.shape[1]))) / scale))
    return tuple(sorted(found, key=lambda one: one.left))


def _shown(candidate: Candidate, keys: set[str]) -> Iterator[tuple[str, Array, float]]:
    """What could still be read, in words, its value in every draw, and its relative error."""
    unit, known = candidate.unit, candidate.known_by
    if "shaft_speed" not in keys:
        yield ("the shaft speed", operate(candidate, airspeed=np.zeros(1)).shaft_speed,
               REGISTER["speed reading"].spread.deviation)
    if known is None or not isinstance(unit, Ducted):
        return
    if "full_voltage" in keys:
        yield "what holds the watts, full voltage or a cap", np.asarray(known.full) + 1.0, 0.0
    if "shut_pressure" not in keys:
        air = candidate.site.air()
        shut = operate_blocked(unit, pressure=air.pressure, temperature=air.temperature,
                               inlet=np.array(True))
        yield ("the suction behind the shut inlet", shut.suction,
               REGISTER["suction reading"].spread.deviation)
    if "second_thrust" not in keys:
        narrow = replace(unit, nozzle=replace(unit.nozzle, exit_area=SECOND**2 * np.asarray(
            known.exit_area)))
        other = operate(replace(candidate, unit=narrow), airspeed=np.zeros(1))
        yield (f"the thrust by an exit {100.0 * (1.0 - SECOND):.0f} % narrower", other.net_thrust,
               REGISTER["thrust reading"].spread.deviation)
    if np.ndim(unit.inlet.throat_area):
        yield ("the inlet's throat, with a ruler", np.asarray(unit.inlet.throat_area),
               2.0 * REGISTER["exit ruler"].spread.deviation)
