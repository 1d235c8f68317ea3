"""What the numbers are worth: the page made from the records of every comparison with a source."""

from __future__ import annotations

from collections.abc import Sequence

from tests.credibility import page as credibility
from tests.credibility.facts import by_kind, families, told
from tests.credibility.not_validated import NOT_VALIDATED
from tests.credibility.records import Group
from tests.tools.documentation.markdown import cell, heading, table


def page(groups: Sequence[Group], folder: str) -> str:
    """Markdown of the page; the figure ``measured.svg`` stands in ``folder``."""
    every = credibility.checks(groups)
    counted = credibility.counts(every)
    measured = families(groups)
    pairs = [pair for family in measured for pair in family.pairs]
    points = sum(family.points for family in measured)
    misses = [check for check in every if credibility.result(check) == "known miss"]
    lines = [
        heading("How sure, and what is not validated"),
        f"{points} measured points of {len(pairs)} series were predicted. Beside them stand "
        f"{len(every)} records of numbers that were not made here: {counted['pass']} hold, "
        f"{counted['known miss']} are known to miss and say so, {counted['fail']} fail. The tests "
        "hold the same records, so this page cannot claim more than they do. A printed digit that "
        "is met proves that the arithmetic is right, not that a given machine obeys it.",
        heading("Part by part", 2), credibility.part_lines(groups),
        heading("Where the other number comes from", 2),
        "Repeats, columns of one line and lines of one shared formula count once.",
        table(("kind", "facts", "met", "records"), [
            (cell(one.words), str(one.facts), str(one.hold), str(one.records))
            for one in by_kind(told(groups))]),
        heading("Against real machines", 2),
        f"{len(pairs)} measured series with {points} points. The root mean square is over the "
        "largest measured value of a series. Series that a form was fitted to are left out, but "
        "for propellers, whose common constants were judged on them with each blade left out.",
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
