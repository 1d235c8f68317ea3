"""Net thrust, propulsive efficiency and nozzles of published worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import rows
from thrustlapse.propulsor.control_volume import (
    Stream,
    impulse,
    net_thrust,
    propulsive_efficiency,
    propulsive_efficiency_of_rise,
    propulsive_efficiency_with_fuel,
)
from thrustlapse.propulsor.nozzle import Nozzle, jet, required_pressure


def given(row, column: str, otherwise: float = 0.0) -> float:
    return otherwise if row[column] is None else float(row[column])


def propulsive_efficiency_without_fuel(*, jet_speed, airspeed, **_):
    return propulsive_efficiency(jet_speed=jet_speed, airspeed=airspeed)


FORMS = {"DG5.8": propulsive_efficiency_with_fuel, "MP6.6": propulsive_efficiency_of_rise,
         "MP6.7": propulsive_efficiency_of_rise}
"""Which of three forms a book means: fuel counted with the jet's energy against still air, fuel
counted with the rise of kinetic energy, or (all others) 2 V / (V + Vj)."""


@pytest.mark.parametrize("row", rows("net_thrust_examples"), ids=str)
def test_every_published_thrust(row) -> None:
    """Through the momentum theorem on a control volume; each row to its own rtol and status.

    The matched chain represents none of these engines (fuel, several streams, hot gas, given inlet
    pressures); that it obeys the same theorem is a property in ``test_ledger.py``.
    """
    rtol, ambient = row["rtol"], given(row, "p_amb_Pa")
    air, fuel = given(row, "mdot_air_kg_s", 1.0), given(row, "mdot_fuel_kg_s")
    flight, jet_speed = given(row, "V0_m_s"), given(row, "Vj_m_s")
    taken = Stream(mass_flow=air, speed=flight, pressure=row["p_inlet_Pa"],
                   area=given(row, "A_inlet_m2") if row["p_inlet_Pa"] is not None else 0.0)
    thrown = Stream(mass_flow=air + fuel, speed=jet_speed, pressure=row["p_exit_Pa"],
                    area=given(row, "A_exit_m2"))
    checked = 0
    if row["ram_drag_N"] is not None:
        assert air * flight == pytest.approx(row["ram_drag_N"], rel=rtol)
        checked += 1
    if row["pressure_thrust_N"] is not None:
        still = Stream(mass_flow=0.0, speed=0.0, pressure=row["p_exit_Pa"],
                       area=row["A_exit_m2"])
        assert float(impulse(still, ambient=ambient)) == pytest.approx(
            row["pressure_thrust_N"], rel=max(rtol, 1e-9))
        checked += 1
    if row["gross_thrust_N"] is not None:
        assert float(impulse(thrown, ambient=ambient)) == pytest.approx(row["gross_thrust_N"],
                                                                        rel=rtol)
        checked += 1
    if row["net_thrust_N"] is not None and row["mdot_air_kg_s"] is not None:
        found = float(net_thrust(entering=[taken], leaving=[thrown], ambient=ambient))
        assert found == pytest.approx(row["net_thrust_N"], rel=rtol)
        checked += 1
    if row["propulsive_eff"] is not None:
        form = FORMS.get(row["id"], propulsive_efficiency_without_fuel)
        found = float(form(air_flow=air, fuel_flow=fuel, jet_speed=jet_speed, airspeed=flight))
        assert found == pytest.approx(row["propulsive_eff"],
                                      abs=row.half_unit("propulsive_eff"), rel=rtol)
        checked += 1
    assert checked > 0


def test_two_streams_add() -> None:
    """Farokhi 2009, Ex 3.2 p.102 (C): core 22.5 kN and fan 122.5 kN make 145 kN."""
    streams = [Stream(mass_flow=50.0, speed=450.0), Stream(mass_flow=350.0, speed=350.0)]
    assert float(net_thrust(entering=[], leaving=streams)) == pytest.approx(145e3)


AIR_ROWS = [row for row in rows("nozzle_examples")
            if row["gamma"] == 1.4 and abs(row["R_J_kgK"] - 287.05) < 0.1
            and row["p_back_Pa"] is not None]


@pytest.mark.parametrize("row", AIR_ROWS, ids=str)
def test_nozzle_examples_in_air(row) -> None:
    """Each to its rtol; the books' R of 287 differs from 287.053 by 2e-4 of it. The rows in other
    gases, and those without a back pressure, go through ``gas.py`` (tests/air)."""
    found = jet(Nozzle(exit_area=row["A_exit_m2"]), total_pressure=row["pt_Pa"],
                total_temperature=row["Tt_K"], pressure=row["p_back_Pa"])
    assert bool(found.choked) == bool(row["choked"])
    assert float(found.mass_flow) == pytest.approx(row["mdot_kg_s"], rel=row["rtol"])
    if row["T_exit_K"] is not None:
        assert float(found.temperature) == pytest.approx(row["T_exit_K"], rel=row["rtol"])
    if row["V_exit_m_s"] is not None:
        assert float(found.speed) == pytest.approx(row["V_exit_m_s"], rel=row["rtol"])
    needed = required_pressure(Nozzle(exit_area=row["A_exit_m2"]), mass_flow=found.mass_flow,
                               total_temperature=row["Tt_K"], pressure=row["p_back_Pa"])
    assert float(needed) == pytest.approx(row["pt_Pa"], rel=1e-12)


@pytest.mark.parametrize("ratio", [1.000001, 1.02, 1.4, 1.8929, 2.5])
def test_the_jet_never_widens_beyond_its_exit(ratio) -> None:
    nozzle = Nozzle(exit_area=3e-4, discharge_coefficient=0.95, velocity_coefficient=0.97)
    found = jet(nozzle, total_pressure=ratio * 101_325.0, total_temperature=300.0,
                pressure=101_325.0)
    assert float(found.effective_area) <= 3e-4
    density = found.pressure / (287.05287 * found.temperature)
    assert float(density * found.speed * found.effective_area) == pytest.approx(
        float(found.mass_flow), rel=1e-9)


def test_swirl_takes_energy_and_gives_no_thrust() -> None:
    """Taking the swirl's head out of the total state is isentropic: pt falls with (Tt)^(3.5)."""
    from thrustlapse.propulsor.nozzle import axial_total_state

    pressure, temperature = axial_total_state(total_pressure=110e3, total_temperature=300.0,
                                              swirl_speed=50.0)
    assert float(temperature) == pytest.approx(300.0 - 1250.0 / 1004.685, rel=1e-6)
    assert float(pressure) == pytest.approx(110e3 * (float(temperature) / 300.0) ** 3.5)
    assert np.isfinite(float(pressure))
