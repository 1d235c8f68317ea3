"""Endurance and range: the published battery case, Breguet's formulas, the real pack."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.aircraft.flyers import AIRFRAME, PACK, SITE, blower, fan, propeller
from tests.aircraft.test_climb import HORSEPOWER, printed, textbook
from tests.aircraft.textbook_flight import best_endurance, fuel_endurance, peukert_time
from tests.authority import rows
from tests.credibility.records import agree, authority, digits
from tests.machines import CONSTANT_RESISTANCE
from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.climb import least_to_fly
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.drag import Airframe, level_drag
from thrustlapse.aircraft.endurance import (
    Endurance,
    _closer,
    best_of,
    held_speed,
    level_endurance,
    shaft_speed_for_thrust,
)
from thrustlapse.power.pack import CellCurve, Pack
from thrustlapse.propulsor.candidate import operate

AIR = SITE.air()
REAL = RunningPack(pack=PACK)
FLAT = CellCurve(state_of_charge=np.array([0.0, 1.0]), voltage=np.array([3.7, 3.7]))
IDEAL = RunningPack(pack=Pack(curve=FLAT, series=6.0, cell_resistance=0.0, cell_capacity=7920.0,
                              state_of_charge=1.0), cut_off_voltage=3.0)


def mass_of(candidate) -> float:
    return float(AIRFRAME.mass + candidate.installed_mass)


# Published -----------------------------------------------------------------------------------


@authority(part="motor", what="endurance and range of a pack by its exponent", status="published",
           source="Traub, J. Aircraft 48(2) (2011), abstract; aircraft from memory")
def test_peukert_pack_against_the_published_case():
    """1 Ah, n 1.3: endurance -12.5 %, range -15.1 %. The density is not known and 1.2 is the one
    that gives -12.5."""
    table = rows("electric_endurance")
    printed = [row for row in table if row["id"] == "TR1"]
    formula = {row["quantity"]: row for row in table if row["id"] != "TR1"}
    aircraft = Airframe(mass=0.0, wing_area=0.32, minimum_drag_coefficient=0.015,
                        induced_factor=0.13, greatest_lift=3.0, launch_speed=5.0)
    mass = 9.34 / GRAVITY
    least = least_to_fly(aircraft, mass=mass, density=1.2)
    yield from digits(formula["minimum power required, same"], "value", least.power, unit="W",
                      what="minimum power required", status="memory")
    speed = np.linspace(0.5, 1.3, 4001) * float(least.thrust_speed)
    power = speed * level_drag(aircraft, mass=mass, density=1.2, airspeed=speed,
                               speed_of_sound=340.0).total / 0.5
    real = peukert_time(power=power, voltage=11.1, capacity=3600.0)
    ideal = peukert_time(power=power, voltage=11.1, capacity=3600.0, exponent=1.0)
    assert ideal * power == pytest.approx(11.1 * 3600.0)
    endurance = 100.0 * (real.max() / ideal.max() - 1.0)
    distance = 100.0 * ((real * speed).max() / (ideal * speed).max() - 1.0)
    for row, value, name in zip(printed, (endurance, distance), ("endurance", "range"),
                                strict=False):
        yield from digits(row, "value", value, what=f"{name}, change", unit="%")
    best = speed[np.argmax(real * speed)] / float(least.thrust_speed)
    optimum = formula["optimum range speed over minimum-drag speed, n=1.3"]
    yield from agree("speed of longest range over that of least drag", best, optimum["value"],
                     within=5e-4, why="the step of our grid", status="closed form")
    for quantity, value in (("range change, same", distance),
                            ("range change implied by -12.5 percent endurance for ANY parabolic "
                             "polar, n=1.3", distance)):
        yield from agree(quantity, value, formula[quantity]["value"], within=0.02, unit="%",
                         why="the same formula, evaluated elsewhere", status="closed form")
    last = next(row["value"] for quantity, row in formula.items()
                if quantity.startswith("endurance"))
    yield from agree("endurance by the formula", endurance, last, within=0.01, unit="%",
                     why="the same formula, evaluated elsewhere", status="closed form")


def test_range_and_endurance_on_fuel_of_a_propeller_aircraft() -> None:
    """Anderson, Ex. 6.12 (F+M): CP-1, 1207 mi at (L/D)max, 14.4 h at (CL^1.5/CD)max."""
    airframe, mass = textbook("CP-1")
    rate = 0.45 * 4.4482216 / (3600.0 * HORSEPOWER) / GRAVITY  # kg per J of shaft work

    def flow(thrust, airspeed):
        return rate * thrust * airspeed / 0.8

    for exponent, quantity, unit in ((1.0, "max range", "m"), (1.5, "max endurance", "s")):
        row = printed("CP-1", quantity, unit)
        lift = np.sqrt((3.0 if exponent == 1.5 else 1.0) * 0.025 / airframe.induced_factor)
        run = fuel_endurance(airframe, start_mass=mass, fuel_mass=1632.5 / GRAVITY, density=1.225,
                             lift_coefficient=lift, fuel_flow=flow)
        found = run.distance if exponent == 1.0 else run.time
        # the book reads 13.62 and 12.81 off a graph, the closed forms are 13.606 and 12.791
        assert float(found) == pytest.approx(row["printed"], rel=row["rtol"] + 1e-3)


def test_range_and_endurance_on_fuel_of_a_jet() -> None:
    """Anderson, Ex. 6.13 (F+M): CJ-1, 3630 mi at 6706 m at (CL^0.5/CD)max, 13.3 h at (L/D)max."""
    airframe, mass = textbook("CJ-1")

    def flow(thrust, airspeed):
        return 0.6 / 3600.0 * thrust / GRAVITY + 0.0 * airspeed

    for exponent, quantity, unit in ((0.5, "max range", "m"), (1.0, "max endurance", "s")):
        row = printed("CJ-1", quantity, unit)
        lift = np.sqrt((1.0 / 3.0 if exponent == 0.5 else 1.0) * 0.02 / airframe.induced_factor)
        run = fuel_endurance(airframe, start_mass=mass, fuel_mass=33211.9 / GRAVITY,
                             density=0.6107, lift_coefficient=lift, fuel_flow=flow)
        found = run.distance if exponent == 0.5 else run.time
        assert float(found) == pytest.approx(row["printed"], rel=row["rtol"])


# Identities ----------------------------------------------------------------------------------


def test_the_last_fifth_of_a_flight_follows_the_cells_resistance() -> None:
    """Schuster's cell has 1.29 times its half-charge resistance at 20 % and 1.57 times at 10 %.

    At a constant power the current is the lower root of P = (V - I R) I, so the sag at a fifth of
    the charge is that of a constant 1.29 R, and the flight ends sooner than on a constant R.
    """
    one, heavy = fan(), replace(REAL.pack, cell_resistance=0.030)
    packs = {name: RunningPack(pack=replace(heavy, **changes)) for name, changes in {
        "typical": {}, "constant": {"resistance_curve": CONSTANT_RESISTANCE},
        "at a fifth": {"resistance_curve": CONSTANT_RESISTANCE,
                       "cell_resistance": 0.030 * 0.1264 / 0.0984}}.items()}
    assert packs["typical"].resistance(0.2) == pytest.approx(packs["at a fifth"].resistance(0.2))
    runs = {name: level_endurance(one, AIRFRAME, pack, mass=mass_of(one), air=AIR, airspeed=22.0)
            for name, pack in packs.items()}
    assert set(runs["constant"].ending + runs["typical"].ending) == {"cell voltage at its cut-off"}
    assert runs["typical"].state_of_charge > runs["constant"].state_of_charge
    assert runs["typical"].time < runs["constant"].time


def test_on_an_ideal_pack_endurance_is_energy_over_power() -> None:
    """Flat voltage and no resistance: t = E / P at every airspeed (closed form)."""
    one = propeller()
    run = level_endurance(one, AIRFRAME, IDEAL, mass=mass_of(one), air=AIR,
                          airspeed=np.array([14.0, 20.0, 26.0]))
    energy = 6.0 * 3.7 * 7920.0
    assert run.time == pytest.approx(energy / run.power, rel=1e-12)
    assert run.energy == pytest.approx(energy, rel=1e-12)
    assert set(run.ending) == {"state of charge at its floor"}


def test_the_pack_gives_what_the_motor_and_its_own_heat_take() -> None:
    """The controller's power is constant: energy drawn is P t plus the heat on the way to it."""
    one = fan()
    run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=22.0)
    power = float(run.power[0] - run.current[0]**2 * one.unit.drive.controller_lead_resistance)
    steps = 20_000
    step = (REAL.start - float(run.state_of_charge[0])) / steps
    charge = REAL.start - (np.arange(steps) + 0.5) * step
    volts = REAL.voltage(charge)
    resistance = REAL.resistance(charge) + one.unit.drive.controller_lead_resistance
    amps = (volts - np.sqrt(volts**2 - 4.0 * power * resistance)) / (2.0 * resistance)
    time = np.sum(REAL.capacity * step / amps)
    heat = np.sum(resistance * amps * REAL.capacity * step)
    assert float(run.time[0]) == pytest.approx(time, rel=2e-4)
    assert float(run.energy[0]) == pytest.approx(power * time + heat, rel=2e-4)


@pytest.mark.parametrize("make", [blower, fan, propeller, lambda: blower(efficiency=True),
                                  lambda: fan(count=2)],
                         ids=["blower", "fan", "propeller", "efficiency", "two"])
def test_thrust_is_drag_at_the_shaft_speed_found(make) -> None:
    one = make()
    speeds = np.array([15.0, 21.0, 25.0])
    run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=speeds)
    again = operate(held_speed(one, run.shaft_speed), airspeed=speeds, air=AIR)
    assert again.installed_thrust == pytest.approx(run.thrust, rel=1e-9)
    assert np.all(np.diff(run.power) > 0.0)
    assert np.all(run.distance == run.time * speeds)


def test_holding_full_power_draws_full_power() -> None:
    """At the top speed the part-power answer meets the full-power match."""
    one = propeller()
    full = operate(one, airspeed=np.array([24.0]), air=AIR)
    omega, torque = shaft_speed_for_thrust(one, air=AIR, airspeed=24.0,
                                           thrust=full.installed_thrust * (1.0 - 1e-12),
                                           fastest=full.shaft_speed)
    assert omega == pytest.approx(full.shaft_speed, rel=1e-9)
    assert torque == pytest.approx(full.torque, rel=1e-8)


def test_endings() -> None:
    one = fan()
    speeds = np.array([5.0, 16.0, 29.0, 60.0])
    run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=speeds)
    assert run.ending == ("below the stall", "cell voltage at its cut-off",
                          "the drive can no longer hold this speed",
                          "thrust is short of drag at full power")
    assert np.isnan(run.time[[0, 3]]).all()
    assert run.last_voltage[1] == pytest.approx(6.0 * 3.2, rel=1e-3)
    # where the drive gives way, full power just gives the thrust
    left = REAL.at(float(run.state_of_charge[2]))
    from thrustlapse.aircraft.endurance import on_pack

    spent = operate(on_pack(one, left.supply(left.start, units=1.0)), airspeed=29.0, air=AIR)
    assert float(spent.installed_thrust) == pytest.approx(float(run.thrust[2]), rel=2e-3)
    floor = RunningPack(pack=PACK, least_state_of_charge=0.5)
    short = level_endurance(one, AIRFRAME, floor, mass=mass_of(one), air=AIR, airspeed=16.0)
    assert short.ending == ("state of charge at its floor",)
    assert float(short.state_of_charge[0]) == pytest.approx(0.5)


def test_best_speeds_are_the_best_of_a_fine_grid() -> None:
    one = propeller()
    best = best_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, highest=40.0)
    speeds = np.linspace(12.2, 25.0, 60)
    run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=speeds)
    assert float(best.longest.time[0]) >= run.time.max() * (1.0 - 1e-6)
    assert float(best.farthest.distance[0]) >= run.distance.max() * (1.0 - 1e-6)
    assert float(best.farthest.airspeed[0]) > float(best.longest.airspeed[0])


def test_real_pack_falls_short_of_its_rating_by_less_than_peukert_says() -> None:
    """Against the power law only as a check of size: a lithium pack loses less than n = 1.3."""
    one = fan()
    run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR,
                          airspeed=np.array([14.0, 22.0]))
    drained = (REAL.start - 0.0) * REAL.capacity * float(REAL.voltage(0.5))
    shortfall = run.time * run.power / drained
    law = (run.power[1] / run.power[0]) ** -0.3
    assert law < shortfall[1] / shortfall[0] < 1.0


@settings(max_examples=5)
@given(st.floats(13.0, 24.0))
def test_a_batch_is_its_points(airspeed) -> None:
    one = propeller()
    pair = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR,
                           airspeed=np.array([airspeed, 20.0]))
    alone = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=airspeed)
    assert float(alone.time[0]) == pytest.approx(float(pair.time[0]), rel=1e-9)


def test_best_of_flights_known_up_to_an_airspeed_only() -> None:
    """Endurance that grows until nothing more is known: the best is the last one known.

    And one the same at all airspeeds: the first is as good as any.
    """
    def fly(power: float) -> Callable[[np.ndarray], Endurance]:
        def run(speed: np.ndarray) -> Endurance:
            time = np.where(speed <= 20.0, speed**power, np.nan)
            return Endurance(**{item.name: speed * time if item.name == "distance" else time
                                for item in fields(Endurance)})
        return run

    best = best_of(fly(1.0), slowest=10.0, highest=40.0)
    assert best.longest.time[0] == pytest.approx(20.0, rel=1e-3)
    assert best.farthest.distance[0] == pytest.approx(400.0, rel=2e-3)
    assert best_of(fly(0.0), slowest=10.0, highest=20.0).longest.time.tolist() == [1.0]


def test_thrust_beyond_any_shaft_speed_has_none() -> None:
    """Full power gives about 5 N; a hundred are not found at any speed below it."""
    one = fan()
    omega, torque = shaft_speed_for_thrust(one, air=AIR, airspeed=np.array([15.0, 20.0]),
                                           thrust=100.0, fastest=np.full(2, 5800.0))
    assert np.isnan(omega).all()
    assert np.isnan(torque).all()


def test_power_at_the_end_is_that_of_all_units_at_the_last_voltage() -> None:
    """One fan and two on a pack: the shaft power stays, so what reaches the controllers does."""
    for count in (1, 2):
        one = fan(count=count)
        run = level_endurance(one, AIRFRAME, REAL, mass=mass_of(one), air=AIR, airspeed=20.0)
        leads = one.unit.drive.controller_lead_resistance
        first = run.power - count * leads * (run.current / count) ** 2
        amps = run.last_power / run.last_voltage
        assert run.last_power - count * leads * (amps / count) ** 2 == pytest.approx(
            first, rel=2e-3)
        assert run.last_voltage < run.terminal_voltage


@pytest.mark.parametrize(("best", "ends"), [(0, (0.0, 1.0)), (2, (1.0, 3.0)), (3, (2.0, 4.0)),
                                            (4, (3.0, 4.0))])
def test_the_next_grid_lies_between_the_neighbours_of_the_best(best, ends) -> None:
    grid = np.arange(5.0)
    found = _closer(grid, -np.square(grid - best), 9)
    assert (found[0], found[-1], found.size) == (*ends, 9)
