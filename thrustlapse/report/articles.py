"""Candidates in running text: "the blower", as an editor would have it, where a name is a noun.

A candidate is called by its key. Where that key is the plain word for a machine, a sentence needs
an article before it; any other name ("mine", "m90") is a proper name and stands alone. Names that
label what follows ("blower: ...", "fan 36.0 m/s") are left as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from thrustlapse.report.number_format import MINUS

NOUNS = frozenset({"blower", "fan", "propeller", "impeller", "compressor"})
"""Keys that are common nouns."""

BEFORE = frozenset({"a", "an", "the", "this", "that", "each", "no", "one", "another", "every"})
"""Words after which a noun has its article already."""


def with_articles(text: str, names: Iterable[str]) -> str:
    """``text`` with "the" before those of ``names`` that are nouns and are spoken of."""
    nouns = NOUNS.intersection(names)
    if not nouns:
        return text
    some = "|".join(sorted(nouns))
    return re.sub(rf"(?<![\w-])({some})(?![\w:-]| [\d{MINUS}])", _spoken, text)


def _spoken(found: re.Match[str]) -> str:
    before = re.search(r"(\w+) $", found.string[:found.start()])
    has_one = before is not None and before[1].lower() in BEFORE
    return found[1] if has_one else f"the {found[1]}"
