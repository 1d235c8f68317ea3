"""Currents of pack, motor and lead against their ratings, and how far the pack sags."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.study.limits.limit import Limit
from thrustlapse.study.limits.states import States

SAG_LIMIT = 0.8
"""Terminal over open-circuit voltage below which cells are usually overloaded (common practice)."""


def _sag(states: States) -> Array:
    volts = states.candidate.unit.supply.voltage
    return states.of(lambda point: np.asarray(point.terminal_voltage / volts), "sag")


def _all_units(states: States) -> Values | None:
    rating = states.candidate.ratings.supply_current
    return None if rating is None else rating * states.candidate.count


LIMITS = (
    Limit(name="pack current", meaning="the pack carries more than it is rated for", unit="A",
          value=lambda states: states.each("current"),
          bound=lambda states: states.pack_current_rating, ranks={"stop": 0.0}, curve="current",
          text=lambda at: f"pack current reaches {at.value:.1f} A against a rating of "
                          f"{at.bound:.1f} A",
          remedy="more cells in parallel, or a lower power limit"),
    Limit(name="motor current", meaning="the motor carries more than it is rated for", unit="A",
          value=lambda states: states.each("motor_current"),
          bound=lambda states: states.candidate.ratings.motor_current, ranks={"stop": 0.0},
          curve="motor_current",
          text=lambda at: f"motor current reaches {at.value:.1f} A against a rating of "
                          f"{at.bound:.1f} A",
          remedy="a lower motor-current limit or a larger motor"),
    Limit(name="unit current", unit="A", curve="current", curve_bound=_all_units,
          meaning="wire or controller of one unit carries more than it is rated for",
          value=lambda states: states.each("current") / states.candidate.count,
          bound=lambda states: states.candidate.ratings.supply_current, ranks={"stop": 0.0},
          text=lambda at: f"wire or controller of one unit current reaches {at.value:.1f} A "
                          f"against a rating of {at.bound:.1f} A",
          remedy="thicker wire, or a lower supply-current limit"),
    Limit(name="pack sag", meaning="the pack sags more than cells usually stand", unit="",
          value=_sag, bound=lambda _: SAG_LIMIT, ranks={"check": 0.0}, least=True,
          source="common practice: 80 %",
          text=lambda at: f"the pack sags to {100 * at.value:.0f} % of its resting voltage",
          remedy="cells of lower resistance, or more of them in parallel"),
)
