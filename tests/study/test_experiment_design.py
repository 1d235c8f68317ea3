"""A reading taken once more is under the conditions of those that were taken."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.synthetic import MACHINE
from thrustlapse.bench.readings import bench_readings
from thrustlapse.power.pack import Supply
from thrustlapse.study.bench_fit import fit_bench
from thrustlapse.study.bench_model import show
from thrustlapse.study.experiment_design import AGAIN, possible_readings

SAGGING = replace(MACHINE, unit=replace(
    MACHINE.unit, supply=Supply(voltage=24.0, resistance=0.2),
    drive=replace(MACHINE.unit.drive, power_limit=np.inf)))


@pytest.mark.parametrize("conditions", [{}, {"duty": 0.6}, {"voltage": 20.0}])
def test_once_more_is_as_before(conditions: dict[str, float]) -> None:
    """History: without a voltage the pack no longer sagged, and a duty that was read was full."""
    plan = bench_readings(thrust=np.ones(2), electrical_power=np.ones(2), setting=("low", "low"),
                          air_temperature=288.15, air_pressure=101325.0, **conditions)
    exact = show(SAGGING, plan, (), np.zeros((1, 0))).values
    fit = fit_bench(SAGGING, replace(plan, **{
        name: exact[name][0] for name in ("thrust", "electrical_power")}), starts=1,
        check_robust=False)
    again, words = possible_readings(fit)
    assert words[0] == AGAIN
    watts, read = (show(fit.given, each, fit.unknowns, fit.values[None]).values["electrical_power"]
                   for each in (again, fit.readings))
    assert watts[0, 0] == pytest.approx(read[0, 0], rel=1e-9)


def test_of_settings_used_alike_the_first_is_used_again() -> None:
    """History: which one came from the order of a set of words, another in every run."""
    names = tuple(f"setting {letter}" for letter in "hgfedcba")
    plan = bench_readings(thrust=np.full(8, 2.0), electrical_power=np.full(8, 300.0),
                          setting=names, voltage=24.0, air_temperature=288.15,
                          air_pressure=101325.0)
    fit = fit_bench(MACHINE, plan, starts=1, check_robust=False, chosen=())
    assert set(possible_readings(fit)[0].setting) == {names[0]}
