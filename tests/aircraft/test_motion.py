"""Forces and rates along every kind of path, written out by hand at single states."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.aircraft.flyers import fan
from tests.aircraft.test_flight import REAL, constant, engine
from thrustlapse.air.atmosphere import GRAVITY, Site
from thrustlapse.aircraft.discharge import RunningPack, Thermal, ThermalBody
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.motion import (
    CHARGE,
    DISTANCE,
    HEADING,
    HEIGHT,
    MOTOR,
    PACK,
    Craft,
    Phase,
    moment,
    rates,
    stall_margin,
)

MASS, SPEED, HEIGHT_ABOVE = 1.6, 21.0, 80.0
CRAFT = Airframe(mass=0.0, wing_area=0.18, minimum_drag_coefficient=0.024, induced_factor=0.06,
                 lift_of_least_drag=0.15, greatest_lift=1.1, launch_speed=12.0)
AIR = Site().air(HEIGHT_ABOVE)
PRESSURE_FORCE = 0.5 * float(AIR.density) * SPEED**2 * 0.18


def state(**changes: float) -> np.ndarray:
    made = np.array([5.0, HEIGHT_ABOVE, SPEED, 0.8, 310.0, 300.0, 0.1])
    for row, value in changes.items():
        made[{"charge": CHARGE, "motor": MOTOR, "pack": PACK}[row]] = value
    return made


def drag_at(load: float) -> float:
    """Parabola at a load factor."""
    lift = load * MASS * GRAVITY / PRESSURE_FORCE
    return float(PRESSURE_FORCE * (0.024 + 0.06 * (lift - 0.15) ** 2))


def flying(thrust: float) -> Craft:
    return Craft(engine=constant(thrust), airframe=CRAFT, mass=MASS, thermal=Thermal())


@pytest.mark.parametrize("sine", [-0.4, 0.0, 0.25])
def test_straight_flight_carries_the_weights_cosine(sine: float) -> None:
    """m dV/dt = T - D(n = cos) - m g sin."""
    now = moment(flying(3.0), Phase(power="full", path="straight", sine=sine), state())
    cosine = np.sqrt(1.0 - sine**2)
    assert float(now.load_factor) == pytest.approx(cosine, rel=1e-14)
    assert float(now.drag.total) == pytest.approx(drag_at(cosine), rel=1e-12)
    assert float(now.acceleration) == pytest.approx(
        (3.0 - drag_at(cosine)) / MASS - GRAVITY * sine, rel=1e-12)


@pytest.mark.parametrize("load", [1.0, 1.7])
def test_a_level_turn_costs_the_drag_of_its_load(load: float) -> None:
    """It turns at g sqrt(n^2 - 1) / V."""
    phase = Phase(power="full", path="level", load_factor=load)
    now = moment(flying(3.0), phase, state())
    assert float(now.acceleration) == pytest.approx((3.0 - drag_at(load)) / MASS, rel=1e-12)
    change = rates(flying(3.0), phase, state(), now)
    assert change[HEADING] == pytest.approx(GRAVITY * np.sqrt(load**2 - 1.0) / SPEED, rel=1e-14)
    assert change[DISTANCE] == SPEED
    assert change[HEIGHT] == 0.0
    assert float(stall_margin(flying(3.0), state(), now)) == pytest.approx(
        SPEED / np.sqrt(load * MASS * GRAVITY / (0.5 * float(AIR.density) * 0.18 * 1.1)) - 1.0)


def test_on_a_rail_the_wing_is_at_its_lift_of_least_drag() -> None:
    """T + pull - CDmin q S - m g sin; no weight on the wing."""
    now = moment(flying(3.0), Phase(power="full", path="rail", sine=0.3, pull=11.0), state())
    least = PRESSURE_FORCE * 0.024
    assert float(now.drag.total) == pytest.approx(least, rel=1e-12)
    assert float(now.drag.lift_coefficient) == 0.15
    assert float(now.load_factor) == 0.0
    assert float(now.acceleration) == pytest.approx((14.0 - least) / MASS - GRAVITY * 0.3,
                                                    rel=1e-12)


@pytest.mark.parametrize("equivalent", [False, True])
def test_a_held_airspeed_takes_the_path_that_balances_it(equivalent: bool) -> None:
    """W sin (1 + V/g dV/dh) = T - D; V goes with 1/sqrt(rho) where the equivalent is held."""
    now = moment(flying(6.0), Phase(power="full", path="speed", equivalent=equivalent), state())
    above, below = (float(Site().air(HEIGHT_ABOVE + step).density) for step in (1.0, -1.0))
    growth = SPEED * 0.5 * (np.log(below) - np.log(above)) / 2.0 if equivalent else 0.0
    sine = float(now.sine)
    weight = MASS * GRAVITY
    assert weight * sine * (1.0 + SPEED / GRAVITY * growth) == pytest.approx(
        6.0 - drag_at(np.sqrt(1.0 - sine**2)), rel=1e-7)
    assert float(now.acceleration) == pytest.approx(growth * SPEED * sine, rel=1e-6, abs=1e-15)
    change = rates(flying(6.0), Phase(power="full", path="speed"), state(), now)
    assert change[HEIGHT] == pytest.approx(SPEED * sine, rel=1e-14)
    assert change[DISTANCE] == pytest.approx(SPEED * np.sqrt(1.0 - sine**2), rel=1e-14)


def test_heat_of_motor_and_cells() -> None:
    """C dT/dt = Q - k (T - Ta); the leads' share of the pack's heat does not warm the cells."""
    hot = Thermal(motor=ThermalBody(heat_capacity=40.0, conductance=0.3),
                  pack=ThermalBody(heat_capacity=250.0, conductance=0.5))
    craft = Craft(engine=engine("fan"), airframe=CRAFT, mass=MASS, thermal=hot)
    phase = Phase(power="full", path="level")
    now = moment(craft, phase, state())
    change = rates(craft, phase, state(), now)
    site = fan().site
    ambient = float(site.air(site.altitude + HEIGHT_ABOVE).temperature)
    amps = float(now.running.current)
    assert change[CHARGE] == pytest.approx(-amps / (2.2 * 3600.0), rel=1e-9)
    cells = amps**2 * (float(REAL.resistance(state()[CHARGE])) - 0.006)
    assert change[PACK] == pytest.approx((cells - 0.5 * (300.0 - ambient)) / 250.0, rel=1e-9)
    heat = float(now.running.winding_and_idle_heat)
    assert change[MOTOR] == pytest.approx((heat - 0.3 * (310.0 - ambient)) / 40.0, rel=1e-12)
    cut = Phase(power="cut", path="level")
    still = rates(craft, cut, state(), moment(craft, cut, state()))
    assert still[CHARGE] == 0.0
    assert still[PACK] == pytest.approx(-0.5 * (300.0 - ambient) / 250.0, rel=1e-12)
    cold = rates(replace(craft, thermal=Thermal()), phase, state(), now)
    assert cold[MOTOR] == cold[PACK] == 0.0
    # a law of thrust has no pack to warm
    lawful = replace(flying(3.0), thermal=hot)
    assert rates(lawful, phase, state(), moment(lawful, phase, state()))[PACK] == 0.0


def test_leads_share_of_a_packs_resistance() -> None:
    """Six cells of 12 mohm in series, and 6 mohm of leads; cells that resist nothing leave all."""
    assert float(REAL.lead_share(0.5)) == pytest.approx(0.006 / (6 * 0.012 + 0.006))
    assert float(REAL.lead_share(0.05)) < float(REAL.lead_share(0.5))
    for leads, share in ((0.006, 1.0), (0.0, 0.0)):
        bare = RunningPack(pack=replace(REAL.pack, cell_resistance=0.0, lead_resistance=leads))
        assert float(bare.lead_share(0.5)) == share
