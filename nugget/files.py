"""The one way in for files of the user's: plain files of bounded size, text of any common coding, TOML.

A pipe or a device may never end, and neither may the parsing of what is too large or nested too
deeply: such files are refused before they are read.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

from nugget.errors import InputError

MOST_TOML_BYTES = 3_000_000
"""A setup whose trace has all the samples that are allowed takes a third of it."""
MOST_NESTED = 30
"""Tables and lists inside each other; a setup has six."""
MOST_KEYS = 2000
"""In one table."""
_BARE_QUANTITY = re.compile(r"\s*([\w.\"'-]+)\s*=\s*([+-]?[\d.]+),?(\d*)\s*([^\W\d]\S*|%)\s*(#.*)?")


def read_bytes(path: Path, where: str, expected: str, most: int) -> bytes:
    """Return what a plain file of at most `most` bytes holds.

    Raises
    ------
    InputError
        At `where`, with `expected`.
    """
    try:
        # Without waiting: a pipe to which nobody writes opens at once, and is then seen for what it is.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        try:
            status = os.fstat(handle)
            if not stat.S_ISREG(status.st_mode):
                given = "a folder" if stat.S_ISDIR(status.st_mode) else "no plain file"
                raise InputError(where, given, expected)
            with open(handle, "rb", closefd=False) as stream:
                # A file may hold more than its size says, as those of a running system do.
                data = stream.read(most + 1) if status.st_size <= most else b""
        finally:
            os.close(handle)
    except (OSError, ValueError) as failure:  # a name with a zero byte is a ValueError
        reason = getattr(failure, "strerror", None) or str(failure)
        raise InputError(where, reason.lower(), expected) from failure
    if data is None:  # nothing there yet, as in the log of a running system
        raise InputError(where, "no plain file", expected)
    if max(status.st_size, len(data)) > most:
        raise InputError(where, f"{max(status.st_size, len(data))} bytes", f"at most {most}")
    return data


def decoded(data: bytes, where: str, expected: str) -> str:
    """Return the text behind `data`: UTF-8, or UTF-16 that says so by its first two bytes."""
    utf16 = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        return data.decode("utf-16" if utf16 else "utf-8-sig")
    except UnicodeDecodeError as failure:
        raise InputError(where, "a file that is not UTF-8 text", expected) from failure


def read_toml(path: Path, where: str, file: str, text: str) -> dict[str, Any]:
    """Return the tree of a TOML file.

    Parameters
    ----------
    path : Path
    where : str
        What messages call it.
    file, text : str
        What is expected of it, and of what it holds.

    Raises
    ------
    InputError
        One line.
    """
    data = read_bytes(path, where, file, MOST_TOML_BYTES)
    return parse_toml(decoded(data, where, "a UTF-8 text file"), where, text)


def parse_toml(text: str, where: str, expected: str) -> dict[str, Any]:
    """Return the tree of a TOML text: nested and with numbers no larger than TOML itself promises."""
    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError as failure:
        raise InputError(where, str(failure), _quoted(text, str(failure)) or expected) from failure
    except RecursionError as failure:
        raise InputError(where, "tables or lists nested too deeply", f"at most {MOST_NESTED}") from failure
    except ValueError as failure:  # the language's own limit of digits
        raise InputError(where, "a number of thousands of digits", "numbers of up to 64 bits") from failure
    _check_tree(tree, where)
    return tree


def _check_tree(tree: object, where: str) -> None:
    level = [tree]
    for _ in range(MOST_NESTED):
        below: list[object] = []
        for item in level:
            if isinstance(item, dict):
                if len(item) > MOST_KEYS:
                    raise InputError(where, f"a table of {len(item)} keys", f"at most {MOST_KEYS}")
                below += item.values()
            elif isinstance(item, list):
                below += item
            elif isinstance(item, int) and not -(2**63) <= item < 2**63:
                raise InputError(where, "a whole number of more than 64 bits", "numbers of up to 64 bits")
        if not below:
            return
        level = below
    raise InputError(where, "tables or lists nested too deeply", f"at most {MOST_NESTED}")


def _quoted(text: str, message: str) -> str:
    """How to write the quantity without quotes that stands on the line of the message; else nothing."""
    found = re.search(r"at line (\d+)", message)
    lines = text.split("\n")
    if found is None or int(found[1]) > len(lines):
        return ""
    bare = _BARE_QUANTITY.fullmatch(lines[int(found[1]) - 1].rstrip("\r"))
    if bare is None:
        return ""
    key, whole, part, unit, _ = bare.groups()
    number = f"{whole}.{part}" if part else whole
    return f'a quantity in quotes: {key} = "{number} {unit}"'
