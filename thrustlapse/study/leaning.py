"""Where the middle of the draws is not the thrust without them, and what makes it so.

Every input's nominal value is its median. An error one way that costs more than it gains the other
way moves the mean of the thrust, and the more inputs there are, the nearer their middle is to it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.study.sampling import SCRAMBLES
from thrustlapse.study.sensitivity import leans
from thrustlapse.study.uncertainty_results import Leaning

LEANING = 0.01
"""Share of the value without draws by which the middle of the draws must differ to be told of."""

LEAST_THRUST = 0.2
"""Share of the thrust at rest down to which shares of the thrust are told, by judgement, where no
top speed ends the flight: next to no thrust a share says nothing [-]."""

ROUND_OFF = 1e-10
"""Share of the thrust up to which a lean is what is left of a balance, by its place in a batch, and
no cause [-]."""


def leaning(drawn: Array, ends: Array, names: Sequence[str], *, airspeed: Array,
            top_speed: float) -> Leaning | None:
    """What the draws of a candidate's thrust have in their middle; None without thrust at rest.

    Parameters
    ----------
    drawn : array, (k, n)
        Thrust in all draws, scramble after scramble [N]
    ends : array, (1 + inputs, ends, n)
        Without draws, and with one input of ``names`` off at a time [N]; NaN where none is
    airspeed : array, (n,)
        From rest [m/s]
    top_speed : float
        Without draws, up to which the thrust is looked at; NaN where there is none [m/s]
    """
    nominal = ends[0, 0]
    to_top = airspeed <= top_speed if np.isfinite(top_speed) else nominal > (
        LEAST_THRUST * nominal[0])
    told = np.flatnonzero((nominal > 0.0) & to_top & np.isfinite(drawn).any(axis=0))
    if not told.size:
        return None
    away = np.nanmedian(drawn[:, told], axis=0) / nominal[told] - 1.0
    most = int(np.argmax(np.abs(away)))
    place = int(told[most])
    parts = [part[np.isfinite(part)] for part in drawn[:, place].reshape(SCRAMBLES, -1)]
    middles = [float(np.median(part)) for part in parts if part.size]
    beyond = np.flatnonzero(np.abs(away) > LEANING)
    return Leaning(
        airspeed=float(airspeed[place]), away=float(away[most]),
        error=float(np.std(middles, ddof=1) / np.sqrt(len(middles)) / nominal[place]),
        begins=float(airspeed[told[beyond[0]]]) if beyond.size else float("nan"),
        causes={name: float(lean / nominal[place])
                for name, lean in zip(names, leans(ends)[:, place], strict=True)
                if np.abs(lean) > ROUND_OFF * nominal[place]})
