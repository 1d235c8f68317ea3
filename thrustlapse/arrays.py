"""Array types shared by every physics function, and the two ways to slice a tree of parts.

Physics here is elementwise: a component is a frozen dataclass whose numeric fields are scalars
or arrays that broadcast against the operating points. A solver that works through a large
batch in chunks needs the same component for some of its elements; :func:`take` gives it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
Values = float | Array
"""What a physics function takes: a float or an array of floats; lists are for the front door."""

Part = TypeVar("Part")

# Given back at once, untouched: from then on glibc keeps freed memory of up to twice this size
# instead of returning each temporary array to the kernel and asking anew (mallopt(3), "dynamic
# mmap threshold", at most 32 MiB). A third of the time of a batch; without effect elsewhere.
np.empty(31 * 2**17)

FIXED = {"per_element": False}
"""Field metadata for arrays that are a table of the part itself, not one value per element."""


def plain(value: Any) -> Any:
    """A single number as a float, which sentences can print; arrays as they are."""
    return float(value) if np.ndim(value) == 0 else np.asarray(value)


@cache
def _per_element(kind: type) -> tuple[str, ...] | None:
    """Fields of a kind of part that have one value per element; None if it is no dataclass."""
    return tuple(field.name for field in fields(kind) if field.init and field.metadata.get(
        "per_element", True)) if is_dataclass(kind) else None


def some(mask: Any) -> bool:
    """Whether anything in a mask, or in numbers, is true: ``np.any`` in a tenth of its time."""
    return bool(np.count_nonzero(mask))


def in_shape(value: Any, shape: tuple[int, ...]) -> Any:
    """An array of a shape as it is, and anything else broadcast to it."""
    return value if np.shape(value) == shape else np.broadcast_to(value, shape)


def numeric_leaves(part: Any) -> Iterator[Array]:
    """Every numeric array or scalar below ``part`` that has one value per element."""
    if isinstance(part, float | np.ndarray | np.generic):
        yield np.asarray(part)
    else:
        for name in _per_element(part.__class__) or ():
            yield from numeric_leaves(getattr(part, name))


def batch_shape(*parts: Any) -> tuple[int, ...]:
    """Shape to which all numeric fields of the given parts broadcast.

    Raises
    ------
    ValueError
        If they do not broadcast against each other.
    """
    shapes = {leaf.shape for part in parts for leaf in numeric_leaves(part)}
    return np.broadcast_shapes(*shapes) if shapes else ()


def take(part: Part, shape: tuple[int, ...], index: slice | BoolArray | IntArray) -> Part:
    """Same part for some elements of a batch of ``shape``, flattened to one axis.

    Scalars stay scalars (they broadcast anyway); arrays become one-dimensional.
    """
    return _take(part, shape, index)  # type: ignore[no-any-return]


def _take(part: Any, shape: tuple[int, ...], index: Any) -> Any:
    if isinstance(part, np.ndarray):
        if part.ndim == 0 or part.size == 1:
            return float(part.reshape(()))
        if part.shape == shape and part.ndim == 1:
            return part[index]
        return np.broadcast_to(part, shape).reshape(-1)[index]
    names = None if isinstance(part, float) else _per_element(part.__class__)
    if names is None:
        return part
    changed = {}
    for name in names:
        old = getattr(part, name)
        new = _take(old, shape, index)
        if new is not old:
            changed[name] = new
    return replace(part, **changed) if changed else part
