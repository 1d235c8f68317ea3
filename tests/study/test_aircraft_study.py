"""The aircraft in a comparison: its performance against the same functions called one by one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.aircraft.flyers import thrust_law
from tests.aircraft.textbook_flight import best_endurance
from tests.equal import equal_results
from tests.report.machines import AIRFRAME, PACK, SITE, USE, blower, fan, hand_made, propeller
from thrustlapse.aircraft.climb import best_climb, ceilings, least_to_fly
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.drag import level_drag
from thrustlapse.aircraft.endurance import level_endurance
from thrustlapse.aircraft.level_flight import level_flight
from thrustlapse.aircraft.operating_needs import Rolling
from thrustlapse.aircraft.sizing import with_count
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.propulsor.unpowered import FOLDED
from thrustlapse.report.comparison.results_file import read_results, write_results
from thrustlapse.study.aircraft_study import drag_source, thrust_table
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.evaluate import Cases
from thrustlapse.study.footing import Footing

AIR = SITE.air()
MAKERS = {"blower": blower, "ducted fan": fan, "propeller": propeller}


@cache
def three() -> Comparison:
    use = replace(USE, rolling=Rolling(friction=0.05, lift_coefficient=0.4, induced_share=0.6),
                  altitudes=(1500.0, 100.0))
    # the glide without the rotors' drag has a closed form
    return compare(hand_made(*(replace(one, unpowered=FOLDED) for one in (
        blower(), fan(), propeller())), aircraft_use=use))


def mass_of(name: str) -> float:
    return float(AIRFRAME.mass + np.asarray(MAKERS[name]().installed_mass))


def known(name: str):
    assert three().aircraft is not None
    return three().aircraft.performances[name]


@pytest.mark.parametrize("name", MAKERS)
def test_climb_is_that_of_the_matched_machine(name) -> None:
    one = known(name)
    found = best_climb(thrust_law(MAKERS[name]()), AIRFRAME, mass=mass_of(name), site=SITE,
                       altitude=SITE.altitude, highest=one.airspeed[-1])
    assert one.best_climb_rate == pytest.approx(float(found.rate), rel=1e-4)
    assert one.best_climb_rate >= np.nanmax(one.climb_rate) * (1.0 - 1e-4)
    assert one.total_mass == pytest.approx(mass_of(name))


@pytest.mark.parametrize("name", MAKERS)
def test_ceilings_from_the_table_are_those_of_the_matched_machine(name) -> None:
    """Within 1 %, as the docstring says: straight lines between the table's points."""
    one = known(name)
    level = three().candidates[name].level
    found = ceilings(thrust_law(MAKERS[name]()), AIRFRAME, mass=mass_of(name), site=SITE,
                     highest=level.top_speed)
    for mine, theirs in ((one.absolute_ceiling, found.absolute),
                         (one.service_ceiling, found.service)):
        assert mine == pytest.approx(theirs, rel=1e-2, nan_ok=True)


@pytest.mark.parametrize("name", MAKERS)
def test_top_speed_at_height_is_that_of_the_matched_machine(name) -> None:
    one, machine = known(name), MAKERS[name]()
    assert one.altitudes.tolist() == [100.0, 1500.0]
    swell = np.sqrt(AIR.density / SITE.air(1500.0).density)
    begun = replace(AIRFRAME, launch_speed=AIRFRAME.launch_speed * swell)
    found = level_flight(lambda v: operate(machine, airspeed=v, altitude=1500.0), begun,
                         mass=mass_of(name), air=SITE.air(1500.0))
    assert one.top_speed_there[1] == pytest.approx(found.top_speed, rel=2e-3)
    assert one.top_speed_there[0] == pytest.approx(three().candidates[name].level.top_speed,
                                                   rel=2e-3)
    assert one.climb_rate_there[0] == pytest.approx(one.best_climb_rate, rel=5e-3)


def test_heights_below_the_site_are_known_too() -> None:
    """It once gave no value there: the table of thrust began at the site."""
    low = compare(hand_made(fan(), aircraft_use=replace(USE, altitudes=(0.0,))))
    one = low.aircraft.performances["ducted fan"]
    assert one.top_speed_there[0] == pytest.approx(known("ducted fan").top_speed_there[0],
                                                   rel=5e-3)
    assert one.climb_rate_there[0] == pytest.approx(one.best_climb_rate, rel=0.02)


@pytest.mark.parametrize("name", MAKERS)
def test_bounds_of_drag_are_bounds_of_top_speed(name) -> None:
    """Against the search on the matched machine, with the two drag coefficients put in."""
    one, machine = known(name), MAKERS[name]()
    for found, least in ((one.slowest_top_speed, USE.drag_basis.high),
                         (one.fastest_top_speed, USE.drag_basis.low)):
        true = level_flight(lambda v: operate(machine, airspeed=v),
                            replace(AIRFRAME, minimum_drag_coefficient=least),
                            mass=mass_of(name), air=AIR).top_speed
        assert found == pytest.approx(true, rel=2e-3)
    top = three().candidates[name].level.top_speed
    assert one.slowest_top_speed < top < one.fastest_top_speed


def test_the_table_is_the_machine_at_its_points_and_near_it_between() -> None:
    footing = Footing(basis=hand_made(fan()).comparison, candidates={"fan": fan()})
    table = thrust_table(Cases(candidate=fan(), footing=footing), slowest=12.0, fastest=50.0,
                         lowest=SITE.altitude)
    speeds, heights = np.array([13.3, 21.7, 38.1]), np.array([350.0, 2222.0, 6100.0])
    true = operate(fan(), airspeed=speeds, altitude=heights).installed_thrust
    assert table(speeds, heights) == pytest.approx(true, rel=5e-3)
    assert np.isnan(table(np.array([5.0, 80.0]), np.array([100.0, 100.0]))).all()
    assert np.isnan(table(np.array([20.0]), np.array([0.0]))).all()


@pytest.mark.parametrize("name", MAKERS)
def test_endurance_is_that_of_the_pack(name) -> None:
    one = known(name)
    running = RunningPack(pack=PACK)
    found = best_endurance(MAKERS[name](), AIRFRAME, running, mass=mass_of(name), air=AIR,
                           highest=three().candidates[name].level.top_speed)
    assert one.longest.endurance == pytest.approx(float(found.longest.time[0]), rel=1e-6)
    assert one.farthest.distance == pytest.approx(float(found.farthest.distance[0]), rel=1e-6)
    asked, too_fast = one.cruises
    alone = level_endurance(MAKERS[name](), AIRFRAME, running, mass=mass_of(name), air=AIR,
                            airspeed=20.0)
    assert asked.endurance == pytest.approx(float(alone.time[0]), rel=1e-9)
    assert asked.distance == pytest.approx(20.0 * asked.endurance)
    assert np.isnan(too_fast.endurance)
    assert too_fast.ending == "thrust is short of drag at full power"


@pytest.mark.parametrize("name", MAKERS)
def test_least_thrust_and_power_and_the_glide(name) -> None:
    one, machine = known(name), MAKERS[name]()
    least = least_to_fly(AIRFRAME, mass=mass_of(name), density=AIR.density)
    assert one.least_thrust == pytest.approx(float(least.thrust))
    assert one.least_power == pytest.approx(float(least.power))
    drag = level_drag(AIRFRAME, mass=mass_of(name), density=AIR.density,
                      airspeed=one.least_thrust_speed, speed_of_sound=340.0)
    assert float(drag.total) == pytest.approx(one.least_thrust)
    # without pods the glide ratio is weight over least thrust; pods take some of it
    clean = mass_of(name) * 9.80665 / one.least_thrust
    extra = float(np.asarray(machine.installation.pod_drag_area))
    assert clean * (1.0 - 1.1 * extra / (0.02 * 0.16)) < one.best_glide_ratio < clean
    assert one.least_sink_speed < one.best_glide_speed


@pytest.mark.parametrize("name", MAKERS)
def test_the_charge_is_gone_on_the_way_up(name) -> None:
    """Against small steps of height with the matched machine: charge is current over rate."""
    one, law = known(name), thrust_law(MAKERS[name]())
    running = RunningPack(pack=PACK)
    charge, height = running.capacity * (running.start - running.floor), SITE.altitude
    steps = np.arange(SITE.altitude, 20e3, 100.0) + 50.0
    swell = np.sqrt(AIR.density / SITE.air(steps).density)
    best = best_climb(law, AIRFRAME, mass=mass_of(name), site=SITE, altitude=steps,
                      highest=swell * three().candidates[name].level.top_speed)
    amps = operate(MAKERS[name](), airspeed=best.airspeed, altitude=steps).current
    for rate, current in zip(best.rate, amps, strict=True):
        if not rate > 0.0 or charge < 0.0:
            break
        charge -= current * 100.0 / rate
        height += 100.0
    if charge < 0.0:
        assert one.pack_ceiling == pytest.approx(height, rel=0.02, abs=110.0)
        assert one.pack_ceiling < one.absolute_ceiling or np.isnan(one.absolute_ceiling)
    else:
        assert np.isnan(one.pack_ceiling)


def test_a_take_off_run_only_for_those_that_roll() -> None:
    assert known("propeller").take_off_run > 0.0
    assert known("propeller").take_off_run < known("ducted fan").take_off_run
    still = compare(hand_made(propeller()))
    assert not still.aircraft.rolls
    assert np.isnan(still.aircraft.performances["propeller"].take_off_run)


def test_launch_and_number_of_units() -> None:
    """A weak unit does not fly: three do and two do not, by the search for level speeds itself."""
    weak = replace(blower(power=80.0), installed_mass=0.5)
    answer = compare(hand_made(weak))
    level, one = answer.candidates["blower"].level, answer.aircraft.performances["blower"]
    assert np.isnan(level.top_speed)
    assert one.units_needed is not None
    assert one.units_needed > 1
    more = with_count(weak, one.units_needed, shared_mass=USE.source_mass)
    fewer = with_count(weak, one.units_needed - 1, shared_mass=USE.source_mass)
    for machine, flies in ((more, True), (fewer, False)):
        found = level_flight(lambda v, m=machine: operate(m, airspeed=v), AIRFRAME,
                             mass=float(AIRFRAME.mass + machine.installed_mass), air=AIR)
        assert np.isfinite([found.top_speed, found.lowest_bound]).any() == flies
    assert known("blower").units_needed == 1
    slow = compare(hand_made(blower(), airframe=replace(AIRFRAME, launch_speed=9.0)))
    assert slow.aircraft.performances["blower"].launch_speed_needed == pytest.approx(
        slow.candidates["blower"].level.stall_speed)


def test_what_cannot_climb_says_so() -> None:
    answer = compare(hand_made(blower(power=28.0)))
    one = answer.aircraft.performances["blower"]
    assert not one.best_climb_rate > 0.0
    assert "cannot climb" in one.climb_reason
    assert np.isnan(one.absolute_ceiling)
    assert "cannot climb" in one.ceiling_reason
    assert np.isnan(one.longest.endurance)


def test_performance_is_on_the_footing() -> None:
    """Held to 150 W: the climb of a machine with that power limit."""
    from thrustlapse.propulsor.basis import Basis

    basis = Basis(footing="same electrical power", reference=None, electrical_power=150.0)
    answer = compare(hand_made(propeller(), comparison=basis))
    held = with_power_limit(propeller(), 150.0)
    found = best_climb(thrust_law(held), AIRFRAME, mass=mass_of("propeller"), site=SITE,
                       altitude=SITE.altitude, highest=40.0)
    assert answer.aircraft.performances["propeller"].best_climb_rate == pytest.approx(
        float(found.rate), rel=1e-4)
    reference = Basis(footing="same electrical power", reference="blower", electrical_power=None)
    both = compare(hand_made(blower(power=150.0), propeller(), comparison=reference))
    assert both.aircraft.performances["propeller"].best_climb_rate == pytest.approx(
        float(found.rate), rel=1e-3)
    assert both.aircraft.performances["propeller"].longest.endurance > 0.0


def test_without_a_pack_there_is_no_endurance_and_without_an_airframe_nothing() -> None:
    bench = compare(hand_made(propeller(), pack=None)).aircraft.performances["propeller"]
    assert bench.longest is None
    assert bench.cruises == ()
    assert compare(hand_made(propeller(), airframe=None)).aircraft is None
    assert compare(hand_made(propeller(), aircraft_use=None)).aircraft is None


def test_drag_by_part_adds_up_and_falls_with_speed() -> None:
    source = three().aircraft.drag_source
    built = drag_source(AIRFRAME, USE.drag_basis, AIR, top_speed=45.0)
    total = sum(part.drag_area for part in built.parts)
    recipe = USE.drag_basis.recipe.at(22.0, AIR)
    assert total == pytest.approx(float(recipe.drag_area), rel=1e-12)
    assert built.drag_area_at_top < total
    assert source.parts[0].name == "wing"
    assert source.drag_area_low == pytest.approx(0.014 * 0.16)
    assert np.isnan(source.parts[0].coefficient)
    assert np.isnan(source.parts[2].friction)


def test_results_go_through_a_file_unchanged(tmp_path: Path) -> None:
    write_results(three(), tmp_path / "results.json")
    again = read_results(tmp_path / "results.json")
    assert equal_results(three(), again)
    assert again.aircraft is not None
    assert again.aircraft.performances["blower"].cruises[1].ending == known(
        "blower").cruises[1].ending


@pytest.mark.parametrize(("changes", "said"), [
    ({"minimum_drag_coefficient": 0.2}, "measured at 0.018 to 0.045"),
    ({"source": "sink and speed", "separable": False}, "cannot tell least drag from induced"),
    ({"source": "sink and speed", "scatter": 4.0}, "scatter 4.0 times"),
    ({"source": "coasting run", "drag_deviation": 0.01}, "known to 50 % only"),
    ({"source": "coasting run", "span_efficiency": 1.3}, "span efficiency 1.30"),
    ({"drag_area_at_top": 0.8 * 0.0032}, "20 % less drag area"),
])
def test_findings_about_drag(changes, said) -> None:
    from thrustlapse.study.limits.aircraft import aircraft_findings

    calm = replace(three().aircraft.drag_source, minimum_drag_coefficient=0.02, drag_area=0.0032,
                   drag_area_at_top=0.0031, span_efficiency=0.8, drag_deviation=0.001)
    quiet = replace(three(), aircraft=replace(three().aircraft, drag_source=calm))
    assert not [one for one in aircraft_findings(quiet) if one.subject == "airframe"]
    loud = replace(quiet, aircraft=replace(quiet.aircraft, drag_source=replace(calm, **changes)))
    found = [one.text for one in aircraft_findings(loud) if one.subject == "airframe"]
    assert any(said in text for text in found), found


def test_findings_about_climb() -> None:
    weak = compare(hand_made(blower(power=140.0)))
    one = weak.aircraft.performances["blower"]
    told = [finding.text for finding in weak.findings if "hardly climbs" in finding.text]
    assert bool(told) == (np.isfinite(weak.candidates["blower"].level.top_speed)
                          and one.best_climb_rate < 1.0)
    strong = [finding for finding in three().findings if "hardly climbs" in finding.text]
    assert all(finding.value < 1.0 for finding in strong)
