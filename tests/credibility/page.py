"""The credibility page, its table of all records, and the README's lines, from the records."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

import jinja2

from tests.credibility import figure
from tests.credibility.facts import Family, Told, by_kind, families, told
from tests.credibility.not_validated import NOT_VALIDATED
from tests.credibility.parts import PARTS
from tests.credibility.records import KINDS, Check, Group
from tests.credibility.tables import BY_ORDINARY_TESTS

FOLDER = Path(__file__).parents[2] / "reports" / "credibility"
COLUMNS = ("part", "group", "check", "source", "status", "kind", "counts", "ours", "theirs", "unit",
           "difference", "tolerance", "why", "result")


def result(check: Check) -> str:
    """pass, fail, or known miss."""
    return "known miss" if check.known_miss and not check.passed else (
        "pass" if check.passed else "fail")


def checks(groups: Iterable[Group]) -> list[Check]:
    """All checks of some groups."""
    return [check for group in groups for check in group.checks]


def counts(found: Sequence[Check]) -> Counter[str]:
    """How many passed, failed, are known misses."""
    return Counter(result(check) for check in found)


def table(groups: Iterable[Group]) -> str:
    """Every record as CSV, numbers to nine digits; ``counts`` is 0 for a repeat or a column of a
    line that counts already."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in told(groups):
        check = one.check
        writer.writerow((
            PARTS[one.group.part].title, one.group.what, check.what, check.source, check.status,
            one.kind, int(one.counts), *(f"{value:.9g}" for value in (check.ours, check.theirs)),
            check.unit, f"{check.difference:.3g}", f"{check.tolerance:.3g}",
            check.known_miss or check.why, result(check)))
    return out.getvalue()


def headline(measured: Sequence[Family]) -> str:
    """What was predicted and measured, and how far apart they are."""
    return "; ".join(f"{one.name}, {one.quantity}: {one.points} points of {len(one.pairs)} series, "
                     f"{100 * one.rms:.1f} % rms" for one in measured)


def trust_lines(groups: Sequence[Group]) -> str:
    """A line for each kind of machine that others measured: the errors of its quantities."""
    lines = ["| measured by others | points | rms error |", "| --- | --- | --- |"]
    for name, found in groupby(families(groups), key=lambda one: one.name):
        kept = list(found)
        errors = ", ".join(f"{one.quantity} {100 * one.rms:.1f} %" for one in kept)
        lines.append(f"| {name} | {kept[0].points} | {errors} |")
    return "\n".join(lines) + "\n"


def part_lines(groups: Sequence[Group]) -> str:
    """Two tables: what was predicted and measured, then facts by part."""
    lines = ["| predicted and measured | quantity | points | series | rms over peak | mean error |",
             "| --- | --- | --- | --- | --- | --- |"]
    lines += [f"| {one.name} | {one.quantity} | {one.points} | {len(one.pairs)} "
              f"| {100 * one.rms:.1f} % | {100 * one.bias:+.1f} % |" for one in families(groups)]
    every = list(told(groups))
    lines += ["", "| part | against | facts met | of them measured | reach |",
              "| --- | --- | --- | --- | --- |"]
    for key, part in PARTS.items():
        found = [one for one in every if one.group.part == key and one.counts]
        if found:
            measured = [one for one in found if one.kind == "measured"]
            lines.append(f"| {part.title} | {part.against} | {_met(found)} "
                         f"| {_met(measured) if measured else 'none'} | {part.reach} |")
    lines.append("| a whole aircraft's top speed | nothing yet | | none | not validated |")
    return "\n".join(lines) + "\n"


def _met(found: Sequence[Told]) -> str:
    return f"{sum(one.check.passed for one in found)} of {len(found)}"


def html(groups: Sequence[Group], drawing: str) -> str:
    """The page, in one file."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent), autoescape=True,
        undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    every, records, measured = checks(groups), list(told(groups)), families(groups)
    kinds = []
    for kind, words in KINDS.items():
        parts = []
        for key, part in PARTS.items():
            kept = [(group, [one for one in records if one.group is group and one.kind == kind])
                    for group in groups if group.part == key]
            kept = [(group, found) for group, found in kept if found]
            if kept:
                parts.append((part, kept))
        kinds.append((kind, words, parts))
    return environment.get_template("page.html").render(
        kinds=kinds, every=every, counted=counts(every), by_kind=by_kind(records),
        families=measured, points=sum(one.points for one in measured),
        series=sum(len(one.pairs) for one in measured), headline=headline(measured),
        misses=[check for check in every if result(check) == "known miss"],
        failures=[check for check in every if result(check) == "fail"],
        not_validated=NOT_VALIDATED, ordinary=BY_ORDINARY_TESTS, result=result, drawing=drawing,
        percent=lambda share: f"{100.0 * share:.1f} %")


def write(groups: Sequence[Group], folder: Path = FOLDER) -> None:
    """Page, figure and table, into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    figure.save(families(groups), folder)
    drawing = (folder / "measured.svg").read_text(encoding="utf-8")
    (folder / "index.html").write_text(html(groups, drawing[drawing.index("<svg"):]),
                                       encoding="utf-8")
    (folder / "checks.csv").write_text(table(groups), encoding="utf-8")
