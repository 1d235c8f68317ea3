"""A second process for one short piece of work: what need not wait goes side by side.

Numbers do not depend on who worked them out. Long work has workers of its own (``workers.py``).
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from importlib import import_module
from typing import TypeVar

from thrustlapse.study.workers import local_processes

T = TypeVar("T")


def cores() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def helper(*modules: str) -> Iterator[Executor | None]:
    """A process that loads modules while it waits; None where there is no core or no way for one.
    """
    with ExitStack() as stack:
        pool = None
        if cores() > 1:
            with suppress(ImportError, NotImplementedError, OSError):
                pool = stack.enter_context(local_processes(1, leaving=0.0))
                pool.submit(_load, modules)
        yield pool


def _load(modules: Sequence[str]) -> None:
    for name in modules:
        import_module(name)


def asked_of(helper: Executor | None, call: Callable[[], T]) -> T:
    """What a call gives, by the helper, which has loaded what it needs, or here without one."""
    if helper is None:
        return call()
    try:
        return helper.submit(call).result()
    except BrokenExecutor:
        return call()


def begun(helper: Executor | None, calls: Sequence[Callable[[], T]]) -> Callable[[], list[T]]:
    """Calls that a helper begins with, from the first on.

    Asked for, what is left is done here, from the last on; the answer is what all calls gave, in
    order. Nothing is done before it is asked for where there is no helper.
    """
    left = deque(enumerate(calls))
    found: dict[int, T] = {}

    def theirs(helper: Executor) -> None:
        while left:
            try:
                place, call = left.popleft()
            except IndexError:  # taken here meanwhile
                return
            try:
                found[place] = helper.submit(call).result()
            except (BrokenExecutor, RuntimeError):  # gone, or told to end: done here
                left.appendleft((place, call))
                return

    def ours() -> None:
        while left:
            try:
                place, call = left.pop()
            except IndexError:
                return
            found[place] = call()

    feeding = None
    if helper is not None:
        feeder = ThreadPoolExecutor(1)
        feeding = feeder.submit(theirs, helper)
        feeder.shutdown(wait=False)

    def answer() -> list[T]:
        ours()
        if feeding is not None:
            feeding.result()
            ours()  # what a helper that died has left
        return [found[place] for place in range(len(calls))]

    return answer
