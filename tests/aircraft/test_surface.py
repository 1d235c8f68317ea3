"""Where a surface of thrust ends: one test per bug that was found in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import thrustlapse.aircraft.thrust_surface as thrust_surface
from tests.aircraft.flyers import AIRFRAME, PACK, SITE, blower, fan, propeller
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.endurance import on_pack
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.legs import Dash, HandLaunch, Turn
from thrustlapse.aircraft.thrust_source import PackEngine
from thrustlapse.aircraft.thrust_surface import build_surface
from thrustlapse.aircraft.thrust_table_lookup import full_power, known_margin
from thrustlapse.power.drive import DriveLimit
from thrustlapse.power.pack import CellCurve
from thrustlapse.propulsor.candidate import Candidate, operate, with_power_limit
from thrustlapse.rotor.stage_map import PointMap

REAL = RunningPack(pack=PACK)
FLAT = CellCurve(state_of_charge=np.array([0.0, 1.0]), voltage=np.array([3.7, 3.7]))
SPEEDS = np.linspace(0.0, 60.0, 241)


def narrow() -> Candidate:
    """A fan whose map ends at 22 m/s, where it still pulls."""
    whole = fan()
    rotor = whole.unit.rotor
    return replace(whole, unit=replace(whole.unit, rotor=replace(
        rotor, stage=replace(rotor.stage, highest_flow=0.2))))


CASES = {"a cap that holds to the end of the table": propeller(power=60.0),
         "full voltage holds only when the pack is low": propeller(power=150.0),
         "full voltage and a cap": with_power_limit(fan(), 300.0),
         "the map ends first": narrow(), "a capped blower": blower(power=60.0)}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("charge", [0.12, 0.8])
def test_what_the_match_does_not_know_the_surface_does_not_know(name: str, charge: float) -> None:
    """Finite nowhere where the match is not, and within 0.1 % of it everywhere else.

    The power cap's table used to be left at its end for that of full voltage: 190 % error.
    """
    one = CASES[name]
    surface = build_surface(one, REAL, highest_airspeed=60.0, altitudes=(100.0, 300.0))
    assert surface.accurate
    where = {"airspeed": SPEEDS, "altitude": np.full(SPEEDS.shape, 200.0),
             "state_of_charge": np.full(SPEEDS.shape, charge)}
    found = full_power(surface, air=SITE.air(200.0), **where)
    true = operate(on_pack(one, REAL.supply(charge, units=1.0)), airspeed=SPEEDS, altitude=200.0)
    known = np.isfinite(found.net_thrust)
    assert np.isfinite(true.net_thrust[known]).all()
    size = np.nanmax(np.abs(true.net_thrust))
    assert np.abs(found.net_thrust - true.net_thrust)[known].max() < 1e-3 * size
    assert np.abs(found.current - true.current)[known].max() < 1e-3 * np.nanmax(true.current)
    margin = known_margin(surface, **where)
    assert np.array_equal(known, margin > -1e-6)
    lost = SPEEDS[np.isfinite(true.net_thrust) & ~known]
    # known to within a metre per second of the match's own end: the tables end with the first of
    # the pack's resistances that does
    assert lost.size <= 3


def test_a_limit_that_never_holds_has_no_table() -> None:
    surface = build_surface(propeller(power=60.0), REAL, highest_airspeed=30.0,
                            altitudes=(100.0, 200.0))
    assert [table.limit for table in surface.tables] == [DriveLimit.POWER]


def test_a_flight_ends_where_the_map_ends_and_says_so() -> None:
    """In a turn at full power it gains speed until its map ends; the solver used to give up."""
    one = narrow()
    surface = build_surface(one, REAL, highest_airspeed=40.0, altitudes=(90.0, 150.0))
    flight = fly(PackEngine(surface=surface), AIRFRAME, HandLaunch(airspeed=18.0),
                 (Turn(load_factor=1.1, angle=200.0), Dash()),
                 mass=float(AIRFRAME.mass + one.installed_mass))
    assert "nothing is known of the machine at 2" in flight.legs[1].reason
    assert flight.legs[2].reason.startswith("not begun")
    assert np.isfinite(flight.thrust).all()
    assert flight.books.relative_residual < 2e-5
    end = float(known_margin(surface, airspeed=flight.airspeed[-1], altitude=101.5,
                             state_of_charge=flight.state_of_charge[-1]))
    assert end == pytest.approx(0.0, abs=1e-6)


def with_stage(one: Candidate, stage: object) -> Candidate:
    return replace(one, unit=replace(one.unit, rotor=replace(one.unit.rotor, stage=stage)))


def with_drive(one: Candidate, **changes: float) -> Candidate:
    return replace(one, unit=replace(one.unit, drive=replace(one.unit.drive, **changes)))


def surface_of(one: Candidate, pack: RunningPack = REAL, highest: float = 45.0):
    return build_surface(one, pack, highest_airspeed=highest, altitudes=(100.0, 200.0))


def test_a_pack_of_one_voltage_has_one_node_of_it() -> None:
    surface = surface_of(fan(), RunningPack(pack=replace(PACK, curve=FLAT)))
    assert surface.voltages.tolist() == [6 * 3.7]
    assert surface.accurate


@pytest.mark.parametrize("charge", [0.12, 0.5, 0.9])
def test_where_a_weak_pack_cannot_give_the_power_allowed_full_voltage_holds(charge) -> None:
    """The most a pack gives is V^2 / (4 R), reached at half its voltage (closed form)."""
    weak = RunningPack(pack=replace(PACK, cell_resistance=0.055))
    one = blower(power=420.0)
    surface = surface_of(one, weak)
    supply = weak.supply(0.12, units=1.0)
    assert float(supply.voltage**2 / (4.0 * supply.resistance)) < 420.0
    assert surface.sometimes_starved
    assert surface.accurate
    found = full_power(surface, air=SITE.air(150.0), airspeed=SPEEDS[:160],
                       altitude=np.full(160, 150.0), state_of_charge=np.full(160, charge))
    true = operate(on_pack(one, weak.supply(charge, units=1.0)), airspeed=SPEEDS[:160],
                   altitude=150.0)
    assert found.net_thrust == pytest.approx(true.net_thrust, rel=1e-3)


def test_a_limit_that_nothing_could_run_at_does_not_matter() -> None:
    """A million amperes: alone it has no answer, and full voltage holds long before."""
    free = surface_of(fan())
    surface = surface_of(with_drive(fan(), motor_current_limit=1e6))
    assert [table.limit for table in surface.tables] == [DriveLimit.FULL_VOLTAGE]
    where = {"air": SITE.air(150.0), "airspeed": SPEEDS[:160], "altitude": np.full(160, 150.0),
             "state_of_charge": np.full(160, 0.8)}
    assert np.array_equal(full_power(surface, **where).net_thrust,
                          full_power(free, **where).net_thrust)


@pytest.mark.parametrize("power", [np.inf, 60.0])
def test_a_windmill_is_known_from_the_airspeed_that_turns_its_flow(power: float) -> None:
    """A rotor that only holds air back, by 1 % of U^2, is blown through once V^2 / 2 exceeds it.

    On full voltage that is at its idle speed; under a cap it turns slower and passes air earlier.
    """
    brake = replace(fan().unit.rotor.stage, head_shutoff=-0.01, head_slope=0.0,
                    head_curvature=-0.1)
    surface = surface_of(with_drive(with_stage(fan(), brake), power_limit=power), highest=90.0)
    (table,) = surface.tables  # the cap holds throughout: full voltage would turn it faster
    idle = float(surface.voltages[-1] / fan().unit.drive.motor.torque_constant)
    start = np.sqrt(2.0 * 0.01) * idle * 0.05 / 2.0
    if np.isinf(power):
        # a little below idle speed: what a shut rotor takes costs it 2 % of the volts
        assert table.limit == DriveLimit.FULL_VOLTAGE
        assert 0.97 * start < table.lowest < start
    else:
        assert table.limit == DriveLimit.POWER
        assert table.lowest < 0.8 * start
    assert table.ends_below
    margin = known_margin(surface, airspeed=np.array([0.5, 1.5]) * start,
                          altitude=np.full(2, 150.0), state_of_charge=np.full(2, REAL.start))
    assert margin[0] < 0.0 < margin[1]


@pytest.mark.parametrize("one", [
    with_drive(with_stage(fan(), replace(fan().unit.rotor.stage, head_shutoff=-0.01,
                                         head_slope=0.0, head_curvature=-0.1)), power_limit=60.0),
    with_power_limit(fan(), 60.0), blower(power=60.0), fan()],
    ids=["brake", "capped fan", "capped blower", "full voltage"])
def test_what_is_known_ends_where_the_map_does_and_not_where_the_table_does(one) -> None:
    """History: a capped fan left its map at 41 m/s and was said to be known to 90 m/s, so that no
    speed of best climb was found and thrust was blamed for it."""
    surface = surface_of(one, highest=90.0)
    for charge in (0.2, REAL.start):
        end = float(surface.known_to(charge))
        at = np.array([end - 0.3, end + 0.3])
        true = operate(on_pack(one, REAL.supply(charge, units=1.0)), airspeed=at, altitude=150.0)
        assert true.valid[0]
        assert not true.valid[1] or end == 90.0
        found = full_power(surface, air=SITE.air(150.0), airspeed=at, altitude=np.full(2, 150.0),
                           state_of_charge=np.full(2, charge))
        assert np.isfinite(found.net_thrust[0])
        assert not np.isfinite(found.net_thrust[1])
    both = surface.known_to(np.array([[0.2], [REAL.start]]))
    assert both.shape == (2, 1)
    assert float(both[1, 0]) == pytest.approx(float(surface.known_to(REAL.start)), rel=1e-6)


@pytest.mark.parametrize(("one", "ohms"), [
    # 6 cells of 0.055 ohm give V^2 / (4 R), which falls below 400 W as they empty
    (blower(power=400.0, efficiency=True), 0.055),
    # wound far too fast: 22 V behind 0.37 ohm fall to 4 V and 50 A flow, whatever a cap says
    (with_drive(propeller(power=np.inf), supply_current_limit=36.0, motor=replace(
        propeller().unit.drive.motor, resistance=0.01, torque_constant=0.0024)), 0.06)],
    ids=["a cap beyond the pack", "full voltage beyond the cap"])
def test_a_surface_never_answers_where_the_pack_cannot_deliver(one, ohms: float) -> None:
    weak = RunningPack(pack=replace(PACK, cell_resistance=ohms))
    surface = surface_of(one, weak)
    assert surface.sags
    speeds = np.linspace(0.0, 44.0, 45)
    seen = set()
    for charge in (0.15, 0.5, weak.start):
        true = operate(on_pack(one, weak.supply(charge, units=1.0)), airspeed=speeds,
                       altitude=150.0)
        where = {"airspeed": speeds, "altitude": np.full(45, 150.0),
                 "state_of_charge": np.full(45, charge)}
        found = full_power(surface, air=SITE.air(150.0), **where)
        known = np.isfinite(found.net_thrust)
        assert not np.any(known & ~true.valid)
        assert np.array_equal(known, known_margin(surface, **where) > -1e-6)
        seen |= set(known.tolist())
    assert seen == {True, False}


@pytest.mark.parametrize("drive", [{}, {"speed_limit": 5400.0}, {"motor_current_limit": 0.5}])
def test_a_machine_that_is_known_nowhere_is_refused(drive: dict[str, float]) -> None:
    """A map whose least flow is above what it ever passes; a current that does not turn it."""
    whole = fan().unit.rotor.stage
    flow = np.linspace(0.22, 0.30, 8)
    rest = PointMap(flow=flow, head_points=whole.head(flow), power_points=whole.power(flow))
    with pytest.raises(ValueError, match="known at too few airspeeds for a flight"):
        surface_of(with_drive(with_stage(fan(), rest), **drive))


def test_a_kinked_table_is_not_called_accurate() -> None:
    """Thrust that jumps by a quarter from one speed of the table to the next: no grid follows.

    The error told must be at least what is found at random points.
    """
    table = propeller().unit.table
    speeds = np.linspace(1200.0, 2600.0, 15)
    jumps = np.where(np.arange(15) % 2, 1.0, 0.8)[:, None]
    jagged = replace(table, shaft_speed=speeds, thrust_points=jumps * table.thrust_points[1],
                     power_points=jumps * table.power_points[1])
    one = replace(propeller(), unit=replace(propeller().unit, table=jagged))
    surface = surface_of(one)
    assert not surface.accurate
    found = full_power(surface, air=SITE.air(150.0), airspeed=SPEEDS[:160],
                       altitude=np.full(160, 150.0), state_of_charge=np.full(160, 0.8))
    true = operate(on_pack(one, REAL.supply(0.8, units=1.0)), airspeed=SPEEDS[:160],
                   altitude=150.0)
    size = np.maximum(np.abs(true.net_thrust), 0.1 * np.abs(true.net_thrust).max())
    assert np.max(np.abs(found.net_thrust - true.net_thrust) / size) < surface.thrust_error


def test_a_gap_in_what_is_known_is_not_bridged(monkeypatch) -> None:
    """Narrower than the first grid's step, seen by the second: refused, never interpolated."""
    solved = thrust_surface._unknowns

    def torn(machine, air, airspeed):
        values, known = solved(machine, air, airspeed)
        return values, known & (airspeed > 3.0) & ~((airspeed > 16.05) & (airspeed < 16.25))

    first, second = np.linspace(0.0, 45.0, 33), np.linspace(3.0, 45.0, 33)
    assert not np.any((first > 16.05) & (first < 16.25))
    assert np.any((second > 16.07) & (second < 16.23))
    monkeypatch.setattr(thrust_surface, "_unknowns", torn)
    with pytest.raises(ValueError, match="known at too few airspeeds"):
        surface_of(fan(), RunningPack(pack=replace(PACK, curve=FLAT)))


def test_nodes_are_chebyshevs_with_both_ends() -> None:
    """cos(k pi / (n - 1)) on the range (closed form)."""
    found = thrust_surface._nodes(2.0, 6.0, 5)
    assert found == pytest.approx(4.0 - 2.0 * np.cos(np.pi * np.arange(5) / 4.0), rel=1e-14)
    assert found[[0, -1]].tolist() == [2.0, 6.0]


def test_a_surface_is_refined_until_its_error_is_small() -> None:
    """A propeller of two limits: coarse nodes leave more than what is sought."""
    assert surface_of(propeller()).thrust_error < thrust_surface.ERROR_SOUGHT
