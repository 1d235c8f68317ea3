"""Slip models against their tables, and against each other in their ranges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column, rows
from tests.credibility.records import authority, digits
from tests.rotor.textbook_impeller import swirl_over_ideal
from thrustlapse.rotor.centrifugal import slip

TABLE = "centrifugal_slip_factors"
MODELS = {"stodola": slip.stodola, "stanitz": slip.stanitz, "wiesner": slip.wiesner}


@authority(part="impeller", what="slip models", status="closed form",
           source="Stodola, Stanitz, Wiesner evaluated by an independent script",
           kind="shared")
def test_table():
    """Radius ratio below Wiesner's limit."""
    for row in rows(TABLE):
        angle, flow = np.deg2rad(row["beta2_from_radial_deg"]), row["phi2"]
        for name in MODELS:
            got = slip.slip_speed(name, blades=row["blades"], exit_angle=angle, radius_ratio=0.3)
            yield from digits(row, f"ratio_{name}", swirl_over_ideal(
                slip=got, flow=flow, exit_angle=angle))
            yield from digits(row, f"work_coef_{name}", 1.0 - got - flow * np.tan(angle))


@authority(part="impeller", what="Wiesner's limiting radius ratio", status="closed form",
           source="Wiesner, evaluated by an independent script")
def test_wiesner_limits():
    for row in rows(TABLE):
        angle = np.deg2rad(row["beta2_from_radial_deg"])
        yield from digits(row, "wiesner_radius_ratio_limit", slip.wiesner_radius_limit(
            blades=row["blades"], exit_angle=angle))
        kept = 1.0 - slip.wiesner(blades=row["blades"], exit_angle=angle, radius_ratio=0.0)
        yield from digits(row, "one_minus_slip_velocity_wiesner", kept)


@given(blades=st.floats(3.0, 40.0), angle=st.floats(-1.0, 1.3))
def test_wiesner_is_smooth_at_his_limit_and_does_no_work_where_blades_end(blades, angle):
    limit = slip.wiesner_radius_limit(blades=blades, exit_angle=angle)
    at = slip.wiesner(blades=blades, exit_angle=angle, radius_ratio=np.array([limit, 1.0]))
    # up to the limit his base form
    assert at[0] == pytest.approx(np.sqrt(np.cos(angle)) / blades**0.7, abs=1e-12)
    assert at[1] == pytest.approx(1.0, abs=1e-12)


@given(angle=st.floats(-1.0, 1.3), ratio=st.floats(0.0, 0.7))
def test_more_blades_slip_less(angle, ratio):
    blades = np.arange(3.0, 40.0)
    for name in slip.SLIP_MODELS:
        falling = np.diff(slip.slip_speed(name, blades=blades, exit_angle=angle,
                                          radius_ratio=ratio))
        assert (falling < 0.0).all()


def test_models_agree_for_many_radial_blades():
    # Stanitz and Wiesner on radial-bladed wheels of 15 to 30 blades: within the 0.05 inside which
    # half of the measurements lie about Wiesner (slip.WIESNER_SCATTER)
    blades = np.arange(15.0, 31.0)
    rivals = [slip.slip_speed(name, blades=blades, exit_angle=0.0, radius_ratio=0.4)
              for name in ("stanitz", "wiesner")]
    assert np.abs(rivals[0] - rivals[1]).max() < 0.05


def test_spread_follows_from_the_table():
    # the first and the sixth row, where Stanitz is in his range
    spread = slip.slip_spread(blades=np.array([9.0, 7.0]), exit_angle=np.deg2rad([0.0, 45.0]),
                              radius_ratio=0.3)
    work = np.array([column(TABLE, f"work_coef_{name}") for name in MODELS])
    assert spread == pytest.approx(work.std(axis=0)[[0, 5]], abs=1e-4)


def test_spread_leaves_stanitz_out_beyond_his_angle():
    spread = slip.slip_spread(blades=9.0, exit_angle=np.deg2rad(50.0), radius_ratio=0.3)
    pair = [slip.slip_speed(name, blades=9.0, exit_angle=np.deg2rad(50.0), radius_ratio=0.3)
            for name in ("stodola", "wiesner")]
    assert spread == pytest.approx(abs(pair[0] - pair[1]) / 2.0)


def test_unknown_model_is_named():
    with pytest.raises(ValueError, match=r"'weisner'.*wiesner, stodola, stanitz"):
        slip.slip_speed("weisner", blades=9.0, exit_angle=0.0, radius_ratio=0.3)


@pytest.mark.parametrize("blades", [7, 12])
@pytest.mark.parametrize("ratio", [0.2, 0.6, 0.8, 0.95])
def test_wiesner_beyond_its_radius_limit(blades: int, ratio: float) -> None:
    """Below eps = exp(-8.16 cos / z) the base factor; above, the work falls by the cube."""
    angle = np.deg2rad(40.0)
    limit = np.exp(-8.16 * np.cos(angle) / blades)
    base = np.sqrt(np.cos(angle)) / blades**0.7
    short = max((ratio - limit) / (1.0 - limit), 0.0) ** 3
    found = slip.slip_speed("wiesner", blades=blades, exit_angle=angle, radius_ratio=ratio)
    factor = (1.0 - base) * (1.0 - short)
    assert float(found) == pytest.approx(1.0 - factor, rel=1e-12)
