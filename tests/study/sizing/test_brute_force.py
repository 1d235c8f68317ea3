"""The optimiser against brute force: grids of a million designs, from ``sizing_trial.csv``."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import thrustlapse as tl
from tests.tools.sizing_trial import SCENARIO, kept
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.sizing.merit import judged
from thrustlapse.study.sizing.walk import Piece, Plan, solved

READ = tl.read_scenario(SCENARIO)
KINDS, RULES, EFFORT = kinds(READ), rules(READ), Plan().first

SHORT = 2e-3
"""How far below the best of the grid the best found may stay [-]."""

SHARE = 0.01
"""Most designs worked out at a point, over those of the grid [-]."""

@pytest.mark.parametrize("name", list(KINDS))
def test_no_grid_of_a_million_designs_holds_a_better_one(name: str) -> None:
    """The better of two runs, as at the first points of a study, each from samples alone."""
    kind = KINDS[name]
    rows = [row for row in kept() if row["kind"] == kind.name]
    speed, power, best = (np.array([float(row[key]) for row in rows])
                          for key in ("airspeed_m_per_s", "power_W", "best_N"))
    places = np.array([[float(one) for one in row["places"].split()] for row in rows])
    value, beyond = judged(kind, RULES, places, airspeed=speed, power=power)
    np.testing.assert_allclose(value, best, rtol=1e-4)  # of this code
    assert np.all(beyond < 1e-4)
    runs = [solved(Piece(kind=kind, rules=RULES, airspeed=speed, power=power, start=None,
                         effort=replace(EFFORT, seed=seed))) for seed in (0, 1)]
    found = np.max([run.value[:, 0] for run in runs], axis=0)
    assert np.all(found >= best - SHORT * np.abs(best))
    spent = sum(run.evaluations for run in runs) / len(rows)
    assert all(int(row["designs"]) >= 1_000_000 and spent <= SHARE * int(row["designs"])
               for row in rows)
