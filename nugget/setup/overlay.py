"""Lay one setup over another: a user's file over the default, overrides over either.

Tables are merged key by key and lists are replaced, with two rules that keep the result
sensible: a key that decides what a table is about (`_DECIDES`) starts that table afresh when
it changes, and of two ways to say the same thing (`_EITHER`) the upper one replaces the lower.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from fnmatch import fnmatchcase
from typing import Any

from nugget.errors import InputError
from nugget.files import parse_toml

Tree = dict[str, Any]

_DECIDES: tuple[tuple[str, str, frozenset[str]], ...] = (
    # table and key that decide, the table that starts afresh, what it keeps
    ("cell", "kind", frozenset({"kind", "size", "end"})),
    ("cell", "size", frozenset({"kind", "size", "end"})),
    ("cell", "end", frozenset({"kind", "size", "end"})),
    ("source", "kind", frozenset({"kind"})),
    ("source", "file", frozenset({"kind", "quantity"})),
    ("source", "plugin", frozenset({"kind"})),
    ("switch", "kind", frozenset({"kind"})),
    ("contact.tip", "law", frozenset({"law"})),
    ("contact.faying", "law", frozenset({"law"})),
    ("limits.*", "value", frozenset({"figure", "sense", "severity"})),  # a new value has a new source
    ("limits.*", "allowed", frozenset({"figure", "sense", "severity"})),
)
_EITHER: tuple[tuple[str, frozenset[str], frozenset[str]], ...] = (
    ("strip", frozenset({"material", "thickness", "temper"}), frozenset({"layers"})),
    ("strip", frozenset({"slots"}), frozenset({"shunt_fraction"})),
    ("strip", frozenset({"slots", "shunt_fraction"}), frozenset({"two_strips"})),
    ("leads", frozenset({"length", "cross_section"}), frozenset({"resistance"})),
    ("source", frozenset({"open_circuit_voltage"}), frozenset({"cell_voltage"})),
    ("source", frozenset({"capacitance"}), frozenset({"cell_capacitance"})),
    ("source", frozenset({"internal_resistance", "series_resistance"}), frozenset({"cell_resistance"})),
    ("pulse.*", frozenset({"duration"}), frozenset({"half_cycles"})),
)

MOST_KEYS = 10
"""Of a path; the longest one of a setup has five."""
MAINS_FED = ("transformer", "sine current")
"""Kinds of source that are switched on the primary side: nothing stands in series with the weld."""


def lay(lower: Mapping[str, Any], upper: Mapping[str, Any]) -> Tree:
    """Return `upper` laid over `lower`; neither is changed."""
    base = _copy(lower)
    if isinstance(base.get("switch"), str):
        base["switch"] = {"kind": base["switch"]}
    if _changes(base, upper, ("electrode", "tip_shape")):
        for name in ("tip", "faying"):  # each shape of tip has its own contact law
            _table(base, ("contact",)).pop(name, None)
    if _changes(base, upper, ("source", "kind")):  # what is fed from the mains is switched there
        old, new = (
            tree["source"]["kind"] in MAINS_FED if _at(tree, ("source", "kind")) else False
            for tree in (base, upper)
        )
        if old != new:
            base.pop("switch", None)
    if _changes(base, upper, ("arrangement", "kind")):  # slots run between the tips as they stood
        _table(base, ("strip",)).pop("slots", None)
    return _merge(base, upper, ())


def read_overrides(overrides: Sequence[str]) -> Tree:
    """Return overrides such as ``pulse.0.duration=12 ms`` as one tree to be laid over a setup.

    What stands behind the equals sign is TOML; text needs no quotes.
    """
    tree: Tree = {}
    for text in overrides:
        path, equals, value = text.partition("=")
        keys = path.strip().split(".")
        if not equals or not all(keys) or len(keys) > MOST_KEYS:
            raise InputError("override", text, "FIELD=VALUE, such as 'pulse.0.duration=12 ms'")
        plant(tree, keys, _value(value.strip()))
    return tree


def plant(tree: Tree, keys: Sequence[str], value: object) -> None:
    """Set the leaf that `keys` lead to in `tree`, also within a list that was set before."""
    key, *rest = keys
    if not rest:
        tree[key] = value
        return
    below = tree.get(key)
    if isinstance(below, list) and rest[0].isdecimal():
        _check_index(rest[0], len(below), key)
        items = {str(index): item for index, item in enumerate(below)}
        plant(items, rest, value)
        tree[key] = list(items.values())
        return
    if not isinstance(below, dict):
        below = tree[key] = {}
    plant(below, rest, value)


def _check_index(key: str, count: int, path: str) -> None:
    """Raise InputError unless `key` is an index into a list of so many entries, or one to add to it."""
    if len(key) > 4:
        raise InputError(f"override {path}", key, "an index of at most four digits")
    if int(key) > count or key != str(int(key)):
        expected = f"an index from 0 to {count}, the last one to add an entry"
        raise InputError(f"override {path}", int(key), expected)


def _value(text: str) -> object:
    try:
        found = parse_toml(f"value = {text}", "override", "a value")
    except InputError as failure:
        if isinstance(failure.__cause__, tomllib.TOMLDecodeError):
            return text
        raise
    return found["value"] if len(found) == 1 else text


def _merge(base: Tree, upper: Mapping[str, Any], path: tuple[str, ...]) -> Tree:
    name = ".".join(path)
    for table, key, keeps in _DECIDES:
        if fnmatchcase(name, table) and _changes(base, upper, (key,)):
            base = {kept: value for kept, value in base.items() if kept in keeps}
    if name == "cell" and upper.get("kind") == "coupon":  # a bare sheet has neither
        base.pop("size", None)
        base.pop("end", None)
    for table, one, other in _EITHER:
        if fnmatchcase(name, table):
            for chosen, dropped in ((one, other), (other, one)):
                if chosen & upper.keys():
                    base = {key: value for key, value in base.items() if key not in dropped}
    merged = dict(base)
    for key, value in upper.items():
        merged[key] = _over(base.get(key), value, (*path, key))
    return merged


def _over(lower: object, upper: object, path: tuple[str, ...]) -> object:
    if not isinstance(upper, Mapping):
        return _copy(upper)
    if isinstance(lower, list) and upper and all(key.isdecimal() for key in upper):
        items = list(lower)
        _check_index(max(upper, key=len), 9999, ".".join(path))
        for key in sorted(upper, key=int):
            _check_index(key, len(items), ".".join(path))
            known = items[int(key)] if int(key) < len(items) else None
            items[int(key) : int(key) + 1] = [_over(known, upper[key], (*path, key))]
        return items
    return _merge(dict(lower) if isinstance(lower, dict) else {}, upper, path)


def _changes(base: Tree, upper: Mapping[str, Any], path: tuple[str, ...]) -> bool:
    new = _at(upper, path)
    return new is not None and str(new) != str(_at(base, path))


def _at(tree: object, path: tuple[str, ...]) -> object:
    for key in path:
        tree = tree.get(key) if isinstance(tree, Mapping) else None
    return tree


def _table(tree: Tree, path: tuple[str, ...]) -> Tree:
    found = _at(tree, path)
    return found if isinstance(found, dict) else {}


def _copy(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _copy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_copy(item) for item in value]
    return value
