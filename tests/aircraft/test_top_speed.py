"""Top speeds of many draws at once, against closed forms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.level_flight import top_speed
from thrustlapse.aircraft.top_speed import Outcome, TopSpeeds, top_speeds
from thrustlapse.arrays import Array

AIR = Air(pressure=1.2 * 287.05287 * 288.15, temperature=288.15)
GRID = np.linspace(0.0, 60.0, 61)


def bare(launch: float = 12.0) -> Airframe:
    """A bare drag area of 40 cm^2: V = sqrt(2 F / (rho f)), closed form; it stalls at 10 m/s."""
    return Airframe(mass=0.0, wing_area=0.1, minimum_drag_coefficient=0.04, induced_factor=1e-15,
                    greatest_lift=9.80665 / (0.5 * 1.2 * 10.0**2 * 0.1), launch_speed=launch,
                    drag_rise_mach=2.0)


def fly(law: Callable[[Array], Array], *, launch: float = 12.0, known: bool = False,
        needed: bool = False) -> TopSpeeds:
    """Top speed of one case with a thrust law [N]; ``known``: flown on GRID before."""
    return top_speeds(lambda _, v: np.asarray(law(v)), bare(launch), mass=1.0, air=AIR, cases=1,
                      needed=needed, flown=(GRID, law(GRID)[None, :]) if known else None)


def constant(force: float) -> Callable[[Array], Array]:
    return lambda v: force + 0.0 * v


@pytest.mark.parametrize("known", [False, True])
def test_constant_thrust_meets_parasite_drag_where_the_closed_form_says(known: bool) -> None:
    force = np.linspace(1.0, 4.0, 7)[:, None]
    found = top_speeds(
        lambda index, v: (force if index is None else force[index]) + 0.0 * v, bare(), mass=1.0,
        air=AIR, cases=7, flown=(GRID, force + 0.0 * GRID) if known else None)
    assert found.speed == pytest.approx(np.sqrt(2.0 * force[:, 0] / (1.2 * 4e-3)), rel=1e-9)
    assert (found.outcome == Outcome.REACHED).all()


@pytest.mark.parametrize("known", [False, True])
def test_every_outcome_by_its_cause(known: bool) -> None:
    def one(law: Callable[[Array], Array], launch: float = 12.0) -> tuple[float, Outcome]:
        found = fly(law, launch=launch, known=known)
        return float(found.speed[0]), Outcome(int(found.outcome[0]))

    assert one(constant(2.0))[1] is Outcome.REACHED
    assert one(constant(2000.0))[1] is Outcome.STILL_GAINING
    assert one(constant(2.0), 9.0)[1] is Outcome.BELOW_STALL
    assert one(constant(0.1))[1] is Outcome.SHORT_OF_THRUST
    top, outcome = one(constant(2.0), 40.0)
    assert outcome is Outcome.SLOWS
    assert top == pytest.approx(np.sqrt(4.0 / (1.2 * 4e-3)), rel=1e-9)
    hole = one(lambda v: np.where(v > 20.0, np.nan, 2.0))
    assert hole[1] is Outcome.STILL_GAINING
    assert np.isnan(hole[0])
    assert one(lambda v: np.where(v < 14.0, np.nan, 2.0))[1] is Outcome.UNKNOWN


@pytest.mark.parametrize("known", [False, True])
def test_what_lies_beyond_a_gap_is_not_reached(known: bool) -> None:
    """Neither faster through it, nor slower: launched at 50 m/s it would settle at 28.9 m/s."""
    def wide(low: float, high: float) -> Callable[[Array], Array]:
        return lambda v: np.where((v > low) & (v < high), np.nan, 2.0)

    up = fly(wide(13.0, 27.0), known=known)
    assert up.outcome == [Outcome.STILL_GAINING]
    assert 12.0 <= up.passed[0] <= 13.0 < up.unknown[0] < 27.0
    down = fly(wide(30.0, 49.0), launch=50.0, known=known)
    assert down.outcome == [Outcome.SHORT_OF_THRUST]


def test_where_thrust_is_short_the_launch_that_would_do_is_told() -> None:
    """Thrust that rises with airspeed^4, 2 N at 50 m/s, crosses drag upwards: closed form."""
    found = fly(lambda v: 2.0 * (v / 50.0) ** 4, needed=True)
    assert found.outcome == [Outcome.SHORT_OF_THRUST]
    assert found.needed == pytest.approx(np.sqrt(0.5 * 1.2 * 4e-3 / 2.0 * 50.0**4), rel=1e-9)
    assert np.isnan(fly(constant(0.1), needed=True).needed).all()
    assert np.isnan(fly(constant(2.0), needed=True).needed).all()


def test_a_balance_just_before_what_is_not_known_is_found() -> None:
    """History: the next airspeed looked at lay in the gap, and the top speed before it was lost."""
    top = np.sqrt(4.0 / (1.2 * 4e-3))
    found = fly(lambda v: np.where(v > top + 0.1, np.nan, 2.0))
    assert found.speed == pytest.approx(top, rel=1e-9)
    assert found.outcome == [Outcome.REACHED]


def test_one_case_tells_to_a_tenth_of_a_metre_a_second_how_far_its_thrust_is_known() -> None:
    found = top_speed(lambda v: np.where(v < 40.0, 9.0, np.nan), bare(), mass=1.0, air=AIR)
    assert np.isnan(found.top_speed)
    assert 39.9 < found.lowest_bound < 40.0


def test_every_outcome_has_words_of_its_own_and_two_of_them_fly() -> None:
    assert len({outcome.words for outcome in Outcome}) == len(Outcome)
    assert {outcome for outcome in Outcome if outcome.flies} == {Outcome.REACHED, Outcome.SLOWS}
