"""Machines of other shapes, known by readings and then put on a bench: do the intervals hold?

    python -m tests.tools.readings_bench [machines] [seed] [--keep]

Truths of ``tests.tools.benchmarks.readings_population``. A person knows of each its thrust, watts
and exit, and fits it to a bench of 3 readings (three exits) or 12 (six exits, two voltages, the
inlet and the outlet shut, shaft speed and suction read as well). The fitted candidate's file is
read again and drawn: the 95 % intervals of net thrust at 20, 40 and 60 m/s and of the top speed are
held against the truth. Beside them stand the widths before the bench, and those of the same 12
readings of a machine whose description is the truth's own, which is a full bench. ``--keep`` writes
the table beside this file.
"""

from __future__ import annotations

import csv
import sys
import time
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.tools.benchmarks.readings_population import (
    DRAG_LOADING,
    Truth,
    judged,
    known_by,
    population,
)
from thrustlapse.arrays import Array
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import BenchReadings, bench_readings
from thrustlapse.learning import fit_text
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.scenario.files.fit_file import bench_start
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.bench_fit import fit_bench
from thrustlapse.study.bench_model import show

KEPT = Path(__file__).with_name("readings_bench.csv")
COLUMNS = ("known by", "machines", "refused", *(
    f"{what}_{where}" for what in ("held_percent", "width_percent")
    for where in ("20_m_per_s", "40_m_per_s", "60_m_per_s", "top_speed")), "seed")
MACHINES, SEED, STARTS = 60, 20261130, 6

GAINS = {"thrust": 0.010, "electrical_power": 0.015}
RULER = 2e-4
"""Deviations of gains common to all readings of an instrument, and of all diameters [m]."""

PLANS = {
    3: {"share": [1.0, 0.85, 1.1], "voltage": [22.0] * 3},
    12: {"share": [1.0, 0.85, 1.1, 0.75, 0.92, 1.05, 1.0, 0.85, 1.1, 1.0, 1.0, 1.0],
         "voltage": [22.0] * 6 + [17.0] * 3 + [22.0] * 3,
         "inlet_blocked": [0] * 10 + [1, 0], "outlet_blocked": [0] * 11 + [1]}}

OPEN = [*PLANS[12]["share"][:-2], 0.8, 0.95]
"""Exits of a truth whose map does not reach no flow: nothing says what it does when shut."""


def bench_of(one: Truth, readings: int, random: np.random.Generator) -> BenchReadings:
    """What a person reads of a truth, with the errors of the instruments."""
    plan = PLANS[readings]
    unit = one.candidate.unit
    assert isinstance(unit, Ducted)
    if readings > 3 and float(np.max(unit.rotor.stage.lowest_flow)) > 0.0:
        plan = {name: plan[name] for name in ("voltage", "share")} | {"share": OPEN}
    shut = {name: np.array(plan.get(name, [0] * readings), dtype=bool)
            for name in ("inlet_blocked", "outlet_blocked")}
    bores = one.exit_diameter * np.array(plan["share"])
    asked = bench_readings(nozzle_diameter=bores, voltage=np.array(plan["voltage"]),
                           air_temperature=288.15, air_pressure=101325.0, **shut)
    shown = show(one.candidate, asked, (), np.empty((1, 0))).values
    gains = {name: 1.0 + width * random.standard_normal() for name, width in GAINS.items()}
    read = {name: shown[name][0] * gains.get(name, 1.0)
            for name in ("thrust", "electrical_power", *(("shaft_speed",) if readings > 3 else ()))}
    if readings > 3:
        read["suction"] = np.where(shut["inlet_blocked"], shown["suction"][0], np.nan)
    made = bench_readings(nozzle_diameter=bores + RULER * random.standard_normal(),
                          voltage=np.array(plan["voltage"]), air_temperature=288.15,
                          air_pressure=101325.0, **shut, **read)
    spread = with_default_uncertainty(made).spread
    return replace(made, **{name: getattr(made, name) + np.nan_to_num(spread[name])
                            * random.standard_normal(readings) for name in read})


def fitted_file(text: str, readings: BenchReadings) -> str:
    """The file of a person who fits the candidate of a file to a bench."""
    raw = bench_start(tomllib.loads(text), "m", volts=readings.voltage)
    told = read_text(_toml(raw))
    fit = fit_bench(told.candidates["m"], readings, check_robust=False, starts=STARTS)
    raw["candidates"] = {"m": tomllib.loads(fit_text("m", fit, told, raw))}
    return _toml(raw)


def _toml(raw: dict[str, object]) -> str:
    import tomlkit

    return tomlkit.dumps(raw)


def main() -> None:
    """Print shares held and median widths."""
    numbers = [int(word) for word in sys.argv[1:] if not word.startswith("-")]
    count, seed = [*numbers, *(MACHINES, SEED)[len(numbers):]]
    random = np.random.default_rng(seed + 1)
    ways = ("readings", "3 on a bench", "12 on a bench", "12, its own description")
    found: dict[str, list[tuple[Array, Array]]] = {way: [] for way in ways}
    refused = dict.fromkeys(ways, 0)
    started = time.perf_counter()
    for place, one in enumerate(population(count, seed=seed)):
        area = float(np.pi / 4.0 * one.exit_diameter**2 * 10 ** random.uniform(*DRAG_LOADING))
        table = known_by(one, random, more=False)
        benches = {size: bench_of(one, size, random) for size in PLANS}
        texts = {ways[0]: (table, None), ways[1]: (table, benches[3]),
                 ways[2]: (table, benches[12]), ways[3]: (one.text, benches[12])}
        for way, (text, bench) in texts.items():
            try:
                answer = judged(one, text if bench is None else fitted_file(text, bench), area)
            except ValueError as error:
                print(one.family, way, error, flush=True)
                answer = None
            if answer is None:
                refused[way] += 1
            else:
                found[way].append(answer)
                print(place, one.family, way, *answer, flush=True)
    rows = []
    for way in ways:
        held, wide = (np.array([one[side] for one in found[way]]) for side in (0, 1))
        rows.append(dict(zip(COLUMNS, (
            way, len(held), refused[way], *(f"{100.0 * x:.0f}" for x in np.nanmean(held, axis=0)),
            *(f"{100.0 * x:.1f}" for x in np.nanmedian(wide, axis=0)), seed), strict=True)))
        print(*(f"{key} {value}" for key, value in rows[-1].items()), sep=", ")
    print(f"{time.perf_counter() - started:.0f} s")
    if "--keep" in sys.argv:
        with KEPT.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
