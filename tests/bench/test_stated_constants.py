"""Constants of the bench, each against a closed form.

``python -m tests.tools.constants`` changes every one of them by a tenth; these notice.
"""

from __future__ import annotations

import pytest

from thrustlapse.bench.orifice import CHOKING


def test_air_chokes_at_the_critical_pressure_ratio():
    # (2 / (gamma + 1))^(gamma / (gamma - 1)) at 1.4
    assert pytest.approx((2.0 / 2.4) ** 3.5, rel=1e-3) == CHOKING
