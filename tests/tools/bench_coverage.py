"""Does a bench fit's 95 % hold 95 %? Coverage of its intervals of thrust, over true machines.

    python -m tests.tools.bench_coverage [BENCHES] [SEED] [--keep METHOD] [--kind WORD]

For every kind of truth of ``bench_truths.py``, with 12 readings and with 3: the share of the 95 %
and 68 % intervals of installed thrust at rest, 30 and 50 m/s that hold the truth, and the median of
the stated deviation, beside the deviations of other methods kept in ``bench_coverage.csv``. Truths
follow from the seed alone. Rows "about the mean" are of the fit whose deviation did not count that
a drag known to a factor errs farther to one side, those "for 95 % alone" of one that was made for
95 % and held too often for 68 %, those of "all assumed" of one that did not look behind the rises
beside its minimum, which "behind rises" does. ``--keep METHOD`` writes the rows there under that
name, with benches, seed and version.
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

import numpy as np

from tests.tools.bench_truths import AIRSPEEDS, KINDS, NAME, benches, scenario
from thrustlapse import __version__
from thrustlapse.arrays import Array
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.bench_fit import FitError, FittedMachine, fit_benches
from thrustlapse.study.experiment_design import AT_SPEED, bench_answer

KEPT = Path(__file__).with_name("bench_coverage.csv")
COLUMNS = ("method", "truths", "readings", "airspeed_m_per_s", "benches", "holds_95_percent",
           "holds_68_percent", "deviation_N", "rms_miss_N", "seed", "version")
BENCHES, SEED = 400, 16
TOGETHER = 50
"""Benches that are fitted in one go."""

WIDE, NARROW = 1.959964, 0.994458


def answers(told: Scenario, fit: FittedMachine) -> Array:
    """Thrust and its deviation at :data:`AIRSPEEDS`, (2, airspeeds); NaN where it is refused."""
    try:
        found = [bench_answer(told, NAME, fit, AT_SPEED, airspeed=float(one)) for one in AIRSPEEDS]
    except FitError:
        return np.full((2, AIRSPEEDS.size), np.nan)
    return np.array([[one.value for one in found], [one.deviation for one in found]])


def rows_of(kind: str, readings: int, count: int, seed: int, method: str) -> list[dict[str, str]]:
    """Rows of one kind of truth."""
    told, made = scenario(), benches(kind, readings, count, seed)
    found = np.array([answers(told, fit) for start in range(0, count, TOGETHER)
                      for fit in fit_benches(told.candidates[NAME],
                                             made.readings[start:start + TOGETHER])])
    value, deviation = found[:, 0], found[:, 1]
    away = np.abs(value - made.thrust) / deviation
    rows = []
    for place, speed in enumerate(AIRSPEEDS):
        told_of = np.isfinite(away[:, place])
        each = away[told_of, place]
        rows.append(dict(zip(COLUMNS, (
            method, kind, str(readings), f"{speed:g}", str(int(told_of.sum())),
            f"{100 * np.mean(each < WIDE):.1f}", f"{100 * np.mean(each < NARROW):.1f}",
            f"{np.median(deviation[told_of, place]):.3g}",
            f"{np.sqrt(np.mean((value - made.thrust)[told_of, place] ** 2)):.3g}", str(seed),
            __version__), strict=True)))
    return rows


def kept(path: Path = KEPT) -> list[dict[str, str]]:
    """Rows of the file, none where there is none."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def keep(rows: list[dict[str, str]], path: Path = KEPT) -> None:
    """Put rows into the file in place of those of the same method, truths and readings."""
    def mark(row: dict[str, str]) -> tuple[str, ...]:
        return tuple(row[name] for name in COLUMNS[:4])

    new = {mark(row) for row in rows}
    every = [row for row in kept(path) if mark(row) not in new] + rows
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(every)


def main() -> None:
    """Print the table, and keep it where asked."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("benches", nargs="?", type=int, default=BENCHES)
    parser.add_argument("seed", nargs="?", type=int, default=SEED)
    parser.add_argument("--keep", default="", metavar="METHOD")
    parser.add_argument("--kind", default="", metavar="WORD")
    asked = parser.parse_args()
    others = {(row["truths"], row["readings"], row["airspeed_m_per_s"]): row for row in kept()
              if row["method"] != asked.keep}
    for kind in KINDS:
        if asked.kind not in kind:
            continue
        for readings in (12, 3):
            started = time.perf_counter()
            rows = rows_of(kind, readings, asked.benches, asked.seed, asked.keep or "now")
            print(f"{kind}, {readings} readings ({time.perf_counter() - started:.0f} s)")
            for row in rows:
                other = others.get((kind, str(readings), row["airspeed_m_per_s"]))
                beside = f" ({other['method']}: {other['deviation_N']} N)" if other else ""
                print(f"  {row['airspeed_m_per_s']:>2} m/s: 95 % holds {row['holds_95_percent']:>5}"
                      f" %, 68 % holds {row['holds_68_percent']:>5} %, deviation "
                      f"{row['deviation_N']} N{beside}, rms miss {row['rms_miss_N']} N, "
                      f"{row['benches']} benches", flush=True)
            if asked.keep:
                keep(rows)


if __name__ == "__main__":
    main()
