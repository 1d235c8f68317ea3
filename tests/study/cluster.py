"""A cluster of worker processes on this machine, for tests."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from thrustlapse.study.workers import NO_CLUSTER, ONE_THREAD, TRIM, ClusterError


@contextmanager
def local_cluster(workers: int) -> Iterator[str]:
    """A cluster of real worker processes on this machine, set up as work of our kind wants it.

    One thread each, one linear-algebra thread, and no trimming of freed memory. Gives the
    scheduler's address.
    """
    try:
        dask: Any = import_module("dask")
        distributed: Any = import_module("distributed")
    except ImportError:
        raise ClusterError(NO_CLUSTER) from None
    environment = {"distributed.nanny.pre-spawn-environ": {
        **dict.fromkeys(ONE_THREAD, "1"), TRIM: "-1"}}
    with dask.config.set(environment), distributed.LocalCluster(
            n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None,
            silence_logs=50) as cluster:
        yield cluster.scheduler_address
