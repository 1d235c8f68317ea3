"""Scenario texts of machines known by a few readings, and of a small aircraft for them."""

from __future__ import annotations

AIRFRAME = """[airframe]
mass = "0.7 kg"
wing_area = "0.2 m^2"
span = "1.2 m"
"""

MACHINE = """[candidates.mine]
kind = "blower"
[candidates.mine.readings]
thrust = "2.1 N"
electrical_power = "250 W"
exit_diameter = "24 mm"
"""

LABELLED_PROPELLER = """[candidates.prop]
kind = "propeller"
diameter = "9 in"
[candidates.prop.table]
source = "pitch"
pitch = "6 in"
"""

PROPELLER_READINGS = """[candidates.prop.readings]
thrust = "5.5 N"
electrical_power = "90 W"
"""


def machine(*, kind: str = "blower", thrust: str = "2.1 N", bore: str = "24 mm") -> str:
    """A ducted machine of a kind by other readings."""
    return (MACHINE.replace("blower", kind).replace("2.1 N", thrust).replace("24 mm", bore))


def scenario_text(*lines: str) -> str:
    """A scenario of these parts."""
    return "\n".join(('title = "What I have"', *lines))
