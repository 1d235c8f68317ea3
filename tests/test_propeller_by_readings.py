"""A propeller known by its label and one reading; further readings of a ducted machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.authority import rows
from tests.known_machines import LABELLED_PROPELLER, MACHINE, scenario_text
from tests.known_machines import PROPELLER_READINGS as READINGS
from thrustlapse.propulsor.anchored import anchored
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import operate
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.rotor.propeller.error import LABELLED_BAND
from thrustlapse.rotor.stage_map import NoMap
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.monte_carlo import IMPOSSIBLE, UNMET
from thrustlapse.study.sampling import drawables, shares, with_draws

LABEL, BLOWER = scenario_text(LABELLED_PROPELLER), scenario_text(MACHINE)


def prop(*lines: str, label: str = LABEL, readings: str = READINGS) -> str:
    return label + readings + "\n".join(lines) + "\n"


def test_thrust_power_and_speed_are_met_and_the_band_is_that_of_anchored_tables() -> None:
    """At the voltage of the reading the current is that of the reading too: 90 W over 11.4 V."""
    scenario = read_text(prop('shaft_speed = "6900 rpm"', 'voltage = "11.4 V"'))
    candidate = scenario.candidates["prop"]
    point = operate(candidate, airspeed=np.array([0.0, 15.0]))
    assert point.net_thrust[0] == pytest.approx(5.5, rel=1e-6)
    assert point.electrical_power[0] == pytest.approx(90.0, rel=1e-6)
    assert point.shaft_speed[0] == pytest.approx(6900 * np.pi / 30, rel=1e-6)
    assert point.current[0] == pytest.approx(90.0 / 11.4, rel=1e-6)
    assert candidate.unit.table.band == LABELLED_BAND
    # full voltage: the shaft speeds up as the propeller unloads, the watts fall
    assert point.shaft_speed[1] > point.shaft_speed[0]
    assert point.electrical_power[1] < 90.0
    told = " ".join(candidate.assumptions)
    assert "CT" in told
    assert "CP" in told


def test_without_a_speed_thrust_and_power_are_met() -> None:
    scenario = read_text(prop('voltage = "11.4 V"'))
    candidate = scenario.candidates["prop"]
    point = operate(candidate, airspeed=0.0)
    assert point.net_thrust == pytest.approx(5.5, rel=1e-6)
    assert point.electrical_power == pytest.approx(90.0, rel=1e-6)
    assert candidate.unit.table.thrust_scale == 1.0
    assert candidate.unit.table.band.head > LABELLED_BAND.head


def test_a_reading_that_leaves_too_little_power_in_flight_is_refused() -> None:
    """At rest it is within momentum theory (its ratio is that of the same watts without a speed),
    but one factor on CP takes a sixth too much off where such a propeller is at its best. History:
    it flew, with a rotor that lost less than nothing, and every draw of it was lost."""
    watts = READINGS.replace("5.5 N", "8 N").replace("90 W", "120 W") + 'voltage = "15 V"\n'
    read_text(prop(readings=watts))
    with pytest.raises(ScenarioError, match="less power in flight than momentum theory") as caught:
        read_text(prop('shaft_speed = "9900 rpm"', readings=watts))
    assert [fault.key for fault in caught.value.faults] == ["candidates.prop.readings"]


def test_draws_that_no_such_machine_meets_are_counted_by_that_name() -> None:
    """A speed near the end of what the label allows, drawn widely. History: "not converged"."""
    text = prop('shaft_speed = "7000 rpm ± 5 %"', 'voltage = "15 V"', readings=READINGS.replace(
        "5.5 N", "8 N ± 15 %").replace("90 W", "120 W")) + (
        '[airspeed]\nat = ["0 m/s", "10 m/s"]\n[uncertainty]\nsamples = 128\ndrivers = false\n')
    study = compare(read_text(text)).uncertainty
    failures = study.candidates["prop"].failures
    assert failures[UNMET] > 0
    assert "not converged" not in failures
    assert study.left_out == failures[UNMET] + failures.get(IMPOSSIBLE, 0)
    assert study.candidates["prop"].static_thrust.known == 1.0


def test_a_cap_holds_the_watts_and_a_measured_table_keeps_its_band() -> None:
    table = """title = "x"
[candidates.prop]
kind = "propeller"
diameter = "9 in"
[candidates.prop.table]
source = "points"
advance_ratio = [0.0, 0.2, 0.4, 0.6, 0.8]
thrust_coefficient = [0.110, 0.100, 0.075, 0.040, 0.0]
power_coefficient = [0.052, 0.053, 0.048, 0.035, 0.012]
band = { head = 0.02, power = 0.03 }
"""
    for speed in ('shaft_speed = "6900 rpm"', ""):
        scenario = read_text(prop('supply = "regulated cap"', 'voltage = "11.4 V"', speed,
                                  label=table))
        point = operate(scenario.candidates["prop"], airspeed=np.array([0.0, 10.0]))
        assert point.electrical_power == pytest.approx([90.0, 90.0], rel=1e-6)
        assert point.net_thrust[0] == pytest.approx(5.5, rel=1e-6)
        assert scenario.candidates["prop"].unit.table.band.head == 0.02


def test_a_pack_is_the_voltage_of_the_reading() -> None:
    pack = '[pack]\nseries = 3\ncell_capacity = "2.2 Ah"\n'
    scenario = read_text(prop('shaft_speed = "6900 rpm"') + pack)
    point = operate(scenario.candidates["prop"], airspeed=0.0)
    assert point.net_thrust == pytest.approx(5.5, rel=1e-3)


def test_a_measured_propeller_read_at_shaft_power_has_its_coefficients() -> None:
    """9 x 6 inch, measured at rest (University of Illinois): thrust and power from CT and CP."""
    static = [row for row in rows("propeller_tests")
              if str(row["propeller"]).startswith("9x6") and row["J"] == 0.0]
    row = max(static, key=lambda one: one["rpm_1min"])
    turns, diameter = row["rpm_1min"] / 60.0, 9 * 0.0254
    thrust = row["CT"] * 1.225 * turns**2 * diameter**4
    power = row["CP"] * 1.225 * turns**3 * diameter**5
    scenario = read_text(prop(readings=f"""[candidates.prop.readings]
thrust = "{thrust} N"
shaft_power = "{power} W"
shaft_speed = "{row['rpm_1min']} rpm"
voltage = "11.1 V"
"""))
    table = scenario.candidates["prop"].unit.table
    at = {"advance_ratio": 0.0, "shaft_speed": row["rpm_1min"] * np.pi / 30}
    assert table.thrust(**at) == pytest.approx(row["CT"], rel=1e-3)
    assert table.power(**at) == pytest.approx(row["CP"], rel=1e-3)


@pytest.mark.parametrize(("lines", "said"), [
    (('shaft_speed = "3500 rpm"', 'voltage = "11 V"'), "0.6 to 1.6"),
    (('shaft_speed = "6900 rpm"',), "needs a voltage"),
    (('drive_efficiency = 0.7', 'shaft_power = "60 W"', 'voltage = "11 V"'), "both powers"),
    (('shaft_power = "89 W"', 'voltage = "11 V"'), "any motor and controller")])
def test_readings_of_a_propeller_that_cannot_be(lines: tuple[str, ...], said: str) -> None:
    with pytest.raises(ScenarioError, match=said):
        read_text(prop(*lines))


def test_a_propeller_beyond_the_ideal_disc_or_without_watts_is_refused() -> None:
    for readings, said in ((READINGS.replace("90 W", "20 W"), "ideal disc"),
                           ('[candidates.prop.readings]\nthrust = "5 N"\n', "electrical_power or"),
                           ("[candidates.prop.readings]\nthrust = 'x'\n", "thrust")):
        with pytest.raises(ScenarioError, match=said):
            read_text(prop('voltage = "11 V"', readings=readings))


def test_why_a_propeller_needs_a_voltage_is_said() -> None:
    with pytest.raises(ScenarioError, match="unloads in flight"):
        read_text(prop())


def test_a_motor_by_constants_beside_readings_is_refused() -> None:
    motor = ('[candidates.{}.motor]\nmodel = "constants"\nspeed_constant = "900 rpm/V"\n'
             'resistance = "40 mohm"\nno_load_current = "1 A"\n')
    for text in (prop('voltage = "11 V"') + motor.format("prop"),
                 BLOWER + motor.format("mine")):
        with pytest.raises(ScenarioError, match=r"sets? the motor's efficiency"):
            read_text(text)


def test_draws_of_a_propeller_hold_the_efficiency_of_its_drive_and_both_powers_none() -> None:
    scenario = read_text(prop('shaft_speed = "6900 rpm"', 'voltage = "11.4 V"'))
    inputs = drawables(scenario)
    keys = {one.entry for one in scenario.assumed}
    assert {"drive efficiency", "speed reading", "thrust reading"} <= keys
    many = with_draws(scenario, inputs, shares(64, len(inputs), seed=1))
    point = operate(many.candidates["prop"], airspeed=np.array([0.0]))
    assert np.all(point.valid)
    both = read_text(prop('shaft_power = "60 W"', 'voltage = "11.4 V"'))
    assert "drive efficiency" not in {one.entry for one in both.assumed}


# Ducted machines --------------------------------------------------------------------------------


def test_the_speed_of_the_shaft_is_met_with_a_wheel_that_suits_it() -> None:
    scenario = read_text(BLOWER + 'shaft_speed = "38 krpm"\n')
    point = operate(scenario.candidates["mine"], airspeed=0.0)
    assert point.net_thrust == pytest.approx(2.1, rel=1e-6)
    assert point.shaft_speed == pytest.approx(38000 * np.pi / 30, rel=1e-4)
    assert scenario.section.candidates["mine"].rotor.tip_diameter < 0.05
    assert "wheel of a known speed" in {one.entry for one in scenario.assumed}
    inputs = drawables(scenario)
    many = with_draws(scenario, inputs, shares(64, len(inputs), seed=1))
    point = operate(many.candidates["mine"], airspeed=np.array([0.0]))
    assert np.mean(point.valid) > 0.9


@pytest.mark.parametrize("law", ['supply = "full voltage"\nvoltage = "22 V"',
                                 'supply = "regulated cap"'])
def test_suction_behind_a_shut_inlet_is_met(law: str) -> None:
    plain = read_text(BLOWER + law + "\n").candidates["mine"].unit
    air = {"pressure": 101325.0, "temperature": 288.15, "inlet": np.array(True)}
    usual = float(operate_blocked(plain, **air).suction)
    candidate = read_text(BLOWER + law + f'\nshut_pressure = "{1.1 * usual} Pa"\n'
                          ).candidates["mine"]
    assert float(operate_blocked(candidate.unit, **air).suction) == pytest.approx(
        1.1 * usual, rel=1e-3)
    assert operate(candidate, airspeed=0.0).net_thrust == pytest.approx(2.1, rel=1e-6)


@pytest.mark.parametrize("law", ['supply = "full voltage"\nvoltage = "22 V"',
                                 'supply = "regulated cap"'])
def test_a_second_exit_is_met_too(law: str) -> None:
    """Flown with the second exit the machine gives the second thrust, by the first reading's."""
    plain = read_text(BLOWER + law + "\n").drawn({"candidates.mine.nozzle.exit_diameter": 0.02})
    goal = 1.01 * operate(plain.candidates["mine"], airspeed=0.0).net_thrust.item()
    second = law + f'\nsecond_exit_diameter = "20 mm"\nsecond_thrust = "{goal} N"\n'
    assert operate(read_text(BLOWER + second).candidates["mine"],
                   airspeed=0.0).net_thrust == pytest.approx(2.1, rel=1e-6)
    other = read_text(BLOWER + second + '[candidates.mine.nozzle]\nexit_diameter = "20 mm"\n')
    assert operate(other.candidates["mine"], airspeed=0.0).net_thrust == pytest.approx(
        goal, rel=2e-3)


@pytest.mark.parametrize(("lines", "said"), [
    ('second_exit_diameter = "20 mm"', "partner"),
    ('second_exit_diameter = "24.5 mm"\nsecond_thrust = "2 N"', "too near"),
    ('second_exit_diameter = "20 mm"\nsecond_thrust = "0.2 N"', "do not fit")])
def test_further_readings_that_cannot_be(lines: str, said: str) -> None:
    with pytest.raises(ScenarioError, match=said):
        read_text(BLOWER + lines + "\n")


def test_rounds_that_do_not_suffice_are_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("thrustlapse.propulsor.anchored.ROUNDS", 1)
    suction = 0.6 * float(operate_blocked(
        read_text(BLOWER).candidates["mine"].unit, pressure=101325.0, temperature=288.15,
        inlet=np.array(True)).suction)
    with pytest.raises(ScenarioError, match="do not fit"):
        read_text(BLOWER + f'shut_pressure = "{suction} Pa"\n')


def test_another_nozzle_is_flown_by_the_same_reading() -> None:
    """Sweeping the exit leaves the machine what it was read as: less exit, another thrust."""
    scenario = read_text(BLOWER)
    exits = np.array([0.018, 0.021, 0.024])
    many = scenario.drawn({"candidates.mine.nozzle.exit_diameter": exits})
    thrust = operate(many.candidates["mine"], airspeed=np.array([0.0])).net_thrust[:, 0]
    assert thrust[2] == pytest.approx(2.1, rel=1e-6)
    assert abs(thrust[0] / 2.1 - 1.0) > 0.01


@pytest.mark.parametrize("kind", ["blower", "axial fan"])
@pytest.mark.parametrize("wheel", ["30 mm", "80 mm"])
def test_a_wheel_that_was_measured_suits_any_exit(kind: str, wheel: str) -> None:
    text = BLOWER.replace('"blower"', f'"{kind}"')
    scenario = read_text(text + f'[candidates.mine.rotor]\ntip_diameter = "{wheel}"\n')
    point = operate(scenario.candidates["mine"], airspeed=np.array([0.0, 30.0]))
    assert np.all(point.valid)
    assert point.net_thrust[0] == pytest.approx(2.1, rel=1e-6)


def test_a_wheel_of_the_usual_size_changes_nothing() -> None:
    usual = read_text(BLOWER)
    tip = usual.section.candidates["mine"].rotor.tip_diameter
    given = read_text(BLOWER + f'[candidates.mine.rotor]\ntip_diameter = "{1e3 * tip} mm"\n')
    thrust = [operate(one.candidates["mine"], airspeed=30.0).net_thrust.item()
              for one in (usual, given)]
    assert thrust[1] == pytest.approx(thrust[0], rel=1e-9)


def test_a_map_from_dimensions_may_be_anchored() -> None:
    from thrustlapse.scenario.files.starter import starter_text

    start = starter_text()
    lines = start[start.index('# source = "geometry"\n# shaft_speed = "80 krpm"'):
                  start.index("[candidates.blower.duct]")]
    geometry = "\n".join(line.removeprefix("# ") for line in lines.splitlines() if line)
    text = (BLOWER.replace("24 mm", "15 mm").replace("2.1 N", "1.3 N")
            .replace("250 W", "350 W")
            + '[candidates.mine.rotor]\ntip_diameter = "38 mm"\neye_diameter = "21 mm"\n'
            'hub_diameter = "8 mm"\n[candidates.mine.map]\n' + geometry + "\n")
    point = operate(read_text(text).candidates["mine"], airspeed=0.0)
    assert point.net_thrust == pytest.approx(1.3, rel=1e-6)


def test_the_energy_balance_is_that_of_the_day() -> None:
    """2.1 N from 24 mm: 64.7 W of jet at 1.225 kg/m^3, more in thin air, by 1 / sqrt(density)."""
    text = BLOWER.replace("250 W", "70 W")
    with pytest.raises(ScenarioError, match="would lose less, or more, than any do"):
        read_text(text)
    with pytest.raises(ScenarioError, match="energy balance"):
        read_text(text + '[site]\naltitude = "3000 m"\n')


def test_which_law_held_the_watts_is_drawn_unless_it_is_given() -> None:
    scenario = read_text(BLOWER)
    assert "drive law" in {one.entry for one in scenario.assumed}
    given = read_text(BLOWER + 'supply = "regulated cap"\n')
    assert "drive law" not in {one.entry for one in given.assumed}
    both = scenario.drawn({"candidates.mine.readings.full_voltage": np.array([0.2, 0.8])})
    point = operate(both.candidates["mine"], airspeed=np.array([0.0, 40.0]))
    ends = [operate(one.candidates["mine"], airspeed=40.0).net_thrust.item() for one in (
        given, read_text(BLOWER + 'supply = "full voltage"\nvoltage = "24 V"\n'))]
    assert point.net_thrust[:, 0] == pytest.approx([2.1, 2.1], rel=1e-6)
    assert point.net_thrust[:, 1] == pytest.approx(ends, rel=5e-3)


@pytest.mark.parametrize("times", [0.5, 2.0, 7.0])
def test_a_speed_that_is_off_by_the_pole_pairs_is_refused_on_a_wheel_of_its_own(
        times: float) -> None:
    wheel = '[candidates.mine.rotor]\ntip_diameter = "45 mm"\n'
    own = operate(read_text(BLOWER + wheel).candidates["mine"], airspeed=0.0).shaft_speed.item()
    speed = f'shaft_speed = "{times * own * 30 / np.pi} rpm"\n'
    with pytest.raises(ScenarioError, match="pole pairs"):
        read_text(BLOWER + speed + wheel)


def test_a_suction_that_no_wheel_can_make_is_refused() -> None:
    """Euler: without swirl before it a wheel makes at most the square of its tip speed."""
    plain = read_text(BLOWER + 'supply = "regulated cap"\n').candidates["mine"].unit
    suction = float(operate_blocked(plain, pressure=101325.0, temperature=288.15,
                                    inlet=np.array(True)).suction)
    with pytest.raises(ScenarioError, match="do not fit"):
        read_text(BLOWER + f'supply = "regulated cap"\nshut_pressure = "{3.0 * suction} Pa"\n')


def test_a_draw_does_not_know_its_neighbours_and_meets_its_reading() -> None:
    """History: one draw at full voltage gave all others another motor."""
    scenario = read_text(BLOWER + """voltage = "22 V"
[supply]
voltage = "22 V"
resistance = "0 ohm"
mass = "0.3 kg"
""")
    key = "candidates.mine.readings.full_voltage"
    together = operate(scenario.drawn({key: np.array([0.1, 0.9])}).candidates["mine"],
                       airspeed=np.array([0.0, 40.0, 60.0])).net_thrust
    assert together[:, 0] == pytest.approx(2.1, rel=1e-6)
    for row, law in enumerate((0.1, 0.9)):
        alone = operate(scenario.drawn({key: np.array([law])}).candidates["mine"],
                        airspeed=np.array([0.0, 40.0, 60.0])).net_thrust
        assert together[row] == pytest.approx(alone[0], rel=1e-9)


def test_a_drive_that_no_motor_and_controller_make_is_refused_by_its_name() -> None:
    one = read_text(BLOWER).candidates["mine"]
    with pytest.raises(NoMap, match=r"0\.3 to 0\.94"):
        anchored(one.unit, air=one.site.air(), known=replace(one.known_by, drive=0.97))


def test_leads_and_controller_are_in_the_drive_that_readings_give_and_count_once() -> None:
    """History: a unit with leads of its own missed its reading by 4 %."""
    one = read_text(BLOWER).candidates["mine"]
    unit = replace(one.unit, drive=replace(one.unit.drive, motor_lead_resistance=2e-3,
                                           controller_lead_resistance=5e-3,
                                           controller_efficiency=0.95))
    for known in (replace(one.known_by, full=np.array([False, True])[:, None]),
                  replace(one.known_by, voltage=None)):
        made, _ = anchored(unit, air=one.site.air(), known=known)
        point = operate_ducted(made, air=one.site.air(), airspeed=np.array([0.0]))
        assert np.asarray(point.net_thrust) == pytest.approx(2.1, rel=1e-6)
