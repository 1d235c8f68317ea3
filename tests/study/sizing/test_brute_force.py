"""The optimiser against brute force: grids of a million designs, from ``sizing_trial.csv``."""

from __future__ import annotations

import numpy as np
import pytest

import thrustlapse as tl
from tests.tools.sizing_trial import AGAIN, SCENARIO, kept, searched
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.sizing.merit import judged

READ = tl.read_scenario(SCENARIO)
KINDS, RULES = kinds(READ), rules(READ)
MAKE = "run the optimiser anew: python -m tests.tools.sizing_trial --found"

SHORT = 2e-3
"""How far below the best of the grid the best found may stay [-]."""

SHARE = 0.01
"""Most designs worked out at a point, over those of the grid [-]."""


@pytest.mark.parametrize("name", list(KINDS))
def test_no_grid_of_a_million_designs_holds_a_better_one(name: str) -> None:
    """At all points what was found and kept, of this version; at the first of them, which a seed
    chose, found again now."""
    rows = [row for row in kept() if row["kind"] == KINDS[name].name]
    best, found, spent, designs = (np.array([float(row[key]) for row in rows]) for key in (
        "best_N", "found_N", "found_designs", "designs"))
    assert {row["found_version"] for row in rows} == {tl.__version__}, MAKE
    again, spent_again = searched(KINDS[name], RULES, rows[:AGAIN])
    for value, least in ((found, best), (again, best[:AGAIN])):
        assert np.all(value >= least - SHORT * np.abs(least)), MAKE
    assert designs.min() >= 1_000_000
    assert max(spent.max(), spent_again) <= SHARE * designs.min()


@pytest.mark.parametrize("name", list(KINDS))
def test_the_best_of_a_grid_is_what_this_code_says_of_it(name: str) -> None:
    """History kept is of this model only as long as every best design is still worth the same."""
    rows = [row for row in kept() if row["kind"] == KINDS[name].name]
    speed, power, best = (np.array([float(row[key]) for row in rows])
                          for key in ("airspeed_m_per_s", "power_W", "best_N"))
    places = np.array([[float(one) for one in row["places"].split()] for row in rows])
    value, beyond = judged(KINDS[name], RULES, places, airspeed=speed, power=power)
    np.testing.assert_allclose(value, best, rtol=1e-4)
    assert np.all(beyond < 1e-4)
