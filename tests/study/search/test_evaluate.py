"""A batch of designs gives what each design gives alone, built and flown the ordinary way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.searches import MACHINES, SAMPLED, SEARCH, chunks_of, designs
from tests.shipped import without_draws
from thrustlapse.aircraft.level_flight import level_flight
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.scenario.build import designs as designs_module
from thrustlapse.scenario.build.designs import scenario_designs
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.limits.table import STOPS
from thrustlapse.study.nozzle_size import size_nozzle
from thrustlapse.study.sampling import drawables
from thrustlapse.study.search.bits import ALWAYS, BITS, mask
from thrustlapse.study.search.confidence import influences
from thrustlapse.study.search.envelope import Gatherer
from thrustlapse.study.search.evaluate import Evaluated, evaluate, evaluate_values
from thrustlapse.study.search.store import spec_record


def whole(made: object, candidate: str) -> Evaluated:
    spec = made.spec  # type: ignore[attr-defined]
    chunk = next(one for one in chunks_of(spec) if one.candidate == candidate)
    return evaluate(made, spec, chunk)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def blower() -> Evaluated:
    return whole(designs(), "blower")


def alone(nozzle: float, count: int) -> object:
    text = MACHINES.replace('exit_diameter = "15 mm"', f"exit_diameter = {nozzle!r}").replace(
        'unit_mass = "260 g"', f'unit_mass = "260 g"\ncount = {count}')
    return read_text(text)


@pytest.mark.parametrize("relative", [False, True])
def test_what_follows_an_axis_follows_it_by_its_power(relative: bool) -> None:
    """A motor rewound by hand: R ~ 1/Kv^2 and I0 ~ Kv; a wheel with its eye and its mass."""
    span = ("relative = true\nlowest = 0.5\nhighest = 1.1" if relative else
            'lowest = "2200 rpm/V"\nhighest = "4840 rpm/V"')
    made = scenario_designs(read_text(MACHINES + f"""
[search]
answers = ["current", "static_thrust"]
[[search.axes]]
name = "winding"
key = "candidates.blower.motor.speed_constant"
{span}
points = 4
[search.axes.follow]
"candidates.blower.motor.resistance" = -2
"candidates.blower.motor.no_load_current" = 1
[[search.axes]]
name = "wheel"
key = "candidates.blower.rotor.tip_diameter"
lowest = "34 mm"
highest = "42 mm"
points = 3
follow = {{"candidates.blower.unit_mass" = 3, "candidates.blower.rotor.eye_diameter" = 1}}
"""))
    found = whole(made, "blower")
    for row in range(12):
        values = {name: float(value[0]) for name, value in
                  made.spec.designs("blower").values(np.array([row])).items()}
        share = values["winding"] if relative else values["winding"] / (4400.0 * np.pi / 30.0)
        size = values["wheel"] / 0.038
        text = MACHINES.replace('"4400 rpm/V"', f'"{4400.0 * share!r} rpm/V"').replace(
            '"45 mohm"', f'"{45.0 / share**2!r} mohm"').replace(
            '"1.2 A"', f'"{1.2 * share!r} A"').replace('"38 mm"', f'"{38.0 * size!r} mm"').replace(
            '"21 mm"', f'"{21.0 * size!r} mm"').replace('"260 g"', f'"{260.0 * size**3!r} g"')
        candidate = with_power_limit(read_text(text).candidates["blower"], 400.0)
        point = operate(candidate, airspeed=made.spec.airspeed)
        assert found.answers["installed_thrust"][row] == pytest.approx(
            point.installed_thrust, rel=1e-9, nan_ok=True)
        assert found.answers["current"][row] == pytest.approx(point.current, rel=1e-9,
                                                              nan_ok=True)
    told = spec_record(made.spec)["axes"]
    assert told[1]["follow"] == {"candidates.blower.unit_mass": 3.0,
                                 "candidates.blower.rotor.eye_diameter": 1.0}


@pytest.mark.parametrize("row", [0, 5, 9, 17, 22])
def test_a_design_of_a_batch_is_the_design_alone(blower: Evaluated, row: int) -> None:
    made = designs()
    values = {name: float(value[0])
              for name, value in made.spec.designs("blower").values(np.array([row])).items()}
    scenario = alone(values["nozzle"], round(values["units"]))
    candidate = with_power_limit(
        scenario.candidates["blower"], values["power"])  # type: ignore[attr-defined]
    point = operate(candidate, airspeed=made.spec.airspeed)
    assert blower.answers["installed_thrust"][row] == pytest.approx(point.installed_thrust,
                                                                    rel=1e-9, nan_ok=True)
    assert blower.answers["current"][row] == pytest.approx(point.current, rel=1e-9, nan_ok=True)
    rest = operate(candidate, airspeed=0.0)
    assert blower.answers["static_thrust"][row] == pytest.approx(float(rest.installed_thrust),
                                                                 rel=1e-9)
    frame = scenario.airframe  # type: ignore[attr-defined]
    mass = float(frame.mass + candidate.installed_mass)
    level = level_flight(lambda v: operate(candidate, airspeed=v), frame, mass=mass,
                         air=scenario.site.air())  # type: ignore[attr-defined]
    assert blower.answers["top_speed"][row] == pytest.approx(level.top_speed, rel=1e-6,
                                                             nan_ok=True)


def test_a_drawn_pack_is_that_pack() -> None:
    made = designs(SAMPLED)
    result = whole(made, "blower")
    values = made.spec.designs("blower").values(np.array([11]))
    text = MACHINES.replace('exit_diameter = "15 mm"',
                            f"exit_diameter = {float(values['nozzle'][0])!r}").replace(
        '"70 %"', repr(float(values["charge"][0])))
    candidate = with_power_limit(read_text(text).candidates["blower"], 400.0)
    point = operate(candidate, airspeed=0.0)
    assert result.answers["static_thrust"][11] == pytest.approx(float(point.installed_thrust),
                                                                rel=1e-9)


def test_a_nozzle_wider_than_its_duct_is_no_design() -> None:
    search = SEARCH.replace('highest = "26 mm"', 'highest = "32 mm"') + """
[[search.axes]]
key = "candidates.blower.duct.diameter"
at = ["24 mm", "32 mm"]
"""
    made = designs(search)
    result = whole(made, "blower")
    values = made.spec.designs("blower").values(np.arange(result.causes.shape[0]))
    wide = values["nozzle"] > values["blower diameter"] * (1.0 + 1e-9)
    assert wide.any()
    assert not wide.all()
    assert np.array_equal((result.design_causes & BITS["impossible shape"]) != 0, wide)


def test_the_best_of_a_search_is_the_best_of_its_list(blower: Evaluated) -> None:
    made = designs()
    spec = made.spec
    gatherer = Gatherer(spec)
    chunk = chunks_of(spec)[0]
    gatherer.take(chunk, blower)
    cells = spec.designs("blower").cells(np.arange(chunk.stop), spec.shared)
    good = (blower.causes & mask({*ALWAYS, *spec.leave_out})) == 0
    table = np.where(good, blower.answers["installed_thrust"], -np.inf)
    for cell in range(2):
        mine = np.where((cells == cell)[:, None], table, -np.inf)
        assert np.array_equal(gatherer.envelopes["blower"].value[cell], mine.max(axis=0))
        assert np.array_equal(gatherer.envelopes["blower"].row[cell], mine.argmax(axis=0))


def test_the_best_nozzle_agrees_with_the_nozzle_study() -> None:
    """Two ways to one answer: the search's grid and the comparison's own nozzle study."""
    search = SEARCH.replace("points = 6", "points = 61").replace('at = ["200 W", "400 W"]',
                                                                 'at = ["400 W"]')
    made = designs(search.replace("at = [1, 2]", "at = [1]").replace(
        "[search]", "[search]\nleave_out = []"))
    result = whole(made, "blower")
    values = made.spec.designs("blower").values(np.arange(result.causes.shape[0]))
    candidate = with_power_limit(read_text(MACHINES).candidates["blower"], 400.0)
    study = size_nozzle(candidate, airspeed=made.spec.airspeed,
                        fly=lambda c, v: operate(c, airspeed=v))
    assert study is not None
    table = np.nan_to_num(result.answers["installed_thrust"], nan=-np.inf)
    assert values["nozzle"][table.argmax(axis=0)] == pytest.approx(study.best_diameter, abs=0.3e-3)
    assert table.max(axis=0) == pytest.approx(study.best_thrust, rel=2e-3)


def test_a_bound_of_ones_own_is_kept() -> None:
    search = SEARCH + '[[search.bounds]]\nanswer = "current"\nat_most = "12 A"\n'
    result = whole(designs(search), "blower")
    outside = ~(result.answers["current"] <= 12.0)
    assert outside.any()
    assert np.array_equal((result.causes & BITS["outside a bound"]) != 0, outside)


def test_inputs_move_the_best_as_the_file_with_that_input_changed() -> None:
    """Held against a file written anew with another efficiency of the controller."""
    text = MACHINES + SEARCH
    scenario = read_text(text)
    made = scenario_designs(scenario)
    rows = np.array([0, 9, 17])
    values = made.spec.designs("blower").values(rows)
    best = evaluate_values(made, made.spec, "blower", values, 3).answers[made.spec.best]
    found = influences(scenario, scenario_designs, made.spec, "blower", values, best)
    one = next(each for each in drawables(scenario)
               if each.spread.key == "candidates.blower.drive.controller_efficiency")
    at = float(one.spread.quantile(np.array(0.8413447460685429)))
    other = scenario_designs(read_text(text.replace(
        "[candidates.prop]\n", "[candidates.blower.drive]\n"
        f"controller_efficiency = {at!r}\n\n[candidates.prop]\n", 1)))
    moved = evaluate_values(other, other.spec, "blower", values, 3).answers[other.spec.best]
    assert np.nanmax(np.abs(moved - best)) > 0.0
    assert found[one.label] == pytest.approx(moved - best, rel=1e-6, abs=1e-9, nan_ok=True)
    assert {"candidates.blower.nozzle.velocity_coefficient",
            "blower: head of the map"} <= set(found)


PITCHES = """
[search]
answers = ["current"]
samples = 32
[search.airspeed]
at = ["0 m/s", "15 m/s"]
[[search.axes]]
name = "pitch"
key = "candidates.prop.table.pitch"
lowest = "90 mm"
highest = "160 mm"
"""


def test_many_maps_at_once_are_the_maps_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pitch that is drawn gives every design a table of its own: one batch, or 32 builds."""
    start = MACHINES.index("[candidates.prop.table]")
    end = MACHINES.index("[candidates.prop.motor]")
    text = MACHINES[:start] + ('[candidates.prop.table]\nsource = "pitch"\npitch = "120 mm"\n'
                               "blades = 2\n") + MACHINES[end:] + PITCHES
    made = scenario_designs(read_text(text))
    together = whole(made, "prop")
    monkeypatch.setattr(designs_module, "MOST_GROUPS", 99)
    apart = whole(made, "prop")
    assert together.answers["installed_thrust"] == pytest.approx(
        apart.answers["installed_thrust"], rel=1e-6, nan_ok=True)
    assert np.ptp(apart.answers["installed_thrust"][:, 1]) > 0.5  # newtons: pitch matters


def test_dimensions_from_which_no_machine_follows_are_counted_as_such() -> None:
    """An eye wider than its wheel: those designs fall out, the rest stays."""
    search = """
[search]
[[search.axes]]
name = "wheel"
key = "candidates.blower.rotor.tip_diameter"
at = ["20 mm", "38 mm"]
[[search.axes]]
name = "eye"
key = "candidates.blower.rotor.eye_diameter"
at = ["18 mm", "24 mm"]
"""
    result = whole(designs(search), "blower")
    bad = (result.design_causes & BITS["impossible shape"]) != 0
    assert bad.tolist() == [False, True, False, False]


def stops(text: str, cause: str, search: str = SEARCH) -> None:
    """What a comparison forbids is no design of a search, whatever it is best by."""
    made = scenario_designs(read_text(text + search))
    result = whole(made, "blower")
    broken = (result.design_causes & BITS[cause]) != 0
    assert broken.any()
    assert np.all((result.causes[broken] & BITS[cause]) != 0)
    for best in ("installed_thrust", "static_thrust", "top_speed"):
        other = scenario_designs(read_text(text + search.replace(
            "[search]", f'[search]\nbest = "{best}"\nleave_out = []')))
        gatherer = Gatherer(other.spec)
        gatherer.take(chunks_of(other.spec)[0], whole(other, "blower"))
        envelope = gatherer.envelopes["blower"]
        crowned = {*envelope.row[envelope.row >= 0].tolist(), *envelope.front_rows.tolist()}
        assert not crowned & set(np.flatnonzero(broken).tolist())


def test_a_connector_too_small_leaves_designs_out_of_every_answer() -> None:
    stops(MACHINES + '[wiring]\nconnector_rating = "10 A"\n', "connector current")


def test_a_rotor_that_would_burst_is_crowned_by_no_answer() -> None:
    stops(MACHINES.replace("aluminium 7075-T6", "PLA printed"), "rotor stress")


@pytest.mark.parametrize("material", ["aluminium 7075-T6", "aluminium 6061-T6"])
def test_a_search_and_a_comparison_forbid_the_same(material: str) -> None:
    """One design flown alone, its page against its bits.

    The second alloy lies between the stress at the power all are held to and that of the full
    drive: shut, the page counts with the full drive.
    """
    text = (MACHINES.replace("aluminium 7075-T6", material)
            + '[wiring]\nconnector_rating = "16 A"\nfuse_rating = "17 A"\n')
    made = scenario_designs(read_text(text + SEARCH))
    result = whole(made, "blower")
    values = made.spec.designs("blower").values(np.arange(result.design_causes.size))
    seen = set()
    for row in (0, 5, 12, 17, 22):
        one = text.replace('exit_diameter = "15 mm"',
                           f"exit_diameter = {float(values['nozzle'][row])!r}").replace(
            'unit_mass = "260 g"', f'unit_mass = "260 g"\ncount = {round(values["units"][row])}'
        ).replace("400 W", f"{float(values['power'][row])} W")
        answer = compare(without_draws(read_text(one)))
        page = {finding.text.split()[0].strip(":") for finding in answer.findings
                if finding.rank == "stop" and finding.subject == "blower"
                and "level flight" not in finding.text}  # of the aircraft: an answer of a search
        bits = {limit.split()[0] for limit in STOPS if result.design_causes[row] & BITS[limit]}
        assert bits == page
        seen |= bits
    assert seen >= {"connector", "fuse"} | ({"rotor"} if material.endswith("6061-T6") else set())


@pytest.mark.parametrize("material", ["PEEK", "resin printed"])
def test_no_front_holds_a_rotor_that_its_page_would_stop(material: str) -> None:
    """History: designs with stress margins of 0.38 to 0.61 stood on the trade-off's front."""
    text = Path("scenarios/which_machine_when.toml").read_text(encoding="utf-8").replace(
        "aluminium 7075-T6", material).replace("points = 8", "points = 4").replace(
        "at = [1, 2, 3, 4, 6]", "at = [1, 3]")
    made = scenario_designs(read_text(text))
    gatherer = Gatherer(made.spec)
    weak = set()
    for chunk in (one for one in chunks_of(made.spec) if one.candidate == "blower"):
        result = evaluate(made, made.spec, chunk)
        gatherer.take(chunk, result)
        low = np.nanmin(result.answers["stress_margin"], axis=1) < 1.0
        weak |= set((chunk.start + np.flatnonzero(low)).tolist())
    assert weak
    assert not weak & set(gatherer.envelopes["blower"].front_rows.tolist())
    assert not weak & set(gatherer.envelopes["blower"].row.ravel().tolist())


def test_a_search_with_one_combination_that_cannot_be_built_leaves_it_out_and_goes_on() -> None:
    """Blades that cover more than 0.6 of the eye: blades times thickness over cosine of their
    angle, on the circle at the root mean square of eye and hub, is past what the wheel allows."""
    text = Path("scenarios/three_ways_to_push.toml").read_text(encoding="utf-8")
    made = scenario_designs(read_text(text + """
[search]
candidates = ["blower"]
[search.airspeed]
at = ["0 m/s"]
[[search.axes]]
key = "candidates.blower.map.blades"
at = [9, 18]
[[search.axes]]
key = "candidates.blower.map.inlet_angle"
at = ["60 deg", "75 deg"]
"""))
    result = whole(made, "blower")
    values = made.spec.designs("blower").values(np.arange(4))
    circle = np.pi * np.sqrt(0.5 * (0.021**2 + 0.008**2))
    covered = values["blower blades"] * 0.0008 / np.cos(values["blower inlet angle"]) / circle
    assert covered.max() > 0.65
    bad = (result.design_causes & BITS["impossible shape"]) != 0
    assert bad.tolist() == (covered > 0.6).tolist() == [False, False, False, True]
    assert np.isnan(result.answers["installed_thrust"][bad]).all()
    assert result.answers["installed_thrust"][0, 0] > 1.0  # the machine of the file


def test_a_computed_map_with_a_factor_is_searched_over_its_dimensions() -> None:
    text = Path("scenarios/three_ways_to_push.toml").read_text(encoding="utf-8").replace(
        'source = "geometry"', 'source = "geometry"\nhead_scale = 0.97', 1)
    made = scenario_designs(read_text(text + """
[search]
candidates = ["blower"]
[search.airspeed]
at = ["0 m/s"]
[[search.axes]]
key = "candidates.blower.map.outlet_width"
lowest = "3.0 mm"
highest = "3.4 mm"
points = 30
"""))
    result = whole(made, "blower")
    one = read_text(text.replace('outlet_width = "3.2 mm"', 'outlet_width = "3.0 mm"'))
    alone = operate(one.candidates["blower"], airspeed=0.0).installed_thrust
    assert result.answers["installed_thrust"][0, 0] == pytest.approx(float(alone), rel=1e-9)


def test_a_speed_limit_may_be_searched() -> None:
    """Shut at inlet and outlet the machine turns at its limit, each design at its own."""
    result = whole(designs("""
[search]
answers = ["stress_margin", "shaft_speed"]
[[search.axes]]
key = "candidates.blower.drive.speed_limit"
at = ["20 krpm", "40 krpm"]
""", machines=MACHINES.replace("[candidates.prop]", """[candidates.blower.drive]
speed_limit = "95 krpm"
[candidates.prop]""")), "blower")
    margin = result.answers["stress_margin"][:, 0]
    assert margin[0] / margin[1] == pytest.approx(4.0, rel=1e-9)  # stress as the speed squared
