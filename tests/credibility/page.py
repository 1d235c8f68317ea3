"""The credibility page, its table of all records, and the README's lines, from the records."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

import jinja2

from tests.credibility import figure
from tests.credibility.not_validated import NOT_VALIDATED
from tests.credibility.parts import PARTS
from tests.credibility.records import STATUSES, Check, Group, Pair
from tests.credibility.tables import BY_ORDINARY_TESTS

FOLDER = Path(__file__).parents[2] / "reports" / "credibility"
COLUMNS = ("part", "group", "check", "source", "status", "ours", "theirs", "unit", "difference",
           "tolerance", "why", "result")


def result(check: Check) -> str:
    """pass, fail, or known miss."""
    return "known miss" if check.known_miss and not check.passed else (
        "pass" if check.passed else "fail")


def checks(groups: Iterable[Group]) -> list[Check]:
    """All checks of some groups."""
    return [check for group in groups for check in group.checks]


def pairs(groups: Iterable[Group]) -> list[Pair]:
    """All measured series of some groups."""
    return [pair for group in groups for pair in group.pairs]


def counts(found: Sequence[Check]) -> Counter[str]:
    """How many passed, failed, are known misses."""
    return Counter(result(check) for check in found)


def table(groups: Iterable[Group]) -> str:
    """Every record as CSV; numbers to nine digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for group in groups:
        for check in group.checks:
            writer.writerow((
                PARTS[group.part].title, group.what, check.what, check.source, check.status,
                *(f"{value:.9g}" for value in (check.ours, check.theirs)), check.unit,
                f"{check.difference:.3g}", f"{check.tolerance:.3g}",
                check.known_miss or check.why, result(check)))
    return out.getvalue()


def readme_lines(groups: Sequence[Group]) -> str:
    """The README's table: part, against what, how many checks hold, how far that goes."""
    lines = ["| part | against | checks that hold | reach |", "| --- | --- | --- | --- |"]
    for key, part in PARTS.items():
        found = checks(group for group in groups if group.part == key)
        if found:
            held = counts(found)["pass"]
            lines.append(f"| {part.title} | {part.against} | {held} of {len(found)} "
                         f"| {part.reach} |")
    lines.append("| a whole aircraft's top speed | nothing yet | | not validated |")
    return "\n".join(lines) + "\n"


def html(groups: Sequence[Group], drawing: str) -> str:
    """The page, in one file."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent), autoescape=True,
        undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    every = checks(groups)
    parts = [(part, [group for group in groups if group.part == key])
             for key, part in PARTS.items()]
    return environment.get_template("page.html").render(
        parts=[(part, kept, counts(checks(kept)), len(checks(kept))) for part, kept in parts
               if kept],
        every=every, counted=counts(every), statuses=[
            (word, sum(check.status == word for check in every),
             sum(check.status == word and check.passed for check in every)) for word in STATUSES],
        misses=[check for check in every if result(check) == "known miss"],
        failures=[check for check in every if result(check) == "fail"],
        pairs=pairs(groups), points=sum(pair.measured.size for pair in pairs(groups)),
        not_validated=NOT_VALIDATED, ordinary=BY_ORDINARY_TESTS, result=result, drawing=drawing,
        rms=lambda pair: f"{100.0 * pair.rms:.1f} %")


def write(groups: Sequence[Group], folder: Path = FOLDER) -> None:
    """Page, figure and table, into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    figure.save(pairs(groups), folder)
    drawing = (folder / "measured.svg").read_text(encoding="utf-8")
    (folder / "index.html").write_text(html(groups, drawing[drawing.index("<svg"):]),
                                       encoding="utf-8")
    (folder / "checks.csv").write_text(table(groups), encoding="utf-8")
