"""The vaneless space against its differential equations and their limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thrustlapse.air import gas
from thrustlapse.rotor.centrifugal.vaneless import meridional_speed, vaneless_space

AIR = {"total_pressure": 130e3, "total_temperature": 318.0}
SPACE = {"inner_radius": 0.020, "outer_radius": 0.026, "width": 0.004}


def by_differential_equations(*, mass_flow, angular_momentum, skin_friction, total_pressure,
                              total_temperature, inner_radius, outer_radius, width,
                              end_width=None):
    """Stanitz's equations (from memory, see the package) by a Runge-Kutta method to 1e-10."""
    heat = gas.SPECIFIC_HEAT * total_temperature
    taper = np.log((end_width or width) / width) / np.log(outer_radius / inner_radius)

    def wide(radius):
        return width * (radius / inner_radius) ** taper

    def state(radius, momentum, log_pressure):
        swirl = momentum / radius
        at_rest = np.exp(log_pressure) / (gas.GAS_CONSTANT * total_temperature)
        wanted = mass_flow / (2.0 * np.pi * radius * wide(radius))
        speed = wanted / at_rest
        for _ in range(60):
            density = at_rest * (1.0 - 0.5 * (speed**2 + swirl**2) / heat) ** 2.5
            speed = wanted / density
        return swirl, speed, total_temperature * (1.0 - 0.5 * (speed**2 + swirl**2) / heat)

    def slope(radius, y):
        swirl, speed, temperature = state(radius, *y)
        total = np.hypot(swirl, speed)
        # dissipation Cf C^3 / (b Cm) per length, at constant total temperature: R d(ln pt) = -de/T
        lost = skin_friction * total**3 / (wide(radius) * speed)
        return [-skin_friction * radius * total * swirl / (wide(radius) * speed),
                -lost / (gas.GAS_CONSTANT * temperature)]

    found = solve_ivp(slope, (inner_radius, outer_radius),
                      [angular_momentum, np.log(total_pressure)], rtol=1e-10, atol=1e-12)
    momentum, log_pressure = found.y[:, -1]
    return momentum, np.exp(log_pressure), state(outer_radius, momentum, log_pressure)[1]


@pytest.mark.parametrize("swirl", [150.0, 40.0, -60.0])
@pytest.mark.parametrize("mass_flow", [0.003, 0.014, 0.04])
@pytest.mark.parametrize("friction", [0.005, 0.01])
@pytest.mark.parametrize("end_width", [None, 0.0031])   # parallel, and its area kept
def test_rings_follow_the_differential_equations(swirl, mass_flow, friction, end_width):
    case = {"mass_flow": mass_flow, "angular_momentum": 0.02 * swirl, "skin_friction": friction,
            "end_width": end_width}
    momentum, pressure, speed = by_differential_equations(**case, **AIR, **SPACE)
    got = vaneless_space(**case, **AIR, **SPACE)
    # 8 rings of even density: 0.1 % of swirl and speed, 0.2 % of the loss
    assert got.angular_momentum == pytest.approx(momentum, rel=1e-3)
    assert got.meridional_speed == pytest.approx(speed, rel=1e-3)
    assert AIR["total_pressure"] - got.total_pressure == pytest.approx(
        AIR["total_pressure"] - pressure, rel=2e-3)


def test_more_rings_come_closer():
    case = {"mass_flow": 0.014, "angular_momentum": 3.0, "skin_friction": 0.01}
    exact = by_differential_equations(**case, **AIR, **SPACE)[1]
    miss = [abs(vaneless_space(**case, **AIR, **SPACE, rings=n).total_pressure - exact)
            for n in (4, 16, 64)]
    assert miss[2] < miss[1] / 3.0 < miss[0] / 9.0


@given(swirl=st.floats(-250.0, 250.0), mass_flow=st.floats(1e-5, 0.04))
def test_without_friction_nothing_is_lost(swirl, mass_flow):
    got = vaneless_space(mass_flow=mass_flow, angular_momentum=0.02 * swirl, skin_friction=0.0,
                         **AIR, **SPACE)
    assert got.angular_momentum == pytest.approx(0.02 * swirl, rel=1e-9, abs=1e-12)
    assert got.total_pressure == pytest.approx(AIR["total_pressure"], rel=1e-12)


@given(swirl=st.floats(-250.0, 250.0), mass_flow=st.floats(1e-5, 0.04),
       friction=st.floats(1e-4, 0.02))
def test_friction_slows_the_swirl_and_costs_pressure(swirl, mass_flow, friction):
    got = vaneless_space(mass_flow=mass_flow, angular_momentum=0.02 * swirl,
                         skin_friction=friction, **AIR, **SPACE)
    assert abs(got.angular_momentum) <= abs(0.02 * swirl)
    assert got.angular_momentum * swirl >= 0.0
    assert got.total_pressure < AIR["total_pressure"]


def test_air_that_hardly_flows_out_loses_all_its_swirl():
    # limit: the swirl's whole kinetic energy goes, and static pressure at the rim is what is left
    got = vaneless_space(mass_flow=1e-7, angular_momentum=3.0, skin_friction=0.005, **AIR, **SPACE)
    heat = gas.SPECIFIC_HEAT * AIR["total_temperature"]
    static = AIR["total_pressure"] * (1.0 - 0.5 * 150.0**2 / heat) ** 3.5
    assert got.angular_momentum < 1e-3 * 3.0
    # all is lost in the first ring, whose mean radius is 1.6 % larger: 3.5 % of the energy
    assert got.total_pressure == pytest.approx(static, abs=0.035 * (AIR["total_pressure"] - static))


def test_radial_flow_has_a_closed_form():
    # no swirl, nearly incompressible: loss Cf / b times the integral of Cm^2 dr
    air = {"total_pressure": 1e5, "total_temperature": 300.0}
    density = 1e5 / (gas.GAS_CONSTANT * 300.0)
    got = vaneless_space(mass_flow=1e-3, angular_momentum=0.0, skin_friction=0.01, **air, **SPACE)
    flux = 1e-3 / (2.0 * np.pi * 0.004 * density)
    lost = 0.01 / 0.004 * flux**2 * (1.0 / 0.020 - 1.0 / 0.026)
    assert got.angular_momentum == 0.0
    # Mach number 0.005: 1e-4 covers what compressibility changes
    assert 1e5 - got.total_pressure == pytest.approx(density * lost, rel=1e-4)


@given(mach=st.floats(0.01, 0.97), angle=st.floats(0.0, 1.45))
def test_speed_carries_the_flow_it_was_asked_for(mach, angle):
    # a state made from gas relations alone, read back; radial Mach number below 1
    temperature = 318.0 / (1.0 + 0.2 * mach**2)
    density = gas.density_ratio(mach=mach) * 130e3 / (gas.GAS_CONSTANT * 318.0)
    total = mach * gas.speed_of_sound(temperature=temperature)
    got = meridional_speed(flow_per_area=density * total * np.cos(angle),
                           swirl=total * np.sin(angle), **AIR)
    assert got == pytest.approx(total * np.cos(angle), rel=1e-6)


def test_more_flow_than_passes_is_not_a_number():
    choking = (gas.mass_flow_function(mach=1.0) * 130e3
               / np.sqrt(gas.GAS_CONSTANT * 318.0 / gas.GAMMA))
    got = meridional_speed(flow_per_area=choking * np.array([0.99, 1.01]), swirl=0.0, **AIR)
    assert np.isnan(got).tolist() == [False, True]
