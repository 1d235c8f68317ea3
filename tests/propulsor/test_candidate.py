"""External drag: booked once, by cause, and never a push."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.machines import BLOWER, PROPELLER, candidate
from thrustlapse.propulsor.candidate import Installation, external_drag, operate

SCRUBBED = Installation(pod_drag_area=2e-4, base_area=1e-3, base_drag_coefficient=0.13,
                        scrubbed_area=0.05, scrubbing_friction=0.005, frontal_area=4e-3)


def test_every_cause_by_hand() -> None:
    """Closed form: q f, q Cd A, and Cf S on the jet's excess of dynamic pressure."""
    found = external_drag(SCRUBBED, density=1.2, airspeed=20.0, jet_speed=80.0, additive=0.3)
    assert float(found["pod"]) == pytest.approx(240.0 * 2e-4)
    assert float(found["base"]) == pytest.approx(240.0 * 0.13e-3)
    assert float(found["scrubbing"]) == pytest.approx((3840.0 - 240.0) * 0.005 * 0.05)
    assert float(found["additive"]) == 0.3


def test_a_machine_without_a_jet_is_not_pushed_by_scrubbing() -> None:
    """A blocked machine at 150 m/s once showed 3.4 N of installed thrust: its jet speed of zero
    made the scrubbing negative."""
    blocked = replace(BLOWER, inlet=replace(BLOWER.inlet, facing=np.pi, ram_recovery=-0.9),
                      drive=replace(BLOWER.drive, power_limit=25.0))
    point = operate(replace(candidate(blocked), installation=SCRUBBED), airspeed=150.0)
    assert point.flags == "no through flow"
    dynamic = 0.5 * float(candidate(blocked).site.air().density) * 150.0**2
    assert float(point.installed_thrust) == pytest.approx(-dynamic * (2e-4 + 0.13e-3))


@pytest.mark.parametrize("unit", [BLOWER, PROPELLER])
def test_units_drag_as_many_times_as_there_are(unit) -> None:
    one = operate(replace(candidate(unit), installation=SCRUBBED), airspeed=25.0)
    two = operate(replace(candidate(unit, count=2), installation=SCRUBBED), airspeed=25.0)
    assert float(two.installed_thrust) == pytest.approx(
        2.0 * float(two.net_thrust) - float(two.external_drag), rel=1e-12)
    # two units sag the shared pack further, so each pushes and scrubs a little less
    assert float(one.external_drag) < float(two.external_drag) <= 2.0 * float(one.external_drag)
