"""Current and voltage against what wire, connector, switch and fuse stand."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.power.wiring import CHASSIS, wire_resistance
from thrustlapse.study.comparison import Finding
from thrustlapse.study.limits.limit import Limit, Reading
from thrustlapse.study.limits.states import States

CLOSE = 0.8
"""Share of a rating from which a part is called close to it (common practice: run at 80 %)."""

FUSE_BELOW = 1.25
"""Fuse over running current below which it may blow in flight (common practice)."""

WIRE_DROP = 0.03
"""Share of the resting voltage lost in the wire from which thicker wire is advised (practice)."""

INRUSH_MANY = 10.0
"""Rating of a switch that a current of closing may exceed for an instant (from memory)."""


def _current(states: States) -> Array:
    return states.each("current")


def _volts(states: States) -> Array:
    return np.atleast_1d(states.candidate.unit.supply.voltage)


def _wire(states: States) -> float | None:
    gauge = None if states.wiring is None else states.wiring.gauge
    return None if gauge is None else CHASSIS[gauge]


def _carrying(part: str, at: Reading) -> str:
    share = at.value / at.bound
    told = (f"rated for {100.0 / share:.0f} % of what flows" if share > 1.0
            else f"{100.0 * (1.0 - share):.0f} % to spare")
    return f"{part}: {at.value:.1f} A, rated {at.bound:.1f} A, {told}"


CARRIES = {"stop": 0.0, "check": 1.0 - CLOSE, "note": np.inf}


def _rush(states: States) -> Array | None:
    source = states.candidate.unit.supply
    inside = np.asarray(source.resistance, dtype=float)
    return np.atleast_1d(source.voltage / np.where(inside > 0.0, inside, np.nan))


def _rush_bound(states: States) -> Values | None:
    rating = states.rating("switch_rating")
    return None if rating is None else INRUSH_MANY * rating


def _drop(states: States) -> Array | None:
    wiring = states.wiring
    if wiring is None or wiring.gauge is None or wiring.length is None:
        return None
    return states.each("current") * wire_resistance(gauge=wiring.gauge, length=wiring.length)


def _drop_words(at: Reading) -> str:
    wiring = at.states.wiring
    assert wiring is not None
    assert wiring.gauge is not None
    assert wiring.length is not None
    ohms = float(np.max(wire_resistance(gauge=wiring.gauge, length=wiring.length)))
    return (f"{float(np.max(wiring.length)):.2f} m of AWG {wiring.gauge} lose {at.value:.2f} V and "
            f"turn {at.value**2 / ohms:.0f} W into heat")


def _weakest(states: States) -> Values | None:
    known = [one for one in (_wire(states), states.rating("connector_rating")) if one is not None]
    return 2.0 * np.min(np.stack(np.broadcast_arrays(*known)), axis=0) if known else None


def _switch_unknown(states: States) -> Finding | None:
    if states.rating("switch_rating") is None:
        return None
    volts = float(np.max(_volts(states)))
    return Finding(rank="check", subject=states.candidate.name, value=volts, limit=None, unit="V",
                   change="give switch_voltage from the switch's data sheet, for direct current",
                   text=f"the pack rests at {volts:.1f} V, and up to which voltage the switch "
                        "breaks direct current is not given")


LIMITS = (
    Limit(name="switch current", meaning="the switch carries more than it is rated for", unit="A",
          value=_current, bound=lambda states: states.rating("switch_rating"), ranks=CARRIES,
          text=lambda at: _carrying("switch", at), source="as given", curve="current",
          remedy=lambda at: "" if at.rank == "note" else "a switch rated for that direct current: "
          "one rated for less welds shut and then cannot stop the machine"),
    Limit(name="connector current", meaning="the connector carries more than it is rated for",
          unit="A", value=_current, bound=lambda states: states.rating("connector_rating"),
          ranks=CARRIES, text=lambda at: _carrying("connector", at), source="as given",
          curve="current", remedy=lambda at: "" if at.rank == "note"
          else "a larger connector, or a lower power limit"),
    Limit(name="wire current", meaning="the pack's wire carries more than its rating in open air",
          unit="A", value=_current, bound=_wire, ranks=CARRIES, curve="current",
          text=lambda at: _carrying(
              f"AWG {at.states.wiring.gauge if at.states.wiring else ''} wire", at),
          source="rule of thumb for one wire in open air",
          remedy=lambda at: "" if at.rank == "note" else "thicker wire, or a lower power limit"),
    Limit(name="fuse", meaning="the fuse is rated for less than what flows", unit="A",
          value=_current, bound=lambda states: states.rating("fuse_rating"), curve="current",
          ranks={"stop": 0.0, "check": 1.0 - 1.0 / FUSE_BELOW},
          text=lambda at: f"fuse of {at.bound:.1f} A with {at.value:.1f} A flowing: it may blow in "
                          "flight", source="common practice: 1.25 times what flows",
          remedy="a fuse of 1.25 to 1.5 times the running current"),
    Limit(name="fuse against wire", meaning="the fuse protects nothing that burns at less",
          unit="A", bound=_weakest, ranks={"check": 0.0},
          value=lambda states: None if (fuse := states.rating("fuse_rating")) is None
          else np.atleast_1d(fuse),
          text=lambda at: f"fuse of {at.value:.1f} A protects nothing that burns at less: wire and "
                          f"connector are rated {0.5 * at.bound:.1f} A",
          source="common practice: at most twice the weakest part",
          remedy="a smaller fuse, or thicker wire and connector"),
    Limit(name="switch voltage", meaning="the pack's voltage is above what the switch breaks",
          unit="V", value=_volts, bound=lambda states: states.rating("switch_voltage"),
          ranks={"stop": 0.0}, unrated=_switch_unknown,
          text=lambda at: f"switch breaks direct current up to {at.bound:.0f} V, the pack rests at "
                          f"{at.value:.1f} V",
          remedy="a switch rated for direct current at the pack's voltage: the arc of direct "
                 "current does not go out by itself"),
    Limit(name="closing current", meaning="empty capacitors draw more than a switch stands",
          unit="A", value=_rush, bound=_rush_bound, ranks={"check": 0.0, "note": np.inf},
          text=lambda at: "at the moment of closing, empty capacitors may draw up to "
                          f"{at.value:.0f} A (resting voltage over the resistance of pack and "
                          "leads)", source="ten times its rating for an instant, from memory",
          remedy="charge the controllers' capacitors through a resistor first"),
    Limit(name="wire drop", meaning="the pack's wire loses more voltage than is usual", unit="V",
          value=_drop, bound=lambda states: WIRE_DROP * _volts(states), ranks={"check": 0.0},
          text=_drop_words, source="common practice: 3 % of the resting voltage",
          remedy="thicker or shorter wire"),
)
