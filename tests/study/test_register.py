"""What nobody gave is drawn too, once for everything that shares it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.searches import MACHINES
from thrustlapse.distributions import Sampling
from thrustlapse.propulsor.nozzle import Nozzle, discharge_possible, widest_discharge
from thrustlapse.register import REGISTER
from thrustlapse.rotor.map_shape import NODES, cubic, departed
from thrustlapse.rotor.stage_map import CoefficientMap, efficiency, exceeds_unity
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.footing import Footing
from thrustlapse.study.sampling import drawables, shares, with_draws

MAP = CoefficientMap(head_shutoff=0.55, head_slope=0.1, head_curvature=-14.0, work_shutoff=0.75,
                     work_slope=-1.0, shutoff_power=0.012, highest_flow=0.18)


@pytest.mark.parametrize("name", REGISTER)
def test_the_value_used_without_draws_is_the_median_of_the_draws(name: str) -> None:
    """Half of the draws lie on either side; a bound far out moves the middle by little."""
    spread = REGISTER[name].spread
    width = float(np.subtract(*spread.quantile(np.array([0.84, 0.16]))))
    assert abs(float(spread.quantile(np.array([0.5]))[0]) - spread.nominal) < 0.02 * width


@given(st.floats(0.5, 2.0), st.floats(0.5, 2.0), st.floats(0.5, 2.0),
       st.lists(st.floats(-0.3, 0.3), min_size=8, max_size=8))
def test_no_departure_of_a_map_gives_more_than_it_takes(flow: float, head: float, power: float,
                                                        shape: list[float]) -> None:
    """Second law, whatever is drawn."""
    made = departed(MAP, flow=flow, head=head, power=power, head_shape=tuple(shape[:4]),
                    power_shape=tuple(shape[4:]))
    assert not np.any(exceeds_unity(made))


@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(0.05, 0.95))
def test_a_small_departure_is_its_factors(flow: float, head: float, power: float,
                                          share: float) -> None:
    """To first order: flow, head and power coefficients times their factors."""
    small = 1e-5
    phi = share * MAP.highest_flow
    made = departed(MAP, flow=1.0 + small * flow, head=1.0 + small * head,
                    power=1.0 + small * power)
    at = phi * (1.0 + small * flow)
    assert float(made.head(at)) == pytest.approx(
        float(MAP.head(phi)) * (1.0 + small * head), rel=1e-8)
    assert float(made.power(at)) == pytest.approx(
        float(MAP.power(phi)) * (1.0 + small * power), rel=1e-7)


@given(st.floats(1e-6, 0.1), st.floats(1.0, 1.2))
def test_no_departure_takes_many_times_what_its_factor_says(lost: float, power: float) -> None:
    """Of a stage that loses a share as small as any: by its form at most e times the factor's."""
    lossy = CoefficientMap(head_shutoff=0.5, head_slope=0.0, head_curvature=0.0,
                           work_shutoff=0.5 / (1.0 - lost), work_slope=0.0, shutoff_power=0.0,
                           highest_flow=0.2)
    more = float(departed(lossy, power=power).power(0.1) / lossy.power(0.1))
    assert 1.0 - 1e-12 <= more <= 1.0 + np.e * np.log(power) + 1e-12


def test_a_shape_has_its_departures_at_the_four_flows() -> None:
    found = cubic(0.02, -0.01, 0.03, 0.005)(NODES)
    assert np.log(found) == pytest.approx([0.02, -0.01, 0.03, 0.005], abs=1e-12)


def test_the_efficiency_moves_by_its_odds() -> None:
    """ln(eta / (1 - eta)) rises by (ln h - ln p) / (1 - eta): closed form of the departure."""
    phi = 0.09
    before, after = (float(efficiency(one, phi)) for one in (MAP, departed(MAP, power=1.2)))
    moved = np.log(after / (1.0 - after)) - np.log(before / (1.0 - before))
    assert moved == pytest.approx(-np.log(1.2) / (1.0 - before), rel=1e-9)


@given(st.floats(0.90, 1.0), st.floats(0.9, 1.0))
def test_no_draw_of_a_nozzle_has_a_jet_wider_than_its_exit(velocity: float,
                                                           contraction: float) -> None:
    discharge = contraction * float(widest_discharge(velocity_coefficient=velocity))
    assert discharge_possible(Nozzle(exit_area=1.0, discharge_coefficient=discharge,
                                     velocity_coefficient=velocity))


# The same thing is drawn once --------------------------------------------------------------------

BLOWER = MACHINES[MACHINES.index("[candidates.blower]"):MACHINES.index("[candidates.prop]")]
TWO_NOZZLES = (MACHINES[:MACHINES.index("[candidates.prop]")]
               + BLOWER.replace("candidates.blower", "candidates.wide").replace(
                   'exit_diameter = "15 mm"', 'exit_diameter = "17 mm"'))


def test_two_nozzles_on_one_blower_share_motor_map_and_what_is_assumed() -> None:
    scenario = read_text(TWO_NOZZLES)
    assert scenario.same_part["wide", ""] == "blower"
    assert scenario.same_part["wide", "nozzle"] == "wide"
    inputs = drawables(scenario)
    assert {one.also for one in inputs if one.candidate} == {("wide",)}
    many = with_draws(scenario, inputs, shares(64, len(inputs), seed=1))
    one, other = (many.candidates[name].unit for name in ("blower", "wide"))
    assert np.array_equal(one.drive.controller_efficiency, other.drive.controller_efficiency)
    assert np.array_equal(one.rotor.stage.power_factor.c0, other.rotor.stage.power_factor.c0)
    assert np.ptp(one.drive.controller_efficiency) > 0.04


def test_a_machine_in_two_trims_wins_over_itself_as_often_as_by_hand() -> None:
    """Each draw by itself, both nozzles on that draw's machine: who makes more at rest."""
    scenario = replace(read_text(TWO_NOZZLES), sampling=Sampling(samples=256, seed=3,
                                                                 airspeeds=16, drivers=False))
    found = compare(scenario).uncertainty
    assert found is not None
    inputs = drawables(scenario)
    drawn = shares(256, len(inputs), seed=77)
    many = with_draws(scenario, inputs, drawn)
    footing = Footing(basis=many.comparison, candidates=many.candidates)
    thrust = [footing.fly(many.candidates[name], np.zeros(1)).installed_thrust[:, 0]
              for name in ("blower", "wide")]
    wins = float(np.mean(thrust[0] > thrust[1]))
    chance = found.candidates["blower"].most_at_rest
    error = np.hypot(chance.error, np.sqrt(wins * (1.0 - wins) / 256.0))
    assert abs(chance.share - wins) <= 3.0 * error
    apart = replace(scenario, same_part={})
    loose = compare(apart).uncertainty
    assert loose is not None
    assert abs(loose.candidates["blower"].most_at_rest.share - 0.5) < abs(chance.share - 0.5)


def test_what_is_given_is_not_assumed() -> None:
    text = MACHINES.replace('exit_diameter = "15 mm"',
                            'exit_diameter = "15 mm"\nvelocity_coefficient = 0.97')
    keys = {one.spread.key for one in read_text(text).assumed}
    assert "candidates.blower.nozzle.velocity_coefficient" not in keys
    assert "candidates.blower.nozzle.discharge_coefficient" in keys


def test_a_page_without_a_spread_has_a_band() -> None:
    scenario = read_text(MACHINES)
    assert scenario.spreads == ()
    found = compare(scenario).uncertainty
    assert found is not None
    assert found.samples == 256
    for name, one in found.candidates.items():
        nominal = float(compare(replace(scenario, sampling=Sampling(samples=0))).candidates[
            name].at_rest.installed_thrust)
        assert one.static_thrust.low < nominal < one.static_thrust.high
        assert one.static_thrust.median == pytest.approx(nominal, rel=0.02)


@given(flow=st.floats(0.0, 0.29), fall=st.floats(-0.9, 0.9), best=st.sampled_from([0.9, 1.0]))
def test_a_fall_moves_the_flow_of_no_head_and_leaves_the_loss(
        flow: float, fall: float, best: float) -> None:
    """By the closed form: what is added is the head at no flow times the square of the share of
    the largest flow, which no factor on the head does where there is none; power less isentropic
    power over ``best`` stays."""
    made = departed(MAP, fall=fall, best=best)
    share = flow / float(np.asarray(MAP.highest_flow))
    assert made.head(flow) == pytest.approx(MAP.head(flow) + fall * MAP.head(0.0) * share**2)
    assert made.power(flow) - made.head(flow) * flow / best == pytest.approx(
        MAP.power(flow) - MAP.head(flow) * flow / best, abs=1e-12)


@given(flow=st.floats(0.01, 0.15), power=st.floats(0.01, 100.0), head=st.floats(0.5, 2.0))
def test_no_factor_brings_a_stage_past_the_best_there_is(
        flow: float, power: float, head: float) -> None:
    """And the best leaves a map as it is where nothing departs."""
    best = 0.8
    assert float(efficiency(MAP, flow)) < best
    assert efficiency(departed(MAP, best=best), flow) == pytest.approx(efficiency(MAP, flow))
    assert efficiency(departed(MAP, power=power, head=head, best=best), flow) <= best
