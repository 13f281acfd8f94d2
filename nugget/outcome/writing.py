"""Files that appear whole or not at all, and stay when the power fails."""

from __future__ import annotations

import contextlib
import os
import platform
import re
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nugget.errors import InputError

EXPECTED = "a folder that can be written, with room in it"


def write_whole(path: Path, write: Callable[[Any], None]) -> Path:
    """Write a file through a temporary neighbour that takes its name only when complete.

    A link of that name is replaced, not followed.

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
        sweep(path.parent)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=mark())
        try:
            with os.fdopen(handle, "wb") as stream:
                write(stream)
                stream.flush()
                os.fsync(stream.fileno())
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        sync_folder(path.parent)
    except OSError as failure:
        raise InputError(str(path), failure.strerror or str(failure), EXPECTED) from failure
    return path


def sync_folder(folder: Path) -> None:
    """Let the names in a folder outlast a failure of power, where the system knows how."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def mark() -> str:
    """What the names of this process's temporary files begin with: machine and process."""
    return f".nugget-{_machine()}-{os.getpid()}-"


def sweep(folder: Path) -> None:
    """Remove what processes of this machine that were killed left behind in `folder`."""
    if os.name != "posix":  # elsewhere a process cannot be asked for without harm
        return
    for place in folder.glob(f".nugget-{_machine()}-*-*"):
        found = re.fullmatch(rf"\.nugget-{_machine()}-(\d{{1,9}})-\w+", place.name)
        if found is None or _runs(int(found[1])):
            continue
        if place.is_dir() and not place.is_symlink():
            shutil.rmtree(place, ignore_errors=True)
        else:
            with contextlib.suppress(OSError):
                place.unlink()


def _machine() -> str:
    return re.sub(r"\W", "_", platform.node()) or "here"


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:  # somebody else's
        return True
    return True


def write_text(path: Path, text: str) -> Path:
    """Write a text file whole or not at all."""
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> Path:
    """Write `data` whole or not at all."""
    return write_whole(path, lambda stream: stream.write(data))
