"""Who wins, by how much, and when that is too close to call: worked by hand on a few numbers."""

from __future__ import annotations

import numpy as np
import pytest

from tests.searches import MACHINES, SEARCH, chunks_of, designs
from tests.shipped import without_draws
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.scenario.build.designs import scenario_designs
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.compare import compare
from thrustlapse.study.search.evaluate import evaluate
from thrustlapse.study.search.winners import NOBODY, Stretch, winners

SPEED = np.array([0.0, 10.0, 20.0, 30.0])
SPEC = SearchSpec(candidates={"a": "blower", "b": "propeller", "c": "propeller"}, axes=(),
                  airspeed=SPEED, answers=("installed_thrust",), best="installed_thrust")


def row(*values: float) -> np.ndarray:
    return np.array([values])


def test_leaders_leads_and_crossings() -> None:
    """Blower 2, 2, 2, -1; propellers 5, 3, 1, -2: lines meet where 3 - 2 s = 2 - 0 s between 10 and
    20 m/s, halfway; beyond 20 m/s the blower meets zero at 20 + 10 * 2/3 m/s."""
    found = winners(SPEC, {
        "a": ("blower", row(2.0, 2.0, 2.0, -1.0), {"a": row(0.0, 0.0, 0.0, 0.0)}),
        "b": ("propeller", row(5.0, 1.0, np.nan, -2.0), {"b": row(0.1, 0.1, np.nan, 0.1)}),
        "c": ("propeller", row(4.0, 3.0, 1.0, -3.0), {"c": row(0.1, 2.0, 0.1, 0.1)})})
    assert found is not None
    assert found.kinds == ("blower", "propeller")
    assert found.winner.tolist() == [[1, 1, 0, NOBODY]]
    assert found.best[1].tolist() == [[5.0, 3.0, 1.0, -2.0]]
    assert found.lead[0, :3].tolist() == [3.0, 1.0, 1.0]
    assert found.tie.tolist() == [[False, True, False, False]]  # 1 N of lead, 2 N of deviation
    assert found.stretches == ((
        Stretch(kind="propeller", start=0.0, stop=15.0),
        Stretch(kind="blower", start=15.0, stop=pytest.approx(20.0 + 20.0 / 3.0)),
        Stretch(kind=None, start=pytest.approx(20.0 + 20.0 / 3.0), stop=30.0)),)


def test_two_deviations_add_as_independent() -> None:
    """3 and 4 make 5: a lead of 4.9 is within it, one of 5.1 is not."""
    for lead, tie in ((4.9, True), (5.1, False)):
        found = winners(SPEC, {"a": ("blower", row(*[10.0 + lead] * 4), {"a": row(*[3.0] * 4)}),
                               "b": ("propeller", row(*[10.0] * 4), {"b": row(*[4.0] * 4)})})
        assert found is not None
        assert found.tie.tolist() == [[tie] * 4]


def test_what_two_share_cancels_and_the_chance_is_the_normal_laws() -> None:
    """A shared change of 3 and one of 4, against the shared 3 alone: 4 is left of the difference;
    a lead of 4 is then one deviation, which holds in 84.13 % of normal draws (tables)."""
    found = winners(SPEC, {
        "a": ("blower", row(*[14.0] * 4), {"pack": row(*[3.0] * 4), "a": row(*[4.0] * 4)}),
        "b": ("propeller", row(*[10.0] * 4), {"pack": row(*[3.0] * 4)})})
    assert found is not None
    assert found.chance[0] == pytest.approx(np.full((1, 4), 0.8413), abs=0.025)
    assert found.chance.sum(axis=0) == pytest.approx(np.ones((1, 4)))
    for lead, tie in ((3.9, True), (4.1, False)):
        found = winners(SPEC, {
            "a": ("blower", row(*[10.0 + lead] * 4), {"pack": row(*[3.0] * 4),
                                                      "a": row(*[4.0] * 4)}),
            "b": ("propeller", row(*[10.0] * 4), {"pack": row(*[3.0] * 4)})})
        assert found is not None
        assert found.tie.tolist() == [[tie] * 4]


def test_a_kind_without_a_design_loses_and_is_no_tie() -> None:
    found = winners(SPEC, {"a": ("blower", row(*[np.nan] * 4), {"a": row(*[np.nan] * 4)}),
                           "b": ("propeller", row(*[1.0] * 4), {"b": row(*[0.1] * 4)})})
    assert found is not None
    assert found.winner.tolist() == [[1] * 4]
    assert not found.tie.any()
    assert np.isnan(found.best[0]).all()


def test_a_best_that_an_input_moves_off_its_map_is_never_called_sure() -> None:
    """History: an unknown change counted as none, so that the lead was told as settled."""
    found = winners(SPEC, {
        "a": ("blower", row(*[12.0] * 4), {"a": row(0.1, np.nan, 0.1, 0.1)}),
        "b": ("propeller", row(*[10.0] * 4), {"b": row(0.1, 0.1, 0.1, np.nan)})})
    assert found is not None
    assert found.tie.tolist() == [[False, True, False, True]]
    assert np.isnan(found.chance[:, 0]).tolist() == [[False, True, False, True]] * 2
    assert found.winner.tolist() == [[0, 0, 0, 0]]


def test_one_kind_has_no_rival() -> None:
    assert winners(SPEC, {"b": ("propeller", row(1.0, 1.0, 1.0, 1.0), {})}) is None


def test_less_power_wins_where_less_is_better() -> None:
    spec = SearchSpec(candidates={"a": "blower", "b": "propeller"}, axes=(), airspeed=SPEED,
                      answers=("current",), best="current")
    found = winners(spec, {"a": ("blower", row(9.0, 9.0, 9.0, 9.0), {}),
                           "b": ("propeller", row(7.0, 8.0, 9.5, 9.9), {})})
    assert found is not None
    assert found.winner.tolist() == [[1, 1, 0, 0]]


def test_held_to_a_rivals_power_as_the_comparison_holds_it() -> None:
    """The search under footing "same electrical power" of a reference, against the comparison."""
    text = (MACHINES + SEARCH).replace('electrical_power = "400 W"', 'reference = "blower"')
    start = text.index('[[search.axes]]\nname = "power"')
    text = text[:start] + text[text.index('[[search.axes]]\nname = "nozzle"'):]
    text = text.replace('at = ["0 m/s"', 'at = ["1 m/s"').replace(
        'lowest = "800 rpm/V"\nhighest = "1300 rpm/V"\npoints = 3', 'at = ["1150 rpm/V"]')
    scenario = read_text(text)
    made = scenario_designs(scenario)
    chunk = next(one for one in chunks_of(made.spec) if one.candidate == "prop")
    found = evaluate(made, made.spec, chunk).answers["installed_thrust"]
    curve = compare(without_draws(scenario)).candidates["prop"].curve
    assert found[0] == pytest.approx(curve.installed_thrust, rel=1e-9)


def test_one_axis_may_scale_many_keys_of_all_candidates() -> None:
    """A size axis: every dimension named is multiplied, and all candidates share the cells."""
    search = '''
[search]
[[search.axes]]
name = "size"
keys = ["candidates.blower.rotor.tip_diameter", "candidates.blower.rotor.eye_diameter",
        "candidates.blower.nozzle.exit_diameter", "candidates.prop.diameter"]
relative = true
at = [0.9, 1.0]
'''
    made = designs(search)
    assert made.spec.cells == (2,)
    for chunk in chunks_of(made.spec):
        found = evaluate(made, made.spec, chunk).answers["installed_thrust"]
        for place, scale in enumerate((0.9, 1.0)):
            text = MACHINES
            for size in (38, 21, 15, 178):
                text = text.replace(f'diameter = "{size} mm"', f'diameter = "{scale * size} mm"')
            base = without_draws(read_text(text))
            alone = compare(base).candidates[chunk.candidate].curve.installed_thrust
            assert found[place] == pytest.approx(alone, rel=1e-9, nan_ok=True)
