"""From blades to a coefficient table: similarity, bounds, bad geometry, the table itself."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rotor.measured_propellers import measured_propellers
from tests.rotor.polar_section import PolarSection
from thrustlapse.air.atmosphere import Air
from thrustlapse.rotor.propeller.blades import (
    GENERIC_BAND,
    OWN_SECTION_BAND,
    SEA_LEVEL,
    blade_loads,
    default_advance_ratios,
    default_shaft_speeds,
    propeller_table,
)
from thrustlapse.rotor.propeller.geometry import (
    PITCH_WEIGHT,
    BladeGeometry,
    generic_blade,
    problems,
)
from thrustlapse.rotor.propeller.section import SECTIONS
from thrustlapse.rotor.stage_map import NoMap

TESTED = {one.name: one for one in measured_propellers()}
CLARK = TESTED["9x5.68 2 blades"].geometry


def same_at_every_reynolds_number():
    """A section known by a single polar, held above its Reynolds number (made-up numbers)."""
    angle = np.deg2rad([-6.0, -2.0, 2.0, 6.0, 10.0, 14.0])
    return PolarSection(polars={1e3: (angle, 5.5 * (angle + 0.05),
                                      0.02 + 0.01 * np.square(5.5 * angle))})


# Similarity and bounds -----------------------------------------------------------------------


@given(st.floats(0.3, 4.0), st.floats(0.5, 2.0), st.floats(0.0, 0.9))
def test_coefficients_do_not_know_the_size(size, density, advance_ratio):
    """Same Mach number, a section without Reynolds number: CT(J), CP(J) alone. Round-off."""
    small = replace(CLARK, section=same_at_every_reynolds_number())
    large = replace(small, diameter=small.diameter * size, pitch=None,
                    **{name: np.array(getattr(small, name)) * size for name in ("radius", "chord")})
    small = replace(small, pitch=None)
    thin = Air(pressure=SEA_LEVEL.pressure * density, temperature=SEA_LEVEL.temperature)
    one = blade_loads(small, air=SEA_LEVEL, shaft_speed=500.0, advance_ratio=advance_ratio)
    two = blade_loads(large, air=thin, shaft_speed=500.0 / size, advance_ratio=advance_ratio)
    assert two.thrust == pytest.approx(one.thrust, rel=1e-9, abs=1e-12)
    assert two.power == pytest.approx(one.power, rel=1e-9, abs=1e-12)
    assert two.tip_mach == pytest.approx(one.tip_mach, rel=1e-12)


@pytest.mark.parametrize("name", TESTED)
def test_power_is_never_below_the_momentum_bound(name):
    """Actuator disc: P >= T (V + w), w from T = 2 rho A (V + w) w."""
    geometry = TESTED[name].geometry
    table = propeller_table(geometry)
    j = table.advance_ratio
    ct = np.maximum(table.thrust_points, 0.0)
    induced = 0.5 * (np.sqrt(j**2 + 8.0 * ct / np.pi) - j)  # w / (n D)
    assert np.all(table.power_points[ct > 0.0] >= (ct * (j + induced))[ct > 0.0])


@pytest.mark.parametrize("name", TESTED)
def test_windmilling_gives_no_more_than_the_wind_has(name):
    """Betz: a windmill takes at most 16/27 of the power in its disc."""
    table = propeller_table(TESTED[name].geometry)
    wind = np.pi / 8.0 * table.advance_ratio**3
    assert np.all(-table.power_points <= 16.0 / 27.0 * wind + 1e-12)
    assert np.any(table.power_points < 0.0)


def test_twenty_radii_are_enough():
    """Against 160 radii: 0.2 % of the peaks; and the error falls fourfold with each doubling."""
    at = {"air": SEA_LEVEL, "shaft_speed": 500.0, "advance_ratio": np.linspace(0.0, 0.8, 9)}
    fine = blade_loads(CLARK, radii=160, **at)
    for name in ("thrust", "power"):
        error = [np.max(np.abs(getattr(blade_loads(CLARK, radii=n, **at), name)
                               - getattr(fine, name))) / getattr(fine, name).max()
                 for n in (10, 20, 40)]
        assert error[1] < 0.002
        assert error[0] > 3.0 * error[1] > 9.0 * error[2]


def test_compressibility_raises_lift_and_then_drag():
    """Slow and fast at one Reynolds number: pressure and size change against each other."""
    size, slow = 4.0, 150.0
    small = replace(CLARK, pitch=None)
    large = replace(small, diameter=small.diameter * size,
                    **{name: np.array(getattr(small, name)) * size for name in ("radius", "chord")})
    still = blade_loads(large, air=SEA_LEVEL, shaft_speed=slow / size**2, advance_ratio=0.3)
    for tip_mach, thrust, power in ((0.5, 1.05, 1.02), (0.8, 1.05, 1.10)):
        shaft = tip_mach * float(SEA_LEVEL.speed_of_sound) / small.tip_radius
        thin = Air(pressure=SEA_LEVEL.pressure * slow / shaft, temperature=288.15)
        fast = blade_loads(small, air=thin, shaft_speed=shaft, advance_ratio=0.3)
        assert fast.thrust > thrust * still.thrust
        assert fast.power > power * still.power
        assert fast.converged


def test_out_of_range_is_nan_and_says_so():
    found = blade_loads(CLARK, air=SEA_LEVEL, shaft_speed=np.array([500.0, 0.0, np.nan, 500.0]),
                        advance_ratio=np.array([0.2, 0.2, 0.2, -0.2]))
    assert found.converged.tolist() == [True, False, False, False]
    assert np.isfinite(found.thrust).tolist() == [True, False, False, False]
    alone = blade_loads(CLARK, air=SEA_LEVEL, shaft_speed=500.0, advance_ratio=0.2)
    assert alone.thrust == pytest.approx(found.thrust[0], rel=1e-14)
    assert alone.thrust.shape == ()


# The table -----------------------------------------------------------------------------------


def test_table_returns_the_loads_and_is_kept():
    speeds, ratios = (300.0, 500.0, 700.0), tuple(np.linspace(0.0, 0.9, 10))
    table = propeller_table(CLARK, shaft_speeds=speeds, advance_ratios=ratios)
    assert table.thrust_points.shape == (3, 10)
    loads = blade_loads(CLARK, air=SEA_LEVEL, shaft_speed=500.0, advance_ratio=ratios[4])
    assert table.thrust(advance_ratio=ratios[4], shaft_speed=500.0) == pytest.approx(
        float(loads.thrust), rel=1e-12)
    assert table.power(advance_ratio=ratios[4], shaft_speed=500.0) == pytest.approx(
        float(loads.power), rel=1e-12)
    again = replace(CLARK)
    assert propeller_table(again, shaft_speeds=np.array(speeds), advance_ratios=ratios) is table
    assert propeller_table(CLARK, shaft_speeds=speeds, advance_ratios=ratios,
                           air=Air(pressure=9e4, temperature=280.0)) is not table


@pytest.mark.parametrize("name", TESTED)
def test_default_grid_goes_from_rest_to_windmilling(name):
    table = propeller_table(TESTED[name].geometry)
    assert table.thrust_points.shape == (6, 60)
    assert np.all(np.isfinite(table.thrust_points))
    assert table.advance_ratio[0] == 0.0
    assert np.all(table.thrust_points[:, 0] > 0.0)
    assert np.all(table.thrust_points[:, -1] < 0.0)
    assert np.all(table.power_points[:, -1] < 0.0)
    tip = table.shaft_speed * TESTED[name].geometry.tip_radius / float(SEA_LEVEL.speed_of_sound)
    assert tip[[0, -1]] == pytest.approx([0.08, 0.8])


def test_band_and_source_travel_with_the_table():
    assert propeller_table(CLARK).band.basis.startswith("rms error")
    own = propeller_table(replace(CLARK, section=same_at_every_reynolds_number()))
    assert own.band == OWN_SECTION_BAND
    generic = propeller_table(generic_blade(diameter=0.25, pitch=0.15))
    assert generic.band == GENERIC_BAND
    assert "generic planform" in generic.source
    assert "clark y" in propeller_table(CLARK).source


@pytest.mark.parametrize(("speeds", "ratios", "why"), [
    ((), (0.0, 0.5), "above 0 and rising"), ((0.0, 100.0), (0.0, 0.5), "above 0 and rising"),
    ((200.0, 100.0), (0.0, 0.5), "above 0 and rising"), ((100.0,), (0.5,), "two or more"),
    ((100.0,), (-0.1, 0.5), "not negative"), ((100.0,), (0.5, 0.2), "rising"),
])
def test_bad_grids_are_refused(speeds, ratios, why):
    with pytest.raises(ValueError, match=why):
        propeller_table(CLARK, shaft_speeds=speeds, advance_ratios=ratios)


def test_a_table_is_refused_before_anything_is_computed():
    bad = replace(CLARK, blades=0, section="no such thing")
    with pytest.raises(ValueError, match=r"blade count is 0.*section is 'no such thing'"):
        propeller_table(bad)


# Geometry ------------------------------------------------------------------------------------


def changed(**parts):
    return replace(CLARK, pitch=None, **parts)


def at_station(name, index, value):
    values = list(getattr(CLARK, name))
    values[index] = value
    return {name: values}


BAD = [
    (changed(diameter=0.0), "diameter is 0 mm; accepted: more than 0"),
    (changed(diameter=np.nan), "diameter is nan"),
    (changed(blades=0), "blade count is 0; accepted: 1 to 12"),
    (changed(section="naca"), "section is 'naca'; accepted: clark y"),
    (replace(CLARK, pitch=np.nan), "pitch is nan mm"),
    (changed(**at_station("angle", 3, np.deg2rad(85.0))), "blade angle is 85 degrees at station 4"),
    (changed(angle=[np.pi / 2 - a for a in CLARK.angle]), "from the plane of rotation"),
    (changed(angle=np.rad2deg(CLARK.angle)), "(and 8 more)"),
    (changed(**at_station("chord", 2, -0.01)), "chord is -10 mm at station 3"),
    (changed(**at_station("chord", 0, np.nan)), "chord is nan mm at station 1"),
    (changed(**at_station("radius", 0, 0.0)), "radius is 0 mm at station 1"),
    (changed(**at_station("radius", 4, 0.05)), "accepted: rising from hub to tip"),
    (changed(blades=12, chord=np.array(CLARK.chord) * 2.0), "the blades overlap"),
    (changed(chord=CLARK.chord[:-1]), "8 of chord"),
    (changed(radius=[0.1], chord=[0.01], angle=[0.3]), "two or more of each"),
    (changed(diameter=2.0 * CLARK.diameter), "the last radius is 114.3 mm"),
    (changed(diameter=0.5 * CLARK.diameter), "the last radius is 114.3 mm"),
]


@pytest.mark.parametrize(("geometry", "message"), BAD, ids=[text for _, text in BAD])
def test_bad_geometry_is_named(geometry, message):
    found = problems(geometry)
    assert any(message in text for text in found), found
    assert all("accepted:" in text for text in found)


def test_several_problems_are_all_named():
    assert len(problems(changed(diameter=0.0, blades=40, section="naca"))) >= 3


def test_nominal_pitch_moves_the_angles_half_way():
    middle = np.array([0.75 * CLARK.tip_radius])
    bare = replace(CLARK, pitch=None)
    nominal = bare.angle_at(middle)[0] + np.deg2rad(2.0)
    pitch = float(2.0 * np.pi * middle[0] * np.tan(nominal))
    moved = replace(CLARK, pitch=pitch)
    assert moved.angle_at(middle)[0] - bare.angle_at(middle)[0] == pytest.approx(
        PITCH_WEIGHT * np.deg2rad(2.0), abs=1e-12)
    assert moved.nominal_angle == pytest.approx(nominal, abs=1e-12)


def test_a_blade_reset_in_its_hub_keeps_its_measured_angles_and_says_so():
    """A blade set 5 degrees coarser than the pitch it is sold with."""
    reset = replace(CLARK, angle=np.array(CLARK.angle) + np.deg2rad(5.0))
    middle = np.array([0.75 * CLARK.tip_radius])
    assert reset.angle_at(middle)[0] == pytest.approx(np.deg2rad(20.0), abs=np.deg2rad(0.1))
    assert "blade table alone is used" in propeller_table(reset).source
    assert "mean of both used" in propeller_table(CLARK).source


def test_generic_blade_is_scaled_by_what_is_known():
    blade = generic_blade(diameter=0.254, pitch=0.1524, blades=3, widest_chord=0.02)
    assert problems(blade) == []
    assert max(blade.chord) == pytest.approx(0.02)
    middle = np.array([0.5 * blade.tip_radius])
    local = np.tan(blade.angle_at(middle)[0]) * 2.0 * np.pi * middle[0]
    assert local == pytest.approx(0.1524, rel=0.05)
    assert blade.pitch is None  # the pitch made the angles already


@given(st.floats(0.08, 1.0), st.floats(0.3, 1.3), st.integers(2, 5))
def test_generic_blades_are_always_accepted(diameter, pitch_ratio, blades):
    blade = generic_blade(diameter=diameter, pitch=pitch_ratio * diameter, blades=blades)
    assert problems(blade) == []
    table = propeller_table(blade, shaft_speeds=default_shaft_speeds(blade)[2:3],
                            advance_ratios=default_advance_ratios(blade)[::6], radii=12)
    assert np.all(np.isfinite(table.thrust_points))
    assert table.thrust_points[0, 0] > 0.0
    assert table.thrust_points[0, -1] < 0.0


def test_two_stations_are_a_straight_blade():
    blade = BladeGeometry(diameter=0.2, blades=2, radius=[0.02, 0.1], chord=[0.02, 0.01],
                          angle=[0.6, 0.2])
    assert problems(blade) == []
    assert blade.chord_at(np.array([0.06]))[0] == pytest.approx(0.015)


def test_sections_by_name_are_those_of_the_scenario():
    assert list(SECTIONS) == ["clark y", "thin cambered", "thin moderate"]


def test_no_table_is_made_of_air_that_is_not_known():
    geometry = next(iter(TESTED.values())).geometry
    with pytest.raises(NoMap, match="no solution at 500 rad/s and advance ratio 0"):
        propeller_table(geometry, air=Air(pressure=np.nan, temperature=288.15),
                        shaft_speeds=np.array([500.0]), advance_ratios=np.array([0.0, 0.1]))


def test_a_slow_table_is_a_table():
    """Any shaft speed above zero; rows must rise."""
    slow = propeller_table(CLARK, shaft_speeds=np.array([0.5, 0.9]))
    assert slow.shaft_speed.tolist() == [0.5, 0.9]
    for speeds in ([], [0.0, 1.0], [2.0, 1.0]):
        with pytest.raises(ValueError, match="above 0 and rising"):
            propeller_table(CLARK, shaft_speeds=np.array(speeds))
