"""Propellers predicted from their blades against the University of Illinois measurements."""

import numpy as np
import pytest

from tests.rotor.measured_propellers import (
    KNOWN_SECTIONS,
    SUSPECT,
    as_text,
    compare_measured,
    measured_propellers,
    only_diameter_and_pitch,
)
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads, propeller_table
from thrustlapse.rotor.propeller.geometry import problems

TESTED = {one.name: one for one in measured_propellers()}
RESULT = {(line.propeller, line.test): line for line in compare_measured()}

KNOWN = [name for name, one in TESTED.items()
         if one.geometry.section != "thin cambered" and name not in SUSPECT]
UNKNOWN = [name for name, one in TESTED.items() if one.geometry.section == "thin cambered"]

MISSED = {
    "9x6.75 2 blades": "section from memory; asks for 0.7 degrees more than the mean of its "
                       "nominal pitch and its photographed angle",
    "10x4.7": "wide blade for slow flight, more camber than the average moulded one: asks for 1.3 "
              "degrees more",
}
"""Propellers outside the reach, and what is known about why. Not tuned away."""


def reach(names):
    return [pytest.param(name, marks=pytest.mark.xfail(reason=MISSED[name], strict=True))
            if name in MISSED else name for name in names]


@pytest.mark.parametrize("name", reach(KNOWN))
def test_known_section(name):
    """Reach of this package: 5 % of peak CT, 7 % of peak CP, rms over static and tunnel (R2)."""
    line = RESULT[name, "all"]
    assert line.thrust_rms < 0.05
    assert line.power_rms < 0.07


@pytest.mark.parametrize("name", reach(UNKNOWN))
def test_unknown_section(name):
    """Reach of this package: 10 % of peak CT, 12 % of peak CP, rms over static and tunnel (R2)."""
    line = RESULT[name, "all"]
    assert line.thrust_rms < 0.10
    assert line.power_rms < 0.12


@pytest.mark.parametrize("name", [*MISSED, *SUSPECT])
def test_missed_ones_stay_within_twice_the_reach(name):
    """What is outside the reach is still a propeller of this kind (R2)."""
    line = RESULT[name, "all"]
    known = name not in UNKNOWN
    assert line.thrust_rms < 2.0 * (0.05 if known else 0.10)
    assert line.power_rms < 2.0 * (0.07 if known else 0.12)


def test_bands_cover_the_comparison():
    """The stated band of a section covers its rms error here, suspects left out.

    The bands come from about a thousand measured points; the dozen per propeller here are spread
    evenly, ends included, and may come out a tenth larger.
    """
    for section in {*KNOWN_SECTIONS.values(), "thin cambered"}:
        lines = [RESULT[name, "all"] for name in (*KNOWN, *UNKNOWN)
                 if TESTED[name].geometry.section == section]
        band = propeller_table(TESTED[lines[0].propeller].geometry).band
        assert np.sqrt(np.mean([line.thrust_rms**2 for line in lines])) <= 1.1 * band.head
        assert np.sqrt(np.mean([line.power_rms**2 for line in lines])) <= 1.1 * band.power


def test_diameter_and_pitch_alone():
    """Generic planform on ten propellers (R2): as rms within the stated band of 17 and 22 %."""
    table = compare_measured([TESTED[name] for name in (*KNOWN, *UNKNOWN)],
                             geometry=only_diameter_and_pitch)
    whole = [line for line in table if line.test == "all"]
    band = propeller_table(only_diameter_and_pitch(TESTED["9x6"])).band
    assert np.sqrt(np.mean([line.thrust_rms**2 for line in whole])) < 1.1 * band.head
    assert np.sqrt(np.mean([line.power_rms**2 for line in whole])) < 1.1 * band.power


@pytest.mark.parametrize("name", [*KNOWN, *UNKNOWN])
def test_zero_thrust_advance_ratio(name):
    """Where the fastest tunnel run crosses zero thrust (R2): within 8 % of its advance ratio.

    8 % is about 1.3 degrees at three quarters of the radius, the doubt about the angles.
    """
    one = TESTED[name]
    fast = (one.advance_ratio > 0.0) & (one.shaft_speed > 0.97 * one.shaft_speed[
        one.advance_ratio > 0.0].max())
    last = np.argsort(one.advance_ratio[fast])[-2:]
    j, ct = one.advance_ratio[fast][last], one.thrust[fast][last]
    measured = j[1] - ct[1] * (j[1] - j[0]) / (ct[1] - ct[0])
    grid = np.linspace(0.5 * measured, 1.5 * measured, 41)
    found = blade_loads(one.geometry, air=SEA_LEVEL, shaft_speed=one.shaft_speed[fast][0],
                        advance_ratio=grid).thrust
    predicted = np.interp(0.0, found[::-1], grid[::-1])
    limit = 0.12 if name in MISSED else 0.08
    assert predicted == pytest.approx(measured, rel=limit)


def test_reynolds_number_helps_as_measured():
    """Static CT of the Clark Y blade grows by 22 % from 1577 to 6019 rpm (R2); half at least."""
    one = TESTED["9x5.68 2 blades"]
    rest = one.advance_ratio == 0.0
    found = blade_loads(one.geometry, air=SEA_LEVEL, shaft_speed=one.shaft_speed[rest],
                        advance_ratio=0.0).thrust
    order = np.argsort(one.shaft_speed[rest])
    measured = one.thrust[rest][order]
    assert measured[-1] / measured[0] > 1.2
    assert found[order][-1] / found[order][0] > 1.0 + 0.5 * (measured[-1] / measured[0] - 1.0)


def test_every_measured_blade_is_accepted():
    for one in TESTED.values():
        assert problems(one.geometry) == []


def test_table_of_predicted_against_measured():
    """What the report prints: one line per propeller and kind of test."""
    text = as_text(compare_measured())
    assert text.count("\n") == 1 + 3 * len(TESTED)
    for name in TESTED:
        assert f"| {name} |" in text
