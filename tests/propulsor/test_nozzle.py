"""Nozzle: what it passes and needs are inverse, the jet obeys the gas, swirl and coefficients."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.air.textbook_gas import chokes, mach_from_pressure_ratio
from thrustlapse.air import gas
from thrustlapse.propulsor.nozzle import (
    Nozzle,
    axial_total_state,
    discharge_possible,
    jet,
    least_velocity,
    required_pressure,
    widest_discharge,
)

AMBIENT, TOTAL_TEMPERATURE, AREA = 98e3, 320.0, 3e-4
RATIOS = st.floats(1.0001, 4.0)


@given(ratio=RATIOS, discharge=st.floats(0.5, 1.0))
def test_the_pressure_needed_is_the_pressure_that_passes_the_flow(ratio, discharge) -> None:
    """Choked and not, to round-off."""
    nozzle = Nozzle(exit_area=AREA, discharge_coefficient=discharge)
    passed = jet(nozzle, total_pressure=ratio * AMBIENT, total_temperature=TOTAL_TEMPERATURE,
                 pressure=AMBIENT).mass_flow
    needed = required_pressure(nozzle, mass_flow=passed, total_temperature=TOTAL_TEMPERATURE,
                               pressure=AMBIENT)
    assert float(needed) == pytest.approx(ratio * AMBIENT, rel=1e-10)


@given(ratio=RATIOS)
def test_the_jet_is_that_of_the_gas_relations(ratio) -> None:
    """Exit Mach number from the pressure ratio, 1 from 1.8929 on, and continuity."""
    nozzle = Nozzle(exit_area=AREA, discharge_coefficient=0.9, velocity_coefficient=0.97)
    found = jet(nozzle, total_pressure=ratio * AMBIENT, total_temperature=TOTAL_TEMPERATURE,
                pressure=AMBIENT)
    choked = bool(chokes(total_over_static=ratio))
    mach = 1.0 if choked else float(mach_from_pressure_ratio(total_over_static=ratio))
    cold = TOTAL_TEMPERATURE * float(gas.temperature_ratio(mach=mach))
    assert bool(found.choked) == choked
    assert float(found.ideal_temperature) == pytest.approx(cold, rel=1e-12)
    assert float(found.speed) == pytest.approx(
        0.97 * mach * float(gas.speed_of_sound(temperature=cold)), rel=1e-9)
    assert float(found.pressure) == pytest.approx(
        ratio * AMBIENT * float(gas.pressure_ratio(mach=mach)) if choked else AMBIENT, rel=1e-9)
    assert float(found.mass_flow) == pytest.approx(0.9 * float(gas.mass_flow(
        area=AREA, mach=mach, total_pressure=ratio * AMBIENT,
        total_temperature=TOTAL_TEMPERATURE)), rel=1e-9)
    # energy: the slower jet is warmer, and mass flow = rho A V at the effective area
    assert float(found.temperature) == pytest.approx(
        TOTAL_TEMPERATURE - float(found.speed) ** 2 / (2.0 * gas.SPECIFIC_HEAT), rel=1e-12)
    density = float(found.pressure) / (gas.GAS_CONSTANT * float(found.temperature))
    assert float(found.mass_flow) == pytest.approx(
        density * float(found.effective_area) * float(found.speed), rel=1e-9)


def test_no_excess_of_pressure_no_jet() -> None:
    found = jet(Nozzle(exit_area=AREA), total_pressure=np.array([0.9, 1.0]) * AMBIENT,
                total_temperature=TOTAL_TEMPERATURE, pressure=AMBIENT)
    assert found.speed.tolist() == [0.0, 0.0]
    assert found.mass_flow.tolist() == [0.0, 0.0]
    assert not found.choked.any()


def test_swirl_takes_its_kinetic_energy_out_of_the_total_state() -> None:
    """T loses W^2 / (2 cp), p the isentropic power of that; slow: half rho W^2 (Bernoulli)."""
    pressure, temperature = axial_total_state(total_pressure=104e3, total_temperature=300.0,
                                              swirl_speed=40.0)
    cold = 300.0 - 1600.0 / (2.0 * gas.SPECIFIC_HEAT)
    assert float(temperature) == pytest.approx(cold, rel=1e-14)
    assert float(pressure) == pytest.approx(104e3 * (cold / 300.0) ** 3.5, rel=1e-12)
    assert 104e3 - float(pressure) == pytest.approx(
        0.5 * 104e3 / (gas.GAS_CONSTANT * 300.0) * 1600.0, rel=5e-3)


@pytest.mark.parametrize("velocity", [0.7, 0.9, 0.97, 1.0])
def test_the_effective_jet_fits_the_exit_up_to_the_discharge_that_choking_allows(velocity) -> None:
    """At choking T8 / T8i = 1 + (gamma - 1) / 2 (1 - Cv^2): the jet is widest there."""
    most = velocity / (1.0 + 0.2 * (1.0 - velocity**2))
    for discharge, fits in ((most * (1.0 - 1e-9), True), (most, True), (most + 1e-9, False)):
        nozzle = Nozzle(exit_area=AREA, discharge_coefficient=discharge,
                        velocity_coefficient=velocity)
        assert bool(discharge_possible(nozzle)) == fits
        widest = jet(nozzle, total_pressure=3.0 * AMBIENT, total_temperature=TOTAL_TEMPERATURE,
                     pressure=AMBIENT).effective_area
        assert (float(widest) <= AREA * (1.0 + 1e-11)) == fits


@given(velocity=st.floats(0.0, 1.0))
def test_the_least_velocity_is_that_of_the_widest_discharge(velocity) -> None:
    """To round-off, from none to the loss-free jet."""
    widest = widest_discharge(velocity_coefficient=velocity)
    assert float(least_velocity(discharge_coefficient=widest)) == pytest.approx(velocity, rel=1e-14)
