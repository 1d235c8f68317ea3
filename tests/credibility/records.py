"""A check against the outside world as a record, which the tests hold and the page prints.

    @authority(part="gas", what="worked nozzles", source="textbooks, named in each row",
               status="worked")
    def test_worked_nozzle():
        '''Sixteen textbook nozzles.'''
        for row in rows("nozzle_examples"):
            yield from agree(f"{row} exit speed", ours, row["V_exit_m_s"], unit="m/s",
                             within=row.half_unit("V_exit_m_s"), why=PRINTED, source=row["source"])

The decorated function is an ordinary test that fails when any of its records does, and the same
records make ``reports/credibility`` (``python -m tests.credibility``): neither can drift from the
other. A number this package produced is never ``theirs``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache, cached_property

import numpy as np

from tests.credibility.parts import PARTS

PRINTED = "half a unit of the last printed digit"
"""The usual reason of a tolerance."""

STATUSES = ("published", "worked", "closed form", "independent", "common practice", "memory")
"""What a value of the outside world is worth.

published: read in a source, often measured; worked: a book's worked example, or its inputs and
formula with the answer evaluated from them; closed form: a cited formula evaluated; independent: a
case solved by another program or library; common practice: what the trade does, no source; memory.
"""

KINDS = {
    "measured": "predictions of measured things",
    "printed": "printed answers of others",
    "closed form": "closed forms",
    "shared": "shared formulas: the same formula or coefficients on both sides, or a form that was "
              "fitted to the very numbers",
    "memory": "memory and common practice"}
"""What kind of knowledge a record rests on, what says most first.

Only the first predicts something that was measured; the others say that the arithmetic is right.
"""

KIND_OF_STATUS = {"published": "printed", "worked": "printed", "independent": "printed",
                  "closed form": "closed form", "memory": "memory", "common practice": "memory"}
"""The kind of a record whose group names none."""

LETTERS = {"R": "published", "R2": "published", "D": "published", "C": "worked", "F": "worked",
           "X": "closed form", "T": "independent", "M": "memory"}
"""Statuses of ``tests/authority.py`` in these words; the weakest letter of several counts."""

ROUND_OFF = 1.0 + 1e-9
"""Factor on every tolerance, so that a value on the very edge of a printed digit is inside."""


def status_of(letters: str) -> str:
    """The word for ``R``, ``C`` or ``C+X``."""
    return max((LETTERS[letter] for letter in letters.split("+")), key=STATUSES.index)


@dataclass(frozen=True, kw_only=True)
class Check:
    """One number of ours beside one of the outside world's.

    ``known_miss`` is the reason of a number that is known to be outside its tolerance: it is shown
    as a miss, and the test fails when it no longer is one. ``fact`` names the outside fact: records
    of one group with the same one are columns of one line, and count once.
    """

    what: str
    ours: float
    theirs: float
    tolerance: float
    why: str
    unit: str = ""
    source: str = ""
    status: str = ""
    known_miss: str = ""
    fact: str = ""

    @property
    def difference(self) -> float:
        return self.ours - self.theirs

    @property
    def passed(self) -> bool:
        return bool(abs(self.difference) <= self.tolerance * ROUND_OFF)

    @property
    def used(self) -> float:
        """Share of the tolerance that the difference uses up [-]."""
        return (abs(self.difference) / self.tolerance if self.tolerance > 0.0
                else 0.0 if self.passed else np.inf)


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Measured and predicted values of one quantity of one machine, for figure and headline.

    Pairs of a quantity are drawn in the panel of their ``family``, over the largest measured value.
    """

    series: str
    quantity: str
    measured: np.ndarray
    predicted: np.ndarray
    source: str = ""
    family: str = ""

    @property
    def apart(self) -> np.ndarray:
        """Predicted less measured, over the largest measured value [-]."""
        return np.asarray((self.predicted - self.measured) / np.abs(self.measured).max())

    @property
    def rms(self) -> float:
        """Root-mean-square difference over the largest measured value [-]."""
        return float(np.sqrt(np.mean(np.square(self.apart))))


Records = Iterator[Check | Pair]


@dataclass(frozen=True, kw_only=True)
class Group:
    """The records that one test yields."""

    part: str
    what: str
    source: str
    status: str
    name: str
    note: str
    records: Callable[[], Records] = field(repr=False)
    kind: str = ""

    def kind_of(self, check: Check) -> str:
        """The kind of one of its records."""
        return self.kind or KIND_OF_STATUS[check.status]

    @cached_property
    def yielded(self) -> tuple[Check | Pair, ...]:
        return tuple(
            replace(one, source=one.source or self.source, status=one.status or self.status)
            if isinstance(one, Check) else replace(one, source=one.source or self.source)
            for one in self.records())

    @property
    def checks(self) -> tuple[Check, ...]:
        return tuple(one for one in self.yielded if isinstance(one, Check))

    @property
    def pairs(self) -> tuple[Pair, ...]:
        return tuple(one for one in self.yielded if isinstance(one, Pair))

    def hold(self) -> None:
        """Fail, naming every record that is not as it should be."""
        assert self.checks, "no record: a check that cannot fail"
        wrong = [one for one in self.checks if one.passed == bool(one.known_miss)]
        told = [f"{one.what}: ours {one.ours:.9g}, theirs {one.theirs:.9g} {one.unit}, apart "
                f"{one.difference:.3g}, allowed {one.tolerance:.3g}"
                + (f" (no longer a miss: {one.known_miss})" if one.known_miss else "")
                for one in wrong[:12]]
        assert not wrong, f"{len(wrong)} of {len(self.checks)}:\n" + "\n".join(told)
        unknown = {one.status for one in self.checks} - set(STATUSES)
        assert not unknown, unknown
        assert all(one.why and len(one.source) > 3 for one in self.checks)


REGISTER: dict[tuple[str, str], Group] = {}


def authority(*, part: str, what: str, source: str, status: str, kind: str = "",
              ) -> Callable[[Callable[[], Records]], Callable[[], None]]:
    """Make a test of a function that yields records, and keep it for the page.

    ``kind`` is one of :data:`KINDS` where the status does not tell it.
    """
    assert part in PARTS, part
    assert kind in ("", *KINDS), kind
    assert status in STATUSES, status

    def keep(records: Callable[[], Records]) -> Callable[[], None]:
        group = Group(part=part, what=what, source=source, status=status,
                      name=f"{records.__module__}:{records.__qualname__}",
                      note=" ".join((records.__doc__ or "").split()), records=cache_of(records),
                      kind=kind)
        REGISTER[records.__module__, records.__qualname__] = group

        def test() -> None:
            group.hold()

        test.__name__, test.__qualname__ = records.__name__, records.__qualname__
        test.__module__, test.__doc__ = records.__module__, records.__doc__
        return test

    return keep


def cache_of(records: Callable[[], Records]) -> Callable[[], Records]:
    """The records of a test, worked out once."""
    once = cache(lambda: tuple(records()))
    return lambda: iter(once())


def agree(what: str, ours: object, theirs: object, *, why: str, within: object = 0.0,
          share: object = 0.0, unit: str = "", at: object = None, source: str = "",
          status: str = "", known_miss: str = "", fact: str = "") -> Iterator[Check]:
    """Records of one number, or of arrays of them.

    The tolerance of each is the larger of ``within`` (in its own unit) and ``share`` of theirs;
    ``at`` holds what to call each element, and is the fact it belongs to. Elements without a value
    of theirs (NaN) are left out.
    """
    mine, printed, absolute, relative = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (ours, theirs, within, share)))
    called = np.broadcast_to(np.asarray("" if at is None else at, dtype=object), mine.shape)
    for place in np.ndindex(mine.shape):
        if np.isnan(printed[place]):
            continue
        allowed = max(absolute[place], relative[place] * abs(printed[place]))
        yield Check(what=f"{what} {called[place]}".strip(), ours=float(mine[place]),
                    theirs=float(printed[place]), tolerance=float(allowed), why=why, unit=unit,
                    source=source, status=status, known_miss=known_miss,
                    fact=str(called[place]) or fact or what)


def between(what: str, ours: object, low: float, high: float, *, why: str, unit: str = "",
            **words: str) -> Iterator[Check]:
    """A record of a number that must lie in a range: theirs is the middle of it."""
    yield from agree(what, ours, 0.5 * (low + high), within=0.5 * (high - low), why=why,
                     unit=unit, **words)


def digits(row: object, column: str, ours: object, *, what: str = "", unit: str = "",
           times: float = 1.0, why: str = PRINTED, source: str = "", status: str = "",
           ) -> Iterator[Check]:
    """A record of one cell of an authority table, to ``times`` half a unit of its last digit."""
    yield from agree(what or f"{row} {column}", ours, row[column], unit=unit,
                     within=times * row.half_unit(column), why=why, source=source, status=status,
                     fact=str(row))
