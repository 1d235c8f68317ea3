"""Do the checks of the physics notice when the physics is wrong? Mutation testing by sample.

``python -m tests.tools.mutation baseline`` runs the tests once and notes which test runs which
line; ``... run`` tries the drawn mutants, goes on where it was stopped, and writes ``score.csv``
and ``survivors.csv``; ``... again`` tries only the survivors that nothing explains, with ten times
as long a choice of tests; ``... constants`` changes constants of modules by a tenth, as many as are
drawn (``tests/tools/constants.py``, which keeps its own table); ``... score`` only writes the
tables. Needs ``pip install -e
'.[dev,mutation]'``; half an hour and more on one core, so it is no part of the test run.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import random
import subprocess
import sys
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", CI="1")
sys.dont_write_bytecode = True

from tests.tools.mutation import mutants, score, trial  # noqa: E402
from tests.tools.mutation.mutants import ROOT, Mutant  # noqa: E402

HERE = Path(__file__).parent
WORK = ROOT / ".mutation"
"""Baseline and results in full; not kept"""
JOURNAL = WORK / "journal.jsonl"
"""One line for each mutant tried, written at once: a run that was stopped goes on from it"""
OUTCOMES = ("killed", "too slow", "survived", "not run by any test")


def baseline(folders: Iterable[str]) -> None:
    """Run the tests with coverage by test; leave lines and durations in the work folder."""
    WORK.mkdir(exist_ok=True)
    for left in WORK.glob("coverage*"):
        left.unlink()
    subprocess.run([sys.executable, "-m", "pytest", *folders, "--cov=thrustlapse",
                    "--cov-context=test", "--cov-report=", "--cov-fail-under=0",
                    f"--junitxml={WORK / 'junit.xml'}",
                    "-p", "no:cacheprovider", "-q"], cwd=ROOT, check=True,
                   env={**os.environ, "COVERAGE_FILE": str(WORK / "coverage")})


class Choice:
    """Which tests run which line: all of the same name, then of the folder, quick ones first."""

    def __init__(self, most: float) -> None:
        from coverage import CoverageData

        data = CoverageData(str(WORK / "coverage"))
        data.read()
        self.seconds = trial.seconds_by_test(WORK / "junit.xml")
        self.most = most
        self.by_line = {file: data.contexts_by_lineno(str(ROOT / file))
                        for file in mutants.physics_files()}

    def tests(self, file: str, line: int) -> list[str]:
        """Tests that run a line; those that run any line of the file where it runs on import."""
        lines = self.by_line[file]
        found = {context.split("|")[0] for context in lines.get(line, []) if context}
        if (not found and "" in lines.get(line, [])) or line not in lines:
            near = [other for other in lines if other < line and any(lines[other])]
            if line in lines or not near:
                found = {c.split("|")[0] for contexts in lines.values() for c in contexts if c}
            else:
                found = {c.split("|")[0] for c in lines[max(near)] if c}
        # those of the file's own name, or its folder's, are all run: what they keep between them
        # may hide from the baseline that they rest on a line
        own = {Path(file).stem, Path(file).parts[2]} - {Path(file).name}
        mine = {name for name in self.seconds if any(word in name.split("::")[0] for word in own)}
        chosen, total = [], 0.0
        for name in sorted(found | mine, key=lambda name: (
                name not in mine, f"tests/{Path(file).parts[1]}/" not in name,
                self.seconds.get(name, 1.0), name)):
            total += self.seconds.get(name, 1.0)
            if chosen and total > self.most and name not in mine:
                break
            chosen.append(name)
        return chosen


def attempt(tried: list[Mutant], *, most: float, until: float) -> None:
    """Try mutants in their order and note them in the journal; stop at the clock time ``until``."""
    choice = Choice(most)
    trial.preload()
    journal = JOURNAL.open("a", encoding="utf-8")

    def note(mutant: Mutant, how: str, began: float) -> None:
        journal.write(json.dumps({**mutant.__dict__, "outcome": how,
                                  "seconds": round(time.monotonic() - began, 2)}) + "\n")
        journal.flush()

    later: list[tuple[Mutant, str, list[str]]] = []

    def fast(items: dict[str, Any]) -> None:
        trial.loaded_functions()
        gc.freeze()
        for mutant in tried:
            if time.time() > until:
                return
            began = time.monotonic()
            changed = mutants.told(mutant)
            if changed is None:
                continue
            mutant, text = changed
            tests = [name for name in choice.tests(mutant.file, mutant.line) if name in items]
            if not tests:
                note(mutant, "not run by any test", began)
            elif not trial.inside_functions(mutant.file, text):
                later.append((mutant, text, tests))
            else:
                took = sum(choice.seconds.get(name, 1.0) for name in tests)
                note(mutant, trial.outcome_of(
                    lambda text=text, mutant=mutant, tests=tests:  # type: ignore[misc]
                    trial.put_in(mutant.file, text) == 0
                    or trial.any_fails([items[name] for name in tests]),
                    limit=5.0 + trial.PATIENCE * took), began)

    # collecting imports the package, so it is done in a child: fresh imports are forked from here
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        trial.collect_and(fast, mutants.settings()["tests"])
        with os.fdopen(writer, "w", encoding="utf-8") as out:
            json.dump([[mutant.__dict__, text, tests] for mutant, text, tests in later], out)
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader, encoding="utf-8") as back:
        told = json.load(back)
    os.waitpid(child, 0)
    for fields, text, tests in told:
        if time.time() > until:
            break
        began, mutant = time.monotonic(), Mutant(**fields)
        took = sum(choice.seconds.get(name, 1.0) for name in tests)
        note(mutant, trial.outcome_of(
            lambda text=text, mutant=mutant, tests=tests:  # type: ignore[misc]
            trial.run_fresh(mutant.file, text, tests), limit=20.0 + trial.PATIENCE * took), began)


def tried_before() -> dict[tuple[str, str, int], dict[str, Any]]:
    """What the journal holds, the latest outcome of each mutant."""
    if not JOURNAL.exists():
        return {}
    notes = map(json.loads, JOURNAL.read_text(encoding="utf-8").splitlines())
    return {(note["file"], note["operator"], note["occurrence"]): note for note in notes}


def report() -> None:
    """Write the kept tables from the journal, and say what they say."""
    notes = list(tried_before().values())
    score.write(notes)
    for how in OUTCOMES:
        print(f"{how}: {sum(note['outcome'] == how for note in notes)}")
    for row in score.rows(notes):
        print(", ".join(f"{name} {value}" for name, value in row.items()))


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.mutation", description=__doc__)
    parser.add_argument("task", choices=("count", "baseline", "run", "again", "score", "constants"))
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--only", default="", help="only files whose path holds this")
    told = parser.parse_args()
    chosen = mutants.settings()
    if told.task == "baseline":
        baseline(chosen["tests"])
        return
    if told.task == "score":
        report()
        return
    if told.task == "constants":
        subprocess.run([sys.executable, "-m", "tests.tools.constants", "run", "--again",
                        "--drawn", str(chosen["constants"]), "--minutes", str(told.minutes)],
                       cwd=ROOT, check=True)
        return
    everything = mutants.population()
    tried = mutants.drawn(everything, rest=chosen["rest"], seed=chosen["seed"])
    tried = [mutant for mutant in tried if told.only in mutant.file]
    print(f"{len(everything)} places, {sum(m.whole for m in everything)} in files taken whole, "
          f"{len(tried)} drawn")
    if told.task == "count":
        return
    known = tried_before()
    if told.task == "again":
        left = {key for key, note in known.items()
                if note["outcome"] in OUTCOMES[2:] and not score.why(note)}
        # the draw may have changed with the files since they were tried
        tried = [m for m in everything if (m.file, m.operator, m.occurrence) in left
                 and told.only in m.file]
    else:
        tried = [m for m in tried if (m.file, m.operator, m.occurrence) not in known]
    random.Random(chosen["seed"]).shuffle(tried)
    most = chosen["most_seconds"] * (10.0 if told.task == "again" else 1.0)
    attempt(tried, most=most, until=time.time() + 60 * told.minutes)
    report()


if __name__ == "__main__":
    main()
