"""Who does the work: this process, several on this machine, or a cluster; one seam for all.

Everything here hands out an executor as ``concurrent.futures`` defines it. Chunk bounds do not
depend on it, and neither do the numbers.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from multiprocessing import active_children, get_context, parent_process
from threading import Thread
from typing import Any

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS",
              "VECLIB_MAXIMUM_THREADS")
"""Variables by which linear algebra libraries are told how many threads to start."""

TRIM = "MALLOC_TRIM_THRESHOLD_"
"""A cluster's worker launcher sets this so that freed memory goes back at once; every temporary
array is then fetched from the system again, and work of our kind becomes several times slower."""

PATIENCE = 10.0
"""How long to wait for a cluster's answer, and for a worker to take the last one's place [s]."""

SCHEDULER_GONE = ("the cluster's scheduler is gone. What is done is kept: start a cluster and go "
                  "on with --resume")
WORKERS_GONE = ("the cluster has no workers any more, and none came back within {:.0f} s. What is "
                "done is kept: start some and go on with --resume")
KILLED = ("a chunk's workers were ended again and again (memory used up?). What is done is kept: "
          "go on with --resume, perhaps with fewer workers on a machine")

NO_CLUSTER = ("working on a cluster needs the package distributed: "
              "pip install 'thrustlapse[cluster]'")


class ClusterError(RuntimeError):
    """A cluster that cannot be reached or used; its message says all."""


class _Here(Executor):
    """Does at once, in this process, what it is given."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as problem:
            future.set_exception(problem)
        return future


LEAVING = 10.0
"""Time a worker has to end by itself when all is done [s]; a chunk that is cut is done again."""


def _follow_the_parent() -> None:
    """A person's interruption reaches every process of a terminal; one of them answers it. Where
    that one is ended without a word, nobody else would tell this one to leave."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_leave_with_the_parent, daemon=True).start()


def _leave_with_the_parent() -> None:
    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


@contextmanager
def local_workers(processes: int) -> Iterator[Executor]:
    """Processes on this machine, each with one thread; one means this very process."""
    if processes == 1:
        yield _Here()
        return
    with local_processes(processes) as pool:
        yield pool


@contextmanager
def local_processes(count: int, *, leaving: float = LEAVING) -> Iterator[Executor]:
    """Processes beside this one, each with one thread; at the end each has some time to leave [s].
    """
    others = set(active_children())
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))  # workers inherit it before they load NumPy
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"),
                               initializer=_follow_the_parent)
    try:
        yield pool
    finally:
        # a worker that the pool began while another died is told nothing by it, and waits for ever:
        # so the pool is not waited for, but each process, and only so long
        pool.shutdown(wait=False, cancel_futures=True)
        for worker in set(active_children()) - others:
            worker.join(leaving)
            if worker.is_alive():
                worker.terminate()
                worker.join()
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def _client(address: str) -> Iterator[Any]:
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise ClusterError(NO_CLUSTER) from None
    try:
        client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError, AssertionError) as problem:
        # the package asserts that its own event loop has begun within ten seconds
        raise ClusterError(f"no cluster answers at {address!r} ({type(problem).__name__}). Start "
                           "one with dask-scheduler and dask-worker, and give the scheduler's "
                           "address, such as tcp://host:8786") from None
    try:
        yield client
    except distributed.KilledWorker:
        raise ClusterError(KILLED) from None
    except Exception:
        # whatever a call met: with the scheduler gone that is the cause
        if client.status != "running":
            raise ClusterError(SCHEDULER_GONE) from None
        raise
    finally:
        client.close()


@dataclass
class Watch:
    """Called while results are waited for: raises where none can come any more."""

    client: Any
    alone_since: float | None = None

    def __call__(self) -> None:
        """Ask the scheduler who works.

        Raises
        ------
        ClusterError
            If the scheduler does not answer, or nobody has worked for :data:`PATIENCE`.
        """
        try:
            working = self.client.sync(self.client.scheduler.ncores, callback_timeout=PATIENCE)
        except (OSError, TimeoutError):
            raise ClusterError(SCHEDULER_GONE) from None
        if working:
            self.alone_since = None
        elif self.alone_since is None:
            self.alone_since = time.monotonic()
        elif time.monotonic() - self.alone_since > PATIENCE:
            raise ClusterError(WORKERS_GONE.format(PATIENCE))


@contextmanager
def cluster_workers(address: str) -> Iterator[tuple[Executor, int, Watch]]:
    """Workers of a running cluster by its scheduler's address, how many, and who looks after them.

    A worker that dies is made up for: its chunks are done again by others.

    Raises
    ------
    ClusterError
        If the package is not installed, nobody answers at the address, or nobody works there; or
        the scheduler, or every worker, is gone before the work is done.
    """
    with _client(address) as client:
        threads = client.nthreads()
        if not threads:
            raise ClusterError(f"the cluster at {address!r} has no workers: start some with "
                               f"dask-worker {address}")
        yield client.get_executor(retries=3), sum(threads.values()), Watch(client)


@dataclass(frozen=True, kw_only=True)
class Hands:
    """Who does the work, how many they are, and, where they may all go, what is called now and
    then while results are waited for: it raises where none can come any more."""

    workers: Executor
    count: int = 1
    watch: Callable[[], None] | None = None


@contextmanager
def hired(*, processes: int = 1, cluster: str | None = None) -> Iterator[Hands]:
    """Processes on this machine, or in their place the cluster at an address.

    Raises
    ------
    ClusterError
        As :func:`cluster_workers`.
    """
    if cluster is None:
        with local_workers(processes) as workers:
            yield Hands(workers=workers, count=processes)
        return
    with cluster_workers(cluster) as (workers, count, watch):
        yield Hands(workers=workers, count=count, watch=watch)


def slow_workers(address: str) -> list[str]:
    """Workers of a cluster whose launcher makes every temporary array a fresh one, see TRIM.

    Raises
    ------
    ClusterError
        As :func:`cluster_workers`.
    """
    with _client(address) as client:
        told = client.run(os.getenv, TRIM)
    return sorted(worker for worker, value in told.items() if value not in (None, "-1"))
