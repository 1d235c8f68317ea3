"""The uncertainty and the flights of a comparison as JSON, and back.

Field names are those of :mod:`thrustlapse.study.uncertain` and
:mod:`thrustlapse.study.flight_study_record`; everything is SI, shares are of 1. The
draws are not kept: seed and scenario make them anew.
"""

from __future__ import annotations

import math
import types
import typing
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

import numpy as np


def plain_record(value: Any) -> Any:
    """Nested records, arrays and numbers as JSON has them; NaN is null, infinities are words."""
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain_record(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, dict):
        return {name: plain_record(item) for name, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain_record(item) for item in value]
    if isinstance(value, np.ndarray):
        return plain_record(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else str(value)
    return value


def record_of(value: Any, kind: Any) -> Any:
    """The value of a declared type that :func:`plain_record` wrote."""
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if origin is types.UnionType:
        if value is None:
            return None
        return record_of(value, next(one for one in inside if one is not type(None)))
    if is_dataclass(kind):
        kinds = typing.get_type_hints(kind)
        return kind(**{item.name: record_of(value[item.name], kinds[item.name])  # type: ignore[operator]
                       for item in fields(kind)
                       if item.name in value or item.default_factory is MISSING})
    if origin is dict:
        return {name: record_of(item, inside[1]) for name, item in value.items()}
    if origin is tuple:
        return tuple(record_of(item, inside[0]) for item in value)
    if origin is np.ndarray:
        return np.array([math.nan if item is None else float(item) for item in value])
    if kind is float:
        return math.nan if value is None else float(value)
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} where {kind.__name__} is expected")
    return value
