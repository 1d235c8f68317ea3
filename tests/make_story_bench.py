"""Make the invented bench of the story's blower: ``python -m tests.make_story_bench > FILE.csv``.

The readings come from the package's own model of that blower, with noise: whoever fits them gets
back what went in. They show the way from readings to a machine and validate nothing.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

import thrustlapse as tl
from thrustlapse.air.atmosphere import GRAVITY, Air

STORY = Path(__file__).parents[1] / "scenarios" / "three_ways_to_push.toml"

HEAD = """\
# INVENTED: readings of the blower in three_ways_to_push.toml. Nobody measured anything: they are
# made by this package's own model of that blower, at rest, with noise of the spreads below and 6 gf
# of friction in the stand. Fitting them gives back what went in; it validates nothing.
#
# "high" is the switch at 400 W, "low" at 150 W. Outlet shut means a plug that leaks a little.
#
#   thrustlapse bench check scenarios/story_blower_bench.csv
"""

COLUMNS = ("drive setting,nozzle exit diameter [mm] ± 0.05,outlet blocked,"
           "supply voltage [V] ± 0.03,supply current [A] ± 1.5 %,"
           "shaft speed [krpm] ± 0.3 %,push reading [gf] ± 2,"
           "pull reading [gf] ± 2,duct static pressure [kPa] ± 1.5 %,air temperature [degC],"
           "air pressure [hPa],note")

LEAK = 1.0
"""Bore of the leak in the plug [mm]."""

FRICTION = 6.0
"""Of the stand [gf]."""

PLAN = (
    ("high", 15.0, 0.0, 3, "as it flies"), ("high", 16.5, 0.0, 2, "wider"),
    ("high", 18.0, 0.0, 2, "much wider"), ("high", 13.5, 0.0, 2, "tighter"),
    ("high", LEAK, 0.0, 1, "plugged for four seconds"), ("low", 15.0, 0.0, 2, "other setting"),
    ("low", 18.0, 0.0, 1, "other setting and much wider"), ("low", LEAK, 0.0, 1, "plugged"),
    ("high", 15.0, -1.6, 2, "pack half empty"), ("high", 15.0, 0.0, 1, "first reading again"))
"""Setting, nozzle [mm], supply against the story's pack [V], repeats, note."""


def main() -> None:
    """Print the file."""
    random = np.random.default_rng(20)
    print(HEAD + COLUMNS)
    for setting, bore, lower, repeats, note in PLAN:
        for time in range(repeats):
            print(_row(random, setting, bore, lower, note if time == 0 else "again"))


def _row(random: np.random.Generator, setting: str, bore: float, lower: float, note: str) -> str:
    candidate = tl.read_scenario(STORY).candidates["blower"]
    unit = candidate.unit
    air = Air(pressure=100_100.0, temperature=293.15 + 0.3 * random.standard_normal())
    supply = replace(unit.supply, voltage=unit.supply.voltage + lower)
    nozzle = replace(unit.nozzle, exit_area=np.pi / 4.0 * (bore / 1000.0) ** 2)
    drive = replace(unit.drive, power_limit=400.0 if setting == "high" else 150.0)
    point = tl.operate(replace(candidate, unit=replace(unit, supply=supply, nozzle=nozzle,
                                                       drive=drive)), airspeed=0.0, air=air)
    plugged = bore == LEAK

    def noisy(value: float, spread: float, digits: int) -> str:
        return f"{value + spread * random.standard_normal():.{digits}f}"

    thrust = 1000.0 * float(point.net_thrust) / GRAVITY
    speed = float(point.shaft_speed) * 60.0 / (2000.0 * np.pi)
    static = (float(point.nozzle_pressure) / (1.0 + 0.2 * float(point.duct_mach) ** 2) ** 3.5
              - air.pressure) / 1000.0
    cells = [setting, "" if plugged else f"{bore:g}", "yes" if plugged else "",
             noisy(float(point.terminal_voltage), 0.03, 2),
             noisy(float(point.current), 0.015 * float(point.current), 2),
             noisy(speed, 0.003 * speed, 2),
             "" if plugged else noisy(thrust - FRICTION, 2.0, 0),
             "" if plugged else noisy(thrust + FRICTION, 2.0, 0),
             noisy(static, 0.015 * static, 2), f"{float(air.temperature) - 273.15:.1f}",
             f"{float(air.pressure) / 100.0:.0f}", note]
    return ",".join(cells)


if __name__ == "__main__":
    main()
