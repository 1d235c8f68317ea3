"""Working a search through: chunk by chunk, by whoever is at hand, into its store."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool

from thrustlapse.designs.answers import points_per_design
from thrustlapse.designs.design_batch import Machines
from thrustlapse.designs.spec import Chunk, SearchSpec
from thrustlapse.study.search.evaluate import Evaluated, evaluate
from thrustlapse.study.search.store import Store, StoreError

AHEAD = 2
"""Chunks handed out per worker: one in work, one waiting. More would only fill memory."""

WATCH = 2.0
"""How long to wait for a chunk before asking whether one can still come [s]."""

WORKER_GONE = ("a worker process was ended from outside (memory used up?). What is done is kept: "
               "go on with --resume, perhaps with fewer --processes.")

Tell = Callable[[int, int], None]
"""Called with operating points done and in all."""


def points(spec: SearchSpec, chunk: Chunk) -> int:
    """Operating points of a chunk, about."""
    return (chunk.stop - chunk.start) * points_per_design(spec.airspeed.size, spec.answers)


def run_search(machines: Machines, store: Store, *, workers: Executor, count: int = 1,
               tell: Tell | None = None, watch: Callable[[], None] | None = None) -> None:
    """Work out what a store still lacks.

    Parameters
    ----------
    machines : Machines
        Must pickle where workers are other processes
    store : Store
    workers : Executor
        Who does it; see :mod:`.workers`
    count : int
        How many of them there are
    tell : callable, optional
        Called whenever a chunk is done
    watch : callable, optional
        Called every :data:`WATCH` in which no chunk was done; raises where none can come any more

    Raises
    ------
    StoreError
        If a chunk cannot be written, or a worker died; what is done is kept.
    """
    spec = store.spec
    missing = store.missing()
    total = sum(points(spec, chunk) for chunk in store.chunks)
    done = total - sum(points(spec, chunk) for chunk in missing)
    if tell:
        tell(done, total)
    waiting = iter(missing)
    working: dict[Future[Evaluated], Chunk] = {}
    try:
        while True:
            while len(working) < AHEAD * count and (chunk := next(waiting, None)) is not None:
                working[_handed_out(workers, machines, spec, chunk)] = chunk
            if not working:
                return
            ready = wait(working, timeout=WATCH, return_when=FIRST_COMPLETED).done
            if watch and not ready:
                watch()
            for future in ready:
                chunk = working.pop(future)
                store.write(chunk, future.result())
                done += points(spec, chunk)
                if tell:
                    tell(done, total)
    except BrokenProcessPool:
        raise StoreError(WORKER_GONE) from None
    finally:
        for future in working:
            future.cancel()


def _handed_out(workers: Executor, machines: Machines, spec: SearchSpec,
                chunk: Chunk) -> Future[Evaluated]:
    """A chunk given to the workers; a pool whose worker has just died cannot take one."""
    try:
        return workers.submit(evaluate, machines, spec, chunk)
    except (OSError, ValueError):  # its pipe is being taken down just now
        raise StoreError(WORKER_GONE) from None
