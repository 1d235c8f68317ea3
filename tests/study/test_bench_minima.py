"""A bench fit ends where the readings are met best, and says so where nothing meets them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.tools.bench_truths import INSIDE, NAME, benches, scenario
from thrustlapse.bench.readings import bench_readings
from thrustlapse.study.bench_fit import UNLIKELY, fit_bench


@pytest.mark.parametrize(("seed", "place"), [(12, 2), (30, 1)])
def test_a_limit_of_the_drive_that_changes_hides_no_better_fit(seed: int, place: int) -> None:
    """Readings of the model itself fit it: what held the shut machine's watts is found out.

    Beside a torque constant with which the cap holds every reading, chi-square has a dip behind a
    rise where full voltage holds the one with the outlet shut; without that its watts lie seven or
    more deviations off.
    """
    read = benches(INSIDE, 12, 4, seed).readings[place]
    fit = fit_bench(scenario().candidates[NAME], read, check_robust=False)
    assert fit.probability > UNLIKELY
    assert max(abs(one.deviations) for one in fit.residuals) < 4.0


def test_another_machine_that_fits_nearly_as_well_is_told_of() -> None:
    """The cap may hold all of these readings, or full voltage some: both fit."""
    read = benches("map's form off by 5 %", 12, 4, 1).readings[3]
    fit = fit_bench(scenario().candidates[NAME], read, check_robust=False)
    told = [text for text in fit.messages if text.startswith("another machine fits")]
    assert len(told) == 1
    assert "torque constant" in told[0]


def test_readings_that_no_smooth_machine_gives_contradict_it() -> None:
    """The same watts at half the speed, with a nozzle between two others: no fit swallows that."""
    read = bench_readings(
        nozzle_diameter=[0.016, 0.014, 0.018], voltage=[24.2, 24.2, 24.0],
        thrust=[1.058, 3.736, 3.848], electrical_power=[415.0, 404.0, 415.0],
        shaft_speed=[3684.0, 7574.0, 7123.0], air_temperature=288.15, air_pressure=101325.0)
    fit = fit_bench(scenario().candidates[NAME], read, check_robust=False, starts=2)
    assert fit.probability < UNLIKELY
    assert any("do not fit together" in text for text in fit.messages)
    spread = np.array([one.spread / one.read for one in fit.residuals])
    assert spread.max() < 0.2  # no condition's own spread hides it
