"""What the numbers are worth: the page made from the records of every comparison with a source."""

from __future__ import annotations

from collections.abc import Sequence

from tests.credibility import page as credibility
from tests.credibility.not_validated import NOT_VALIDATED
from tests.credibility.records import STATUSES, Group
from tests.documentation.markdown import cell, heading, table


def page(groups: Sequence[Group], folder: str) -> str:
    """Markdown of the page; the figure ``measured.svg`` stands in ``folder``."""
    every = credibility.checks(groups)
    counted = credibility.counts(every)
    pairs = credibility.pairs(groups)
    points = sum(pair.measured.size for pair in pairs)
    misses = [check for check in every if credibility.result(check) == "known miss"]
    lines = [
        heading("How sure, and what is not validated"),
        f"{len(every)} comparisons with numbers that were not made here: {counted['pass']} hold, "
        f"{counted['known miss']} are known to miss and say so, {counted['fail']} fail. The tests "
        "hold the same records, so this page cannot claim more than they do. A printed digit that "
        "is met proves that the arithmetic is right, not that a given machine obeys it.",
        heading("Part by part", 2), credibility.readme_lines(groups),
        heading("Where the other number comes from", 2),
        table(("status", "comparisons", "hold"), [
            (cell(word), str(sum(check.status == word for check in every)),
             str(sum(check.status == word and check.passed for check in every)))
            for word in STATUSES if any(check.status == word for check in every)]),
        heading("Against real machines", 2),
        f"{len(pairs)} measured series with {points} points. The root mean square is over the "
        "largest measured value of a series. Not all of it is prediction: the form of Clark Y was "
        "fitted to these polars, and the propeller at constant power uses its own measured map, so "
        "that only the matching is tried.",
        f"```{{figure}} {folder}/measured.svg\n:alt: Predicted against measured values of every "
        "measured series, each scaled by its own peak; the table below has the numbers\n:class: "
        "chart\n```",
        table(("series", "points", "root mean square"), [
            (cell(f"{pair.series}, {pair.quantity}"), str(pair.measured.size),
             f"{100.0 * pair.rms:.1f} %") for pair in pairs]),
        heading("Known to miss", 2),
        "Each of these is a test that fails the day it no longer misses.",
        table(("check", "ours", "theirs", "allowed", "why"), [
            (cell(check.what), f"{check.ours:.3g} {cell(check.unit)}",
             f"{check.theirs:.3g} {cell(check.unit)}", f"{check.tolerance:.3g}",
             cell(str(check.known_miss)))
            for check in misses]),
        heading("What nothing here vouches for", 2),
        "\n".join(f"- {cell(one)}" for one in NOT_VALIDATED),
    ]
    return "\n\n".join(lines) + "\n"
