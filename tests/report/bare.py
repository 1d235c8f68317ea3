"""Verdicts with the articles before candidates' names taken off, so that a test can name them."""

from __future__ import annotations

import re
from dataclasses import replace

from thrustlapse.report.articles import NOUNS
from thrustlapse.report.comparison import remembered as one_sentence
from thrustlapse.report.comparison import verdict as composed
from thrustlapse.study.comparison import Comparison


def bare(text: str) -> str:
    """``text`` without "the" before a noun that may name a candidate."""
    some = "|".join(sorted(NOUNS))
    return re.sub(rf"\b(t|T)he ({some})\b", lambda found: found[2].capitalize()
                  if found[1] == "T" else found[2], text)


def verdict(comparison: Comparison) -> composed.Verdict:
    """The verdict without those articles."""
    told = composed.verdict(comparison)
    return replace(told, headline=bare(told.headline), remember=bare(told.remember), groups=tuple(
        (title, tuple(map(bare, texts))) for title, texts in told.groups))


def remembered(comparison: Comparison) -> str:
    """The sentence to remember without them."""
    return bare(one_sentence.remembered(comparison))
