"""Trying mutants: each in a process of its own, forked from one that has everything loaded.

A change inside functions is put into the loaded functions; one at the level of a module or class
(a constant, a default) is tried with fresh imports. Only tests that run the changed line are run,
quick ones first, until one fails.
"""

from __future__ import annotations

import gc
import importlib.machinery
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest

from tests.tools.mutation.mutants import ROOT, functions_of, same

KILLED, SURVIVED = 7, 8
"""What a child leaves with"""
PATIENCE = 5.0
"""A mutant that takes this many times as long as its tests did is killed"""


def outcome_of(body: Callable[[], bool], *, limit: float) -> str:
    """``killed``, ``survived`` or ``too slow``: run ``body`` (True: a test failed) in a child."""
    child = os.fork()
    if child == 0:
        code = KILLED
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            code = KILLED if body() else SURVIVED
        except BaseException:
            code = KILLED
        finally:
            os._exit(code)
    end = time.monotonic() + limit
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "survived" if os.waitstatus_to_exitcode(status) == SURVIVED else "killed"
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "too slow"


def inside_functions(file: str, text: str) -> bool:
    """Whether the change lies inside the bodies of functions."""
    before = (ROOT / file).read_text(encoding="utf-8")
    return same(compile(before, file, "exec", dont_inherit=True),
                compile(text, file, "exec", dont_inherit=True), functions=False)


def put_in(file: str, text: str) -> int:
    """Give the loaded functions of ``file`` their changed bodies; how many were changed."""
    before = compile((ROOT / file).read_text(encoding="utf-8"), file, "exec", dont_inherit=True)
    after = compile(text, str(ROOT / file), "exec", dont_inherit=True)
    changed: dict[tuple[str, int], CodeType] = {}
    for old, new in zip(functions_of(before), functions_of(after), strict=True):
        if not same(old, new):
            changed[old.co_qualname, old.co_firstlineno] = new
    count = 0
    for function in loaded_functions().get(str(ROOT / file), []):
        code = function.__code__
        new_code = changed.get((code.co_qualname, code.co_firstlineno))
        if new_code is not None:
            function.__code__ = new_code
            count += 1
    return count


@cache
def loaded_functions() -> dict[str, list[FunctionType]]:
    """All functions of the package that exist, by file; call it once before the first fork."""
    found: dict[str, list[FunctionType]] = {}
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and "thrustlapse" in thing.__code__.co_filename:
            found.setdefault(thing.__code__.co_filename, []).append(thing)
    return found


def import_as(file: str, text: str) -> None:
    """From now on an import of ``file`` finds ``text``."""
    path = str(ROOT / file)
    plain = importlib.machinery.SourceFileLoader.get_code

    def get_code(self: Any, fullname: str) -> Any:
        if self.path == path:
            return compile(text, path, "exec", dont_inherit=True)
        return plain(self, fullname)

    importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign]


class Quick:
    """A pytest plugin: hypothesis looks for a failure and does not polish it."""

    def pytest_sessionstart(self) -> None:
        from hypothesis import Phase, settings

        settings.register_profile("mutation", deadline=None, derandomize=True, database=None,
                                  phases=(Phase.explicit, Phase.generate),
                                  report_multiple_bugs=False)
        settings.load_profile("mutation")


class Loop(Quick):
    """A pytest plugin that collects all tests once and hands them to ``work``."""

    def __init__(self, work: Callable[[dict[str, Any]], None]) -> None:
        self.work = work

    def pytest_runtestloop(self, session: Any) -> bool:
        self.work({item.nodeid: item for item in session.items})
        return True


def any_fails(items: Sequence[Any]) -> bool:
    """Run collected tests until one fails."""
    from _pytest.runner import runtestprotocol

    for item, following in zip(items, [*items[1:], None], strict=True):
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
            return True
    return False


def run_fresh(file: str, text: str, tests: Iterable[str]) -> bool:
    """Whether a test fails when everything is imported anew with the change."""
    assert not any(name.split(".")[0] == "thrustlapse" for name in sys.modules)
    import_as(file, text)
    os.chdir(ROOT)
    return pytest.main([*tests, "-x", "-q", "-p", "no:cacheprovider"], plugins=[Quick()]) != 0


def collect_and(work: Callable[[dict[str, Any]], None], folders: Iterable[str]) -> None:
    """Collect the tests of some folders and do ``work`` with them."""
    os.chdir(ROOT)
    pytest.main([*folders, "-q", "-p", "no:cacheprovider", "-s"], plugins=[Loop(work)])


def preload() -> None:
    """What every test needs and no mutant touches."""
    for name in ("numpy", "pint", "pydantic", "scipy.interpolate", "scipy.optimize",
                 "scipy.integrate", "scipy.signal", "scipy.stats", "scipy.linalg"):
        __import__(name)


def seconds_by_test(report: Path) -> dict[str, float]:
    """Duration of every test of a JUnit report, by its pytest name."""
    import xml.etree.ElementTree as tree

    return {f"{case.get('classname', '').replace('.', '/')}.py::{case.get('name')}":
            float(case.get("time", "0")) for case in tree.parse(report).iter("testcase")}
