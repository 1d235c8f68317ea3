"""Parts built from a file, against figures worked out by hand from the file's own."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from thrustlapse.power.motor import (
    ConstantsMotor,
    EfficiencyMotor,
    greatest_input,
    input_power,
    shaft_power,
)
from thrustlapse.power.pack import pack_resistance
from thrustlapse.propulsor.ideal import ideal_power_coefficient
from thrustlapse.rotor.stage_map import PointMap
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text
from thrustlapse.scenario.schema.map import LOSS_EXPONENT
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.section import describe

STARTER = starter_text()
BLOWER_MAP = STARTER[STARTER.index("[candidates.blower.map]"):
                     STARTER.index("[candidates.blower.duct]")]
TABLE = STARTER[STARTER.index("[candidates.propeller.table]"):
                STARTER.index("[candidates.propeller.motor]")]


def changed(*changes: tuple[str, str]):
    text = STARTER
    for old, new in changes:
        assert old in text, f"the starter no longer has {old!r}"
        text = text.replace(old, new, 1)
    return read_text(text)


def blower_with_map(rows: str):
    return changed((BLOWER_MAP, f"[candidates.blower.map]\n{rows}\n")).candidates["blower"]


POINTS = 'source = "points"\nflow = [0.1, 0.2, 0.3]\nhead = [1.2, 1.0, 0.4]\n'


@pytest.mark.parametrize(("rows", "flow", "head", "power"), [
    # the definitions of rotor/stage_map.py, worked out with pi/4 and pi/8 for the middle point
    ('convention = "tip speed and diameter"\npower = [0.3, 0.4, 0.4]', 0.2, 1.0, 0.4),
    ('convention = "fan engineering"\npower = [0.3, 0.4, 0.4]',
     0.2 * math.pi / 4, 0.5, 0.4 * math.pi / 8),
    ('convention = "annulus"\nhub_ratio = 0.5\npower = [0.3, 0.4, 0.4]',
     0.2 * math.pi / 4 * 0.75, 0.5, 0.4 * math.pi / 8 * 0.75),
    ('convention = "mean radius"\nhub_ratio = 0.5\npower = [0.3, 0.4, 0.4]',
     0.2 * math.pi / 4 * 0.75 * 0.75, 0.75**2, 0.4 * math.pi / 4 * 0.75 * 0.75**3),
    # efficiency: power is head times flow over it, whatever the convention
    ('convention = "fan engineering"\nefficiency = [0.4, 0.5, 0.3]',
     0.2 * math.pi / 4, 0.5, 0.2 * math.pi / 4 * 0.5 / 0.5),
])
def test_map_points_in_every_convention(rows, flow, head, power) -> None:
    stage = blower_with_map(POINTS + rows).unit.rotor.stage
    assert isinstance(stage, PointMap)
    assert stage.flow[1] == pytest.approx(flow, rel=1e-12)
    assert stage.head_points[1] == pytest.approx(head, rel=1e-12)
    assert stage.power_points[1] == pytest.approx(power, rel=1e-12)


READINGS = '''source = "readings"
measured_diameter = "100 mm"
shaft_speed = ["60 krpm", "62 krpm"]
volume_flow = ["10 L/s", "20 L/s"]
pressure_rise = ["20 kPa", "10 kPa"]
shaft_power = ["700 W", "800 W"]
inlet_temperature = "15 degC"
inlet_pressure = "1013.25 hPa"
'''


def test_readings_become_coefficients_and_are_carried_to_this_rotor() -> None:
    candidate = blower_with_map(READINGS)
    stage = candidate.unit.rotor.stage
    tip = math.pi * 62e3 / 60 * 0.1  # of the second reading
    density = 101325 / (287.05287 * 288.15)
    head = 3.5 * 287.05287 * 288.15 * ((111325 / 101325) ** (2 / 7) - 1)
    assert stage.flow[1] == pytest.approx(0.020 / (tip * 0.1**2), rel=1e-9)
    assert stage.head_points[1] == pytest.approx(head / tip**2, rel=1e-9)
    assert stage.power_points[1] == pytest.approx(800 / (density * tip**3 * 0.1**2), rel=1e-9)
    told = [words for words in candidate.assumptions if "carried by the fan laws" in words]
    assert len(told) == 1
    assert "100 mm to 38 mm" in told[0]


def test_a_carried_map_is_trusted_less_the_farther_it_is_carried() -> None:
    """Losses with the -0.2 power of size: half of the work lost grows by 10^0.2 at a tenth."""
    rows = ('source = "coefficients"\nhead_shutoff = 0.5\nwork_shutoff = 1.0\nshutoff_power = 0.0\n'
            "highest_flow = 0.2\n")  # an efficiency of one half at every flow
    own = blower_with_map(rows).unit.rotor.stage.band
    same = blower_with_map(rows + 'measured_diameter = "38 mm"').unit.rotor.stage.band
    tenth = blower_with_map(rows + 'measured_diameter = "380 mm"\n[candidates.blower.map.band]\n'
                            "power = 0.1").unit.rotor.stage.band
    assert own.power == same.power == 0.0
    assert tenth.power == pytest.approx(math.hypot(0.1, 0.5 * (10**LOSS_EXPONENT - 1)), rel=1e-9)


@pytest.mark.parametrize(("rows", "said"), [
    (READINGS.replace('"800 W"', '"80 W"'), "efficiency exceeds one"),
    (READINGS.replace('["10 L/s", "20 L/s"]', '["20 L/s", "10 L/s"]'), "folds back"),
    (READINGS.replace('["60 krpm", "62 krpm"]', '["6 krpm", "62 krpm"]'), "folds back"),
    (READINGS.replace('"10 kPa"', '"-60 kPa"').replace('"1013.25 hPa"', '"50 kPa"'),
     "falls by more"),
    (READINGS.replace('["700 W", "800 W"]', '["700 W", "800 W", "900 W"]'), "3 entries beside 2"),
    (POINTS + 'convention = "annulus"\npower = [1, 1, 1]', "hub_ratio: missing"),
    (POINTS + 'convention = "annular"\npower = [1, 1, 1]', 'did you mean "annulus"'),
    (POINTS + 'convention = "fan engineering"', "power or efficiency"),
    (POINTS + 'convention = "fan engineering"\nefficiency = [0.5, 1.2, 0.5]', "above 1"),
    (POINTS.replace("0.4]", "-0.4]") + 'convention = "fan engineering"\n'
     "efficiency = [0.5, 0.5, 0.1]", "says nothing about power"),
])
def test_maps_that_cannot_be(rows, said) -> None:
    with pytest.raises(ScenarioError, match=said):
        blower_with_map(rows)


RUNS = '''[candidates.propeller.table]
source = "runs"
measured_diameter = "9 in"
[[candidates.propeller.table.runs]]
shaft_speed = "4 krpm"
advance_ratio = [0.0, 0.3, 0.6]
thrust_coefficient = [0.10, 0.08, 0.02]
power_coefficient = [0.050, 0.048, 0.030]
[[candidates.propeller.table.runs]]
shaft_speed = "8 krpm"
advance_ratio = [0.0, 0.3, 0.5]
thrust_coefficient = [0.11, 0.09, 0.05]
power_coefficient = [0.052, 0.050, 0.042]

'''


def test_runs_make_a_table_over_shaft_speed() -> None:
    candidate = changed((TABLE, RUNS)).candidates["propeller"]
    table = candidate.unit.table
    # runs belong to a Reynolds number, n D^2 over viscosity, and are carried with it
    carried = (9 / 7) ** 2 * math.tau / 60
    np.testing.assert_allclose(table.shaft_speed, [4000 * carried, 8000 * carried])
    middle = table.thrust(advance_ratio=0.3, shaft_speed=6000 * carried)
    assert middle == pytest.approx(0.5 * (0.08 + 0.09), rel=1e-12)
    assert any("228.6 mm to 177.8 mm" in words for words in candidate.assumptions)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('"8 krpm"', '"4 krpm"', "same shaft speed"),
    ("power_coefficient = [0.052,", "power_coefficient = [0.012,", r"runs\[2\].power_coefficient"),
    ("advance_ratio = [0.0, 0.3, 0.5]", "advance_ratio = [0.0, 0.5, 0.3]", "folds back"),
    ("advance_ratio = [0.0, 0.3, 0.5]", "advance_ratio = [0.7, 0.8, 0.9]", "no other run covers"),
    ("thrust_coefficient = [0.11, 0.09, 0.05]", "thrust_coefficient = [0.11]", "2 or more"),
    ("thrust_coefficient = [0.11, 0.09, 0.05]", "thrust_coefficient = [0.11, 0.1]", "2 entries"),
])
def test_runs_that_cannot_be(old, new, said) -> None:
    with pytest.raises(ScenarioError, match=said):
        changed((TABLE, RUNS.replace(old, new)))


def test_bound_on_power_coefficients_in_closed_form() -> None:
    """Momentum theory at rest, T^3 = 2 rho A P^2 open and 4 rho sigma A P^2 ducted; and moving."""
    zero, ct = np.array([0.0]), np.array([0.1])
    n, d, rho = 100.0, 0.2, 1.2
    thrust, disc = 0.1 * rho * n**2 * d**4, math.pi / 4 * d**2
    scale = rho * n**3 * d**5
    assert ideal_power_coefficient(advance_ratio=zero, thrust_coefficient=ct,
                                   exit_area_ratio=0.0) * scale == pytest.approx(
        thrust**1.5 / math.sqrt(2 * rho * disc), rel=1e-12)
    assert ideal_power_coefficient(advance_ratio=zero, thrust_coefficient=ct,
                                   exit_area_ratio=1.2) * scale == pytest.approx(
        thrust**1.5 / math.sqrt(4 * rho * 1.2 * disc), rel=1e-12)
    # moving: choose the speed through the disc, 15 m/s at 10 m/s of flight, and work back to CT
    thrust = 2 * rho * disc * 15 * 5
    assert ideal_power_coefficient(
        advance_ratio=np.array([10 / (n * d)]), thrust_coefficient=np.array(
            [thrust / (rho * n**2 * d**4)]), exit_area_ratio=0.0) * scale == pytest.approx(
        thrust * 15, rel=1e-12)


MOTOR = ('model = "constants"              # or "efficiency" when you know nothing else\n'
         'speed_constant = "4400 rpm/V"\nresistance = "45 mohm"\nno_load_current = "1.2 A"\n'
         'current_rating = "30 A"\n')


def motor_of(rows: str, **drawn):
    scenario = changed((MOTOR, rows)).drawn(
        {f"candidates.blower.motor.{key}": value for key, value in drawn.items()})
    return scenario.candidates["blower"].unit.drive


def test_motor_constants_and_a_no_load_current_that_grows() -> None:
    drive = motor_of('model = "constants"\ntorque_constant = "2.2 mN m/A"\nresistance = "40 mohm"\n'
                     'no_load_current = "1.5 A"\nno_load_speed = "50 krpm"\n'
                     'no_load_current_slope = "20 mA/krpm"\n')
    assert isinstance(drive.motor, ConstantsMotor)
    assert drive.motor.torque_constant == pytest.approx(2.2e-3, rel=1e-12)
    assert drive.motor.no_load_current == pytest.approx(1.5 - 50 * 0.020, rel=1e-12)
    assert drive.motor.no_load_current_slope == pytest.approx(
        0.020 / (1000 * math.tau / 60), rel=1e-12)
    assert drive.controller_efficiency == 0.95
    # not given: a quarter more at the unloaded speed on this supply (the register, judgement)
    assumed = changed((MOTOR, MOTOR.replace("# or", "#"))).candidates["blower"].unit
    motor = assumed.drive.motor
    unloaded = float(assumed.supply.voltage) / motor.torque_constant
    assert motor.no_load_current_slope * unloaded == pytest.approx(
        0.25 * motor.no_load_current, rel=1e-12)


def test_motor_by_efficiency_against_load() -> None:
    drive = motor_of('model = "efficiency"\nload = [0.25, 0.5, 1.0]\n'
                     'efficiency = ["50 %", "70 %", 0.8]\nrated_shaft_power = "300 W"\n')
    assert isinstance(drive.motor, EfficiencyMotor)
    assert input_power(drive.motor, shaft_power=150.0) == pytest.approx(150 / 0.7, rel=1e-12)
    assert drive.controller_efficiency == 1.0


def test_a_rating_beside_one_efficiency_ends_the_motor() -> None:
    """It was once accepted and left out of account: 400 W at 80 % gave 320 W of a 200 W motor."""
    drive = motor_of('model = "efficiency"\nefficiency = 0.8\nrated_shaft_power = "200 W"\n')
    assert isinstance(drive.motor, EfficiencyMotor)
    assert shaft_power(drive.motor, input_power=np.array([100.0, 250.0, 400.0])) == pytest.approx(
        [80.0, 200.0, 200.0], rel=1e-12)
    assert float(greatest_input(drive.motor)) == pytest.approx(250.0, rel=1e-12)


@pytest.mark.parametrize("rows", ["efficiency = [0.5, 0.8]\nload = [0.5, 1.0]", "efficiency = 0.8"])
def test_a_rating_may_be_drawn(rows: str) -> None:
    """With a spread on it, a file that `check` called good once ended in a traceback."""
    ratings = np.array([150.0, 300.0])
    motor = motor_of(f'model = "efficiency"\n{rows}\nrated_shaft_power = "200 W"\n',
                     rated_shaft_power=ratings).motor
    assert greatest_input(motor) == pytest.approx(ratings[:, None] / 0.8)
    assert shaft_power(motor, input_power=5e3) == pytest.approx(ratings[:, None])


@pytest.mark.parametrize(("rows", "said"), [
    ('model = "efficiency"\nefficiency = [0.5, 0.6]\n', "without the loads"),
    ('model = "efficiency"\nefficiency = [0.5, 0.6]\nload = [0.5, 0.8, 1]\n'
     'rated_shaft_power = "9 W"\n', "3 entries beside 2"),
    ('model = "efficiency"\nefficiency = [0.2, 0.9]\nload = [0.5, 0.6]\n'
     'rated_shaft_power = "9 W"\n', "fold back"),
    ('model = "constants"\ntorque_constant = "4400 rpm/V"\nresistance = "45 mohm"\n'
     "no_load_current = 1\n", "its key is speed_constant"),
    ('model = "constants"\ntorque_constant = "2 Nm"\nresistance = "45 mohm"\n'
     "no_load_current = 1\n", "torque per current"),
    ('model = "constants"\nspeed_constant = "4400 rpm/V"\nresistance = "45 mohm"\n'
     'no_load_current = 1\nno_load_speed = "9 krpm"\n', "without a slope"),
    ('model = "constants"\nspeed_constant = "4400 rpm/V"\nresistance = "45 mohm"\n'
     'no_load_current = 1\nno_load_speed = "9 krpm"\nno_load_current_slope = "1 A/krpm"\n',
     "run by itself"),
])
def test_motors_that_cannot_be(rows, said) -> None:
    with pytest.raises(ScenarioError, match=said):
        motor_of(rows)


CLEAN = 0.94 + 0.06 * math.sqrt(0.5)
"""Median of a triangle from 0.94 to its peak at 1, in closed form."""


@pytest.mark.parametrize(("facing", "angle", "recovery"), [
    ("forward", 0.0, CLEAN), ("aft", math.pi, 0.0), ("20 deg", math.radians(20), CLEAN),
    ("90 deg", math.pi / 2, 0.0)])
def test_which_way_the_inlet_looks(facing, angle, recovery) -> None:
    inlet = changed(('facing = "forward"', f'facing = "{facing}"')).candidates["blower"].unit.inlet
    assert inlet.facing == pytest.approx(angle, rel=1e-12)
    assert inlet.ram_recovery == pytest.approx(recovery, rel=1e-12)
    assert inlet.lip_sharpness == 0.4


def test_drag_given_is_drag_used_and_nothing_is_assumed_about_it() -> None:
    rows = ('[candidates.blower.installation]\npod_diameter = "60 mm"\npod_drag_coefficient = 0.2\n'
            'base_area = "4 cm^2"\nbase_drag_coefficient = 0.15\nscrubbed_area = "30 cm^2"\n'
            'scrubbing_friction = 0.004\nfrontal_area = "40 cm^2"\n[candidates.blower.motor]\n')
    candidate = changed(("[candidates.blower.motor]\n", rows)).candidates["blower"]
    outside = candidate.installation
    assert outside.pod_drag_area == pytest.approx(0.2 * math.pi / 4 * 0.06**2, rel=1e-12)
    assert (outside.base_area, outside.base_drag_coefficient, outside.scrubbing_friction) == (
        4e-4, 0.15, 0.004)
    assert outside.frontal_area == pytest.approx(40e-4, rel=1e-12)
    told = " ".join(candidate.assumptions)
    assert not any(word in told for word in ("pod", "base", "frontal", "rubbed", "friction"))


def test_defaults_of_drag_are_the_ones_told() -> None:
    """Casing of 1.7 tip diameters, 0.12 on its frontal area; a tenth of it blunt."""
    outside = changed().candidates["blower"].installation
    across = math.pi / 4 * (1.7 * 0.038) ** 2
    assert outside.frontal_area == pytest.approx(across, rel=1e-12)
    assert outside.pod_drag_area == pytest.approx(0.12 * across, rel=1e-12)
    assert outside.base_area == pytest.approx(0.10 * across, rel=1e-12)
    assert outside.scrubbed_area == pytest.approx(2 * math.pi / 4 * 0.015**2, rel=1e-12)


def test_units_share_the_pack_and_its_mass_is_counted_once() -> None:
    two = changed(("count = 1 ", "count = 2 ")).candidates["blower"]
    assert two.unit.supply.units == 2.0
    assert two.installed_mass == pytest.approx(2 * 0.250 + 0.480, rel=1e-12)


PACK = STARTER[STARTER.index("[pack]"):STARTER.index("# On the bench")]


def test_a_bench_supply_in_place_of_the_pack() -> None:
    scenario = changed((PACK, '[supply]\nvoltage = "24 V"\nresistance = "20 mohm"\nmass = "0 g"\n'))
    assert scenario.pack is None
    supply = scenario.candidates["fan"].unit.supply
    assert (supply.voltage, supply.resistance) == (24.0, pytest.approx(0.02))
    assert scenario.candidates["fan"].installed_mass == pytest.approx(0.2)


def test_a_cell_curve_of_ones_own() -> None:
    scenario = changed(('chemistry = "NMC" ', 'curve = [["0 %", "3 V"], [0.5, "3.6 V"], '
                        '["100 %", "4.2 V"]]\ncurve_source = "own rig" #'),
                       ('state_of_charge = "70 %"', 'state_of_charge = "50 %"'))
    assert scenario.candidates["fan"].unit.supply.voltage == pytest.approx(6 * 3.6, rel=1e-12)
    assert scenario.pack.curve.source == "own rig"


RESISTANCES = 'resistance_curve = [["0 %", "30 mohm"], ["70 %", "14 mohm"], [1.0, "12 mohm"]]'


def test_a_resistance_curve_of_ones_own() -> None:
    """Six cells of 14 mohm at the 70 % of the file, and 4 mohm of leads; 30 mohm when empty."""
    scenario = changed(('cell_resistance = "12 mohm"', RESISTANCES))
    assert scenario.candidates["fan"].unit.supply.resistance == pytest.approx(0.088, rel=1e-12)
    assert pack_resistance(scenario.pack) == pytest.approx(0.088, rel=1e-12)
    empty = replace(scenario.pack, state_of_charge=0.0)
    assert pack_resistance(empty) == pytest.approx(0.184, rel=1e-12)


def test_one_resistance_is_that_at_half_charge() -> None:
    """Schuster's cell at 20 % and 50 %: 0.1264 over 0.0984 ohm."""
    scenario = changed(('state_of_charge = "70 %"', 'state_of_charge = "20 %"'))
    assert pack_resistance(scenario.pack) == pytest.approx(
        6 * 0.012 * 0.1264 / 0.0984 + 0.004, rel=1e-12)


@pytest.mark.parametrize(("rows", "said"), [
    (RESISTANCES + '\ncell_resistance = "12 mohm"', "given together with"),
    ('resistance_curve = [["50 %", 0.01], ["50 %", 0.02]]', "folds back"),
    ('resistance_curve = [["0 %", 0.02], ["50 %", 0.01]]', "outside its resistance_curve"),
    ('resistance_curve = [["0 %", 0.0], ["100 %", 0.01]]', "resistance_curve"),
    ("# none", "missing: cell_resistance or resistance_curve")])
def test_resistances_that_cannot_be(rows, said) -> None:
    with pytest.raises(ScenarioError, match=said):
        changed(('cell_resistance = "12 mohm"', rows))


def test_a_state_of_charge_beyond_the_curve() -> None:
    with pytest.raises(ScenarioError, match="outside the cell's curve"):
        changed(('chemistry = "NMC" ', 'curve = [["80 %", 3.9], ["100 %", 4.2]] #'))


def test_the_air_at_the_site_is_the_air_read_there() -> None:
    air = changed(('temperature = "15 degC"\n# pressure = "1002 hPa"',
                   'temperature = "30 degC"\npressure = "985 hPa"')).site.air()
    assert float(air.temperature) == pytest.approx(303.15, abs=1e-9)
    assert float(air.pressure) == pytest.approx(98500.0, rel=1e-9)


@pytest.mark.parametrize(("rows", "speeds"), [
    ('at = "30 m/s"', [30.0]), ('at = ["0 m/s", "36 km/h"]', [0.0, 10.0]),
    ('highest = "20 m/s"\npoints = 3', [0.0, 10.0, 20.0]),
    ('lowest = "5 m/s"\nhighest = "5 m/s"', [5.0])])
def test_airspeeds(rows, speeds) -> None:
    old = STARTER[STARTER.index('lowest = "0 m/s"'):STARTER.index("[comparison]")]
    np.testing.assert_allclose(changed((old, rows + "\n")).airspeeds, speeds)


@pytest.mark.parametrize("rows", ['at = ["5 m/s", "5 m/s"]', 'at = []', 'highest = "-5 m/s"',
                                  'highest = "9 m/s"\npoints = 1', 'lowest = "0 m/s"'])
def test_airspeeds_that_are_none(rows) -> None:
    old = STARTER[STARTER.index('lowest = "0 m/s"'):STARTER.index("[comparison]")]
    with pytest.raises(ScenarioError):
        changed((old, rows + "\n"))


def test_every_key_is_described_with_a_range_that_holds_its_default() -> None:
    described = list(describe(ScenarioSection))
    assert len({(key.path, key.only) for key in described}) == len(described)
    for key in described:
        assert key.meaning, key.path
        assert key.accepted, key.path
        if key.low is not None and isinstance(key.default, float):
            assert key.low <= key.default <= key.high, key.path
