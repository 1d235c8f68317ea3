"""What a search found, gathered chunk by chunk: the best of each candidate, and the front.

Nothing here holds more than one chunk and the answer itself, whatever the size of the search.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import Chunk, Designs, SearchSpec
from thrustlapse.study.search.bits import ALWAYS, BITS, mask
from thrustlapse.study.search.evaluate import Evaluated
from thrustlapse.study.search.pareto import on_front

NONE = -1
"""Design number where no design counts."""


@dataclass(kw_only=True)
class Envelope:
    """Best designs of one candidate.

    ``value`` and ``row`` per cell of the shared axes (rows) and airspeed (columns; a single one
    where the answer is of the design alone): the best answer, in the sense "more is better", and
    the number of the design that gives it; ``short`` where that design does not draw the power all
    are held to. ``front_rows`` and ``front_values`` are the front so
    far. ``counted`` is how many combinations of design and airspeed were worked out, ``left`` how
    many of them count, ``causes`` how often each cause held.
    """

    value: Array
    row: IntArray
    short: BoolArray
    front_rows: IntArray
    front_values: Array
    counted: int = 0
    left: int = 0
    causes: dict[str, int] = field(default_factory=dict)


class Gatherer:
    """Takes chunks in, gives envelopes out."""

    def __init__(self, spec: SearchSpec) -> None:
        self.spec = spec
        self.masked = mask({*ALWAYS, *spec.leave_out})
        self.designs: dict[str, Designs] = {name: spec.designs(name) for name in spec.candidates}
        cells = int(np.prod(spec.cells, dtype=int))
        columns = spec.airspeed.size if ANSWERS[spec.best].at_airspeed else 1
        self.envelopes = {name: Envelope(
            value=np.full((cells, columns), -np.inf), row=np.full((cells, columns), NONE),
            short=np.zeros((cells, columns), dtype=bool),
            front_rows=np.zeros(0, dtype=np.int64), front_values=np.zeros((0, len(spec.front))))
            for name in spec.candidates}
        self.column = int(np.argmin(np.abs(spec.airspeed - spec.front_airspeed)))

    def take(self, chunk: Chunk, result: Evaluated) -> None:
        """Add a chunk; chunks of a candidate come in order."""
        envelope = self.envelopes[chunk.candidate]
        rows = np.arange(chunk.start, chunk.stop, dtype=np.int64)
        self._best(envelope, chunk.candidate, rows, result)
        self._front(envelope, rows, result)
        envelope.counted += result.causes.size
        envelope.left += int(np.count_nonzero((result.causes & self.masked) == 0))
        for name, bit in BITS.items():
            count = int(np.count_nonzero(result.causes & bit))
            if count:
                envelope.causes[name] = envelope.causes.get(name, 0) + count

    def _counts(self, result: Evaluated, name: str) -> tuple[Array, BoolArray]:
        """An answer as a table with more being better, and which entries count."""
        answer = ANSWERS[name]
        value = result.answers[name] * (1.0 if answer.more_is_better else -1.0)
        causes = result.causes if answer.at_airspeed else result.design_causes
        good = ((causes & self.masked) == 0) & np.isfinite(value)
        if not answer.at_airspeed:
            return value[:, None], good[:, None]
        return value, good

    def _best(self, envelope: Envelope, candidate: str, rows: IntArray,
              result: Evaluated) -> None:
        value, good = self._counts(result, self.spec.best)
        value = np.where(good, value, -np.inf)
        cell = self.designs[candidate].cells(rows, self.spec.shared)
        best = envelope.value.copy()
        np.maximum.at(best, cell, value)
        better = best > envelope.value
        place, column = np.nonzero((value == best[cell]) & better[cell])
        row = np.where(better, np.iinfo(np.int64).max, envelope.row)
        np.minimum.at(row, (cell[place], column), rows[place])
        envelope.value, envelope.row = best, row
        chosen = rows[place] == row[cell[place], column]
        place, column = place[chosen], column[chosen]
        envelope.short[cell[place], column] = (result.causes[place, column]
                                               & BITS["power not reached"]) != 0

    def _front(self, envelope: Envelope, rows: IntArray, result: Evaluated) -> None:
        if not self.spec.front:
            return
        columns, good = [], np.ones(rows.size, dtype=bool)
        for name in self.spec.front:
            value, counts = self._counts(result, name)
            at = self.column if value.shape[1] > 1 else 0
            columns.append(value[:, at])
            good &= counts[:, at]
        table = np.stack(columns, axis=1)
        pick = np.flatnonzero(good)
        pick = pick[on_front(table[pick])]
        merged = np.concatenate([envelope.front_values, table[pick]])
        numbers = np.concatenate([envelope.front_rows, rows[pick]])
        kept = on_front(merged)
        envelope.front_values, envelope.front_rows = merged[kept], numbers[kept]
