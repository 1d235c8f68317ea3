"""Windows and macOS as far as they can be held to here: rules of the text, consoles of other
encodings, workers that are spawned. What only such a machine shows is not shown here.
"""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from thrustlapse.commands.console import _typed

ROOT = Path(__file__).parents[1]
FILES = sorted((ROOT / "thrustlapse").rglob("*.py"))
TEXTS = {"open", "read_text", "write_text"}
MOVES = {"atomic_write.py": 2}
"""Files that rename, and how often: to names that nothing has."""

RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?$")


@cache
def calls(path: Path) -> list[tuple[str, ast.Call]]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            found.append((name, node))
    return found


def opened_as_text(name: str, call: ast.Call) -> bool:
    """Whether a call reads or writes text by the system's own encoding unless told another."""
    if name not in TEXTS or (name != "open" and isinstance(call.func, ast.Name)):
        return False
    words = [one.value for one in call.args if isinstance(one, ast.Constant)]
    named = {one.arg: one.value for one in call.keywords}
    mode = next((str(one) for one in words if re.fullmatch(r"[rwxab+]{1,3}", str(one))), "")
    if "mode" in named and isinstance(named["mode"], ast.Constant):
        mode = str(named["mode"].value)
    said = "encoding" in named or None in named or any(
        str(one).lower().replace("-", "").startswith("utf8") for one in words)
    of_a_path = name != "open" or isinstance(call.func, ast.Name) or bool(mode)
    return of_a_path and "b" not in mode and not said


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_text_file_names_its_encoding(path: Path) -> None:
    """Where none is named Windows takes its own code page (Python documentation, io)."""
    assert not [call.lineno for name, call in calls(path) if opened_as_text(name, call)]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_renamed_or_forked_in_ways_that_only_some_systems_have(path: Path) -> None:
    """``rename`` over a file that is there fails on Windows, ``replace`` does not; processes are
    not forked there, nor safely on macOS (Python documentation, os and multiprocessing)."""
    called = [name for name, _ in calls(path)]
    assert not {*called} & {"fork", "mkfifo", "getuid", "chown"}
    assert called.count("rename") == MOVES.get(path.name, 0)
    text = path.read_text(encoding="utf-8")
    assert "import fcntl" not in text
    assert not re.search(r"get_context\((?!\"spawn\")", text)


def test_no_name_of_a_file_is_reserved_or_differs_by_case_alone() -> None:
    """Names Windows keeps for devices, signs it forbids, and folders that do not tell case."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True,
                            check=False, encoding="utf-8").stdout.splitlines()
    names = listed or [str(one.relative_to(ROOT)) for one in FILES]
    assert len({name.casefold() for name in names}) == len(names)
    for name in names:
        assert len(name) < 180, name  # of 260 that a path may have there
        for part in name.split("/"):
            assert not RESERVED.match(part), name
            assert not re.search(r'[<>:"\\\\|?*]|[. ]$', part), name


WORDS = (
    ("point", "scenarios/three_ways_to_push.toml", "--candidate", "blower", "--airspeed", "20 m/s"),
    ("check", "scenarios/kitchen_scale.toml"))


@pytest.mark.parametrize("encoding", ["cp932", "cp437", "cp1252", "ascii"])
def test_a_console_of_another_encoding_gets_words_and_no_traceback(encoding: str) -> None:
    """Several commands in one process, which is what takes the time."""
    code = ("from thrustlapse.cli import main\n"
            f"for words in {WORDS!r}:\n"
            "    main(words, standalone_mode=False)\n"
            "    print('=' * 9)\n")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True,
                          check=False, env=os.environ | {"PYTHONIOENCODING": encoding,
                                                         "PYTHONUTF8": "0"})
    assert done.returncode == 0, done.stderr.decode(encoding, "replace")
    assert b"Traceback" not in done.stderr
    said = done.stdout.decode("utf-8" if encoding == "ascii" else encoding).split("=" * 9)
    assert [len(one) > 200 for one in said] == [True, True, False]


@pytest.mark.parametrize(("encoding", "said"), [
    ("utf-8", "27 ± 1 m²"), ("cp437", "27 ± 1 m²"), ("cp932", "27 +- 1 m^2"),
    ("ascii", "27 +- 1 m^2"), (None, "27 ± 1 m²")])
def test_signs_a_console_lacks_are_told_in_those_it_has(encoding: str | None, said: str) -> None:
    assert _typed("27 ± 1 m²", encoding) == said
    assert _typed("\u2603", "ascii") == "?"
