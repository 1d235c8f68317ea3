"""How long a comparison's uncertainty takes, beside a plain loop over the draws, and its memory.

    python -m tests.tools.benchmarks.uncertainty
"""

from __future__ import annotations

import resource
from dataclasses import replace
from pathlib import Path
from time import perf_counter

import numpy as np

from thrustlapse.chance import Sampling
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.compare import compare
from thrustlapse.study.draws import drawables, shares
from thrustlapse.study.footing import Footing
from thrustlapse.study.uncertainty import uncertainty

STORY = Path(__file__).parents[3] / "scenarios" / "how_sure.toml"
SAMPLES, AIRSPEEDS, LOOPED = 2048, 60, 48


def peak() -> float:
    """Largest memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def looped(scenario: Scenario, count: int) -> float:
    """Seconds a draw takes when each is a scenario of its own: curves alone, no level speeds."""
    inputs = [one for one in drawables(scenario) if not one.side]  # type: ignore[arg-type]
    drawn = shares(512, len(inputs), seed=1)
    grid = np.linspace(0.0, 90.0, AIRSPEEDS)
    start = perf_counter()
    for row in drawn[:count]:
        one = scenario.drawn({each.spread.key: float(each.spread.quantile(row[place]))
                              for place, each in enumerate(inputs)})
        footing = Footing(basis=one.comparison, candidates=one.candidates)
        for candidate in one.candidates.values():
            footing.fly(candidate, grid)
    return (perf_counter() - start) / count


def main() -> None:
    scenario = read_scenario(STORY)
    nominal = compare(replace(scenario, sampling=Sampling()))
    before = peak()
    print(f"memory before: {before:.0f} MB")
    for samples, drivers in ((SAMPLES, False), (SAMPLES, True), (4 * SAMPLES, False)):
        asked = replace(scenario, sampling=Sampling(samples=samples, airspeeds=AIRSPEEDS,
                                                    drivers=drivers))
        start = perf_counter()
        uncertainty(asked, nominal)
        taken = perf_counter() - start
        print(f"{len(scenario.candidates)} candidates x {samples} draws x {AIRSPEEDS} airspeeds, "
              f"drivers {'too' if drivers else 'not'}: {taken:.2f} s, peak {peak():.0f} MB")
        if samples == SAMPLES and not drivers:
            whole = taken
    one = looped(scenario, LOOPED)
    print(f"plain loop, curves alone: {1e3 * one:.1f} ms a draw, {one * SAMPLES:.0f} s for all: "
          f"{one * SAMPLES / whole:.1f} times as long")


if __name__ == "__main__":
    main()
