"""Heat: of the air against the duct, of motor and cells, and of a machine that is shut."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.glossary import read_as
from thrustlapse.power.pack import charged_resistance
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.limits.limit import Limit, Reading
from thrustlapse.study.limits.states import States

CLOSE = 0.03
"""Room below a softening point, as a share of its absolute temperature, from which it is close:
10 degrees (judgement: hot spots)."""

CELL_CURRENT = 10.0
"""Current over capacity of a cell [1/h] from which ordinary cells are usually overloaded (common
practice, no source; cells made for it stand several times as much: give current_rating)."""

MOTOR_SHARE = 0.25
"""Share of its electrical power that a motor turns into heat from which it is told as a check
(judgement: good motors at their point lose 10 to 20 %)."""

SHUT_SHARE = 0.3
"""Power of a shut machine over its power at rest from which it is told as a check (judgement)."""


def _motor_heat(states: States) -> Array:
    """Heat of one motor at every point [W]; of an efficiency alone there is none here."""
    def heat(point: OperatingPoint) -> Array:
        return np.where(point.valid, point.ledger.winding_heat + point.ledger.no_load_heat, np.nan)

    return states.of(heat)


def _motor_share(states: States) -> Array | None:
    """Share of its power that a motor turns into heat where it is hottest: one with hardly any
    load loses a large share of little."""
    heat = _motor_heat(states)
    power = states.of(lambda point: point.electrical_power) / states.candidate.count
    if not np.any(heat > 0.0):
        return None
    worst = np.argmax(np.nan_to_num(heat, nan=-np.inf), axis=-1)[..., None]
    return np.asarray(np.take_along_axis(heat, worst, axis=-1)
                      / np.take_along_axis(power, worst, axis=-1))


def _cell_rate(states: States) -> Array | None:
    if states.pack is None:
        return None
    return np.asarray(states.each("current") / (np.asarray(states.pack.cell_capacity)
                                                * states.pack.parallel))


def _cell_words(at: Reading) -> str:
    pack = at.states.pack
    assert pack is not None
    each = at.value * float(np.max(np.asarray(pack.cell_capacity)))
    warms = each**2 * float(np.max(charged_resistance(pack)))
    return (f"each cell gives {each:.1f} A, its capacity {3600.0 * at.value:.1f} times an hour, "
            f"and turns {warms:.1f} W into heat")


def _shut_power(states: States) -> Array | None:
    if states.shut is None or not np.any(states.shut.electrical_power > 0.0):
        return None
    return states.shut.electrical_power


def _shut_bound(states: States) -> Values | None:
    rest = np.atleast_1d(states.rest.electrical_power)
    return SHUT_SHARE * np.where(rest > 0.0, rest, np.nan)


LIMITS = (
    Limit(name="duct temperature", meaning="the air is hotter than the duct's plastic stands",
          unit="K", value=lambda states: states.each("exit_temperature"),
          bound=lambda states: states.candidate.ratings.duct_softening,
          ranks={"stop": 0.0, "check": CLOSE, "note": np.inf},
          source="softening temperature as given",
          text=lambda at: f"the air reaches {read_as(at.value, 'degC'):.0f} °C in a duct that "
                          f"softens at {read_as(at.bound, 'degC'):.0f} °C",
          remedy=lambda at: "" if at.rank == "note"
          else "a plastic that stays hard in this heat, or less power"),
    Limit(name="motor heat", meaning="the motor turns a large share of its power into heat",
          unit="", value=_motor_share, bound=lambda _: MOTOR_SHARE,
          ranks={"check": 0.0, "note": np.inf}, source="judgement",
          text=lambda at: f"each motor turns up to {np.nanmax(_motor_heat(at.states)):.0f} W into "
                          f"heat, {100.0 * at.value:.0f} % of its share of the power there",
          about="whether it sheds them is known only where a flight has its heat numbers",
          remedy=lambda at: "" if at.rank == "note" else "a motor of less winding resistance or "
          "another speed constant; feel it after ten seconds, then after thirty"),
    Limit(name="cell current", meaning="cells give more than ordinary ones should", unit="1/s",
          value=_cell_rate, bound=lambda _: CELL_CURRENT / 3600.0,
          ranks={"check": 0.0, "note": np.inf}, source="common practice", text=_cell_words,
          about="ordinary cells are good for about ten times an hour",
          remedy=lambda at: "" if at.rank == "note"
          else "more cells in parallel; no charge or discharge above 60 °C"),
    Limit(name="heat when shut", meaning="a blocked machine keeps much heat", unit="W",
          value=_shut_power, bound=_shut_bound, ranks={"check": 0.0, "note": np.inf},
          source="judgement: 30 % of the power at rest",
          text=lambda at: f"with inlet or outlet blocked, up to {at.value:.0f} W heats it",
          about="no air carries that heat away",
          remedy="nothing loose near the inlet; cut the power at once when the sound rises"),
)
