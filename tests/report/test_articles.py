"""Articles before candidates' names in running text: plain English, common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.report.bare import bare
from thrustlapse.report.articles import NOUNS, with_articles

NAMES = ("blower", "fan", "mine", "fan_70")


@pytest.mark.parametrize(("text", "better"), [
    ("blower beats fan above 40 m/s", "the blower beats the fan above 40 m/s"),
    ("at rest fan makes 1.8 times as much as blower; fan, too",
     "at rest the fan makes 1.8 times as much as the blower; the fan, too"),
    ("blower: half of the draws", "blower: half of the draws"),
    ("within: blower 22.6 m/s and fan −1.2 N", "within: blower 22.6 m/s and fan −1.2 N"),
    ("the blower and a fan, this fan, no fan", "the blower and a fan, this fan, no fan"),
    ("blowers, fans or fan-like things", "blowers, fans or fan-like things"),
    ("mine beats fan_70", "mine beats fan_70"),
    ("propeller beats mine", "propeller beats mine"),
])
def test_a_noun_gets_one_article_and_a_name_none(text: str, better: str) -> None:
    assert with_articles(text, NAMES) == better


@given(st.lists(st.sampled_from([*sorted(NOUNS), "beats", "the", "at 40 m/s", "mine", ";"])))
def test_articles_come_once_and_go_without_a_trace(words: list[str]) -> None:
    text = " ".join(words)
    once = with_articles(text, NOUNS)
    assert with_articles(once, NOUNS) == once
    assert bare(once) == bare(text)
