"""Searches: time, memory, two processes against one, straight lines, and a plain loop beside them.

    nice python -m tests.tools.benchmarks.search

Prints everything at once, with the load of the machine before and after, beside the rate of the
matching by itself on the same designs, and how long a thousand million designs would take on one
and on a hundred workers by the slopes measured; a minute or two. A
benchmark, not a test: nothing here passes or fails. ``--points`` scales it. On a machine that
others use too, read the processor times: the others' work is not in them.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.searches import MACHINES

AIRSPEEDS = 61
SEARCH = """
[search]
candidates = ["blower"]
answers = ["electrical_power"]

[search.airspeed]
lowest = "0 m/s"
highest = "60 m/s"
points = {airspeeds}

[[search.axes]]
name = "nozzle"
key = "candidates.blower.nozzle.exit_diameter"
lowest = "11 mm"
highest = "20 mm"
points = {nozzles}

[[search.axes]]
name = "winding"
key = "candidates.blower.motor.speed_constant"
lowest = "3000 rpm/V"
highest = "5000 rpm/V"
points = {windings}
"""
FAR, MANY = 1_000_000_000, 100
"""Designs of a far search, and workers it might be given."""

PLAIN = 400
"""Points of the plain loop: one design at one airspeed a call, as one would write it first."""


def text_of(points: int) -> str:
    """A scenario whose search has about so many matched points."""
    designs = points / AIRSPEEDS
    windings = 32
    return MACHINES + SEARCH.format(airspeeds=AIRSPEEDS, windings=windings,
                                    nozzles=max(2, round(designs / windings)))


def one(points: int, processes: int) -> None:
    """A whole search in this very process: prints what it took as JSON."""
    from thrustlapse.scenario.files.read import read_text
    from thrustlapse.search import search_scenario

    scenario = read_text(text_of(points))
    with tempfile.TemporaryDirectory() as folder:
        told: list[tuple[float, int, float]] = []
        start = time.perf_counter()
        _, result = search_scenario(
            scenario, Path(folder) / "out", processes=processes,
            tell=lambda done, _: told.append((time.perf_counter(), done, time.process_time())))
        seconds, ended = time.perf_counter() - start, time.process_time()
        disk = sum(path.stat().st_size for path in Path(folder).rglob("*.npz"))
    # from when every worker has handed in its first chunks: what a long search runs at
    first, last = told[min(1 + 2 * processes, len(told) - 2)], told[-1]
    steady = (last[1] - first[1]) / (last[0] - first[0])
    busy = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print(json.dumps({
        "points": result.points, "seconds": seconds, "disk": disk, "steady": steady,
        "summary": ended - last[2], "own": ended,
        "cpu": sum(u.ru_utime + u.ru_stime for u in busy),
        "mine": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "worker": resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024}))


def measured(points: int, processes: int) -> dict[str, float]:
    """The same in a process of its own, so that its memory is its own."""
    done = subprocess.run([sys.executable, "-m", "tests.tools.benchmarks.search", "--one",
                           str(points), str(processes)], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def plain_rate() -> float:
    """Points per second of a plain loop over designs and airspeeds."""
    from dataclasses import replace

    from thrustlapse.propulsor.candidate import operate, with_power_limit
    from thrustlapse.scenario.files.read import read_text
    from thrustlapse.study.nozzle_size import with_exit_diameter

    candidate = with_power_limit(read_text(MACHINES).candidates["blower"], 400.0)
    rng = np.random.default_rng(1)
    nozzles, speeds = rng.uniform(0.011, 0.020, PLAIN), rng.uniform(0.0, 60.0, PLAIN)
    operate(replace(candidate), airspeed=1.0)
    start = time.perf_counter()
    for nozzle, speed in zip(nozzles, speeds, strict=True):
        operate(with_exit_diameter(candidate, np.asarray(nozzle)), airspeed=float(speed))
    return PLAIN / (time.perf_counter() - start)


def raw_rate(designs: int = 4_000) -> float:
    """Points per second of one core of the matching by itself: every design at every airspeed."""
    from thrustlapse.propulsor.candidate import operate, with_power_limit
    from thrustlapse.scenario.files.read import read_text
    from thrustlapse.study.nozzle_size import with_exit_diameter

    made = with_exit_diameter(
        with_power_limit(read_text(MACHINES).candidates["blower"], 400.0),
        np.linspace(0.011, 0.020, designs)[:, None])
    speeds, rates = np.linspace(0.0, 60.0, AIRSPEEDS), []
    for _ in range(3):
        start = time.process_time()
        operate(made, airspeed=speeds)
        rates.append(designs * AIRSPEEDS / (time.process_time() - start))
    return max(rates)


def far(rows: list[dict[str, float]], pairs: list[dict[str, float]], raw: float) -> None:
    """How long :data:`FAR` designs would take, by what each point more has cost of processor
    time; ``raw`` is the rate of the matching by itself."""
    def slope(found: list[dict[str, float]], key: str) -> float:
        points = [row["points"] for row in found]
        return float(np.polyfit(points, [row[key] for row in found], 1)[0])

    points = float(FAR) * AIRSPEEDS
    work, summing = slope(rows, "cpu"), slope(rows, "summary")
    # what the parent of several does for each point, the summing up in the end apart
    keeping = max(slope(pairs, "own") - summing, 0.0)
    shared = points * (work - summing) / MANY
    print(f"the matching by itself, same designs: {raw:,.0f} points/s of one core; a search runs "
          f"at {1.0 / work / raw:.2f} of it, summed up, and at {1.0 / (work - summing) / raw:.2f} "
          "while chunks are worked through (processor time of each point more)")
    print(f"{FAR:,} designs at {AIRSPEEDS} airspeeds: {points * work / 86_400:.1f} days on one "
          f"worker; on {MANY} {max(shared, points * keeping) / 3600:.1f} h of chunks (their work "
          f"{shared / 3600:.1f} h, keeping them {points * keeping / 3600:.1f} h) and "
          f"{points * summing / 3600:.1f} h to sum them up in one process; "
          f"{points / rows[-1]['points'] * rows[-1]['disk'] / 1e12:.1f} TB on disk")


def line(told: str, found: dict[str, float], processes: int) -> None:
    """One measurement in a line."""
    memory = found["mine"] + (processes * found["worker"] if processes > 1 else 0.0)
    print(f"{told:34s}{found['points']:>12,.0f} points {found['seconds']:8.2f} s "
          f"{found['points'] / found['seconds']:>10,.0f} points/s {memory:7.0f} MB in all "
          f"{found['disk'] / 1e6:7.0f} MB on disk {found['cpu']:7.1f} s of processor", flush=True)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--one", nargs=2, type=int)
    parser.add_argument("--points", type=int, default=1_000_000)
    told = parser.parse_args()
    if told.one:
        one(*told.one)
        return
    print("load:", " ".join(f"{value:.1f}" for value in os.getloadavg()))
    rows = [measured(told.points * part, 1) for part in (1, 2, 4)]
    pairs = [measured(told.points * part, 2) for part in (1, 4)]
    for row in rows:
        line("one process", row, 1)
    for row in pairs:
        line("two processes", row, 2)
    single, double = rows[-1], pairs[-1]
    print(f"two processes against one: {single['seconds'] / double['seconds']:.2f} of 2 for the "
          "largest search as a whole, start-up of the workers and the summing up included; "
          f"{double['steady'] / single['steady']:.2f} of 2 while chunks are worked through; "
          f"processor time {double['cpu'] / single['cpu']:.2f} times that of one process")
    sizes = np.array([row["points"] for row in rows])
    times = np.array([row["seconds"] for row in rows])
    slope, start = np.polyfit(sizes, times, 1)
    off = np.max(np.abs(times - (start + slope * sizes)) / times)
    work = np.array([row["cpu"] for row in rows])
    bend = np.max(np.abs(work - np.polyval(np.polyfit(sizes, work, 1), sizes)) / work)
    print(f"one process: seconds = {start:.2f} + {slope * 1e6:.2f} per million points; farthest "
          f"point {100 * off:.0f} % off the line ({100 * bend:.0f} % in processor time); "
          f"memory {min(r['mine'] for r in rows):.0f} to "
          f"{max(r['mine'] for r in rows):.0f} MB; 50 million points would take "
          f"{(start + slope * 50e6) / 60:.1f} min and "
          f"{50e6 / single['points'] * single['disk'] / 1e9:.1f} GB on disk")
    far(rows, pairs, raw_rate())
    plain = plain_rate()
    print(f"a plain loop, one call a point: {plain:,.0f} points/s; the search: "
          f"{single['points'] / single['seconds']:,.0f}; ratio "
          f"{single['points'] / single['seconds'] / plain:,.0f}")
    print("load:", " ".join(f"{value:.1f}" for value in os.getloadavg()))


if __name__ == "__main__":
    main()
