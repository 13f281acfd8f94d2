"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nugget.errors import InputError


def write_whole(path: Path, write: Callable[[Any], None]) -> Path:
    """Write a file through a temporary neighbour that takes its name only when complete.

    Parameters
    ----------
    path : Path
    write : callable
        Receives a binary file handle.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    if path.is_dir():
        raise InputError(str(path), "a folder", "a file name")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as failure:
        raise InputError(
            str(path), failure.strerror or str(failure), "a folder that can be written"
        ) from failure
    try:
        with os.fdopen(handle, "wb") as stream:
            write(stream)
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(name, 0o666 & ~umask)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return path


def write_text(path: Path, text: str) -> Path:
    """Write a text file whole or not at all."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> Path:
    """Write `data` whole or not at all."""
    return write_whole(path, lambda stream: stream.write(data))
