"""A small part of the trial of random machines, and the faults it was written for."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from tests.machines import AIR, BLOWER, BLOWER_MAP, PROPELLER
from tests.propulsor.brute_force import starved
from tests.propulsor.random_machines import FAULTS, RESULT, ducted, judged, propeller, trial
from thrustlapse.power.drive import Drive, cut
from thrustlapse.power.motor import constant_efficiency_motor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.open_rotor import operate_open_rotor
from thrustlapse.propulsor.operating_point import Flag

Draw = Callable[[np.random.Generator], object]


def test_no_random_machine_breaks_a_bound_or_lacks_its_value_or_its_cause() -> None:
    assert not trial(60, 1)["fault"]


def test_the_long_trial_found_no_fault() -> None:
    """10,000 machines, by ``python -m tests.propulsor.random_machines 10000 write``."""
    with RESULT.open(encoding="utf-8") as file:
        assert file.readline().startswith("# 10000 machines")
        rows = [(row["subject"], row["class"], int(row["machines"]))
                for row in csv.DictReader(file)]
    faults = {name: number for subject, name, number in rows if subject == "fault"}
    assert faults == dict.fromkeys(FAULTS, 0)
    outcomes = {name: number for subject, name, number in rows if subject == "outcome"}
    # every answer a machine can have was met
    assert min(outcomes[name] for name in (
        "valid", "valid, no through-flow", "outside map", "pack cannot deliver")) > 20


@pytest.mark.parametrize(("seed", "number"), [
    (0, 394), (0, 767), (0, 826), (0, 1395), (0, 5104), (0, 7579), (0, 2723), (1, 1447), (0, 8555),
    (0, 4671), (20261129, 48), (20261129, 378), (20261129, 1701)])
def test_machines_on_which_scan_and_package_once_differed(seed: int, number: int) -> None:
    """The scan was wrong of the first six: a speed cap overrun by the air does not regenerate, and
    a hump of the balance may be far narrower than a grid. The package of the next three: behind a
    choked throat it took a balance that runs away for one at the sonic eye, with more head than
    the map has; a cap beyond what the controller's leads pass made the motor brake; a load without
    flow, below the map's lowest, was said to drive a cut shaft to any speed. In the tenth the drive
    holds the rotor below its speed cap, where the table says nothing. Then 8 W of motor heat in 12
    mg/s of air broke the energy book by their round-off alone, and twice the edge at which a load
    vanishes and its shaft runs away was taken for a balance that had not converged.
    """
    assert judged(np.random.default_rng([seed, number])).fault == ""


def test_a_pack_that_cannot_give_the_cap_is_judged_by_ohms_law() -> None:
    """15 V behind 0.25 ohm give at most 225 W, at half the voltage."""
    motor = constant_efficiency_motor(efficiency=0.8)
    pack = Supply(voltage=15.0, resistance=0.25)
    for watts, short in ((224.9, False), (225.1, True)):
        drive = Drive(motor=motor, power_limit=watts)
        assert starved(drive, pack, 1000.0, 0.8 * min(watts, 225.0)) is short
        machine = replace(PROPELLER, drive=drive, supply=pack)
        point = operate_open_rotor(machine, air=AIR, airspeed=10.0)
        assert bool(point.flagged(Flag.PACK_CANNOT_DELIVER)) is short
    # a speed cap that holds takes less than the power cap asks
    held = Drive(motor=motor, power_limit=400.0, speed_limit=1000.0)
    assert not starved(held, pack, 1000.0, 150.0)


TABLES = ("rotor.stage", "table", "drive.motor.load_points", "drive.motor.efficiency_points")
"""Parts of which a whole is drawn, not each number; maps have tests of their own."""

NOT_DRAWN = {"supply.full_voltage"}
"""Numbers that no draw varies. The voltage of a full pack moves no balance: it raises a note."""


def numbers(part: object, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number of a machine by its path, those of its map and tables left out."""
    if path.startswith(TABLES):
        return
    if isinstance(part, float | int | np.ndarray | np.generic) and not isinstance(part, bool):
        yield path, float(np.sum(part))
    elif is_dataclass(part) and not isinstance(part, type):
        for item in fields(part):
            yield from numbers(getattr(part, item.name), f"{path}.{item.name}".removeprefix("."))


@pytest.mark.parametrize("draw", [ducted, propeller])
def test_the_draws_vary_every_number_of_every_part(draw: Draw) -> None:
    """A number that no machine of the trial varies is one whose physics the trial never sees."""
    random, seen = np.random.default_rng(3), defaultdict(set)
    for _ in range(120):
        for path, value in numbers(draw(random)):
            seen[path].add(value)
    assert len(seen) > 15
    assert {path for path, values in seen.items() if len(values) < 2} == NOT_DRAWN


def test_a_propeller_overspun_by_the_air_is_given_no_duty_above_one() -> None:
    """It once had a duty of 257 % and an overall efficiency of 9.7e15 %."""
    point = operate_open_rotor(PROPELLER, air=AIR, airspeed=np.linspace(0.0, 150.0, 61))
    known = point.valid
    assert np.all(point.duty[known] <= 1.0 + 1e-9)
    assert not np.any(point.overall_efficiency > 1.0)
    assert not np.any(point.flagged(Flag.IMPOSSIBLE))


def test_an_unstable_balance_is_never_a_value() -> None:
    """Nozzle flow that rises faster than the rotor's: the flow runs away from such a balance."""
    stage = replace(BLOWER_MAP, head_shutoff=0.1, head_slope=-3.0, head_curvature=40.0)
    machine = replace(BLOWER, rotor=replace(BLOWER.rotor, stage=stage))
    point = operate_ducted(machine, air=AIR, airspeed=np.linspace(0.0, 90.0, 10))
    assert not np.any(point.valid & point.flagged(Flag.UNSTABLE))


def test_a_cut_drive_draws_no_current_from_the_pack() -> None:
    machine = replace(PROPELLER, drive=cut(PROPELLER.drive))
    point = operate_open_rotor(machine, air=AIR, airspeed=np.array([10.0, 30.0]))
    assert not np.any(point.electrical_power[point.valid])
