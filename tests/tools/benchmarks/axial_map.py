"""How long an axial map of 200 flows takes, beside a plain loop over the flows.

    python tests/tools/benchmarks/axial_map.py
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[3]))

from tests.rotor.axial_cases import free_vortex_fan
from thrustlapse.rotor.axial.flow import cut_stage, pass_stage
from thrustlapse.rotor.axial.row import AxialModels
from thrustlapse.rotor.axial.stage import axial_stage

SPEED = 30_000.0 * np.pi / 30.0
FLOWS = np.linspace(0.24, 0.40, 200)


def best_of(task: object, repeats: int = 5) -> float:
    times = []
    for _ in range(repeats):
        start = perf_counter()
        task()  # type: ignore[operator]
        times.append(perf_counter() - start)
    return min(times)


def main() -> None:
    fan = free_vortex_fan()
    cut = cut_stage(fan, shaft_speed=SPEED, total_pressure=101_325.0, total_temperature=288.15,
                    radii=11)
    models = AxialModels()

    def loop() -> None:
        for flow in FLOWS:
            pass_stage(cut, flow=np.array([flow]), models=models)

    whole = np.linspace(0.0, 0.42, 200)
    rows = (
        ("map of 200 flows, limits, losses and band",
         best_of(lambda: axial_stage(fan, shaft_speed=SPEED, flows=whole))),
        ("the same without the band's rival models",
         best_of(lambda: axial_stage(fan, shaft_speed=SPEED, flows=whole, band=False))),
        ("blade model alone, 200 flows at once",
         best_of(lambda: pass_stage(cut, flow=FLOWS, models=models))),
        ("blade model alone, a plain loop over 200 flows", best_of(loop, repeats=2)),
    )
    for name, seconds in rows:
        print(f"{name:50s} {1000.0 * seconds:9.1f} ms")


if __name__ == "__main__":
    main()
