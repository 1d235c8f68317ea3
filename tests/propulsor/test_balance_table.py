"""One machine at very many airspeeds: where the search starts changes nothing but its time."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from tests.machines import AIR, BLOWER, FAN
from thrustlapse.elementwise import CHUNK
from thrustlapse.propulsor import ducted_match
from thrustlapse.propulsor.balance_table import LEAST_POINTS, NODES
from thrustlapse.propulsor.ducted import free_stream, operate_ducted
from thrustlapse.propulsor.ducted_match import balance_table, match

MANY = max(LEAST_POINTS * NODES, CHUNK + 600)
"""Points from which there is a table, and more than are worked on together."""

LAST = slice(-1000, None)
SPEEDS = np.random.default_rng(3).uniform(0.0, 90.0, MANY)
LOOSE = replace(FAN, drive=replace(FAN.drive, speed_limit=2500.0))
"""A fan that the air drives beyond its map: not every node has a balance."""


@pytest.mark.parametrize("unit", [BLOWER, FAN, LOOSE])
def test_many_airspeeds_at_once_are_the_same_as_few(unit):
    """A call of few points has no table; same flags, same values to round-off, in both chunks."""
    together = operate_ducted(unit, air=AIR, airspeed=SPEEDS)
    few = operate_ducted(unit, air=AIR, airspeed=SPEEDS[LAST])
    np.testing.assert_array_equal(together.flag_bits[LAST], few.flag_bits)
    for item in fields(few):
        if item.name not in ("ledger", "drive_limit_code", "flag_bits", "head_coefficient"):
            np.testing.assert_allclose(getattr(together, item.name)[LAST], getattr(few, item.name),
                                       rtol=1e-9, atol=1e-9 * np.nanmax(np.abs(few.net_thrust)))


def test_between_nodes_the_start_is_the_balance_nearly():
    """What a table is for: the unknowns found, before any step, to far less than a node's width."""
    nodes = free_stream(AIR, np.linspace(0.0, 90.0, NODES))
    (ln_flow, ln_throat), _, known = balance_table(BLOWER, nodes).start(SPEEDS)
    solved = match(BLOWER, free_stream(AIR, SPEEDS), MANY)
    assert known.all()
    assert np.median(np.abs(ln_flow - np.log(solved.flow))) < 1e-9
    assert np.median(np.abs(ln_throat - np.log(solved.throat))) < 1e-9


def test_a_table_spares_walks(monkeypatch):
    """At most two walks a point where without it there are five."""
    walks = []
    pair = ducted_match._Residuals.pair

    def counted(self, index, *rest):
        walks.append(np.size(index))
        return pair(self, index, *rest)

    monkeypatch.setattr(ducted_match._Residuals, "pair", counted)
    operate_ducted(BLOWER, air=AIR, airspeed=SPEEDS)
    with_table, walks[:] = sum(walks), []
    match(BLOWER, free_stream(AIR, SPEEDS), MANY)
    assert with_table < 2.0 * MANY < 5.0 * MANY < sum(walks)


def test_many_machines_in_many_airs_have_no_table():
    """As in a bench fit: trials of a machine down, airs of the readings across."""
    day = np.linspace(1.0, 1.02, 11)
    airs = replace(AIR, temperature=AIR.temperature * day)
    unit = replace(BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=np.reshape(
        BLOWER.nozzle.exit_area * np.linspace(0.9, 1.0, MANY // 11 + 1), (-1, 1))))
    together = operate_ducted(unit, air=airs, airspeed=20.0)
    alone = operate_ducted(BLOWER, air=replace(AIR, temperature=AIR.temperature * day[3]),
                           airspeed=20.0)
    assert together.net_thrust[-1, 3] == pytest.approx(float(alone.net_thrust), rel=1e-10)
    only_airs = operate_ducted(BLOWER, air=airs, airspeed=np.reshape(SPEEDS, (-1, 1)))
    assert only_airs.net_thrust[0, 3] == pytest.approx(float(operate_ducted(
        BLOWER, air=replace(AIR, temperature=AIR.temperature * day[3]),
        airspeed=SPEEDS[0]).net_thrust), rel=1e-10)


@pytest.mark.parametrize("speeds", [np.full(MANY, 20.0), np.append(SPEEDS, np.nan)])
def test_airspeeds_that_span_nothing_or_are_not_known_have_no_table(speeds):
    """Each element keeps its own answer."""
    point = operate_ducted(BLOWER, air=AIR, airspeed=speeds)
    alone = operate_ducted(BLOWER, air=AIR, airspeed=speeds[:1])
    assert point.net_thrust[0] == pytest.approx(float(alone.net_thrust[0]), rel=1e-10)
    assert np.isnan(point.net_thrust[-1]) == np.isnan(speeds[-1])
