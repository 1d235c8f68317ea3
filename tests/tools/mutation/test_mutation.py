"""The mutation trial can tell a wrong change from none, and its kept tables agree."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.tools.mutation import score, trial
from tests.tools.mutation.mutants import ROOT
from thrustlapse.air import gas

FILE = "thrustlapse/air/gas.py"


def tables() -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    found = []
    for path in (score.SCORE, score.SURVIVORS):
        with path.open(encoding="utf-8", newline="") as stream:
            found.append(list(csv.DictReader(stream)))
    return found[0], found[1]


def test_the_score_is_that_of_the_listed_survivors() -> None:
    told, survivors = tables()
    for row, whole in zip(told, "10", strict=True):
        assert int(row["left"]) == sum(one["whole"] == whole for one in survivors)
        assert int(row["tried"]) == int(row["killed"]) + int(row["left"])
        assert int(row["explained"]) == sum(one["whole"] == whole and one["why"] != ""
                                            for one in survivors)
        low, high = score.interval(int(row["killed"]), int(row["tried"]))
        assert (row["low"], row["high"]) == (f"{low:.4f}", f"{high:.4f}")


def test_every_explanation_covers_a_survivor_and_no_more_than_it_says() -> None:
    _, survivors = tables()
    assert all(one["why"] == score.why(one) for one in survivors)
    for word, file, change in score.rules():
        assert any(one["file"].endswith(file) and change.search(one["now"])
                   for one in survivors), (word, file, change.pattern)


@pytest.mark.parametrize("row", [0])
def test_the_interval_is_wilsons(row: int) -> None:
    """81 of 263: 0.2553 to 0.3662; R. G. Newcombe, Stat. Med. 17 (1998) 857, from memory."""
    assert score.interval(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)


@pytest.mark.parametrize(("changed", "how"), [(False, "survived"), (True, "killed")])
def test_a_wrong_body_is_seen_and_the_right_one_is_not(changed: bool, how: str) -> None:
    """In a child, the loaded function gets the changed body; the parent keeps its own."""
    text = (ROOT / FILE).read_text(encoding="utf-8")
    was = next(line for line in text.splitlines() if "return" in line and "gamma" in line)
    new = text.replace(was, was.split("return")[0] + "return None") if changed else text
    assert trial.inside_functions(FILE, new)
    code = {name: thing.__code__ for name, thing in vars(gas).items()
            if hasattr(thing, "__code__")}

    def body() -> bool:
        trial.put_in(FILE, new)
        return any(vars(gas)[name].__code__ is not old for name, old in code.items())

    assert trial.outcome_of(body, limit=60.0) == how
    assert all(vars(gas)[name].__code__ is old for name, old in code.items())


def test_a_change_of_a_constant_is_tried_with_fresh_imports() -> None:
    file = "thrustlapse/report/atomic_write.py"
    text = Path(ROOT / file).read_text(encoding="utf-8") + "\nMORE = 1\n"
    assert not trial.inside_functions(file, text)
