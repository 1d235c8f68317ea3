"""Writing that is killed, or for which there is no room: ``python -m tests.report.interrupted 30``.

Each number lets a process write a report over an earlier one and kills it after a while, or forbids
it files above a size, as a full disk would. What is left is the earlier report, the new one, or no
page at all; never a page beside files of another report, never half a file.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

NAMES = ("index.html", "results.json", "curves.csv", "figures")


def put(folder: Path, mark: str) -> None:
    """A report of four parts, each of which says which report it is of; 200 kB each."""
    from thrustlapse.report.atomic_write import staged, write_file

    with staged(folder) as new:
        (new / "figures").mkdir()
        (new / "figures" / "one.svg").write_text(mark * 200_000, encoding="utf-8")
        for name in NAMES[:3]:
            write_file(new / name, mark * 200_000)


def state(folder: Path) -> str:
    """``old``, ``new``, or ``no page``; AssertionError where reports are mixed or cut short."""
    marks = set()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not any(part.startswith(".") for part in
                                      path.relative_to(folder).parts):
            text = path.read_text(encoding="utf-8")
            assert len(text) in (4, 200_000), f"{path.name} is cut short"
            assert len(set(text)) == 1 or text == "mine", f"{path.name} is mixed"
            marks |= set() if text == "mine" else set(text)
    assert len(marks) <= 1, "two reports are mixed"
    assert (folder / "mine.txt").read_text(encoding="utf-8") == "mine"
    if not (folder / "index.html").exists():
        return "no page"
    assert all((folder / name).exists() for name in NAMES), "a page without its files"
    return {"o": "old", "n": "new"}[marks.pop()]


def in_a_child(body: Callable[[], None], *, kill_after: float | None = None) -> int:
    """Exit code of ``body`` run in a process of its own, killed after some seconds."""
    child = os.fork()
    if child == 0:
        code = 0
        try:
            body()
        except OSError:
            code = 2
        except BaseException:
            code = 3
        finally:
            os._exit(code)
    if kill_after is not None:
        time.sleep(kill_after)
        os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def killed_before_move(folder: Path, moves: int) -> str:
    """What is left when the process dies just before one of its renames."""
    def body() -> None:
        plain, count = os.rename, [0]

        def rename(*given: object, **more: object) -> None:
            count[0] += 1
            if count[0] > moves:
                os.kill(os.getpid(), signal.SIGKILL)
            plain(*given, **more)  # type: ignore[arg-type]

        os.rename = rename  # type: ignore[assignment]
        put(folder, "n")

    in_a_child(body)
    return state(folder)


def without_room(folder: Path, most: int) -> str:
    """What is left when no file may grow beyond some bytes."""
    def body() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
        put(folder, "n")

    code = in_a_child(body)
    assert code == (2 if most < 200_000 else 0), code
    return state(folder)


def outcome(number: int, folder: Path) -> str:
    """What one interruption leaves behind."""
    chance = random.Random(number)
    put(folder, "o")
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    kind = number % 3
    if kind == 0:
        return "killed at a move: " + killed_before_move(folder, chance.randrange(20))
    if kind == 1:
        return "no room: " + without_room(folder, chance.choice((0, 1, 4096, 199_999, 200_000)))
    in_a_child(lambda: put(folder, "n"), kill_after=chance.random() * 0.02)
    return "killed at some time: " + state(folder)


def main(count: int) -> None:
    """Interrupt many and say what was left."""
    fared: Counter[str] = Counter()
    for number in range(count):
        with tempfile.TemporaryDirectory() as place:
            try:
                fared[outcome(number, Path(place) / "out")] += 1
            except AssertionError as error:
                fared["broke"] += 1
                print(f"number {number}: {error}")
    print(f"{count} interruptions: " + ", ".join(
        f"{many} {how}" for how, many in sorted(fared.items())))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
