"""How tangled the package may be: every exception stands here with its reason, and no other.

Counted as ``python -m tests.tools.code_lines`` counts.
"""

from __future__ import annotations

import ast
from functools import cache

from tests.tools.code_lines import (
    MOST_BRANCHES,
    MOST_LINES,
    ROOT,
    body_lines,
    branches,
    code_lines,
    defined,
    functions,
    wide_calls,
)

RECORD = "one record with a line a field: the fields are what it is"
RULES = "a list of rules side by side, each a line or two that raise one fault or sentence"
CASES = "a case for each kind of value or file, flat, none longer than a few lines"
DRAWING = "one figure drawn from top to bottom"
SCREEN = "the options of a command checked one after the other, before anything is done"

LONG = {
    "aircraft/flight_log.py _reduced": RECORD,
    "propulsor/open_rotor.py _record": RECORD,
    "propulsor/ducted.py _record": RECORD,
    "propulsor/ducted_match.py match": "the order in which a balance is looked for; its steps are "
                                       "functions, and what they hand on is all that is between",
    "rotor/axial/geometry.py _table_problems": RULES,
    "rotor/axial/flow.py _account": RECORD,
    "report/aircraft/tables.py performance": "a table with a line a row",
    "report/aircraft/figures.py figure_climb": DRAWING,
    "report/search/figures.py figure_winners": DRAWING,
    "power/drive.py electrical_state": RECORD,
    "commands/bench.py orifice": SCREEN,
    "bench/shaft_speed.py choose_speed": RECORD,
    "aircraft/thrust_table_lookup.py blended": "one interpolation written out, so that nothing is "
                                           "worked out twice",
    "scenario/readings/table.py table_of": RULES,
    "scenario/files/from_readings.py _machine": CASES,
}
"""Functions with more than 40 code lines in their body."""

FORKED = {
    "bench/blade_tone.py _doubts": RULES,
    "report/flight/verdict.py crossing_sentences": "a sentence for each way a flight may meet a "
                                                   "crossover",
    "scenario/readings/heading.py _heading": RULES,
    "scenario/schema/search_axes.py _check_values": RULES,
    "scenario/schema/search_axes.py _check_ends": RULES,
    "scenario/schema/varied.py key_rule": CASES,
    "scenario/schema/scenario.py _check_supply": RULES,
    "scenario/schema/fit.py fitted_value": CASES,
    "scenario/files/validate.py _problem": CASES,
    "scenario/files/validate.py _read": CASES,
    "scenario/files/from_readings.py _machine": CASES,
    "scenario/files/editable_values.py handles": CASES,
    "scenario/files/doubts.py _plain_numbers": RULES,
    "scenario/build/components.py build_parts": CASES,
    "scenario/build/assumed.py _of_candidate": CASES,
    "scenario/units.py _parsed": CASES,
    "report/search/words.py best_table": "a column is shown or not, for each kind of search",
    "report/atomic_write.py _swap": "what may fail while folders change places, each undone",
    "study/bench_fit.py _checked": RULES,
    "commands/bench.py orifice": SCREEN,
    "commands/bench.py speed": SCREEN,
    "scenario/build/assumed.py _of_readings": CASES,
    "report/comparison/verdict.py _flying": CASES,
}
"""Functions with more than 12 places where they may go two ways."""

ARRAYS = "arrays of one balance handed on in the order in which all its functions take them"

WIDE = {
    "propulsor/ducted_match.py _choked_eye": ARRAYS,
    "propulsor/ducted_match.py _bracket": ARRAYS,
    "propulsor/ducted_match.py _multiple_roots_possible": ARRAYS,
    "propulsor/ducted_match.py _larger_balance": ARRAYS,
    "propulsor/ducted_match.py driven_balance": ARRAYS,
    "propulsor/ducted_match.py Behind": "a tuple filled in the order of its fields, in the inner "
                                        "loop of the balance",
    "study/sizing/optimise.py _sampled": "what a step of the search needs, in one place",
    "elementwise.py _learn": "the inner loop of every root finder",
}
"""Calls of our own with more than 4 positional arguments."""


@cache
def package() -> dict[str, str]:
    base = ROOT / "thrustlapse"
    return {path.relative_to(base).as_posix(): path.read_text(encoding="utf-8")
            for path in sorted(base.rglob("*.py"))}


def test_no_function_is_longer_than_a_page() -> None:
    long = set()
    for place, text in package().items():
        counted = code_lines(text)
        long |= {f"{place} {one.name}" for one in functions(ast.parse(text))
                 if body_lines(one, counted) > MOST_LINES}
    assert long == set(LONG)


def test_no_function_forks_more_than_can_be_followed() -> None:
    forked = {f"{place} {one.name}" for place, text in package().items()
              for one in functions(ast.parse(text)) if branches(one) > MOST_BRANCHES}
    assert forked == set(FORKED)


def test_our_own_calls_name_what_they_hand_on() -> None:
    trees = {place: ast.parse(text) for place, text in package().items()}
    own = defined(list(trees.values()))
    wide = {f"{place} {name}" for place, tree in trees.items()
            for _, name, _ in wide_calls(tree, own)}
    assert wide == set(WIDE)
