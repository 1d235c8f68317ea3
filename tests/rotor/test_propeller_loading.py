"""Errors of a propeller's table against momentum theory, and a static reading that anchors it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.aircraft.flyers import propeller
from tests.rotor.loading_band import coefficient_band
from thrustlapse.propulsor.ideal import disc_induced_speed_from_thrust, ducted_thrust
from thrustlapse.rotor.propeller.loading import anchored, anchored_without_speed, ideal_power
from thrustlapse.rotor.stage_map import Band

TABLE = propeller().unit.table
AT = {"advance_ratio": 0.0, "shaft_speed": 700.0}


@given(thrust=st.floats(-0.02, 0.3), advance_ratio=st.floats(0.3, 1.5))
def test_ideal_power_is_that_of_the_disc(thrust, advance_ratio) -> None:
    """In SI with D = n = density = 1: P = T (V + w), w from the disc's momentum balance."""
    speed = disc_induced_speed_from_thrust(thrust=thrust, area=np.pi / 4.0, density=1.0,
                                           airspeed=advance_ratio)
    assert ideal_power(thrust=thrust, advance_ratio=advance_ratio) == pytest.approx(
        thrust * (advance_ratio + speed), rel=1e-9, abs=1e-15)


@given(thrust=st.floats(0.01, 0.3), advance_ratio=st.floats(0.0, 1.5), ratio=st.floats(0.5, 1.3))
def test_ideal_power_of_a_duct(thrust, advance_ratio, ratio) -> None:
    power = ideal_power(thrust=thrust, advance_ratio=advance_ratio, exit_area_ratio=ratio)
    assert ducted_thrust(power=power, area=ratio * np.pi / 4.0, density=1.0,
                         airspeed=advance_ratio) == pytest.approx(thrust, rel=1e-9)


@given(loading=st.floats(-0.3, 0.3), excess=st.floats(0.3, 3.0))
def test_no_error_beats_momentum_theory(loading, excess) -> None:
    at = {"advance_ratio": np.linspace(0.0, 0.9, 19), "shaft_speed": 700.0}
    drawn = replace(TABLE, loading=loading, excess=excess)
    ideal = ideal_power(thrust=drawn.thrust(**at), advance_ratio=at["advance_ratio"])
    assert np.all(drawn.power(**at) >= ideal - 1e-12)


def test_anchored_table_meets_its_reading() -> None:
    reading = {"thrust": 1.2 * float(TABLE.thrust(**AT)), "power": 1.3 * float(TABLE.power(**AT))}
    found = anchored(TABLE, **reading, shaft_speed=700.0)
    assert found.thrust(**AT) == pytest.approx(reading["thrust"], rel=1e-12)
    assert found.power(**AT) == pytest.approx(reading["power"], rel=1e-12)


def test_one_factor_where_no_speed_is_known() -> None:
    ratio = 0.9 * float(TABLE.thrust(**AT) ** 1.5 / TABLE.power(**AT))
    found = anchored_without_speed(TABLE, static_ratio=ratio, shaft_speed=700.0)
    assert found.thrust(**AT) ** 1.5 / found.power(**AT) == pytest.approx(ratio, rel=1e-12)
    assert found.thrust(**AT) == TABLE.thrust(**AT)


@pytest.mark.parametrize("factor", [0.55, 1.7])
def test_a_label_that_a_reading_contradicts_is_refused(factor) -> None:
    with pytest.raises(ValueError, match=r"accepted: 0\.6 to 1\.6; check diameter"):
        anchored(TABLE, thrust=factor * float(TABLE.thrust(**AT)), power=0.5, shaft_speed=700.0)


def test_a_reading_beyond_the_ideal_disc_is_refused() -> None:
    with pytest.raises(ValueError, match="ideal disc"):
        anchored_without_speed(TABLE, static_ratio=1.26, shaft_speed=700.0)
    with pytest.raises(ValueError, match="ideal disc"):
        anchored(TABLE, thrust=0.1, power=0.02, shaft_speed=700.0)


def test_band_at_the_advance_ratio_flown() -> None:
    """Its width in CT is the same all along: the relative one grows as the thrust falls."""
    ct = np.array([0.1, 0.05, 0.0])
    found = coefficient_band(thrust=ct, power=0.05, rest_thrust=0.1, deviations=2.0,
                             advance_ratio=np.array([0.0, 0.4, 0.8]), band=Band(head=0.08))
    assert found.thrust[1] - ct == pytest.approx(np.full(3, 0.016))
    assert found.power[1] - 0.05 == pytest.approx(ideal_power(
        thrust=ct + 0.016, advance_ratio=[0.0, 0.4, 0.8]) - ideal_power(
        thrust=ct, advance_ratio=[0.0, 0.4, 0.8]))
