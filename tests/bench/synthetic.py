"""Invented benches of a known machine: truths drawn from the priors, readings with noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.machines import BLOWER, candidate
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import BenchReadings, bench_readings
from thrustlapse.power.pack import Supply
from thrustlapse.study.bench_fit import FittedMachine, fit_bench
from thrustlapse.study.bench_model import show
from thrustlapse.study.bench_unknowns import setting_unknown, unknowns_of

MACHINE = candidate(replace(BLOWER, supply=Supply(voltage=24.0), drive=replace(
    BLOWER.drive, motor=replace(BLOWER.drive.motor, no_load_current_slope=0.0))))

SHOWN = ("thrust", "electrical_power", "shaft_speed", "static_pressure")


def plan(readings: int) -> BenchReadings:
    """An afternoon without its readings: nozzles, blocked ends, voltages, in turn."""
    bores = np.array([0.016, 0.014, 0.018, 0.016, 0.012, 0.016, 0.020, 0.015, 0.016, 0.013])
    volts = np.array([24.0, 24.0, 24.0, 24.0, 24.0, 18.0, 24.0, 18.0, 24.0, 20.0])
    outlet = np.array([0, 0, 0, 1, 0, 0, 0, 0, 0, 0], dtype=bool)
    inlet = np.array([0, 0, 0, 0, 0, 0, 0, 0, 1, 0], dtype=bool)
    turn = np.arange(readings) % bores.size
    return bench_readings(nozzle_diameter=bores[turn], voltage=volts[turn],
                          outlet_blocked=outlet[turn], inlet_blocked=inlet[turn],
                          air_temperature=288.15, air_pressure=101325.0,
                          **{name: np.ones(readings) for name in SHOWN})


def bench(seed: int, readings: int = 10) -> tuple[BenchReadings, np.ndarray]:
    """Noisy readings of a machine drawn from the priors, and its true values."""
    random = np.random.default_rng(seed)
    asked = plan(readings)
    unknowns = (*unknowns_of(MACHINE), setting_unknown(MACHINE.unit, asked.setting[0]))
    while True:
        scaled = random.standard_normal(len(unknowns))
        scaled[-1] *= 0.25  # a cap far above what the voltage gives would be no setting
        truth = np.array([float(one.to_value(z)) for one, z in zip(unknowns, scaled, strict=True)])
        shown = show(MACHINE, asked, unknowns, truth[None]).values
        if all(np.isfinite(shown[name]).all() for name in SHOWN):
            break
    exact = replace(asked, **{name: shown[name][0] for name in SHOWN})
    spread = with_default_uncertainty(exact).spread
    noisy = {name: getattr(exact, name) + spread[name] * random.standard_normal(readings)
             for name in (*SHOWN, "voltage", "nozzle_diameter")}
    return replace(exact, spread=spread, **noisy), truth


def fitted(seed: int, readings: int = 10) -> tuple[FittedMachine, np.ndarray]:
    """A fit of a synthetic bench, and the truth."""
    taken, truth = bench(seed, readings)
    return fit_bench(MACHINE, taken, check_robust=False, starts=8), truth


def inside(fit: FittedMachine, truth: np.ndarray) -> np.ndarray:
    """Which truths lie within the 95 % intervals, in the scaled unknowns."""
    known = (*unknowns_of(MACHINE), setting_unknown(MACHINE.unit, fit.readings.setting[0]))
    places = [[one.key for one in fit.unknowns].index(one.key) for one in known]
    scaled = np.array([one.to_scaled(value) for one, value in zip(known, truth, strict=True)])
    return np.abs(scaled - fit.scaled[places]) < 1.959964 * np.sqrt(
        np.diag(fit.scaled_covariance)[places])
