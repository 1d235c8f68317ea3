"""A small part of the trial of random machines, and the faults it was written for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from tests.machines import AIR, BLOWER, BLOWER_MAP, PROPELLER
from tests.propulsor.random_machines import ducted, propeller, trial
from thrustlapse.power.drive import cut
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.open_rotor import operate_open_rotor
from thrustlapse.propulsor.operating_point import Flag

Draw = Callable[[np.random.Generator], object]


def test_no_random_machine_breaks_a_bound_or_lacks_its_value_or_its_cause() -> None:
    found = trial(60, 1)
    assert found["gate"] == found["missing"] == found["causeless"] == 0


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
