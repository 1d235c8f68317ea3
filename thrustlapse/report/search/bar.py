"""How far a search is: a bar with rate and time left, on a terminal only."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(terminal: bool) -> Iterator[Callable[[int, int], None] | None]:
    """A bar that counts operating points; nothing where nobody looks.

    What an earlier run had done already counts as done, and not for the rate.
    """
    if not terminal:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(TextColumn("searching"), BarColumn(), TextColumn("{task.percentage:.0f} %"),
                   TextColumn("{task.fields[rate]}"), TimeRemainingColumn(),
                   console=Console(stderr=True))
    with bar:
        task = bar.add_task("searching", total=None, rate="")

        def tell(done: int, total: int) -> None:
            speed = bar.tasks[task].finished_speed or bar.tasks[task].speed
            bar.update(task, total=total, completed=done,
                       rate=f"{speed:,.0f} points/s" if speed else "")

        yield tell
