"""Array types shared by every physics function, and the two ways to slice a tree of parts.

Physics here is elementwise: a component is a frozen dataclass whose numeric fields are scalars
or arrays that broadcast against the operating points. A solver that works through a large
batch in chunks needs the same component for some of its elements; :func:`take` gives it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
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


def numeric_leaves(part: Any) -> Iterator[Array]:
    """Every numeric array or scalar below ``part`` that has one value per element."""
    if isinstance(part, bool | str | int) or part is None:
        return
    if isinstance(part, float | np.ndarray | np.generic):
        yield np.asarray(part)
    elif is_dataclass(part) and not isinstance(part, type):
        for field in fields(part):
            if field.metadata.get("per_element", True):
                yield from numeric_leaves(getattr(part, field.name))


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
        return np.broadcast_to(part, shape).flat[index]
    if is_dataclass(part) and not isinstance(part, type):
        changed = {}
        for field in fields(part):
            if not field.init or not field.metadata.get("per_element", True):
                continue
            old = getattr(part, field.name)
            new = _take(old, shape, index)
            if new is not old:
                changed[field.name] = new
        return replace(part, **changed) if changed else part
    return part
