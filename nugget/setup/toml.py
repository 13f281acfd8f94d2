"""Write TOML: one value on one line, or a whole document."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def to_toml(value: object) -> str:
    """Return `value` as TOML writes it on one line."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {to_toml(item)}" for key, item in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(to_toml(item) for item in value) + "]"
    # JSON spells text, numbers and booleans as TOML does, but for one control character.
    return json.dumps(value, ensure_ascii=False, allow_nan=False).replace("\x7f", "\\u007f")


def toml_text(tree: Mapping[str, Any]) -> str:
    """Return `tree` as the text of a TOML file: a table for each section, values on one line each."""
    return "\n".join(_lines(tree, "")).strip() + "\n"


def _lines(tree: Mapping[str, Any], path: str) -> Iterator[str]:
    below = {key: item for key, item in tree.items() if isinstance(item, Mapping) and item}
    rows = {key: item for key, item in tree.items() if not path and _rows(item)}
    for key, item in tree.items():
        if key not in below and key not in rows:
            yield f"{_key(key)} = {to_toml(item)}"
    for key, item in below.items():
        yield from ("", f"[{path}{_key(key)}]")
        yield from _lines(item, f"{path}{_key(key)}.")
    for key, items in rows.items():
        for item in items:
            yield from ("", f"[[{_key(key)}]]")
            yield from (f"{_key(name)} = {to_toml(value)}" for name, value in item.items())


def _rows(item: object) -> bool:
    return isinstance(item, list) and bool(item) and all(isinstance(one, Mapping) for one in item)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else to_toml(key)
