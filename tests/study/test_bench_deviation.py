"""An answer's deviation where what stands beside the fit errs farther to one side."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from thrustlapse.study.bench_next import Beside


def lognormal(factor: float, size: float) -> Beside:
    """Cumulants of size (e^(s z) - 1) by the parabola through z = 0 and +-sqrt(3)."""
    high, low = (size * np.expm1(side * np.sqrt(3.0) * np.log(factor)) for side in (1.0, -1.0))
    slope, bend = (high - low) / np.sqrt(12.0), (high + low) / 6.0
    return Beside(mean=bend, variance=slope**2 + 2.0 * bend**2,
                  third=6.0 * slope**2 * bend + 8.0 * bend**3)


def test_of_normal_errors_it_is_the_root_of_the_sum_of_squares() -> None:
    assert Beside(mean=0.0, variance=9.0, third=0.0).deviation(16.0) == pytest.approx(5.0)
    assert Beside(mean=0.0, variance=0.0, third=0.0).deviation(0.0) == 0.0


@pytest.mark.parametrize("size", [1.0, -1.0, 0.3])
@pytest.mark.parametrize("factor", [1.1, 1.4, 1.6])
def test_of_a_factor_95_percent_hold_95_percent(factor: float, size: float) -> None:
    """Closed form: the share of a lognormal number that lies within 1.96 deviations of its median.
    The deviation about the mean holds less; either sign of the error is the same."""
    found = lognormal(factor, size).deviation(0.0)
    log = np.log(factor)

    def held(half: float) -> float:
        up, down = np.log1p(half), np.log(max(1.0 - half, 1e-300))
        return float(ndtr(up / log) - ndtr(down / log))

    half = 1.96 * found / abs(size)
    assert held(half) == pytest.approx(0.95, abs=0.003)
    plain = 1.96 * np.sqrt(lognormal(factor, size).variance) / abs(size)
    assert held(plain) < held(half)


def test_of_a_factor_beside_a_normal_error_too() -> None:
    """A million sums of both, of equal variance."""
    beside = lognormal(1.4, 2.0)
    normal = np.sqrt(beside.variance)
    random = np.random.default_rng(3)
    error = 2.0 * np.expm1(np.log(1.4) * random.standard_normal(1_000_000)) \
        + normal * random.standard_normal(1_000_000)
    assert np.mean(np.abs(error) < 1.96 * beside.deviation(beside.variance)) == pytest.approx(
        0.95, abs=0.002)
