"""Time of a whole flight per candidate once its surface is built, and what the surface costs.

    python -m tests.tools.benchmarks.flight

Prints seconds for the surface and for a flight of seven legs, the surface's errors, the miss of the
energy books, and evaluations. A benchmark, not a test: nothing here passes or fails.
"""

from __future__ import annotations

import time

from tests.aircraft.flyers import AIRFRAME, PACK, blower, fan, propeller
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.fly_candidates import engine_for
from thrustlapse.aircraft.legs import Accelerate, Climb, Cruise, Dash, Glide, HandLaunch, Turn
from thrustlapse.aircraft.total_mass import total_mass

LEGS = (Accelerate(airspeed=20.0), Climb(height=80.0), Turn(load_factor=1.5), Dash(),
        Cruise(airspeed=18.0, time=60.0), Glide())
ROUNDS = 3


def main() -> None:
    """Run and print."""
    pack = RunningPack(pack=PACK)
    print("candidate        surface [s]  flight [s]  thrust error  current error  books miss  "
          "evaluations")
    for label, candidate in (("blower", blower()), ("two blowers", blower(count=2)),
                             ("fan", fan()), ("propeller", propeller())):
        start = time.perf_counter()
        engine, _ = engine_for(candidate, AIRFRAME, HandLaunch(), LEGS, pack)
        built = time.perf_counter() - start
        best = float("inf")
        for _ in range(ROUNDS):
            start = time.perf_counter()
            flight = fly(engine, AIRFRAME, HandLaunch(), LEGS,
                         mass=total_mass(candidate, AIRFRAME))
            best = min(best, time.perf_counter() - start)
        surface = engine.surface
        print(f"{label:15}  {built:11.3f}  {best:10.3f}  {surface.thrust_error:12.1e}  "
              f"{surface.current_error:13.1e}  {flight.books.relative_residual:10.1e}  "
              f"{flight.evaluations:11d}  {flight.reason}")


if __name__ == "__main__":
    main()
