"""Bad geometry is named before anything is computed; tables are read as they were measured."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rotor.axial_cases import STATION, free_vortex_fan
from tests.rotor.textbook_camber import camber_from_design_lift, camber_from_rise
from thrustlapse.rotor.axial.geometry import (
    acceptable,
    geometry_problems,
    problems,
    read_at,
    stagger_and_camber,
)
from thrustlapse.rotor.axial.stage import axial_stage

GOOD = free_vortex_fan()


def test_good_geometry_has_no_problem():
    assert problems(GOOD) == []
    assert acceptable(GOOD)


@pytest.mark.parametrize(("changes", "named", "value"), [
    ({"hub_diameter": 0.08}, "hub diameter", "0.08 m"),
    ({"hub_diameter": 0.0}, "hub diameter", "0 m"),
    ({"tip_diameter": -0.07}, "tip diameter", "-0.07 m"),
    ({"tip_diameter": 0.0}, "tip diameter", "0 m"),
    ({"station": np.array([0.5])}, "rotor stations", "1 entries"),
    ({"tip_clearance": -1e-4}, "tip clearance", "-0.0001 m"),
    ({"tip_clearance": 0.03}, "tip clearance", "0.03 m"),
    ({"blade_count": 0.0}, "rotor count", "0"),
    ({"blade_count": 40.0}, "rotor solidity", "5.778"),
    ({"thickness_ratio": 0.35, "blade_count": 20.0}, "rotor passage", "thicknesses"),
    ({"stagger": GOOD.stagger + 1.0}, "rotor stagger", "deg"),
    ({"camber": GOOD.camber + 1.0}, "rotor camber", "deg"),
    ({"chord": -GOOD.chord}, "rotor chord", "m"),
    ({"chord": GOOD.chord[:4]}, "rotor chord", "4 entries"),
    ({"chord": GOOD.chord[:4]}, "rotor chord", "6 entries"),
    ({"station": STATION[::-1]}, "rotor stations", "rising"),
    ({"station": np.linspace(0.7, 1.0, 6)}, "rotor stations", "0.7"),
    ({"thickness_ratio": 0.0}, "rotor thickness ratio", "0"),
    ({"blockage": 0.7}, "blockage", "0.7"),
    ({"roughness": np.nan}, "roughness", "nan"),
    ({"vanes": replace(GOOD.vanes, count=0.0)}, "vanes count", "0"),
])
def test_bad_geometry_is_named_with_value_and_what_is_accepted(changes, named, value):
    bad = replace(GOOD, **changes)
    messages = [text for text in problems(bad) if text.startswith(named)]
    assert messages
    assert value in messages[0]
    assert "accepted: " in messages[0]
    assert not acceptable(bad)
    with pytest.raises(ValueError, match=named):
        axial_stage(bad, shaft_speed=3000.0)


def test_every_problem_is_named_at_once():
    bad = replace(GOOD, hub_diameter=0.08, tip_clearance=-1e-3, blockage=0.9)
    named = {problem.dimension for problem in geometry_problems(bad)}
    assert {"hub diameter", "tip clearance", "blockage"} <= named


def test_one_bad_element_leaves_the_batch_unharmed():
    batch = replace(GOOD, hub_diameter=np.array([GOOD.hub_diameter, 0.08]))
    result = axial_stage(batch, shaft_speed=3000.0, band=False)
    alone = axial_stage(GOOD, shaft_speed=3000.0, band=False)
    assert list(acceptable(batch)) == [True, False]
    np.testing.assert_allclose(result.head[0], alone.head, rtol=1e-12)
    assert np.isnan(result.head[1]).all()


def test_edge_angles_make_stagger_and_camber():
    stagger, camber = stagger_and_camber(inlet_angle=0.9, outlet_angle=0.5)
    assert (stagger, camber) == (pytest.approx(0.7), pytest.approx(0.4))


def test_rise_of_a_parabola_gives_its_edge_angles():
    # a parabola of rise f on unit chord has slope 4 f at its edges
    assert np.tan(0.5 * camber_from_rise(rise=0.03, chord=1.0)) == pytest.approx(0.12)


def test_design_lift_sets_the_zero_lift_angle():
    # -0.74 cl / (2 pi): thin-aerofoil theory, and 0.74 from memory (status M)
    camber = camber_from_design_lift(design_lift=0.5)
    assert camber / 4.0 == pytest.approx(0.74 * 0.5 / (2.0 * np.pi))


def test_tables_are_linear_between_stations_and_beyond():
    station, table = np.array([0.4, 0.6, 1.0]), np.array([[1.0, 2.0, 0.0], [5.0, 5.0, 5.0]])
    got = read_at(station=station, table=table, ratio=np.array([[0.3, 0.5, 0.8, 1.1]]))
    np.testing.assert_allclose(got, [[0.5, 1.5, 1.0, -0.5], [5.0, 5.0, 5.0, 5.0]], atol=1e-12)
