"""The page of quantities: one word each, with symbol and units, from the glossary."""

from __future__ import annotations

from tests.tools.documentation.markdown import cell, code, heading, table
from thrustlapse import glossary


def page() -> str:
    """Markdown of the page."""
    rows = [(cell(one.words), cell(one.symbol), cell(one.unit or "none"),
             cell(glossary.unit_text(one.display_unit) or "none"), code(one.key),
             cell(one.meaning)) for one in glossary.QUANTITIES.values()]
    return "\n".join([
        heading("Quantities"),
        "One word per quantity, in the code, in result files and on every page. In files a name "
        "carries its unit.\n",
        table(("quantity", "symbol", "SI unit", "read in", "key in files", "meaning"), rows), ""])
