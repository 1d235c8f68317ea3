"""The page of words: quantities from the glossary, and the states a point may be in."""

from __future__ import annotations

from tests.tools.documentation.markdown import cell, code, heading, table
from thrustlapse import glossary
from thrustlapse.propulsor.operating_point import INVALID, MEANING
from thrustlapse.report.machine.verdict import LIMITS


def page() -> str:
    """Markdown of the page."""
    rows = [(cell(one.words), cell(one.symbol), cell(one.unit or "none"),
             cell(glossary.unit_text(one.display_unit) or "none"), code(one.key),
             cell(one.meaning)) for one in glossary.QUANTITIES.values()]
    return "\n".join([
        heading("Quantities"),
        "One word per quantity, in the code, in result files and on every page. In files a name "
        "carries its unit.\n",
        table(("quantity", "symbol", "SI unit", "read in", "key in files", "meaning"), rows), "",
        heading("States of an operating point", 2),
        "Pages, tables and files use these words and no others. A point that is invalid has no "
        "number; a note leaves the number as it is.\n",
        table(("state", "a point in it is", "meaning"),
              [(cell(flag.words), "invalid" if flag & INVALID else "noted", cell(meaning))
               for flag, meaning in MEANING.items()]), "",
        heading("What holds the shaft speed", 2),
        "Exactly one of these is active where the drive turns the shaft.\n",
        table(("drive limit", "read as"), [(cell(word), cell(said)) for word, said
                                           in LIMITS.items()]), ""])
