"""Pieces of a sizing study, in order: worked out by whoever is at hand, or read where an earlier
run left them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

from thrustlapse.arrays import IntArray
from thrustlapse.study.chunk_folder import Arrays, ChunkFolder, Form
from thrustlapse.study.hand_out import hand_out
from thrustlapse.study.workers import Hands


@dataclass(frozen=True, kw_only=True)
class Task:
    """A call that gives arrays of a form; whose it is, for which points, and how much work."""

    call: partial[Arrays]
    form: Form
    name: str
    points: IntArray
    size: int


class Done(NamedTuple):
    """What a task gave, whose it is and for which points."""

    name: str
    points: IntArray
    found: Arrays


class Work:
    """Who does the work, and where its pieces are kept, if anywhere.

    A piece is known by its place in the order in which pieces are asked for, which depends on the
    study alone; so an interrupted one finds its own again.
    """

    def __init__(self, hands: Hands, folder: ChunkFolder | None = None) -> None:
        self.hands, self.folder = hands, folder
        self.begun = 0

    def done(self, tasks: Iterable[Task], tell: Callable[[str, int], None] | None = None
             ) -> list[Done]:
        """What tasks give, in their order; each is on disk as soon as it is done.

        Tasks are drawn only when somebody is free; ``tell(name, size)`` is called as each ends.
        """
        results: dict[int, Done] = {}

        def keep(number: int, task: Task, found: Arrays) -> None:
            results[number] = Done(task.name, task.points, found)
            if tell:
                tell(task.name, task.size)

        def take(key: tuple[int, Task], found: Arrays) -> None:
            if self.folder is not None:
                self.folder.write(key[0], found)
            keep(*key, found)

        def missing() -> Iterator[tuple[tuple[int, Task], partial[Arrays]]]:
            for task in tasks:
                number, self.begun = self.begun, self.begun + 1
                known = None if self.folder is None else self.folder.read(number, task.form)
                if known is None:
                    yield (number, task), task.call
                else:
                    keep(number, task, known)

        hand_out(missing(), self.hands, take)
        return [results[number] for number in sorted(results)]
