"""Long work handed out piece by piece to whoever is at hand, never more than they can take."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import TypeVar

from thrustlapse.study.chunk_folder import StoreError
from thrustlapse.study.workers import Hands

AHEAD = 2
"""Pieces handed out per worker: one in work, one waiting. More would only fill memory."""

WATCH = 2.0
"""How long to wait for a piece before asking whether one can still come [s]."""

WORKER_GONE = ("a worker process was ended from outside (memory used up?). What is done is kept: "
               "go on with --resume, perhaps with fewer --processes.")

Key = TypeVar("Key")
Result = TypeVar("Result")


def hand_out(tasks: Iterable[tuple[Key, partial[Result]]], hands: Hands,
             take: Callable[[Key, Result], None]) -> None:
    """Have tasks done, in any order, and ``take`` each result as it comes.

    Parameters
    ----------
    tasks : iterable
        Key and call of each, drawn only when somebody is free; must pickle where workers are other
        processes
    hands : Hands
        Who does it; see :mod:`.workers`
    take : callable
        Called in this process with a key and its result

    Raises
    ------
    StoreError
        If a worker died.
    """
    waiting = iter(tasks)
    working: dict[Future[Result], Key] = {}
    try:
        while True:
            while len(working) < AHEAD * hands.count and (next_one := next(waiting, None)):
                key, call = next_one
                working[_submitted(hands, call)] = key
            if not working:
                return
            ready = wait(working, timeout=WATCH, return_when=FIRST_COMPLETED).done
            if hands.watch and not ready:
                hands.watch()
            for future in ready:
                take(working.pop(future), future.result())
    except BrokenProcessPool:
        raise StoreError(WORKER_GONE) from None
    finally:
        for future in working:
            future.cancel()


def _submitted(hands: Hands, call: partial[Result]) -> Future[Result]:
    """A task given to the workers; a pool whose worker has just died cannot take one."""
    try:
        return hands.workers.submit(call)
    except (OSError, ValueError):  # its pipe is being taken down just now
        raise StoreError(WORKER_GONE) from None
