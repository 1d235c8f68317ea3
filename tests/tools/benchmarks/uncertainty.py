"""How long a comparison's uncertainty takes, beside one scenario after another, and its memory.

    python -m tests.tools.benchmarks.uncertainty

Seconds are of processor time in one run. The scenario names what is not known, and the register
adds what it does not name. A benchmark, not a test: nothing here passes or fails.
"""

from __future__ import annotations

import resource
from dataclasses import replace
from pathlib import Path
from time import process_time

import numpy as np

from thrustlapse.distributions import Sampling
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import read_scenario
from thrustlapse.study.compare import compare
from thrustlapse.study.footing import Footing
from thrustlapse.study.sampling import drawables, shares, with_draws
from thrustlapse.study.uncertainty import uncertainty

STORY = Path(__file__).parents[3] / "scenarios" / "how_sure.toml"
SAMPLES, AIRSPEEDS, LOOPED = 2048, 60, 48


def peak() -> float:
    """Largest memory of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def looped(scenario: Scenario, count: int) -> float:
    """Seconds a draw takes when each is a scenario of its own: curves alone, no level speeds."""
    inputs = drawables(scenario)
    drawn = shares(512, len(inputs), seed=1)
    grid = np.linspace(0.0, 90.0, AIRSPEEDS)
    start = process_time()
    for place in range(count):
        one = with_draws(scenario, inputs, drawn[place:place + 1])
        footing = Footing(basis=one.comparison, candidates=one.candidates)
        for candidate in one.candidates.values():
            footing.fly(candidate, grid)
    return (process_time() - start) / count


def main() -> None:
    scenario = read_scenario(STORY)
    nominal = compare(replace(scenario, sampling=Sampling()))
    before = peak()
    print(f"memory before: {before:.0f} MB")
    for samples, drivers in ((SAMPLES, False), (SAMPLES, True), (4 * SAMPLES, False)):
        asked = replace(scenario, sampling=Sampling(samples=samples, airspeeds=AIRSPEEDS,
                                                    drivers=drivers))
        start = process_time()
        uncertainty(asked, nominal)
        taken = process_time() - start
        print(f"{len(scenario.candidates)} candidates x {samples} draws x {AIRSPEEDS} airspeeds, "
              f"drivers {'too' if drivers else 'not'}: {taken:.2f} s, peak {peak():.0f} MB")
        if samples == SAMPLES and drivers:
            whole = taken
    one = looped(scenario, LOOPED)
    print(f"{len(drawables(scenario))} inputs drawn; one scenario after another, curves alone, no "
          f"drivers: {1e3 * one:.1f} ms a draw, {one * SAMPLES:.0f} s for {SAMPLES:,}: "
          f"{one * SAMPLES / whole:.1f} times as long as all answers with drivers together")


if __name__ == "__main__":
    main()
