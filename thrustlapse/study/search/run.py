"""Working a search through: chunk by chunk, by whoever is at hand, into its store."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from thrustlapse.designs.answers import points_per_design
from thrustlapse.designs.design_batch import Machines
from thrustlapse.designs.spec import Chunk, SearchSpec
from thrustlapse.study.hand_out import hand_out
from thrustlapse.study.search.evaluate import Evaluated, evaluate
from thrustlapse.study.search.store import Store
from thrustlapse.study.workers import Hands

Tell = Callable[[int, int], None]
"""Called with operating points done and in all."""


def points(spec: SearchSpec, chunk: Chunk) -> int:
    """Operating points of a chunk, about."""
    return (chunk.stop - chunk.start) * points_per_design(spec.airspeed.size, spec.answers)


def run_search(machines: Machines, store: Store, hands: Hands, *, tell: Tell | None = None) -> None:
    """Work out what a store still lacks.

    Parameters
    ----------
    machines : Machines
        Must pickle where workers are other processes
    store : Store
    hands : Hands
        Who does it
    tell : callable, optional
        Called whenever a chunk is done

    Raises
    ------
    StoreError
        If a chunk cannot be written, or a worker died; what is done is kept.
    """
    spec = store.spec
    missing = store.missing()
    total = sum(points(spec, chunk) for chunk in store.chunks)
    done = total - sum(points(spec, chunk) for chunk in missing)

    def take(chunk: Chunk, result: Evaluated) -> None:
        nonlocal done
        store.write(chunk, result)
        done += points(spec, chunk)
        if tell:
            tell(done, total)

    if tell:
        tell(done, total)
    hand_out(((chunk, partial(evaluate, machines, spec, chunk)) for chunk in missing), hands, take)
