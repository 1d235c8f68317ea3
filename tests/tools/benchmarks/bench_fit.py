"""Coverage of the 95 % intervals over many synthetic benches, and the time of a fit.

    python -m tests.tools.benchmarks.bench_fit [benches]

Truths are drawn from the priors that the fit states, readings get the noise that it assumes: this
tests the arithmetic of the intervals, not the priors and not the model.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from tests.bench.synthetic import MACHINE, bench, fitted, inside
from thrustlapse.study.bench_fit import fit_bench


def main() -> None:
    """Print coverage by unknown, altogether, and seconds for thirty readings."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    started = time.perf_counter()
    found, names = [], ()
    for seed in range(count):
        fit, truth = fitted(seed)
        found.append(inside(fit, truth))
        names = tuple(one.words for one in fit.unknowns)
    covered = np.array(found)
    for name, share in zip(names, covered.mean(axis=0), strict=True):
        print(f"{100 * share:5.1f} %  {name}")
    print(f"{100 * covered[:, :-1].mean():5.1f} %  of all, over {count} benches of 10 readings "
          f"(without the setting, whose truths are drawn closer than its prior), "
          f"{time.perf_counter() - started:.0f} s")
    readings, _ = bench(1000, 30)
    started = time.perf_counter()
    fit_bench(MACHINE, readings)
    print(f"{time.perf_counter() - started:.2f} s for a fit of 30 readings with its robust check")


if __name__ == "__main__":
    main()
