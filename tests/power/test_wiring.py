"""Wire against its table; catalogue motors against the law that the package uses."""

import numpy as np
import pytest

from tests.authority import rows
from tests.credibility.records import agree, authority, digits
from tests.power.textbook_motor import constants_from_bench
from thrustlapse.power.motor import ConstantsMotor, motor_current
from thrustlapse.power.wiring import CHASSIS, wire_diameter, wire_resistance

RPM = np.pi / 30.0


@authority(part="motor", what="copper wire", status="published",
           source="Handbook of Electronic Tables and Formulas, as quoted on wire-gauge pages")
def test_wire_table():
    """Diameters are printed rounded or cut off; the table's resistances are those of its copper."""
    for row in rows("wire_copper_awg"):
        gauge = row["awg"]
        diameter = 1e3 * wire_diameter(gauge=gauge)
        yield from digits(row, "diameter_formula_mm", diameter, what=f"AWG {row} diameter by law",
                          unit="mm", status="closed form", source="the gauge's law")
        yield from agree(f"AWG {row} diameter", diameter, row["diameter_mm"], share=2e-3,
                         unit="mm", why="printed from rounded inches")
        yield from agree(f"AWG {row} resistance", 1e3 * wire_resistance(gauge=gauge, length=1.0),
                         row["resistance_ohm_per_km"], share=0.01, unit="ohm/km",
                         why="resistivity and temperature of the table are not stated")


def test_currents_in_air_are_those_of_the_table():
    """A copy, so no record of the credibility page."""
    assert {row["awg"]: row["chassis_amp"] for row in rows("wire_copper_awg")} == CHASSIS


@authority(part="motor", what="catalogue motors", status="worked",
           source="bare blower-motor catalogue (maker A), constants evaluated elsewhere")
def test_catalogue_motors():
    """Three motors: constants from the no-load and the rated point, and the rated torque, shaft
    power and efficiency that follow. One law through two points of a catalogue: no dynamometer."""
    for row in rows("motors_bare_catalogue"):
        idle, rated = row["noload_rpm"] * RPM, row["rated_rpm"] * RPM
        torque_constant, resistance = constants_from_bench(
            no_load_voltage=row["voltage_V"], no_load_current=row["noload_A"], no_load_speed=idle,
            load_voltage=row["voltage_V"], load_current=row["rated_A"], load_speed=rated)
        yield from digits(row, "fit_R_ohm", resistance, unit="ohm")
        yield from digits(row, "fit_ke_Vs_per_rad", torque_constant, unit="V s/rad")
        motor = ConstantsMotor(torque_constant=float(torque_constant),
                               resistance=float(resistance), no_load_current=row["noload_A"])
        torque = row["rated_shaft_torque_mNm"] * 1e-3
        yield from agree(f"{row} current at rated torque",
                         motor_current(motor, torque=torque, shaft_speed=rated), row["rated_A"],
                         share=2e-4, unit="A", why="printed digits of the torque")
        yield from digits(row, "rated_shaft_W", torque * rated, unit="W", times=1.2)
        yield from digits(row, "rated_efficiency",
                          torque * rated / (row["voltage_V"] * row["rated_A"]), times=1.05)


def test_resistance_of_the_loop_in_the_wire_section():
    """0.6 m of AWG 14 is 5 mohm (the default of the scenario's motor leads)."""
    assert wire_resistance(gauge=14, length=0.6) == pytest.approx(5.0e-3, abs=5e-5)


def test_three_gauges_thicker_is_twice_the_copper():
    """The gauge's law: 39 gauges for a factor of 92 in diameter."""
    ratio = wire_resistance(gauge=15, length=1.0) / wire_resistance(gauge=12, length=1.0)
    assert ratio == pytest.approx(92.0 ** (6.0 / 39.0), rel=1e-12)
