"""What is wrong with a search is said by its own line and in its own words, all of it at once."""

from __future__ import annotations

import copy
import tomllib

import pytest
import tomlkit

from tests.searches import MACHINES, SAMPLED, SEARCH
from thrustlapse.scenario.faults import Fault, ScenarioError
from thrustlapse.scenario.files.read import read_text

NOZZLE = 'key = "candidates.blower.nozzle.exit_diameter"\n'
WINDING = 'key = "candidates.prop.motor.speed_constant"\n'
SAME = NOZZLE + 'at = ["12 mm", "14 mm"]\n'

CASES = {
    "an unknown key": ((NOZZLE, NOZZLE.replace("exit_diameter", "exit_diametre")),
                       'has no key "exit_diametre"', "exit_diameter"),
    "an unknown candidate": ((NOZZLE, NOZZLE.replace("blower", "blowr")),
                             'has no key "blowr"', "blower"),
    "no number": ((NOZZLE, 'key = "candidates.blower.kind"\n'), "not a single number", "single"),
    "a list": ((NOZZLE, 'key = "candidates.prop.table.advance_ratio"\n'), "not a single number",
               "single"),
    "a table": ((NOZZLE, 'key = "candidates.blower.nozzle"\n'), "not a single number", "single"),
    "not given": ((NOZZLE, 'key = "candidates.blower.nozzle.exit_area"\n'),
                  "does not give it", "exit_diameter instead"),
    "airspeed": ((NOZZLE, 'key = "airspeed.highest"\n'), "cannot be varied", "search.airspeed"),
    "outside its range": (('lowest = "11 mm"', 'lowest = "-2 mm"'), "outside its range", "from"),
    "no unit of that kind": (('lowest = "11 mm"', 'lowest = "11 W"'), "11 W", "length"),
    "empty range": (('lowest = "11 mm"', 'lowest = "30 mm"'), "range is empty", "below highest"),
    "half a range": (('highest = "26 mm"\n', ""), "one end", "lowest and highest"),
    "a range and a list": (('highest = "26 mm"\n', 'highest = "26 mm"\nat = ["12 mm"]\n'),
                           "given together with", "only one of"),
    "wider than its duct": (('lowest = "11 mm"\nhighest = "26 mm"',
                             'lowest = "27 mm"\nhighest = "40 mm"'),
                            "larger than its entry", "only converges"),
    "twice the same key": (('[search]\n', f'[search]\n[[search.axes]]\nname = "b"\n{SAME}'),
                           "two axes vary candidates.blower.nozzle.exit_diameter", "one axis"),
    "twice the same name": (('name = "winding"', 'name = "nozzle"'), 'called "nozzle"', "name"),
    "half a unit": (("at = [1, 2]", "at = [1, 1.5]"), "whole numbers only", "at = [1, 2, 3]"),
    "falling list": (("at = [1, 2]", "at = [2, 1]"), "does not rise", "rising"),
    "unknown answer": (('"current", ', '"curent", '), "not known here", 'did you mean "current"'),
    "unknown cause": (("[search]", '[search]\nleave_out = ["stal side"]'), "not known here",
                      "stall side"),
    "one answer to a front": (('["static_thrust", "top_speed"]', '["top_speed"]'), "too few",
                              "2 or more"),
    "no such candidate": (("[search]", '[search]\ncandidates = ["fan"]'), 'no candidate "fan"',
                          "blower"),
    "an axis of one not searched": (("[search]", '[search]\ncandidates = ["prop"]'),
                                    '"blower" is not searched', "prop"),
    "samples without need": (("[search]", "[search]\nsamples = 8"), "no axis is sampled",
                             "no samples"),
    "no samples": (("points = 6\n", ""), "designs are drawn", "samples = 1024"),
    "a power that nothing holds": (('footing = "same electrical power"\n', ""), "holds no power",
                                   "same electrical power"),
    "impossible bound": (("[search]", '[search]\nbounds = [{answer = "current", at_least = "9 A", '
                          'at_most = "3 A"}]'), "nothing would be left", "at most at_most"),
    "a bound of another kind": (("[search]", '[search]\nbounds = [{answer = "current", '
                                 'at_most = "3 mm"}]'), "a length", "a current"),
    "a follower that is no key": ((WINDING, WINDING
                                   + 'follow = {"candidates.prop.motor.ohm" = 1}\n'),
                                  'has no key "ohm"', "resistance"),
    "a follower of another machine": ((WINDING, WINDING + 'follow = {'
                                       '"candidates.blower.motor.resistance" = -2}\n'),
                                      "another part than the axis", "same candidate"),
    "a follower that is counted": ((WINDING, WINDING
                                    + 'follow = {"candidates.prop.count" = 1}\n'),
                                   "it cannot follow", "a quantity above zero"),
    "a follower out of its range": ((NOZZLE, NOZZLE + 'follow = {'
                                     '"candidates.blower.map.work_shutoff" = 6}\n'),
                                    "makes work_shutoff", "from"),
    "a follower that another axis varies": (("[search]\n", '[search]\n[[search.axes]]\nname = "b"\n'
                                             'key = "candidates.blower.unit_mass"\n'
                                             'at = ["200 g"]\nfollow = {'
                                             '"candidates.blower.nozzle.exit_diameter" = 1}\n'),
                                            "two axes vary candidates.blower.nozzle.exit_diameter",
                                            "one axis"),
    "a follower without a power": ((WINDING, WINDING + 'follow = {'
                                    '"candidates.prop.motor.resistance" = 0}\n'),
                                   "has no power", "other than 0"),
    "no followers": ((WINDING, WINDING + "follow = {}\n"), "an empty one", "in quotes"),
    "a bound without ends": (("[search]", '[search]\nbounds = [{answer = "current"}]'),
                             "no bound given", "at_least, at_most"),
}


def faults(text: str) -> list[Fault]:
    with pytest.raises(ScenarioError) as caught:
        read_text(text)
    return caught.value.faults


@pytest.mark.parametrize("case", CASES)
def test_each_fault_has_its_own_words(case: str) -> None:
    (old, new), problem, help_ = CASES[case]
    whole = MACHINES + SEARCH
    assert old in whole
    found = faults(whole.replace(old, new, 1))
    told = [one for one in found if problem in str(one)]
    assert told, [str(one) for one in found]
    assert help_ in str(told[0])
    assert told[0].line > 0
    assert told[0].key.startswith(("search", "comparison"))


def test_a_search_that_would_never_end_is_refused() -> None:
    found = faults((MACHINES + SEARCH).replace("points = 6", "points = 100000").replace(
        "points = 3", "points = 100000").replace(
        "[search]", """[search]
airspeed = {highest = "40 m/s", points = 20001}"""))
    assert any("takes many days" in str(one) for one in found)


def test_samples_are_a_power_of_two() -> None:
    found = faults(MACHINES + SAMPLED.replace("samples = 64", "samples = 100"))
    assert "not a power of two" in str(found[0])
    assert "128" in str(found[0])


def test_a_front_airspeed_is_one_of_those_searched() -> None:
    found = faults(MACHINES + SEARCH.replace("[search]", '[search]\nfront_airspeed = "33 m/s"\n'
                                             'airspeed = {at = ["0 m/s", "30 m/s"]}'))
    assert "the nearest is 30 m/s" in str(found[0])


def test_an_aircraft_is_needed_for_its_top_speed() -> None:
    start, end = MACHINES.index("[airframe]"), MACHINES.index("[airspeed]")
    found = faults(MACHINES[:start] + MACHINES[end:] + SEARCH)
    assert any("top_speed needs an aircraft" in str(one) for one in found)


def test_all_faults_come_at_once() -> None:
    text = (MACHINES + SEARCH).replace("exit_diameter\"\n", "exit_diametre\"\n").replace(
        'at = [1, 2]', 'at = [2, 1]').replace('"static_thrust"', '"static_trust"')
    assert len(faults(text)) >= 3


def test_a_factor_is_held_against_the_range_of_what_it_makes() -> None:
    text = MACHINES + SEARCH.replace(
        'lowest = "11 mm"\nhighest = "26 mm"', "relative = true\nlowest = 0.8\nhighest = 1.6")
    read_text(text)
    found = faults(text.replace("highest = 1.6", "highest = 2000"))
    assert "above" in str(found[0]) or "outside its range" in str(found[0])


def test_what_is_zero_leads_nothing() -> None:
    flat = MACHINES.replace("span_efficiency = 0.78",
                            "span_efficiency = 0.78\nlift_coefficient_of_least_drag = 0.0")
    found = faults(flat + SEARCH + """
[[search.axes]]
key = "airframe.lift_coefficient_of_least_drag"
at = [0.0, 0.2]
follow = {"airframe.mass" = 1}
""")
    assert "0 has no ratio" in str(found[0])


def test_an_axis_that_is_wrong_itself_says_so_once() -> None:
    found = faults(MACHINES + SEARCH.replace('lowest = "800 rpm/V"', 'lowest = "800 mm"').replace(
        WINDING, WINDING + 'follow = {"candidates.prop.motor.resistance" = -2}\n'))
    assert len(found) == 1
    assert "800 mm" in str(found[0])


ODD = ("-1", "0", '"x"', "[]", "{}", "true", "nan", '"9**9 mm"', "[nan, 2]", '["1 mm", "two mm"]',
       "1979-05-27", f"1{'0' * 400}")


@pytest.mark.parametrize("key", [
    "answers", "best", "front", "front_airspeed", "airspeed", "installed_mass", "leave_out",
    "samples", "seed", "candidates", "axes", "bounds", "axes.name", "axes.key", "axes.keys",
    "axes.at", "axes.lowest", "axes.highest", "axes.points", "axes.spacing", "axes.relative",
    "axes.follow", "bounds.answer", "bounds.at_least", "bounds.at_most"])
def test_odd_values_are_faults_or_fine_and_never_break(key: str) -> None:
    """Whatever stands at a key of the search, reading ends in parts or in faults that say where."""
    base = tomllib.loads(MACHINES + SEARCH + '[[search.bounds]]\nanswer = "current"\n'
                         'at_most = "50 A"\n')
    refused = 0
    for odd in ODD:
        data = copy.deepcopy(base)
        table = data["search"]
        *outer, last = key.split(".")
        for step in outer:
            table = table[step][1 if step == "axes" else 0]
        table[last] = tomllib.loads(f"v = {odd}")["v"]
        text = tomlkit.dumps(data).replace("1" + "0" * 400 + ".0", "1" + "0" * 400)
        try:
            read_text(text)
        except ScenarioError as error:
            refused += 1
            assert all(fault.problem for fault in error.faults)
    assert refused > len(ODD) // 2
