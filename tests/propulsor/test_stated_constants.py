"""Constants of the propulsor, each against what was published elsewhere.

``python -m tests.tools.constants`` changes every one of them by a tenth; these notice.
"""

from __future__ import annotations

import pytest

from thrustlapse.propulsor.ducted_match import SONIC_FLOW_FUNCTION
from thrustlapse.propulsor.unpowered import BROADSIDE_DRAG


def test_an_eye_chokes_at_the_greatest_flow_function():
    # closed form: flow over area, density and speed of sound at rest at Mach 1; (5/6)^3 for air
    assert pytest.approx(125.0 / 216.0, rel=1e-12) == SONIC_FLOW_FUNCTION


def test_a_blade_across_the_stream_is_a_plate():
    # NASA TM-82944 (Viterna and Janetzke, 1982): greatest drag coefficient of a blade 1.11 + 0.018
    # AR; propeller blades have aspect ratios of 1 to 7
    assert 1.11 + 0.018 * 1.0 < BROADSIDE_DRAG < 1.11 + 0.018 * 7.0
