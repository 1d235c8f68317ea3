"""The launch against the stall."""

from __future__ import annotations

import numpy as np

from thrustlapse.aircraft.drag import stall_speed
from thrustlapse.arrays import Array, Values
from thrustlapse.study.limits.limit import Limit
from thrustlapse.study.limits.states import States


def _launch(states: States) -> Array | None:
    frame = states.airframe
    return None if frame is None else np.atleast_1d(frame.launch_speed)


def _stall(states: States) -> Values | None:
    if states.airframe is None:
        return None
    return stall_speed(states.airframe, mass=states.total_mass, density=states.air.density)


LIMITS = (
    Limit(name="launch below the stall", meaning="it is launched below its stall speed",
          unit="m/s", value=_launch, bound=_stall, ranks={"stop": 0.0}, least=True,
          source="stall speed at its own mass and greatest lift coefficient",
          text=lambda at: f"launched at {at.value:.1f} m/s but stalls below {at.bound:.1f} m/s",
          remedy="launch faster, carry less, or give it more wing"),
)
