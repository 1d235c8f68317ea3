"""How long a propeller map of 20 radii x 60 J x 6 speeds takes, beside a plain loop with brentq.

    python tests/tools/benchmarks/propeller_map.py
"""

from __future__ import annotations

import sys
from math import acos, atan2, cos, exp, hypot, pi, sin
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).parents[3]))

from tests.rotor.measured_propellers import measured_propellers
from thrustlapse.rotor.propeller import blades as propeller
from thrustlapse.rotor.propeller.blades import (
    SEA_LEVEL,
    blade_loads,
    blade_section,
    propeller_table,
)

GEOMETRY = next(one.geometry for one in measured_propellers() if one.name == "10x7")
SPEEDS = np.array(propeller.default_shaft_speeds(GEOMETRY))
RATIOS = np.linspace(0.0, 0.8, 60)
STRIDE = 40
"""The plain loop solves every 40th element; its time is scaled up."""


def plain_loop() -> tuple[float, float]:
    """Seconds for the whole map one element at a time, and the largest difference in phi [rad]."""
    grid = blade_loads(GEOMETRY, air=SEA_LEVEL, shaft_speed=SPEEDS[:, None], advance_ratio=RATIOS)
    section, radius = blade_section(GEOMETRY), grid.radius
    chord, angle = GEOMETRY.chord_at(radius), GEOMETRY.angle_at(radius)
    density, viscosity = float(SEA_LEVEL.density), float(SEA_LEVEL.viscosity)
    sound = float(SEA_LEVEL.speed_of_sound)
    tip, hub = GEOMETRY.tip_radius, GEOMETRY.hub_radius

    def solve(omega: float, ratio: float, k: int) -> float:
        r, c = float(radius[k]), float(chord[k])
        axial, around = ratio * omega * tip / pi, omega * r
        start, sigma = atan2(axial, around), GEOMETRY.blades * c / (2.0 * pi * r)
        speed = hypot(axial, around)

        def residual(phi: float) -> float:
            s = abs(sin(phi)) + 1e-300
            half = 0.5 * GEOMETRY.blades
            loss = ((2.0 / pi) ** 2 * acos(exp(-half * (tip - r) / (r * s)))
                    * acos(exp(-half * (r - hub) / (hub * s))))
            cl, cd = section.coefficients(angle=float(angle[k]) - phi, mach=speed / sound,
                                          reynolds=density * speed * c / viscosity,
                                          chord_to_radius=c / r)
            turn = phi - start
            return (4.0 * loss * s * sin(turn)
                    - sigma * (float(cl) * cos(turn) - float(cd) * sin(turn)))

        end = float(angle[k]) + 0.25
        if residual(start) > 0.0:
            start, end = end, start
        return float(brentq(residual, start, end, xtol=1e-12))

    points = [(i, j, k) for i in range(SPEEDS.size) for j in range(RATIOS.size)
              for k in range(radius.size) if grid.elements.thrust[i, j, k] > 0.0][::STRIDE]
    begin = perf_counter()
    found = [solve(SPEEDS[i], RATIOS[j], k) for i, j, k in points]
    seconds = (perf_counter() - begin) / len(points) * grid.elements.thrust.size
    differ = max(abs(phi - grid.elements.inflow_angle[place])
                 for phi, place in zip(found, points, strict=True))
    return seconds, differ


def best_of(repeats: int = 7) -> tuple[float, float]:
    """Seconds for a fresh map and for one that is kept."""
    fresh, kept = [], []
    for _ in range(repeats):
        propeller._kept_table.cache_clear()
        for times in (fresh, kept):
            begin = perf_counter()
            propeller_table(GEOMETRY, shaft_speeds=SPEEDS, advance_ratios=RATIOS)
            times.append(perf_counter() - begin)
    return min(fresh), min(kept)


def main() -> None:
    fresh, kept = best_of()
    loop, differ = plain_loop()
    for name, seconds in (("map of 20 radii x 60 J x 6 speeds", fresh),
                          ("the same, kept", kept),
                          ("a plain loop with brentq (scaled up)", loop)):
        print(f"{name:40s} {1000.0 * seconds:10.2f} ms")
    print(f"largest difference of the inflow angle {differ:.1e} rad")


if __name__ == "__main__":
    main()
