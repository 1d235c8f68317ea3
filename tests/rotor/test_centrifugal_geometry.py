"""Bad dimensions are named before anything is computed: value, what is accepted, what to do."""

from __future__ import annotations

import numpy as np
import pytest

from tests.rotor.centrifugal_cases import MM, SUCTION_WHEEL, wheel
from thrustlapse.rotor.centrifugal.geometry import cautions, is_sound, problems


def test_a_sound_machine_has_no_problems():
    assert problems(SUCTION_WHEEL) == []
    assert cautions(SUCTION_WHEEL) == []
    assert is_sound(SUCTION_WHEEL).item()
    rough = wheel(casing_roughness=float(SUCTION_WHEEL.diffuser_width) / 20.0)
    assert not any("casing roughness" in text for text in problems(rough))


@pytest.mark.parametrize(("changes", "said"), [
    ({"hub_diameter": 22 * MM}, "hub diameter is 22 mm; accepted: 0 up to less than the eye"),
    ({"eye_diameter": 41 * MM}, "eye diameter is 41 mm; accepted: less than the outlet diameter"),
    ({"outlet_width": 0.0}, "outlet width is 0 mm; accepted: more than 0"),
    ({"outlet_width": 45 * MM}, "outlet width is 45 mm; accepted: less than the outlet diameter"),
    ({"blades": 60.0}, "the blades overlap"),
    ({"blades": 2.0}, "blade count is 2; accepted: 3 to 80"),
    ({"exit_angle": np.deg2rad(85.0)}, "exit angle from radial is 85 degrees; accepted: -60 to 80"),
    ({"inlet_angle": 60.0}, "inlet angle from the meridional direction is 3438 degrees"),
    ({"tip_clearance": -0.1 * MM}, "tip clearance is -0.1 mm; accepted: 0 up to less than"),
    ({"tip_clearance": 4 * MM}, "tip clearance is 4 mm"),
    ({"blade_thickness": -1 * MM}, "blade thickness is -1 mm; accepted: more than 0"),
    ({"disc_gap": 0.0}, "disc gap is 0 mm"),
    ({"roughness": 1 * MM}, "roughness is 1 mm"),
    ({"casing_roughness": -1e-6}, "casing roughness is -0.001 mm"),
    ({"diffuser_diameter": 39 * MM}, "diffuser diameter is 39 mm; accepted: at least the outlet"),
    ({"diffuser_width": -1 * MM}, "diffuser width is -1 mm"),
    ({"throat_area": 0.0}, "throat area is 0 mm^2; accepted: more than 0"),
    ({"exit_area": 50e-6}, "exit area is 50 mm^2; accepted: at least the throat area"),
    ({"exit_cone_angle": 0.0}, "accepted: more than 0 where the cone widens"),
    ({"axial_length": -5 * MM}, "axial length is -5 mm"),
    ({"slip_model": "guess"}, "slip model is 'guess'; accepted: wiesner, stodola, stanitz"),
    ({"eye_diameter": np.nan}, "eye diameter is nan mm"),
])
def test_problem(changes, said):
    found = problems(wheel(**changes))
    assert any(said in message for message in found), found
    assert not is_sound(wheel(**changes)).item()


def test_every_problem_says_what_to_do():
    for message in problems(wheel(hub_diameter=22 * MM, tip_clearance=-1 * MM, throat_area=0.0)):
        value, accepted, remedy = message.split("; ", 2)
        assert " is " in value
        assert accepted.startswith("accepted: ")
        assert remedy


def test_all_faults_are_reported_at_once():
    found = problems(wheel(hub_diameter=22 * MM, tip_clearance=-1 * MM, exit_angle=2.0))
    for word in ("hub diameter", "tip clearance", "exit angle"):
        assert any(message.startswith(word) for message in found)


def test_a_batch_says_how_many_share_a_fault():
    batch = wheel(tip_clearance=np.array([0.1, -0.2, 0.3, -0.4]) * MM)
    assert is_sound(batch).tolist() == [True, False, True, False]
    assert problems(batch) == ["tip clearance is -0.2 mm (in 2 of 4 elements); accepted: 0 up to "
                               "less than the outlet width; a negative gap would rub; give the gap "
                               "when running"]


@pytest.mark.parametrize(("changes", "said"), [
    ({"disc_gap": 0.1 * MM}, "Daily and Nece"),
    ({"slip_model": "stanitz", "exit_angle": np.deg2rad(50.0)}, "Stanitz"),
    ({"tip_clearance": 1 * MM}, "tip clearance is 0.286"),
    ({"eye_diameter": 38 * MM, "hub_diameter": 30 * MM}, "blades shorter"),
])
def test_what_lies_outside_the_tests_behind_a_correlation_is_a_caution(changes, said):
    geometry = wheel(**changes)
    assert problems(geometry) == []
    assert any(said in note for note in cautions(geometry))
