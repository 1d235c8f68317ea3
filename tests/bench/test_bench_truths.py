"""The truths of the coverage benchmark: they follow from the seed, and are machines."""

from __future__ import annotations

import numpy as np
import pytest

from tests.tools.bench_truths import AIRSPEEDS, INSIDE, KINDS, SHOWN, benches
from tests.tools.foreign_blower import foreign


def test_truths_and_readings_follow_from_the_seed_alone() -> None:
    one, other = (benches(INSIDE, 3, 4, 7) for _ in range(2))
    assert np.array_equal(one.thrust, other.thrust)
    for a, b in zip(one.readings, other.readings, strict=True):
        assert np.array_equal(a.thrust, b.thrust)
    assert not np.array_equal(one.thrust, benches(INSIDE, 3, 4, 8).thrust)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_gives_readings_and_a_thrust_that_falls_with_speed(kind) -> None:
    made = benches(kind, 12, 4, 1)
    assert made.thrust.shape == (4, AIRSPEEDS.size)
    assert np.all(np.diff(made.thrust, axis=1) < 0.0)
    for one in made.readings:
        assert all(np.isfinite(getattr(one, name)).all() for name in SHOWN)


def test_the_foreign_blower_balances_its_nozzle_and_shuts() -> None:
    """By hand: without losses, T = 2 q A at rest; shut, the head is psi U^2 of still air."""
    machine = {"head": 0.55, "reach": 0.3, "work": 0.8, "disc": 0.012, "tip": 0.04,
               "throat": 10.0, "bore": 10.0, "lip": 0.0, "inlet": 0.0, "ram": 1.0, "duct": 0.0,
               "discharge": 1.0, "velocity": 1.0, "kt": 2e-3, "winding": 0.06, "idle": 1.0,
               "growth": 0.0, "controller": 1.0, "leads": 0.0}
    found = foreign(machine, exit_diameter=np.array([0.01, 0.01]), voltage=np.full(2, 6.0),
                    source=0.0, cap=np.full(2, 1e6), airspeed=np.zeros(2),
                    shut=np.array([False, True]))
    area = np.pi / 4.0 * 0.01**2
    total = found["static_pressure"][0]  # behind a bore so wide that nothing moves there
    # compressible by a few per cent, and a discharge that moves by less than one
    assert found["thrust"][0] == pytest.approx(2.0 * total * area, rel=0.03)
    tip = 0.5 * 0.04 * found["shaft_speed"][1]
    assert found["static_pressure"][1] == pytest.approx(101325.0 / (287.05 * 288.15) * 0.55
                                                        * tip**2, rel=1e-6)
    assert found["thrust"][1] == 0.0
