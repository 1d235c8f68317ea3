"""Top speeds of many draws at once, against closed forms and the one-by-one search."""

from __future__ import annotations

import numpy as np
import pytest

from thrustlapse.aircraft.level_batch import Outcome, level_batch, read_straight
from thrustlapse.arrays import Array

GRID = np.linspace(0.0, 60.0, 61)
LAUNCH, STALL = np.full(1, 12.0), np.full(1, 10.0)


def parasite(area: float) -> object:
    """Drag of a bare drag area, closed form of physics: V = sqrt(2 F / (rho f))."""
    return lambda speed: 0.5 * 1.2 * area * speed**2


def test_constant_thrust_meets_parasite_drag_where_the_closed_form_says() -> None:
    force = np.linspace(1.0, 4.0, 7)
    found = level_batch(grid=GRID, thrust=np.repeat(force[:, None], 61, axis=1),
                        drag=parasite(4e-3), stall=np.full(7, 10.0),  # type: ignore[arg-type]
                        launch=np.full(7, 12.0))
    assert found.top_speed == pytest.approx(np.sqrt(2.0 * force / (1.2 * 4e-3)), rel=1e-9)
    assert (found.outcome == Outcome.REACHED).all()


def one(thrust: Array, *, launch: float = 12.0, stall: float = 10.0) -> tuple[float, Outcome]:
    found = level_batch(grid=GRID, thrust=thrust[None, :],
                        drag=parasite(4e-3), stall=np.array([stall]),  # type: ignore[arg-type]
                        launch=np.array([launch]))
    return float(found.top_speed[0]), Outcome(int(found.outcome[0]))


def test_every_outcome_by_its_cause() -> None:
    push = np.full(61, 2.0)
    assert one(push)[1] is Outcome.REACHED
    assert one(np.full(61, 20.0))[1] is Outcome.STILL_GAINING
    assert one(push, launch=9.0)[1] is Outcome.BELOW_STALL
    assert one(np.full(61, 0.1))[1] is Outcome.SHORT_OF_THRUST
    top, outcome = one(push, launch=40.0)
    assert outcome is Outcome.SLOWS
    assert top == pytest.approx(np.sqrt(4.0 / (1.2 * 4e-3)), rel=1e-9)
    hole = np.where(GRID > 20.0, np.nan, 2.0)
    assert one(hole)[1] is Outcome.STILL_GAINING
    assert np.isnan(one(hole)[0])
    assert one(np.where(GRID < 14.0, np.nan, 2.0))[1] is Outcome.UNKNOWN


def test_what_lies_beyond_a_gap_is_not_reached() -> None:
    gap = np.where((GRID > 15.0) & (GRID < 17.0), np.nan, 2.0)
    assert one(gap)[1] is Outcome.STILL_GAINING


def test_reading_straight_ignores_an_unknown_neighbour_at_a_grid_point() -> None:
    values = np.array([[1.0, 2.0, np.nan]])
    got = read_straight(np.arange(3.0), values, np.array([[0.5, 1.0, 1.5, 2.0]]))
    assert got[0, :2] == pytest.approx([1.5, 2.0])
    assert np.isnan(got[0, 2:]).all()


def test_every_outcome_has_words_of_its_own_and_two_of_them_fly() -> None:
    assert len({outcome.words for outcome in Outcome}) == len(Outcome)
    assert {outcome for outcome in Outcome if outcome.flies} == {Outcome.REACHED, Outcome.SLOWS}
