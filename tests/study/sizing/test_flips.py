"""What would flip the answer: every condition is what its words say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.searches import MACHINES
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import domain_of, kinds, rules
from thrustlapse.study.search.workers import local_workers
from thrustlapse.study.sizing.domain import Flipped
from thrustlapse.study.sizing.flips import GAIN, flipped, flips, ranked
from thrustlapse.study.sizing.map_grid import stage_maps
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import Plan, best_of

SCENARIO = read_text(MACHINES + """
[when]
lowest_power = "200 W"
highest_power = "600 W"
power_points = 2
lowest_airspeed = "15 m/s"
highest_airspeed = "45 m/s"
airspeed_points = 3
""")
KINDS, RULES = kinds(SCENARIO), rules(SCENARIO)
LITTLE = Effort(samples=16, members=8, generations=8)


def changed(words: str, name: str):
    flip, = (one for one in flips(RULES) if one.words == words)
    return flip.change(KINDS[name], RULES)


def test_each_condition_changes_what_it_names_and_of_blowers_only_blowers() -> None:
    places = np.full((1, len(KINDS["blower"].variables)), 0.5)
    power = np.array([300.0])
    sized = KINDS["blower"].sized(places, power)
    kind, _ = changed("no drag of pods", "blower")
    assert np.all(kind.sized(places, power).candidate.installation.pod_drag_area == 0.0)
    assert np.all(np.asarray(sized.candidate.installation.pod_drag_area) > 0.0)
    kind, _ = changed("rotors of any strength", "blower")
    unit = kind.sized(places, power).candidate.unit
    assert isinstance(unit, Ducted)
    assert np.all(np.isinf(unit.drive.speed_limit))
    kind, _ = changed("blowers with a motor that weighs nothing", "blower")
    assert kind.sized(places, power).unit_mass == pytest.approx(
        sized.unit_mass - sized.motor_mass)
    assert changed("blowers 10 points more efficient", "fan") is None
    assert changed("rotors of any strength", "propeller") is None
    _, held = changed("units at most 40 mm wide", "propeller")
    assert held == replace(RULES, frontal_limit=0.04)
    _, held = changed("tip Mach number at most 0.6", "propeller")
    assert held == replace(RULES, tip_mach_limit=0.6)
    _, light = changed("a pack of half the mass", "fan")
    _, heavy = changed("a pack of twice the mass", "fan")
    pack = RULES.base_mass - 0.62  # the airframe's own, of the scenario
    assert heavy.base_mass - light.base_mass == pytest.approx(1.5 * pack)


def test_ten_points_are_added_to_the_best_efficiency_of_a_map() -> None:
    kind = KINDS["blower"]
    free = kind.values(np.full((1, len(kind.variables)), 0.4))
    shapes = {name: free[name] for name in kind.grid.variables if name in free}
    shapes["tip_speed"] = np.array([120.0])
    found = []
    for gain in (0.0, GAIN):
        made = stage_maps(kind.grid, shapes, gain=gain)
        flow = made.flow[:1]
        found.append(float(np.max(made.head(flow) * flow / made.power(flow))))
    assert found[1] - found[0] == pytest.approx(0.1, abs=1e-9)


def test_every_condition_is_worked_out_after_things_as_they_stand() -> None:
    part = {"propeller": KINDS["propeller"]}
    domain = domain_of(SCENARIO)
    with local_workers(1) as workers:
        best = best_of(part, RULES, domain, workers=workers,
                       plan=Plan(first=LITTLE, between=LITTLE, closing=None))
        told = flipped(part, RULES, domain, best, workers=workers, effort=LITTLE)
    assert [one.words for one in told] == ["as things stand", *(one.words for one in flips(RULES))]
    assert all(one.led["propeller"] <= 1.0 for one in told)
    assert told[0].led["propeller"] == 1.0


def test_conditions_are_ranked_by_what_is_led_and_then_by_how_near_it_comes() -> None:
    some = tuple(Flipped(words=words, led={"blower": led, "fan": 1.0 - led},
                         nearest={"blower": near, "fan": 1.0})
                 for words, led, near in (("a", 0.0, 0.4), ("b", 0.2, 1.3), ("c", 0.0, 0.6)))
    assert [one.words for one in ranked(some, "blower")] == ["b", "c", "a"]
