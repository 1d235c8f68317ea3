"""Momentum theory: tables, closed forms, and the matched chain in the limit of low Mach number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.authority import column, rows
from tests.machines import AIR, BLOWER, DENSITY, LineMap, circle, lossless_motor
from thrustlapse.power.drive import Drive
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor import ideal
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_match import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor, operate_open_rotor
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import CoefficientMap

X = np.array(column("ideal_lapse", "x_V_over_Ve0_1"))
SLOW = 1e-3
"""Factor on every speed: compressibility goes with its square, so 1e-6 of the thrust is left."""


@pytest.mark.parametrize(("name", "theory"), [
    ("ducted_constP_T_over_T0_1", ideal.lapse_constant_power),
    ("ducted_const_dp_T_over_T0_1", ideal.lapse_constant_pressure),
    ("const_Ve_T_over_T0_1", ideal.lapse_constant_jet_speed),
    ("open_rotor_constP_T_over_T0_1", ideal.lapse_open_rotor)])
def test_the_simple_lapses(name, theory) -> None:
    """Incompressible momentum theory, X; the ducted pair is printed in NASA TN D-4142, Fig. 11."""
    # the table stops the constant-jet-speed line at zero thrust
    found = theory(speed_ratio=X)
    found = np.maximum(found, 0.0) if name.startswith("const_Ve") else found
    np.testing.assert_allclose(found, column("ideal_lapse", name), atol=5.1e-9)


def loss_free(*, work: float = 0.3, drive: Drive, slow: float = 1.0) -> Ducted:
    """A ducted machine in which nothing is lost: all shaft power is jet power."""
    stage = CoefficientMap(head_shutoff=work, work_shutoff=work, shutoff_power=0.0,
                           highest_flow=5.0)
    return Ducted(inlet=Inlet(throat_area=circle(0.07)),
                  rotor=Rotor(stage=stage, tip_diameter=0.07, eye_area=circle(0.07)),
                  duct=Duct(area=circle(0.07)), nozzle=Nozzle(exit_area=circle(0.05)),
                  drive=drive, supply=Supply(voltage=100.0 * slow, resistance=0.0))


def test_constant_power_through_the_whole_chain() -> None:
    """T/T0 of the table to 1e-6, all speeds scaled down by 1000 (so power by 1e9)."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=500.0 * SLOW**3),
                        slow=SLOW)
    still = operate_ducted(machine, air=AIR, airspeed=0.0)
    flown = operate_ducted(machine, air=AIR, airspeed=X * float(still.jet_speed))
    np.testing.assert_allclose(flown.net_thrust / still.net_thrust,
                               column("ideal_lapse", "ducted_constP_T_over_T0_1"), atol=1e-6)


def test_constant_pressure_rise_through_the_whole_chain() -> None:
    """A map of constant head at constant shaft speed; table to 1e-6, speeds scaled by 1000."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=1e6,
                                    speed_limit=3000.0 * SLOW))
    still = operate_ducted(machine, air=AIR, airspeed=0.0)
    flown = operate_ducted(machine, air=AIR, airspeed=X * float(still.jet_speed))
    np.testing.assert_allclose(flown.net_thrust / still.net_thrust,
                               column("ideal_lapse", "ducted_const_dp_T_over_T0_1"), atol=1e-6)


@pytest.mark.parametrize("airspeed", [0.0, 40.0, 120.0])
def test_loss_free_power_is_exact_at_any_subsonic_speed(airspeed) -> None:
    """P = 0.5 mdot (V8^2 - V0^2), exact while unchoked because then T8 = T0 (closed form)."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=900.0))
    point = operate_ducted(machine, air=AIR, airspeed=airspeed)
    power = 0.5 * point.mass_flow * (point.jet_speed**2 - airspeed**2)
    assert float(power) == pytest.approx(900.0, rel=1e-9)
    assert float(point.net_thrust) == pytest.approx(float(point.ideal_thrust), rel=1e-9)


def test_loss_free_static_thrust() -> None:
    """F = (4 rho0 A8 P^2)^(1/3), exact unchoked (closed form): the jet has ambient density."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=700.0))
    point = operate_ducted(machine, air=AIR, airspeed=0.0)
    expected = (4.0 * DENSITY * circle(0.05) * 700.0**2) ** (1.0 / 3.0)
    assert float(point.net_thrust) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("power", "thrust", "speed"), [
    (500.0, 15.670950, 63.812341), (200.0, 8.507500, None)])
def test_ducted_example_of_momentum_theory(power, thrust, speed) -> None:
    """70 mm duct with 30 mm hub, exit as large as the annulus; worked here from theory, X."""
    area = circle(0.070) - circle(0.030)
    found = ideal.ducted_thrust(power=power, area=area, density=1.225, airspeed=0.0)
    assert float(found) == pytest.approx(thrust, abs=5e-7)
    if speed is not None:
        jet = ideal.jet_speed_from_power(power=power, area=area, density=1.225, airspeed=0.0)
        assert float(jet) == pytest.approx(speed, abs=5e-7)


def test_open_disc_at_rest() -> None:
    """F = (2 rho A P^2)^(1/3), Rankine and Froude (closed form)."""
    found = ideal.disc_thrust(power=300.0, area=0.05, density=1.2, airspeed=0.0)
    assert float(found) == pytest.approx((2.0 * 1.2 * 0.05 * 300.0**2) ** (1.0 / 3.0), rel=1e-12)


@pytest.mark.parametrize("thrust", [-2.0, 0.0, 1e-9, 4.0])
@pytest.mark.parametrize("airspeed", [5.0, 30.0])
def test_induced_speed_and_thrust_are_inverse(thrust, airspeed) -> None:
    """T = 2 rho A (V + w) w, valid down to -rho A V^2 / 2 and NaN below."""
    w = ideal.disc_induced_speed_from_thrust(thrust=thrust, area=0.5, density=1.2,
                                             airspeed=airspeed)
    assert float(2.0 * 1.2 * 0.5 * (airspeed + w) * w) == pytest.approx(thrust, rel=1e-9)
    below = ideal.disc_induced_speed_from_thrust(thrust=-0.31 * airspeed**2, area=0.5, density=1.2,
                                                 airspeed=airspeed)
    assert np.isnan(float(below))


def matched_fan(*, slow: float, power: float | None = None) -> Ducted:
    """The made-up fan of ``matched_fan_*.csv``: annulus 30 to 70 mm, exit 0.9 of it."""
    annulus = circle(0.070) - circle(0.030)
    drive = (Drive(motor=lossless_motor(), power_limit=1e6,
                   speed_limit=30_000.0 * 2.0 * np.pi / 60.0 * slow) if power is None
             else Drive(motor=lossless_motor(), power_limit=power * slow**3))
    return Ducted(inlet=Inlet(throat_area=annulus),
                  rotor=Rotor(stage=LineMap(annulus=annulus, diameter=0.070), tip_diameter=0.070,
                              eye_area=annulus),
                  duct=Duct(area=annulus, loss_coefficient=0.10),
                  nozzle=Nozzle(exit_area=0.9 * annulus), drive=drive,
                  supply=Supply(voltage=1e4, resistance=0.0))


@pytest.mark.parametrize("row", rows("matched_fan_constant_speed"), ids=str)
def test_fan_and_nozzle_at_constant_speed(row) -> None:
    """Closed form, incompressible (T); 1e-6 with every speed scaled down by 1000."""
    point = operate_ducted(matched_fan(slow=SLOW), air=AIR, airspeed=row["V_m_s"] * SLOW)
    assert float(point.net_thrust) / SLOW**2 == pytest.approx(row["thrust_N"], rel=1e-6)
    assert float(point.jet_speed) / SLOW == pytest.approx(row["Ve_m_s"], rel=1e-6)
    assert float(point.shaft_power) / SLOW**3 == pytest.approx(row["power_W"], rel=1e-6)


@pytest.mark.parametrize("row", rows("matched_fan_constant_power"), ids=str)
def test_fan_and_nozzle_at_constant_power(row) -> None:
    """Closed form, incompressible (T); 1e-6 with every speed scaled down by 1000."""
    point = operate_ducted(matched_fan(slow=SLOW, power=300.0), air=AIR,
                           airspeed=row["V_m_s"] * SLOW)
    assert float(point.net_thrust) / SLOW**2 == pytest.approx(row["thrust_N"], rel=1e-6)
    assert float(point.shaft_speed) / SLOW * 60 / (2 * np.pi) == pytest.approx(row["rpm"],
                                                                               rel=1e-6)


@pytest.mark.parametrize(("airspeed", "low", "high"), [(0.0, 0.001, 0.004), (80.0, 0.07, 0.11)])
def test_how_far_real_air_departs_at_full_speed(airspeed, low, high) -> None:
    """Compressibility moves the thrust of that fan by 0.2 % at rest and 9 % at 80 m/s (T, as
    stated with the case)."""
    row = next(row for row in rows("matched_fan_constant_speed") if row["V_m_s"] == airspeed)
    point = operate_ducted(matched_fan(slow=1.0), air=AIR, airspeed=airspeed)
    assert low < abs(float(point.net_thrust) / row["thrust_N"] - 1.0) < high


def test_measured_propeller_at_constant_shaft_power() -> None:
    """9 x 6 inch propeller, thrust against airspeed at 54.95 W of shaft power, worked from the
    measured CT and CP (Brandt and Selig, AIAA 2011-1255; rows X), through the matched chain."""
    runs = sorted((row for row in rows("propeller_9x6_runs")
                   if row["rpm_1min"] in (6701, 6715, 6717)), key=lambda row: row["J_1"])
    table = PropellerTable(advance_ratio=np.array([row["J_1"] for row in runs]),
                           shaft_speed=np.array([700.0]),
                           thrust_points=np.array([[row["CT_1"] for row in runs]]),
                           power_points=np.array([[row["CP_1"] for row in runs]]))
    machine = OpenRotor(table=table, diameter=9 * 0.0254,
                        drive=Drive(motor=lossless_motor(), power_limit=54.95),
                        supply=Supply(voltage=50.0, resistance=0.0))
    lapse = rows("propeller_9x6_lapse_constant_power")
    point = operate_open_rotor(machine, air=AIR,
                               airspeed=np.array([row["V_mps"] for row in lapse]))
    for found, omega, row in zip(point.net_thrust, point.shaft_speed, lapse, strict=True):
        # V is printed to 1 mm/s, which moves thrust by up to 3e-4 of itself
        assert found == pytest.approx(row["thrust_N"], rel=6e-4)
        assert omega * 60 / (2 * np.pi) == pytest.approx(row["rpm_1min"], rel=3e-4)


@pytest.mark.parametrize(("scale", "speed", "density"), [(2.0, 1.0, 1.0), (1.0, 1.5, 1.0),
                                                         (1.0, 1.0, 0.7)])
def test_dimensional_scaling_at_low_mach_number(scale, speed, density) -> None:
    """F ~ rho N^2 D^4 and P ~ rho N^3 D^5 with geometry fixed (fan laws, closed form)."""
    def made(size: float, rate: float) -> Ducted:
        machine = matched_fan(slow=1e-2)
        areas = size**2
        return replace(
            machine, inlet=Inlet(throat_area=machine.inlet.throat_area * areas),
            rotor=Rotor(stage=LineMap(annulus=machine.rotor.stage.annulus * areas,
                                      diameter=0.07 * size),
                        tip_diameter=0.07 * size, eye_area=machine.rotor.eye_area * areas),
            duct=replace(machine.duct, area=machine.duct.area * areas),
            nozzle=Nozzle(exit_area=machine.nozzle.exit_area * areas),
            drive=replace(machine.drive, speed_limit=machine.drive.speed_limit * rate))

    thin = replace(AIR, pressure=AIR.pressure * density)
    one = operate_ducted(made(1.0, 1.0), air=AIR, airspeed=0.3)
    two = operate_ducted(made(scale, speed), air=thin, airspeed=0.3 * scale * speed)
    assert float(two.net_thrust / one.net_thrust) == pytest.approx(
        density * speed**2 * scale**4, rel=2e-4)
    assert float(two.shaft_power / one.shaft_power) == pytest.approx(
        density * speed**3 * scale**5, rel=2e-4)


def test_static_thrust_does_not_ask_which_way_the_inlet_faces() -> None:
    """At equal loss (closed form: no airspeed, no direction)."""
    thrusts = [float(operate_ducted(
        replace(BLOWER, inlet=replace(BLOWER.inlet, facing=angle, ram_recovery=recovery)),
        air=AIR, airspeed=0.0).net_thrust) for angle, recovery in ((0.0, 1.0), (1.0, 0.5),
                                                                   (np.pi, 0.0))]
    assert thrusts[1:] == pytest.approx(thrusts[:1] * 2, rel=1e-12)
