"""Break-even: closed forms of momentum theory, the first law as a bound, and brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.machines import AIR, BLOWER, PROPELLER, ducted_machines
from thrustlapse.air.gas import GAMMA, GAS_CONSTANT
from thrustlapse.propulsor.break_even import (
    chain_efficiency,
    drag_area_allowed,
    fully_expanded_speed,
    jet_speed_needed,
    jet_speed_of_disc,
    jet_speed_of_exit,
)
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ideal import disc_thrust, ducted_thrust
from thrustlapse.propulsor.nozzle import Nozzle, jet
from thrustlapse.propulsor.open_rotor import operate_open_rotor
from thrustlapse.propulsor.operating_point import OperatingPoint

SPEEDS = st.floats(0.0, 120.0)


def expanded(point: OperatingPoint) -> np.ndarray:
    return fully_expanded_speed(
        jet_speed=point.jet_speed, mass_flow=point.mass_flow, jet_area=point.jet_area,
        gross_thrust=point.gross_thrust, pressure=AIR.pressure)


@given(airspeed=SPEEDS, power=st.floats(5.0, 2e3), area=st.floats(5e-5, 0.05))
def test_a_machine_without_losses_has_a_chain_efficiency_of_one(airspeed, power, area) -> None:
    """The most a jet, and a disc, can make from a power: closed forms of momentum theory."""
    thrust = ducted_thrust(power=power, area=area, density=1.2, airspeed=airspeed)
    speed = jet_speed_of_exit(thrust=thrust, mass_flow=1.2 * area * 50.0, jet_speed=50.0,
                              airspeed=airspeed)
    assert chain_efficiency(thrust=thrust, jet_speed=speed, airspeed=airspeed,
                            power=power) == pytest.approx(1.0, rel=1e-9)
    thrust = disc_thrust(power=power, area=area, density=1.2, airspeed=airspeed)
    wake = jet_speed_of_disc(thrust=thrust, mass_flow=1.2 * area * 40.0,
                             jet_speed=80.0 - airspeed, airspeed=airspeed)
    assert chain_efficiency(thrust=thrust, jet_speed=wake, airspeed=airspeed,
                            power=power) == pytest.approx(1.0, rel=1e-9)


def test_the_efficiency_needed_is_the_one_that_makes_the_thrust_by_brute_force() -> None:
    """A wider exit at one jet speed: flow from the energy equation, thrust from momentum."""
    wanted, jet_speed, airspeed, power = 4.71, 118.0, 56.0, 400.0
    efficiency = np.linspace(0.5, 1.5, 1_000_001)
    flow = 2.0 * efficiency * power / (jet_speed**2 - airspeed**2)
    first = efficiency[np.argmax(flow * (jet_speed - airspeed) >= wanted)]
    assert chain_efficiency(thrust=wanted, jet_speed=jet_speed, airspeed=airspeed,
                            power=power) == pytest.approx(first, abs=2e-6)
    # the same exit, driven harder: jet speed tried until the flow through it pushes enough
    speed = np.linspace(airspeed, 400.0, 1_000_001)
    flow = 0.02 / jet_speed * speed
    tried = speed[np.argmax(flow * (speed - airspeed) >= wanted)]
    assert jet_speed_of_exit(thrust=wanted, mass_flow=0.02, jet_speed=jet_speed,
                             airspeed=airspeed) == pytest.approx(tried, abs=4e-4)


def test_at_rest_the_form_is_regular() -> None:
    """V = 0: eta = F V8 / (2 P), and the exit's jet goes with the root of thrust."""
    assert chain_efficiency(thrust=2.0, jet_speed=100.0, airspeed=0.0, power=400.0) == 0.25
    assert jet_speed_of_exit(thrust=8.0, mass_flow=0.02, jet_speed=100.0,
                             airspeed=0.0) == pytest.approx(200.0)
    assert jet_speed_of_disc(thrust=8.0, mass_flow=0.02, jet_speed=100.0,
                             airspeed=0.0) == pytest.approx(200.0)


@pytest.mark.parametrize("change", [{"power": 0.0}, {"power": -20.0}, {"jet_speed": 30.0},
                                    {"jet_speed": 20.0}, {"thrust": 0.0}, {"thrust": -1.0},
                                    {"power": np.nan}])
def test_nothing_is_needed_where_nothing_pushes(change) -> None:
    good = {"thrust": 1.0, "jet_speed": 90.0, "airspeed": 30.0, "power": 400.0}
    assert np.isnan(chain_efficiency(**{**good, **change}))


@settings(max_examples=40, deadline=None)
@given(machine=ducted_machines(), airspeed=SPEEDS)
def test_no_machine_passes_one(machine, airspeed) -> None:
    """First and second law: what the jet carries is never more than what the pack gives."""
    point = operate_ducted(machine, air=AIR, airspeed=np.array([0.0, airspeed]))
    units = machine.supply.units
    own = chain_efficiency(thrust=units * point.net_thrust, jet_speed=expanded(point),
                           airspeed=point.airspeed, power=point.electrical_power)
    assert np.all(own[np.isfinite(own)] <= 1.0 + 1e-9)
    assert np.array_equal(np.isfinite(own), point.valid & (point.net_thrust > 0.0)
                          & (point.electrical_power > 0.0))


def test_a_machine_needs_what_it_has_for_its_own_thrust() -> None:
    """Nozzle unchoked: the exit's own thrust asks for the jet it has; the disc's likewise."""
    speeds = np.array([0.0, 20.0, 45.0])
    for point, form in ((operate_ducted(BLOWER, air=AIR, airspeed=speeds), jet_speed_of_exit),
                        (operate_open_rotor(PROPELLER, air=AIR, airspeed=speeds),
                         jet_speed_of_disc)):
        assert np.all(point.net_thrust > 0.0)
        back = form(thrust=point.net_thrust, mass_flow=point.mass_flow,
                    jet_speed=point.jet_speed, airspeed=speeds)
        assert back == pytest.approx(point.jet_speed, rel=1e-9)
        assert expanded(point) == pytest.approx(point.jet_speed, rel=1e-9)


@pytest.mark.parametrize("ratio", [1.2, 1.89, 1.95, 3.0, 5.0])
def test_a_choked_jet_counts_as_expanded_to_the_air_around_it(ratio) -> None:
    """Isentropic expansion from the total state, the textbook's V^2 = 2 cp Tt (1 - NPR^-0.2857)."""
    total, area = 320.0, 2e-4
    found = jet(Nozzle(exit_area=area), total_pressure=ratio * 1e5, total_temperature=total,
                pressure=1e5)
    gross = found.mass_flow * found.speed + (found.pressure - 1e5) * found.effective_area
    speed = fully_expanded_speed(jet_speed=found.speed, mass_flow=found.mass_flow,
                                 jet_area=found.effective_area, gross_thrust=gross, pressure=1e5)
    exponent = (GAMMA - 1.0) / GAMMA
    heat = GAS_CONSTANT / exponent
    assert speed == pytest.approx(np.sqrt(2.0 * heat * total * (1.0 - ratio**-exponent)), rel=1e-9)
    assert (speed > found.speed * (1.0 + 1e-6)) == (ratio > 1.8929)


@given(efficiency=st.floats(0.05, 0.95), power=st.floats(10.0, 2e3), airspeed=SPEEDS,
       thrust=st.floats(0.1, 20.0))
def test_the_jet_speed_needed_undoes_the_efficiency(efficiency, power, airspeed, thrust) -> None:
    assume(abs(thrust * airspeed / (efficiency * power) - 1.0) > 1e-6)
    speed = jet_speed_needed(thrust=thrust, efficiency=efficiency, power=power, airspeed=airspeed)
    if thrust * airspeed >= efficiency * power:  # even an endless exit needs eta P = F V
        assert np.isnan(speed)
    else:
        assert chain_efficiency(thrust=thrust, jet_speed=speed, airspeed=airspeed,
                                power=power) == pytest.approx(efficiency, rel=1e-9)


def test_the_drag_area_allowed_leaves_the_thrust_asked_for() -> None:
    allowed = drag_area_allowed(net_thrust=np.array([3.0, 1.0, 3.0]), thrust=2.0, density=1.25,
                                airspeed=np.array([40.0, 40.0, 0.0]))
    assert 3.0 - 0.5 * 1.25 * 40.0**2 * allowed[0] == pytest.approx(2.0)
    assert allowed[1] == pytest.approx(-1e-3)
    assert np.isnan(allowed[2])
