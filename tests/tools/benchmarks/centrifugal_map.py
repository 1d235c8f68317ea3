"""How long a centrifugal map of 200 flows takes, beside a plain loop over its flows.

    python -m tests.tools.benchmarks.centrifugal_map
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

import numpy as np

from tests.rotor.centrifugal_cases import (
    MM,
    PRESSURE,
    SUCTION_SPEED,
    SUCTION_WHEEL,
    TEMPERATURE,
    stage,
    wheel,
)
from thrustlapse.rotor.centrifugal.points import centrifugal_points


def best_time(action: Callable[[], object], repeats: int) -> float:
    """Shortest of several runs [s]."""
    times = []
    for _ in range(repeats):
        start = perf_counter()
        action()
        times.append(perf_counter() - start)
    return min(times)


def points(flow: np.ndarray | float) -> object:
    return centrifugal_points(SUCTION_WHEEL, shaft_speed=SUCTION_SPEED, total_pressure=PRESSURE,
                              total_temperature=TEMPERATURE, flow=flow)


def main() -> None:
    flow = stage().points.flow
    thousand = wheel(tip_clearance=np.linspace(0.1, 0.4, 1000) * MM)
    lines = (
        ("map of 200 flows, choke searched", best_time(stage, 20)),
        ("200 flows in one call", best_time(lambda: points(flow), 20)),
        ("200 flows in a plain loop", best_time(lambda: [points(phi) for phi in flow], 2)),
        ("1000 machines of 200 flows each", best_time(lambda: stage(thousand), 1)),
    )
    for name, seconds in lines:
        print(f"{name:36s}{1e3 * seconds:10.1f} ms")


if __name__ == "__main__":
    main()
