"""Velocity triangles and fan numbers against published exercises and brute-force cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import row, rows
from tests.credibility.records import PRINTED, agree, authority, digits
from tests.rotor.axial_triangles import (
    cordier_diameter,
    fan_numbers,
    free_vortex_strength,
    normal_stage_triangles,
    rotor_triangles,
    shaft_speed_from_torque,
)

DUTY = {"pressure_rise": 2000.0, "density": 1.225, "shaft_speed": np.pi * 1000.0}


@authority(part="axial", what="free-vortex stage", status="independent",
           source="a made-up stage worked elsewhere")
def test_free_vortex_stage_to_every_digit():
    for line in rows("free_vortex_stage"):
        strength = free_vortex_strength(efficiency=0.8, **DUTY)
        radius = line["r_mm"] / 1000.0
        if "26.92582" in str(line):  # the root mean square of the other two, to seven digits
            radius = np.sqrt((0.015**2 + 0.035**2) / 2.0)
        swirl = strength / radius
        triangle = rotor_triangles(blade_speed=DUTY["shaft_speed"] * radius, axial_velocity=50.0,
                                   swirl_out=swirl)
        got = {"U_m_s": DUTY["shaft_speed"] * radius, "c_theta2_m_s": swirl,
               "beta1_deg": np.degrees(triangle.relative_inlet_angle),
               "beta2_deg": np.degrees(triangle.relative_outlet_angle),
               "alpha2_deg": np.degrees(triangle.absolute_outlet_angle),
               "W2_over_W1": triangle.de_haller, "reaction": triangle.reaction}
        for name, value in got.items():
            yield from digits(line, name, value, what=f"{name} at {line} mm", times=1.001)


@authority(part="axial", what="numbers of a free-vortex duty", status="independent",
           source="a made-up stage worked elsewhere")
def test_free_vortex_duty_in_both_notations():
    """Speed, diameter, flow and pressure numbers in two notations."""
    strength = float(free_vortex_strength(efficiency=0.8, **DUTY))
    flow = 50.0 * np.pi / 4.0 * (0.07**2 - 0.03**2)
    power = DUTY["pressure_rise"] * flow
    numbers = fan_numbers(volume_flow=flow, specific_work=2000.0 / 1.225,
                          shaft_speed=DUTY["shaft_speed"], diameter=0.07)
    got = {"free_vortex_strength_m2_s": strength, "volume_flow_m3_s": flow, "air_power_W": power,
           "shaft_power_W": 1.225 * flow * DUTY["shaft_speed"] * strength,
           "torque_mN_m": 1000.0 * 1.225 * flow * strength,
           "cordier_speed": numbers.cordier_speed, "cordier_diameter": numbers.cordier_diameter,
           "cordier_flow": numbers.cordier_flow, "cordier_pressure": numbers.cordier_pressure,
           "specific_speed": numbers.specific_speed,
           "specific_diameter": numbers.specific_diameter}
    for name, value in got.items():
        yield from digits(row("axial_free_vortex_duty", name), "value", value, what=name,
                          times=1.001)


@authority(part="axial", what="a normal stage", status="worked",
           source="a course exercise, question read, answers evaluated independently")
def test_normal_stage_exercise():
    """Triangles, reaction, work and static rise of a repeating stage."""
    speed, triangle = normal_stage_triangles(
        axial_velocity=40.0, stator_inlet_angle=np.radians(60.0),
        stator_outlet_angle=np.radians(30.0), rotor_outlet_angle=np.radians(25.0))
    gamma, cp = 1.4, 1004.5
    swirl_in = 40.0 * np.tan(np.radians(30.0))
    static = 300.0 - (40.0**2 + swirl_in**2) / (2.0 * cp)
    pressure = 101_300.0 * (static / 300.0) ** (gamma / (gamma - 1.0))
    warmer = static + 0.5 * (triangle.relative_inlet_speed**2
                             - triangle.relative_outlet_speed**2) / cp
    got = {"blade_speed_m_s": speed, "flow_coefficient": 40.0 / speed,
           "work_coefficient": triangle.work / speed**2,
           "relative_inlet_angle_deg": np.degrees(triangle.relative_inlet_angle),
           "reaction": triangle.reaction, "work_J_kg": triangle.work,
           "rotor_static_rise_Pa": pressure * ((warmer / static) ** (gamma / (gamma - 1.0)) - 1.0)}
    for name, value in got.items():
        yield from digits(row("axial_normal_stage", name), "value", value, what=name, times=1.001)


@authority(part="axial", what="stator torque", status="worked",
           source="a course exercise, both printed numbers read")
def test_stator_torque_exercise():
    """Equal and opposite torques fix the speed."""
    line = rows("axial_stator_torque")[0]
    speed = shaft_speed_from_torque(power=line["power_hp"] * 745.6999,
                                    stator_torque=line["stator_moment_ft_lbf"] * 1.3558179)
    yield from agree("speed", speed * 60.0 / (2.0 * np.pi), line["speed_rpm"], within=0.006,
                     unit="1/min", why=PRINTED)


@given(st.floats(0.01, 50.0), st.floats(10.0, 2e4), st.floats(10.0, 6000.0), st.floats(0.03, 2.0))
def test_fan_number_identities(flow, work, speed, diameter):
    # identities of the definitions, checked algebraically elsewhere (status X)
    n = fan_numbers(volume_flow=flow, specific_work=work, shaft_speed=speed, diameter=diameter)
    assert n.cordier_flow * n.cordier_speed * n.cordier_diameter**3 == pytest.approx(1.0, rel=1e-12)
    assert n.cordier_pressure * (n.cordier_speed * n.cordier_diameter) ** 2 == pytest.approx(
        1.0, rel=1e-12)
    assert n.specific_speed / n.cordier_speed == pytest.approx(
        2.0**0.75 * np.sqrt(np.pi), rel=1e-12)


@authority(part="axial", what="a designed fan on the line of best fans", status="memory",
           source="Cordier's line from memory; the fan of Scientific Reports 12 (2022), Table 1")
def test_measured_fan_lies_on_the_line_of_best_fans():
    """Its specific diameter by its own specific speed; the line is an average of good fans."""
    ns = row("axial_fan_design_table", "specific_speed")["value"]
    yield from agree("specific diameter of the line over the fan's",
                     cordier_diameter(specific_speed=ns), 1.158, within=0.08 * 1.158,
                     why="fans scatter about the line by several per cent")


def test_no_best_fan_is_known_far_from_the_line() -> None:
    assert np.isnan(cordier_diameter(specific_speed=0.5))


@pytest.mark.parametrize("reference_hub_ratio", [0.44, 0.0])
def test_design_table_agrees_with_itself_within_its_own_doubt(reference_hub_ratio):
    # 8 %: the table does not say on which area its flow coefficient is
    def of(key):
        return row("axial_fan_design_table", key)["value"]

    tip = 1.0
    flow = of("flow_coefficient") * np.pi / 4.0 * (1.0 - reference_hub_ratio**2)
    numbers = fan_numbers(volume_flow=flow, specific_work=0.5 * of("pressure_coefficient"),
                          shaft_speed=2.0 * tip, diameter=1.0)
    assert numbers.specific_speed == pytest.approx(of("specific_speed"), rel=0.083)
