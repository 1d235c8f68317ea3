"""What would flip the answer: every condition is what its words say."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from tests.searches import MACHINES
from thrustlapse.arrays import Array
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.report.sizing.file import when_text
from thrustlapse.report.sizing.words import read_aloud
from thrustlapse.report.sizing.write_up import write_when
from thrustlapse.scenario.files.read import read_text
from thrustlapse.sizing import domain_of, kinds, rules
from thrustlapse.study.sizing.domain import Best, Domain, Flipped, WhenResult
from thrustlapse.study.sizing.flips import GAIN, Conditions, flipped, flips, ranked
from thrustlapse.study.sizing.map_grid import stage_maps
from thrustlapse.study.sizing.merit import RUNNING
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.unit_size import own_induced_drag
from thrustlapse.study.sizing.walk import Piece, Plan, best_of, solved
from thrustlapse.study.sizing.work import Work
from thrustlapse.study.workers import hired

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
RNG = np.random.default_rng(4)
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
    with hired() as hands:
        work = Work(hands)
        best = best_of(part, RULES, domain, work=work,
                       plan=Plan(first=LITTLE, between=LITTLE, closing=None))
        told = flipped(part, RULES, domain, best, work=work, effort=LITTLE)
    assert [one.words for one in told] == ["as things stand", *(one.words for one in flips(RULES))]
    assert all(one.led["propeller"] <= 1.0 for one in told)
    assert told[0].led["propeller"] == 1.0


OVER = Domain(airspeed=np.array([0.0, 20.0, 40.0, 60.0]), power=np.array([400.0]))


def under(words: str, *ratios: float) -> Flipped:
    """Blowers of so many newtons where every fan has one, at rest and at three airspeeds."""
    return Flipped(words=words, domain=OVER,
                   values={"blower": np.array([ratios]), "fan": np.ones((1, 4))})


def test_conditions_are_ranked_by_what_is_led_and_then_by_how_near_it_comes() -> None:
    some = (under("a", 0.1, 0.4, 0.1, 0.1), under("b", 0.1, 1.3, 0.2, 0.2),
            under("c", 0.9, 0.6, 0.2, 0.2))
    assert [one.words for one in ranked(some, "blower")] == ["b", "c", "a"]


def test_what_is_led_is_of_the_points_where_anything_pulls_and_ratios_are_in_flight() -> None:
    one = Flipped(words="", domain=OVER, values={
        "blower": np.array([[5.0, 0.5, 2.0, np.nan]]), "fan": np.array([[1.0, 1.0, -1.0, -2.0]])})
    assert one.led == {"blower": pytest.approx(2.0 / 3.0), "fan": pytest.approx(1.0 / 3.0)}
    assert one.nearest == {"blower": pytest.approx(0.5), "fan": pytest.approx(2.0)}


def test_an_aircraft_of_the_same_shape_carries_its_own_weight() -> None:
    """Geometric similarity: at the same lift coefficient the speed goes with the sixth root of the
    mass, and drag with the mass: own induced drag of a unit of the same share of it too."""
    flip, = (one for one in flips(RULES, Conditions(masses=(12.0,)))
             if one.words == "an aircraft of 12 kg, of the same shape")
    _, held = flip.change(KINDS["fan"], RULES)
    assert held.airframe is not None
    assert RULES.airframe is not None
    size = 12.0 / RULES.base_mass
    small, large = (float(own_induced_drag(
        rules.airframe, base_mass=rules.base_mass, unit_mass=0.1 * rules.base_mass, density=1.2,
        airspeed=speed)) for rules, speed in ((RULES, 30.0), (held, 30.0 * size ** (1.0 / 6.0))))
    assert large == pytest.approx(size * small, rel=1e-9)


def test_thin_air_and_wider_wheels_reach_the_kinds_they_concern() -> None:
    asked = Conditions(altitudes=(3000.0,))
    thin, = (one for one in flips(RULES, asked) if one.words == "at 3000 m")
    kind, _ = thin.change(KINDS["propeller"], RULES)
    assert float(kind.air.pressure) == pytest.approx(70_121.0, rel=1e-5)  # US Std 1976, Z = 3 km
    wider, _ = changed("blowers with wider wheels", "blower")
    assert changed("blowers with wider wheels", "fan") is None
    places = RNG.random((6, len(wider.variables)))
    for one, other in ((wider, KINDS["blower"]),):
        back = one.values(one.places(other.values(places)))
        for name, value in other.values(places).items():
            np.testing.assert_allclose(back[name], value)


def flipped_study(*some: Flipped) -> WhenResult:
    """A study of made-up numbers: two kinds, one power, two airspeeds."""
    def best(kind: str, value: Array) -> Best:
        return Best(kind=kind, value=value, installed_thrust=value, electrical_power=value,
                    design={"diameter": np.full((1, 2), 0.1)},
                    running={key: np.full((1, 2), 0.5) for key in RUNNING}, on_bound=((), ()),
                    converged=np.ones((1, 2), dtype=bool), apart=np.full((1, 2), np.nan),
                    evaluations=2, places=np.full((2, 1), 0.5))
    return WhenResult(
        title="", question="", invented=True, scenario_digest="", version="",
        domain=Domain(airspeed=np.array([0.0, 30.0]), power=np.array([400.0])),
        best={"blower": best("blower", np.array([[1.0, 2.0]])),
              "fan": best("axial fan", np.array([[2.0, 5.0]]))},
        chance={"blower": np.zeros((1, 2)), "fan": np.ones((1, 2))}, draws=64,
        base_drag=np.full(2, np.nan), dynamic_pressure=np.array([0.0, 551.0]), drag_area=None,
        rules=(), flips=some)


@pytest.mark.parametrize(("ratios", "said"), [
    ((0.4, 1.2, 0.3, 0.2), "gains most from no pods: it then leads at 25 %"),
    ((0.4, 0.7, 0.3, 0.2), "none lets the blower lead more; with no pods it comes nearest, to 70"),
    ((0.4, 0.3, 0.3, 0.2), "none of 1 single changes tried helps the blower")])
def test_text_table_and_numbers_tell_the_same_change_in_at_most_150_words(
        ratios: tuple[float, ...], said: str, tmp_path) -> None:
    result = flipped_study(under("as things stand", 0.4, 0.4, 0.3, 0.2), under("no pods", *ratios))
    text = read_aloud(result)
    assert said.lower() in text.lower()
    assert len(text.split()) <= 150
    body = json.loads(when_text(result))
    assert body["read_aloud"] == text
    told = body["what_would_flip_it"][1]
    assert told["share_led"]["blower"] == np.mean(np.array(ratios) > 1.0)
    assert told["greatest_ratio_in_flight"]["blower"] == max(ratios[1:])
    assert told["thrust_less_own_induced_drag_N"]["blower"] == [list(ratios)]
    page = write_when(result, tmp_path / "out").read_text(encoding="utf-8")
    assert "What would flip it" in page
    assert said.split(":")[0].lower() in page.lower()
    assert "What would flip it" not in write_when(
        flipped_study(), tmp_path / "none").read_text(encoding="utf-8")


def test_under_a_limit_of_width_only_rotors_that_fit_are_tried() -> None:
    """A limit that few sizes keep is no obstacle: the largest that fits leads at rest, where a
    larger disc is always the better one (momentum theory)."""
    speed, power = np.zeros(2), np.array([150.0, 300.0])
    held = replace(RULES, frontal_limit=0.08)
    effort = Effort(samples=64, members=28, generations=60)
    for name in ("fan", "propeller"):
        kind = KINDS[name]
        assert kind.widest(np.inf) == 1.0
        assert kind.widest(1e-3) == 0.0
        started = np.ones((2, 1, len(kind.variables)))
        found = solved(Piece(kind=kind, rules=held, airspeed=speed, power=power, start=started,
                             effort=effort))
        assert found.found.all()
        width = kind.outlines(found.places[:, 0], power).width
        assert np.all(width <= 0.08)
        np.testing.assert_allclose(width, 0.08, rtol=0.02)
