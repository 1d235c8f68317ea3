"""What every command has that works long: who does it, going on where it stopped, and what it says
when it is stopped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import click

from thrustlapse.commands.console import say, stop

INTERRUPTED = 130
"""Exit code after the person's own interruption, as shells have it."""

Command = TypeVar("Command", bound=Callable[..., Any])

_OPTIONS = (
    click.option("--processes", type=click.IntRange(1, 512), default=1, show_default=True,
                 help="Worker processes on this machine"),
    click.option("--cluster", metavar="ADDRESS", default=None,
                 help="Scheduler of a running cluster, such as tcp://host:8786, in their place"),
    click.option("--resume", is_flag=True, help="Go on with what is in the folder"))


def worker_options(command: Command) -> Command:
    """Give a command the options ``processes``, ``cluster`` and ``resume``."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@contextmanager
def long_work(again: str, *, processes: int, cluster: str | None) -> Iterator[None]:
    """Within it, a folder or cluster that cannot be used, and the person's own interruption, stop
    the command in words; ``again`` is the command that goes on."""
    if cluster is not None and processes != 1:
        stop("--processes and --cluster: give one of them")
    from thrustlapse.report.atomic_write import ReportError
    from thrustlapse.study.chunk_folder import StoreError
    from thrustlapse.study.workers import TRIM, ClusterError, slow_workers

    try:
        if cluster is not None and (slow := slow_workers(cluster)):
            say(f"{len(slow)} workers give freed memory back at once and will be several times "
                f"slower: start them with {TRIM}=-1", err=True)
        yield
    except (StoreError, ClusterError, ReportError) as error:
        stop(str(error))
    except KeyboardInterrupt:
        say(f"\ninterrupted; what is done is kept. Go on with: {again}", err=True)
        raise SystemExit(INTERRUPTED) from None
