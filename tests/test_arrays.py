"""Slicing a tree of parts: batch shape, chunks, tables that belong to a part, counts and words."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.arrays import FIXED, batch_shape, numeric_leaves, take


@dataclass(frozen=True, kw_only=True)
class Inner:
    area: object = 0.002
    loss: object = 0.11
    table: object = field(default_factory=lambda: np.array([1.0, 2.0, 4.0]), metadata=FIXED)
    built: int = field(default=0, init=False)


@dataclass(frozen=True, kw_only=True)
class Outer:
    nozzle: Inner
    voltage: object = 22.2
    count: int = 2
    name: str = "left"
    reversed: bool = False
    spare: object = None


def test_scalars_have_no_shape():
    assert batch_shape() == ()
    assert batch_shape(Outer(nozzle=Inner())) == ()
    assert batch_shape(Outer(nozzle=Inner()), np.float64(3.0), 7) == ()


def test_shape_of_a_batch_is_the_broadcast_of_its_fields():
    """Samples first, airspeed last; a part's own table, counts and words are no axis."""
    machine = Outer(nozzle=Inner(area=np.full((4, 1), 0.002)), voltage=np.linspace(18, 25, 3))
    assert batch_shape(machine) == (4, 3)
    assert batch_shape(machine, np.zeros((5, 1, 1))) == (5, 4, 3)
    assert batch_shape(Outer(nozzle=Inner(area=np.array([])))) == (0,)
    leaves = list(numeric_leaves(machine))
    assert sorted(leaf.shape for leaf in leaves) == [(), (3,), (4, 1)]


def test_fields_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match="broadcast"):
        batch_shape(Outer(nozzle=Inner(area=np.zeros(3)), voltage=np.zeros(4)))


def test_taking_keeps_scalars_tables_counts_and_words():
    machine = Outer(nozzle=Inner(area=np.array([1.0, 2.0, 3.0, 4.0])), voltage=np.array([20.0]))
    some = take(machine, (4,), np.array([True, False, False, True]))
    np.testing.assert_array_equal(some.nozzle.area, [1.0, 4.0])
    assert isinstance(some.voltage, float)
    assert some.voltage == 20.0
    assert some.nozzle.loss == 0.11
    assert some.nozzle.table is machine.nozzle.table
    assert (some.count, some.name, some.reversed, some.spare) == (2, "left", False, None)


def test_taking_from_a_machine_of_scalars_is_that_machine():
    machine = Outer(nozzle=Inner())
    assert take(machine, (5,), slice(1, 3)) is machine


@pytest.mark.parametrize("index", [slice(None), slice(2, 7), slice(4, 4), slice(0, 12, 5),
                                   np.array([11, 0, 3]), np.arange(12) % 3 == 1,
                                   np.zeros(12, dtype=bool)],
                         ids=["all", "some", "none", "strided", "integers", "mask", "empty mask"])
@pytest.mark.parametrize("shape", [(12,), (4, 3), (3, 1, 4)])
def test_taking_is_flattening_and_indexing(index, shape):
    """Whatever the axes, element k of the taken part is element index[k] of the flat batch."""
    full = np.arange(12.0).reshape(shape) + 0.5
    last = np.linspace(1.0, 2.0, shape[-1])
    first = np.linspace(5.0, 6.0, shape[0]).reshape(-1, *(1,) * (len(shape) - 1))
    taken = take(Outer(nozzle=Inner(area=full, loss=first), voltage=last), shape, index)
    for value, original in ((taken.nozzle.area, full), (taken.nozzle.loss, first),
                            (taken.voltage, last)):
        wanted = np.broadcast_to(original, shape).ravel()[index]
        np.testing.assert_array_equal(value, wanted)


@given(sizes=st.tuples(st.integers(1, 4), st.integers(2, 5)), chunk=st.integers(1, 7))
def test_chunks_put_together_are_the_batch(sizes, chunk):
    """Working through a batch in chunks changes nothing."""
    rows, columns = sizes
    machine = Outer(nozzle=Inner(area=np.linspace(1.0, 2.0, rows)[:, None]),
                    voltage=np.geomspace(3.0, 50.0, columns))
    whole = np.broadcast_to(machine.nozzle.area * machine.voltage, sizes).ravel()
    pieces = []
    for start in range(0, rows * columns, chunk):
        part = take(machine, sizes, slice(start, start + chunk))
        length = min(chunk, rows * columns - start)
        pieces.append(np.broadcast_to(part.nozzle.area * part.voltage, (length,)))
    np.testing.assert_array_equal(np.concatenate(pieces), whole)


def test_taking_does_not_touch_what_it_takes_from():
    voltage = np.array([10.0, 20.0, 30.0])
    machine = Outer(nozzle=Inner(), voltage=voltage)
    take(machine, (3,), np.array([2, 0])).voltage[:] = -1.0
    np.testing.assert_array_equal(voltage, [10.0, 20.0, 30.0])
    assert replace(machine, count=3).voltage is voltage
