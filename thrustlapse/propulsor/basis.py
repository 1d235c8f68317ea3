"""On which footing candidates are compared."""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.arrays import Values

AS_GIVEN = "as given"
EQUAL_POWER = "same electrical power"
PER_MASS = "thrust per installed mass"
PER_AREA = "thrust per frontal area"

FOOTINGS = (AS_GIVEN, EQUAL_POWER, PER_MASS, PER_AREA)
"""Footings by the words a scenario uses."""

READ_IN = {PER_MASS: ("N/kg", "N/kg", 1.0), PER_AREA: ("N/m^2", "N/cm^2", 1e-4)}
"""SI unit of what a footing compares, the unit people read, and the factor between, where not N."""


def measure_unit(footing: str) -> str:
    """SI unit of what a footing compares."""
    return READ_IN[footing][0] if footing in READ_IN else "N"


def measure_display(footing: str) -> tuple[str, float]:
    """Unit in which people read what a footing compares, and the factor from the SI unit."""
    return READ_IN[footing][1:] if footing in READ_IN else ("N", 1.0)


@dataclass(frozen=True, kw_only=True)
class Basis:
    """A footing, and what "same electrical power" refers to.

    Parameters
    ----------
    footing : str
        One of :data:`FOOTINGS`
    reference : str, optional
        Name of the candidate whose electrical power every other one is held to
    electrical_power : array_like, optional
        Electrical power of a whole candidate that every one is held to, in place of it [W]
    """

    footing: str = AS_GIVEN
    reference: str | None = None
    electrical_power: Values | None = None
