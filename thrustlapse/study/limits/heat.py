"""Heat: of the air against the duct, of motor and cells, and of a machine that is shut."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.power.pack import Pack
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.states import States, largest

ZERO_CELSIUS = 273.15

CLOSE = 10.0
"""Room below a softening point from which it is close [K] (judgement: hot spots)."""

CELL_CURRENT = 10.0
"""Current over capacity of a cell [1/h] from which ordinary cells are usually overloaded (common
practice, no source; cells made for it stand several times as much: give current_rating)."""

MOTOR_SHARE = 0.25
"""Share of its electrical power that a motor turns into heat from which it is told as a check
(judgement: good motors at their point lose 10 to 20 %)."""

SHUT_SHARE = 0.3
"""Power of a shut machine over its power at rest from which it is told as a check (judgement)."""


def heat_findings(result: CandidateResult, candidate: Candidate, states: States,
                  pack: Pack | None) -> Iterator[Finding]:
    """What gets hot."""
    yield from _duct(result, candidate, states)
    yield from _motor(result)
    yield from _cells(result, states, pack)
    yield from _shut(result, candidate)


def _duct(result: CandidateResult, candidate: Candidate, states: States) -> Iterator[Finding]:
    limit = candidate.ratings.duct_softening
    hottest = largest(states.exit_temperature)
    if limit is None or not np.isfinite(hottest):
        return
    room = limit - hottest
    yield Finding(rank="stop" if room < 0.0 else "check" if room < CLOSE else "note",
                  subject=result.name, value=hottest, limit=limit, unit="K",
                  source="softening temperature as given",
                  change="a plastic that stays hard in this heat, or less power"
                  if room < CLOSE else "",
                  text=f"the air reaches {hottest - ZERO_CELSIUS:.0f} degC in a duct that softens "
                       f"at {limit - ZERO_CELSIUS:.0f} degC")


def _motor(result: CandidateResult) -> Iterator[Finding]:
    points = (result.curve, result.at_rest)
    # an efficiency alone does not say where the loss is: then there is no heat of the motor here
    heat = np.concatenate([np.ravel(np.where(
        point.valid, point.ledger.winding_heat + point.ledger.no_load_heat, np.nan))
        for point in points])
    power = np.concatenate([np.ravel(point.electrical_power) for point in points]) / result.count
    if not np.any(heat > 0.0):
        return
    # where it is hottest: a motor with hardly any load loses a large share of little
    worst = int(np.nanargmax(heat))
    watts, share = float(heat[worst]), float(heat[worst] / power[worst])
    yield Finding(
        rank="check" if share > MOTOR_SHARE else "note", subject=result.name, value=share,
        limit=MOTOR_SHARE, unit="", source="judgement",
        text=f"each motor turns up to {watts:.0f} W into heat, {100.0 * share:.0f} % of its share "
             "of the power there",
        about="whether it sheds them is known only where a flight has its heat numbers",
        change="a motor of less winding resistance or another speed constant; feel it after ten "
               "seconds, then after thirty" if share > MOTOR_SHARE else "")


def _cells(result: CandidateResult, states: States, pack: Pack | None) -> Iterator[Finding]:
    if pack is None:
        return
    amps = largest(states.current)
    capacity = float(np.max(np.asarray(pack.cell_capacity) * pack.parallel))
    if not np.isfinite(amps):
        return
    rate = 3600.0 * amps / capacity
    each = amps / float(np.max(np.asarray(pack.parallel)))
    warms = each**2 * float(np.max(np.asarray(pack.cell_resistance)))
    yield Finding(
        rank="check" if rate > CELL_CURRENT else "note", subject=result.name, value=rate / 3600.0,
        limit=CELL_CURRENT / 3600.0, unit="1/s", source="common practice",
        text=f"each cell gives {each:.1f} A, its capacity {rate:.1f} times an hour, and turns "
             f"{warms:.1f} W into heat", about="ordinary cells stand about ten times an hour",
        change="more cells in parallel; no charge or discharge above 60 degC"
        if rate > CELL_CURRENT else "")


def _shut(result: CandidateResult, candidate: Candidate) -> Iterator[Finding]:
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return
    air = candidate.site.air()
    shut = operate_blocked(unit, pressure=air.pressure, temperature=air.temperature,
                           inlet=np.array([True, False]))
    power = largest(shut.electrical_power)
    rest = largest(result.at_rest.electrical_power)
    if not power > 0.0 or not rest > 0.0:
        return
    yield Finding(
        rank="check" if power > SHUT_SHARE * rest else "note", subject=result.name, value=power,
        limit=SHUT_SHARE * rest, unit="W", source="judgement: 30 % of the power at rest",
        text=f"shut at inlet or outlet it takes up to {power:.0f} W, at its own limits",
        about="all of it stays in the machine as heat, for no air carries it away",
        change="nothing loose near the inlet; cut the power at once when the sound rises")
