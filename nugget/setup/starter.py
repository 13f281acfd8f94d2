"""The commented starter file: the default setup's own file, with a preset's values put in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from nugget.setup.limits import starter_lines
from nugget.setup.overlay import Tree, lay
from nugget.setup.presets import preset_tree
from nugget.setup.read import default_text, default_tree, preset
from nugget.setup.toml import to_toml

_LINE = re.compile(r"(?P<off># )?(?P<key>[a-z_]+) = (?P<value>.*?)(?P<comment>\s+#.*)?")
_HEADER = re.compile(r"\[+(?P<path>[a-z_.]+)\]+.*")
_COMMENT_COLUMN = 35


def starter_text(name: str = "default") -> str:
    """Return the commented setup file of the preset called `name`.

    Loading the text gives that preset again.
    """
    said = lay(default_tree(), preset_tree(name))  # what the file has to say
    known = preset(name).document()  # what follows from it
    lines: list[str] = []
    path = ""
    for line in default_text().splitlines():
        if header := _HEADER.fullmatch(line):
            path = header["path"]
            if path == "limits":
                lines += [line, *starter_lines(said["limits"], _joined)]
                continue
        elif found := _LINE.fullmatch(line):
            line = _line(found, _table(said, path), _table(known, path))
        lines.append(line)
    return "\n".join(lines) + "\n"


def described_keys() -> Iterator[tuple[str, str, str, bool, str]]:
    """Every key of the default setup file: section, key, value, whether it is off, what it means."""
    path = ""
    for line in starter_text().splitlines():
        if header := _HEADER.fullmatch(line):
            path = header["path"]
        elif found := _LINE.fullmatch(line):
            comment = (found["comment"] or "").strip().removeprefix("#").strip()
            yield path, found["key"], found["value"], bool(found["off"]), comment


def _line(found: re.Match[str], said: Tree, known: Tree) -> str:
    key, value, comment = found["key"], found["value"], (found["comment"] or "").strip()
    off = key not in said
    new = to_toml(known[key] if off else said[key]) if key in known or not off else value
    if not off and new != value:
        comment = comment.split(";")[0]  # the reason was for the other number
    start = f"{'# ' if off else ''}{key} = {new}"
    return f"{start:<{_COMMENT_COLUMN - 1}} {comment}".rstrip()


def _joined(key: str, value: object, comment: str) -> str:
    start = f"{key} = {to_toml(value)}"
    return f"{start:<{_COMMENT_COLUMN - 1}} # {comment}" if comment else start


def _table(tree: Tree, path: str) -> Tree:
    found: Any = tree
    for key in path.split(".") if path else ():
        found = found.get(key, {})
    table: Tree = found[0] if isinstance(found, list) else found  # a train shows its first pulse
    return table
