"""Break-even against what others printed and measured.

Ideal lapse (``ideal_lapse.csv``: momentum theory, the ducted pair printed in Figure 11 of NASA TN
D-4142); duct against open disc (``ducted_propeller_ideal.csv``); the 7-ft ducted propeller of Mort
and Gamse, NASA TN D-4142, 1967 (digitised); measured propellers of the UIUC Propeller Database
(Brandt, Deters, Ananda, Dantsker and Selig).
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import column, rows
from tests.rotor.measured_propellers import SUSPECT, measured_propellers
from tests.rotor.test_ducted_propeller_coefficients import (
    COEFFICIENTS,
    DIAMETER,
    DUCT_CHORD,
    EXIT_DIAMETER,
    JET_AREA,
    SKIN_FRICTION,
    figure_of_merit_read,
)
from thrustlapse.propulsor.break_even import (
    chain_efficiency,
    jet_speed_of_disc,
    jet_speed_of_exit,
)
from thrustlapse.propulsor.ideal import disc_thrust
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads

X = np.array(column("ideal_lapse", "x_V_over_Ve0_1"))
HALF_DIGIT = 5.1e-9


def test_the_ideal_lapses_have_a_chain_efficiency_of_one() -> None:
    """Printed thrust and jet speed over airspeed, all on those at rest: at constant power 1
    throughout; at constant pressure rise 1 of a power that grows with the flow, Ve/Ve0."""
    for name, power in (("constP", 1.0),
                        ("const_dp", np.array(column("ideal_lapse",
                                                     "ducted_const_dp_Ve_over_Ve0_1")))):
        thrust = np.array(column("ideal_lapse", f"ducted_{name}_T_over_T0_1"))
        jet = np.array(column("ideal_lapse", f"ducted_{name}_Ve_over_Ve0_1"))
        assert chain_efficiency(thrust=thrust, jet_speed=jet, airspeed=X,
                                power=0.5 * power) == pytest.approx(1.0, abs=10 * HALF_DIGIT)
        assert jet_speed_of_exit(thrust=thrust, mass_flow=1.0, jet_speed=1.0,
                                 airspeed=X) == pytest.approx(jet, abs=4 * HALF_DIGIT)


def test_the_ideal_open_rotor_has_a_chain_efficiency_of_one() -> None:
    """On its far-wake speed at rest: T0 = rho A / 2, power T0 / 2."""
    thrust = 0.5 * np.array(column("ideal_lapse", "open_rotor_constP_T_over_T0_1"))
    wake = jet_speed_of_disc(thrust=thrust, mass_flow=0.5, jet_speed=1.0, airspeed=0.0 * X)
    assert wake[0] == pytest.approx(1.0)
    wake = jet_speed_of_disc(thrust=thrust, mass_flow=0.5 * (1.0 + X), jet_speed=1.0, airspeed=X)
    assert chain_efficiency(thrust=thrust, jet_speed=wake, airspeed=X,
                            power=0.25) == pytest.approx(1.0, abs=10 * HALF_DIGIT)


@pytest.mark.parametrize("line", rows("ducted_propeller_ideal"), ids=lambda line: line["sigma"])
def test_a_duct_ties_with_an_open_disc_on_the_share_of_power_printed(line) -> None:
    """At rest and equal rotor area: what an exit needs to tie is the printed ratio of powers."""
    area, density, power = 0.004, 1.225, 700.0
    thrust = disc_thrust(power=power, area=area, density=density, airspeed=0.0)
    jet = jet_speed_of_exit(thrust=thrust, mass_flow=density * line["sigma"] * area,
                            jet_speed=1.0, airspeed=0.0)
    assert chain_efficiency(thrust=thrust, jet_speed=jet, airspeed=0.0,
                            power=power) == pytest.approx(line["power_ratio"], abs=5.1e-7)


def seven_foot(line, skin: float = 0.0) -> float:
    """Chain efficiency from the shaft of a measured point, in rotor diameters per turn."""
    thrust = line["CT"] + skin * 0.5 * line["J"]**2 / DIAMETER**2
    jet = jet_speed_of_exit(thrust=thrust, mass_flow=JET_AREA / DIAMETER**2, jet_speed=1.0,
                            airspeed=line["J"])
    return float(chain_efficiency(thrust=thrust, jet_speed=jet, airspeed=line["J"],
                                  power=line["CP"]))


def test_the_seven_foot_duct_at_rest_has_its_printed_figure_of_merit() -> None:
    """By definition the same at rest: T^1.5 / (2 P sqrt(rho Ae)); read 0.80 in Figure 10a."""
    still = [line for line in COEFFICIENTS if line["J"] == 0.0 and line["CT"] > 0.0]
    assert len(still) == 2
    for line in still:
        doubt = seven_foot(line) * (1.5 * 0.006 / line["CT"] + 0.004 / line["CP"]) + 0.005
        assert seven_foot(line) == pytest.approx(figure_of_merit_read(line["beta_deg"]), abs=doubt)


def test_the_seven_foot_duct_gives_its_jet_the_share_its_report_assumes() -> None:
    """The report takes 0.9 of the shaft power to reach the jet, and skin friction off; its best
    measured point has that, and none has more than digitising allows."""
    skin = SKIN_FRICTION * 2.0 * np.pi * DUCT_CHORD * EXIT_DIAMETER
    moving = [line for line in COEFFICIENTS if line["CT"] > 0.05]
    shares = [seven_foot(line, skin) for line in moving]
    assert max(shares) == pytest.approx(0.9, abs=0.03)
    assert min(shares) > 0.7


@pytest.mark.parametrize("tested", [one for one in measured_propellers()
                                    if one.name not in SUSPECT], ids=lambda one: one.name)
def test_no_measured_propeller_passes_one(tested) -> None:
    """Momentum theory bounds what was measured, at every point with thrust; the best are at most
    0.85 of it (largest propeller of the table), and the overall efficiency is below."""
    pulls = tested.thrust > 0.0
    wake = jet_speed_of_disc(thrust=tested.thrust, mass_flow=np.pi / 4.0 * 0.5 * (
        1.0 + tested.advance_ratio), jet_speed=1.0, airspeed=tested.advance_ratio)
    chain = chain_efficiency(thrust=tested.thrust, jet_speed=wake, airspeed=tested.advance_ratio,
                             power=tested.power)
    assert np.isfinite(chain[pulls]).all()
    assert 0.6 < np.max(chain[pulls]) < 0.85
    overall = tested.advance_ratio * tested.thrust / tested.power
    assert np.all(overall[pulls] < chain[pulls])


@pytest.mark.parametrize(("flat", "steep"), [("10x4.7", "10x7"),
                                             ("9x5.68 2 blades", "9x6.75 2 blades")])
def test_more_pitch_is_a_better_best_efficiency(flat: str, steep: str) -> None:
    """Of one diameter, measured: 0.65 and 0.71, 0.63 and 0.68; blade elements say so too."""
    found = {one.name: one for one in measured_propellers()}
    best = {}
    for name in (flat, steep):
        one = found[name]
        ours = blade_loads(one.geometry, air=SEA_LEVEL, shaft_speed=one.shaft_speed,
                           advance_ratio=one.advance_ratio)
        best[name] = (np.max(one.advance_ratio * one.thrust / one.power),
                      np.max(np.where(ours.power > 0.0, one.advance_ratio * ours.thrust
                                      / ours.power, 0.0)))
    assert best[steep][0] > best[flat][0] + 0.03
    assert best[steep][1] > best[flat][1]
