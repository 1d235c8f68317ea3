"""The centrifugal model beside measured machines and targets.

No measured machine of known dimensions was at hand, so nothing here validates the model to better
than the bands written down: what can be compared is scale, shape, similarity and shutoff.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import column, rows
from tests.rotor.centrifugal_cases import (
    MM,
    SUCTION_SPEED,
    SUCTION_WHEEL,
    scaled,
    stage,
    wheel,
)
from thrustlapse.rotor.centrifugal.euler import pressure_ratio_of_head
from thrustlapse.rotor.centrifugal.stage import CentrifugalStage, tip_speed

DENSITY = 1.225


def free_delivery(machine: CentrifugalStage) -> float:
    """Flow coefficient of no head."""
    falling = machine.points.flow > float(machine.stall_flow)
    return float(np.interp(0.0, -machine.points.head[falling], machine.points.flow[falling]))


# Target of order -----------------------------------------------------------------------------


def test_suction_blower_of_40_mm():
    # derived by hand, status T: 40 mm, 100 krpm, 9 blades, 45 degrees of lean, 3.5 mm wide, 10 % of
    # the rim blocked, 14.4 g/s: phi2 0.14, mu 0.68, 29.7 K, 430 W on the air; pressure ratio 1.19,
    # 1.23, 1.28 at efficiency 0.5, 0.6, 0.7
    machine = stage(wheel(blade_thickness=1.0 * MM))
    assert machine.geometry.outlet_blockage == pytest.approx(0.10, abs=0.005)
    tip = float(tip_speed(machine.geometry, shaft_speed=SUCTION_SPEED))
    assert tip == pytest.approx(209.0, abs=0.5)
    flow = 14.4e-3 / float(machine.mass_flow(1.0))
    points = machine.points
    assert np.interp(flow, points.flow, points.exit_flow) == pytest.approx(0.14, abs=0.02)
    work = np.interp(flow, points.flow, points.work)
    assert work == pytest.approx(0.68, abs=0.02)
    assert work * tip**2 / 1005.0 == pytest.approx(29.7, rel=0.05)
    assert 14.4e-3 * work * tip**2 == pytest.approx(430.0, rel=0.05)
    ratio = float(pressure_ratio_of_head(head=float(machine.map.head(flow)) * tip**2,
                                         inlet_temperature=288.15))
    # the model's efficiency is above the 0.7 of the target's upper end, by less than two bands
    assert 1.19 < ratio < 1.0 + 0.28 * (1.0 + 2.0 * machine.map.band.head)


# Shutoff -------------------------------------------------------------------------------------

WHEELS = {"radial": {"exit_angle": 0.0}, "backward": {},
          "narrow": {"outlet_width": 2.0 * MM, "throat_area": 65e-6, "exit_area": 98e-6},
          "many blades": {"blades": 14.0, "blade_thickness": 0.4 * MM}}


@pytest.mark.parametrize("name", WHEELS)
def test_shutoff_head(name):
    # from memory: 1.0 to 1.2 on rho U^2 / 2 for backward or radial wheels (Stepanoff-like 0.585 of
    # U^2); the model's band beside it
    machine = stage(wheel(**WHEELS[name]), shaft_speed=SUCTION_SPEED / 4.0)
    band = 1.0 + machine.map.band.head
    assert 0.5 / band < machine.points.head[0] < 0.6 * band


@pytest.mark.parametrize("name", WHEELS)
def test_a_blocked_wheel_draws_about_half(name):
    # anchored (centrifugal_losses.EXCHANGE_SPEED) on Fox and McDonald Ex 10.11, status C: 11.1 hp
    # blocked, 21.4 hp at best efficiency. A mains cleaner drew 900 W blocked for 1100 W open while
    # its speed rose by 8 to 26 % (hobby measurement): 0.41 to 0.66 of the power coefficient
    power = column("fan_36in_600rpm", "shaft_power_hp")
    fan = power[0] / power[np.argmax(column("fan_36in_600rpm", "efficiency_percent"))]
    assert fan == pytest.approx(0.52, abs=0.005)
    machine = stage(wheel(**WHEELS[name]), shaft_speed=SUCTION_SPEED / 4.0)
    ratio = machine.points.power[0] / float(machine.map.power(machine.best_flow))
    assert 0.41 < ratio < 0.66


@pytest.mark.parametrize("name", WHEELS)
def test_power_rises_from_shutoff_without_a_dip(name):
    # as the 36-inch fan's does, status C: a slow fan, so slow wheels beside it
    power = column("fan_36in_600rpm", "shaft_power_hp")
    assert (np.diff(power[:5]) > 0.0).all()
    machine = stage(wheel(**WHEELS[name]), shaft_speed=SUCTION_SPEED / 4.0)
    within = machine.points.flow < float(machine.best_flow)
    assert (np.diff(machine.points.power[within]) > 0.0).all()


# The 7040 blower -----------------------------------------------------------------------------

BLOWER = rows("centrifugal_blower_7040")


def blower_line(speed: int) -> tuple[np.ndarray, np.ndarray]:
    """Flow over speed [L/min per rpm] and pressure over speed squared [kPa / rpm^2]."""
    line = [row for row in BLOWER if row["speed_rpm"] == speed]
    return (np.array([row["flow_L_min"] for row in line]) / speed,
            np.array([row["outlet_static_kPa"] for row in line]) / speed**2)


def ventilator_wheel(speed_rpm: float, **changes: float) -> CentrifugalStage:
    """Made up: 46 mm (sealed pressure puts it at 44 to 49 mm), narrow as the flow is small."""
    narrow = {"outlet_width": 2.0 * MM, "throat_area": 65e-6, "exit_area": 98e-6} | changes
    return stage(scaled(wheel(**narrow), 46 / 40), shaft_speed=speed_rpm * np.pi / 30.0)


def test_two_speeds_collapse_by_the_fan_laws_as_measured():
    sealed = [blower_line(speed)[1][0] for speed in (21818, 24000)]
    measured = sealed[1] / sealed[0]
    assert measured == pytest.approx(1.0, abs=0.015)
    slow, fast = ventilator_wheel(21818), ventilator_wheel(24000)
    flow = np.linspace(0.0, 0.9 * free_delivery(slow), 9)
    # the model's own collapse is closer: Reynolds number changes by 10 %
    assert fast.map.head(flow) == pytest.approx(slow.map.head(flow), abs=0.006)
    assert fast.points.head[0] / slow.points.head[0] == pytest.approx(measured, abs=0.015)


def test_sealed_pressure_fits_a_wheel_that_fits_the_casing():
    # 2.2159 kPa at 24000 rpm; a casing of 70 mm with scroll leaves the wheel 40 to 55 mm
    head = float(ventilator_wheel(24000).points.head[0])
    tip = np.sqrt(2215.9 / 1.2 / head)
    assert 0.040 < 2.0 * tip / (24000 * np.pi / 30.0) < 0.055


def shape(flow: np.ndarray, head: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Head over shutoff head against flow over the flow where that falls to 0.8."""
    share = head / head[0]
    behind = np.flatnonzero(share < 0.8)[0]
    reference = np.interp(-0.8, -share[behind - 1:behind + 1], flow[behind - 1:behind + 1])
    return np.interp(at * reference, flow, share)


def test_shape_of_the_7040_lines():
    # dimensions unknown: shape only, both scaled to the flow where 0.8 of the sealed head is left
    at = np.linspace(0.0, 1.4, 15)
    lines = [shape(*blower_line(speed), at) for speed in (21818, 24000)]
    between = np.sqrt(np.mean((lines[0] - lines[1]) ** 2))
    machine = ventilator_wheel(24000)
    model = shape(machine.points.flow, machine.points.head, at)
    apart = np.sqrt(np.mean((model - np.mean(lines, axis=0)) ** 2))
    # the two measured lines differ by 0.04 rms, the made-up wheel from them by 0.13: it holds its
    # head longer and then drops faster. The lines fall in proportion to flow, as they would if the
    # drive lost speed with load; whether it did was not recorded, nor was the pressure tap's place
    assert between < 0.05
    assert apart < 0.15
    assert (np.diff(model[at > 0.5]) < 0.0).all()


# Catalogue fans and high-speed points --------------------------------------------------------


@pytest.mark.parametrize("row", rows("centrifugal_suction_units"), ids=str)
def test_suction_unit_order_of_magnitude(row):
    # catalogue values of fans of unknown dimensions: a wheel of the made-up shape, sized to give
    # the sealed pressure, passes the free flow and takes the power within a factor of 3
    speed = row["speed_rpm"] * np.pi / 30.0
    head = float(stage(shaft_speed=0.4 * SUCTION_SPEED).points.head[0])
    diameter = 2.0 / speed * np.sqrt(row["max_static_kPa"] * 1e3 / (DENSITY * head))
    assert 0.05 < diameter < 0.09   # floor-robot fans
    machine = stage(scaled(SUCTION_WHEEL, diameter / 0.04), shaft_speed=speed)
    assert machine.points.head[0] == pytest.approx(head, rel=0.05)
    unit = 0.5 * speed * diameter**3
    flow = row["max_flow_m3_min"] / 60.0
    assert 1.0 / 3.0 < free_delivery(machine) * unit / flow < 3.0
    shaft = float(machine.map.power(flow / unit)) * DENSITY * unit**3 / diameter**4
    assert 1.0 / 3.0 < shaft / row["power_W"] < 3.0


def test_hand_dryer_order_of_magnitude():
    # trade description: 90 krpm, 1600 W, 30 L/s, 85 mm housing. The scroll leaves the wheel about
    # 0.6 of that; its shaft power lies between half and all of the electrical power
    machine = stage(scaled(SUCTION_WHEEL, 0.6 * 85 / 40), shaft_speed=90_000 * np.pi / 30.0)
    flow = 0.030 * DENSITY / float(machine.mass_flow(1.0))
    assert flow < float(machine.highest_flow)
    tip = float(tip_speed(machine.geometry, shaft_speed=90_000 * np.pi / 30.0))
    shaft = float(machine.map.power(flow)) * DENSITY * tip**3 * (0.6 * 85 * MM) ** 2
    assert 800.0 < shaft < 1600.0


def test_efficiency_is_within_a_band_of_published_small_compressors():
    # abstracts only, no dimensions: 65 % overall below 30 mm (200 to 600 krpm), 70 % at pressure
    # ratio 1.6, 78 % at 1.42. The model lies at or above the upper end, which its docstring says
    machine = stage()
    band = machine.map.band
    assert 0.65 < float(machine.best_efficiency) < 0.78 * (1.0 + band.head)
    tiny = stage(scaled(SUCTION_WHEEL, 0.5), shaft_speed=2.0 * SUCTION_SPEED)
    assert float(tiny.best_efficiency) < float(machine.best_efficiency)   # Reynolds number
