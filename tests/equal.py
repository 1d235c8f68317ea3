"""Whether two results are the same, NaN equal to NaN."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np


def equal_results(first: Any, second: Any) -> bool:
    """Whether two results (records, arrays, numbers) are the same, NaN equal to NaN."""
    if isinstance(first, float) and isinstance(second, float):
        return first == second or (first != first and second != second)
    if type(first) is not type(second):
        return False
    if is_dataclass(first):
        return all(equal_results(getattr(first, item.name), getattr(second, item.name))
                   for item in fields(first))
    if isinstance(first, np.ndarray):
        return (first.dtype == second.dtype and first.shape == second.shape
                and np.array_equal(first, second, equal_nan=first.dtype.kind == "f"))
    if isinstance(first, dict):
        return list(first) == list(second) and all(equal_results(first[name], second[name])
                                                   for name in first)
    if isinstance(first, tuple | list):
        return len(first) == len(second) and all(map(equal_results, first, second))
    return bool(first == second)
