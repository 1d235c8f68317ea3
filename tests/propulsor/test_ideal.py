"""Momentum theory: tables, closed forms, and the matched chain in the limit of low Mach number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column, rows
from tests.credibility.records import PRINTED, agree, authority, between
from tests.machines import (
    AIR,
    BLOWER,
    DENSITY,
    PROPELLER,
    LineMap,
    circle,
    lossless_motor,
)
from thrustlapse.power.drive import Drive
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor import ideal
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor, operate_open_rotor
from thrustlapse.propulsor.operating_point import Flag
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import CoefficientMap, PointMap

X = np.array(column("ideal_lapse", "x_V_over_Ve0_1"))
SLOW = 1e-3
"""Factor on every speed: compressibility goes with its square, so 1e-6 of the thrust is left."""


@authority(part="lapse", what="lapse of ideal machines", status="closed form",
           source="incompressible momentum theory; the ducted pair in NASA TN D-4142, Fig. 11")
def test_the_simple_lapses():
    for name, theory in (("ducted_constP_T_over_T0_1", ideal.lapse_constant_power),
                         ("ducted_const_dp_T_over_T0_1", ideal.lapse_constant_pressure),
                         ("const_Ve_T_over_T0_1", ideal.lapse_constant_jet_speed),
                         ("open_rotor_constP_T_over_T0_1", ideal.lapse_open_rotor)):
        # the table stops the constant-jet-speed line at zero thrust
        found = theory(speed_ratio=X)
        found = np.maximum(found, 0.0) if name.startswith("const_Ve") else found
        yield from agree(f"{name.removesuffix('_T_over_T0_1')} at V/Vj", found,
                         column("ideal_lapse", name), within=5.1e-9, at=X, why=PRINTED)


def loss_free(*, work: float = 0.3, drive: Drive, slow: float = 1.0) -> Ducted:
    """A ducted machine in which nothing is lost: all shaft power is jet power."""
    stage = CoefficientMap(head_shutoff=work, work_shutoff=work, shutoff_power=0.0,
                           highest_flow=5.0)
    return Ducted(inlet=Inlet(throat_area=circle(0.07)),
                  rotor=Rotor(stage=stage, tip_diameter=0.07, eye_area=circle(0.07)),
                  duct=Duct(area=circle(0.07)), nozzle=Nozzle(exit_area=circle(0.05)),
                  drive=drive, supply=Supply(voltage=100.0 * slow, resistance=0.0))


@authority(part="lapse", what="constant power through the whole chain", status="closed form",
           source="incompressible momentum theory")
def test_constant_power_through_the_whole_chain():
    """All speeds scaled down by 1000 (so power by 1e9)."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=500.0 * SLOW**3),
                        slow=SLOW)
    still = operate_ducted(machine, air=AIR, airspeed=0.0)
    flown = operate_ducted(machine, air=AIR, airspeed=X * float(still.jet_speed))
    yield from agree("T/T0 at V/Vj", flown.net_thrust / still.net_thrust,
                     column("ideal_lapse", "ducted_constP_T_over_T0_1"), within=1e-6, at=X,
                     why="compressibility left at a thousandth of the speeds")


@authority(part="lapse", what="constant pressure rise through the whole chain",
           status="closed form", source="incompressible momentum theory")
def test_constant_pressure_rise_through_the_whole_chain():
    """A map of constant head at constant shaft speed; speeds scaled by 1000."""
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=1e6,
                                    speed_limit=3000.0 * SLOW))
    still = operate_ducted(machine, air=AIR, airspeed=0.0)
    flown = operate_ducted(machine, air=AIR, airspeed=X * float(still.jet_speed))
    yield from agree("T/T0 at V/Vj", flown.net_thrust / still.net_thrust,
                     column("ideal_lapse", "ducted_const_dp_T_over_T0_1"), within=1e-6, at=X,
                     why="compressibility left at a thousandth of the speeds")


@authority(part="lapse", what="loss-free power", status="closed form",
           source="P = 0.5 mdot (V8^2 - V0^2), exact while unchoked because then T8 = T0")
def test_loss_free_power_is_exact_at_any_subsonic_speed():
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=900.0))
    for airspeed in (0.0, 40.0, 120.0):
        point = operate_ducted(machine, air=AIR, airspeed=airspeed)
        power = 0.5 * point.mass_flow * (point.jet_speed**2 - airspeed**2)
        yield from agree(f"jet power at {airspeed:.0f} m/s", power, 900.0, share=1e-9, unit="W",
                         why="convergence of the match")
        yield from agree(f"thrust at {airspeed:.0f} m/s", point.net_thrust, point.ideal_thrust,
                         share=1e-9, unit="N", why="convergence of the match")


@authority(part="lapse", what="loss-free static thrust", status="closed form",
           source="F = (4 rho0 A8 P^2)^(1/3), exact unchoked: the jet has ambient density")
def test_loss_free_static_thrust():
    machine = loss_free(drive=Drive(motor=lossless_motor(), power_limit=700.0))
    point = operate_ducted(machine, air=AIR, airspeed=0.0)
    expected = (4.0 * DENSITY * circle(0.05) * 700.0**2) ** (1.0 / 3.0)
    yield from agree("thrust of 700 W through 50 mm", point.net_thrust, expected, share=1e-9,
                     unit="N", why="convergence of the match")


@authority(part="lapse", what="fan pressure of most static thrust", status="closed form",
           source="p = pmax (1 - Q/Qmax) or pmax (1 - (Q/Qmax)^2), thrust 2 p A8, A8 free")
def test_fan_pressure_of_most_static_thrust():
    """A linear fan thrusts most where its pressure is a third of the greatest, a parabolic one at
    half of it. F = rho Q Vj with Vj = sqrt(2 p / rho), so F ~ Q sqrt(p): for p = 1 - q the best q
    is 2/3; for p = 1 - q^2 it is sqrt(1/2).

    Through the whole chain: constant shaft speed, no loss, one exit area in a fine grid, the
    peak refined by a parabola; every speed scaled down by 1000.
    """
    flow = np.linspace(0.0, 0.4, 201)
    for name, share, curve in (("linear", 1.0 / 3.0, 1.0 - flow / 0.4),
                               ("parabolic", 0.5, 1.0 - (flow / 0.4) ** 2)):
        stage = PointMap(flow=flow, head_points=0.5 * curve, power_points=0.5 * flow * curve
                         + 0.05, source="made up")
        exits = np.linspace(0.2, 3.0, 561) * circle(0.05)
        machine = replace(
            loss_free(drive=Drive(motor=lossless_motor(), power_limit=1e6,
                                  speed_limit=3000.0 * SLOW)),
            rotor=Rotor(stage=stage, tip_diameter=0.07, eye_area=circle(0.07)),
            nozzle=Nozzle(exit_area=exits))
        point = operate_ducted(machine, air=AIR, airspeed=0.0)
        best = int(np.nanargmax(point.net_thrust))
        assert 0 < best < exits.size - 1
        near = slice(best - 8, best + 9)
        rise = point.head_coefficient / 0.5
        bend = np.polyfit(rise[near] - rise[best], point.net_thrust[near] * 1e9, 2)
        yield from agree(f"{name} fan: pressure over its greatest",
                         rise[best] - bend[1] / (2.0 * bend[0]), share, within=2e-4,
                         why="a parabola through the peak's neighbours")


@authority(part="lapse", what="a ducted fan by momentum theory", status="closed form",
           source="momentum theory, evaluated beside the cited tables")
def test_ducted_example_of_momentum_theory():
    """70 mm duct with 30 mm hub, exit as large as the annulus."""
    area = circle(0.070) - circle(0.030)
    for power, thrust in ((500.0, 15.670950), (200.0, 8.507500)):
        found = ideal.ducted_thrust(power=power, area=area, density=1.225, airspeed=0.0)
        yield from agree(f"thrust of {power:.0f} W", found, thrust, within=5e-7, unit="N",
                         why=PRINTED)
    jet = ideal.jet_speed_from_power(power=500.0, area=area, density=1.225, airspeed=0.0)
    yield from agree("jet speed of 500 W", jet, 63.812341, within=5e-7, unit="m/s", why=PRINTED)


@authority(part="lapse", what="open disc at rest", status="closed form",
           source="F = (2 rho A P^2)^(1/3), Rankine and Froude")
def test_open_disc_at_rest():
    found = ideal.disc_thrust(power=300.0, area=0.05, density=1.2, airspeed=0.0)
    yield from agree("thrust of 300 W", found, (2.0 * 1.2 * 0.05 * 300.0**2) ** (1.0 / 3.0),
                     share=1e-12, unit="N", why="round-off")


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


@authority(part="lapse", what="fan and nozzle at constant speed", status="independent",
           source="a made-up fan solved in closed form, incompressible")
def test_fan_and_nozzle_at_constant_speed():
    """Every speed scaled down by 1000."""
    for row in rows("matched_fan_constant_speed"):
        point = operate_ducted(matched_fan(slow=SLOW), air=AIR, airspeed=row["V_m_s"] * SLOW)
        for name, value, unit in (("thrust_N", point.net_thrust / SLOW**2, "N"),
                                  ("Ve_m_s", point.jet_speed / SLOW, "m/s"),
                                  ("power_W", point.shaft_power / SLOW**3, "W")):
            yield from agree(f"{name} at {row['V_m_s']:g} m/s", value, row[name], share=1e-6,
                             unit=unit, why="compressibility left at a thousandth of the speeds")


@authority(part="lapse", what="fan and nozzle at constant power", status="independent",
           source="a made-up fan solved in closed form, incompressible")
def test_fan_and_nozzle_at_constant_power():
    """Every speed scaled down by 1000."""
    for row in rows("matched_fan_constant_power"):
        point = operate_ducted(matched_fan(slow=SLOW, power=300.0), air=AIR,
                               airspeed=row["V_m_s"] * SLOW)
        for name, value, unit in (("thrust_N", point.net_thrust / SLOW**2, "N"),
                                  ("rpm", point.shaft_speed / SLOW * 60 / (2 * np.pi), "1/min")):
            yield from agree(f"{name} at {row['V_m_s']:g} m/s", value, row[name], share=1e-6,
                             unit=unit, why="compressibility left at a thousandth of the speeds")


@authority(part="lapse", what="what real air takes from that fan", status="independent",
           source="as stated with the made-up fan")
def test_how_far_real_air_departs_at_full_speed():
    """Compressibility moves the thrust of that fan by 0.2 % at rest and 9 % at 80 m/s."""
    for airspeed, low, high in ((0.0, 0.001, 0.004), (80.0, 0.07, 0.11)):
        row = next(row for row in rows("matched_fan_constant_speed") if row["V_m_s"] == airspeed)
        point = operate_ducted(matched_fan(slow=1.0), air=AIR, airspeed=airspeed)
        yield from between(f"departure at {airspeed:.0f} m/s",
                           abs(point.net_thrust / row["thrust_N"] - 1.0), low, high,
                           why="stated to one digit")


@authority(part="lapse", what="a measured propeller at constant shaft power", status="closed form",
           source="worked from the measured CT and CP of Brandt and Selig, AIAA 2011-1255")
def test_measured_propeller_at_constant_shaft_power():
    """9 x 6 inch propeller at 54.95 W of shaft power through the matched chain. The map is the
    measured one, so this checks the match, not a prediction of the propeller."""
    runs = sorted((row for row in rows("propeller_9x6_runs")
                   if row["rpm_1min"] in (6701, 6715, 6717)), key=lambda row: row["J_1"])
    table = PropellerTable(advance_ratio=np.array([row["J_1"] for row in runs]),
                           shaft_speed=np.array([700.0]),
                           thrust_points=np.array([[row["CT_1"] for row in runs]]),
                           power_points=np.array([[row["CP_1"] for row in runs]]))
    machine = OpenRotor(table=table, diameter=9 * 0.0254,
                        drive=Drive(motor=lossless_motor(), power_limit=54.95),
                        supply=Supply(voltage=50.0, resistance=0.0))
    name = "propeller_9x6_lapse_constant_power"
    speed = column(name, "V_mps")
    point = operate_open_rotor(machine, air=AIR, airspeed=speed)
    at = [f"{v:g} m/s" for v in speed]
    yield from agree("thrust at", point.net_thrust, column(name, "thrust_N"), share=6e-4, at=at,
                     unit="N", why="V is printed to 1 mm/s, which moves thrust by up to 3e-4")
    yield from agree("rpm at", point.shaft_speed * 60 / (2 * np.pi), column(name, "rpm_1min"),
                     share=3e-4, at=at, unit="1/min", why="digits of V and of rpm")


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


@given(j=st.floats(0.0, 1.5), ct=st.floats(1e-3, 0.3), ratio=st.floats(0.5, 1.5))
def test_the_least_power_coefficient_is_the_momentum_theorem(j, ct, ratio) -> None:
    """Rankine and Froude, in coefficients of a propeller (T = CT rho n^2 D^4): the open disc gives
    the air 2w behind it, the duct fills its exit with the jet."""
    area = np.pi / 4.0
    open_power = ideal.ideal_power_coefficient(advance_ratio=np.asarray(j),
                                         thrust_coefficient=np.asarray(ct), exit_area_ratio=0.0)
    w = float(open_power) / ct - j  # P = T (V + w)
    assert 2.0 * area * (j + w) * w == pytest.approx(ct, rel=1e-9)
    ducted = ideal.ideal_power_coefficient(advance_ratio=np.asarray(j),
                                     thrust_coefficient=np.asarray(ct), exit_area_ratio=ratio)
    jet = 2.0 * float(ducted) / ct - j  # P = T (V + Ve) / 2
    assert ratio * area * jet * (jet - j) == pytest.approx(ct, rel=1e-9)
    assert float(ideal.ideal_power_coefficient(advance_ratio=np.asarray(j), thrust_coefficient=-0.1,
                                         exit_area_ratio=0.0)) == 0.0


def test_induced_speed_of_a_thrust_by_hand() -> None:
    """T = 2 rho A (V + w) w down to where the stream would stop; none without thrust."""
    thrust, airspeed = np.array([0.0, 0.0, 3.0, -1.0, -2.0, -2.1]), np.array(
        [0.0, 7.0, 0.0, 2.2, 2.0, 2.0])
    found = ideal.disc_induced_speed_from_thrust(thrust=thrust, area=0.8, density=1.25,
                                           airspeed=airspeed)
    assert found[:2].tolist() == [0.0, 0.0]
    assert 2.0 * 1.25 * 0.8 * (airspeed + found)[2:5] * found[2:5] == pytest.approx(thrust[2:5])
    assert found[4] == pytest.approx(-1.0)  # the stream stops: w = -V / 2
    assert np.isnan(found[5])


@pytest.mark.parametrize("ratio", [0.0, 0.6, 1.0, 1.4])
@pytest.mark.parametrize("airspeed", [0.0, 6.0, 20.0])
def test_least_power_coefficients_by_hand(ratio: float, airspeed: float) -> None:
    """From thrust and power in newtons and watts of a disc of 0.2 m at 100 rev/s."""
    disc, turns, density, thrust = np.pi / 4.0 * 0.04, 100.0, 1.2, 5.0
    if ratio:
        jet = 0.5 * (airspeed + np.sqrt(airspeed**2 + 4.0 * thrust / (density * disc * ratio)))
        assert density * disc * ratio * jet * (jet - airspeed) == pytest.approx(thrust)
        power = 0.5 * thrust * (airspeed + jet)
    else:
        induced = float(ideal.disc_induced_speed_from_thrust(
            thrust=thrust, area=disc, density=density, airspeed=airspeed))
        power = thrust * (airspeed + induced)
    found = ideal.ideal_power_coefficient(
        advance_ratio=np.array([airspeed / (turns * 0.2)]), exit_area_ratio=ratio,
        thrust_coefficient=np.array([thrust / (density * turns**2 * 0.2**4)]))
    assert float(found[0]) == pytest.approx(power / (density * turns**3 * 0.2**5), rel=1e-12)
    none = ideal.ideal_power_coefficient(advance_ratio=np.array([0.3]), exit_area_ratio=ratio,
                                   thrust_coefficient=np.array([-0.01]))
    assert none.tolist() == [0.0]


@pytest.mark.parametrize("ratio", [0.0, 1.2])
@pytest.mark.parametrize("airspeed", [0.0, 12.0])
def test_the_jet_of_an_open_rotor_carries_its_thrust(ratio: float, airspeed: float) -> None:
    """mdot (Vj - V) = T and T (V + Vj) / 2 is what the stream was given, open or filling a duct;
    the jet of a shroud fills its exit, mdot = rho A Vj (momentum theorem)."""
    one = replace(PROPELLER, exit_area_ratio=ratio)
    point = operate_open_rotor(one, air=AIR, airspeed=np.array([airspeed]))
    thrust, jet = float(point.net_thrust[0]), float(point.jet_speed[0])
    flow = float(point.mass_flow[0])
    disc = circle(float(one.diameter))
    assert flow * (jet - airspeed) == pytest.approx(thrust, rel=1e-12)
    through = jet if ratio else 0.5 * (airspeed + jet)
    assert flow == pytest.approx(DENSITY * disc * (ratio or 1.0) * through, rel=1e-9)
    assert float(point.ledger.thrust_power[0] + point.ledger.jet_power[0]) == pytest.approx(
        0.5 * thrust * (jet + airspeed), rel=1e-9)
    assert float(point.overall_efficiency[0]) == pytest.approx(
        float(point.installed_thrust[0]) * airspeed / float(point.electrical_power[0]))


@pytest.mark.parametrize(("share", "stalled"), [(0.25, True), (1.0, False)])
def test_left_of_the_peak_of_head_a_machine_is_told_to_stall(share: float, stalled: bool) -> None:
    """The peak of psi0 + a phi - c phi^2 is at a / (2 c) (closed form)."""
    stage = replace(BLOWER.rotor.stage, head_slope=3.0, head_curvature=-25.0)
    one = replace(BLOWER, rotor=replace(BLOWER.rotor, stage=stage), nozzle=replace(
        BLOWER.nozzle, exit_area=share * BLOWER.nozzle.exit_area))
    point = operate_ducted(one, air=AIR, airspeed=np.array([0.0]))
    assert (float(point.flow_coefficient[0]) < 3.0 / 50.0) == stalled
    assert bool(point.flagged(Flag.STALL_SIDE)[0]) == stalled
