"""How often a flight log's intervals hold the truth.

    python -m tests.tools.benchmarks.flight_log

300 made logs (``tests/aircraft/made_logs.py``): truths drawn for the thrust factor, its slope, the
drag factor, a steady wind and the airspeed sensor's factor; with ground speed and track, and
without, there with a true airspeed. Shares of 95 % and 68 % intervals that hold, and their width.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from tests.aircraft.flyers import AIRFRAME
from tests.aircraft.made_logs import FULL_PLAN, MACHINE, MASS, drawn_truth, made_log
from thrustlapse.aircraft.flight_log import reduce_log

LOGS = 300
NAMES = ("thrust factor", "drag factor", "slope", "wind east", "wind north", "airspeed factor")


def misses(seed: int, *, ground: bool) -> tuple[np.ndarray, np.ndarray]:
    """Misses of each unknown and their stated deviations; NaN where the log does not tell it."""
    truth = drawn_truth(seed) if ground else replace(drawn_truth(seed), scale=1.0)
    found = reduce_log(made_log(truth, seed=seed, plan=FULL_PLAN, ground=ground), MACHINE,
                       AIRFRAME, mass=MASS)
    at = found.middle / truth.middle
    true = np.array([truth.thrust + truth.slope * (at - 1.0), truth.drag, truth.slope * at,
                     truth.east, truth.north, 1.0 * truth.scale])
    wind = found.wind
    told = np.array([True, True, found.slope_told, *[wind.known] * 3])
    value = np.array([found.thrust_factor, found.drag_factor, found.slope, wind.east, wind.north,
                      wind.scale])
    spread = np.sqrt(np.concatenate([np.diag(found.joint) * max(1.0, found.scatter) ** 2,
                                     np.diag(wind.covariance)]))
    return np.where(told, value - true, np.nan), spread


def main(count: int) -> None:
    """Print shares and widths."""
    for ground in (True, False):
        pairs = [misses(seed, ground=ground) for seed in range(count)]
        miss, spread = (np.array(one) for one in zip(*pairs, strict=True))
        print(f"{count} logs {'with ground speed and track' if ground else 'of airspeed alone'}")
        for place, name in enumerate(NAMES):
            told = np.isfinite(miss[:, place])
            if told.any():
                away = np.abs(miss[told, place]) / spread[told, place]
                print(f"  {name:16} told in {100 * told.mean():3.0f} %, 95 % holds "
                      f"{100 * np.mean(away < 1.95996):5.1f} %, 68 % holds "
                      f"{100 * np.mean(away < 0.99446):5.1f} %, deviation "
                      f"{np.median(spread[told, place]):.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else LOGS)
