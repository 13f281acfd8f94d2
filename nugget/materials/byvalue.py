"""Data held by value: frozen dataclasses to plain trees and back, to the last bit, and their hash.

What a result was computed from is saved with it, so that a later change of a data file, or a
material that was made in Python, cannot turn a saved weld into another one.
"""

from __future__ import annotations

import hashlib
import json
import math
import pickle
import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

T = TypeVar("T")
_SAME = "same as"
"""Key of a field that holds the very object of an earlier field: isotropic data stand once."""


def encode(value: Any, share: bool = True) -> Any:
    """Return `value` as dicts, lists, text and numbers, ready for JSON and TOML.

    Fields of a dataclass that hold None are left out. With `share`, a field that holds the very
    object of an earlier one refers to it, as isotropic data do.

    Raises
    ------
    TypeError
        When something in it is neither a dataclass nor plain data.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return _encode_fields(value, share)
    if isinstance(value, np.ndarray):
        return [encode(item, share) for item in value.tolist()]
    if isinstance(value, np.generic):
        return encode(value.item())
    if isinstance(value, float):
        return value if math.isfinite(value) else str(value)
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, Mapping):
        return {str(key): encode(item, share) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [encode(item, share) for item in value]
    raise TypeError(f"a {type(value).__name__} is no plain data")


def decode(kind: type[T], tree: Any) -> T:
    """Return the `kind` that `encode` turned into `tree`.

    Raises
    ------
    TypeError, ValueError
        When `tree` is nothing of the kind.
    """
    found: T = _decode(kind, tree)
    return found


def digest(value: Any) -> str:
    """Return a hash of what `value` holds: equal data, equal hash, however it was made."""
    text = json.dumps(encode(value, share=False), sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def pickled(value: Any) -> bytes:
    """Return bytes that are equal only where values hold the same data, in a tenth of the time of `digest`.

    For what this process remembers, and no longer: equal data may be pickled in more than one way.

    Raises
    ------
    TypeError
        When `value` has parts of somebody's own that cannot be pickled.
    """
    try:
        return pickle.dumps(value)
    except Exception as error:  # whatever parts of somebody's own raise
        raise TypeError(str(error)) from error


def same(one: Any, other: Any) -> bool:
    """Return whether two dataclasses hold the same data."""
    return one is other or (type(one) is type(other) and digest(one) == digest(other))


def _encode_fields(value: Any, share: bool) -> dict[str, Any]:
    found: dict[str, Any] = {}
    seen: dict[int, str] = {}
    for field in fields(value):
        item = getattr(value, field.name)
        if item is None:
            continue
        if share and is_dataclass(item) and id(item) in seen:
            found[field.name] = {_SAME: seen[id(item)]}
        else:
            seen[id(item)] = field.name
            found[field.name] = encode(item, share)
    return found


def _decode(kind: Any, tree: Any) -> Any:
    origin, args = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return _decode_choice(args, tree)
    if origin is np.ndarray or kind is np.ndarray:
        return np.array([float(item) for item in tree], dtype=np.float64)
    if origin is tuple:
        parts = [args[0]] * len(tree) if args[-1] is ... else args
        return tuple(_decode(part, item) for part, item in zip(parts, tree, strict=True))
    if origin in (dict, Mapping):
        return {key: _decode(args[1], item) for key, item in tree.items()}
    if is_dataclass(kind):
        return _decode_fields(kind, tree)
    if kind is float:
        return float(tree)
    return tree


def _decode_choice(choices: tuple[Any, ...], tree: Any) -> Any:
    if tree is None:
        return None
    rest = [choice for choice in choices if choice is not type(None)]
    if len(rest) > 1 and isinstance(tree, Mapping):
        rest = [one for one in rest if is_dataclass(one) and tree.keys() <= {f.name for f in fields(one)}]
    if not rest:
        raise ValueError(f"keys {', '.join(tree)} belong to nothing known")
    return _decode(rest[0], tree)


def _decode_fields(kind: Any, tree: Any) -> Any:
    hints = _hints(kind)
    found: dict[str, Any] = {}
    unknown = sorted(set(tree) - {field.name for field in fields(kind)})
    if unknown:
        raise ValueError(f"{kind.__name__} has no {unknown[0]}")
    for field in fields(kind):
        if field.name in tree:
            item = tree[field.name]
            again = isinstance(item, Mapping) and item.keys() == {_SAME}
            found[field.name] = found[item[_SAME]] if again else _decode(hints[field.name], item)
        elif type(None) in get_args(hints[field.name]):
            found[field.name] = None
    return kind(**found)


@lru_cache(maxsize=64)
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)
