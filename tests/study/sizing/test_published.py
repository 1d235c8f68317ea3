"""Freely sized machines against what has been published of such machines."""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import rows
from tests.rotor import measured_propellers as university
from tests.tools.sizing_trial import SCENARIO
from thrustlapse import read_scenario
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.sizing.map_grid import propeller_tables
from thrustlapse.study.sizing.walk import Piece, Plan, solved

READ = read_scenario(SCENARIO)
KINDS, RULES = kinds(READ), rules(READ)

POWER = np.array([200.0, 800.0, 2500.0])


def measured_best(one: university.Tested) -> tuple[float, float]:
    """Best J CT / CP of the wind tunnel, and the shaft speed there [rad/s]."""
    found = one.advance_ratio * one.thrust / one.power
    at = int(np.argmax(np.where(one.power > 0.0, found, 0.0)))
    return float(found[at]), float(one.shaft_speed[at])


def within_ranges() -> list[tuple[float, float, float]]:
    """Pitch ratio, measured and read best efficiency of the measured two-bladed propellers that
    the free variables could have made."""
    kind, found = KINDS["propeller"], []
    for one in university.measured_propellers():
        geometry = one.geometry
        assert geometry.pitch is not None
        d = geometry.diameter
        at = {"diameter": np.array([d]), "pitch_ratio": np.array([geometry.pitch / d]),
              "chord_ratio": np.array([np.max(geometry.chord) / d])}
        free = kind.variables
        if (one.name in university.SUSPECT or geometry.blades != 2 or not all(
                free[name].low <= value[0] <= free[name].high for name, value in at.items())):
            continue
        measured, speed = measured_best(one)
        table = propeller_tables(kind.grid, at,
                                 speed_of_sound=float(np.asarray(kind.air.speed_of_sound)))
        ratio = np.linspace(0.02, 0.99, 200) * table.last_advance_ratio[:, None]
        turns = {"advance_ratio": ratio, "shaft_speed": np.array([[speed]])}
        thrust, power = table.thrust(**turns), table.power(**turns)
        best = float(np.max(np.where(thrust > 0.0, ratio * thrust / power, 0.0)))
        found.append((geometry.pitch / d, measured, best))
    return sorted(found)


def test_propellers_have_the_best_efficiencies_measured_at_their_pitch_ratio() -> None:
    """University of Illinois database (Brandt, Deters, Ananda and others): within 6 points each, 4
    in the mean, and better ones are told from worse."""
    found = np.array(within_ranges())
    assert len(found) >= 6
    off = found[:, 2] - found[:, 1]
    assert np.abs(off).max() < 0.06, found
    assert np.sqrt(np.mean(off**2)) < 0.04, found
    assert np.corrcoef(found[:, 1], found[:, 2])[0, 1] > 0.7


@pytest.mark.parametrize(("name", "column"), [
    ("blower", "ducted_constP_T_over_T0_1"), ("fan", "ducted_constP_T_over_T0_1"),
    ("propeller", "open_rotor_constP_T_over_T0_1")])
def test_the_best_at_rest_lapses_like_an_ideal_one(name: str, column: str) -> None:
    """T / T0 of the printed ideal lapse (Mort and Gamse, NASA TN D-4142, 1967; Rankine and Froude)
    at airspeed over the jet speed at rest, of the best design at rest held at its power. Above the
    ideal by at most a tenth, as the rotor comes to a better point, and below it where inlet, duct
    and nozzle lose what the airspeed brings."""
    kind = KINDS[name]
    best = solved(Piece(kind=kind, rules=RULES, airspeed=np.zeros(3), power=POWER, start=None,
                        effort=Plan().between))
    made = with_power_limit(kind.sized(best.places[:, 0], POWER).candidate, POWER[:, None])
    rest = operate(made, airspeed=np.zeros((3, 1)))
    table = [row for row in rows("ideal_lapse") if row["x_V_over_Ve0_1"] <= 1.0]
    share, ideal = (np.array([row[key] for row in table]) for key in ("x_V_over_Ve0_1", column))
    there = operate(made, airspeed=share * rest.jet_speed)
    assert np.all(there.electrical_power <= POWER[:, None] * (1.0 + 1e-6))
    lapse = there.net_thrust / rest.net_thrust
    assert np.all(lapse <= 1.1 * ideal)
    assert np.all(lapse[:, -1] < ideal[-1])
    slow = share <= 0.3
    np.testing.assert_allclose(lapse[:, slow], np.tile(ideal[slow], (3, 1)), rtol=0.1)
