"""Designs by number: each once, the same whoever asks, and chunk bounds that depend on nothing."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tests.searches import SAMPLED, chunks_of, designs
from thrustlapse.designs.spec import Axis, Chunk, SearchSpec, chunks


def axis(name: str, values: list[float], **more: object) -> Axis:
    return Axis(name=name, keys=(name,), kind="length", unit="m", values=np.array(values),
                **more)  # type: ignore[arg-type]


def spec(*axes: Axis, samples: int = 0) -> SearchSpec:
    return SearchSpec(candidates={"a": "blower"}, axes=axes, airspeed=np.array([0.0, 5.0]),
                      answers=("installed_thrust",), best="installed_thrust", samples=samples)


def test_every_combination_is_there_once_and_slow_axes_vary_slowest() -> None:
    asked = spec(axis("x", [1.0, 2.0, 3.0], owner="a"),
                 axis("y", [7.0, 8.0], owner="a", slow=True))
    found = asked.designs("a")
    assert found.count == 6
    table = found.values(np.arange(6))
    assert table["y"].tolist() == [7.0, 7.0, 7.0, 8.0, 8.0, 8.0]
    assert table["x"].tolist() == [1.0, 2.0, 3.0] * 2


def test_a_candidate_has_no_axes_of_another() -> None:
    asked = spec(axis("x", [1.0, 2.0], owner="b"), axis("z", [3.0, 4.0, 5.0]))
    assert asked.designs("a").count == 3
    assert asked.cells == (3,)


@given(first=st.integers(0, 63), count=st.integers(1, 40))
def test_a_stretch_of_samples_is_what_it_is_in_the_whole(first: int, count: int) -> None:
    asked = spec(axis("x", [1.0, 2.0], owner="a", sampled=True),
                 axis("y", [0.0, 9.0], owner="a", sampled=True),
                 axis("g", [1.0, 2.0], owner="a"), samples=64)
    found = asked.designs("a")
    whole = found.values(np.arange(found.count))
    rows = np.arange(first, min(first + count, found.count))
    part = found.values(rows)
    for name in ("x", "y", "g"):
        assert np.array_equal(part[name], whole[name][rows])


def test_samples_are_evenly_spread() -> None:
    """A Sobol set of 64 has one point in each 64th of every axis (its definition: a (t, m, s)-net
    in base 2, stratified in every single dimension)."""
    asked = spec(axis("x", [0.0, 1.0], owner="a", sampled=True),
                 axis("y", [0.0, 1.0], owner="a", sampled=True), samples=64)
    values = asked.designs("a").values(np.arange(64))
    for name in ("x", "y"):
        assert np.array_equal(np.sort(np.floor(64.0 * values[name])), np.arange(64))


@given(points=st.integers(1, 100_000), designs=st.integers(1, 200_000))
def test_chunks_cover_all_designs_in_order(points: int, designs: int) -> None:
    asked = spec(axis("x", np.linspace(0.0, 1.0, designs).tolist(), owner="a"))
    found = chunks(asked, points)
    assert found[0].start == 0
    assert found[-1].stop == designs
    assert all(one.stop == two.start for one, two in pairwise(found))
    assert [one.number for one in found] == list(range(len(found)))


def test_the_cells_of_designs_are_their_shared_values() -> None:
    made = designs()
    rows = np.arange(made.spec.designs("blower").count)
    cells = made.spec.designs("blower").cells(rows, made.spec.shared)
    power = made.spec.designs("blower").values(rows)["power"]
    assert np.array_equal(np.array([200.0, 400.0])[cells], power)


def test_shared_samples_are_no_cells() -> None:
    made = designs(SAMPLED)
    assert made.spec.cells == ()
    assert all(isinstance(one, Chunk) for one in chunks_of(made.spec))
