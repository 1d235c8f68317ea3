"""On which footing candidates are compared."""

from __future__ import annotations

from dataclasses import dataclass

FOOTINGS = ("as given", "same electrical power", "thrust per installed mass",
            "thrust per frontal area")
"""Footings by the words a scenario uses."""


@dataclass(frozen=True, kw_only=True)
class Basis:
    """A footing, and what "same electrical power" refers to.

    Parameters
    ----------
    footing : str
        One of :data:`FOOTINGS`
    reference : str, optional
        Name of the candidate whose electrical power every other one is held to
    electrical_power : float, optional
        Electrical power of a whole candidate that every one is held to, in place of it [W]
    """

    footing: str = FOOTINGS[0]
    reference: str | None = None
    electrical_power: float | None = None
