"""Records as JSON, and back by their declared types.

NaN is ``null`` and infinities are words; a NaN where ``null`` means "not asked for" is ``"nan"``.
"""

from __future__ import annotations

import json
import math
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from functools import cache
from typing import Any

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Code:
    """A field kept as numbers: the word it is written under, how it is written and read."""

    word: str
    write: Callable[[Any], Any]
    read: Callable[[Any], Any]


@dataclass(frozen=True, kw_only=True)
class Form:
    """How records are written.

    ``key`` makes a key of a field's name. Fields in ``within`` have a form of their own, those in
    ``opened`` lie open in their owner's record. ``beside`` is what the reader finds beside the
    fields of a type, by name; it is not read back.
    """

    key: Callable[[str], str] = str
    codes: Mapping[str, Code] = field(default_factory=dict)
    within: Mapping[str, Form] = field(default_factory=dict)
    opened: tuple[str, ...] = ()
    beside: Mapping[type, Callable[[Any], dict[str, Any]]] = field(default_factory=dict)


PLAIN = Form()
"""Names of the fields as they are."""


def json_text(document: Any) -> str:
    """Text of a file of records, arrays and numbers."""
    return json.dumps(encode(document), allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def encode(value: Any, kind: Any = object, form: Form = PLAIN) -> Any:
    """A value as JSON has it, given its declared type."""
    if is_dataclass(value) and not isinstance(value, type):
        return encode_record(value, form)
    if isinstance(value, dict):
        inner = (typing.get_args(kind) or (object, object))[1]
        return {name: encode(item, inner, form) for name, item in value.items()}
    if isinstance(value, tuple | list):
        return [encode(item, form=form) for item in value]
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if isinstance(value, float) and math.isnan(value) and type(None) in typing.get_args(kind):
        return "nan"
    return deep(_finite, value)


_declared: Callable[[Any], dict[str, Any]] = cache(typing.get_type_hints)
"""Declared types of a record's fields, worked out once: a page has hundreds of records."""


def encode_record(record: Any, form: Form = PLAIN) -> dict[str, Any]:
    """A record as JSON has it."""
    kinds = _declared(type(record))
    out: dict[str, Any] = {}
    for one in fields(record):
        value = getattr(record, one.name)
        if one.name in form.codes:
            code = form.codes[one.name]
            out[form.key(code.word)] = code.write(value)
        elif one.name in form.opened:
            out |= encode_record(value, form)
        else:
            out[form.key(one.name)] = encode(value, kinds[one.name],
                                             form.within.get(one.name, form))
    beside = form.beside.get(type(record), lambda _: {})(record)
    return out | {form.key(name): encode(value) for name, value in beside.items()}


def decode(value: Any, kind: Any, form: Form = PLAIN) -> Any:
    """A value of a declared type, as :func:`encode` wrote it."""
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        known = next(one for one in inside if one is not type(None))
        return None if value is None and type(None) in inside else decode(value, known, form)
    if is_dataclass(kind):
        return _decode_record(value, kind, form)
    if origin is dict:
        return {name: decode(item, inside[1], form) for name, item in value.items()}
    if origin is tuple:
        each = [inside[0]] * len(value) if inside[-1] is Ellipsis else inside
        return tuple(decode(item, one, form) for item, one in zip(value, each, strict=True))
    if origin is np.ndarray:
        wanted = typing.get_args(inside[1])[0]
        floats = np.issubdtype(wanted, np.floating)
        return np.asarray(deep(_number, value) if floats else value, dtype=wanted)
    if kind is float:
        return _number(value)
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} where {kind.__name__} is expected")
    return value


def _decode_record(value: dict[str, Any], kind: Any, form: Form) -> Any:
    kinds = _declared(kind)
    given: dict[str, Any] = {}
    for one in fields(kind):
        key = form.key(one.name)
        if one.name in form.codes:
            code = form.codes[one.name]
            given[one.name] = code.read(value[form.key(code.word)])
        elif one.name in form.opened:
            given[one.name] = decode(value, kinds[one.name], form)
        elif key in value or one.default is one.default_factory is MISSING:
            given[one.name] = decode(value[key], kinds[one.name], form.within.get(one.name, form))
    return kind(**given)


def deep(change: Callable[[Any], Any], nested: Any) -> Any:
    """Nested lists with every entry changed."""
    return [deep(change, item) for item in nested] if isinstance(nested, list) else change(nested)


def _finite(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else str(value)
    return value


def _number(value: Any) -> float:
    if value is None:
        return math.nan
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise TypeError(f"{value!r} where a number is expected")
    return float(value)
