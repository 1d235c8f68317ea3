"""Time of an aircraft's performance per candidate, against matching anew at every height and speed.

    python -m tests.tools.benchmarks.performance

Prints seconds for the study of one candidate, for its climb and ceilings alone by the plain search
on the matched machine, their ratio, and by how much the ceilings differ. A benchmark, not a test.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from tests.aircraft.flyers import thrust_law
from tests.report.machines import AIRFRAME, SITE, USE, blower, fan, hand_made, propeller
from thrustlapse.aircraft.climb import best_climb, ceilings
from thrustlapse.aircraft.total_mass import total_mass
from thrustlapse.study.aircraft_study import study_aircraft
from thrustlapse.study.compare import compare
from thrustlapse.study.evaluate import cases_of

ROUNDS = 3


def fastest(work: Callable[[], object]) -> tuple[float, object]:
    """Least time of several runs [s], and the answer of the last."""
    best, answer = float("inf"), None
    for _ in range(ROUNDS):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return best, answer


def main() -> None:
    """Run and print."""
    print("candidate    study [s]  plain climb and ceilings [s]  ratio  ceilings differ")
    for machine in (blower(), fan(), propeller()):
        scenario = hand_made(machine)
        known = compare(scenario).candidates
        seconds, study = fastest(lambda s=scenario, k=known: study_aircraft(
            cases_of(s), AIRFRAME, use=USE, pack=s.pack, site=SITE, results=k))
        mass, top = total_mass(machine, AIRFRAME), known[machine.name].level.top_speed
        law = thrust_law(machine)
        heights = np.array([0.0, 500.0, 1000.0, 2000.0]) + SITE.altitude

        def plain(law=law, mass=mass, top=top, heights=heights) -> object:
            best_climb(law, AIRFRAME, mass=mass, site=SITE, altitude=heights, highest=1.3 * top)
            return ceilings(law, AIRFRAME, mass=mass, site=SITE, highest=top)

        slow, found = fastest(plain)
        mine = study.performances[machine.name].absolute_ceiling
        print(f"{machine.name:11}  {seconds:9.3f}  {slow:28.3f}  {slow / seconds:5.1f}  "
              f"{100 * (mine / found.absolute - 1.0):+14.2f} %")


if __name__ == "__main__":
    main()
