"""Impeller examples of six textbooks to their printed digits, and what Euler's law implies."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy import deg2rad, pi, rad2deg

from tests.authority import rows
from tests.credibility.records import PRINTED, agree, authority, status_of
from tests.rotor.textbook_impeller import (
    annulus_outer_diameter,
    busemann,
    input_factor_tip_speed,
    input_factor_work,
    polytropic_temperature_ratio,
    reaction,
    relative_angle,
    static_temperature_of,
    swirl_at_angle,
    temperature_after_work,
    total_temperature_of,
)
from thrustlapse.air.gas import GAMMA, SPECIFIC_HEAT, mach_from_mass_flow_function
from thrustlapse.rotor.centrifugal import euler
from thrustlapse.rotor.centrifugal.slip import stanitz

GRAVITY = 9.81
BOOK = {"specific_heat": 1005.0, "gamma": 1.4}
"""Rounded properties of air that these books use; gas constant 287 J/(kg K)."""

Answers = dict[str, float]
SOLUTIONS: dict[str, Callable[[], Answers]] = {}


def solves(name: str) -> Callable[[Callable[[], Answers]], Callable[[], Answers]]:
    def keep(solution: Callable[[], Answers]) -> Callable[[], Answers]:
        SOLUTIONS[name] = solution
        return solution
    return keep


def rpm(value: float) -> float:
    return value * pi / 30.0


def from_tangent(angle: float) -> float:
    return float(90.0 - rad2deg(angle))


def sound(temperature: float) -> float:
    return float(np.sqrt(1.4 * 287.0 * temperature))


@solves("EU1")
def cengel_14_5() -> Answers:
    radial = euler.rim_speed(volume_flow=0.13, diameter=0.16, width=0.023)
    work = euler.euler_work(
        tip_speed=euler.blade_speed(shaft_speed=rpm(1750), diameter=0.16),
        exit_swirl=swirl_at_angle(meridional_speed=radial, angle=deg2rad(40)))
    return {"net head": work / GRAVITY * 1.2 / 998.0 * 1e3, "power": 1.2 * 0.13 * work}


@solves("EU2")
def cengel_14_6() -> Answers:
    before = euler.blade_speed(shaft_speed=rpm(1720), diameter=0.2)
    behind = euler.blade_speed(shaft_speed=rpm(1720), diameter=0.36)
    swirl = GRAVITY * 14.5 / behind
    return {
        "beta1": from_tangent(relative_angle(
            speed_of_blade=before, meridional_speed=euler.rim_speed(
                volume_flow=0.25, diameter=0.2, width=0.05))),
        "beta2": from_tangent(relative_angle(
            speed_of_blade=behind, swirl=swirl, meridional_speed=euler.rim_speed(
                volume_flow=0.25, diameter=0.36, width=0.03)))}


@solves("EU4")
def dixon_7_3() -> Answers:
    tip = euler.blade_speed(shaft_speed=rpm(1200), diameter=0.4)
    lean, flow = deg2rad(50), 0.1
    sigma = busemann(shutoff_swirl=0.77, flow_factor=1.0, flow=flow, exit_angle=lean)
    swirl = sigma * euler.exit_swirl(tip_speed=tip, meridional_speed=flow * tip, exit_angle=lean)
    ideal = euler.euler_work(tip_speed=tip, exit_swirl=swirl)
    radial = euler.rim_speed(volume_flow=0.1, diameter=0.4, width=0.0317)
    square, out = np.hypot(swirl, radial) ** 2, 0.1 / (pi * 0.15**2 / 4.0)
    lost = 0.1 * ideal + 0.485 * (square - out**2) / 2.0 + out**2 / 2.0
    return {"slip factor": sigma, "head": (ideal - lost) / GRAVITY,
            "hydraulic efficiency": 100.0 * (ideal - lost) / ideal}


@solves("EU5")
def dixon_7_4() -> Answers:
    work = euler.head_of_pressure_ratio(pressure_ratio=4.2, inlet_temperature=295.0, **BOOK) / 0.83
    # the book writes Stanitz as 1 - 2/Z; 0.63 pi is 1.979
    sigma = 1.0 - stanitz(blades=17, exit_angle=0.0)
    tip = input_factor_tip_speed(work=work, slip_factor=sigma)
    radial = euler.rim_speed(volume_flow=2.0 / 2.0, diameter=2.0 * tip / rpm(15000), width=0.011)
    speed = np.hypot(sigma * tip, radial)
    behind = static_temperature_of(
        total_temperature=temperature_after_work(work=work, inlet_temperature=295.0,
                                                       specific_heat=1005.0),
        speed=speed, specific_heat=1005.0)
    return {"M2": speed / sound(behind)}


def sized_compressor(*, mass_flow: float, inlet_speed: float, total_out: float, whirl: float,
                     hub: float, rounded: int | None = None) -> Answers:
    """Arasu 3.1 and Rajput 20.38: static 1 bar and 293 K, 20000 rpm, efficiency 0.8."""
    total = total_temperature_of(temperature=293.0, speed=inlet_speed, specific_heat=1005.0)
    pressure = euler.isentropic_pressure_ratio(temperature_ratio=total / 293.0)
    rise = euler.head_of_pressure_ratio(pressure_ratio=total_out / pressure,
                                        inlet_temperature=total, **BOOK) / 0.8 / 1005.0
    printed = rise
    if rounded is not None:   # the text goes on with the rounded rise
        rise = np.round(rise, rounded)
    tip = input_factor_tip_speed(work=1005.0 * rise, slip_factor=whirl)
    density = euler.density_of(pressure=1e5, temperature=293.0, gas_constant=287.0)
    eye = annulus_outer_diameter(area=mass_flow / (density * inlet_speed),
                                       inner_diameter=hub)
    return {"total temperature rise": printed, "temperature rise": printed, "tip speed": tip,
            "tip diameter": 2.0 * tip / rpm(20000), "power": mass_flow * 1.005 * rise,
            "eye diameter": 100.0 * eye, "eye dia": 100.0 * eye}


@solves("AR3.1")
def arasu_3_1() -> Answers:
    return sized_compressor(mass_flow=10.0, inlet_speed=150.0, total_out=4.5, whirl=0.95, hub=0.15)


@solves("RJ38")
def rajput_38() -> Answers:
    found = sized_compressor(mass_flow=528.0 / 60.0, inlet_speed=145.0, total_out=4.0, whirl=0.9,
                             hub=0.12, rounded=0)
    return found | {"tip diameter": 100.0 * found["tip diameter"]}


def axial_flow_blower(*, flow: float, inlet: float, inner: float, outer: float, speed: float,
                      axial: float) -> Answers:
    """Arasu 3.2 and Rajput 20.40: pressure ratio 1.5 along n = 1.5, constant speed of flow."""
    before = euler.blade_speed(shaft_speed=speed, diameter=inner)
    behind = euler.blade_speed(shaft_speed=speed, diameter=outer)
    ratio = polytropic_temperature_ratio(pressure_ratio=1.5, exponent=1.5)
    swirl = 1005.0 * inlet * (ratio - 1.0) / behind
    after = flow * ratio / 1.5
    return {
        "beta1": from_tangent(relative_angle(speed_of_blade=before, meridional_speed=axial)),
        "beta2": from_tangent(relative_angle(speed_of_blade=behind, swirl=swirl,
                                                   meridional_speed=axial)),
        "alpha2": from_tangent(euler.flow_angle(swirl=swirl, meridional_speed=axial)),
        "b1": flow / (pi * inner * axial), "b2": after / (pi * outer * axial), "Q2": after}


@solves("AR3.2")
def arasu_3_2() -> Answers:
    found = axial_flow_blower(flow=20.0, inlet=288.0, inner=0.6, outer=1.2, speed=rpm(5000),
                              axial=60.0)
    return found | {"casing angle": found["alpha2"]}


@solves("RJ40")
def rajput_40() -> Answers:
    found = axial_flow_blower(flow=4.8, inlet=293.0, inner=0.32, outer=0.62, speed=rpm(8000),
                              axial=65.0)
    return found | {"b1": 100.0 * found["b1"], "b2": 100.0 * found["b2"]}


@solves("AR3.3")
def arasu_3_3() -> Answers:
    work = euler.head_of_pressure_ratio(pressure_ratio=4.0, inlet_temperature=288.0, **BOOK) / 0.8
    tip = input_factor_tip_speed(work=work, slip_factor=0.9, power_input_factor=1.04)
    return {"impeller diameter": 100.0 * 2.0 * tip / (2.0 * pi * 200.0)}


@solves("AR3.4")
def arasu_3_4() -> Answers:
    before = euler.blade_speed(shaft_speed=rpm(11000), diameter=0.457)
    behind = euler.blade_speed(shaft_speed=rpm(11000), diameter=0.762)
    swirl, axial = 91.5 * np.cos(deg2rad(70)), 91.5 * np.sin(deg2rad(70))
    static = static_temperature_of(total_temperature=288.0, speed=91.5, specific_heat=1005.0)
    work = input_factor_work(tip_speed=behind, slip_factor=0.9, inlet_blade_speed=before,
                                   inlet_swirl=swirl)
    total = temperature_after_work(work=work, inlet_temperature=288.0, specific_heat=1005.0)
    behind_static = static_temperature_of(
        total_temperature=total, speed=np.hypot(0.9 * behind, 53.4), specific_heat=1005.0)
    pressure = 2.23 * euler.isentropic_pressure_ratio(temperature_ratio=total / behind_static)
    head = euler.head_of_pressure_ratio(pressure_ratio=pressure / 1.013, inlet_temperature=288.0,
                                        **BOOK)
    return {"M1 rel": np.hypot(before - swirl, axial) / sound(static),
            "impeller total efficiency": 100.0 * head / work}


@solves("AR3.5")
def arasu_3_5() -> Answers:
    static = static_temperature_of(total_temperature=298.0, speed=120.0,
                                         specific_heat=1005.0)
    pressure = 1e5 * euler.isentropic_pressure_ratio(temperature_ratio=static / 298.0)
    area = 8.3 / (120.0 * euler.density_of(pressure=pressure, temperature=static,
                                           gas_constant=287.0))
    eye = annulus_outer_diameter(area=area, inner_diameter=0.16)
    head = euler.head_of_pressure_ratio(pressure_ratio=4.0, inlet_temperature=298.0, **BOOK)
    total = temperature_after_work(work=head / 0.78, inlet_temperature=298.0,
                                         specific_heat=1005.0)
    after = static_temperature_of(total_temperature=total, speed=120.0, specific_heat=1005.0)

    def blade_angle(diameter: float) -> float:
        return from_tangent(relative_angle(
            speed_of_blade=euler.blade_speed(shaft_speed=rpm(16500), diameter=diameter),
            meridional_speed=120.0))

    return {"eye tip dia": eye, "impeller dia": 2.0 * np.sqrt(head / 0.7) / rpm(16500),
            "blade angle hub": blade_angle(0.16), "blade angle tip": blade_angle(float(eye)),
            "T3": after, "power": 8.3 * head / 0.78 / 1e6,
            "P3": 4.0 * euler.isentropic_pressure_ratio(temperature_ratio=after / total)}


@solves("AR3.6")
def arasu_3_6() -> Answers:
    area = euler.annulus_area(outer_diameter=0.25, inner_diameter=0.1)
    density = euler.density_of(pressure=102e3, temperature=335.0, gas_constant=287.0)
    static = static_temperature_of(total_temperature=335.0, speed=5.0 / (density * area),
                                         specific_heat=1005.0)
    density = euler.density_of(
        pressure=102e3 * euler.isentropic_pressure_ratio(temperature_ratio=static / 335.0),
        temperature=static, gas_constant=287.0)
    axial = 5.0 / (density * area)   # the text stops after one iteration
    blade = euler.blade_speed(shaft_speed=2.0 * pi * 120.0, diameter=0.175)
    return {"blade angle": from_tangent(relative_angle(speed_of_blade=blade,
                                                             meridional_speed=axial)),
            "M1 rel (no IGV)": np.hypot(axial, blade) / sound(static)}


@solves("AR3.7")
def arasu_3_7() -> Answers:
    work = input_factor_work(tip_speed=350.0, slip_factor=0.9)
    total = temperature_after_work(work=work, inlet_temperature=288.0, specific_heat=1005.0)
    speed = np.hypot(0.9 * 350.0, 28.0)
    static = static_temperature_of(total_temperature=total, speed=speed,
                                         specific_heat=1005.0)
    pressure = (1e5 * euler.pressure_ratio_of_head(head=0.9 * work, inlet_temperature=288.0, **BOOK)
                * euler.isentropic_pressure_ratio(temperature_ratio=static / total))
    density = euler.density_of(pressure=pressure, temperature=static, gas_constant=287.0)
    return {"M2": speed / sound(static), "mass flow": density * 0.08 * 28.0}


@solves("AR3.8")
def arasu_3_8() -> Answers:
    tip = euler.blade_speed(shaft_speed=rpm(16000), diameter=0.3125)
    hub = euler.blade_speed(shaft_speed=rpm(16000), diameter=0.175)
    swirl = swirl_at_angle(meridional_speed=152.0, angle=deg2rad(20))
    static = static_temperature_of(total_temperature=288.0, speed=np.hypot(152.0, swirl),
                                         specific_heat=1005.0)

    def blade_angle(speed: float) -> float:
        return from_tangent(relative_angle(speed_of_blade=speed, swirl=swirl,
                                                 meridional_speed=152.0))

    return {"eye tip speed": tip, "eye hub speed": hub, "hub angle": blade_angle(hub),
            "tip angle": blade_angle(tip),
            "max rel. Mach": np.hypot(152.0, tip - swirl) / sound(static)}


@solves("AR3.9")
def arasu_3_9() -> Answers:
    density = euler.density_of(pressure=1e5, temperature=309.0, gas_constant=287.0)
    rise = 750.0 * GRAVITY   # mm of water
    work = rise / density / 0.79
    flow = 33e3 * 0.83 / work
    return {"mass flow": flow, "volume flow": flow / density, "exit pressure": (1e5 + rise) / 1e3,
            "exit temperature": temperature_after_work(
                work=work, inlet_temperature=309.0, specific_heat=1005.0)}


@solves("AR3.10")
def arasu_3_10() -> Answers:
    tip = euler.blade_speed(shaft_speed=rpm(720), diameter=0.89)
    swirl = euler.exit_swirl(tip_speed=tip, meridional_speed=9.15, exit_angle=deg2rad(90 - 39))
    work = euler.euler_work(tip_speed=tip, exit_swirl=swirl)
    flow = pi * 0.89 * 0.1 * 9.15
    return {"fan efficiency": 100.0 * 75.0 * GRAVITY / (1.2 * work), "flow": flow,
            "power": 1.2 * round(flow, 3) * work / 1e3,   # the text goes on with the rounded flow
            # the speed of flow is the same before and behind
            "reaction": 100.0 * reaction(work=work, inlet_speed=9.15,
                                               exit_speed=np.hypot(9.15, swirl)),
            "pressure coef 2cx2/u2": 2.0 * swirl / tip}


@solves("AR3.11")
def arasu_3_11() -> Answers:
    work = euler.exit_swirl(tip_speed=1.0, meridional_speed=0.25, exit_angle=deg2rad(60))
    tip = np.sqrt(3000.0 / 4.29 / work)
    return {"efficiency": 100.0 * 3.82 * 63.0 * GRAVITY / 3000.0, "pressure coef": 2.0 * work,
            "reaction": 100.0 * reaction(work=work, inlet_speed=0.25,
                                               exit_speed=np.hypot(0.25, work)),
            "speed": 2.0 * tip / 0.466 / rpm(1.0), "b2": 100.0 * 3.82 / (pi * 0.466 * 0.25 * tip)}


@solves("AR3.12")
def arasu_3_12() -> Answers:
    tip = euler.blade_speed(shaft_speed=rpm(3000), diameter=0.75)
    swirl = 2.0 * tip * (1.0 - 0.58)
    work = euler.euler_work(tip_speed=tip, exit_swirl=swirl)
    assert reaction(work=work, inlet_speed=57.0,
                          exit_speed=np.hypot(57.0, swirl)) == pytest.approx(0.58)
    return {"beta2": from_tangent(relative_angle(speed_of_blade=tip, swirl=swirl,
                                                       meridional_speed=57.0)),
            "specific work": work / 1e3,
            "exit total pressure": 101.325 * euler.pressure_ratio_of_head(
                head=0.75 * work, inlet_temperature=298.0, **BOOK)}


@solves("AR3.13")
def arasu_3_13() -> Answers:
    before = euler.blade_speed(shaft_speed=rpm(1450), diameter=0.18)
    behind = euler.blade_speed(shaft_speed=rpm(1450), diameter=0.2)
    static = 0.5 * (behind**2 - before**2 + 20.0**2 - 17.0**2)
    work = static + 0.5 * (25.0**2 - 21.0**2)
    return {"stage total pressure rise": 1.25 * work, "motor input": 0.5 * work / 0.78,
            "reaction": reaction(work=work, inlet_speed=21.0, exit_speed=25.0)}


@solves("AR3.14")
def arasu_3_14() -> Answers:
    pressure = 0.75 * 13.59e3 * GRAVITY
    density = euler.density_of(pressure=pressure, temperature=298.0, gas_constant=287.0)
    return {"exit static": (pressure + 140.0 * GRAVITY) / 1e3, "volume flow": 260.0 / density}


@solves("RJ37")
def rajput_37() -> Answers:
    kinetic = 0.5 * (220.0**2 - 80.0**2)
    work = 1005.0 * (345.0 - 290.0) + kinetic
    head = euler.head_of_pressure_ratio(pressure_ratio=1.5, inlet_temperature=290.0, **BOOK)
    # the diffuser slows the air to 80 m/s again, without loss
    slowed = static_temperature_of(
        total_temperature=total_temperature_of(temperature=345.0, speed=220.0,
                                                     specific_heat=1005.0),
        speed=80.0, specific_heat=1005.0)
    ratio = 1.5 * euler.isentropic_pressure_ratio(temperature_ratio=slowed / 345.0)
    overall = euler.head_of_pressure_ratio(pressure_ratio=ratio, inlet_temperature=290.0, **BOOK)
    return {"isentropic efficiency": 100.0 * (head + kinetic) / work, "power": 2.5 * work / 1e3,
            "overall efficiency after diffuser": 100.0 * overall / (1005.0 * (slowed - 290.0))}


@solves("RJ39")
def rajput_39() -> Answers:
    work = euler.head_of_pressure_ratio(pressure_ratio=4.0, inlet_temperature=293.0, **BOOK) / 0.82
    flow = 660.0 / 60.0
    density = euler.density_of(pressure=1e5, temperature=293.0, gas_constant=287.0)
    tip = input_factor_tip_speed(work=work, slip_factor=0.9)
    outer = 2.0 * tip / rpm(10000)
    return {"exit temperature": temperature_after_work(work=work, inlet_temperature=293.0,
                                                             specific_heat=1005.0),
            "power": density * flow * work / 1e3, "D2": 100.0 * outer,
            "b1": 100.0 * flow / (0.9 * pi * 0.5 * outer * 62.0),
            "beta1": from_tangent(relative_angle(speed_of_blade=0.5 * tip,
                                                       meridional_speed=62.0)),
            "diffuser angle": from_tangent(euler.flow_angle(swirl=0.9 * tip,
                                                            meridional_speed=62.0))}


@solves("RJ41")
def rajput_41() -> Answers:
    work = euler.head_of_pressure_ratio(pressure_ratio=4.0, inlet_temperature=293.0, **BOOK) / 0.8
    tip = input_factor_tip_speed(work=work, slip_factor=0.9, power_input_factor=1.04)
    return {"diameter": 2.0 * tip / rpm(15000), "power": 16.5 * work / 1e3}


@solves("FA3")
def farokhi_8_3() -> Answers:
    # radial blades, no slip and no loss: head over inlet cp T is (gamma - 1) M^2
    stage = euler.pressure_ratio_of_head(head=0.4 * 1.2**2, inlet_temperature=1.0,
                                         specific_heat=1.0, gamma=1.4)
    half = np.sqrt(stage)   # rotor and diffuser share the pressure ratio equally
    return {"p3/p1": stage, "p3/p2": half,
            "Cp diffuser (uses 2.2)": (round(float(half), 1) - 1.0) / (0.7 * 1.2**2)}


@solves("FA6")
def farokhi_8_6() -> Answers:
    heat = {"specific_heat": 1004.0, "gamma": 1.4}
    head = euler.head_of_pressure_ratio(pressure_ratio=6.8, inlet_temperature=288.0, **heat)
    static = static_temperature_of(total_temperature=288.0, speed=200.0,
                                         specific_heat=1004.0)
    ratio = 6.8 * euler.isentropic_pressure_ratio(temperature_ratio=288.0 / static)
    from_static = euler.head_of_pressure_ratio(pressure_ratio=ratio, inlet_temperature=static,
                                               **heat)
    return {"eta_ts": from_static / (head / 0.8 + 0.5 * 200.0**2)}


@solves("SV4.1")
def saravanamuttoo_4_1() -> Answers:
    tip = euler.blade_speed(shaft_speed=2.0 * pi * 290.0, diameter=0.5)
    rise = input_factor_work(tip_speed=tip, slip_factor=0.9, power_input_factor=1.04) / 1005.0
    rounded = round(float(rise))   # the text goes on with 193 K, 143 m/s, 273 and 136.5 m/s
    area = euler.annulus_area(outer_diameter=0.3, inner_diameter=0.15)
    mach = mach_from_mass_flow_function(
        flow_function=9.0 * np.sqrt(287.0 * 295.0 / 1.4) / (area * 1.1e5))
    axial = mach * sound(295.0 / (1.0 + 0.2 * mach**2))
    return {"tip speed": tip, "total temperature rise": rise,
            "pressure ratio": euler.pressure_ratio_of_head(head=0.78 * 1005.0 * rounded,
                                                           inlet_temperature=295.0, **BOOK),
            "power": 9.0 * 1.005 * rounded, "eye axial velocity": axial,
            "blade angle at root (from tangent)": from_tangent(
                relative_angle(speed_of_blade=136.5, meridional_speed=round(float(axial)))),
            "blade angle at tip": from_tangent(
                relative_angle(speed_of_blade=273.0, meridional_speed=round(float(axial))))}


@authority(part="impeller", what="impeller examples", status="worked",
           source="six textbooks, named in each row")
def test_worked_example():
    """Source and status of every answer are in the table beside it."""
    table = rows("centrifugal_impeller_examples")
    assert len(table) == 91
    for row in table:
        assert not row["tolerance"] or row["reason"]
        yield from agree(f"{row}: {row['quantity']}", SOLUTIONS[str(row["id"])]()[row["quantity"]],
                         row["printed"], within=row["tolerance"] or row.half_unit("printed"),
                         source=row["source"], status=status_of(row["status"]),
                         unit=str(row.get("unit") or ""), why=row["reason"] or PRINTED)


speeds = st.floats(1.0, 500.0)


@given(tip=speeds, meridional=speeds, lean=st.floats(-1.0, 1.3), slip=st.floats(0.0, 0.5))
def test_blades_see_the_exit_flow_at_their_angle_but_for_slip(tip, meridional, lean, slip):
    swirl = euler.exit_swirl(tip_speed=tip, meridional_speed=meridional, exit_angle=lean, slip=slip)
    seen = relative_angle(speed_of_blade=tip * (1.0 - slip), swirl=swirl,
                                meridional_speed=meridional)
    assert seen == pytest.approx(lean, abs=1e-9 * (1.0 + tip / meridional))


@given(head=st.floats(-5e4, 3e5), temperature=st.floats(200.0, 500.0))
def test_head_and_pressure_ratio_are_inverse(head, temperature):
    ratio = euler.pressure_ratio_of_head(head=head, inlet_temperature=temperature)
    back = euler.head_of_pressure_ratio(pressure_ratio=ratio, inlet_temperature=temperature)
    assert back == pytest.approx(head, rel=1e-9, abs=1e-6)


@given(st.floats(1.01, 6.0), st.floats(0.5, 1.0), st.floats(250.0, 350.0))
def test_losses_all_along_a_compression_leave_what_a_polytropic_one_leaves(ratio, share, cold):
    """Textbook: T2/T1 = p^((g-1)/(g eta)); the share 1 - eta of each step's work over that step's
    temperature is entropy, cp (1 - eta) ln(T2/T1) in all."""
    warm = float(ratio ** ((GAMMA - 1.0) / (GAMMA * share)))
    left = euler.head_after_losses(work=SPECIFIC_HEAT * cold * (warm - 1.0), inlet_temperature=cold,
                                   entropy=SPECIFIC_HEAT * (1.0 - share) * np.log(warm))
    wanted = euler.head_of_pressure_ratio(pressure_ratio=ratio, inlet_temperature=cold)
    assert left == pytest.approx(wanted, rel=1e-9)


def test_head_of_a_breath_keeps_its_digits():
    # limit: dp / rho, to first order in dp / p (1e-9 here)
    density = euler.density_of(pressure=101325.0, temperature=288.15)
    head = euler.head_of_pressure_ratio(pressure_ratio=1.0 + 1e-9, inlet_temperature=288.15)
    assert head == pytest.approx(1e-9 * 101325.0 / density, rel=1e-7)


def test_more_head_than_heat_is_not_a_pressure():
    assert np.isnan(euler.pressure_ratio_of_head(head=-4e5, inlet_temperature=288.15))
