"""Do the tests notice a wrong constant? Every module constant of the physics changed by +10 %.

    python -m tests.tools.constants list [PART ...]
    python -m tests.tools.constants run [PART ...] [--minutes M]
    python -m tests.tools.constants score

PART is a piece of a path, such as ``power/`` or ``rotor/axial``; without one, all. Each change is
tried in a process of its own with fresh imports: the tests of stated constants of its folder and
those named after the constant's file, then those of its folder that import it, then (of ``rotor``)
those of its kind of rotor, until one fails. ``constants.csv`` keeps
what was found, with the test that noticed: whether that test is a fact (an outside source, a
property) is for a reader to judge, and a test that repeats the number is to be mended.

A constant is a number, or an expression of numbers, given a name in upper case at the level of a
module; of a table at most :data:`OF_A_TABLE` numbers are drawn by the seed. What only says how
finely or how far something is computed is listed as numerical in ``constants.toml`` and not tried;
what is tried, not noticed, and cannot be held by a fact stands there with what it moves: ``judged``
where the number rests on no source (where something is refused, flagged or told, and judgement),
``moves`` where it has one or was fitted. The score is told for all that were tried, and for those
that have a source or were fitted.

A test that holds a kept table of our own against the code is not run: it repeats the number.

In the kept table most of those of rotors with a source or fitted were run anew on a machine with
other work to do, two of a blade section once more with the time they need; the rest of rotors are
of an earlier state. The constants of blade sections and two bands that fits hold were judged with
fits made once.
"""

from __future__ import annotations

import argparse
import ast
import csv
import os
import random
import sys
import time
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", CI="1")

from tests.tools.mutation import trial
from tests.tools.mutation.mutants import ROOT

FOLDERS = ("air", "power", "rotor", "propulsor", "aircraft", "bench")
CHANGE = 1.1
OF_A_TABLE = 3
SEED = 20261
LONGEST = 300.0
"""Seconds that a trial's tests may take; longer is no answer, and counts as not noticed."""

TABLE = Path(__file__).with_suffix(".csv")
TOLD = Path(__file__).with_suffix(".toml")
COLUMNS = ("constant", "file", "value", "outcome", "test", "moves", "seed", "version")


@dataclass(frozen=True, kw_only=True)
class Constant:
    """A constant: its file below the package, its name, and where its value stands in the file."""

    file: str
    name: str
    value: str
    span: tuple[int, int]

    @property
    def key(self) -> tuple[str, str]:
        return self.file, self.name

    def changed(self, by: float = CHANGE) -> str:
        """The file with this constant changed."""
        text = (ROOT / "thrustlapse" / self.file).read_text(encoding="utf-8")
        begin, end = self.span
        return f"{text[:begin]}({by} * ({text[begin:end]})){text[end:]}"


@cache
def told() -> dict[str, dict[str, dict[str, str]]]:
    """``constants.toml``: numerical constants, and what the others move, by file and name."""
    return tomllib.loads(TOLD.read_text(encoding="utf-8"))


def _numbers(node: ast.expr) -> Iterator[ast.expr]:
    """Expressions of literal floats that a value is made of; an integer is a count."""
    plain = all(isinstance(one, ast.Constant | ast.BinOp | ast.UnaryOp | ast.operator | ast.unaryop)
                for one in ast.walk(node))
    if plain:
        if any(isinstance(one, ast.Constant) and isinstance(one.value, float)
               for one in ast.walk(node)):
            yield node
        return
    if isinstance(node, ast.BinOp) or not isinstance(
            node, ast.Tuple | ast.List | ast.Dict | ast.Call):
        return  # derived from other constants
    inside: Iterable[ast.expr] = (
        node.elts if isinstance(node, ast.Tuple | ast.List) else
        node.values if isinstance(node, ast.Dict) else
        (*node.args, *(word.value for word in node.keywords)))
    for one in inside:
        yield from _numbers(one)


def _named(node: ast.stmt) -> Iterator[tuple[str, ast.expr]]:
    """Names in upper case that a statement gives, with their values."""
    if isinstance(node, ast.AnnAssign) and node.value is not None:
        pairs = [(node.target, node.value)]
    elif isinstance(node, ast.Assign):
        pairs = [(node.targets[0], node.value)]
        names, values = pairs[0]
        if isinstance(names, ast.Tuple) and isinstance(values, ast.Tuple):
            pairs = list(zip(names.elts, values.elts, strict=True))
    else:
        return
    for name, value in pairs:
        if isinstance(name, ast.Name) and name.id.isupper():
            yield name.id, value


def constants(parts: Iterable[str] = ()) -> list[Constant]:
    """Every constant that is tried, in order; of a table some, drawn by the seed."""
    found: list[Constant] = []
    for path in sorted(one for folder in FOLDERS
                       for one in (ROOT / "thrustlapse" / folder).rglob("*.py")):
        file = path.relative_to(ROOT / "thrustlapse").as_posix()
        text = path.read_text(encoding="utf-8")
        starts = [0]
        for line in text.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        for statement in ast.parse(text).body:
            for name, value in _named(statement):
                every = list(_numbers(value))
                drawn = every if len(every) <= OF_A_TABLE else sorted(
                    random.Random(f"{SEED} {file} {name}").sample(every, OF_A_TABLE),
                    key=lambda one: (one.lineno, one.col_offset))
                for one in drawn:
                    place = tuple(starts[line - 1] + len(
                        text.splitlines()[line - 1].encode()[:column].decode())
                        for line, column in ((one.lineno, one.col_offset),
                                             (one.end_lineno or 0, one.end_col_offset or 0)))
                    called = name if len(every) == 1 else f"{name}[{every.index(one)}]"
                    found.append(Constant(file=file, name=called, value=ast.unparse(one),
                                          span=(place[0], place[1])))
    return [one for one in found if not parts or any(part in one.file for part in parts)]


def told_of(kind: str, one: Constant) -> str:
    """What ``constants.toml`` says of a constant, or nothing."""
    return told().get(kind, {}).get(one.file, {}).get(one.name.partition("[")[0], "")


def rounds(file: str) -> list[list[str]]:
    """Test files to run for a constant of a file, in rounds: those of its name, that import it, of
    its folder."""
    folder, stem = Path(file).parts[0], Path(file).stem
    every = sorted((ROOT / "tests" / folder).glob("test_*.py"))
    module = "thrustlapse." + file.removesuffix(".py").replace("/", ".")
    named = [path for path in every if stem in path.stem or path.stem == "test_stated_constants"]
    using = [path for path in every if path not in named
             and (module + " import" in path.read_text(encoding="utf-8"))]
    kind = Path(file).parts[1] if len(Path(file).parts) > 2 else ""
    rest = [path for path in every if path not in (*named, *using)
            and folder == "rotor" and kind and (
                kind in path.stem or f"rotor.{kind}" in path.read_text(encoding="utf-8"))]
    return [[str(path.relative_to(ROOT)) for path in some]
            for some in (named, using, rest) if some]


def attempt(one: Constant, by: float = CHANGE) -> tuple[str, str]:
    """Outcome of a trial, and the test that noticed."""
    text = one.changed(by)
    for tests in rounds(one.file):
        reader, writer = os.pipe()

        def body(tests: list[str] = tests, writer: int = writer) -> bool:
            noticed = Noticed()
            trial.import_as(f"thrustlapse/{one.file}", text)
            os.chdir(ROOT)
            import pytest

            left = pytest.main([*tests, "-x", "-q", "-k", "not kept_table", "-p",
                                    "no:cacheprovider", "-p", "no:xdist"],
                               plugins=[trial.Quick(), noticed])
            os.write(writer, noticed.name.encode()[:2000])
            return left != 0

        how = trial.outcome_of(body, limit=LONGEST)
        os.close(writer)
        with os.fdopen(reader, encoding="utf-8") as back:
            name = back.read()
        if how != "survived":
            return ("noticed", name or "cannot be imported") if how == "killed" else (how, "")
    return "not noticed", ""


class Noticed:
    """A pytest plugin that keeps the first test that fails."""

    name = ""

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.name:
            self.name = str(report.nodeid)


def kept() -> dict[tuple[str, str], dict[str, str]]:
    """The committed results."""
    if not TABLE.exists():
        return {}
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {(row["file"], row["constant"]): row for row in csv.DictReader(file)}


def write(results: dict[tuple[str, str], dict[str, str]]) -> None:
    """Keep the results of constants that still are, in the order of the files."""
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        for one in constants():
            if one.key in results and not told_of("numerical", one):
                writer.writerow({**results[one.key],
                                 "moves": told_of("moves", one) or told_of("judged", one)})


def score(rows: Iterable[dict[str, str]]) -> tuple[int, int]:
    """How many were noticed, of how many tried."""
    outcomes = [row["outcome"] for row in rows]
    return outcomes.count("noticed"), len(outcomes)


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.constants", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("task", choices=("list", "run", "score"))
    parser.add_argument("parts", nargs="*")
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--again", action="store_true", help="also those noticed before")
    parser.add_argument("--drawn", type=int, help="only so many, drawn by the seed")
    given = parser.parse_args()
    chosen = constants(given.parts)
    if given.drawn:
        chosen = random.Random(SEED).sample(chosen, min(given.drawn, len(chosen)))
    results = kept()
    if given.task == "list":
        for one in chosen:
            kind = told_of("numerical", one)
            print(f"{one.file} {one.name} = {one.value}"
                  + (f"  numerical: {kind}" if kind else ""))
    if given.task == "run":
        until = time.time() + 60.0 * given.minutes
        sound: dict[str, tuple[str, str]] = {}
        trial.preload()
        for one in sorted(chosen, key=lambda one: told_of("judged", one) != ""):
            before = results.get(one.key)
            same = before is not None and before["value"] == one.value
            if told_of("numerical", one) or (
                    same and before["outcome"] == "noticed" and not given.again):
                continue
            if one.file not in sound:  # a file whose tests fail as it is would notice anything
                sound[one.file] = attempt(one, 1.0)
            if sound[one.file][0] != "not noticed":
                print(f"not tried: {one.file}: fails unchanged: {sound[one.file][1]}", flush=True)
                continue
            if time.time() > until:
                print("time is up: run again to go on")
                break
            how, test = attempt(one)
            results[one.key] = {
                "constant": one.name, "file": one.file, "value": one.value, "outcome": how,
                "test": test, "moves": "", "seed": str(SEED), "version": version("thrustlapse")}
            print(f"{how:12} {one.file} {one.name} {test}", flush=True)
            write(results)
    if given.task != "list":
        rows = [row for key, row in kept().items() if key in {one.key for one in chosen}]
        judged = {one.key for one in chosen if told_of("judged", one)}
        for words, some in (("noticed", rows), ("noticed of those with a source or fitted", [
                row for row in rows if (row["file"], row["constant"]) not in judged])):
            noticed, tried = score(some)
            print(f"{noticed} of {tried} {words}" + (f", {noticed / tried:.1%}" if tried else ""))
        for row in rows:
            if row["outcome"] != "noticed":
                print(f"  {row['outcome']} {row['file']} {row['constant']}: "
                      f"{row['moves'] or 'not explained'}")


if __name__ == "__main__":
    sys.exit(main())
