"""Net thrust, propulsive efficiency and nozzles of published worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from tests.authority import row as line_of
from tests.authority import rows
from tests.credibility.records import agree, authority, status_of
from tests.propulsor.textbook_thrust import (
    propulsive_efficiency,
    propulsive_efficiency_of_rise,
    propulsive_efficiency_with_fuel,
)
from thrustlapse.air.gas import GAMMA, SPECIFIC_HEAT
from thrustlapse.propulsor.control_volume import Stream, impulse, net_thrust
from thrustlapse.propulsor.inlet import Inlet, inlet_state
from thrustlapse.propulsor.nozzle import Nozzle, jet, required_pressure


def given(row, column: str, otherwise: float = 0.0) -> float:
    return otherwise if row[column] is None else float(row[column])


def propulsive_efficiency_without_fuel(*, jet_speed, airspeed, **_):
    return propulsive_efficiency(jet_speed=jet_speed, airspeed=airspeed)


FORMS = {"DG5.8": propulsive_efficiency_with_fuel, "MP6.6": propulsive_efficiency_of_rise,
         "MP6.7": propulsive_efficiency_of_rise}
"""Which of three forms a book means: fuel counted with the jet's energy against still air, fuel
counted with the rise of kinetic energy, or (all others) 2 V / (V + Vj)."""


@authority(part="thrust", what="published thrusts of engines", status="worked",
           source="textbooks, named in each row")
def test_every_published_thrust():
    """Through the momentum theorem on a control volume; each row to its own rtol and status.

    The matched chain represents none of these engines (fuel, several streams, hot gas, given inlet
    pressures); that it obeys the same theorem is a property in ``test_ledger.py``.
    """
    for row in rows("net_thrust_examples"):
        rtol, ambient = row["rtol"], given(row, "p_amb_Pa")
        told = {"source": row["source"], "status": status_of(row["status"]),
                "why": "digits carried through the example, column rtol"}
        air, fuel = given(row, "mdot_air_kg_s", 1.0), given(row, "mdot_fuel_kg_s")
        flight, jet_speed = given(row, "V0_m_s"), given(row, "Vj_m_s")
        taken = Stream(mass_flow=air, speed=flight, pressure=row["p_inlet_Pa"],
                       area=given(row, "A_inlet_m2") if row["p_inlet_Pa"] is not None else 0.0)
        thrown = Stream(mass_flow=air + fuel, speed=jet_speed, pressure=row["p_exit_Pa"],
                        area=given(row, "A_exit_m2"))
        checked = []
        if row["ram_drag_N"] is not None:
            checked += agree(f"{row} ram drag", air * flight, row["ram_drag_N"], share=rtol,
                             unit="N", **told)
        if row["pressure_thrust_N"] is not None:
            still = Stream(mass_flow=0.0, speed=0.0, pressure=row["p_exit_Pa"],
                           area=row["A_exit_m2"])
            checked += agree(f"{row} pressure thrust", impulse(still, ambient=ambient),
                             row["pressure_thrust_N"], share=max(rtol, 1e-9), unit="N", **told)
        if row["gross_thrust_N"] is not None:
            checked += agree(f"{row} gross thrust", impulse(thrown, ambient=ambient),
                             row["gross_thrust_N"], share=rtol, unit="N", **told)
        if row["net_thrust_N"] is not None and row["mdot_air_kg_s"] is not None:
            checked += agree(f"{row} net thrust", net_thrust(entering=[taken], leaving=[thrown],
                                                             ambient=ambient),
                             row["net_thrust_N"], share=rtol, unit="N", **told)
        if row["propulsive_eff"] is not None:
            form = FORMS.get(row["id"], propulsive_efficiency_without_fuel)
            checked += agree(f"{row} propulsive efficiency",
                             form(air_flow=air, fuel_flow=fuel, jet_speed=jet_speed,
                                  airspeed=flight),
                             row["propulsive_eff"], within=row.half_unit("propulsive_eff"),
                             share=rtol, **told)
        assert checked, row
        yield from checked


@authority(part="thrust", what="two streams add", status="worked",
           source="Farokhi 2009, Ex 3.2 p.102")
def test_two_streams_add():
    """Core 22.5 kN and fan 122.5 kN make 145 kN."""
    streams = [Stream(mass_flow=50.0, speed=450.0), Stream(mass_flow=350.0, speed=350.0)]
    yield from agree("static thrust", net_thrust(entering=[], leaving=streams), 145e3, share=1e-6,
                     unit="N", why="exact product of the given numbers")


AIR_ROWS = [row for row in rows("nozzle_examples")
            if row["gamma"] == 1.4 and abs(row["R_J_kgK"] - 287.05) < 0.1
            and row["p_back_Pa"] is not None]


@authority(part="nozzle", what="worked nozzles in air, as the machine's nozzle", status="worked",
           source="textbooks, named in each row")
def test_nozzle_examples_in_air():
    """Each to its rtol; the textbooks' R of 287 differs from 287.053 by 2e-4 of it. The rows in
    other gases, and those without a back pressure, go through ``gas.py`` (tests/air)."""
    for row in AIR_ROWS:
        told = {"source": row["source"], "status": status_of(row["status"]),
                "why": "digits carried through the example, column rtol"}
        nozzle = Nozzle(exit_area=row["A_exit_m2"])
        found = jet(nozzle, total_pressure=row["pt_Pa"], total_temperature=row["Tt_K"],
                    pressure=row["p_back_Pa"])
        yield from agree(f"{row} choked", found.choked, row["choked"],
                         **(told | {"why": "yes or no"}))
        for name, value, unit in (("mdot_kg_s", found.mass_flow, "kg/s"),
                                  ("T_exit_K", found.temperature, "K"),
                                  ("V_exit_m_s", found.speed, "m/s")):
            if row[name] is not None:
                yield from agree(f"{row} {name}", value, row[name], share=row["rtol"], unit=unit,
                                 **told)
        needed = required_pressure(nozzle, mass_flow=found.mass_flow,
                                   total_temperature=row["Tt_K"], pressure=row["p_back_Pa"])
        assert float(needed) == pytest.approx(row["pt_Pa"], rel=1e-12)


@authority(part="nozzle", what="velocity coefficients", status="worked",
           source="textbooks, named in each row")
def test_velocity_coefficients_of_the_books():
    """Two textbooks' nozzles with a velocity coefficient: our exit speed over the loss-free one.

    The pressure ratio of the first, in steam units, is replaced by its drop of 200 kJ/kg.
    """
    for row in rows("nozzle_coefficients"):
        if row["quantity"] != "velocity_coefficient_used_in_text":
            continue
        share = (200e3 / (SPECIFIC_HEAT * 600.0) if "200 kJ/kg" in row["inputs"]
                 else 1.0 - 2.04 ** (-(GAMMA - 1.0) / GAMMA))
        at = {"total_temperature": 600.0, "pressure": 101325.0,
              "total_pressure": 101325.0 * (1.0 - share) ** (-GAMMA / (GAMMA - 1.0))}
        speeds = [jet(Nozzle(exit_area=1e-3, discharge_coefficient=0.9,
                             velocity_coefficient=value), **at) for value in (row["value"], 1.0)]
        choked = bool(speeds[0].choked)
        yield from agree(f"speed over loss-free speed, {row['inputs']}",
                         speeds[0].speed / speeds[1].speed, row["value"], share=1e-12,
                         source=row["source"], status=status_of(row["status"]),
                         why="definition of the coefficient")
        # what the coefficient takes from the speed comes back as heat
        yield from agree(f"energy of the jet, {row['inputs']}{', choked' if choked else ''}",
                         speeds[0].temperature + speeds[0].speed ** 2 / (2.0 * SPECIFIC_HEAT),
                         600.0, share=1e-12, unit="K", source="first law", status="closed form",
                         why="round-off")


@authority(part="nozzle", what="recovery of a choked thin lip", status="published",
           source="Fradenburgh & Wyatt, NACA TN 3004 (1953), abstract",
           kind="measured")
def test_choked_thin_lip_recovers_what_was_measured():
    """79 % of the total pressure, printed to the per cent."""
    line = line_of("nozzle_coefficients", "sharp_lip_choked_static_pt_recovery")
    found = inlet_state(Inlet(throat_area=1e-3, lip_sharpness=1.0), throat=1.0, pressure=101325.0,
                        total_pressure=101325.0, total_temperature=288.15, airspeed=0.0)
    yield from agree("pt/p0", found.total_pressure / 101325.0, line["value"],
                     share=line["rtol"], why="printed to the per cent")


@authority(part="nozzle", what="flow of a measuring nozzle", status="closed form",
           source="ISO 5167-3 long-radius nozzle, equation read in two public code files",
           kind="shared")
def test_a_long_radius_nozzle_passes_its_coefficient():
    """The standard's C, given as discharge coefficient, must come out of the mass flow.

    Theirs is C times the incompressible flow through the exit, from a total pressure 20 Pa above
    the air's: at Mach 0.017 compressibility is 1e-4 of it. The package predicts no coefficient.
    """
    for line in rows("nozzle_long_radius_discharge"):
        found = jet(Nozzle(exit_area=2e-3, discharge_coefficient=line["C"]),
                    total_pressure=101345.0, total_temperature=288.15, pressure=101325.0)
        density = 101325.0 / (287.05287 * 288.15)
        yield from agree(f"C at beta {line['beta']}, Re {line['Re_D']:.0f}",
                         found.mass_flow / (2e-3 * np.sqrt(2.0 * density * 20.0)), line["C"],
                         share=2e-4, why="compressibility left out of theirs")


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
