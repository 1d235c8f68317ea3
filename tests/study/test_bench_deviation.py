"""An answer's deviation where what stands beside the fit errs farther to one side."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ndtr

from thrustlapse.study.experiment_design import Beside


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
@pytest.mark.parametrize("factor", [1.05, 1.2, 1.4])
def test_of_a_factor_it_lies_between_what_holds_95_and_68_percent(factor: float,
                                                                  size: float) -> None:
    """Closed form: shares of a lognormal number within 1.96 deviations of its median and within
    one; either sign is the same. The expansion is off by 4 % at a factor of 1.4."""
    found = lognormal(factor, size).deviation(0.0) / abs(size)
    log = np.log(factor)

    def held(half: float) -> float:
        return float(ndtr(np.log1p(half) / log) - ndtr(np.log(max(1.0 - half, 1e-300)) / log))

    exact = [brentq(lambda half, share=share: held(half) - share, 1e-3, 5.0) / times
             for share, times in ((0.95, 1.959964), (0.68, 0.994458))]
    assert exact[1] < exact[0]
    assert found == pytest.approx(np.mean(exact), rel=0.04)
    assert 0.945 < held(1.96 * found) < 0.951
    assert 0.68 < held(0.994458 * found) < 0.74


def test_of_a_factor_beside_a_normal_error_too() -> None:
    """A million sums of both, of equal variance: next to a normal error."""
    beside = lognormal(1.4, 2.0)
    normal = np.sqrt(beside.variance)
    random = np.random.default_rng(3)
    error = 2.0 * np.expm1(np.log(1.4) * random.standard_normal(1_000_000)) \
        + normal * random.standard_normal(1_000_000)
    found = beside.deviation(beside.variance)
    assert np.mean(np.abs(error) < 1.96 * found) == pytest.approx(0.95, abs=0.003)
    assert np.mean(np.abs(error) < 0.994458 * found) == pytest.approx(0.69, abs=0.01)
